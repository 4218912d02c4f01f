// A jet in a stand-in liquid, for tests of the tension tier.
#pragma once
#include <cmath>

#include "whorl/jet/jet_inertial.hpp"
#include "engine/stand_in.hpp"
#include "whorl/jet/tension.hpp"

namespace whorl::testing {

// Exit speed 1 m/s, cross-section 1 mm2.
struct Bench : StandIn {
  Bench(double speed_rad_s, double solvent_viscosity, double polymer_viscosity, double relaxation_time)
      : StandIn(speed_rad_s, 1.0, solvent_viscosity, polymer_viscosity, relaxation_time) {}
  [[nodiscard]] model::Jet start() const {
    jet::JetOptions options;
    options.drying = model::DryingModel::lumped;
    options.keep_profile = true;
    return jet::solve_inertial_jet(context, options);
  }
};

inline double speed_at(const model::Jet& jet, double radius) {
  for (std::size_t i = 1; i < jet.profile.size(); ++i) {
    const auto& a = jet.profile[i - 1];
    const auto& b = jet.profile[i];
    if (b.radius_m < radius) continue;
    const double w = (radius - a.radius_m) / (b.radius_m - a.radius_m);
    return std::exp((1.0 - w) * std::log(a.speed_m_s) + w * std::log(b.speed_m_s));
  }
  return 0.0;
}

}  // namespace whorl::testing
