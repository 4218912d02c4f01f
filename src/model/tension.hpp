// A thread with tension along a given path: forces at one station, for plain and dual numbers.
#pragma once
#include <cmath>

#include "whorl/model/air.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/rheology.hpp"

namespace whorl::model {

/// One station of the path: everything the balance along the thread needs that does not depend on its speed.
struct ThreadStation {
  double arc_m{};
  double flow_kg_s{};            ///< polymer + solvent
  double density_kg_m3{};
  double modulus_Pa{};           ///< G
  double relaxation_s{};         ///< lambda
  double viscosity_Pa_s{};       ///< Newtonian part: the solvent
  double surface_tension_N_m{};
  double push_m_s2{};            ///< centrifugal force and gravity along the thread
  double wind_along_m_s{};       ///< of the air, in the turning frame, along the thread
  double wind_across_m_s{};
};

/// Cross-section at line speed u [m2].
template <class Real>
[[nodiscard]] Real thread_area(const ThreadStation& at, const Real& speed) {
  return (at.flow_kg_s / at.density_kg_m3) / speed;
}

/// Pull of the surface, pi a sigma [N].
template <class Real>
[[nodiscard]] Real surface_pull(const ThreadStation& at, const Real& speed) {
  using std::sqrt;
  return at.surface_tension_N_m * sqrt(kPi * thread_area(at, speed));
}

/// Drag of the air per length, along the thread [N/m].
template <class Real>
[[nodiscard]] Real thread_drag(const Air& air, const ThreadStation& at, const Real& speed) {
  using std::sqrt;
  const Real diameter = sqrt(thread_area(at, speed) * (4.0 / kPi));
  const Real along = at.wind_along_m_s - speed;
  const Real across(at.wind_across_m_s);
  return drag_resistance_along(air, diameter, along, across) * along;
}

/// What holds the far end of the liquid thread: a free end, a fibre that has solidified and is flung on, or a take-up.
///   F_end = pi a sigma + pull,   pull = min(max over s of [(1/u) int m b ds + int D ds], m u), integrals from the end
///   to s
/// A fibre cannot push: it pulls as far as it is taut, and beyond that it is slack. Where the pull reaches the momentum
/// flux the string has no curvature left to give (the balance across it is (m u - F) x curvature = forces across): more
/// cannot be passed on round the bend.
/// Eq: solid-pull
/// Valid: the solid is inextensible: dF/ds = -(m b/u + D)
/// Source: momentum of an inextensible string; limits: own closure
struct ThreadEnd {
  bool taken_up{};
  double take_up_speed_m_s{};
  double pull_N{};
};
template <class Real>
[[nodiscard]] Real end_pull(const ThreadEnd& end, const ThreadStation& at, const Real& speed) {
  return surface_pull(at, speed) + end.pull_N;
}
/// Turns of the vessel after solidification over which the pull of the solid is looked for.
/// Source: own closure: a slack fibre that floats round the vessel for longer does not pull at its beginning
inline constexpr double kPullTurns = 5.0;

}  // namespace whorl::model
