// The published direction of a knob as a sentence, for figures, windows and reports.
#pragma once
#include <span>
#include <string>
#include <string_view>

namespace whorl::study {

/// "Published for torn threads: overpressure finer (weak, ...), concentration coarser (...)." for the keys that have a
/// published trend; empty for none.
[[nodiscard]] std::string published_sentence(std::span<const std::string_view> keys, bool torn);

}  // namespace whorl::study
