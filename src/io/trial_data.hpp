// Trials with measured diameters: a CSV table, one row per trial.
#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "whorl/io/diameters.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::io {

struct TrialRow {
  std::string name;                                     ///< "row 3" or the label
  std::vector<std::pair<const Key*, double>> settings;  ///< SI; keys that have a column
  std::vector<double> covariates;                       ///< in the unit of their column
  double mean_m{};                                      ///< mean diameter; 0: not measured, a setting to predict
  double sd_m{};                                        ///< of single measurements; 0: not stated
  double count{};                                       ///< of measurements; 0: not stated
  std::string batch, seen;                              ///< as written; empty: not stated
  std::optional<double> mass_kg, seconds;               ///< of a timed run
  std::optional<double> thick_share;                    ///< of the fibres, above 5 um
  std::optional<double> gas_flow_m3_s;                  ///< at 0 degC and 1 atm
  std::optional<double> yield;                          ///< share of the polymer found on the collector
};

/// A column that the model does not know.
struct Covariate {
  std::string heading;
  const Key* key{};  ///< whose published exponent it takes; null: none
};

struct TrialData {
  std::string name;              ///< file
  std::vector<const Key*> keys;  ///< settings that have a column
  std::vector<Covariate> covariates;
  std::vector<TrialRow> rows;
  std::string digest;  ///< SHA-256 of the file
};

/// Columns: settings by the column names of a sweep ("rotation_speed_rpm") or as "Rotation speed (rpm)"; what has no
/// column is as in the case. Diameters: "diameter_mean_um" with "diameter_sd_um" and "diameter_count" where known, or
/// "diameter_list", a file with single measurements beside the table; a row without diameter is a setting to predict.
/// "label" names a row; "batch", "seen", "mass_out_g", "run_time_s", "gas_flow_L_min", "yield_percent" and
/// "thick_share_percent" where known. Commas, semicolons or tabs part the cells; with the latter two a comma in a
/// number is a decimal comma. `physics`: see understood_heading.
/// Valid: 1 to 10,000 rows
/// Error: InputError with file, row and column, what was found and what is allowed; also for a list that cannot be read
[[nodiscard]] TrialData read_trial_text(const std::string& text, const std::string& name,
                                        const std::string& folder = "", bool physics = true);
[[nodiscard]] TrialData read_trial_file(const std::string& path, bool physics = true);

}  // namespace whorl::io
