// One case of a batch.
#pragma once
#include "whorl/engine/batch.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// What a batch runs for a case from a file: limits checked, then the estimate. `loaded` must outlive it.
[[nodiscard]] engine::CaseRunner case_runner(const LoadedCase& loaded, const engine::EstimateOptions& options);

}  // namespace whorl::study
