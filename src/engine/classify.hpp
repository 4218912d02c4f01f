// Class of what lands, with the numbers that decided it, and the warnings that go with a result.
#pragma once
#include <algorithm>
#include "whorl/engine/setup.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

/// Entanglement numbers n_e = phi M_w / M_e at which fibres begin and become even.
/// Eq: entanglement-number
/// Valid: good solvents, no specific association; electrospinning data
/// Source: Shenoy, Bates, Frisch & Wnek, Polymer 46 (2005) 3372 (entanglement number 2 and 3.5, i.e. 1 and 2.5
///         entanglements per chain); numbers in this convention from memory
inline constexpr double kFirstFibres = 2.0;
inline constexpr double kEvenFibres = 3.5;

/// Rotational Bond number rho Omega^2 R a_o^2 / sigma above which body force pulls slow liquid off as a thread.
/// Source: order-one balance of body force and surface tension on a pendant drop: own closure. A jet that is steady at
///         nearly any flow wants 3 (eq. steady-weber)
inline constexpr double kThreadBond = 1.0;
[[nodiscard]] double rotation_bond(const Setup& setup);

/// Ohnesorge number eta_0/sqrt(rho sigma a_o) above which slow liquid is viscous enough to be drawn out as a thread.
/// Source: order-one balance of viscous and capillary time: own closure
inline constexpr double kDrawnOut = 1.0;
/// How liquid comes off an orifice that it leaves more slowly than a steady jet would.
struct PullOff {
  double bond{};     ///< rotational Bond number
  bool viscous{};    ///< Ohnesorge number above kDrawnOut: `gain` counts
  double gain{};     ///< of capillary waves where it is drawn out (eq. draw-out-gain)
  bool as_thread{};  ///< pulled off by rotation, or drawn out before waves cut it; else it drips
};
[[nodiscard]] PullOff pull_off(const Setup& setup, const model::OrificeFlow& flow);

/// Levelling time (mean composition) over remaining drying time: below `kWetRatio` fibres flow together before they
/// dry, above `kDryRatio`, or when the mean composition is solid, they keep their shape. A solid outside on a soft core
/// is tacky.
/// Source: own closure (Frenkel-type coalescence time eta a / sigma)
inline constexpr double kWetRatio = 1.0;
inline constexpr double kDryRatio = 100.0;

/// Dry diameter below which an answer is finer than any fibre that was found published of gas and rotation, with or
/// without either [m].
/// Source: 0.06 um, Mahalingam & Edirisinghe, Macromol. Rapid Commun. 34 (2013) 1134 (abstract read)
inline constexpr double kFinestPublished_m = 0.06e-6;
/// Gas Weber number rho_air w^2 d / sigma above which wind breaks a low-viscosity jet.
/// Source: second wind-induced regime, 13 (Lin & Reitz, Annu. Rev. Fluid Mech. 30 (1998) 85; from memory)
inline constexpr double kWindBreakup = 13.0;
/// Line speed at landing over that of free flight, sqrt(U^2 + Omega^2 (R_c^2 - R_0^2)), below which a jet with a free
/// end is said to be dragged round: a rope that whirls with the vessel, not a fibre that floats on the air. Over free
/// flight and not over Omega R_c: near the vessel a jet that flies freely is slower than that, too.
/// Source: own choice
inline constexpr double kDraggedRound = 0.5;

/// Largest relative closure error of a balance along a jet that is not warned of: a hundred times the relative
/// tolerance of the march (hundreds of steps, each within it), and no less than what two paths agree to where the
/// rounds of the tension tier end, 1e-3.
/// Source: own choice
[[nodiscard]] inline double balance_tolerance(double relative_tolerance) {
  return std::max(100.0 * relative_tolerance, 1e-3);
}

/// Judges both answers of `estimate` from its jet, its threads and its orifice: as_line, as_threads, and why (line_why,
/// threads_why).
void classify(const Setup& setup, model::Estimate& estimate);

/// Takes class, landing, diameter and reasons of the headline's answer over into the estimate.
void take_headline(model::Estimate& estimate);

/// The gas supply of the case holds less than the orifices would pass at some moment of the run: the overpressure
/// falls.
[[nodiscard]] bool supply_gives_out(const model::CaseInput& input, const model::RunSummary& run);

/// Adds the warnings that the numbers call for (ranges of correlations, dew, gas break-through, fill, ...).
void add_warnings(const Setup& setup, model::Estimate& estimate);

/// Dimensionless groups at the start of the run, each with its definition.
/// Eq: groups
/// Valid: as defined beside each; jet groups only where there is a jet
/// Source: common definitions; which length and speed enter differs between schools, so the definition is printed
void add_groups(const Setup& setup, model::Estimate& estimate);

}  // namespace whorl::engine
