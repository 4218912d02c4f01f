// Doubles to and from text for a standard library that has neither (libc++ before 20): the functions of C, which
// know the locale "C" only, and shortest_text.hpp, for trying one length after the other with those takes far longer.
// Read before every source of the page's build, so that no other source has to know.
#pragma once
#include <charconv>
#include <version>

#if !defined(__cpp_lib_to_chars)
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <system_error>

#include "page/shortest_text.hpp"

namespace std {  // NOLINT: stands in for what the library of this one compiler lacks

inline from_chars_result from_chars(const char* first, const char* last, double& value) {
  // Only what a decimal number is made of: strtod would read hexadecimal ones, a plus sign and words, too.
  const string_view all(first, static_cast<size_t>(last - first));
  const string digits(all.substr(0, all.find_first_not_of("0123456789.+-eE")));
  char* end = nullptr;
  const double read = strtod(digits.c_str(), &end);
  const auto length = end - digits.c_str();
  if (length == 0 || digits.front() == '+') return {first, errc::invalid_argument};
  if (isinf(read)) return {first + length, errc::result_out_of_range};
  value = read;
  return {first + length, errc{}};
}

inline to_chars_result to_chars(char* first, char* last, double value, chars_format format, int digits) {
  const char* pattern = "%.*g";
  if (format == chars_format::fixed) pattern = "%.*f";
  if (format == chars_format::scientific) pattern = "%.*e";
  char text[400];
  const int length = snprintf(text, sizeof text, pattern, digits, value);
  if (length < 0 || length > last - first) return {last, errc::value_too_large};
  for (int i = 0; i < length; ++i) first[i] = text[i];
  return {first + length, errc{}};
}

/// The shortest text that reads back as the same double, in that form (scientific or fixed).
inline to_chars_result to_chars(char* first, char* last, double value, chars_format format) {
  char text[whorl::page::kLongestText];
  const char* end = format == chars_format::fixed ? whorl::page::shortest_fixed(text, value)
                                                  : whorl::page::shortest_scientific(text, value);
  if (end - text > last - first) return {last, errc::value_too_large};
  for (const char* c = text; c != end; ++c) *first++ = *c;
  return {first, errc{}};
}

/// The shortest text that reads back as the same double: with or without an exponent, whichever is shorter, and without
/// where both are.
inline to_chars_result to_chars(char* first, char* last, double value) {
  char text[whorl::page::kLongestText];
  const char* end = whorl::page::shortest_text(text, value);
  if (end - text > last - first) return {last, errc::value_too_large};
  for (const char* c = text; c != end; ++c) *first++ = *c;
  return {first, errc{}};
}

}  // namespace std
#endif
