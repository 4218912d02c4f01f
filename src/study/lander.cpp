#include "whorl/study/lander.hpp"

#include <algorithm>
#include <array>

#include "study/knob_steps.hpp"

namespace whorl::study {
namespace {

constexpr BenchKnob kNearer{"operation.collection_distance", -5.0, 5.0, 0.0};
// Either way may help: a faster line is thrown further; a slower one may turn less often before it arrives.
constexpr std::array kSpeeds{BenchKnob{"operation.rotation_speed", 500.0, 40000.0, 2.0},
                             BenchKnob{"operation.rotation_speed", -500.0, 500.0, 0.5}};
constexpr int kTries = 3;  // of each knob

bool lands(const KnobSteps& steps, int k) {
  const std::optional<model::Estimate> e = steps.estimate(k, true);
  return e && e->outcomes.none < 0.5 && e->landing != model::Landing::none;
}

}  // namespace

std::vector<WayToLand> ways_to_land(const LoadedCase& loaded, double floats_m) {
  std::vector<WayToLand> ways;
  const KnobSteps nearer(loaded, kNearer);
  int k = 1;
  while (k <= nearer.count() && nearer.value(k) > floats_m) ++k;
  for (const int last = std::min(k + kTries - 1, nearer.count()); k <= last; ++k) {
    if (!lands(nearer, k)) continue;
    ways.push_back({&nearer.key(), nearer.from(), nearer.value(k)});
    break;
  }
  for (const BenchKnob& knob : kSpeeds) {
    const KnobSteps steps(loaded, knob);
    for (int part = 1; part <= kTries && steps.count() > 0; ++part) {
      const int step = std::max(1, steps.count() * part / kTries);
      if (!lands(steps, step)) continue;
      ways.push_back({&steps.key(), steps.from(), steps.value(step)});
      break;
    }
  }
  return ways;
}

}  // namespace whorl::study
