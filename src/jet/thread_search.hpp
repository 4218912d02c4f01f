// The search for one thread with tension: what it is given, how far it is, what it has cost.
#pragma once
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

#include "jet/tension_line.hpp"
#include "whorl/jet/tension.hpp"
#include "whorl/jet/tension_path.hpp"

namespace whorl::jet {

/// Cells at the end of a thread that solidifies in which its speed jumps to what the pull of the solid makes it.
inline constexpr std::size_t kCellsOfJump = 2;

/// All that a solved thread is. A plain value: a copy keeps it, an assignment goes back to it.
struct ThreadSolution {
  std::vector<double> share;    ///< nodes as shares of the way from the orifice to `end_radius_m`
  double end_radius_m{};        ///< where the liquid part ends
  double cut_m{};               ///< radius where the thread is cut; 0: it is not
  ThreadState state;
  std::vector<double> weights;  ///< of the chain rule (Thread::weights)
  ThreadProblem problem;        ///< the stations of the path, and the far end
  PathResult path;
  SurfaceHistory surface;
  double pull_N{};              ///< of the solid beyond the thread
  double change{};              ///< of the last round, of ln u and of ln of the way; no less than ThreadSearch::owed
  bool first_order{};           ///< second order found no solution
  double drying_off{};          ///< by how much drying over the radius changed the last path
  double cells_end_ratio{};     ///< X at the end by the cells of the radius

  [[nodiscard]] std::size_t cells() const { return share.size() - 1; }
};

/// One search. Functions of thread_*.hpp and *_rounds.hpp move it on; each says in `trouble` why it could not.
struct ThreadSearch {
  ThreadSearch(const model::JetContext& context, const TensionOptions& options);

  const model::JetContext& context;
  const TensionOptions& options;
  model::PolymerLaw law;
  ThreadSolution now;
  double pull_slope{};       ///< d(what is missing in the pull of the solid)/d(pull), below 0 once it is known
  ThreadState by_pull;       ///< how the thread answers to that pull, per N; empty: not known
  double owed{};             ///< by how much these two moved ln u in the last round, without a trial of where they led
  bool jumps{};              ///< it took smoothing before
  bool plainly_slow{};       ///< lands slower than TensionOptions::slow_m_s: not settled any further
  bool may_not_land{};       ///< so it was left once, and did not land
  bool drying_known{};       ///< the history of the surface comes from this jet or a similar one

  ThreadFactor factor;       ///< of the last round

  ThreadSteps taken;  ///< of the last marches
  /// To march by, once they are close to where they will end: rounds then do not go on over the tolerance of the march.
  /// With TensionOptions::keep_steps those of the similar jet.
  ThreadSteps kept;
  /// How much longer the thread is than the one that the kept steps are of.
  [[nodiscard]] double stretch() const {
    return now.path.thread_m > 0.0 && kept.thread_m > 0.0 ? now.path.thread_m / kept.thread_m : 1.0;
  }

  model::WorkCounts work;
  int rounds{};              ///< of path and speed
  int drying_rounds{};       ///< of drying over the radius on a new path
  std::size_t spent{};       ///< Newton iterations x cells
  std::size_t spend_until{std::numeric_limits<std::size_t>::max()};  ///< on the present mesh
  std::string trouble;

  [[nodiscard]] bool exhausted() const;
  void count(const PathResult& path);
  void count_newton(int iterations);
  /// The speed that the collector takes up at.
  [[nodiscard]] double take_up_speed_m_s() const;
  [[nodiscard]] PathOptions path_options(bool go_on) const;
  [[nodiscard]] double radius_of(std::size_t node) const;
  [[nodiscard]] std::vector<double> radii() const;
  [[nodiscard]] SpeedField speed_field() const { return {radii(), now.state.log_speed}; }
  /// The same for a thread that ends where it solidifies, without the jump that the pull of the solid makes in its last
  /// cells: path and drying look for that place, and are not to meet the jump before or behind it.
  [[nodiscard]] SpeedField speed_before_solid() const;
};

}  // namespace whorl::jet
