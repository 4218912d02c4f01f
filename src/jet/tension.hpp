// The tension tier: path and drying at a given line speed (marched), and line speed and stress on a given path (a
// two-point problem), in turn until they agree.
#pragma once
#include <cstddef>
#include <memory>
#include <string>
#include <vector>

#include "whorl/jet/tension_path.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/rheology.hpp"

namespace whorl::jet {

/// How the balance along the thread is solved. `automatic`: a thread without memory (Newtonian, or of short relaxation)
/// by collocation of order six, direction, speed and pull together; every other one by finite volumes.
enum class ThreadRule { automatic, finite_volumes };

struct TensionOptions {
  ThreadRule rule{ThreadRule::automatic};
  model::PolymerModel polymer{model::PolymerModel::fene_p};
  double mobility{0.1};            ///< Giesekus alpha
  model::JetEnd end{model::JetEnd::free};  ///< free or taken_up
  double take_up_speed_m_s{};      ///< 0: Omega R_c
  /// A jet that arrives is left unsettled once it is plain that it lands slower than this (TensionMemory::unsettled):
  /// what is asked for then no longer depends on how fast. 0: settle it in any case.
  double slow_m_s{};
  std::size_t cells{80};           ///< of the first mesh; doubled from there
  std::size_t most_cells{640};
  double mesh_tolerance{1e-3};     ///< on ln u of the line speed, by comparing two meshes; 0: first mesh only
  double tolerance{1e-6};          ///< change of ln u and of the end of the liquid between two rounds
  double fair_tolerance{1e-3};     ///< what is still accepted, and said, when `tolerance` is not met
  int most_rounds{40};             ///< on each mesh
  std::size_t most_newton{3000};   ///< Newton steps altogether, a step on a finer mesh counting as more
  std::size_t most_rates{200000};  ///< evaluations of the path's equations altogether
  double path_tolerance{1e-6};     ///< relative, of the march
  double max_turns{20.0};
  bool freeze_when_solid{true};
  bool radial{false};              ///< drying over the radius, solved again on every path
  std::size_t radial_cells{16};
  /// Off: a profile that changed by less than 1 % on the new path counts as settled once it has been taken over. Its
  /// change on one more path is a tenth of that or less.
  bool confirm_drying{true};
  /// A thread that finds no way out, and is cut, is refined like any other. Off: not where it arrives all the same.
  bool refine_cut{true};
  double stalled_share{0.9};       ///< of the way to where a jet stalls that is solved with tension
  int stalled_tries{3};            ///< shorter pieces of it that are tried where that fails: 0.6 and 0.3 of the way
  /// March by the steps of the similar jet that it starts from, and know the surface at its points: two such neighbours
  /// differ smoothly, by what differs between them, and not by what the tolerances leave.
  bool keep_steps{false};
  bool keep_profile{false};
};

/// Steps of the marches that make a thread.
struct ThreadSteps {
  PathSteps path, pulling, beyond, drying;  ///< to its end; the solid, for its pull; the way beyond; over the radius
  double thread_m{};                        ///< its length
};

struct ThreadFactor;

/// A solved jet as the start of a similar one.
struct TensionMemory {
  double exit_speed_m_s{};            ///< 0: nothing remembered
  double end_radius_m{}, cut_m{};     ///< of the thread; where it was cut, 0 if not
  bool reached_collector{};
  bool solid_end{};                   ///< it ends where it solidified
  double pull_N{};                    ///< of the solid beyond
  double pull_slope{};                ///< how what is missing in it answers to it, below 0; 0: not known
  bool taken_up{};                    ///< end of this jet
  double take_up_share{};             ///< its speed over that at which the vessel turns past a collector at rest
  bool unsettled{};                   ///< left where it was plain that it lands slowly; no start for another
  bool held_by_balance{};             ///< nothing but this share is remembered: the held thread was not solved
  std::string no_free_end;            ///< held because no free end was found, and why; empty: not so
  bool smooth{};                      ///< solved as a thread without memory, on a mesh of its own kind
  std::vector<double> share;          ///< nodes as shares of the way to end_radius_m
  std::vector<double> log_speed, pull, waist;
  SurfaceHistory surface;
  ThreadSteps steps;
  std::shared_ptr<const ThreadFactor> factor;  ///< of its last round
};

/// As a start for the case on the other side of `about`, as far from it as the solved `one`: what differs is turned
/// round. Where the two do not match it is `about` itself.
[[nodiscard]] TensionMemory mirror_image(const TensionMemory& one, const TensionMemory& about);

/// Solves the jet with tension. `start`: the inertial jet of the same context, with its profile. A jet that does not
/// arrive is solved out to nine tenths of the way to where the start stalls, with a free end there; beyond, momentum
/// and air alone carry it. Where that cannot be solved either it comes back as it stalls without tension, and says so.
/// `memory`: start from it where it holds something (`start` may then be empty), and leave the solution in it.
/// Error: status not_converged with what was tried; never throws, never NaN.
[[nodiscard]] model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options,
                                           const model::Jet& start, TensionMemory* memory = nullptr);

}  // namespace whorl::jet
