// One straight piece of a thread between two nodes, followed with the fluid in the laboratory: what it carries, how that
// changes, and the forces it puts on its ends. No assumption on the path; tension is a vector along the piece.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>

#include "whorl/model/air.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/rheology.hpp"
#include "whorl/model/solution.hpp"

namespace whorl::reference {

/// Unknowns of one element.
struct ThreadState {
  enum Index : std::size_t {
    kSolvent,      ///< X
    kTemperature,  ///< [K]
    kPull,         ///< ln(f c_ss)
    kWaist,        ///< ln c_rr
    kSize
  };
};

/// Where the element sits in the thread.
enum class ThreadPiece {
  closed,  ///< the same fluid all the time
  fed,     ///< between the orifice and the newest node: fluid enters at speed U along the thread
  taken    ///< between the last free node and a take-up: fluid leaves at the given speed
};

/// What an element needs to know besides positions, velocities and unknowns.
struct ThreadSetting {
  const model::JetContext* jet{};
  model::PolymerLaw law;
  double solid_viscosity_Pa_s{};    ///< of the solid: large enough to be inextensible, small enough to compute with
  double element_polymer_kg{};      ///< of a full element
};

/// Kelvins over which a composition turns solid. Narrow, because the solid is some 1e8 times stiffer than the liquid.
inline constexpr double kSolidWidth_K = 0.1;

/// Newtonian part of the resistance to stretching: the solvent, and the solid below its solidification line.
///   eta = eta_s + eta_solid exp(-max(margin, 0)/0.1 K)
/// Eq: solid-viscosity
/// Valid: numerical closure; the draw after solidification is below 0.1 %
/// Source: own closure
template <class Real>
[[nodiscard]] Real stretching_viscosity(const ThreadSetting& setting, const Real& phi, const Real& temperature) {
  using std::exp;
  const model::Fluid& fluid = *setting.jet->fluid;
  Real eta = solvent_viscosity(fluid, temperature);
  const Real margin = solid_margin(fluid, phi, temperature);
  if (margin < 40.0 * kSolidWidth_K) {
    Real share(1.0);
    if (margin > 0.0) share = exp(-1.0 * margin / kSolidWidth_K);
    eta = eta + setting.solid_viscosity_Pa_s * share;
  }
  return eta;
}

struct ThreadInput {
  ThreadPiece piece{ThreadPiece::closed};
  double polymer_kg{};              ///< in the element now
  double polymer_inflow_kg_s{};     ///< fed only
  double end_speed_m_s{};           ///< fed: U; taken: take-up speed
  double length_beyond_m{};         ///< taken: length of the element's fluid already past the take-up
};

/// Result of one element. `stored` changes at the rate `gain` and nothing else changes it:
///   [0] solvent [kg], [1] heat over the charge temperature [J], [2], [3] chain stretch without the affine part
template <class Real>
struct ThreadElement {
  Real length, area, diameter, stretching_rate;
  Real force;           ///< F [N]
  Real surface_force;   ///< pi a sigma [N]
  std::array<Real, 3> direction;
  std::array<Real, 3> drag;  ///< of the air on the whole element [N]
  std::array<Real, ThreadState::kSize> stored, gain;
  Real evaporation_kg_s;
};

/// Element between xa and xb with velocities va and vb (fed: va is the velocity of the orifice itself).
///   l = |xb - xa|, A = m_p (1 + X)/(rho l), e = (dl/dt)/l, fed: e = (dl/dt - U)/l
///   F = pi a sigma + A G (f c_ss - f c_rr) + 3 eta A e
///   d(m_p X)/dt = -pi d l n,   d(m_p (c_p + X c_s)(T - T_0))/dt = pi d l (q - n (L + c_s (T - T_0)))
///   d(ln c_ss - 2 ln l)/dt, d(ln c_rr + ln l)/dt: relaxation only; fed: mean over what has entered, weighted by mass
/// Eq: thread-element
/// Valid: l much longer than d for the surface part; any direction, stretched or compressed
/// Source: balances of mass, momentum and heat of a slender piece; own discretisation
template <class Real>
[[nodiscard]] ThreadElement<Real> thread_element(const ThreadSetting& setting, const ThreadInput& input,
                                                 const std::array<Real, 3>& xa, const std::array<Real, 3>& va,
                                                 const std::array<Real, 3>& xb, const std::array<Real, 3>& vb,
                                                 const std::array<Real, ThreadState::kSize>& z) {
  using S = ThreadState;
  using std::log;
  using std::sqrt;
  const model::JetContext& jet = *setting.jet;
  const model::Fluid& fluid = *jet.fluid;
  const model::Air& air = *jet.air;
  ThreadElement<Real> out;

  const Real dx = xb[0] - xa[0];
  const Real dy = xb[1] - xa[1];
  const Real dz = xb[2] - xa[2];
  out.length = sqrt(dx * dx + dy * dy + dz * dz);
  const Real per_length = 1.0 / out.length;
  out.direction = {dx * per_length, dy * per_length, dz * per_length};
  const auto& t = out.direction;
  const Real opening = (vb[0] - va[0]) * t[0] + (vb[1] - va[1]) * t[1] + (vb[2] - va[2]) * t[2];  // dl/dt
  if (input.piece == ThreadPiece::fed) {
    out.stretching_rate = (opening - input.end_speed_m_s) * per_length;
  } else if (input.piece == ThreadPiece::taken) {
    out.stretching_rate = (opening + input.end_speed_m_s) * per_length;
  } else {
    out.stretching_rate = opening * per_length;
  }

  const Real ratio = z[S::kSolvent];
  const Real temperature = z[S::kTemperature];
  const Real volume = input.polymer_kg * (1.0 + ratio) / mixture_density(fluid, ratio);
  out.area = input.length_beyond_m > 0.0 ? Real(volume / (out.length + input.length_beyond_m)) : Real(volume * per_length);
  out.diameter = sqrt(out.area * (4.0 / model::kPi));

  // model::Air relative to the middle of the element: the fluid at a fed or taken end moves along the thread past that end.
  std::array<Real, 3> wind;
  const Real mx = 0.5 * (xa[0] + xb[0]);
  const Real my = 0.5 * (xa[1] + xb[1]);
  Real turning(0.0);
  if (air.swirl_speed_rad_s > 0.0) {
    turning = air.swirl_speed_rad_s * air.vessel_radius_m * air.vessel_radius_m / (mx * mx + my * my);
  }
  wind[0] = -1.0 * turning * my - 0.5 * (va[0] + vb[0]);
  wind[1] = turning * mx - 0.5 * (va[1] + vb[1]);
  wind[2] = -0.5 * (va[2] + vb[2]);
  if (input.piece != ThreadPiece::closed) {
    for (std::size_t k = 0; k < 3; ++k) wind[k] = wind[k] - 0.5 * input.end_speed_m_s * t[k];
  }
  const Real along = wind[0] * t[0] + wind[1] * t[1] + wind[2] * t[2];
  std::array<Real, 3> normal;
  for (std::size_t k = 0; k < 3; ++k) normal[k] = wind[k] - along * t[k];
  const Real across2 = normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2] + 1e-10;
  const Real across = sqrt(across2);
  const Real wind2 = along * along + across2;
  const model::DragResistance<Real> resistance = drag_resistance(air, out.diameter, along, across);
  for (std::size_t k = 0; k < 3; ++k) {
    out.drag[k] = out.length * (resistance.along * along * t[k] + resistance.across * normal[k]);
  }

