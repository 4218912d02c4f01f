// Text laid out for a screen: no line wider than it is.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace whorl::io {

/// What every text is laid out for, and what it has where no terminal says otherwise.
inline constexpr std::size_t kTextColumns = 80;

/// Characters, not bytes: "±" is one.
[[nodiscard]] std::size_t column_count(std::string_view text);

/// Lines that are too wide are folded at blanks. What follows a label ("  label    text") is folded under itself,
/// sentences under their beginning, other lines two columns further in; a word that fits nowhere (a file name) stays
/// whole.
[[nodiscard]] std::string fitted(std::string_view text, std::size_t columns = kTextColumns);

}  // namespace whorl::io
