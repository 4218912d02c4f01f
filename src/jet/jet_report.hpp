// From the stations of a marched jet to what a Jet reports: stress history, capillary gain, drying and landing.
#pragma once
#include <array>
#include <vector>

#include "whorl/jet/jet_inertial.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/result.hpp"

namespace whorl::jet {

struct JetSample {
  double time_s{};
  std::array<double, model::JetState::kSize> state{};
  double angle_rad{};      ///< about the axis of the vessel, in the laboratory, counted on from the first sample
  double surface_ratio{};  ///< X at the surface
  bool solid{};
  // tension tier: stress and pull as solved; else both are what the path would have generated
  bool stressed{};
  double chain_stress_Pa{}, strain_rate_1_s{}, tension_N{};
};

/// Fills everything of `jet` that follows from the samples (first = exit, last = end). Stress is what the path would
/// have generated in the liquid (Oldroyd-B chains with FENE stiffening), used as the check that leaving tension out
/// of the march was fair.
/// Eq: neglected-tension
/// Valid: a check while far below 1; beyond, the path would not be what it is. Chains see the mean rate between samples
/// Source: slender thread, F = A (tau_ss - tau_rr) + pi a sigma
void report_jet(const model::JetContext& context, const JetOptions& options, const std::vector<JetSample>& samples,
                model::Jet& jet);

}  // namespace whorl::jet
