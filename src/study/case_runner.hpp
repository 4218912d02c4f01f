// One case of a batch.
#pragma once
#include "engine/batch.hpp"
#include "engine/estimate.hpp"
#include "study/loaded_case.hpp"

namespace whorl::study {

/// What a batch runs for a case from a file: limits checked, then the estimate. `loaded` must outlive it.
[[nodiscard]] engine::CaseRunner case_runner(const LoadedCase& loaded, const engine::EstimateOptions& options);

}  // namespace whorl::study
