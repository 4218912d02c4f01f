// Where a command writes, and what it ends with.
#pragma once
#include <iosfwd>

namespace whorl::console {

/// Exit codes of every command.
enum Exit : int {
  kDone = 0,         ///< done
  kNotMet = 1,       ///< wanted result not met, or not converged
  kBadInput = 2,     ///< bad input, including the command line
  kInterrupted = 130  ///< stopped by Ctrl-C
};

/// Where a command writes: results to `out`, diagnostics to `err`.
struct Streams {
  std::ostream& out;
  std::ostream& err;
};

}  // namespace whorl::console
