#include "whorl/io/prose.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/number_text.hpp"

namespace whorl::io {
namespace {

// A symbol inside a text: kOpen plain kMiddle latex kClose.
constexpr char kOpen = '\x01';
constexpr char kMiddle = '\x02';
constexpr char kClose = '\x03';

// "1.2e+05" -> 1.2\times10^{5}
std::string latex_number(const std::string& number) {
  const auto e = number.find('e');
  if (e == std::string::npos) return number;
  return number.substr(0, e) + "\\times10^{" + std::to_string(std::stoi(number.substr(e + 1))) + "}";
}

std::string latex_unit(std::string_view unit) {
  if (unit == "um") return "\\mu m";
  if (unit == "degC") return "{}^\\circ C";
  if (unit == "%") return "\\%";
  std::string out;
  for (const char c : unit) out += c == ' ' ? std::string("\\,") : std::string(1, c);
  return out;
}

std::string latex_escaped(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const auto starts = [&](std::string_view what) { return text.substr(i, what.size()) == what; };
    if (starts("±")) {
      out += "$\\pm$";
      i += std::string_view("±").size() - 1;
    } else if (starts("+-")) {
      out += "$\\pm$";
      ++i;
    } else if (c == '\\') {
      out += "\\textbackslash{}";
    } else if (c == '~' || c == '^') {
      out += std::string("\\") + c + "{}";
    } else if (c == '<' || c == '>' || c == '|') {
      out += std::string("$") + (c == '|' ? "\\vert" : std::string(1, c)) + "$";
    } else if (c == '"') {
      out += "{\\textquotedbl}";
    } else if (std::string_view("&%$#_{}").find(c) != std::string_view::npos) {
      out += std::string("\\") + c;
      if (c == '_') out += "\\allowbreak{}";
    } else if (static_cast<unsigned char>(c) >= 0x20 || c == '\n') {
      out += c;
    }
  }
  return out;
}

std::string markdown_escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (std::string_view("\\`*_[]<>|$&~").find(c) != std::string_view::npos) out += '\\';
    out += c;
  }
  return out;
}

// Walks through plain parts and symbols.
template <typename Plain, typename Symbol>
std::string translated(std::string_view text, Plain plain, Symbol symbol_form) {
  std::string out;
  while (!text.empty()) {
    const auto open = text.find(kOpen);
    out += plain(text.substr(0, open));
    if (open == std::string_view::npos) break;
    const auto middle = text.find(kMiddle, open);
    const auto close = text.find(kClose, open);
    if (middle == std::string_view::npos || close == std::string_view::npos || middle > close) break;
    out += symbol_form(text.substr(open + 1, middle - open - 1), text.substr(middle + 1, close - middle - 1));
    text.remove_prefix(close + 1);
  }
  return out;
}

std::string in_latex(std::string_view text) {
  return translated(text, latex_escaped,
                    [](std::string_view, std::string_view latex) { return '$' + std::string(latex) + '$'; });
}
std::string in_markdown(std::string_view text) {
  return translated(text, markdown_escaped,
                    [](std::string_view, std::string_view latex) { return '$' + std::string(latex) + '$'; });
}

std::size_t width_of(const std::string& text) { return column_count(text); }

std::string indented(const std::string& text, std::size_t indent) {
  return folded(std::string(indent, ' ') + text, indent);
}

