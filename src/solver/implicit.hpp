// Implicit marching of a stiff system of ordinary differential equations of up to about a hundred unknowns.
#pragma once
#include <Eigen/Core>
#include <functional>
#include <span>
#include <type_traits>
#include <utility>
#include <vector>

#include "solver/march_types.hpp"

namespace whorl::solver {

/// Which entries of the Jacobian are formed by differences. It only sets the cost: the stage equations are iterated to
/// convergence, so an entry left out slows the iteration (or shortens the step) but does not change the solution within
/// the tolerance.
struct JacobianStructure {
  enum class Kind {
    dense,                ///< all entries: n evaluations of the right-hand side, less those of `unread`
    bordered_tridiagonal  ///< m + 3 evaluations (less those of `unread`): the first m columns are full, the rest is a
                          ///< chain of neighbours. In the first m rows the dependence on the chain is taken to come
                          ///< from its last three unknowns.
  };
  Kind kind{Kind::dense};
  Eigen::Index border{};  ///< m
  /// Unknowns (bordered_tridiagonal: of the border) on which no rate depends, integrals that are carried along: their
  /// columns are zero and cost no evaluation.
  std::vector<Eigen::Index> unread{};
};

using ImplicitRhs = std::function<bool(const Eigen::VectorXd& state, Eigen::VectorXd& rate, double t)>;
using ImplicitObserver = std::function<bool(const Eigen::VectorXd& state, double t)>;
using ImplicitResult = MarchResult<Eigen::VectorXd>;

namespace detail {
[[nodiscard]] ImplicitResult march_implicit_erased(const ImplicitRhs& rhs, const Eigen::VectorXd& start,
                                                   const Eigen::VectorXd& scale, double t0, double t_end,
                                                   const MarchOptions& options,
                                                   std::span<const Event<Eigen::VectorXd>> events,
                                                   const ImplicitObserver& observer,
                                                   const JacobianStructure& structure);
}  // namespace detail

/// March y' = rhs(y, t) from t0 to t_end (forward or backward) with an L-stable method of order 4.
///
/// rhs: void or bool (const Eigen::VectorXd&, Eigen::VectorXd& rate, double t); `rate` has the right size on entry. It
/// may refuse a point (false) or give a non-finite rate, as in march(). observer: void or bool (const Eigen::VectorXd&,
/// double t), called at the start, after every accepted step and at every event in order of t; false ends the march.
/// scale: typical size of each component, all positive; sets the absolute tolerance and the difference steps.
/// Method: singly diagonally implicit, 5 stages, order 4, embedded order 3, stiffly accurate; stages by simplified
/// Newton to 0.005 of the tolerance; Jacobian by one-sided differences, kept while the iteration converges fast; error
/// estimate filtered by the stage matrix. On very stiff components the order falls towards the stage order (1), which
/// the error control sees. Events are located on the cubic Hermite interpolant (order 3). No heap allocation between
/// events.
/// Error: never throws; never returns a state that is not finite; every failure is a status with a message.
/// Source: Hairer & Wanner, Solving Ordinary Differential Equations II, IV.6 table 6.5 and IV.8 (from memory; the
/// tests check the order conditions and the observed order).
template <class Rhs, class Observer = detail::NoObserver>
[[nodiscard]] ImplicitResult march_implicit(Rhs&& rhs, const Eigen::VectorXd& start, const Eigen::VectorXd& scale,
                                            double t0, double t_end, const MarchOptions& options = {},
                                            std::span<const Event<Eigen::VectorXd>> events = {},
                                            Observer&& observer = {}, const JacobianStructure& structure = {}) {
  const ImplicitRhs call_rhs = [&](const Eigen::VectorXd& state, Eigen::VectorXd& rate, double t) {
    if constexpr (std::is_same_v<std::invoke_result_t<Rhs&, const Eigen::VectorXd&, Eigen::VectorXd&, double>, void>) {
      rhs(state, rate, t);
      return true;
    } else {
      return static_cast<bool>(rhs(state, rate, t));
    }
  };
  const ImplicitObserver call_observer = [&](const Eigen::VectorXd& state, double t) {
    return detail::notify(observer, state, t);
  };
  return detail::march_implicit_erased(call_rhs, start, scale, t0, t_end, options, events, call_observer, structure);
}

/// Coefficients of the method, for the tests of its order conditions.
struct ImplicitTableau {
  static constexpr int kStages = 5;
  static constexpr double kGamma = 0.25;
  double c[kStages]{0.25, 0.75, 11.0 / 20.0, 0.5, 1.0};
  double a[kStages][kStages]{
      {kGamma, 0, 0, 0, 0},
      {0.5, kGamma, 0, 0, 0},
      {17.0 / 50.0, -1.0 / 25.0, kGamma, 0, 0},
      {371.0 / 1360.0, -137.0 / 2720.0, 15.0 / 544.0, kGamma, 0},
      {25.0 / 24.0, -49.0 / 48.0, 125.0 / 16.0, -85.0 / 12.0, kGamma}};  ///< last row: the weights
  double embedded[kStages]{59.0 / 48.0, -17.0 / 96.0, 225.0 / 32.0, -85.0 / 12.0, 0.0};         ///< weights of order 3
};
inline constexpr ImplicitTableau kImplicitTableau{};

}  // namespace whorl::solver
