// The columns of profiles, along a jet and along torn threads: CSV files and figures read the stations through these
// tables.
#pragma once
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "whorl/model/result.hpp"

namespace whorl::io {

template <class Station>
struct StationColumn {
  std::string_view column;  ///< "diameter_um"
  std::string_view symbol;
  std::string_view unit;
  double scale;             ///< column value = (SI value - offset) * scale
  double offset;
  std::string_view description;
  double (*get)(const Station&);
};
using ProfileColumn = StationColumn<model::JetStation>;
using ThreadColumn = StationColumn<model::TornThreadStation>;

/// Along a jet. Columns that threads have, too, mean the same there.
[[nodiscard]] std::span<const ProfileColumn> profile_columns();
/// Along torn threads on their flight with the gas.
[[nodiscard]] std::span<const ThreadColumn> thread_columns();

/// Those of `profile_columns()` that `list` names, with commas between, in its order; empty: all.
/// Error: InputError, at `option`, for a name that is none of them or comes twice
[[nodiscard]] std::vector<ProfileColumn> chosen_profile_columns(std::string_view list, const std::string& option);

/// One column of `profile_columns()`, as a table that was written and read again has it: NaN where there is no number,
/// 0 for less than 1/kLargestNumber.
/// Error: std::invalid_argument where there is no such column
[[nodiscard]] std::vector<double> profile_numbers(const std::vector<model::JetStation>& profile,
                                                  std::string_view column);

/// The whole profile as CSV text with a header line.
[[nodiscard]] std::string profile_csv(const std::vector<model::JetStation>& profile);
[[nodiscard]] std::string profile_csv(const std::vector<model::JetStation>& profile,
                                      std::span<const ProfileColumn> columns);
[[nodiscard]] std::string profile_csv(const std::vector<model::TornThreadStation>& profile);

}  // namespace whorl::io