std::string text_table(const ProseTable& table) {
  std::vector<std::vector<std::string>> cells = {table.header};
  cells.insert(cells.end(), table.rows.begin(), table.rows.end());
  std::vector<std::size_t> widths(table.header.size(), 0);
  for (auto& row : cells)
    for (std::size_t k = 0; k < row.size(); ++k) {
      row[k] = prose_plain(row[k]);
      widths[k] = std::max(widths[k], width_of(row[k]));
    }
  // The last columns of a table that is too wide stand below their row, where they say something.
  std::size_t beside = widths.size();
  const auto whole = [&] {
    std::size_t sum = 2;
    for (std::size_t k = 0; k < beside; ++k) sum += widths[k] + (k > 0 ? 2 : 0);
    return sum;
  };
  while (!table.wide_last && beside > 2 && whole() > kTextColumns) --beside;
  // as does a sentence that the columns before it leave no room for
  constexpr std::size_t kNarrowest = 20;
  const bool sentence_below = table.wide_last && whole() - widths.back() + kNarrowest > kTextColumns;
  if (sentence_below) --beside;
  std::string out = indented(prose_plain(table.caption), 2);
  for (auto& row : cells) {
    std::string below;
    if (sentence_below) below = row.back();
    for (std::size_t k = beside; k < row.size() && !sentence_below; ++k)
      if (&row != cells.data() && row[k] != "-")
        below += (below.empty() ? "" : "; ") + prose_plain(table.header[k]) + " " + row[k];
    row.resize(std::min(row.size(), beside));
    std::string line = "  ";
    for (std::size_t k = 0; k < row.size(); ++k) {
      const std::string pad(widths[k] - width_of(row[k]), ' ');
      const bool wide = table.wide_last && k + 1 == widths.size();
      const bool left = k == 0 || wide;
      if (k > 0) line += "  ";
      if (wide) {
        // sentences: folded under each other
        const std::size_t indent = width_of(line);
        std::string folded_cell = indented(row[k], indent);
        folded_cell.pop_back();
        line += folded_cell.substr(indent);
      } else {
        line += left ? row[k] + pad : pad + row[k];
      }
    }
    line.erase(line.find_last_not_of(' ') + 1);
    out += line + '\n';
    if (!below.empty()) out += indented(below, 6);
  }
  return out;
}

std::string markdown_table(const ProseTable& table) {
  std::string out = in_markdown(table.caption) + "\n\n";
  const auto row_text = [](const std::vector<std::string>& row) {
    std::string line = "|";
    for (const auto& cell : row) line += ' ' + in_markdown(cell) + " |";
    return line + '\n';
  };
  out += row_text(table.header) + '|';
  for (std::size_t k = 0; k < table.header.size(); ++k)
    out += k == 0 || (table.wide_last && k + 1 == table.header.size()) ? "---|" : "--:|";
  out += '\n';
  for (const auto& row : table.rows) out += row_text(row);
  return out;
}

std::string latex_table(const ProseTable& table) {
  std::string columns = "l";
  for (std::size_t k = 1; k < table.header.size(); ++k)
    columns += table.wide_last && k + 1 == table.header.size() ? "X" : "r";
  const bool wide = table.wide_last;
  std::string out = "\\begin{table}\n\\centering\\small\n\\caption{" + in_latex(table.caption) + "}\n";
  out += wide ? "\\begin{tabularx}{\\textwidth}{@{}" + columns + "@{}}\n" : "\\begin{tabular}{@{}" + columns + "@{}}\n";
  out += "\\toprule\n";
  const auto row_text = [](const std::vector<std::string>& row) {
    std::string line;
    for (const auto& cell : row) line += (&cell == row.data() ? "" : " & ") + in_latex(cell);
    return line + " \\\\\n";
  };
  out += row_text(table.header) + "\\midrule\n";
  for (const auto& row : table.rows) out += row_text(row);
  return out + "\\bottomrule\n" + (wide ? "\\end{tabularx}" : "\\end{tabular}") + "\n\\end{table}\n";
}

}  // namespace

std::string folded(const std::string& text, std::size_t indent, std::size_t width) {
  std::string out;
  std::size_t at = std::min(text.find_first_not_of(' '), text.size());
  std::string row(at, ' ');
  bool fresh = true;  // nothing but indentation in the row yet
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    if (!fresh && width_of(row) + 1 + width_of(word) > width) {
      out += row + '\n';
      row = std::string(indent, ' ') + word;
    } else {
      row += (fresh ? "" : " ") + word;
    }
    fresh = false;
    at = end + 1;
  }
  return out + row + '\n';
}

std::string symbol(std::string_view plain, std::string_view latex) {
  return kOpen + std::string(plain) + kMiddle + std::string(latex) + kClose;
}

namespace {

// What has no value is said in words.
std::string no_number() { return symbol("no number", "\\text{no number}"); }

}  // namespace

std::string quantity(double value, std::string_view unit, int digits) {
  if (!std::isfinite(value)) return no_number();
  const std::string number = number_text(value, digits);
  if (unit == "1" || unit.empty()) return symbol(number, latex_number(number));
  return symbol(number + ' ' + std::string(unit), latex_number(number) + "\\,\\mathrm{" + latex_unit(unit) + "}");
}

