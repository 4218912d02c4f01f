// The shortest text of a double that reads back as the same double, as std::to_chars lays it out: for the page, whose
// standard library has none.
#pragma once

namespace whorl::page {

/// Written to `to`, without an end mark; at most `kLongestText` characters. Returns the end.
char* shortest_scientific(char* to, double value);
char* shortest_fixed(char* to, double value);
/// With or without an exponent, whichever is shorter, and without where both are.
char* shortest_text(char* to, double value);

inline constexpr int kLongestText = 400;  // small doubles without an exponent: 340 decimals

}  // namespace whorl::page
