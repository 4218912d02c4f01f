// Which columns a sweep has: all of them, the few that one reads, or what the two answers are.
#pragma once
#include <string>
#include <vector>

#include "whorl/io/outputs.hpp"

namespace whorl::table {

enum class SweepColumns {
  all,
  few,
  answers  ///< nothing that the lines over the run decide, so that nobody has to follow them; so no warnings, either
};

/// "all", "short" or "answers".
/// Error: InputError.
[[nodiscard]] SweepColumns parse_sweep_columns(const std::string& text);
[[nodiscard]] std::string to_string(SweepColumns columns);

/// The results of a table in the order of its columns.
[[nodiscard]] const std::vector<const io::Output*>& sweep_outputs(SweepColumns columns);

}  // namespace whorl::table
