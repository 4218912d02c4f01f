#include "document/from_io.hpp"

#include <utility>

namespace whorl::document {
namespace {

Text text_of(const std::string& marked) {
  Text text;
  io::prose_pieces(
      marked, [&](std::string_view plain) { text.add(std::string(plain)); },
      [&](std::string_view plain, std::string_view latex) { text.symbol(std::string(plain), std::string(latex)); });
  return text;
}

Table table_of(const io::ProseTable& written) {
  Table table{"", text_of(written.caption), {}, {}};
  for (const std::string& name : written.header) {
    Text label = text_of(name);
    if (label.empty()) label = " ";  // a column without a name is still for people
    table.columns.push_back({"", label});
  }
  for (const auto& row : written.rows) {
    table.rows.emplace_back();
    for (const std::string& cell : row) table.rows.back().emplace_back(io::prose_plain(cell));
  }
  return table;
}

}  // namespace

Document document_of(const io::Prose& prose) {
  Document document{text_of(prose.title), {}};
  std::vector<Block>* into = &document.blocks;
  for (const io::Block& block : prose.blocks) {
    if (const auto* heading = std::get_if<io::Heading>(&block)) {
      document.blocks.emplace_back(Section{text_of(heading->text)});
      into = &std::get<Section>(document.blocks.back()).blocks;
    } else if (const auto* paragraph = std::get_if<io::Paragraph>(&block)) {
      into->emplace_back(Sentence{text_of(paragraph->text)});
    } else if (const auto* equation = std::get_if<io::Equation>(&block)) {
      into->emplace_back(Equation{equation->plain, equation->latex, equation->label});
    } else if (const auto* table = std::get_if<io::ProseTable>(&block)) {
      into->emplace_back(table_of(*table));
    }
  }
  return document;
}

Document document_of(const io::Sheet& sheet) {
  Document document{sheet.title, {}, sheet.made_by};
  document.blocks.emplace_back(Sentence{sheet.purpose});
  for (const std::string& fact : sheet.facts) document.blocks.emplace_back(Sentence{fact});
  for (const io::SheetSection& part : sheet.sections) {
    Quantities rows;
    for (const io::SheetRow& row : part.rows) {
      Quantity quantity{"", row.label, row.number ? Value(*row.number) : Value(), row.unit, row.digits};
      quantity.behind = row.formula;
      if (!row.note.empty()) quantity.behind.add((row.formula.empty() ? "" : "; ") + row.note);
      quantity.source = row.source;
      rows.rows.push_back(std::move(quantity));
    }
    document.blocks.emplace_back(Section{part.title, "", {Sentence{part.intro}, rows, Sentence{part.closing}}});
  }
  List steps{"", {}, {}, true};
  for (const std::string& step : sheet.steps) steps.items.emplace_back(step);
  if (!steps.items.empty()) document.blocks.emplace_back(Section{"Steps", "", {steps}});
  Section cautions{"Cautions"};
  for (const std::string& caution : sheet.cautions) cautions.blocks.emplace_back(Sentence{caution});
  if (!cautions.blocks.empty()) document.blocks.emplace_back(cautions);
  return document;
}

}  // namespace whorl::document
