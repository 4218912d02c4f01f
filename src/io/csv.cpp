#include "whorl/io/csv.hpp"

#include <array>
#include <charconv>
#include <cmath>

#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::io {

void append_number(std::string& line, double value) {
  if (!std::isfinite(value)) return;
  std::array<char, 32> text{};
  const char* end = std::to_chars(text.data(), text.data() + text.size(), value == 0.0 ? 0.0 : value).ptr;  // no "-0"
  line.append(text.data(), static_cast<std::size_t>(end - text.data()));
}

std::string format_number(double value) {
  std::string text;
  append_number(text, value);
  return text;
}

void append_text(std::string& line, std::string_view text) {
  std::string clean = printable(text, Lines::joined);
  // A blank in front does not stop every spreadsheet from reading a formula, so the first visible character decides.
  const auto first = clean.find_first_not_of(' ');
  if (first != std::string::npos && std::string_view("=+-@").find(clean[first]) != std::string_view::npos)
    clean.insert(clean.begin(), '\'');
  const bool quoted = clean.find_first_of(",\"") != std::string::npos ||
                      (!clean.empty() && (clean.front() == ' ' || clean.back() == ' '));
  if (!quoted) {
    line += clean;
    return;
  }
  line.push_back('"');
  for (const char c : clean) {
    if (c == '"') line.push_back('"');
    line.push_back(c);
  }
  line.push_back('"');
}

bool read_csv_record(std::istream& input, std::vector<std::string>& cells, const std::string& file) {
  cells.clear();
  if (input.peek() == std::istream::traits_type::eof()) return false;
  std::string cell;
  bool inside = false;   // between quotes
  bool closed = false;   // a quoted cell has ended
  bool fresh = true;     // nothing of the cell read yet
  const auto broken = [&](const std::string& what) {
    return InputError(file, "field " + std::to_string(cells.size() + 1), what, "RFC 4180 quoting");
  };
  for (;;) {
    const auto next = input.get();
    if (next == std::istream::traits_type::eof()) {
      if (inside) throw broken("the quote is not closed");
      break;
    }
    const char c = static_cast<char>(next);
    if (inside) {
      if (c != '"') {
        cell.push_back(c);
      } else if (input.peek() == '"') {
        cell.push_back(static_cast<char>(input.get()));
      } else {
        inside = false;
        closed = true;
      }
      continue;
    }
    if (c == '\n') break;
    if (c == '\r' && input.peek() == '\n') continue;
    if (c == ',') {
      cells.push_back(std::move(cell));
      cell.clear();
      closed = false;
      fresh = true;
      continue;
    }
    if (closed) throw broken("text follows a closing quote");
    if (c == '"' && fresh) {
      inside = true;
    } else if (c == '"') {
      throw broken("a quote stands inside an unquoted field");
    } else {
      cell.push_back(c);
    }
    fresh = false;
  }
  cells.push_back(std::move(cell));
  return true;
}

bool split_csv_line(std::string_view line, std::vector<std::string>& cells) {
  cells.clear();
  std::string cell;
  std::size_t i = 0;
  for (;;) {
    cell.clear();
    if (i < line.size() && line[i] == '"') {
      ++i;
      for (;; ++i) {
        if (i >= line.size()) return false;
        if (line[i] != '"') {
          cell.push_back(line[i]);
        } else if (i + 1 < line.size() && line[i + 1] == '"') {
          cell.push_back('"');
          ++i;
        } else {
          break;
        }
      }
      ++i;
      if (i < line.size() && line[i] != ',') return false;
    } else {
      while (i < line.size() && line[i] != ',') {
        if (line[i] == '"') return false;
        cell.push_back(line[i++]);
      }
    }
    cells.push_back(cell);
    if (i >= line.size()) return true;
    ++i;  // the comma
  }
}

}  // namespace whorl::io
