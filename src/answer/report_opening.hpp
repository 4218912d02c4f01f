// What the first screen of a report says, from values that the report has anyway.
#pragma once
#include "answer/figure_data.hpp"
#include "figures/opening.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

/// `sweep`: the map of the report, with its estimates; nullptr where it has none. The estimate is done.
[[nodiscard]] figures::Opening report_opening(const study::LoadedCase& loaded, const model::Estimate& e,
                                              const SweepData* sweep);

/// The case at the highest gas pressure of its map (kept estimates): what a page warns of is all that it shows.
[[nodiscard]] model::CaseInput at_highest_pressure(const study::LoadedCase& loaded, const SweepData* sweep);

}  // namespace whorl::answer
