#include "whorl/io/fit_text.hpp"

#include <algorithm>

namespace whorl::io {
namespace {

constexpr auto kNone = std::string_view::npos;

// Where lines that continue this one begin.
std::size_t continuation(std::string_view line, std::size_t columns) {
  const std::size_t begin = std::min(line.find_first_not_of(' '), line.size());
  std::size_t label = 0;
  for (std::size_t gap = line.find("  ", begin); gap != kNone;) {
    const std::size_t behind = line.find_first_not_of(' ', gap);
    if (behind == kNone || column_count(line.substr(0, behind)) > columns / 2) break;
    label = column_count(line.substr(0, behind));
    gap = line.find("  ", behind);
  }
  if (label > 0) return label;
  const bool sentences = begin == 0 || line.find(". ", begin) != kNone;
  return std::min(sentences ? begin : begin + 2, columns / 2);
}

// The last blank before which the text fits, else the first one behind; none when there is no blank.
std::size_t fold_at(std::string_view line, std::size_t from, std::size_t columns) {
  std::size_t found = kNone;
  for (std::size_t at = line.find(' ', from); at != kNone; at = line.find(' ', at + 1)) {
    if (column_count(line.substr(0, at)) > columns) return found == kNone ? at : found;
    found = at;
  }
  return column_count(line) > columns ? found : kNone;
}

void append_fitted(std::string& out, std::string_view line, std::size_t columns) {
  const std::size_t indent = continuation(line, columns);
  std::string rest(line);
  std::size_t from = rest.find_first_not_of(' ');
  while (from != std::string::npos && column_count(rest) > columns) {
    const std::size_t at = fold_at(rest, from, columns);
    if (at == kNone) break;
    const std::size_t behind = rest.find_first_not_of(' ', at);
    if (behind == std::string::npos) break;
    out.append(rest, 0, rest.find_last_not_of(' ', at) + 1);
    out += '\n';
    rest = std::string(indent, ' ') + rest.substr(behind);
    from = indent;
  }
  out += rest;
}

}  // namespace

std::size_t column_count(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string fitted(std::string_view text, std::size_t columns) {
  std::string out;
  out.reserve(text.size() + text.size() / 16);
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    append_fitted(out, text.substr(0, end), columns);
    if (end == text.size()) break;
    out += '\n';
    text.remove_prefix(end + 1);
  }
  return out;
}

}  // namespace whorl::io
