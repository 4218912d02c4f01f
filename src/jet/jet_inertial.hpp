// The inertial tier: one jet marched along its path without tension (Boost.Odeint), for screening and as the start of
// the tension tier.
#pragma once
#include "whorl/model/case.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/result.hpp"

namespace whorl::jet {

struct JetOptions {
  model::DryingModel drying{model::DryingModel::radial};
  double relative_tolerance{1e-6};
  int radial_cells{16};
  double max_turns{20.0};
  bool keep_profile{false};
  bool audit{false};          ///< integrate the balances alongside (about a third slower)
  bool freeze_when_solid{true};
  /// Of the report, what a moment of the run is asked for: how the jet ends, whether it is fibre, and the Weber number
  /// of the air. The march is that of a whole report.
  bool brief{false};
  /// Of the report, the dry diameter and the Weber number of the air alone. Ends where the draw freezes, for what a solid
  /// does on its way changes neither. Half of the work or less.
  bool only_diameter{false};
};

/// Solid: dry to this mean solvent mass fraction counts as dried in "drying distance".
/// Source: own definition, reported with the result
inline constexpr double kDrySolventFraction = 0.05;

/// Marches the jet to the collector, or to where it stalls.
/// Error: Jet::status not_converged with reason; never throws, never NaN
[[nodiscard]] model::Jet solve_inertial_jet(const model::JetContext& context, const JetOptions& options);

}  // namespace whorl::jet
