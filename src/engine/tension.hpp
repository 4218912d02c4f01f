// The tension tier: path and drying at a given line speed (marched), and line speed and stress on a given path (a
// two-point problem), in turn until they agree.
#pragma once
#include <cstddef>

#include "engine/tension_line.hpp"
#include "model/jet.hpp"
#include "model/rheology.hpp"
#include "model/result.hpp"

namespace whorl::engine {

/// What happens to the jet at the collector.
enum class JetEnd {
  free,     ///< no pull but that of the surface
  taken_up  ///< line speed given by `take_up_speed_m_s` (Omega R_c for a collector at rest)
};

struct TensionOptions {
  model::PolymerModel polymer{model::PolymerModel::fene_p};
  double mobility{0.1};            ///< Giesekus alpha
  JetEnd end{JetEnd::free};
  double take_up_speed_m_s{};      ///< 0: Omega R_c
  std::size_t cells{160};          ///< of the mesh that counts
  std::size_t coarse_cells{64};    ///< of the mesh before it
  double tolerance{1e-6};          ///< change of ln u and of the liquid length between two rounds
  int most_rounds{60};             ///< on each mesh
  double path_tolerance{1e-6};     ///< relative, of the march
  double max_turns{20.0};
  bool freeze_when_solid{true};
  bool radial{false};              ///< the start was dried with a radial profile: keep its surface
  bool keep_profile{false};
  double breakup_threshold{12.0};
};

/// Solves the jet with tension. `start`: the inertial jet of the same context, with its profile. Its ratio of surface
/// to mean solvent is kept (radial drying enters through it).
/// Error: status not_converged with what was tried; never throws, never NaN. A start that stalled comes back as it is.
[[nodiscard]] model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options,
                                           const model::Jet& start);

}  // namespace whorl::engine
