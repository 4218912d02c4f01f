// Text of a document: plain parts, which every writer escapes in its own way, and symbols, which look different in
// print.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace whorl::document {

struct Piece {
  std::string plain;
  std::string latex{};  ///< mathematics without dollar signs, as it is: never from outside; empty: no symbol
};

/// Text from outside can only become plain pieces.
struct Text {
  std::vector<Piece> pieces;

  Text() = default;
  Text(std::string plain) { add(std::move(plain)); }          // NOLINT(google-explicit-constructor): a string is a text
  Text(std::string_view plain) : Text(std::string(plain)) {}  // NOLINT(google-explicit-constructor)
  Text(const char* plain) : Text(std::string(plain)) {}       // NOLINT(google-explicit-constructor)

  Text& add(std::string plain);
  Text& symbol(std::string plain, std::string latex);
  [[nodiscard]] bool empty() const noexcept { return pieces.empty(); }
};

/// As a terminal shows it: without what could steer it, in one line.
[[nodiscard]] std::string plain(const Text& text);

/// The text with its pieces translated: `plain_form` of plain parts, `symbol_form` of symbols.
template <typename Plain, typename Symbol>
[[nodiscard]] std::string translated(const Text& text, Plain plain_form, Symbol symbol_form) {
  std::string out;
  for (const Piece& piece : text.pieces) out += piece.latex.empty() ? plain_form(piece.plain) : symbol_form(piece);
  return out;
}

}  // namespace whorl::document
