// Internal to io: doubles to and from text. std::to_chars and std::from_chars where the standard library has them for
// floating point; elsewhere (libc++ before 20) the functions of C in the locale "C", which is the only one there.
#pragma once
#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <system_error>

namespace whorl::io {

#if defined(__cpp_lib_to_chars)

inline std::from_chars_result read_double(const char* first, const char* last, double& value) {
  return std::from_chars(first, last, value);
}

/// As printf's %.<digits>g; returns the end.
inline char* write_double(char* first, char* last, double value, int digits) {
  return std::to_chars(first, last, value, std::chars_format::general, digits).ptr;
}

/// The shortest text that reads back as the same double.
inline char* write_double(char* first, char* last, double value) { return std::to_chars(first, last, value).ptr; }

#else

inline std::from_chars_result read_double(const char* first, const char* last, double& value) {
  // Only what a decimal number is made of: strtod would read hexadecimal ones and words, too.
  const std::string_view all(first, static_cast<std::size_t>(last - first));
  const std::string digits(all.substr(0, all.find_first_not_of("0123456789.+-eE")));
  char* end = nullptr;
  const double read = std::strtod(digits.c_str(), &end);
  const auto length = end - digits.c_str();
  if (length == 0 || digits.front() == '+') return {first, std::errc::invalid_argument};
  if (std::isinf(read)) return {first + length, std::errc::result_out_of_range};
  value = read;
  return {first + length, std::errc{}};
}

inline char* write_double(char* first, char* last, double value, int digits) {
  return first + std::snprintf(first, static_cast<std::size_t>(last - first), "%.*g", digits, value);
}

inline char* write_double(char* first, char* last, double value) {
  int digits = 1;
  char text[32];
  for (; digits < 17; ++digits) {
    std::snprintf(text, sizeof text, "%.*e", digits - 1, value);
    if (std::strtod(text, nullptr) == value) break;
  }
  // As std::to_chars: with or without an exponent, whichever is shorter, and without where both are.
  const int power = value == 0.0 ? 0 : static_cast<int>(std::floor(std::log10(std::abs(value))));
  const auto room = static_cast<std::size_t>(last - first);
  const int fixed = std::snprintf(nullptr, 0, "%.*f", std::max(0, digits - 1 - power), value);
  const int exponent = std::snprintf(nullptr, 0, "%.*e", digits - 1, value);
  if (fixed <= exponent) return first + std::snprintf(first, room, "%.*f", std::max(0, digits - 1 - power), value);
  return first + std::snprintf(first, room, "%.*e", digits - 1, value);
}

#endif

}  // namespace whorl::io
