// A document as LaTeX: a whole one, or a fragment for one of your own.
#include <fmt/core.h>

#include <algorithm>

#include "document/escape.hpp"
#include "document/value.hpp"
#include "document/write.hpp"

namespace whorl::document {
namespace {

constexpr const char* kPreamble =
    "\\documentclass[11pt,a4paper]{article}\n"
    "\\usepackage[T1]{fontenc}\n"
    "\\usepackage[utf8]{inputenc}\n"
    "\\usepackage{textcomp}\n"
    "\\usepackage{amsmath}\n"
    "\\usepackage{array}\n"
    "\\usepackage{longtable}\n"
    "\\IfFileExists{booktabs.sty}{\\usepackage{booktabs}}"
    "{\\let\\toprule\\hline\\let\\midrule\\hline\\let\\bottomrule\\hline}\n"
    "\\setlength{\\textwidth}{160mm}\\setlength{\\oddsidemargin}{0mm}\n"
    "\\emergencystretch=2em\n"
    "\\begin{document}\n";

std::string set(const Text& text) {
  return translated(text, latex_escaped, [](const Piece& piece) { return '$' + piece.latex + '$'; });
}

// Cells of one table, as they are set and as they are measured.
struct Cells {
  std::vector<std::string> head;
  std::vector<std::vector<std::string>> rows;
  std::vector<std::size_t> widths;  ///< in characters of plain text
  std::vector<bool> right;
};

// Narrow tables keep the natural width of their columns, wide ones share the line in proportion.
std::string column_types(const Cells& cells) {
  constexpr std::size_t kLine = 80;
  std::vector<std::size_t> share;
  std::size_t natural = 0;
  std::size_t sum = 0;
  for (const std::size_t width : cells.widths) {
    natural += width + 2;
    share.push_back(std::clamp<std::size_t>(width, 6, 50));
    sum += share.back();
  }
  std::string types;
  for (std::size_t k = 0; k < cells.widths.size(); ++k) {
    if (natural <= kLine) {
      types += cells.right[k] ? 'r' : 'l';
      continue;
    }
    types += fmt::format(">{{\\ragged{}\\arraybackslash}}p{{\\dimexpr{:.3f}\\linewidth-2\\tabcolsep}}",
                         cells.right[k] ? "left" : "right", static_cast<double>(share[k]) / static_cast<double>(sum));
  }
  return types;
}

std::string latex_table(const Cells& cells, const std::string& caption) {
  const auto line = [](const std::vector<std::string>& row) {
    std::string text;
    for (std::size_t k = 0; k < row.size(); ++k) text += (k == 0 ? "" : " & ") + row[k];
    return text + " \\\\\n";
  };
  std::string out = "{\\small\n\\begin{longtable}{" + column_types(cells) + "}\n";
  if (!caption.empty()) out += "\\caption{" + caption + "}\\\\\n";
  out += "\\toprule\n" + line(cells.head) + "\\midrule\n\\endhead\n\\bottomrule\n\\endfoot\n";
  for (const auto& row : cells.rows) out += line(row);
  return out + "\\end{longtable}\n}\n";
}

struct LatexWriter {
  std::string out;
  int level{};

  void operator()(const Quantities& quantities) {
    Cells cells;
    cells.head = {"Quantity", "Value", "From"};
    cells.widths = {8, 5, 4};
    cells.right = {false, false, false};
    bool behind = false;
    for (const Quantity& row : quantities.rows) {
      if (row.label.empty()) continue;
      const Text from = behind_text(row);
      behind = behind || !from.empty();
      const std::string value = value_text(row);
      cells.rows.push_back({set(row.label), latex_escaped(value), set(from)});
      cells.widths[0] = std::max(cells.widths[0], width_of(plain(row.label)));
      cells.widths[1] = std::max(cells.widths[1], width_of(value));
      cells.widths[2] = std::max(cells.widths[2], width_of(plain(from)));
    }
    if (cells.rows.empty()) return;
    if (!behind) {
      cells.head.pop_back();
      cells.widths.pop_back();
      cells.right.pop_back();
      for (auto& row : cells.rows) row.pop_back();
    }
    out += '\n' + latex_table(cells, "");
  }
  void operator()(const Sentence& sentence) {
    if (!sentence.text.empty()) out += '\n' + set(sentence.text) + '\n';
  }
  void operator()(const List& list) {
    if (list.items.empty() || list.for_machines) return;
    out += "\n\\begin{itemize}\n";
    for (const Text& item : list.items)
      out += (list.to_tick ? "\\item[\\fbox{\\phantom{x}}] " : "\\item ") +
             (list.label.empty() ? "{}" : set(list.label) + ": ") + set(item) + '\n';
    out += "\\end{itemize}\n";
  }
  void operator()(const Table& table) {
    Cells cells;
    std::vector<std::size_t> shown;
    for (std::size_t k = 0; k < table.columns.size(); ++k) {
      if (table.columns[k].label.empty()) continue;
      shown.push_back(k);
      const Text heading = heading_text(table.columns[k]);
      cells.head.push_back(set(heading));
      cells.widths.push_back(width_of(plain(heading)));
      cells.right.push_back(!table.rows.empty() && is_number(table.rows.front()[k]));
    }
    if (shown.empty() || table.rows.empty()) return;
    for (const auto& row : table.rows) {
      cells.rows.emplace_back();
      for (std::size_t i = 0; i < shown.size(); ++i) {
        const std::string value = value_text(row[shown[i]], "", table.columns[shown[i]].digits);
        cells.rows.back().push_back(latex_escaped(value));
        cells.widths[i] = std::max(cells.widths[i], width_of(value));
      }
    }
    out += '\n' + latex_table(cells, set(table.caption));
  }
  void operator()(const Equation& equation) {
    out += "\n\\begin{equation}\n" + equation.latex + "\n\\label{eq:" + equation.label + "}\n\\end{equation}\n";
  }
  void operator()(const Figure& figure) {
    out += "\n\\begin{center}\n% \\includegraphics{} here\n" + set(figure.caption) + "\n\\end{center}\n";
  }
  void operator()(const Data&) {}
  void operator()(const Section& section) {
    if (section.for_machines) return;
    if (!section.title.empty()) {
      const char* command = level == 0 ? "\\subsection*{" : level == 1 ? "\\subsubsection*{" : "\\paragraph*{";
      out += '\n' + std::string(command) + set(section.title) + "}\n";
      ++level;
    }
    for (const Block& block : section.blocks) std::visit(*this, block);
    if (!section.title.empty()) --level;
  }
};

}  // namespace

std::string write_latex(const Document& document, bool fragment) {
  LatexWriter writer;
  if (!fragment) writer.out = kPreamble;
  writer.out += "\\section*{" + set(document.title) + "}\n";
  for (const Block& block : document.blocks) std::visit(writer, block);
  if (!document.made_by.empty())
    writer.out += "\n\\medskip\\noindent{\\footnotesize " + set(document.made_by) + "\\par}\n";
  if (!fragment) writer.out += "\\end{document}\n";
  return writer.out;
}

}  // namespace whorl::document
