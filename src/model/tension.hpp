// A thread with tension along a given path: forces at one station, for plain and dual numbers.
#pragma once
#include <cmath>

#include "model/air.hpp"
#include "model/constants.hpp"
#include "model/rheology.hpp"

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

/// Pull of the chains, A G (f c_ss - f c_rr) [N].
template <class Real>
[[nodiscard]] Real chain_pull(const ThreadStation& at, const PolymerLaw& law, const Real& speed, const Real& pull,
                              const Real& waist) {
  return thread_area(at, speed) * at.modulus_Pa * chains(law, pull, waist).stretch;
}

/// Drag of the air per length, along the thread [N/m].
template <class Real>
[[nodiscard]] Real thread_drag(const Air& air, const ThreadStation& at, const Real& speed) {
  using std::sqrt;
  const Real diameter = sqrt(thread_area(at, speed) * (4.0 / kPi));
  const Real along = at.wind_along_m_s - speed;
  const Real across(at.wind_across_m_s);
  return drag_resistance(air, diameter, along, across).along * along;
}

/// What holds the far end of the liquid thread: a free end, a fibre that has solidified and is flung on, or both.
///   F_end = pi a sigma + body/u + drag_wind - drag u
/// Eq: solid-pull
/// Valid: the solid is inextensible: dF/ds = -(m b/u + D), integrated over the solid part
/// Source: momentum of an inextensible string; own derivation
struct ThreadEnd {
  bool taken_up{};
  double take_up_speed_m_s{};
  double body_W{};              ///< integral of m b ds over the solid
  double drag_N_s_m{};          ///< integral of the axial drag resistance
  double drag_wind_N{};         ///< the same, times the speed of the air along the fibre
};
template <class Real>
[[nodiscard]] Real end_pull(const ThreadEnd& end, const ThreadStation& at, const Real& speed) {
  return surface_pull(at, speed) + end.body_W / speed + end.drag_wind_N - end.drag_N_s_m * speed;
}

}  // namespace whorl::model
