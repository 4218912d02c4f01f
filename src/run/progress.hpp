// Progress of commands that compute for a while: on standard error, on a terminal or when asked for.
#pragma once
#include <condition_variable>
#include <cstddef>
#include <mutex>
#include <ostream>
#include <string>
#include <thread>

#include "console/status_line.hpp"
#include "whorl/engine/run_count.hpp"

namespace whorl::run {

/// `--progress`: also where standard error is no terminal, one line every two seconds.
void use_progress(bool asked);
/// `--progress-every`: the same, one line in so many seconds; 0: after every run.
void use_progress_every(double seconds);

/// `err`, or nullptr when nothing is to be shown.
[[nodiscard]] std::ostream* progress_stream(std::ostream& err, bool quiet = false);

/// "under a second", "12 s", "3 min 5 s", "2 h 10 min"
[[nodiscard]] std::string duration_text(double seconds);

/// "120 of about 450 model runs (27 %), 8 s left". `total` 0: not known. Before a hundredth is done, and beyond what
/// was expected, no time is named.
[[nodiscard]] std::string progress_text(std::size_t done, std::size_t total, bool about, double seconds,
                                        const std::string& what);

/// Whether the number of runs that is expected is one that will be made, or a guess.
enum class Expected { exactly, about };

/// Says how far a RunCount is until it is stopped, from a thread of its own: also while one run takes long. On a
/// terminal from half a second on, elsewhere as often as --progress says. Nothing is said, and no thread started, when
/// `out` is null.
class Progress {
 public:
  explicit Progress(std::ostream* out, Expected expected = Expected::about, std::string what = "model runs");
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  ~Progress() { stop(); }

  /// For whoever does the work.
  [[nodiscard]] engine::RunCount* run_count() noexcept { return &run_count_; }
  /// Before anything else is written to the same stream.
  void stop();

 private:
  void watch();
  void say();

  std::string what_;
  bool about_;
  console::StatusLine line_;
  console::StatusLine::Clock::time_point start_{console::StatusLine::Clock::now()};
  engine::RunCount run_count_;
  std::mutex mutex_;
  std::condition_variable ended_;
  bool over_{};
  std::thread thread_;
};

}  // namespace whorl::run