std::string signed_number(double value, int decimals) {
  if (!std::isfinite(value)) return no_number();
  const double shown = std::abs(value) < 0.5 * std::pow(10.0, -decimals) ? 0.0 : value;  // no "-0.000"
  const std::string text = signed_text(shown, decimals);
  return symbol(text, text);
}

std::string percent_change(double log_change) {
  if (!std::isfinite(log_change)) return no_number();
  const double percent = std::abs(log_change) < 1e-9 ? 0.0 : 100.0 * std::expm1(log_change);  // rounding is no change
  const std::string number = (percent < 0.0 ? "" : "+") + number_text(percent, std::abs(percent) < 10.0 ? 2 : 3);
  return symbol(number + " %", latex_number(number) + "\\,\\%");
}

std::string prose_plain(std::string_view text) {
  return translated(text, [](std::string_view part) { return std::string(part); },
                    [](std::string_view plain, std::string_view) { return std::string(plain); });
}

void prose_pieces(std::string_view text, const std::function<void(std::string_view)>& plain,
                  const std::function<void(std::string_view, std::string_view)>& symbol) {
  (void)translated(
      text, [&](std::string_view part) { return plain(part), std::string(); },
      [&](std::string_view shown, std::string_view latex) { return symbol(shown, latex), std::string(); });
}

std::string write_prose(const Prose& prose, ProseFormat format, bool fragment) {
  std::string out;
  int equations = 0;
  if (format == ProseFormat::latex && !fragment) {
    out +=
        "\\documentclass[11pt,a4paper]{article}\n\\usepackage[T1]{fontenc}\n\\usepackage[utf8]{inputenc}\n\\usepackage{"
        "textcomp}\n"
        "\\usepackage{amsmath}\n\\usepackage{booktabs}\n\\usepackage{tabularx}\n\\usepackage[margin=25mm]{geometry}\n"
        "\\usepackage{float}\n\\floatplacement{table}{H}\n"  // tables stay under their headings; a fragment floats as
                                                             // its document says
        "\\emergencystretch=2em\n\\begin{document}\n";
  }
  switch (format) {
    case ProseFormat::text: out += indented(prose_plain(prose.title), 0); break;
    case ProseFormat::markdown: out += "# " + in_markdown(prose.title) + '\n'; break;
    case ProseFormat::latex: out += "\\section*{" + in_latex(prose.title) + "}\n"; break;
  }
  for (const Block& block : prose.blocks) {
    out += '\n';
    if (const auto* heading = std::get_if<Heading>(&block)) {
      std::string upper = prose_plain(heading->text);
      for (char& c : upper) c = static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
      switch (format) {
        case ProseFormat::text: out += upper + '\n'; break;
        case ProseFormat::markdown: out += "## " + in_markdown(heading->text) + '\n'; break;
        case ProseFormat::latex: out += "\\subsection*{" + in_latex(heading->text) + "}\n"; break;
      }
    } else if (const auto* paragraph = std::get_if<Paragraph>(&block)) {
      switch (format) {
        case ProseFormat::text: out += indented(prose_plain(paragraph->text), 2); break;
        case ProseFormat::markdown: out += in_markdown(paragraph->text) + '\n'; break;
        case ProseFormat::latex: out += in_latex(paragraph->text) + '\n'; break;
      }
    } else if (const auto* equation = std::get_if<Equation>(&block)) {
      ++equations;
      const std::string number = std::to_string(equations);
      switch (format) {
        case ProseFormat::text: out += "    " + equation->plain + "    (" + number + ")\n"; break;
        case ProseFormat::markdown: out += "$$" + equation->latex + " \\tag{" + number + "}$$\n"; break;
        case ProseFormat::latex:
          out += "\\begin{equation}\n" + equation->latex + "\n\\label{eq:" + equation->label + "}\n\\end{equation}\n";
          break;
      }
    } else if (const auto* table = std::get_if<ProseTable>(&block)) {
      switch (format) {
        case ProseFormat::text: out += text_table(*table); break;
        case ProseFormat::markdown: out += markdown_table(*table); break;
        case ProseFormat::latex: out += latex_table(*table); break;
      }
    }
  }
  if (format == ProseFormat::latex && !fragment) out += "\\end{document}\n";
  return out;
}

}  // namespace whorl::io
