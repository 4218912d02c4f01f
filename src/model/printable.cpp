#include "whorl/model/printable.hpp"

#include <cstdint>

namespace whorl {
namespace {

struct Decoded {
  std::size_t bytes{1};
  std::uint32_t character{};
  bool good{};
  bool unfinished{};  ///< good as far as it goes
};

// The first character of a text that is not empty. (Unicode 15, table 3-7.)
Decoded decode(std::string_view text) noexcept {
  const auto at = [&](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])); };
  const std::uint32_t first = at(0);
  if (first < 0x80) return {1, first, true, false};
  std::size_t more = 0;
  std::uint32_t low = 0x80;
  std::uint32_t high = 0xBF;
  if (first >= 0xC2 && first <= 0xDF)
    more = 1;
  else if (first >= 0xE0 && first <= 0xEF)
    more = 2;
  else if (first >= 0xF0 && first <= 0xF4)
    more = 3;
  else
    return {};
  if (first == 0xE0) low = 0xA0;
  if (first == 0xED) high = 0x9F;
  if (first == 0xF0) low = 0x90;
  if (first == 0xF4) high = 0x8F;
  std::uint32_t character = first & (0x3FU >> more);
  for (std::size_t k = 1; k <= more; ++k) {
    if (k >= text.size()) return {1, 0, false, true};
    if (at(k) < low || at(k) > high) return {};
    character = (character << 6U) | (at(k) & 0x3FU);
    low = 0x80;
    high = 0xBF;
  }
  return {more + 1, character, true, false};
}

bool steers(std::uint32_t c) noexcept {
  return c < 0x20 || (c >= 0x7F && c <= 0x9F) || c == 0x061C || c == 0x200E || c == 0x200F ||
         (c >= 0x2028 && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
}

}  // namespace

std::string printable(std::string_view text, Lines lines) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const Decoded next = decode(text);
    const bool kept = lines == Lines::kept && (next.character == '\n' || next.character == '\t');
    if (next.good && (kept || !steers(next.character)))
      out.append(text.substr(0, next.bytes));
    else
      out.push_back(' ');
    text.remove_prefix(next.bytes);
  }
  return out;
}

std::size_t unfinished_bytes(std::string_view text) noexcept {
  for (std::size_t back = 1; back <= 3 && back <= text.size(); ++back) {
    const std::string_view tail = text.substr(text.size() - back);
    if ((static_cast<unsigned char>(tail.front()) & 0xC0U) == 0x80U) continue;
    return decode(tail).unfinished ? back : 0;
  }
  return 0;
}

}  // namespace whorl
