// Stated values far from what is in use: said on standard error by every command, once, beside whatever the command
// answers.
#pragma once
#include <string>
#include <vector>

namespace whorl::study {

/// Remembers what is to be said (io/usual_ranges.hpp); the same text twice is one.
void note_magnitude(std::string text);

/// What was remembered; it is forgotten then.
[[nodiscard]] std::vector<std::string> take_magnitudes();

}  // namespace whorl::study
