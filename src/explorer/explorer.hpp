// What the explorer's page asks of the model: JSON in, JSON out. The text that goes in is a case file as the command line reads it,
// so page and command line cannot part ways over defaults, limits or units.
#pragma once
#include <string>
#include <string_view>

namespace whorl::explorer {

/// How much of an estimate is computed; the page asks for the least while a slider moves.
struct Extent {
  bool whole_run{};  ///< jets over the emptying run and in other air, as `whorl estimate` does
  bool profile{};    ///< stations along the first jet
};

/// Keys (unit, limits, value in this case), outputs and profile columns of a case.
/// Never throws: bad input comes back as {"error": {"key", "found", "allowed", "text"}}.
[[nodiscard]] std::string describe(std::string_view case_text, const std::string& name);

/// The estimate: status, class, results by column name as in `whorl estimate --json`, warnings, notes, cautions, profile.
/// Never throws, as describe().
[[nodiscard]] std::string estimate(std::string_view case_text, const std::string& name, const Extent& extent);

}  // namespace whorl::explorer
