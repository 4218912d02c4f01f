// What a text for people must not hold: lines wider than the screen, numbers that are none, numbers with more digits than anybody reads.
#pragma once
#include <algorithm>
#include <cctype>
#include <cstddef>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

namespace testing {

inline bool letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0 || static_cast<unsigned char>(c) >= 0x80 || c == '_'; }
inline bool digit(char c) { return c >= '0' && c <= '9'; }

/// Significant digits of a number as written ("0.0120": 3; "120000": 2, as zeros at the end of a whole number may only place it).
inline int significant_digits(std::string_view number) {
  number = number.substr(0, number.find_first_of("eE"));
  std::string digits;
  bool point = false;
  for (const char c : number) {
    if (c == '.') point = true;
    if (digit(c) && !(digits.empty() && c == '0')) digits += c;
  }
  if (!point) digits.erase(digits.find_last_not_of('0') + 1);
  return static_cast<int>(digits.size());
}

/// A digest: 16 or 64 hexadecimal digits.
inline bool is_digest(std::string_view word) {
  return (word.size() == 16 || word.size() == 64) &&
         std::all_of(word.begin(), word.end(), [](char c) { return digit(c) || (c >= 'a' && c <= 'f'); });
}

/// The words of a line that are not what a person should read: "inf", "nan", and numbers of more than six significant digits. Words with a
/// slash and a digit behind a point (addresses, DOIs), digests and sections of a code of law ("29 CFR 1910.1000") are names, not numbers.
inline std::vector<std::string> bad_words(const std::string& line) {
  std::vector<std::string> bad;
  std::istringstream words(line);
  std::string before;
  for (std::string word; words >> word; before = word) {
    if (before == "CFR") continue;
    const bool name = word.find("://") != std::string::npos || word.rfind("10.", 0) == 0 ? word.find('/') != std::string::npos : false;
    if (name) continue;
    for (std::size_t at = 0; at < word.size();) {
      if (!letter(word[at]) && !digit(word[at])) {
        ++at;
        continue;
      }
      std::size_t end = at;
      while (end < word.size() && (letter(word[end]) || digit(word[end]))) ++end;
      const std::string run = word.substr(at, end - at);
      std::string lower = run;
      for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
      if (lower == "inf" || lower == "nan" || lower == "infinity") bad.push_back(word);
      if (is_digest(run) || !digit(run.front())) {
        at = end;
        continue;
      }
      // a number: digits, a point between digits, an exponent
      end = at;
      bool point = false;
      while (end < word.size()) {
        if (digit(word[end])) {
          ++end;
        } else if (word[end] == '.' && !point && end + 1 < word.size() && digit(word[end + 1])) {
          point = true;
          ++end;
        } else {
          break;
        }
      }
      if (significant_digits(std::string_view(word).substr(at, end - at)) > 6) bad.push_back(word);
      while (end < word.size() && (letter(word[end]) || digit(word[end]))) ++end;  // unit or exponent behind it
      at = end;
    }
  }
  return bad;
}

/// Characters, not bytes.
inline std::size_t columns_of(std::string_view line) {
  return static_cast<std::size_t>(std::count_if(line.begin(), line.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// A line that is too wide only because one word does not fit: a file name, an address.
inline bool one_long_word(std::string_view line) {
  const std::size_t begin = std::min(line.find_first_not_of(' '), line.size());
  return line.find(' ', begin) == std::string_view::npos;
}

}  // namespace testing
