// The pull of the solid fibre beyond a thread that solidifies, found together with the speed at which it is flown.
#pragma once
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// Solves the thread of search.now.problem with the pull that the solid beyond it then has. That pull answers strongly
/// to the speed, the other way, and by a jump where the fibre just drifts outward or just does not: bracketed, then
/// false position with halving. `may_owe`: a round that another will follow; where it is known how thread and solid
/// answer to the pull, one trial is enough, and the thread is moved by what that leaves (search.owed).
/// Error: false with search.trouble
/// Source: Dowell & Jarratt, BIT 11 (1971) 168 for the Illinois rule (from memory)
[[nodiscard]] bool solve_with_solid(ThreadSearch& search, ThreadState& guess, double tolerance, bool may_owe);

}  // namespace whorl::jet
