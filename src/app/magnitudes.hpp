// Stated values far from what is in use: said on standard error by every command, once, beside whatever the command answers.
#pragma once
#include <iosfwd>
#include <string>

namespace whorl::app {

/// Remembers what is to be said (io/usual_ranges.hpp); the same text twice is one.
void note_magnitude(std::string text);

/// Says what was remembered, and forgets it.
void say_magnitudes(std::ostream& err);

}  // namespace whorl::app
