#include "whorl/study/drier.hpp"

#include <algorithm>
#include <array>
#include <optional>

#include "study/knob_steps.hpp"

namespace whorl::study {
namespace {

using model::Landing;

// Own choice of what a bench is built in, and can do.
constexpr std::array kDryingKnobs{BenchKnob{"operation.collection_distance", 10.0, 1000.0, 4.0},
                                  BenchKnob{"room.relative_humidity", -5.0, 10.0, 0.0},
                                  BenchKnob{"room.temperature", 1.0, 35.0, 0.0},
                                  BenchKnob{"vessel.orifice_diameter", -0.02, 0.1, 1.0 / 3.0}};
constexpr int kFullTries = 3;  // steps that are run as the case says

bool lands_solid(Landing landing) { return landing == Landing::dry || landing == Landing::firm; }

/// How the likelier answer lands there; none where film, drops or nothing is likelier than fibre, or it is not known.
Landing landing(const KnobSteps& steps, int k, bool in_full) {
  const std::optional<model::Estimate> e = steps.estimate(k, in_full);
  if (!e) return Landing::none;
  const model::Outcomes& o = e->outcomes;
  return std::max({o.wet, o.drops, o.none}) < 0.5 ? e->landing : Landing::none;
}

}  // namespace

bool WayToDry::dries() const noexcept { return lands_solid(landing); }

std::vector<WayToDry> ways_to_dry(const LoadedCase& loaded, std::size_t most) {
  std::vector<WayToDry> ways;
  std::size_t found = 0;
  for (const BenchKnob& knob : kDryingKnobs) {
    const KnobSteps steps(loaded, knob);
    if (steps.key().path == "room.relative_humidity" && loaded.file.input.solution.solvent != "water") continue;
    if (steps.count() < 1) continue;
    WayToDry way{&steps.key(), steps.from(), steps.value(steps.count()), Landing::none};
    const int first = steps.first([&](int k) { return lands_solid(landing(steps, k, false)); });
    for (int k = first; first > 0 && k < first + kFullTries && k <= steps.count() && !way.dries(); ++k)
      if (const Landing there = landing(steps, k, true); lands_solid(there))
        way = {&steps.key(), steps.from(), steps.value(k), there};
    ways.push_back(way);
    if (way.dries()) ++found;
    if (found == most) break;
  }
  return ways;
}

}  // namespace whorl::study
