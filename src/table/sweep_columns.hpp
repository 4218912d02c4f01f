// Which columns a sweep has: all of them, or the few that one reads.
#pragma once
#include <string>
#include <vector>

#include "whorl/io/outputs.hpp"

namespace whorl::table {

enum class SweepColumns { all, few };

/// "all" or "short".
/// Error: InputError.
[[nodiscard]] SweepColumns parse_sweep_columns(const std::string& text);

/// The results of a table in the order of its columns.
[[nodiscard]] const std::vector<const io::Output*>& sweep_outputs(SweepColumns columns);

}  // namespace whorl::table
