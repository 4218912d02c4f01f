// Equations of one steady jet, followed along with the fluid (inertial tier: no tension).
// The state is kept in laboratory axes (x radially out through the orifice at the moment of release, y along the
// rotation, z up): there a parcel without air flies straight, and in air it slows down without being whirled round at
// the speed of the vessel. The jet seen by the turning vessel is the same positions turned back by Omega t.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>
#include <span>

#include "whorl/model/air.hpp"
#include "whorl/model/gas.hpp"
#include "whorl/model/radial.hpp"
#include "whorl/model/solution.hpp"

namespace whorl::model {

/// What a jet needs to know besides its own state.
struct JetContext {
  const Fluid* fluid{};
  const Air* air{};
  double speed_rad_s{};            ///< Omega
  double polymer_flow_kg_s{};      ///< m_p of this jet, constant along it
  double exit_speed_m_s{};         ///< U
  double outer_radius_m{};         ///< R
  double collector_radius_m{};     ///< R_c
  double gravity_m_s2{kStandardGravity_m_s2};
  GasPlume gas;                    ///< gas that leaves the same orifice; default none
};

/// Azimuths, in the axes of a state, of the orifice now and of the orifice when the parcel left it. Matters only where
/// gas blows.
struct JetAxes {
  double orifice{};
  double release{};
};
/// Axes of the parcel's release, `turned` = Omega times its age; and axes that turn with the vessel.
[[nodiscard]] constexpr JetAxes axes_of_release(double turned) { return {turned, 0.0}; }
[[nodiscard]] constexpr JetAxes axes_of_vessel(double turned) { return {0.0, -turned}; }

/// Positions in the state vector. Followed with the fluid: time is the independent variable, ds = u dt.
struct JetState {
  enum Index : std::size_t {
    kX,            ///< laboratory position [m]
    kY,            ///< [m]
    kZ,            ///< [m]
    kVx,           ///< laboratory velocity [m/s]
    kVy,           ///< [m/s]
    kVz,           ///< [m/s]
    kSolvent,      ///< X, kg solvent per kg polymer, mean over the cross-section
    kTemperature,  ///< [K]
    kArc,          ///< s [m]
    kDragWork,     ///< work of the air along the jet [J/kg]
    kSize,
    // only when balances are audited
    kTorque = kSize,  ///< moment of the forces about the axis over time [m2/s]
    kWork,        ///< work of the forces in the laboratory [J/kg]
    kHeatGained,  ///< [J per kg polymer]
    kEvaporated,  ///< kg per kg polymer
    kAuditSize
  };
};

/// A place of the jet, in the axes of a state.
struct JetPlace {
  double x{}, y{}, z{};     ///< [m]
  double vx{}, vy{}, vz{};  ///< velocity in the laboratory [m/s]
  double tx{}, ty{}, tz{};  ///< direction of the jet, of length 1
  double speed{};           ///< u, along it, relative to the vessel [m/s]
  double solvent_ratio{};   ///< X, mean over the cross-section
  double temperature{};     ///< [K]
};
[[nodiscard]] JetPlace jet_place(const JetContext& context, const double* state);

/// Everything local to one station; the state rates and the reports both come from it.
struct JetLocal {
  double speed_m_s{};                          ///< u, along the jet relative to the vessel
  double diameter_m{}, density_kg_m3{}, linear_mass_kg_m{};
  double surface_phi{};
  double wind_along_m_s{}, wind_across_m_s{};
  double gas_speed_m_s{};                      ///< part of the air's speed that comes from the gas of the orifice
  std::array<double, 3> drag_acceleration{};   ///< [m/s2]
  std::array<double, 3> acceleration{};        ///< of the parcel, laboratory axes [m/s2]
  double drag_along_m_s2{};
  double strain_rate_1_s{};                    ///< du/ds
  SurfaceExchange<double> exchange;
  double latent_heat_J_kg{};                   ///< of the solvent, at the temperature of the jet
  double solvent_rate_1_s{};                   ///< dX/dt
  double temperature_rate_K_s{};
};

/// Velocity of the air at a point where liquid of velocity `liquid` passes, in the laboratory: swirl round the vessel
/// plus the gas of the orifice, slowed by the momentum that this liquid has taken from it.
/// Eq: air-velocity
/// Valid: as gas-wind; exact for still air
struct AirVelocity {
  double x{}, y{}, z{};
  double gas_m_s{};  ///< speed of the part that is gas of the orifice
};
[[nodiscard]] AirVelocity air_velocity(const JetContext& context, const std::array<double, 3>& position,
                                       const std::array<double, 3>& liquid, double liquid_flow_kg_s, JetAxes axes);

/// Local forces, exchange and rates. `surface_ratio` is X at the surface (the mean when drying is lumped).
///   dV/dt = g + f_air/(rho A),  u t = V - Omega e_z x r,  du/dt = t.(g + f_air/(rho A)) + Omega^2 r t_r
/// which in the turning frame is d(u t)/dt = Omega^2 r e_r - 2 Omega e_z x (u t) + g + f_air/(rho A).
///   dX/dt = -pi d n u / m_p,   (c_p + X c_s) dT/dt = pi d (q - n L) u / m_p
/// `solid`: the fibre is inextensible, so the part of the acceleration along it is carried by tension.
/// Eq: inertial-jet
/// Valid: tension negligible against momentum flux (reported as tension_ratio)
/// Source: momentum of a slender curved jet in a turning frame; steady: time along a material element
[[nodiscard]] JetLocal jet_local(const JetContext& context, const JetPlace& place, double surface_ratio, bool solid,
                                 JetAxes axes = {});
[[nodiscard]] JetLocal jet_local(const JetContext& context, const double* state, double surface_ratio, bool solid,
                                 JetAxes axes = {});

/// Of the same, what needs no forces: mass, wind, exchange and the rates of drying.
[[nodiscard]] JetLocal jet_drying(const JetContext& context, const JetPlace& place, double surface_ratio,
                                  JetAxes axes = {});

/// Of the same, what needs neither forces nor exchange: speed, mass, diameter and the wind.
[[nodiscard]] JetLocal jet_in_wind(const JetContext& context, const double* state, JetAxes axes = {});

/// Rates of the state vector (kSize entries, or kAuditSize when `audit`).
void jet_rates(const JetContext& context, const JetLocal& local, const double* state, bool audit, double* rates);

/// Starting state at the orifice exit.
[[nodiscard]] std::array<double, JetState::kAuditSize> jet_start(const JetContext& context);

/// Polymer cross-section of the dry fibre at line speed u [m2].
/// Eq: dry-diameter
/// Valid: additive volumes, no pores: a porous fibre is thicker
/// Source: conservation of polymer
[[nodiscard]] double dry_area_m2(const JetContext& context, double speed_m_s);

inline constexpr double kFlappingWeber = 2.0;      ///< see excess_draw
inline constexpr double kMostFlappingDraw = 10.0;  ///< see excess_draw

/// Length of line laid per length of mean path: the constant of a calibration times what flapping in the air adds,
///   E = E_0 [1 + 9 tanh(c (We_a - 2)/9)] for We_a > 2, else E_0;   We_a = max rho_a w^2 d/sigma over the liquid jet
/// Eq: excess-draw
/// Valid: a closure with one free parameter c (0: off). We_a = 2 is where the pressure of the air, rho_a w^2, exceeds
///        sigma/a: there a thin jet in lengthwise wind starts to bend; here w is the whole relative wind. Viscosity
///        slows the growth and is left out. Flapping adds at most a factor 10
/// Source: form: own closure; threshold: Entov & Yarin, J. Fluid Mech. 140 (1984) 91 (from memory)
[[nodiscard]] double excess_draw(double constant, double flapping, double air_weber);

/// Dry diameter of a line laid at the speed of the collector as the vessel sees it, sqrt(4 Q phi_p / (pi Omega R_c))
/// [m]; 0 without rotation. A reference and, in spite of its name, no bound: a jet that lands faster is finer.
/// Eq: kinematic-bound
/// Valid: no loss of polymer, no splitting, no extra draw, collector at rest
/// Source: mass balance
[[nodiscard]] double kinematic_bound_m(double polymer_volume_flow_m3_s, double speed_rad_s,
                                       double collector_radius_m);

/// Line speed without tension and air: u^2 = U^2 + Omega^2 (r^2 - R^2) [m/s].
/// Eq: free-flight-speed
/// Valid: exact limit
[[nodiscard]] double free_flight_speed(double exit_speed_m_s, double speed_rad_s, double outer_radius_m,
                                       double radius_m);

}  // namespace whorl::model
