// A document as plain text for a terminal.
#include <algorithm>
#include <utility>

#include "document/value.hpp"
#include "document/write.hpp"
#include "whorl/io/prose.hpp"

namespace whorl::document {
namespace {

constexpr std::size_t kIndent = 2;
constexpr std::size_t kBehind = 6;  ///< indent of what stands below a row
constexpr std::size_t kWidestLabel = 46;
constexpr std::size_t kNarrowest = 20;  ///< of what is folded beside something else

// Headings in capitals stand out where there is no bold; the names of things keep their letters.
std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
  return text;
}

struct TextWriter {
  std::string out;
  std::size_t width;
  int equations{};
  bool one_of_many{};  ///< the next heading is the name of a thing

  void paragraph(const std::string& text, std::size_t first, std::size_t indent) {
    out += io::folded(std::string(first, ' ') + text, indent, width);
  }

  void operator()(const Quantities& quantities);
  void operator()(const Sentence& sentence) {
    if (!sentence.text.empty()) paragraph(plain(sentence.text), kIndent, kIndent);
  }
  void operator()(const List& list) {
    if (list.for_machines) return;
    const std::string before = list.to_tick ? "[ ] " : list.label.empty() ? "- " : plain(list.label) + ": ";
    const std::size_t indent = kIndent + (list.label.empty() ? before.size() : 2);
    for (const Text& item : list.items) paragraph(before + plain(item), kIndent, indent);
  }
  void operator()(const Table& table);
  void operator()(const Equation& equation) {
    out += std::string(2 * kIndent, ' ') + equation.plain + "    (" + std::to_string(++equations) + ")\n";
  }
  void operator()(const Figure& figure) { paragraph("[figure] " + plain(figure.caption), kIndent, kIndent); }
  void operator()(const Data&) {}
  void operator()(const Section& section) {
    if (section.for_machines) return;
    if (!section.title.empty()) {
      if (!out.empty()) out += '\n';
      paragraph(one_of_many ? plain(section.title) : upper(plain(section.title)), 0, kIndent);
    }
    const bool around = std::exchange(one_of_many, section.each);
    for (const Block& block : section.blocks) std::visit(*this, block);
    one_of_many = around;
  }
};

void TextWriter::operator()(const Quantities& quantities) {
  struct Line {
    std::string label, value, behind;
  };
  std::vector<Line> lines;
  std::size_t label_width = quantities.least_label;
  std::size_t value_width = 0;
  for (const Quantity& row : quantities.rows) {
    if (row.label.empty()) continue;
    lines.push_back({plain(row.label), value_text(row), plain(behind_text(row))});
    label_width = std::max(label_width, width_of(lines.back().label));
    if (!lines.back().behind.empty()) value_width = std::max(value_width, width_of(lines.back().value));
  }
  label_width = std::min({label_width, kWidestLabel, width / 2});
  const std::size_t at = kIndent + label_width + 2;
  // Notes stand on the lines of their rows when all of them can.
  const std::size_t behind_at = at + value_width + 2;
  const bool beside = std::all_of(lines.begin(), lines.end(), [&](const Line& line) {
    return line.behind.empty() || behind_at + width_of(line.behind) <= width;
  });
  for (const Line& line : lines) {
    std::string row = std::string(kIndent, ' ') + line.label;
    row.append(at - std::min(at - 2, width_of(row)), ' ');
    const std::size_t indent = width_of(row);
    row += line.value;
    if (beside && !line.behind.empty()) {
      row.append(behind_at - std::min(behind_at - 2, width_of(row)), ' ');
      out += row + line.behind + '\n';
      continue;
    }
    if (indent + kNarrowest > width && width_of(row) > width) {
      paragraph(line.label, kIndent, kIndent);  // a label that leaves no room
      paragraph(line.value, kBehind, kBehind);
    } else if (width_of(row) <= width) {
      out += row.substr(0, row.find_last_not_of(' ') + 1) + '\n';
    } else {
      // hanging below its own beginning, or, behind a long label, further left
      const std::string folded = io::folded(std::string(indent, ' ') + line.value, indent, width);
      out += row.substr(0, row.size() - line.value.size()) + folded.substr(indent);
    }
    if (!line.behind.empty()) paragraph(line.behind, kBehind, kBehind);
  }
}

void TextWriter::operator()(const Table& table) {
  std::vector<std::size_t> shown;
  for (std::size_t k = 0; k < table.columns.size(); ++k)
    if (!table.columns[k].label.empty()) shown.push_back(k);
  if (shown.empty() || table.rows.empty()) return;
  std::vector<std::vector<std::string>> cells(1);
  std::vector<std::size_t> widths;
  for (const std::size_t k : shown) {
    cells[0].push_back(plain(heading_text(table.columns[k])));
    widths.push_back(width_of(cells[0].back()));
  }
  for (const auto& row : table.rows) {
    cells.emplace_back();
    for (std::size_t i = 0; i < shown.size(); ++i) {
      cells.back().push_back(value_text(row[shown[i]], "", table.columns[shown[i]].digits));
      widths[i] = std::max(widths[i], width_of(cells.back().back()));
    }
  }
  std::vector<bool> right(shown.size(), !table.rows.empty());
  for (const auto& row : table.rows)
    for (std::size_t i = 0; i < shown.size(); ++i)
      right[i] = right[i] && (is_number(row[shown[i]]) || std::holds_alternative<std::monostate>(row[shown[i]]));
  if (!table.caption.empty()) paragraph(plain(table.caption), kIndent, kIndent);
  std::size_t room = kIndent;
  for (std::size_t i = 0; i + 1 < widths.size(); ++i) room += widths[i] + 2;
  if (room + widths.back() > width && (right.back() || room + kNarrowest > width)) {
    for (const auto& row : table.rows) {  // too wide: every row becomes rows of its own
      Quantities rows;
      for (const std::size_t k : shown)
        rows.rows.push_back({"", table.columns[k].label, row[k], table.columns[k].unit, table.columns[k].digits});
      if (&row != &table.rows.front()) out += '\n';
      (*this)(rows);
    }
    return;
  }
  for (const auto& row : cells) {
    std::string line(kIndent, ' ');
    for (std::size_t i = 0; i + 1 < row.size(); ++i) {
      const std::string pad(widths[i] - width_of(row[i]), ' ');
      line += (right[i] ? pad + row[i] : row[i] + pad) + "  ";
    }
    const std::size_t last = width_of(line);
    const std::string pad(right.back() ? widths.back() - width_of(row.back()) : 0, ' ');
    if (last + width_of(row.back()) > width && !right.back()) {
      // a long last cell goes on below its own beginning
      out += line + io::folded(std::string(last, ' ') + row.back(), last, width).substr(last);
    } else {
      line += pad + row.back();
      out += line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
    }
  }
}

}  // namespace

std::string write_text(const Document& document, std::size_t width) {
  TextWriter writer{{}, width};
  if (!document.title.empty()) writer.paragraph(plain(document.title), 0, kIndent);
  for (const Block& block : document.blocks) std::visit(writer, block);
  if (!document.made_by.empty()) {
    writer.out += '\n';
    writer.paragraph(plain(document.made_by), 0, kIndent);
  }
  return writer.out;
}

}  // namespace whorl::document
