// When how much of a run is over.
#pragma once
#include "whorl/model/result.hpp"

namespace whorl::model {

/// Time by which this share of what leaves has left [s]: between the moments of the run, by monotone cubics. The last
/// tenth of a run with gas dribbles out for as long as all the rest, so this is nearer to what somebody at the vessel
/// calls its end.
/// Valid: 0 to 1; within some per cent from 5 moments on. 0 for a run without moments
/// Source: F. N. Fritsch & R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238; slopes by harmonic means, Fritsch &
/// Butland 1984 (from memory)
[[nodiscard]] double time_when_left_s(const RunSummary& run, double share);

/// Time by which nine tenths of what leaves have left, of a run that ends in a dribble: the last tenth takes more than
/// three tenths of its time. 0 where it does not.
/// Source: the limit is our own choice
[[nodiscard]] double before_the_dribble_s(const RunSummary& run);

}  // namespace whorl::model
