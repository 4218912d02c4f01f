// Headings of a table of trials as laboratories write them: "Speed (rpm)", "gas_overpressure_MPa", "Mean diameter
// [nm]".
#pragma once
#include <string>

#include "whorl/io/keys.hpp"

namespace whorl::io {

enum class TrialColumn {
  setting,    ///< a key of the case file
  covariate,  ///< a number that the model does not know
  mean,
  sd,
  count,
  list,
  label,
  batch,        ///< lot, day: trials of one share a shift
  seen,         ///< "fibre", "beads", "drops", "nothing arrived"
  mass,         ///< that left in a timed run
  seconds,      ///< of the timed run
  thick_share,  ///< of the fibres, above 5 um
  gas_flow,     ///< of the gas, at 0 degC and 1 atm
  yield,        ///< share of the polymer that was found on the collector
  ignored       ///< notes
};

struct TrialHeading {
  TrialColumn meaning{};
  const Key* key{};             ///< of a setting; of a covariate the key whose published exponent it takes, or null
  double scale{1.0}, offset{};  ///< SI = scale x + offset
};

/// `physics`: settings must be in a unit of their key; else a column may be in any unit, and one that nobody knows is a
/// plain covariate.
/// Error: InputError for a wrong unit, a diameter without one, and a name that is nearly one the program knows
[[nodiscard]] TrialHeading understood_heading(const std::string& heading, const std::string& file, bool physics);

}  // namespace whorl::io
