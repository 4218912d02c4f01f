#include "whorl/study/window_runner.hpp"

#include <cmath>
#include <utility>

#include "whorl/study/case_runner.hpp"

namespace whorl::study {
namespace {

// Torn, with threads that no line can undercut: none is laid faster than the collector passes, and half the diameter is
// four times that speed.
bool surely_torn(const model::Estimate& e) {
  constexpr double kSurely = 0.5;
  return e.status == model::Status::done && e.torn && e.threads.dry_diameter_m > 0.0 &&
         e.threads.dry_diameter_m * std::sqrt(e.excess_draw) < kSurely * e.kinematic_bound_m;
}

engine::EstimateOptions first_jet() {
  engine::EstimateOptions options;
  options.run_distribution = false;
  return options;
}

}  // namespace

engine::CaseRunner window_runner(const LoadedCase& loaded) {
  engine::EstimateOptions options = first_jet();
  options.closeness = engine::Closeness::map_point;
  return [&loaded, run = case_runner(loaded, options)](const model::CaseInput& input) {
    const model::ModelInput& m = input.model;
    const bool stands_in = m.on_tension_failure == model::OnTensionFailure::inertial;
    if (m.tier == model::Tier::tension && stands_in && !loaded.trials) {
      model::CaseInput quick = input;
      quick.model.tier = model::Tier::inertial;
      quick.model.drying = model::DryingModel::lumped;
      model::Estimate e = run(quick);
      if (surely_torn(e)) {
        e.as_line.diameter_m = 0.0;
        return e;
      }
    }
    return run(input);
  };
}

engine::CaseRunner told_runner(const LoadedCase& loaded) { return case_runner(loaded, first_jet()); }

bool samples_without_tension(const LoadedCase& loaded) {
  return !loaded.file.tier_stated && loaded.file.input.model.tier == model::Tier::tension;
}

engine::CaseRunner window_sample_runner(const LoadedCase& loaded) {
  engine::CaseRunner run = case_runner(loaded, first_jet());
  if (!samples_without_tension(loaded)) return run;
  return [run = std::move(run)](model::CaseInput input) {
    input.model.tier = model::Tier::inertial;
    return run(input);
  };
}

}  // namespace whorl::study
