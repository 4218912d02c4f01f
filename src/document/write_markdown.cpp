// A document as Markdown with pipe tables and mathematics between dollar signs.
#include <algorithm>

#include "document/escape.hpp"
#include "document/value.hpp"
#include "document/write.hpp"

namespace whorl::document {
namespace {

std::string marked(const Text& text) {
  return translated(text, markdown_escaped, [](const Piece& piece) { return '$' + piece.latex + '$'; });
}

// A paragraph of text from outside that begins like a list or a heading of setext would become one.
std::string paragraph(const Text& text) {
  std::string out = marked(text);
  const auto first = out.find_first_not_of(' ');
  if (first == std::string::npos) return "\n";
  out.erase(0, first);
  const auto digits = std::min(out.find_first_not_of("0123456789"), out.size());
  if (std::string_view("+-=").find(out.front()) != std::string_view::npos)
    out.insert(0, "\\");
  else if (digits > 0 && digits < out.size() && (out[digits] == '.' || out[digits] == ')'))
    out.insert(digits, "\\");
  return out + '\n';
}

struct MarkdownWriter {
  std::string out;
  int level{2};
  int equations{};

  void rule(const std::vector<bool>& right) {
    out += '|';
    for (const bool r : right) out += r ? "--:|" : "---|";
    out += '\n';
  }

  void operator()(const Quantities& quantities) {
    const auto [any, behind] = needed(quantities);
    if (!any) return;
    out += behind ? "\n| Quantity | Value | From |\n|---|---|---|\n" : "\n| Quantity | Value |\n|---|---|\n";
    for (const Quantity& row : quantities.rows) {
      if (row.label.empty()) continue;
      out += "| " + marked(row.label) + " | " + markdown_escaped(value_text(row)) + " |";
      if (behind) out += ' ' + marked(behind_text(row)) + " |";
      out += '\n';
    }
  }
  void operator()(const Sentence& sentence) {
    if (!sentence.text.empty()) out += '\n' + paragraph(sentence.text);
  }
  void operator()(const List& list) {
    if (list.items.empty() || list.for_machines) return;
    out += '\n';
    for (const Text& item : list.items)
      out += (list.to_tick ? "- [ ] " : "- ") + (list.label.empty() ? "" : marked(list.label) + ": ") + paragraph(item);
  }
  void operator()(const Table& table) {
    std::string head = "|";
    std::vector<bool> right;
    for (std::size_t k = 0; k < table.columns.size(); ++k) {
      if (table.columns[k].label.empty()) continue;
      head += ' ' + marked(heading_text(table.columns[k])) + " |";
      right.push_back(!table.rows.empty() && is_number(table.rows.front()[k]));
    }
    if (right.empty() || table.rows.empty()) return;
    if (!table.caption.empty()) out += '\n' + paragraph(table.caption);
    out += '\n' + head + '\n';
    rule(right);
    for (const auto& row : table.rows) {
      out += '|';
      for (std::size_t k = 0; k < table.columns.size(); ++k)
        if (!table.columns[k].label.empty())
          out += ' ' + markdown_escaped(value_text(row[k], "", table.columns[k].digits)) + " |";
      out += '\n';
    }
  }
  void operator()(const Equation& equation) {
    out += "\n$$" + equation.latex + " \\tag{" + std::to_string(++equations) + "}$$\n";
  }
  void operator()(const Figure& figure) { out += "\nFigure: " + marked(figure.caption) + '\n'; }
  void operator()(const Data&) {}
  void operator()(const Section& section) {
    if (section.for_machines) return;
    if (!section.title.empty()) {
      out += '\n' + std::string(static_cast<std::size_t>(level), '#') + ' ' + marked(section.title) + '\n';
      ++level;
    }
    for (const Block& block : section.blocks) std::visit(*this, block);
    if (!section.title.empty()) --level;
  }
};

}  // namespace

std::string write_markdown(const Document& document) {
  MarkdownWriter writer;
  writer.out = "# " + marked(document.title) + '\n';
  for (const Block& block : document.blocks) std::visit(writer, block);
  if (!document.made_by.empty()) writer.out += '\n' + paragraph(document.made_by);
  return writer.out;
}

}  // namespace whorl::document
