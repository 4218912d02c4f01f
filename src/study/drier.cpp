#include "whorl/study/drier.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"

namespace whorl::study {
namespace {

using model::Landing;

// Steps and limits in the unit that the key is shown in: own choice of what a bench is built in, and can do.
struct DryingKnob {
  const char* key;
  double step;      // to drier
  double furthest;  // no further than this, and
  double times;     // no further than this times the setting of the case; 0: no such limit
  bool water_only;
};
constexpr std::array kDryingKnobs{DryingKnob{"operation.collection_distance", 10.0, 1000.0, 4.0, false},
                                  DryingKnob{"room.relative_humidity", -5.0, 10.0, 0.0, true},
                                  DryingKnob{"room.temperature", 1.0, 35.0, 0.0, false},
                                  DryingKnob{"vessel.orifice_diameter", -0.02, 0.1, 1.0 / 3.0, false}};
constexpr int kLooks = 8;      // over the whole reach of a knob, before it is looked at closely
constexpr int kFullTries = 3;  // steps that are run as the case says

bool lands_solid(Landing landing) { return landing == Landing::dry || landing == Landing::firm; }

// The steps of one knob: 0 is the case.
class KnobSteps {
 public:
  KnobSteps(const LoadedCase& loaded, const DryingKnob& knob)
      : loaded_(loaded), key_(*io::find_key(knob.key)), step_(knob.step), from_(*key_.get(loaded.file.input)) {
    const double now = io::to_display(key_, from_);
    constexpr double kHair = 1e-9;
    first_ = step_ * (std::floor(now / step_ + kHair) + 1.0);  // the next whole step
    double furthest = knob.furthest;
    if (knob.times > 0.0)
      furthest = step_ > 0.0 ? std::min(furthest, knob.times * now) : std::max(furthest, knob.times * now);
    count_ = static_cast<int>(std::floor((furthest - first_) / step_ + kHair)) + 1;
  }

  [[nodiscard]] int count() const noexcept { return count_; }
  [[nodiscard]] const io::Key& key() const noexcept { return key_; }
  [[nodiscard]] double from() const noexcept { return from_; }
  [[nodiscard]] double value(int k) const { return io::from_display(key_, first_ + step_ * (k - 1)); }

  /// How the likelier answer lands there; none where film, drops or nothing is likelier than fibre, or it is not known.
  [[nodiscard]] Landing landing(int k, bool in_full) const {
    model::CaseInput input = loaded_.file.input;
    key_.set(input, value(k));
    engine::EstimateOptions options;
    if (!in_full) {
      input.model.tier = model::Tier::inertial;
      options.run_distribution = false;
    }
    try {
      const model::Estimate e = case_runner(loaded_, options)(input);
      if (e.status != model::Status::done) return Landing::none;
      const model::Outcomes& o = e.outcomes;
      return std::max({o.wet, o.drops, o.none}) < 0.5 ? e.landing : Landing::none;
    } catch (const InputError&) {  // the case allows no such setting
      return Landing::none;
    }
  }

 private:
  const LoadedCase& loaded_;
  const io::Key& key_;
  double step_, from_, first_{};
  int count_{};
};

// The first step that lands dry or firm without tension; 0 where none does.
int first_dry(const KnobSteps& steps) {
  int wet = 0;
  int dry = 0;
  for (int look = 1; look <= kLooks && dry == 0; ++look) {
    const int k = std::max(1, steps.count() * look / kLooks);
    if (k == wet) continue;
    (lands_solid(steps.landing(k, false)) ? dry : wet) = k;
  }
  while (dry > wet + 1) {
    const int middle = (wet + dry) / 2;
    (lands_solid(steps.landing(middle, false)) ? dry : wet) = middle;
  }
  return dry;
}

}  // namespace

bool WayToDry::dries() const noexcept { return lands_solid(landing); }

std::vector<WayToDry> ways_to_dry(const LoadedCase& loaded, std::size_t most) {
  std::vector<WayToDry> ways;
  std::size_t found = 0;
  for (const DryingKnob& knob : kDryingKnobs) {
    if (knob.water_only && loaded.file.input.solution.solvent != "water") continue;
    const KnobSteps steps(loaded, knob);
    if (steps.count() < 1) continue;
    WayToDry way{&steps.key(), steps.from(), steps.value(steps.count()), Landing::none};
    const int first = first_dry(steps);
    for (int k = first; first > 0 && k < first + kFullTries && k <= steps.count() && !way.dries(); ++k)
      if (const Landing landing = steps.landing(k, true); lands_solid(landing))
        way = {&steps.key(), steps.from(), steps.value(k), landing};
    ways.push_back(way);
    if (way.dries()) ++found;
    if (found == most) break;
  }
  return ways;
}

}  // namespace whorl::study
