// Speed and stress on a path that is given, by what it takes: finite volumes, with smoothing that is taken away, or to
// first order.
#pragma once
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// Solves the thread of search.now.problem from `guess`, for rounds that agree to `tolerance`. False: see
/// search.trouble.
[[nodiscard]] bool solve_thread(ThreadSearch& search, ThreadState& guess, double tolerance);

}  // namespace whorl::jet
