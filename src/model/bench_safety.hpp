// Arithmetic of what can injure: vapour in the room, gas under pressure, a rotor. Numbers to hold against stated
// limits; being below a limit is no proof of safety.
#pragma once
#include <span>
#include <string_view>

#include "whorl/model/constants.hpp"

namespace whorl::model {

// --- vapour
// ------------------------------------------------------------------------------------------------------------

/// Mass concentration of a vapour that takes a share of the volume: c = y M p/(R T) [kg/m3].
/// At 25 degC and 101.325 kPa: mg/m3 = ppm M/24.45.
/// Eq: vapour-mass-concentration
/// Valid: ideal gas. Vapours of carboxylic acids are largely dimer: up to twice the mass
/// Source: ideal gas law; 24.45 L/mol is the figure of ACGIH's booklet, read in a page of CCOHS on converting limits
[[nodiscard]] double vapour_concentration_kg_m3(double volume_fraction, double molar_mass_kg_mol, double temperature_K,
                                                double pressure_Pa);
/// Inverse of the above.
/// Eq: vapour-mass-concentration
[[nodiscard]] double vapour_volume_fraction(double concentration_kg_m3, double molar_mass_kg_mol, double temperature_K,
                                            double pressure_Pa);

/// A well-mixed room. Its air is renewed at n/K: K = 1 when the fresh air mixes at once, more when it does not.
struct Room {
  double volume_m3{};
  double air_changes_1_s{};  ///< n, fresh air only; 0: none
  double mixing_factor{1.0};  ///< K
  double background_kg_m3{};  ///< what the fresh air brings
  [[nodiscard]] double removal_1_s() const noexcept { return air_changes_1_s / mixing_factor; }
};

/// Equal releases at equal intervals, the first at time 0.
struct Releases {
  double mass_kg{};      ///< of each
  double duration_s{};   ///< of each, at a constant rate; > 0
  double interval_s{};   ///< from start to start
  int count{1};
};

/// Concentration in the room at a time [kg/m3]: V dC/dt = G - (n/K) V (C - C_b). While one release lasts
///   C = G/((n/K) V) (1 - e^(-n t/K)), and after it C decays by e^(-n t/K); releases add up.
/// Eq: well-mixed-room
/// Valid: one well-mixed volume: near the vessel, and where heavy vapour collects, far more than that
/// Source: room purge and dilution ventilation, any hygiene text; K as in CDC, MMWR 43 RR-13 (1994) table S3-1 (read)
[[nodiscard]] double room_concentration_kg_m3(const Room& room, const Releases& releases, double time_s);

/// Concentration that equal releases settle at, on average: C_b + m K/(T n V) [kg/m3]; infinite without fresh air.
/// Eq: room-steady
/// Valid: as well-mixed-room, for ever
/// Source: as well-mixed-room
[[nodiscard]] double room_steady_kg_m3(const Room& room, const Releases& releases);

/// Highest concentration: at the end of the last release [kg/m3].
/// Eq: room-peak
/// Valid: as well-mixed-room
/// Source: as well-mixed-room
[[nodiscard]] double room_peak_kg_m3(const Room& room, const Releases& releases);

/// Mean from `from_s` over `window_s` [kg/m3], exact.
/// Eq: room-mean
/// Valid: as well-mixed-room; before time 0 the room holds the background
/// Source: integral of well-mixed-room
[[nodiscard]] double room_mean_kg_m3(const Room& room, const Releases& releases, double from_s, double window_s);

/// Highest mean over any window of this length [kg/m3], exact: between two events (a start or an end of a release at
/// either edge of the window) the change of the mean has one sign change at most, which is bisected.
/// Eq: room-mean
[[nodiscard]] double room_worst_mean_kg_m3(const Room& room, const Releases& releases, double window_s);

/// Time after which a share of the vapour is left when no more is released: t = K ln(1/share)/n [s]; infinite without
/// fresh air.
/// Eq: room-purge
/// Valid: as well-mixed-room
/// Source: CDC, MMWR 43 RR-13 (1994) table S3-1 (read)
[[nodiscard]] double room_purge_time_s(const Room& room, double share_left);

/// Fresh air that dilutes a mass to a limit: K m/(c - C_b) [m3]; infinite when the background reaches the limit.
/// Eq: dilution-air
/// Valid: on average over many releases; peaks are higher
/// Source: dilution ventilation, Q = K G/C, any hygiene text
[[nodiscard]] double dilution_air_m3(double mass_kg, double limit_kg_m3, double mixing_factor,
                                     double background_kg_m3 = 0.0);

// --- gas
// ---------------------------------------------------------------------------------------------------------------

/// Energy of a gas volume under pressure when it expands to the room [J].
///   isothermal   p V ln(p/p_0), all the work at constant temperature
///   isentropic   p V/(gamma - 1) [1 - (p_0/p)^((gamma-1)/gamma)]                            (Baker)
///   brode        (p - p_0) V/(gamma - 1): the heat that brought the gas from p_0 to p, the usual upper bound
/// Eq: stored-gas-energy
/// Valid: ideal gas, constant gamma; gas in the vessel only, not in the supply line or a cylinder behind it
/// Error: 0 without overpressure
/// Source: Brode, J. Appl. Phys. 26 (1955) 766; Baker et al., Explosion Hazards and Evaluation (1983) (both from
///         memory); gamma = 1.4 gives ASME PCC-2 appendix 501-II, 2.5 p V [1 - (p_0/p)^0.286] (read in a page on
///         pneumatic tests)
struct GasEnergy {
  double isothermal_J{}, isentropic_J{}, brode_J{};
};
[[nodiscard]] GasEnergy stored_gas_energy(double volume_m3, double overpressure_Pa, double room_pressure_Pa,
                                          double heat_ratio = 1.4);

/// Height from which 1 kg falls with this energy: E/g [m], for comparison.
/// Eq: fall-height
/// Source: definition
[[nodiscard]] double fall_height_m(double energy_J);

// --- rotor
// -------------------------------------------------------------------------------------------------------------

/// A vessel wall as a turning ring of constant thickness.
struct RotorRing {
  double inner_radius_m{}, outer_radius_m{}, height_m{};
  double density_kg_m3{};
  double poisson_ratio{};
  double speed_rad_s{};
};

/// Hoop stress of a thin ring: rho v^2, v the rim speed [Pa].
/// Eq: thin-ring-stress
/// Valid: wall much thinner than the radius; no floor, no lid, no holes
/// Source: equilibrium of a ring, any text
[[nodiscard]] double thin_ring_stress_Pa(const RotorRing& ring);

/// Hoop stress of a turning ring at radius r, plane stress [Pa]:
///   sigma = (3+nu)/8 rho omega^2 [a^2 + b^2 + a^2 b^2/r^2 - (1+3nu)/(3+nu) r^2],  a, b: inner and outer radius
/// Largest at the bore: (3+nu)/4 rho omega^2 [b^2 + (1-nu)/(3+nu) a^2].
/// Eq: thick-ring-stress
/// Valid: elastic, constant thickness, free edges; floor, lid and hub change it
/// Source: Timoshenko & Goodier, Theory of Elasticity, rotating disks (from memory); tested against equilibrium of the
/// half ring
[[nodiscard]] double thick_ring_stress_Pa(const RotorRing& ring, double radius_m);

/// Hoop stress at the bore from pressure inside: p (a^2 + b^2)/(b^2 - a^2) [Pa]. Thin wall: p a/t.
/// Eq: bore-pressure-stress
/// Valid: elastic, far from floor and lid
/// Source: Lame; any text on strength of materials
[[nodiscard]] double bore_pressure_stress_Pa(const RotorRing& ring, double overpressure_Pa);

inline constexpr double kHoleConcentration = 3.0;  ///< Kirsch (1898): small hole in a sheet under tension (from memory)

/// Speed at which the stress of the turning ring alone at the bore times a factor equals a strength [rad/s].
/// Eq: ring-speed-limit
/// Valid: as thick-ring-stress
/// Source: thick-ring-stress solved for the speed
[[nodiscard]] double ring_speed_at_rad_s(const RotorRing& ring, double strength_Pa);

/// Mass [kg] and kinetic energy per mass [J/kg] of a turning ring: omega^2 (a^2 + b^2)/4.
/// Eq: rotor-energy
/// Valid: the wall only; floor, lid and hub come on top
/// Source: moment of inertia of a hollow cylinder
[[nodiscard]] double ring_mass_kg(const RotorRing& ring);
[[nodiscard]] double ring_energy_J_kg(const RotorRing& ring);

/// What a vessel may be made of. Strength of the delivered piece is on its certificate, not here.
struct RotorMaterial {
  std::string_view id, name;
  double density_kg_m3{}, yield_Pa{}, poisson_ratio{};
  std::string_view source;
};
[[nodiscard]] std::span<const RotorMaterial> rotor_materials() noexcept;

}  // namespace whorl::model
