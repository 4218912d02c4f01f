#include "io/table_text.hpp"

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <sstream>
#include <vector>

#include "io/unit_text.hpp"

namespace whorl::io {
namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

// A plain number with this decimal sign in it.
bool decimal_number(std::string_view cell, char sign) {
  cell = trimmed(cell);
  if (!cell.empty() && (cell.front() == '-' || cell.front() == '+')) cell.remove_prefix(1);
  const auto at = cell.find(sign);
  if (at == std::string_view::npos || at + 1 >= cell.size() || !digit(cell[at + 1])) return false;
  return std::all_of(
             cell.begin(), cell.end(),
             [sign](char c) { return digit(c) || c == sign || c == 'e' || c == 'E' || c == '-' || c == '+'; }) &&
         std::count(cell.begin(), cell.end(), sign) == 1;
}

// "1,250": a decimal comma with three places, or thousands.
bool thousands_like(std::string_view cell) {
  cell = trimmed(cell);
  const auto at = cell.find(',');
  return decimal_number(cell, ',') && at >= 1 && at <= 3 && cell[0] != '0' && cell.size() == at + 4 &&
         cell.find_first_of("eE+-") == std::string_view::npos;
}

bool whole_number(std::string_view cell) {
  cell = trimmed(cell);
  return !cell.empty() && std::all_of(cell.begin(), cell.end(), digit);
}

// Whether commas in the numbers of a column can only be decimal ones.
bool decimal_commas(const std::vector<std::vector<std::string>>& rows, std::size_t column) {
  bool doubtful = false;
  bool whole = false;
  for (const auto& row : rows) {
    if (column >= row.size()) continue;
    if (decimal_number(row[column], ',') && !thousands_like(row[column])) return true;
    doubtful = doubtful || thousands_like(row[column]);
    whole = whole || whole_number(row[column]);
  }
  return !(doubtful && whole);
}

// Pieces between separators outside quotes, as they stand; the quotes stay.
std::vector<std::string> pieces(const std::string& line, char separator, bool& open) {
  std::vector<std::string> out(1);
  for (const char c : line) {
    if (c == '"') open = !open;
    if (c == separator && !open)
      out.emplace_back();
    else
      out.back().push_back(c);
  }
  return out;
}

void append_utf8(std::string& out, std::uint32_t code) {
  const auto more = [&](int shift) { out.push_back(static_cast<char>(0x80U | ((code >> shift) & 0x3FU))); };
  if (code < 0x80) {
    out.push_back(static_cast<char>(code));
  } else if (code < 0x800) {
    out.push_back(static_cast<char>(0xC0U | (code >> 6)));
    more(0);
  } else if (code < 0x10000) {
    out.push_back(static_cast<char>(0xE0U | (code >> 12)));
    more(6);
    more(0);
  } else {
    out.push_back(static_cast<char>(0xF0U | (code >> 18)));
    more(12);
    more(6);
    more(0);
  }
}

// Halves of a pair that stand alone become the sign for a character that could not be read.
std::string from_utf16(std::string_view bytes, bool low_first) {
  std::string out;
  const auto unit = [&](std::size_t at) {
    const auto a = static_cast<unsigned char>(bytes[at]);
    const auto b = static_cast<unsigned char>(bytes[at + 1]);
    return static_cast<std::uint32_t>(low_first ? a | (b << 8) : (a << 8) | b);
  };
  for (std::size_t i = 0; i + 1 < bytes.size(); i += 2) {
    std::uint32_t code = unit(i);
    if (code >= 0xD800 && code < 0xE000) {
      const std::uint32_t second = i + 3 < bytes.size() ? unit(i + 2) : 0;
      if (code < 0xDC00 && second >= 0xDC00 && second < 0xE000) {
        code = 0x10000 + ((code - 0xD800) << 10) + (second - 0xDC00);
        i += 2;
      } else {
        code = 0xFFFD;
      }
    }
    append_utf8(out, code);
  }
  return out;
}

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto first = static_cast<unsigned char>(text[i]);
    const std::size_t more = first < 0x80                    ? 0
                             : first >= 0xC2 && first < 0xE0 ? 1
                             : first >= 0xE0 && first < 0xF0 ? 2
                             : first >= 0xF0 && first < 0xF5 ? 3
                                                             : 9;
    if (more == 9 || i + more >= text.size()) return false;
    for (std::size_t k = 1; k <= more; ++k)
      if ((static_cast<unsigned char>(text[i + k]) & 0xC0U) != 0x80) return false;
    i += more + 1;
  }
  return true;
}

}  // namespace

