// CSV tables as they come: sweeps, profiles, measured points. Header line, then rows; a cell may be empty.
#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace whorl::io {

struct Table {
  std::string file;                            ///< for messages
  std::vector<std::string> columns;
  std::vector<std::vector<std::string>> rows;  ///< as many cells as columns
  /// Index of a column. Error: InputError naming the file, the column and those there are
  [[nodiscard]] std::size_t column(std::string_view name) const;
  [[nodiscard]] std::optional<std::size_t> find(std::string_view name) const;
  [[nodiscard]] bool has(std::string_view name) const { return find(name).has_value(); }
  /// Numbers of a column; NaN where the cell is empty, 0 for less than 1/kLargestNumber.
  /// Error: InputError naming file, row and cell for text that is no number ("true" and "false" are 1 and 0) or more
  /// than kLargestNumber
  [[nodiscard]] std::vector<double> numbers(std::string_view name) const;
  [[nodiscard]] std::vector<std::string> texts(std::string_view name) const;
};

/// Larger tables are not read into memory.
inline constexpr std::size_t kLargestTable = std::size_t{256} << 20U;  ///< bytes
inline constexpr std::size_t kMostColumns = 2000;
/// No result is larger, in any unit; squares and quotients of such numbers stay finite.
inline constexpr double kLargestNumber = 1e100;

/// Error: InputError when the file cannot be read, is a device, is larger than kLargestTable, is empty, has a row of
/// another length, two columns of one name or more than kMostColumns
[[nodiscard]] Table read_table(const std::string& path);
[[nodiscard]] Table parse_table(const std::string& text, const std::string& file);

}  // namespace whorl::io
