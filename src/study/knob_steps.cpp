#include "study/knob_steps.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"

namespace whorl::study {
namespace {

constexpr int kLooks = 8;  // over the whole reach of a knob, before it is looked at closely

}  // namespace

KnobSteps::KnobSteps(const LoadedCase& loaded, const BenchKnob& knob)
    : loaded_(loaded), key_(*io::find_key(knob.key)), step_(knob.step), from_(*key_.get(loaded.file.input)) {
  const double now = io::to_display(key_, from_);
  constexpr double kHair = 1e-9;
  first_ = step_ * (std::floor(now / step_ + kHair) + 1.0);  // the next whole step
  double furthest = knob.furthest;
  if (knob.times > 0.0)
    furthest = step_ > 0.0 ? std::min(furthest, knob.times * now) : std::max(furthest, knob.times * now);
  count_ = static_cast<int>(std::floor((furthest - first_) / step_ + kHair)) + 1;
}

std::optional<model::Estimate> KnobSteps::estimate(int k, bool in_full) const {
  model::CaseInput input = loaded_.file.input;
  key_.set(input, value(k));
  engine::EstimateOptions options;
  options.run_distribution = false;  // how it lands is that of the first jet
  if (!in_full) input.model.tier = model::Tier::inertial;
  try {
    model::Estimate e = case_runner(loaded_, options)(input);
    if (e.status == model::Status::done) return e;
  } catch (const InputError&) {  // the case allows no such setting
  }
  return {};
}

int KnobSteps::first(const std::function<bool(int)>& will_do) const {
  int not_yet = 0;
  int done = 0;
  for (int look = 1; look <= kLooks && done == 0; ++look) {
    const int k = std::max(1, count_ * look / kLooks);
    if (k == not_yet) continue;
    (will_do(k) ? done : not_yet) = k;
  }
  while (done > not_yet + 1) {
    const int middle = (not_yet + done) / 2;
    (will_do(middle) ? done : not_yet) = middle;
  }
  return done;
}

}  // namespace whorl::study
