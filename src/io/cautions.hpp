// Cautions that go with every estimate. Text of our own; it defers to local rules and licensed practice.
#pragma once
#include <string>
#include <vector>

#include "whorl/model/case.hpp"
#include "whorl/model/materials.hpp"

namespace whorl::io {

/// Two lines, printed with every estimate: what of this case can injure (vapour or spray, pressure, rotor, heat).
/// `solvent` is null when the library does not hold it.
[[nodiscard]] std::vector<std::string> short_cautions(const model::CaseInput& input, const model::Solvent* solvent);

/// The same in one sentence or two, for a screen of few lines.
[[nodiscard]] std::string one_caution(const model::CaseInput& input, const model::Solvent* solvent);

/// The same as a paragraph.
[[nodiscard]] std::string caution(const model::CaseInput& input, const model::Solvent* solvent);

/// In full, by topic; each entry one paragraph.
[[nodiscard]] std::vector<std::string> full_cautions(const model::CaseInput& input, const model::Solvent* solvent);

}  // namespace whorl::io
