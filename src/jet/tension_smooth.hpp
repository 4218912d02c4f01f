// A thread without memory (Newtonian, or of short relaxation): direction, speed and pull solved for together, by
// collocation of order six.
#pragma once
#include <array>
#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "whorl/model/jet.hpp"
#include "whorl/model/tension.hpp"

namespace whorl::jet {

/// What a radius contributes to the balances that is taken from a path already marched: composition, temperature,
/// climb, air.
struct SmoothStation {
  double flow_kg_s{}, density_kg_m3{}, surface_tension_N_m{};
  double viscosity_Pa_s{};        ///< of the whole solution
  double solvent_share{1.0};      ///< of the solvent in it
  double relaxation_s{};
  double climb{};                 ///< t_z
  std::array<double, 3> air{};    ///< velocity in the laboratory: outward, round, up [m/s]
};

/// The thread on the points of its mesh. Entries as in solver::CollocationSolution.
struct SmoothThread {
  bool converged{};
  std::string reason{"not run"};
  std::vector<double> radius, log_speed, log_speed_slope;  ///< slope: by radius
  std::vector<double> angle;                               ///< from outward towards round
  std::vector<double> force, force_slope;                  ///< [N], [N/m of radius]
  double error{};
  int newton{}, meshes{};
  [[nodiscard]] std::size_t cells() const { return (radius.size() - 1) / 3; }
};

struct SmoothOptions {
  double tolerance{3e-4};
  double newton_tolerance{1e-9};
  std::size_t most_cells{300};
  bool adapt{true};           ///< false: on the nodes of the guess
};

/// Balances over the radius r, ' = d/dr, t = (c cos psi, c sin psi, t_z):
///   (ln u)' = (F - pi a sigma)/(3 eta V t_r)            V = m/rho
///   F' = m u (ln u)' - (m b/u + D)/t_r
///   psi' = [(t_r a_a - t_a a_r)/(c^2 u^2) - t_a/r]/t_r   a: all forces per mass but the pull
/// Eq: tension-jet
/// Valid: as tension-jet; runs outward (t_r > 0); stress follows the rate of stretching at once
/// Error: converged false with a reason; never throws
/// Source: as tension-jet
[[nodiscard]] SmoothThread solve_smooth_thread(const model::JetContext& context,
                                               const std::function<SmoothStation(double)>& station,
                                               const model::ThreadEnd& end, const SmoothThread& guess,
                                               const SmoothOptions& options);

}  // namespace whorl::jet
