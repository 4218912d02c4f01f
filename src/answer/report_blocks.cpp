#include "answer/report_blocks.hpp"

#include <algorithm>
#include <cctype>
#include <utility>

#include "document/value.hpp"
#include "figures/figure_text.hpp"
#include "whorl/io/units.hpp"

namespace whorl::answer {
namespace {

using figures::PageCell;
using figures::PageTable;

PageCell text_cell(std::string text) { return {std::move(text), {}, false, {}}; }

PageCell cell_of(const document::Value& value, const document::Column& column, bool first) {
  if (std::holds_alternative<std::monostate>(value)) return text_cell("");
  if (const double* number = std::get_if<double>(&value))
    return {figures::print_number(*number, column.digits), io::number_text(*number, 12), true, {}};
  std::string text = document::value_text(value);
  const std::string about = document::plain(column.label);
  if (about == "symbol") return {text, text, false, figures::rich_symbol(text)};
  if (about == "unit") return {text, text, false, figures::rich_unit(text)};
  const auto digit = text.find_first_not_of("+-");
  const bool number = !first && digit <= 1 && text[digit] >= '0' && text[digit] <= '9' &&
                      std::count(text.begin(), text.end(), ' ') <= 1;  // "6.06 um", not a sentence
  return {std::move(text), {}, number, {}};
}

bool is_words(const document::Column& column) {
  return document::plain(column.label).find_first_not_of("abcdefghijklmnopqrstuvwxyz ") == std::string::npos;
}

// "Dry diameter / µm"; a capital where no heading of the table is a symbol or a unit.
std::string heading_of(const document::Column& column, bool capital) {
  std::string text = document::plain(column.label);
  if (capital) text.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(text.front())));
  if (column.unit.empty() || column.unit == "1") return text;
  const std::string unit = figures::plain_unit(column.unit);
  return text + " / " + (unit.find('/') == std::string::npos ? unit : '(' + unit + ')');
}

struct PageWriter {
  PageCount& count;
  int level;
  std::string title{};
  std::string out{};

  [[nodiscard]] std::string next_id() const { return count.id + '-' + std::to_string(++count.tables); }

  void operator()(const document::Quantities& quantities) {
    PageTable table{{}, title, {"Quantity", "Value"}, {}};
    for (const document::Quantity& row : quantities.rows)
      if (!row.label.empty())
        table.rows.push_back({text_cell(document::plain(row.label)), text_cell(document::value_text(row))});
    if (table.rows.empty()) return;
    table.id = next_id();
    out += figures::html_table(table);
  }
  void operator()(const document::Sentence& sentence) {
    if (!sentence.text.empty()) out += figures::html_paragraph(document::plain(sentence.text));
  }
  void operator()(const document::List& list) {
    std::vector<std::string> items;
    for (const document::Text& item : list.items) items.push_back(document::plain(item));
    if (!list.for_machines) out += figures::html_list(items);
  }
  void operator()(const document::Table& table) {
    if (table.rows.empty()) return;
    const std::string caption = document::plain(table.caption);
    out += page_table(table, next_id(), caption.empty() ? title : caption);
  }
  void operator()(const document::Equation& equation) {
    out += figures::html_paragraph(equation.plain + "    (" + std::to_string(++count.equations) + ')');
  }
  void operator()(const document::Figure&) {}
  void operator()(const document::Data&) {}
  void operator()(const document::Section& section) {
    if (section.for_machines) return;
    const std::string name = document::plain(section.title);
    const auto* table = section.blocks.empty() ? nullptr : std::get_if<document::Table>(&section.blocks.front());
    const bool alone = section.blocks.size() == 1 &&
                       (table != nullptr ? table->caption.empty()
                                         : std::holds_alternative<document::Quantities>(section.blocks.front()));
    if (!name.empty() && !alone) out += figures::html_heading(name, level);
    // A list of quantities is named apart from the section it stands in.
    PageWriter inside{count, level + 1,
                      name.empty() ? title : alone && table != nullptr ? name : name + ", point by point"};
    for (const document::Block& block : section.blocks) std::visit(inside, block);
    out += inside.out;
  }
};

}  // namespace

std::string page_table(const document::Table& table, const std::string& id, const std::string& caption) {
  PageTable page{id, caption, {}, {}};
  const bool capital = std::all_of(table.columns.begin(), table.columns.end(), is_words);
  for (const document::Column& column : table.columns)
    if (!column.label.empty()) page.header.push_back(heading_of(column, capital));
  for (const auto& row : table.rows) {
    std::vector<PageCell> cells;
    for (std::size_t k = 0; k < row.size(); ++k)
      if (!table.columns[k].label.empty()) cells.push_back(cell_of(row[k], table.columns[k], cells.empty()));
    page.rows.push_back(std::move(cells));
  }
  return figures::html_table(page);
}

std::string page_blocks(const std::vector<document::Block>& blocks, PageCount& count, int heading) {
  PageWriter writer{count, heading};
  for (const document::Block& block : blocks) std::visit(writer, block);
  return writer.out;
}

}  // namespace whorl::answer
