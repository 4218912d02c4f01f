#include "page/shortest_text.hpp"

#include <fmt/compile.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace whorl::page {
namespace {

// d.ddd x 10^power
struct Digits {
  char text[24]{};
  int count{};
  int power{};
};

// fmt gives the shortest digits, but another layout.
Digits digits_of(double positive) {
  char raw[40];
  const char* end = fmt::format_to(raw, FMT_COMPILE("{}"), positive);
  Digits out;
  int before_point = 0;
  bool point = false;
  int exponent = 0;
  int leading = 0;
  for (const char* c = raw; c != end; ++c) {
    if (*c == 'e') {
      const char* from = c[1] == '+' ? c + 2 : c + 1;
      std::from_chars(from, end, exponent);
      break;
    }
    if (*c == '.') {
      point = true;
      continue;
    }
    if (out.count == 0 && *c == '0') {
      leading += point ? 1 : 0;
      continue;
    }
    out.text[out.count++] = *c;
    before_point += point ? 0 : 1;
  }
  while (out.count > 1 && out.text[out.count - 1] == '0') --out.count;
  out.power = exponent + (before_point > 0 ? before_point - 1 : -leading - 1);
  return out;
}

char* put(char* to, const char* from, int count) { return std::copy(from, from + count, to); }

int scientific_length(const Digits& d) { return d.count + (d.count > 1 ? 1 : 0) + (std::abs(d.power) < 100 ? 4 : 5); }
int fixed_length(const Digits& d) {
  if (d.power < 0) return 1 - d.power + d.count;
  return d.count <= d.power + 1 ? d.power + 1 : d.count + 1;
}

char* put_scientific(char* to, const Digits& d) {
  *to++ = d.text[0];
  if (d.count > 1) *to++ = '.';
  to = put(to, d.text + 1, d.count - 1);
  *to++ = 'e';
  *to++ = d.power < 0 ? '-' : '+';
  const int size = std::abs(d.power);
  if (size >= 100) *to++ = static_cast<char>('0' + size / 100);
  *to++ = static_cast<char>('0' + size / 10 % 10);
  *to++ = static_cast<char>('0' + size % 10);
  return to;
}

char* put_fixed(char* to, const Digits& d, double positive) {
  if (d.power < 0) {
    to = std::fill_n(put(to, "0.", 2), -d.power - 1, '0');
    return put(to, d.text, d.count);
  }
  if (d.count > d.power + 1) {
    to = put(to, d.text, d.power + 1);
    *to++ = '.';
    return put(to, d.text + d.power + 1, d.count - d.power - 1);
  }
  constexpr double kEveryWholeNumber = 9007199254740992.0;  // above, zeros behind the shortest digits may be wrong ones
  if (positive > kEveryWholeNumber) {
    char exact[kLongestText];
    return put(to, exact, std::snprintf(exact, sizeof exact, "%.0f", positive));
  }
  return std::fill_n(put(to, d.text, d.count), d.power + 1 - d.count, '0');
}

// Sign, zero and what is no number; true: `to` is complete.
bool put_plain_part(char*& to, double& value) {
  if (std::signbit(value)) *to++ = '-';
  value = std::fabs(value);
  if (std::isfinite(value)) return false;
  to = put(to, std::isnan(value) ? "nan" : "inf", 3);
  return true;
}

}  // namespace

char* shortest_scientific(char* to, double value) {
  if (put_plain_part(to, value)) return to;
  if (value == 0.0) return put(to, "0e+00", 5);
  return put_scientific(to, digits_of(value));
}

char* shortest_fixed(char* to, double value) {
  if (put_plain_part(to, value)) return to;
  if (value == 0.0) return put(to, "0", 1);
  return put_fixed(to, digits_of(value), value);
}

char* shortest_text(char* to, double value) {
  if (put_plain_part(to, value)) return to;
  if (value == 0.0) return put(to, "0", 1);
  const Digits digits = digits_of(value);
  return fixed_length(digits) <= scientific_length(digits) ? put_fixed(to, digits, value) : put_scientific(to, digits);
}

}  // namespace whorl::page