  const Real phi = polymer_volume_fraction(fluid, ratio);
  const model::SurfaceExchange<Real> exchange =
      surface_exchange(air, fluid, out.diameter, Real(sqrt(wind2)), Real(across2 / wind2), temperature, phi);
  const Real surface = model::kPi * out.diameter * out.length;
  out.evaporation_kg_s = surface * exchange.evaporation_kg_m2_s;
  const Real excess = temperature - fluid.charge_temperature_K;
  out.stored[S::kSolvent] = input.polymer_kg * ratio;
  out.gain[S::kSolvent] = input.polymer_inflow_kg_s * fluid.initial.solvent_ratio - out.evaporation_kg_s;
  out.stored[S::kTemperature] =
      input.polymer_kg * (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity) * excess;
  out.gain[S::kTemperature] =
      surface * exchange.heat_W_m2 -
      out.evaporation_kg_s * (latent_heat(fluid, temperature) + fluid.solvent_heat_capacity * excess);

  const Real eta_p = polymer_viscosity(fluid, phi, temperature);
  const Real lambda = relaxation_time(fluid, phi, temperature, eta_p);
  const model::Chains<Real> chain = chains(setting.law, z[S::kPull], z[S::kWaist]);
  if (input.piece == ThreadPiece::closed) {
    const Real log_length = log(out.length);
    out.stored[S::kPull] = chain.log_along - 2.0 * log_length;
    out.stored[S::kWaist] = z[S::kWaist] + log_length;
    out.gain[S::kPull] = chain.relax_along / lambda;
    out.gain[S::kWaist] = chain.relax_across / lambda;
  } else {
    // relaxed chains enter (logarithm 0); those that leave are like the mean
    const double share = input.piece == ThreadPiece::fed ? input.polymer_kg / setting.element_polymer_kg : 1.0;
    out.stored[S::kPull] = share * chain.log_along;
    out.stored[S::kWaist] = share * z[S::kWaist];
    out.gain[S::kPull] = share * (2.0 * out.stretching_rate + chain.relax_along / lambda);
    out.gain[S::kWaist] = share * (chain.relax_across / lambda - out.stretching_rate);
  }
  out.surface_force = (0.5 * model::kPi) * out.diameter * surface_tension(fluid, temperature);
  out.force = out.surface_force + out.area * ((eta_p / lambda) * chain.stretch +
                                              3.0 * stretching_viscosity(setting, phi, temperature) * out.stretching_rate);
  return out;
}

}  // namespace whorl::reference