std::string utf8_text(std::string_view text) {
  if (text.substr(0, 3) == "\xEF\xBB\xBF") text.remove_prefix(3);
  const bool low_first = text.substr(0, 2) == "\xFF\xFE";
  if (low_first || text.substr(0, 2) == "\xFE\xFF") return from_utf16(text.substr(2), low_first);
  if (is_utf8(text)) return std::string(text);
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0xA0)
      out.push_back(c);  // below 0x80 the same; control characters stay what they are
    else
      append_utf8(out, byte);
  }
  return out;
}

std::string with_line_feeds(std::string_view raw) {
  const std::string text = utf8_text(raw);
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r')
      out.push_back(text[i]);
    else if (i + 1 >= text.size() || text[i + 1] != '\n')
      out.push_back('\n');
  }
  return out;
}

std::string cited(const std::string& text) {
  return '"' + (text.size() > 40 ? text.substr(0, 40) + "..." : text) + '"';
}

std::string trimmed_cell(std::string text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.erase(0, 1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r')) text.pop_back();
  return text;
}

char take_separator_line(std::string& text) {
  const std::size_t end = text.find('\n');
  std::string line = text.substr(0, end);
  line.erase(std::remove(line.begin(), line.end(), '"'), line.end());
  for (char& c : line) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (line.size() != 5 || line.compare(0, 4, "sep=") != 0) return 0;
  text.erase(0, end == std::string::npos ? text.size() : end + 1);
  return line[4];
}

std::string plain_csv(std::string_view raw) {
  std::string text = with_line_feeds(raw);
  char separator = take_separator_line(text);
  if (separator == 0) {
    const std::string header = text.substr(0, text.find('\n'));
    if (header.find(';') != std::string::npos && header.find(',') == std::string::npos) separator = ';';
  }
  if (separator == 0 || separator == ',') return text;
  std::vector<std::vector<std::string>> rows;
  bool points = false;
  bool open = false;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    const bool inside = open;
    std::vector<std::string> cells = pieces(line, separator, open);
    for (const auto& cell : cells) points = points || decimal_number(cell, '.');
    if (inside) cells.front() = '\n' + cells.front();  // a cell that goes on
    if (inside && !rows.empty()) {
      rows.back().back() += cells.front();
      rows.back().insert(rows.back().end(), cells.begin() + 1, cells.end());
    } else {
      rows.push_back(std::move(cells));
    }
  }
  std::size_t widest = 0;
  for (const auto& row : rows) widest = std::max(widest, row.size());
  std::vector<bool> decimal;
  for (std::size_t column = 0; column < widest; ++column) decimal.push_back(!points && decimal_commas(rows, column));
  std::string out;
  out.reserve(text.size() + text.size() / 8);
  for (const auto& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      std::string cell = row[i];
      if (decimal[i] && decimal_number(cell, ',')) std::replace(cell.begin(), cell.end(), ',', '.');
      if (i > 0) out.push_back(',');
      if (cell.find(',') != std::string::npos && cell.find('"') == std::string::npos) cell = '"' + cell + '"';
      out += cell;
    }
    out.push_back('\n');
  }
  return out;
}

}  // namespace whorl::io
