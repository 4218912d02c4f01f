// Stated values that a bench does not have: far from everything that is in use, they are slips of a unit more often
// than not.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "whorl/io/keys.hpp"

namespace whorl::io {

/// What to say of a value that is inside the limits of its key, and far outside what the trade uses; with the unit that
/// was meant, when one brings the figure back into what is usual. Empty: nothing. Zero is a setting, not a slip.
[[nodiscard]] std::optional<std::string> magnitude_note(const Key& key, std::string_view stated, double value_si);

/// The same figure with the unit that was most likely meant: "300 kg/mol" of "300 g/mol". Empty when no unit makes it
/// usual.
[[nodiscard]] std::string likely_meant(const Key& key, std::string_view stated, double value_si);

}  // namespace whorl::io
