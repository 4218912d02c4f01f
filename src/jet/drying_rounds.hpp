// Drying over the radius on a path, and path and speed with the surface that dries so, in turn until all stay; the path
// beyond the thread.
#pragma once
#include <functional>

#include "jet/thread_search.hpp"

namespace whorl::jet {

/// What drying sees of the solver of the balance along the thread.
struct PathAndSpeed {
  std::function<bool(double tolerance)> settle;  ///< leaves search.now settled
  std::function<SpeedField()> speed;             ///< that came out
};

/// Settles path and speed, and where the case asks for it drying over the radius, tightening as the drying settles.
/// `confirm`: see
/// TensionOptions::confirm_drying. False: see search.trouble.
[[nodiscard]] bool settle_drying(ThreadSearch& search, const PathAndSpeed& thread, double tolerance, bool confirm);

/// From where a cut thread ends to the end of the path, without pull, drying along. False: see search.trouble.
[[nodiscard]] bool go_beyond_cut(ThreadSearch& search);

}  // namespace whorl::jet
