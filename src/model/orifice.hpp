// Flow through one orifice: generalised-Newtonian tube flow, entrance and kinetic losses, jetting threshold.
#pragma once
#include <variant>

#include "whorl/model/constants.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/vessel.hpp"

namespace whorl::model {

struct Newtonian {
  double viscosity_Pa_s{};
};
/// tau = K rate^n
struct PowerLaw {
  double consistency_Pa_sn{};
  double index{};
};
/// eta = eta_inf + (eta_0 - eta_inf) [1 + (lambda rate)^a]^((n-1)/a). Carreau: a = 2; Cross: a = 1 - n.
struct CarreauYasuda {
  double zero_shear_Pa_s{};
  double infinite_shear_Pa_s{};
  double time_constant_s{};
  double yasuda{};
  double index{};
};
using FlowCurve = std::variant<Newtonian, PowerLaw, CarreauYasuda>;

/// Viscosity of the flow curve at a shear rate [Pa s].
/// Eq: flow-curve
/// Valid: rate > 0
/// Source: Carreau-Yasuda: Yasuda, Armstrong & Cohen, Rheol. Acta 20 (1981) 163 (from memory)
[[nodiscard]] double shear_viscosity_Pa_s(const FlowCurve& curve, double shear_rate_1_s);

/// 8 U / d of fully developed laminar tube flow with this wall shear rate [1/s] (Weissenberg-Rabinowitsch).
///   8U/d = (4/3) [ rate_w - integral_0^rate_w (tau/tau_w)^3 d rate ]
/// Eq: weissenberg-rabinowitsch
/// Valid: any monotone flow curve; quadrature error below 1e-9 relative for n >= 0.3, 1e-6 for n >= 0.1 (tested)
/// Source: Rabinowitsch, Z. Phys. Chem. A 145 (1929) 1; integrated by parts here
[[nodiscard]] double apparent_shear_rate_1_s(const FlowCurve& curve, double wall_shear_rate_1_s);

/// Extra pressure drop of the developing laminar profile in units of rho U^2 / 2; x_plus = L/(d Re).
/// Includes the acceleration from a flat to the developed profile; tends to 1.25.
/// Eq: developing-flow
/// Valid: laminar, circular; within 2.4 % of the numerical solutions (as stated by its author)
/// Source: Shah, J. Fluids Eng. 100 (1978) 177, from memory
[[nodiscard]] double developing_flow_loss(double x_plus);

/// Bagley end correction of a creeping entry: Delta p = 2 e tau_w.
/// Half of Sampson's 3 mu Q / a^3 (one side only) is e = 3 pi / 16.
/// Eq: entrance-loss
/// Valid: inelastic liquid; elastic solutions lose more (measure with two lengths)
/// Source: Sampson (1891); Dagan, Weinbaum & Pfeffer, J. Fluid Mech. 115 (1982) 505 (from memory); halving is ours
inline constexpr double kBagleyEnd = 3.0 * kPi / 16.0;

struct OrificeLosses {
  double mean_speed_m_s{};
  double viscous_Pa{};
  double entrance_Pa{};
  double kinetic_Pa{};
  double reynolds{};
  double wall_stress_Pa{};
  bool turbulent{};
  [[nodiscard]] double total_Pa() const noexcept { return viscous_Pa + entrance_Pa + kinetic_Pa; }
};

/// All losses for a wall shear rate; monotone in it, so the driving pressure fixes the flow by one root.
/// Eq: orifice-losses
/// Valid: laminar and Blasius friction joined by an eighth-power mean; they cross at Metzner-Reed Re of about 1190, so
///        friction is 9 % above laminar there and 54 % at 2100, where a quiet tube may still be laminar; flagged
///        `turbulent` above 2100
/// Source: Blasius f = 0.0791 Re^-1/4 (any handbook); sharp-entry loss 0.5 blended in with Re is our own closure
[[nodiscard]] OrificeLosses orifice_losses(const Vessel& vessel, const FlowCurve& curve, double density_kg_m3,
                                           double wall_shear_rate_1_s);

/// Driving pressure of one orifice and its parts [Pa]; fills the driving half of OrificeFlow.
///   Delta p = p_g + rho Omega^2 (R^2 - r_f^2)/2 + rho g h - 4 sigma / d_o
/// Eq: driving-pressure
/// Valid: orifice wet
[[nodiscard]] OrificeFlow driving_pressure(const Vessel& vessel, double speed_rad_s, double overpressure_Pa,
                                           double density_kg_m3, double surface_tension_N_m,
                                           const ChargeState& charge);

/// Critical Weber number rho U^2 d / sigma between dripping and jetting, with Omega^2 R for g.
///   We_c = 4 [1 + K Bo^2 - ((1 + K Bo^2)^2 - 1)^(1/2)]^2, Bo = [rho g' d^2/(2 sigma)]^(1/2), K = 0.37
/// Eq: jetting-weber
/// Valid: inviscid limit; equal inner and outer diameter (flush orifice). Viscous liquids jet earlier.
/// Source: Clanet & Lasheras, J. Fluid Mech. 383 (1999) 307 (formula from memory); g' = Omega^2 R is our use
[[nodiscard]] double critical_weber(double density_kg_m3, double surface_tension_N_m, double diameter_m,
                                    double acceleration_m_s2);

}  // namespace whorl::model
