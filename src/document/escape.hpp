// Plain text from anywhere as it may stand in LaTeX, Markdown and HTML. What could steer a terminal or turn a line
// round (model/printable.hpp) becomes blanks first, line feeds, too.
#pragma once
#include <string>
#include <string_view>

namespace whorl::document {

/// For pdflatex with T1 and UTF-8. Characters that it does not know are named: "[U+4E2D]".
[[nodiscard]] std::string latex_escaped(std::string_view text);

/// Nothing in the text is taken for emphasis, a link, an image, an element of HTML, mathematics or the end of a cell.
[[nodiscard]] std::string markdown_escaped(std::string_view text);

/// As content or as an attribute in double or single quotes.
[[nodiscard]] std::string html_escaped(std::string_view text);

}  // namespace whorl::document
