// Gas that leaves an orifice together with the liquid: when, how much, how fast, and the wind it makes along the jet.
#pragma once
#include <array>

#include "whorl/model/air.hpp"
#include "whorl/model/vessel.hpp"

namespace whorl::model {

inline constexpr double kGasHeatRatio = 1.4;  ///< gamma of air and nitrogen, 200 to 400 K within 0.5 % (from memory)

/// Temperature ratio T/T_0 and pressure ratio p/p_0 of isentropic flow at a Mach number.
///   T_0/T = 1 + (gamma - 1)/2 M^2,  p_0/p = (T_0/T)^(gamma/(gamma-1))
/// Eq: isentropic-flow
/// Valid: calorically perfect gas, no friction, no heat
/// Source: any gas dynamics text; held to the table for gamma = 1.4 of NACA Report 1135 (1953)
[[nodiscard]] double isentropic_temperature_ratio(double mach);
[[nodiscard]] double isentropic_pressure_ratio(double mach);

/// p_0/p at which the exit of a converging nozzle is sonic: ((gamma + 1)/2)^(gamma/(gamma-1)) = 1.893.
/// Eq: choked-ratio
/// Source: any gas dynamics text
[[nodiscard]] double critical_pressure_ratio();

/// Gas at the exit of an orifice, and after it has expanded to the pressure of the room.
struct GasExit {
  double pressure_ratio{1.0};  ///< p_0 / p of the room
  bool choked{};
  // in the exit plane
  double mach{};
  double pressure_Pa{}, temperature_K{}, density_kg_m3{}, speed_m_s{};
  double mass_flux_kg_m2_s{};
  // expanded to the pressure of the room
  double jet_mach{}, jet_temperature_K{}, jet_speed_m_s{};
  double jet_area_ratio{1.0};  ///< of the expanded jet to the orifice; 1 unless choked
};

/// Isentropic flow from the head space to the room. Choked: M = 1 in the exit plane and the rest of the expansion
/// outside, where the fully expanded jet carries the same mass: A_j/A = rho* u* / (rho_j u_j).
/// Eq: gas-exit
/// Valid: short orifice, no friction: an upper bound of speed and flow. Full expansion exceeds the thrust of the sonic
///        exit by 5 % at a pressure ratio of 7, less below (tested); shocks are left out
/// Error: no overpressure gives zero speed and flow
/// Source: any gas dynamics text; fully expanded jet as in Tam & Tanna, J. Sound Vib. 81 (1982) 337 (from memory)
[[nodiscard]] GasExit gas_exit(double overpressure_Pa, const Air& air);

/// Share of the full flow that an annulus of liquid round a gas core of area share `share` carries at the same pressure
/// gradient: 1 - 4 s + 3 s^2 - 2 s^2 ln s.
/// Eq: annular-flow
/// Valid: laminar, Newtonian, no shear of the gas on the film; 0 <= share <= 1, falls from 1 to 0
/// Source: film flow in a tube (any transport text, e.g. Bird, Stewart & Lightfoot, annulus with a free inner surface)
[[nodiscard]] double annular_flow_ratio(double share);

/// Share of the orifice's area that the gas takes when the liquid flow is this share of the full one: inverse of the
/// above.
/// Eq: gas-share
/// Valid: 0 <= flow_ratio <= 1 (held to it); shear-thinning liquids and thin ones are treated alike
/// Source: own closure (a concentric core; nothing is known of the true shape)
[[nodiscard]] double gas_area_share(double flow_ratio);

/// Liquid flow over the flow that fills the orifice, once gas is drawn in: (h/h_c)^(5/2), 1 above h_c.
/// The layer delivers what it can deliver without gas: eq. gas-breakthrough solved for the flow.
/// Eq: liquid-share
/// Valid: as gas-breakthrough. Where h_c is its floor of one orifice radius the same power is used (own closure)
/// Source: own closure on Lubin & Springer, J. Fluid Mech. 29 (1967) 385
[[nodiscard]] double liquid_flow_ratio(double layer_m, double critical_layer_m);

/// The same with a power between 5/2 (inviscid) and 4 (viscous drainage, layer-drainage solved for the flow).
/// `viscous_share`: 0 inviscid, 1 drained; h_d^4/(h_i^4 + h_d^4) where both act.
/// Eq: liquid-share
/// Valid: as gas-layer
/// Source: own closure
[[nodiscard]] double drained_flow_ratio(double layer_m, double critical_layer_m, double viscous_share);

inline constexpr double kJetDecay = 5.9;  ///< B of the round free jet

/// Speed on the axis of a round free jet over that at its exit: [1 + (x/(B d))^4]^(-1/4), far out B d/x.
/// Eq: free-jet-decay
/// Valid: x from 0; potential core of B d = 5.9 diameters (a supersonic one is longer: left out); Reynolds number above
///        1e4 or so, below about 5000 jets decay faster
/// Source: B = 5.9, half-width 0.102 x: Hussein, Capp & George, J. Fluid Mech. 258 (1994) 31, in Pope, Turbulent Flows
///         (2000) ch. 5 (from memory); the joint of core and far field is our own
[[nodiscard]] double free_jet_speed_ratio(double distance_over_diameter);

/// Half-width (speed half of that on the axis) over the diameter: sqrt(ln 2/2) / speed ratio, so that a Gaussian
/// profile carries the momentum of the exit at every distance; far out 0.0998 x.
/// Eq: free-jet-width
/// Valid: as free-jet-decay
/// Source: momentum; measured 0.094 to 0.102 (as free-jet-decay)
[[nodiscard]] double free_jet_half_width_ratio(double distance_over_diameter);

/// Mean gas jet of one orifice, as the turning vessel sees it. Default: no gas.
struct GasPlume {
  double flow_kg_s{};        ///< gas through this orifice; 0: none
  double speed_m_s{};        ///< V: excess over the room air, at the exit
  double diameter_m{};       ///< of a jet of room air with the same mass and momentum: sqrt(4 m_g/(pi rho_a V))
  double cosine{1.0}, sine{};  ///< direction of V at the orifice: radial, tangential
  double lag_rad_s{};        ///< Omega less the rate at which the air turns at the wall
  double exit_radius_m{};    ///< R
  double count{1.0};         ///< N: orifices that blow alike, evenly spaced
  [[nodiscard]] bool blows() const noexcept { return flow_kg_s > 0.0; }
};

/// Plume of `share` of an orifice's area. Gas leaves with the wall, so V = (u_j, (1 - swirl) Omega R).
/// Eq: gas-plume
/// Valid: u_j above Omega R; all orifices blow alike
/// Source: own closure
[[nodiscard]] GasPlume make_gas_plume(const GasExit& exit, const Air& air, const Vessel& vessel, double speed_rad_s,
                                      double share);

/// Wind that the plumes add to the room air at a point [m/s], before the liquid slows it, in the axes of the point.
struct GasWind {
  double x{}, y{};
};

/// Gas parcels fly straight in the laboratory and slow down as they take up still air, so a plume trails behind its
///   orifice: r^2 = (R + xi cos a)^2 + (xi sin a)^2,  tau = (xi + xi^2/(B d))/V,  angle = atan2(xi sin a, R + xi cos a)
///   - lag tau own plume:  V q(xi/d) 2^(-(n^2 + z^2)/b^2) along (cos, sin)(a - lag tau)
/// n: distance across the plume's axis at the same radius. tau: mass grows as 1 + 0.339 xi/d. Farther out the N plumes
/// lie over each other; then their momentum, N m_g V, is spread evenly round the vessel:
///   sheet:      V [N pi d^2/4 / (2 pi r b (pi/(2 ln 2))^(1/2))]^(1/2) 2^(-z^2/b^2), turned from the radius as the
///   parcels are wind = (1 - c) own + c sheet,  c = k^2/(1 + k^2),  k = 2 b (1 + slope^2)^(1/2) N/(2 pi r)
/// Eq: gas-wind
/// Valid: an own plume is held to the trajectory of a jet in a cross wind (Pratte & Baines 1967) within 32 % from 0.2
///        to 1.5 in x/(r d) (tested); farther out it flies too far, by 50 % at 3. No walls: collector and room do not
///        turn the gas back
/// Source: own closure; entrainment 0.32 xi/d: Ricou & Spalding, J. Fluid Mech. 11 (1961) 21 (from memory)
[[nodiscard]] GasWind gas_wind(const GasPlume& plume, double x_m, double y_m, double z_m, double orifice_angle);

/// What is left of the wind when the liquid has taken this much momentum flux from the plume: 1 - taken/brought, in [0,
/// 1]. So the liquid never takes more momentum along the plume than the gas brought.
/// Eq: gas-loading
/// Valid: steady; all of the liquid's gain of laboratory speed along the plume counts as taken from the gas
/// Source: own closure (momentum balance of the plume)
[[nodiscard]] double gas_wind_left(const GasPlume& plume, double liquid_flow_kg_s, double liquid_gain_m_s);

}  // namespace whorl::model
