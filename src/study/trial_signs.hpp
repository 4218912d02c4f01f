// What trials show besides a mean diameter, and what it tells: which of the two answers holds, how much flows, what
// lands.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "whorl/model/result.hpp"

namespace whorl::study {

/// What was seen on the collector.
enum class Seen { fibre, beads, drops, wet, nothing };

/// Of one trial; each where it is known.
struct TrialSigns {
  std::optional<double> thick_share;    ///< of the fibres, above 5 um
  std::optional<double> gas_flow_m3_s;  ///< all orifices, at 0 degC and 1 atm
  std::optional<double> yield;  ///< of the polymer that left, found as fibre, beads, film or drops on the collector
  std::optional<Seen> seen;
};

/// What the model says of the same trial.
struct ModelSigns {
  double probability_fine{};  ///< of torn threads
  double gas_flow_m3_s{};     ///< while gas goes through; 0: never does
  model::Outcomes threads, line, either;
};

/// ln odds of torn threads against one line from what was seen, beyond the diameter. `model` null: only what needs no
/// physics.
/// Eq: trial-signs
/// Valid: a judgement; -5 to 5 in all
/// Source: own closure (docs/theory/10-calibration.md)
[[nodiscard]] double ln_odds_threads(const TrialSigns& signs, const ModelSigns* model);

/// Factor on the flow through the orifices.
struct FlowFactor {
  double ln_mean{}, ln_sd{};
  std::size_t runs{};
};
/// From timed runs: `ln_ratio` is ln(time that the model needs for the mass that left / time it took). Normal before
/// and after.
/// Eq: trial-flow-factor
/// Source: normal mean with normal prior
[[nodiscard]] FlowFactor learn_flow(const std::vector<double>& ln_ratio);

/// Order of model::Outcomes: even, beaded, drops, wet, none.
using OutcomeShift = std::array<double, 5>;
/// Chances times exp(shift), summing to 1 again; chances of the model are held above 0.02 first, for it may be wrong.
[[nodiscard]] model::Outcomes shifted(const model::Outcomes& chances, const OutcomeShift& shift);

struct ClassTrial {
  model::Outcomes model;
  OutcomeShift seen{};  ///< share of the evidence that each kind got; several kinds with a value: one of them, which is
                        ///< not known
  double weight{1.0};
};
/// Evidence of a trial for the kinds of landing; empty when it saw neither class nor yield.
[[nodiscard]] std::vector<ClassTrial> class_trials(const TrialSigns& signs, const ModelSigns& model);
/// Largest posterior of the shifts, each N(0, 1) beforehand.
/// Eq: trial-classes
/// Source: multinomial logistic regression with an offset; maximum by expectation-maximisation and Newton steps
[[nodiscard]] OutcomeShift learn_classes(const std::vector<ClassTrial>& trials);

}  // namespace whorl::study
