#include "document/text.hpp"

#include "whorl/model/printable.hpp"

namespace whorl::document {

Text& Text::add(std::string plain) {
  if (plain.empty()) return *this;
  if (!pieces.empty() && pieces.back().latex.empty())
    pieces.back().plain += plain;  // one piece, so that characters are never cut
  else
    pieces.push_back({std::move(plain), {}});
  return *this;
}

Text& Text::symbol(std::string plain, std::string latex) {
  pieces.push_back({std::move(plain), std::move(latex)});
  return *this;
}

std::string plain(const Text& text) {
  const auto shown = [](const std::string& part) { return printable(part, Lines::joined); };
  return translated(text, shown, [&](const Piece& piece) { return shown(piece.plain); });
}

}  // namespace whorl::document
