// Path at the speed of the thread, speed of the thread on that path, in turn until both stay.
#pragma once
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// Leaves search.now settled to `tolerance` (TensionOptions::tolerance). A liquid thread that no longer finds its way
/// out is cut short of where it stalls. False: see search.trouble.
[[nodiscard]] bool settle_path_and_speed(ThreadSearch& search, double tolerance);

}  // namespace whorl::jet
