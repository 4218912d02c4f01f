// What would dry a fibre that lands wet: each knob alone, turned no further than it must be.
#pragma once
#include <cstddef>
#include <vector>

#include "whorl/io/keys.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// One knob turned towards drier fibre.
struct WayToDry {
  const io::Key* key{};
  double from{};  ///< of the case, SI
  double to{};    ///< first setting at which the likelier answer lands dry or firm; where none does, the last one tried
  model::Landing landing{model::Landing::none};  ///< there
  [[nodiscard]] bool dries() const noexcept;
};

/// Collector further off, drier room (where the solvent is water), warmer room, smaller orifices, each alone and within
/// what a bench can do (own choice). A setting counts when fibre is likelier there than film, drops or nothing, and the
/// likelier answer lands dry or firm: looked for without tension, then run as the case says, and told only if it holds.
/// Knobs that cannot be turned further are left out; after `most` that dry it none is looked at.
[[nodiscard]] std::vector<WayToDry> ways_to_dry(const LoadedCase& loaded, std::size_t most);

}  // namespace whorl::study
