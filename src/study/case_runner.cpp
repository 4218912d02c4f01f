#include "whorl/study/case_runner.hpp"

#include "whorl/io/case_file.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {

engine::CaseRunner case_runner(const LoadedCase& loaded, const engine::EstimateOptions& options) {
  return [&loaded, options](const model::CaseInput& input) {
    io::validate(input, loaded.file.name);
    return calibrated_estimate(loaded, input, options);
  };
}

}  // namespace whorl::study
