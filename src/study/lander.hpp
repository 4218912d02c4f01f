// What would bring a line that floats to the collector: each knob alone.
#pragma once
#include <vector>

#include "whorl/io/keys.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// One knob, and a setting at which the line lands.
struct WayToLand {
  const io::Key* key{};
  double from{}, to{};  ///< SI
};

/// A collector just within where it floats (`floats_m` from the vessel), else one step or two nearer; faster, at a
/// third, two thirds and all of the way to twice the speed; slower likewise, to a half. Own choice of what a bench can
/// do. Each is run as the case says and told only where it is less likely than not that nothing lands.
[[nodiscard]] std::vector<WayToLand> ways_to_land(const LoadedCase& loaded, double floats_m);

}  // namespace whorl::study
