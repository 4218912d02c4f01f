// Trials with measured diameters: a CSV table, one row per trial.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "io/diameters.hpp"
#include "io/keys.hpp"

namespace whorl::io {

struct TrialRow {
  std::string name;                                   ///< "row 3" or the label
  std::vector<std::pair<const Key*, double>> settings;  ///< SI; keys that have a column
  double mean_m{};                                    ///< mean diameter
  double sd_m{};                                      ///< of single measurements; 0: not stated
  double count{};                                     ///< of measurements; 0: not stated
};

struct TrialData {
  std::string name;                  ///< file
  std::vector<const Key*> keys;      ///< settings that have a column
  std::vector<TrialRow> rows;
  std::string digest;                ///< SHA-256 of the file
};

/// Columns: settings by the column names of a sweep ("rotation_speed_rpm") or as "rotation_speed (rpm)"; what has no column is as in the
/// case. Diameters: "diameter_mean_um" with "diameter_sd_um" and "diameter_count" where known, or "diameter_list", a file with single
/// measurements beside the table. "label" names a row.
/// Valid: 1 to 10,000 rows
/// Error: InputError with file, row and column, what was found and what is allowed; also for a list that cannot be read
[[nodiscard]] TrialData read_trial_text(const std::string& text, const std::string& name, const std::string& folder = "");
[[nodiscard]] TrialData read_trial_file(const std::string& path);

}  // namespace whorl::io
