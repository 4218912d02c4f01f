// Whether a thread has memory: how far the pull of its chains may be from that of a Newtonian liquid.
#pragma once
#include <vector>

#include "jet/tension_smooth.hpp"

namespace whorl::jet {

/// A thread from place to place, from the orifice on.
struct StretchedThread {
  std::vector<double> radius, log_speed;
  std::vector<double> rate;          ///< of stretching [1/s]
  std::vector<double> time;          ///< since the orifice [s]
  std::vector<SmoothStation> at;
};

/// Largest share of the momentum flux by which the pull of the chains may differ from 3 eta_p A du/ds. The stress of
/// the chains is taken at its largest: at a constant rate that has lasted since the orifice, c = e^(2 e t), and its
/// relaxation.
/// Valid: a bound from above for what a thread without memory is charged with
/// Source: slow stretching: steady stress off by about 3 Wi, settled within some relaxation times; own estimate
[[nodiscard]] double share_of_memory(const StretchedThread& thread);

}  // namespace whorl::jet
