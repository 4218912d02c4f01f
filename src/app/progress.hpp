// Progress of commands that compute for a while: on standard error, on a terminal or when asked for.
#pragma once
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <mutex>
#include <ostream>
#include <string>
#include <thread>

#include "app/status_line.hpp"

namespace whorl::app {

/// `--progress`: also where standard error is no terminal, one line every two seconds.
void use_progress(bool asked);

/// `err`, or nullptr when nothing is to be shown.
[[nodiscard]] std::ostream* progress_stream(std::ostream& err, bool quiet = false);

/// "under a second", "12 s", "3 min 5 s", "2 h 10 min"
[[nodiscard]] std::string duration_text(double seconds);

/// "120 of about 450 model runs (27 %), 8 s left". `total` 0: not known. Before a hundredth is done, and beyond what was expected, no time is named.
[[nodiscard]] std::string progress_text(std::size_t done, std::size_t total, bool about, double seconds, const std::string& what);

/// For a computation that cannot say how far it is: from two seconds on, how long it has taken and what is usual.
/// Nothing happens when `out` is null.
class Waiting {
 public:
  Waiting(std::ostream* out, std::string what);
  Waiting(const Waiting&) = delete;
  Waiting& operator=(const Waiting&) = delete;
  ~Waiting();

 private:
  StatusLine line_;
  std::string what_;
  std::mutex mutex_;
  std::condition_variable ended_;
  bool over_{};
  std::thread thread_;
};

}  // namespace whorl::app
