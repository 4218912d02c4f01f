// What flows at one place of the jet: everything that composition and temperature decide.
#pragma once
#include "whorl/model/solution.hpp"

namespace whorl::model {

/// The liquid at a place.
struct Liquid {
  double polymer_volume_fraction{};   ///< phi
  double polymer_viscosity_Pa_s{};    ///< eta_p, what the polymer adds at rest
  double solvent_viscosity_Pa_s{};    ///< eta_s
  double relaxation_s{};              ///< lambda
  double surface_tension_N_m{};       ///< sigma
  [[nodiscard]] double viscosity_Pa_s() const { return solvent_viscosity_Pa_s + polymer_viscosity_Pa_s; }
  [[nodiscard]] double modulus_Pa() const { return polymer_viscosity_Pa_s / relaxation_s; }
};

/// The liquid of `solvent_ratio` kg of solvent per kg of polymer at this temperature [K].
/// Source: the closures of solution.hpp, each with its own
[[nodiscard]] inline Liquid liquid_at(const Fluid& fluid, double solvent_ratio, double temperature_K) {
  Liquid out;
  out.polymer_volume_fraction = polymer_volume_fraction(fluid, solvent_ratio);
  out.polymer_viscosity_Pa_s = polymer_viscosity(fluid, out.polymer_volume_fraction, temperature_K);
  out.solvent_viscosity_Pa_s = solvent_viscosity(fluid, temperature_K);
  out.relaxation_s = relaxation_time(fluid, out.polymer_volume_fraction, temperature_K, out.polymer_viscosity_Pa_s);
  out.surface_tension_N_m = surface_tension(fluid, temperature_K);
  return out;
}

}  // namespace whorl::model
