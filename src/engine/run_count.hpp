// How far a long computation is, for whoever watches it from another thread.
#pragma once
#include <atomic>
#include <cstddef>
#include <functional>
#include <utility>

namespace whorl::engine {

/// Counts model runs: those that are over and those that are expected. One jet of an estimate counts as one. Safe
/// between threads.
class RunCount {
 public:
  /// `told`: called from the working thread after each run, from several threads at once where there are several.
  explicit RunCount(std::function<void()> told = {}) : told_(std::move(told)) {}

  void expect(std::size_t runs) noexcept { expected_ += runs; }
  /// So many of those expected will not be needed.
  void drop(std::size_t runs) noexcept { expected_ -= runs; }
  void add(std::size_t runs) {
    done_ += runs;
    if (told_) told_();
  }
  [[nodiscard]] std::size_t done() const noexcept { return done_; }
  [[nodiscard]] std::size_t expected() const noexcept { return expected_; }

 private:
  std::function<void()> told_;
  std::atomic<std::size_t> done_{};
  std::atomic<std::size_t> expected_{};
};

/// What one piece of work adds to what a RunCount expects. At its end nothing is expected of it that was not made.
class RunShare {
 public:
  explicit RunShare(RunCount* run_count, std::size_t ahead = 0) : run_count_(run_count) { plan(ahead); }
  RunShare(const RunShare&) = delete;
  RunShare& operator=(const RunShare&) = delete;
  ~RunShare() { plan(0); }

  /// From here on so many runs are ahead.
  void plan(std::size_t ahead) noexcept {
    if (run_count_ == nullptr) return;
    run_count_->expect(ahead);
    run_count_->drop(ahead_);
    ahead_ = ahead;
  }
  void one_more() {
    if (run_count_ == nullptr) return;
    if (ahead_ > 0) --ahead_;
    else run_count_->expect(1);
    run_count_->add(1);
  }

 private:
  RunCount* run_count_;
  std::size_t ahead_{};
};

}  // namespace whorl::engine
