// Writers of a document, one file each: write_text.cpp, write_json.cpp, write_markdown.cpp, write_latex.cpp,
// write_html.cpp.
#pragma once
#include <cstddef>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "document/document.hpp"

namespace whorl::document {

enum class Format { text, json, markdown, latex, html };

/// Error: InputError for a word that is no format.
[[nodiscard]] Format format_of(const std::string& word);

/// Folded at `width` characters; a word that is longer keeps its length.
[[nodiscard]] std::string write_text(const Document& document, std::size_t width = 80);

/// The keys of the blocks, without `made_by`.
[[nodiscard]] nlohmann::ordered_json json_of(const Document& document);

[[nodiscard]] std::string write_markdown(const Document& document);

/// A whole document that compiles with what every LaTeX has (amsmath, longtable, array; booktabs where it is there),
/// or, as a `fragment`, what stands between its \begin{document} and \end{document}.
[[nodiscard]] std::string write_latex(const Document& document, bool fragment = false);

/// One page that needs nothing from anywhere else and runs no script.
[[nodiscard]] std::string write_html(const Document& document);

}  // namespace whorl::document
