// A thread without memory, liquid all the way to the collector: its path and its drying with the collocation of
// tension_smooth.hpp.
#pragma once
#include <vector>

#include "jet/tension_smooth.hpp"
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// Path, speed and drying of such a thread in turn; and what it is where they stay.
class CollocatedThread {
 public:
  explicit CollocatedThread(ThreadSearch& search) : search_(search) {}

  /// True: solved, in search.now and here. False: it has memory, does not arrive as a liquid, or is not solved; the
  /// search is as it was but for what it has cost.
  [[nodiscard]] bool solve(const model::Jet& start, const TensionMemory* memory);

  [[nodiscard]] const SmoothThread& thread() const { return thread_; }
  [[nodiscard]] const std::vector<SmoothStation>& stations() const { return stations_; }

 private:
  [[nodiscard]] bool first_speeds(const model::Jet& start, const TensionMemory* memory);
  [[nodiscard]] bool surely_has_memory() const;
  [[nodiscard]] bool settle(double tolerance);
  [[nodiscard]] bool march(const PathOptions& how);
  [[nodiscard]] bool collocate(double tolerance, bool adapt, const model::ThreadEnd& end);
  void first_guess(const model::ThreadEnd& end);
  [[nodiscard]] double change_from(const std::vector<PathState::Array>& old) const;
  [[nodiscard]] std::vector<PathState::Array> places() const;
  [[nodiscard]] PathState::Array place(double radius) const;
  [[nodiscard]] double most_memory() const;
  [[nodiscard]] bool take_over();
  [[nodiscard]] SpeedField speed() const { return {thread_.radius, thread_.log_speed, thread_.log_speed_slope}; }

  ThreadSearch& search_;
  SmoothThread thread_;
  std::vector<SmoothStation> stations_;
};

}  // namespace whorl::jet
