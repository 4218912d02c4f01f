#include "io/table.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <sstream>

#include "io/json_document.hpp"
#include "io/table_text.hpp"
#include "io/unit_text.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {

std::optional<std::size_t> Table::find(std::string_view name) const {
  const auto found = std::find(columns.begin(), columns.end(), name);
  if (found == columns.end()) return {};
  return static_cast<std::size_t>(found - columns.begin());
}

std::size_t Table::column(std::string_view name) const {
  if (const auto found = find(name)) return *found;
  std::vector<std::string_view> known(columns.begin(), columns.end());
  std::string allowed = "one of its columns";
  if (const std::string near = nearest_word(name, known); !near.empty()) allowed += ", perhaps " + near;
  allowed += ": ";
  for (std::size_t i = 0; i < columns.size() && i < 12; ++i) allowed += (i > 0 ? ", " : "") + key_text(columns[i]);
  if (columns.size() > 12) allowed += ", ...";
  throw InputError(file, "", "no column " + in_quotes(name), allowed);
}

std::vector<double> Table::numbers(std::string_view name) const {
  const std::size_t at = column(name);
  std::vector<double> out;
  out.reserve(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    const std::string_view cell = trimmed(rows[r][at]);
    if (cell.empty()) {
      out.push_back(NAN);
      continue;
    }
    if (cell == "true" || cell == "false") {
      out.push_back(cell == "true" ? 1.0 : 0.0);
      continue;
    }
    double value = 0.0;
    const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
    if (error != std::errc() || end != cell.data() + cell.size() || !(std::abs(value) <= kLargestNumber))
      throw InputError(file, std::string(name), in_quotes(cell) + " in row " + std::to_string(r + 1),
                       "a number up to 1e100, or an empty cell");
    out.push_back(std::abs(value) < 1.0 / kLargestNumber ? 0.0 : value);
  }
  return out;
}

std::vector<std::string> Table::texts(std::string_view name) const {
  const std::size_t at = column(name);
  std::vector<std::string> out;
  out.reserve(rows.size());
  for (const auto& row : rows) out.push_back(row[at]);
  return out;
}

Table parse_table(const std::string& text, const std::string& file) {
  std::istringstream in{plain_csv(text)};
  Table table;
  table.file = file;
  if (!read_csv_record(in, table.columns, file) || table.columns.empty() ||
      (table.columns.size() == 1 && trimmed(table.columns[0]).empty()))
    throw InputError(file, "", "an empty file", "a header line and rows");
  if (table.columns.size() > kMostColumns)
    throw InputError(file, "", std::to_string(table.columns.size()) + " columns",
                     "at most " + std::to_string(kMostColumns));
  for (auto& name : table.columns) name = std::string(trimmed(name));
  for (std::size_t i = 0; i < table.columns.size(); ++i)
    if (std::find(table.columns.begin() + static_cast<std::ptrdiff_t>(i) + 1, table.columns.end(), table.columns[i]) !=
        table.columns.end())
      throw InputError(file, "", "two columns " + in_quotes(table.columns[i]), "different names");
  std::vector<std::string> cells;
  while (read_csv_record(in, cells, file)) {
    if (cells.size() == 1 && trimmed(cells[0]).empty()) continue;
    if (cells.size() != table.columns.size())
      throw InputError(
          file, "", "row " + std::to_string(table.rows.size() + 1) + " with " + std::to_string(cells.size()) + " cells",
          std::to_string(table.columns.size()) + " cells, as in the header");
    table.rows.push_back(cells);
  }
  return table;
}

Table read_table(const std::string& path) {
  return parse_table(read_bounded_file(path, kLargestTable, "a CSV file", Named::by_user), path);
}

}  // namespace whorl::io
