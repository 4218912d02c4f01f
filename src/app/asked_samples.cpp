#include "app/asked_samples.hpp"

#include "whorl/model/error.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::app {

std::optional<engine::SamplePlan> asked_samples(const UncertaintyArguments& arguments) {
  if (arguments.samples) return study::sample_plan(*arguments.samples, arguments.seed, arguments.all_in_full);
  if (arguments.all_in_full) throw InputError("", "--all-in-full", "no samples asked for", "--uncertainty N with it");
  return {};
}

}  // namespace whorl::app
