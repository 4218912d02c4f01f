#include "whorl/io/diameters.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdlib>
#include <optional>
#include <sstream>

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/table_text.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::io {
namespace {

constexpr std::size_t kMostBytes = 64u << 20;
constexpr std::size_t kMostValues = 1000000;
constexpr double kLeast_m = 1e-9, kMost_m = 1e-2;

std::string trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '"' || c == '\''; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return std::string(text);
}

// A plain decimal number and nothing else.
std::optional<double> number_of(const std::string& text, bool decimal_comma) {
  if (text.empty()) return {};
  std::string plain = text;
  if (decimal_comma) std::replace(plain.begin(), plain.end(), ',', '.');
  for (const char c : plain) {
    if (!std::isdigit(static_cast<unsigned char>(c)) && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E')
      return {};
  }
  std::istringstream in(plain);
  in.imbue(std::locale::classic());
  double value{};
  in >> value;
  if (in.fail() || in.peek() != std::char_traits<char>::eof()) return {};
  return value;
}

// "1,250": a decimal comma with three places, or thousands.
bool thousands_like(const std::string& cell) {
  const auto at = cell.find(',');
  if (at == std::string::npos || at < 1 || at > 3 || cell[0] == '0' || cell.size() != at + 4) return false;
  return std::all_of(cell.begin(), cell.end(), [](unsigned char c) { return c == ',' || std::isdigit(c); });
}

bool looks_like_number(const std::string& text) { return number_of(text, true).has_value(); }

std::vector<std::string> cells_of(const std::string& line, char separator) {
  std::vector<std::string> out;
  if (separator == ' ') {
    std::istringstream in(line);
    for (std::string word; in >> word;) out.push_back(trimmed(word));
    return out;
  }
  std::size_t at = 0;
  bool quoted = false;
  for (std::size_t i = 0; i <= line.size(); ++i) {
    if (i < line.size() && line[i] == '"') quoted = !quoted;
    if (i == line.size() || (line[i] == separator && !quoted)) {
      out.push_back(trimmed(std::string_view(line).substr(at, i - at)));
      at = i + 1;
    }
  }
  return out;
}

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

// "µm" in either of its characters, "micron", "um": the unit as UDUNITS knows it. Empty: no length.
std::string length_unit(std::string unit) {
  for (const char* micro : {"\xC2\xB5", "\xCE\xBC"}) {
    if (const auto at = unit.find(micro); at != std::string::npos) unit.replace(at, 2, "u");
  }
  if (unit == "micron" || unit == "microns" || unit == "micrometer" || unit == "micrometers" || unit == "micrometre")
    unit = "um";
  if (unit == "nanometer" || unit == "nanometers" || unit == "nanometre") unit = "nm";
  for (const char* known : {"nm", "um", "mm", "m"}) {
    if (unit == known) return unit;
  }
  return {};
}

// From "Diameter (nm)", "d [um]", "diameter / um", "diameter_um".
std::string unit_in_heading(const std::string& heading) {
  for (const char* ends : {"()", "[]"}) {
    const auto open = heading.rfind(ends[0]);
    const auto close = heading.rfind(ends[1]);
    if (open != std::string::npos && close != std::string::npos && close > open) {
      if (std::string u = length_unit(trimmed(std::string_view(heading).substr(open + 1, close - open - 1)));
          !u.empty())
        return u;
    }
  }
  for (const char* before : {"/", "_", " ", ","}) {
    if (const auto at = heading.rfind(before[0]); at != std::string::npos) {
      if (std::string u = length_unit(trimmed(std::string_view(heading).substr(at + 1))); !u.empty() && u != "m")
        return u;
    }
  }
  return {};
}

struct Line {
  std::size_t number{};
  std::string text;
};

}  // namespace

// Long: what a line means hangs on what was found in those before: separator, heading, column, unit, in this order.
DiameterList read_diameter_text(std::string_view text, const std::string& name, const DiameterListOptions& options) {
  const auto fail = [&](const std::string& where, const std::string& found, const std::string& allowed) {
    throw InputError(name, where, found, allowed);
  };
  if (text.size() > kMostBytes)
    fail("", "a file of " + std::to_string(text.size() >> 20) + " MB", "a list of at most 64 MB");
  const std::string decoded = utf8_text(text);
  if (decoded.find('\0') != std::string::npos)
    fail("", "binary data", "a text file with one measured diameter per line");
  if (!options.decimal.empty() && options.decimal != "comma" && options.decimal != "point")
    fail("decimal", cited(options.decimal), "comma or point");
  const bool known_comma = options.decimal == "comma";
  std::string plain = with_line_feeds(decoded);
  const char named_separator = take_separator_line(plain);
  text = plain;

  std::vector<Line> lines;
  std::size_t number = named_separator != 0 ? 1 : 0;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    std::string line(text.substr(at, end - at));
    while (!line.empty() && (line.back() == '\r' || line.back() == ' ')) line.pop_back();
    at = end + 1;
    ++number;
    if (trimmed(line).empty() || trimmed(line)[0] == '#') continue;
    lines.push_back({number, line});
  }
  if (lines.empty()) fail("", "no numbers", "one measured diameter per line");

  // Separator and heading.
  const auto any = [&](char c) {
    return std::any_of(lines.begin(), lines.end(), [c](const Line& l) { return l.text.find(c) != std::string::npos; });
  };
  const std::string first = lines.front().text;
  char separator = 0;
  bool decimal_comma = false;
  if (named_separator != 0 && any(named_separator)) {
    separator = named_separator;
  } else if (any('\t')) {
    separator = '\t';
  } else if (any(';')) {
    separator = ';';
  }
  bool heading = false;
  if (separator != 0) {
    const auto cells = cells_of(first, separator);
    heading = std::any_of(cells.begin(), cells.end(),
                          [](const std::string& c) { return !c.empty() && !looks_like_number(c); });
    decimal_comma = separator != ',' && any(',') && options.decimal != "point";
  } else if (any(',') && !known_comma) {
    // one heading without a comma over numbers with one comma each: a decimal comma
    const bool named =
        std::any_of(first.begin(), first.end(), [](unsigned char c) { return std::isalpha(c) || c >= 0x80; });
    if (named && first.find(',') == std::string::npos && options.decimal != "point") {
      decimal_comma = true;
      separator = '\n';
      heading = true;
    } else {
      separator = ',';
      const auto cells = cells_of(first, separator);
      heading = std::any_of(cells.begin(), cells.end(),
                            [](const std::string& c) { return !c.empty() && !looks_like_number(c); });
      if (!heading && options.column.empty() && options.decimal != "point") {
        fail("line " + std::to_string(lines.front().number), cited(first),
             "a heading, or semicolons between columns: this comma may be a decimal one or part two columns");
      }
    }
  } else {
    decimal_comma = known_comma;
    const auto words = cells_of(first, ' ');
    heading = std::any_of(words.begin(), words.end(), [](const std::string& c) { return !looks_like_number(c); });
    // the first line of numbers tells: one number to a line, or columns parted by blanks
    const Line& numbers = lines[heading && lines.size() > 1 ? 1 : 0];
    separator = cells_of(numbers.text, ' ').size() == 1 || (heading && lines.size() == 1) ? '\n' : ' ';
  }

  // Column.
  DiameterList list;
  list.name = printable(name, Lines::joined);
  std::vector<std::string> names = cells_of(first, separator);
  const std::size_t columns = names.size();
  std::size_t column = 0;
  if (!options.column.empty()) {
    bool found = false;
    if (heading) {
      for (std::size_t i = 0; i < columns; ++i) {
        if (lower(names[i]) == lower(options.column)) {
          if (found) fail("column", "two columns called " + cited(options.column), "a number from 1");
          column = i;
          found = true;
        }
      }
    }
    if (!found) {
      char* end = nullptr;
      const long k = std::strtol(options.column.c_str(), &end, 10);
      if (*end != '\0' || k < 1 || k > static_cast<long>(columns)) {
        std::string known;
        for (std::size_t i = 0; i < columns && i < 12; ++i)
          known += (i > 0 ? ", " : "") + (heading ? names[i] : std::to_string(i + 1));
        fail("column", cited(options.column), known);
      }
      column = static_cast<std::size_t>(k) - 1;
    }
  } else if (columns > 1) {
    std::vector<std::size_t> meant;
    for (std::size_t i = 0; heading && i < columns; ++i) {
      if (lower(names[i]).find("diam") != std::string::npos) meant.push_back(i);
    }
    if (meant.size() != 1) {
      std::string known;
      for (std::size_t i = 0; i < columns && i < 12; ++i)
        known += (i > 0 ? ", " : "") + (heading ? names[i] : std::to_string(i + 1));
      fail("column",
           std::to_string(columns) + " columns" +
               (meant.empty() ? ", none called diameter" : ", several called diameter"),
           "--column with one of " + known);
    }
    column = meant.front();
  }
  if (heading) list.column = printable(names[column], Lines::joined);

  // Unit.
  const std::string stated = heading ? unit_in_heading(list.column) : "";
  if (!options.unit.empty()) {
    list.unit = length_unit(options.unit);
    if (list.unit.empty()) fail("unit", cited(options.unit), "nm, um, mm or m");
    if (!stated.empty() && stated != list.unit)
      fail("unit", "--unit " + list.unit + " against the heading " + cited(list.column),
           "the unit of the heading, or a list without one");
  } else {
    list.unit = stated;
    if (list.unit.empty())
      fail("unit", heading ? "no unit in the heading " + cited(list.column) : "no heading and no unit",
           "--unit nm, um, mm or m, or a heading such as \"Diameter (um)\"");
  }
  const double scale = convert(1.0, list.unit, "m").value();

  std::string doubtful, doubtful_where;  // first cell such as "1,250"
  bool all_commas = true;                // every number has one: beside a plain 850, "1,250" may part thousands
  bool comma_is_decimal = false;         // some cell that cannot mean thousands
  for (std::size_t i = heading ? 1 : 0; i < lines.size(); ++i) {
    const std::string where = "line " + std::to_string(lines[i].number);
    const auto cells = cells_of(lines[i].text, separator);
    if (cells.size() <= column || (cells.size() != columns && !(cells.size() == columns + 1 && cells.back().empty())))
      fail(where, std::to_string(cells.size()) + " columns", std::to_string(columns) + " as in the first line");
    const std::string& cell = cells[column];
    if (cell.empty()) continue;  // shorter columns beside longer ones
    const std::optional<double> value = number_of(cell, decimal_comma);
    if (!value) fail(where, cited(cell), "a number, e.g. 1.25");
    all_commas = all_commas && cell.find(',') != std::string::npos;
    if (thousands_like(cell)) {
      if (doubtful.empty()) doubtful = cell, doubtful_where = where;
    } else if (cell.find(',') != std::string::npos) {
      comma_is_decimal = true;
    }
    const double metres = *value * scale;
    if (!(metres >= kLeast_m && metres <= kMost_m))
      fail(where, cell + " " + list.unit, "a diameter from 1 nm to 10 mm");
    list.values_m.push_back(metres);
    if (list.values_m.size() > kMostValues) fail(where, "more than a million numbers", "at most a million");
  }
  // A spreadsheet parts columns by semicolons where the comma is the decimal sign.
  const bool sure = known_comma || (separator == ';' && all_commas);
  if (!doubtful.empty() && !comma_is_decimal && !sure)
    fail(doubtful_where, cited(doubtful),
         "1.250 or 1250: this comma may be a decimal one or part thousands; --decimal comma if it is one");
  if (list.values_m.empty()) fail("", "no numbers", "one measured diameter per line");
  return list;
}

DiameterList read_diameter_file(const std::string& path, const DiameterListOptions& options) {
  const std::string text = read_bounded_file(path, kMostBytes, "a text file with measured diameters", Named::by_user);
  DiameterList list = read_diameter_text(text, path, options);
  list.digest = sha256_hex(text);
  return list;
}

}  // namespace whorl::io
