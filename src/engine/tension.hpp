// The tension tier: path and drying at a given line speed (marched), and line speed and stress on a given path (a
// two-point problem), in turn until they agree.
#pragma once
#include <cstddef>

#include "model/case.hpp"
#include "model/jet.hpp"
#include "model/rheology.hpp"
#include "model/result.hpp"

namespace whorl::engine {

struct TensionOptions {
  model::PolymerModel polymer{model::PolymerModel::fene_p};
  double mobility{0.1};            ///< Giesekus alpha
  model::JetEnd end{model::JetEnd::free};
  double take_up_speed_m_s{};      ///< 0: Omega R_c
  std::size_t cells{80};           ///< of the first mesh; doubled from there
  std::size_t most_cells{640};
  double mesh_tolerance{1e-3};     ///< on ln u of the line speed, by comparing two meshes; 0: first mesh only
  double tolerance{1e-6};          ///< change of ln u and of the end of the liquid between two rounds
  double fair_tolerance{1e-3};     ///< what is still accepted, and said, when `tolerance` is not met
  int most_rounds{40};             ///< on each mesh
  std::size_t most_newton{1500};   ///< Newton steps altogether, a step on a finer mesh counting as more
  std::size_t most_rates{400000};  ///< evaluations of the path's equations altogether
  double path_tolerance{1e-6};     ///< relative, of the march
  double max_turns{20.0};
  bool freeze_when_solid{true};
  bool radial{false};              ///< the start was dried with a radial profile: keep its surface
  bool keep_profile{false};
};

/// Solves the jet with tension. `start`: the inertial jet of the same context, with its profile. Its ratio of surface
/// to mean solvent is kept (radial drying enters through it).
/// Error: status not_converged with what was tried; never throws, never NaN. A start that stalled comes back as it is.
[[nodiscard]] model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options,
                                           const model::Jet& start);

}  // namespace whorl::engine
