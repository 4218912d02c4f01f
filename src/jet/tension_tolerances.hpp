// The one place that turns the tolerance of the case (numerics.relative_tolerance, here `relative`) into all others of
// the tension tier. Formulas stand beside each; the factors are own choices.
#pragma once
#include <algorithm>
#include <cmath>

namespace whorl::jet {

/// How much work a jet is worth: the one that the answer is about; the same as one point of a map, looked at beside
/// others and not differentiated; or as one sample of a band, whose sampling error is some per cent; or one of many
/// beside it (over the run, in other air), which is left out where it takes long; or one of these of which nothing is
/// asked but its line as it lands (over the run in a row of a sweep).
enum class Effort { headline, point, sample, companion, line };

[[nodiscard]] constexpr bool stands_beside(Effort effort) {
  return effort == Effort::companion || effort == Effort::line;
}

struct TensionTolerances {
  double path{};    ///< relative, of the march along the path
  double rounds{};  ///< change of ln u and of the end between two rounds of path and speed
  double mesh{};    ///< error of ln u by two meshes; 0: one mesh only
  double work{1.0}; ///< times the usual bound: shorter steps, finer meshes and more rounds for a tighter tolerance
};

[[nodiscard]] inline TensionTolerances tolerances_of(double relative, Effort effort) {
  constexpr double kUsual = 1e-5;  // default of the key
  TensionTolerances out;
  // headline: path = relative/10, because rounds of path and speed must agree to `relative`, too
  out.path = 0.1 * relative;
  out.rounds = std::clamp(10.0 * out.path, 1e-8, 1e-6);
  // below the usual tolerance the mesh is tightened first: it is what differences between neighbours show most
  out.mesh = std::clamp(1e-3 * (relative / kUsual) * (relative / kUsual), 1e-6, 1e-3);
  // steps of a march of order five grow as the power 1/5, cells of a mesh of order two as 1/2: in between
  out.work = std::pow(std::max(1.0, kUsual / relative), 0.25);
  if (effort != Effort::headline) {
    // one mesh leaves some 1e-3, which nothing else needs to undercut by far
    out.path = relative;
    out.rounds = std::max(1e-4, relative);
    if (effort != Effort::point) out.mesh = 0.0;
  }
  return out;
}

/// Of the solution on the first of several meshes, which only leads to the next.
[[nodiscard]] inline double of_first_mesh(double rounds) { return std::max(rounds, 1e-4); }

/// What a march over the radius can agree to on a path of tolerance `path`: its hundreds of steps are each within that
/// tolerance.
[[nodiscard]] inline double of_drying(double rounds, double path) {
  return std::max({rounds, 30.0 * path, std::min(300.0 * path, 2e-6)});
}
/// The same beyond the thread, where the speed no longer answers.
[[nodiscard]] inline double of_drying_beyond(double rounds, double path) { return std::max(rounds, 30.0 * path); }

/// Newton's method on the thread's balances: largest balance left, over the forces it is made of, for rounds to agree
/// to `rounds`.
[[nodiscard]] inline double of_balances(double rounds) { return std::clamp(1e-4 * rounds, 1e-10, 1e-6); }
/// The same for the collocation equations.
[[nodiscard]] inline double of_collocation(double rounds) { return std::min(1e-9, 1e-2 * rounds); }
/// Mesh error that stands in where none is asked for.
[[nodiscard]] inline double mesh_or_usual(double mesh) { return mesh > 0.0 ? mesh : 1e-3; }

}  // namespace whorl::jet
