// A short text with tables and numbered equations, written as plain text, Markdown or LaTeX.
#pragma once
#include <cstddef>
#include <functional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "whorl/io/fit_text.hpp"

namespace whorl::io {

/// A piece of a sentence that looks different in print: "d_f" and $d_\mathrm{f}$. The result is put into a text as it
/// is.
[[nodiscard]] std::string symbol(std::string_view plain, std::string_view latex);

/// A number with its unit, "6.06 um", as a symbol: in print 6.06 with a thin space and upright unit. `unit` "1": none.
[[nodiscard]] std::string quantity(double value, std::string_view unit, int digits = 3);

/// "%+.3f" and the like; in print with a real minus sign.
[[nodiscard]] std::string signed_number(double value, int decimals);

/// "+12.3 %" from the change of a logarithm.
[[nodiscard]] std::string percent_change(double log_change);

struct Heading {
  std::string text;
};
struct Paragraph {
  std::string text;
};
struct Equation {
  std::string plain;  ///< for text
  std::string latex;  ///< for Markdown and LaTeX, without dollar signs
  std::string label;  ///< of LaTeX, "diameter"
};
struct ProseTable {
  std::string caption;
  std::vector<std::string> header;
  std::vector<std::vector<std::string>> rows;  ///< as many cells as the header; the first column left, all others right
  bool wide_last{};                            ///< the last column is a sentence
};
using Block = std::variant<Heading, Paragraph, Equation, ProseTable>;

struct Prose {
  std::string title;
  std::vector<Block> blocks;
};

enum class ProseFormat { text, markdown, latex };

/// Equations are numbered in the order in which they stand. LaTeX: a whole document that compiles with amsmath,
/// booktabs, tabularx and float, or only the body when `fragment`.
[[nodiscard]] std::string write_prose(const Prose& prose, ProseFormat format, bool fragment = false);

/// Text with the plain form of its symbols.
[[nodiscard]] std::string prose_plain(std::string_view text);

/// Walks through a text: `plain` gets its plain parts, `symbol` the two forms of its symbols.
void prose_pieces(std::string_view text, const std::function<void(std::string_view)>& plain,
                  const std::function<void(std::string_view, std::string_view)>& symbol);

/// Text folded at the width of a terminal, in characters; the first line keeps its own indentation, the others get
/// `indent` blanks. Ends with a newline.
[[nodiscard]] std::string folded(const std::string& text, std::size_t indent, std::size_t width = kTextColumns);

}  // namespace whorl::io
