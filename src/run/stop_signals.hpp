// Ctrl-C and SIGTERM as a flag that long work looks at.
#pragma once
#include <csignal>

#include <array>

namespace whorl::run {

/// Takes over SIGINT and SIGTERM for its lifetime: the first one asks to stop, the second one ends the program at once.
/// A signal that was ignored at the start (nohup) stays ignored.
class StopSignals {
 public:
  StopSignals();
  ~StopSignals();
  StopSignals(const StopSignals&) = delete;
  StopSignals& operator=(const StopSignals&) = delete;

 private:
  static constexpr std::array kSignals{SIGINT, SIGTERM};
  std::array<struct sigaction, kSignals.size()> before_{};
};

/// True once a signal has come since the last StopSignals was made. May be called from any thread.
[[nodiscard]] bool stop_requested() noexcept;

}  // namespace whorl::run
