// Threads torn from the liquid by the gas that leaves an orifice together with it: their size, their number, and how
// likely it is that the gas tears the liquid at all.
#pragma once
#include "whorl/model/case.hpp"
#include "whorl/model/gas.hpp"
#include "whorl/model/result.hpp"

namespace whorl::model {

/// Gas that blows over the liquid, expanded to the pressure of the room, and the liquid it blows over.
struct TearingFlow {
  double gas_density_kg_m3{};     ///< rho_g
  double gas_speed_m_s{};         ///< u_g
  double surface_tension_N_m{};   ///< sigma of the solution
  double solids_fraction{};       ///< phi: polymer volume per volume of solution as charged
  double liquid_diameter_m{};     ///< of the liquid where gas meets it: the orifice, or the bore of a needle
};

/// Density of gas expanded to the pressure of the room [kg/m3].
/// Eq: gas-exit
[[nodiscard]] double expanded_gas_density_kg_m3(const GasExit& exit, const Air& air);

/// Empirical length of the default law. Fitted on the 22 gas-only training studies of the evidence (147 settings, each
/// study with one weight); held on 29 other studies (rms of ln d 0.82). tools/thread-law rebuilds it from
/// tests/reference/gas_spun_diameters.csv.
inline constexpr double kThreadLength_m = 10e-6;
/// Critical gas Weber number of drops in a gas stream at low viscosity.
/// Source: 12 within 10 %: Pilch & Erdman, Int. J. Multiphase Flow 13 (1987) 741 (from memory)
inline constexpr double kDropWeber = 12.0;

/// Dry diameter of a torn thread [m], by the law asked for:
///   length:  d = (l* sigma phi / (rho_g u_g^2))^(1/2), l* = 10 um
///   weber:   d = We_c sigma phi^(1/2) / (rho_g u_g^2), We_c = 12
///   cascade: d = 0.725 (sigma/rho_g)^(3/5) e^(-2/5) phi^(1/2), e = u_g^3 / d_l
/// 0 without gas.
/// Eq: torn-thread
/// Valid: gas-driven spinning at 0.05 to 0.6 MPa, solids 3 to 30 %: a factor 4 either way holds 90 % of the studies,
///        and none of the laws tells one laboratory from another better than a constant of 0.37 um does. Feed,
///        viscosity, distance and rotation have no part
/// Source: length: own fit (see kThreadLength_m); weber: as kDropWeber; cascade: Hinze, AIChE J. 1 (1955) 289 (constant
///         0.725 from memory) with the dissipation of order u_g^3/d_l: own closure
[[nodiscard]] double torn_thread_m(ThreadLaw law, const TearingFlow& flow);

/// Threads per orifice that carry `polymer_flow_m3_s` (volume of dry polymer): N = 4 Q phi / (pi d^2 u_e).
/// Eq: thread-number
/// Valid: mass balance; counts threads where they are carried off at u_e
/// Source: conservation of polymer
[[nodiscard]] double threads_per_orifice(double polymer_flow_m3_s, double dry_diameter_m, double carry_speed_m_s);

/// Speed of gas and liquid once they share their momentum: (m_g u_g + m_l U) / (m_g + m_l) [m/s].
/// Eq: carry-speed
/// Valid: near the exit, before room air is taken up
/// Source: momentum
[[nodiscard]] double carry_speed_m_s(double gas_kg_s, double gas_speed_m_s, double liquid_kg_s,
                                     double liquid_speed_m_s);

/// Gas Weber number below which gas does not tear a liquid of this Ohnesorge number: 12 (1 + 1.5 Oh^0.74).
/// Eq: tearing-weber
/// Valid: drops, Oh up to about 4; extrapolated beyond
/// Source: Gelfand, Prog. Energy Combust. Sci. 22 (1996) 201 (from memory)
[[nodiscard]] double tearing_weber(double ohnesorge);

/// Most that can be said for tearing when nothing speaks against it, by Laplace's rule of succession: torn studies and
/// one, over all studies and two. Gas-only: all 51 are torn. Gas and rotation: of eight three lie below 3 um, four
/// above, one is undecided and counts as half (docs/validation.md, Table 1). A gas-only study counts as a quarter of one
/// that also turns: its gas leaves with the liquid in any case, and whether it does is the question here. 0.758; without
/// any one of the eight 0.75 to 0.79.
/// Source: Laplace's rule; weight: own judgement
inline constexpr double kGasOnlyStudies = 51.0, kGasOnlyWeight = 0.25, kTurningStudies = 8.0, kTornTurningStudies = 3.5;
inline constexpr double kSureTearing = (kGasOnlyWeight * kGasOnlyStudies + kTornTurningStudies + 1.0) /
                                       (kGasOnlyWeight * kGasOnlyStudies + kTurningStudies + 2.0);
/// Share of the mass at which torn threads are as likely as not to be what is seen: ten times finer, they are then most
/// of the fibre length.
/// Source: own judgement
inline constexpr double kHalfShare = 0.03;
/// Gas that a laboratory's supply holds as likely as not, where no limit is stated: 500 normal litres a minute. Source:
/// common practice
inline constexpr double kUsualSupply_m3_s = 500e-3 / 60.0;

/// Probability that the fibre found is torn threads rather than one line per orifice:
///   P = 0.758 s/(s + 0.03) r^2/(1 + r^2) 1/(1 + (F/F_0)^2), r = We_g/We_c
/// Fills the three factors and the probability from the rest. `supply_is_stated`: the pressure already follows the
/// supply.
/// Eq: tearing-probability
/// Valid: a judgement, not a measurement: a micrograph, a timed run or a gas meter settles it
/// Source: own closure
void judge_tearing(TearingChance& chance, bool supply_is_stated);

/// Gas flow as a meter shows it: volume at 0 degC and 101,325 Pa [m3/s] of dry air of this mass flow.
/// Eq: normal-flow
/// Source: DIN 1343 (normal state; from memory)
[[nodiscard]] double normal_flow_m3_s(double mass_flow_kg_s, double molar_mass_kg_mol);

}  // namespace whorl::model
