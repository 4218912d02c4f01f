// Cautions that go with every estimate. Text of our own; it defers to local rules and licensed practice.
#pragma once
#include <string>
#include <vector>

#include "model/materials.hpp"

namespace whorl::io {

/// Two lines, printed with every estimate.
[[nodiscard]] std::vector<std::string> short_cautions(const model::Solvent* solvent);

/// In full, by topic; each entry one paragraph.
[[nodiscard]] std::vector<std::string> full_cautions(const model::Solvent* solvent);

}  // namespace whorl::io
