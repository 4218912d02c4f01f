// The tension tier: the regularised string as a two-point boundary-value problem, started from the inertial jet.
#pragma once
#include <cstddef>

#include "model/jet.hpp"
#include "model/rheology.hpp"
#include "model/result.hpp"

namespace whorl::engine {

/// What happens to the jet at the collector.
enum class JetEnd {
  free,     ///< no viscous or elastic pull: F = surface part
  taken_up  ///< line speed given by `take_up_speed_m_s` (Omega R_c for a collector at rest)
};

struct TensionOptions {
  model::PolymerModel polymer{model::PolymerModel::fene_p};
  double mobility{0.1};            ///< Giesekus alpha
  JetEnd end{JetEnd::free};
  double take_up_speed_m_s{};      ///< 0: Omega R_c
  std::size_t nodes{160};          ///< of the first mesh; refined from there
  std::size_t most_nodes{1280};
  double mesh_tolerance{1e-3};     ///< on the line speed at the end, by comparing two meshes; 0: first mesh only
  int most_newton{600};            ///< iterations altogether
  bool keep_profile{false};
  double breakup_threshold{12.0};
};

/// Solves the jet with tension. `start`: the inertial jet of the same context, with its profile. Its ratio of surface
/// to mean solvent is kept (radial drying enters through it).
/// Error: status not_converged with what was tried; never throws, never NaN. A start that stalled comes back as it is.
[[nodiscard]] model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options,
                                           const model::Jet& start);

/// Largest relative difference between the Jacobian and central differences at the started state (for tests).
[[nodiscard]] double tension_jacobian_gap(const model::JetContext& context, const TensionOptions& options,
                                          const model::Jet& start);

}  // namespace whorl::engine
