// Equations of the steady jet with tension, in the frame of the vessel: the regularised string. The pull acts along the
// jet only; radius is the independent variable, so that the collector is a fixed end of the domain.
#pragma once
#include <cmath>
#include <cstddef>

#include "model/air.hpp"
#include "model/jet.hpp"
#include "model/rheology.hpp"
#include "model/solution.hpp"

namespace whorl::model {

/// Unknowns at one radius. Neither the wrap angle nor the height matters to the others: they follow afterwards.
struct TensionState {
  enum Index : std::size_t {
    kRadial,       ///< v_r [m/s]
    kSpin,         ///< h = r (v_phi + Omega r), angular momentum in the laboratory [m2/s]
    kRise,         ///< v_z [m/s]
    kSolvent,      ///< X
    kTemperature,  ///< [K]
    kPull,         ///< ln(f c_ss)
    kWaist,        ///< ln c_rr
    kForce,        ///< F [N]
    kSize
  };
};

/// What the equations need besides the state.
struct TensionSetting {
  const JetContext* jet{};
  PolymerLaw law;
  double stress_share{1.0};         ///< 1; below: a weaker jet, a step of the continuation
  double solid_viscosity_Pa_s{};    ///< of the solid: large enough to be inextensible, small enough to compute with
};

/// Local quantities of one station. Rates are per radius: d()/dr = d()/dt / v_r.
template <class Real>
struct TensionNode {
  Real speed, log_speed;
  Real radial_energy;            ///< K = (v_r^2 + (h/r)^2)/2
  Real log_along, log_across;    ///< chain stretch without the affine part: ln c_ss - 2 ln u, ln c_rr + ln u
  Real push_radial, push_spin, push_rise;  ///< what one newton of dF adds to K, h, v_z
  Real spin_over_r2;
  Real rate_radial, rate_spin, rate_rise, rate_solvent, rate_temperature, rate_along, rate_across;
  Real viscous_force;            ///< F - surface part - elastic part = 3 eta A du/ds
  Real viscous_resistance;       ///< 3 eta A [N s]
  Real arc_rate;                 ///< ds/dr = u/v_r
  Real momentum_flux;            ///< m u [N]
  Real elastic_force, surface_force, area, drag_along_N_m;
  double relaxation_time{}, drag_rate_1_s{};
};

/// Kelvins over which a composition turns solid in the equations. Narrow, because the solid is 1e8 times stiffer than
/// the liquid: at 1 K a charge 6 K above its solidification line was frozen from the orifice on (PCL in chloroform:
/// line speed 8.7 m/s; 131 at 0.3 K, 138 at 0.1 K, 137 at 0.1 K by an independent discretisation).
inline constexpr double kSolidWidth_K = 0.1;

/// Viscous part of the extensional resistance: solvent, and the solid below its solidification line.
///   eta = eta_s + eta_solid exp(-max(margin, 0)/0.1 K)
/// Eq: solid-viscosity
/// Valid: numerical closure; the draw after solidification is below 0.1 %
/// Source: own closure
template <class Real>
[[nodiscard]] Real stretching_viscosity(const TensionSetting& setting, const Real& phi, const Real& temperature) {
  using std::exp;
  const Fluid& fluid = *setting.jet->fluid;
  Real eta = setting.stress_share * solvent_viscosity(fluid, temperature);
  const Real margin = solid_margin(fluid, phi, temperature);
  if (margin < 40.0 * kSolidWidth_K) {
    Real share(1.0);
    if (margin > 0.0) share = exp(-1.0 * margin / kSolidWidth_K);
    eta = eta + setting.solid_viscosity_Pa_s * share;
  }
  return eta;
}

/// Local equations of the regularised string, with h = r (v_phi + Omega r), K = (v_r^2 + h^2/r^2)/2, m = m_p (1 + X):
///   dK/dr = f_r + (h/r^2) dh/dr + (t_r v_r/m) dF/dr
///   dh/dr = r f_phi / v_r + (r t_phi/m) dF/dr
///   dv_z/dr = (f_z - g)/v_r + (t_z/m) dF/dr
///   F = pi a sigma + A G (f c_ss - f c_rr) + 3 eta A du/ds
/// f: air drag per mass. Without air and tension K, h and v_z are constant: straight flight in the laboratory, exactly.
/// Eq: tension-jet
/// Valid: v_r > 0 everywhere (the jet moves outward)
/// Source: pull kept in the balance along the jet only: Taghavi & Larson, Phys. Rev. E 89 (2014) 023011; the choice of
///         radius as variable and of K and h as the quantities carried is our own
template <class Real>
[[nodiscard]] TensionNode<Real> tension_node(const TensionSetting& setting, double radius, double surface_share,
                                             const Real* y) {
  using S = TensionState;
  using std::log;
  using std::sqrt;
  const JetContext& jet = *setting.jet;
  const Fluid& fluid = *jet.fluid;
  const Air& air = *jet.air;
  TensionNode<Real> out;
  const Real vr = y[S::kRadial];
  const Real spin = y[S::kSpin];
  const Real vz = y[S::kRise];
  const Real ratio = y[S::kSolvent];
  const Real temperature = y[S::kTemperature];
  const double omega = jet.speed_rad_s;

  const Real lab_swirl = spin / radius;
  const Real vp = lab_swirl - omega * radius;
  out.speed = sqrt(vr * vr + vp * vp + vz * vz);
  out.log_speed = log(out.speed);
  const Real tr = vr / out.speed;
  const Real tp = vp / out.speed;
  const Real tz = vz / out.speed;
  out.radial_energy = 0.5 * (vr * vr + lab_swirl * lab_swirl);
  out.spin_over_r2 = lab_swirl / radius;

  const Real flow = jet.polymer_flow_kg_s * (1.0 + ratio);
  const Real linear_mass = flow / out.speed;
  const Real density = mixture_density(fluid, ratio);
  out.area = linear_mass / density;
  const Real diameter = sqrt(out.area * (4.0 / kPi));
  out.momentum_flux = flow * out.speed;

  double turning = -omega;
  if (air.swirl_speed_rad_s > 0.0) {
    turning += air.swirl_speed_rad_s * air.vessel_radius_m * air.vessel_radius_m / (radius * radius);
  }
  const Real wr = -vr;
  const Real wp = turning * radius - vp;
  const Real wz = -vz;
  const Real along = wr * tr + wp * tp + wz * tz;
  const Real nr = wr - along * tr;
  const Real np = wp - along * tp;
  const Real nz = wz - along * tz;
  const Real across2 = nr * nr + np * np + nz * nz + 1e-10;  // keeps the root smooth in air along the jet
  const Real across = sqrt(across2);
  const Real wind2 = along * along + across2;
  const DragResistance<Real> drag = drag_resistance(air, diameter, along, across);
  out.drag_along_N_m = drag.along * along;
  const Real per_t = out.drag_along_N_m / linear_mass;
  const Real per_n = drag.across / linear_mass;
  const Real fr = per_t * tr + per_n * nr;
  const Real fp = per_t * tp + per_n * np;
  const Real fz = per_t * tz + per_n * nz;
  const Real inverse_vr = 1.0 / vr;
  out.rate_radial = fr;
  out.rate_spin = radius * fp * inverse_vr;
  out.rate_rise = (fz - jet.gravity_m_s2) * inverse_vr;
  out.push_radial = tr * vr / flow;
  out.push_spin = radius * tp / flow;
  out.push_rise = tz / flow;
  out.arc_rate = out.speed * inverse_vr;

  const Real surface_phi = polymer_volume_fraction(fluid, Real(surface_share * ratio));
  const SurfaceExchange<Real> exchange =
      surface_exchange(air, fluid, diameter, Real(sqrt(wind2)), Real(across2 / wind2), temperature, surface_phi);
  const Real perimeter = kPi * diameter * out.speed / jet.polymer_flow_kg_s * inverse_vr;
  out.rate_solvent = -1.0 * perimeter * exchange.evaporation_kg_m2_s;
  out.rate_temperature = perimeter *
                         (exchange.heat_W_m2 - exchange.evaporation_kg_m2_s * latent_heat(fluid, temperature)) /
                         (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity);

  const Real phi = polymer_volume_fraction(fluid, ratio);
  const Real eta_p = polymer_viscosity(fluid, phi, temperature);
  const Real lambda = relaxation_time(fluid, phi, temperature, eta_p);
  const Chains<Real> chain = chains(setting.law, y[S::kPull], y[S::kWaist]);
  out.log_along = chain.log_along - 2.0 * out.log_speed;
  out.log_across = y[S::kWaist] + out.log_speed;
  const Real per_lambda = inverse_vr / lambda;
  out.rate_along = chain.relax_along * per_lambda;
  out.rate_across = chain.relax_across * per_lambda;
  out.elastic_force = setting.stress_share * out.area * (eta_p / lambda) * chain.stretch;
  out.surface_force = (0.5 * kPi * setting.stress_share) * diameter * surface_tension(fluid, temperature);
  out.viscous_force = y[S::kForce] - out.elastic_force - out.surface_force;
  out.viscous_resistance = 3.0 * out.area * stretching_viscosity(setting, phi, temperature);
  if constexpr (requires { lambda.value; }) {
    out.relaxation_time = lambda.value;
    out.drag_rate_1_s = per_n.value;
  } else {
    out.relaxation_time = lambda;
    out.drag_rate_1_s = per_n;
  }
  return out;
}

}  // namespace whorl::model
