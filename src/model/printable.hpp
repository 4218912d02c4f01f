// Text from outside (files, headings, labels, names, the command line) as it may be shown: one function for everything
// that is printed.
#pragma once
#include <string>
#include <string_view>

namespace whorl {

enum class Lines { kept, joined };  ///< line feeds and tabs stay, or become blanks, too

/// Control characters (C0 but line feed and tab, DEL, C1), bidirectional controls, line and paragraph separators and
/// bytes that are no UTF-8 become blanks, one for each byte that is no UTF-8 and one for each character: they could
/// steer a terminal or turn a line round.
[[nodiscard]] std::string printable(std::string_view text, Lines lines = Lines::kept);

/// Bytes at the end of `text` that begin a character whose rest is still to come.
[[nodiscard]] std::size_t unfinished_bytes(std::string_view text) noexcept;

}  // namespace whorl
