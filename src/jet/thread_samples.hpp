// Stations of a solved thread as the report reads them, with stations in between where it turns far.
#pragma once
#include <cstddef>
#include <vector>

#include "jet/thread_search.hpp"
#include "whorl/jet/jet_report.hpp"

namespace whorl::jet {

/// A place on the path at line speed `speed_m_s`, in laboratory axes.
[[nodiscard]] JetSample sample_at(const model::JetContext& context, const SurfaceHistory& surface,
                                  const PathResult::Place& place, double speed_m_s);

/// Samples along the thread, added from the orifice outward.
class ThreadSamples {
 public:
  explicit ThreadSamples(const ThreadSearch& search) : search_(search) {}
  /// A station that stands at `place`; and where the jet turned far since the one before, stations in between, to be
  /// drawn.
  void add(const JetSample& sample, const PathState::Array& place);
  /// What flies beyond the thread: a solid, pulled by what is still to come of it, or a liquid on its own momentum.
  /// `flow` [kg/s] and
  /// `speed_m_s`: at the thread's end; `end_surface_N`: pull of the surface there.
  void add_beyond(double flow, double speed_m_s, double end_surface_N);

  std::vector<JetSample> all;

 private:
  void add_step(const PathResult::Step& step, double speed_m_s);
  const ThreadSearch& search_;
  PathState::Array last_{};  ///< place of the last station that was added
};

}  // namespace whorl::jet
