// What the report page says, section by section.
#pragma once
#include "answer/estimate_statement.hpp"
#include "answer/figure_data.hpp"
#include "figures/report_page.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

[[nodiscard]] figures::PageSection result_section(const EstimateStatement& said);
[[nodiscard]] figures::PageSection warning_section(const EstimateStatement& said);
[[nodiscard]] figures::PageSection doubt_section(const EstimateStatement& said);
[[nodiscard]] figures::PageSection input_section(const study::LoadedCase& loaded, const EstimateStatement& said);
[[nodiscard]] figures::PageSection number_section(const EstimateStatement& said);
[[nodiscard]] figures::PageSection figure_section(const study::LoadedCase& loaded, const model::Estimate& e,
                                                  const EstimateStatement& said);
/// The map that answers: every cell of `sweep` is a point that can be picked.
[[nodiscard]] figures::PageSection explorer_section(const study::LoadedCase& loaded, const model::Estimate& own,
                                                    const SweepData& sweep);
/// What `explain` says of this case, and of a tenth more speed (at rest or at the limit: a tenth more pressure).
/// `solved`: its whole estimate, as of study::point_of; `threads` 0: all.
[[nodiscard]] figures::PageSection explanation_section(const study::LoadedCase& loaded, const model::Estimate& solved,
                                                       int threads, engine::RunCount* run_count);

}  // namespace whorl::answer
