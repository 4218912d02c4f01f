// Capillary break-up of a stretching jet, and the class of what lands.
#pragma once
#include <vector>

#include "whorl/model/result.hpp"

namespace whorl::model {

/// Local growth rate [1/s] of an axisymmetric disturbance of wave number k on a viscous thread of radius a:
///   s = -3 nu k^2/2 + sqrt((3 nu k^2/2)^2 + sigma/(2 rho a^3) (ka)^2 (1 - (ka)^2 - e))
/// e = elastic share: 2 a N1 theta / sigma, theta = De/(1+De), De = lambda sqrt(sigma/(rho a^3)).
/// Negative under the root (stable wave): the slower of the two decay rates, never growth.
/// Eq: capillary-growth
/// Valid: slender disturbances; maximum within 3 % of Rayleigh's exact 0.3433 for an inviscid thread
/// Source: Eggers & Villermaux, Rep. Prog. Phys. 71 (2008) 036601 (slender form, from memory); elastic share: own
/// closure
struct Thread {
  double radius_m{}, density_kg_m3{}, viscosity_Pa_s{}, surface_tension_N_m{};
  double axial_stress_Pa{};       ///< N1 of the polymer
  double relaxation_time_s{};
};
[[nodiscard]] double capillary_growth_rate(const Thread& thread, double wave_number_1_m);

/// Exact inviscid growth rate (Rayleigh): s^2 = sigma/(rho a^3) ka (1 - (ka)^2) I1(ka)/I0(ka) [1/s].
/// Eq: rayleigh-growth
/// Source: Rayleigh, Proc. London Math. Soc. 10 (1878) 4
[[nodiscard]] double rayleigh_growth_rate(double radius_m, double density_kg_m3, double surface_tension_N_m,
                                          double wave_number_1_m);

/// One step of the thread's history for the gain integral.
struct ThreadSample {
  double time_s{};
  double speed_m_s{};  ///< wave numbers stretch with the fluid: k u = const
  Thread thread;
};

/// Largest growth exponent reached by any wave along the path, floored at zero for every wave as it goes (noise is
/// always there). `gain_along[i]` is the largest exponent at sample i.
/// Eq: capillary-gain
/// Valid: linear growth; compare with ln(a/eps0), 12 by common usage for liquid jets
/// Source: the gain ln(a/eps0) of about 12: Grant & Middleman, AIChE J. 12 (1966) 669 (13.4; from memory) and others
struct CapillaryGain {
  double largest{};
  double at_wave_number_ka{};  ///< ka of the worst wave at the end of the path
  std::vector<double> gain_along;
};
[[nodiscard]] CapillaryGain capillary_gain(const std::vector<ThreadSample>& path);

/// Gain of capillary waves in the zone in which the body force draws a viscous thread out of an orifice that it leaves
/// slowly: there 3 eta d/ds(u'/u) = -rho g/u, so that u = (sqrt(U) + c s/2)^2, c = sqrt(2 rho g/(3 eta)), up to
/// u_e = (3 nu g/2)^(1/3), where inertia takes over; long waves grow at sigma/(6 eta a):
///   G = sigma/(6 eta a_o c sqrt(U)) ln(u_e/U)    [1], 0 for U >= u_e
/// Eq: draw-out-gain
/// Valid: Ohnesorge number eta/sqrt(rho sigma a_o) > 1; Newtonian (elasticity holds a thread longer)
/// Error: an upper bound: 1 to 2.5 times the gain of the worst single wave on that thread (tested at Oh 20 and 200)
/// Source: own closure
struct SlowOutflow {
  double speed_m_s{}, radius_m{}, density_kg_m3{}, viscosity_Pa_s{}, surface_tension_N_m{};
  double acceleration_m_s2{};  ///< body force per mass, Omega^2 R
};
[[nodiscard]] double draw_out_gain(const SlowOutflow& outflow);

}  // namespace whorl::model
