// The sentences about what is uncertain at a point, and which doubt matters.
#pragma once
#include "io/prose.hpp"
#include "study/explanation.hpp"

namespace whorl::answer {

void say_doubts(const study::PointReport& report, io::Prose& prose);
void say_sensitivity(const study::PointReport& report, io::Prose& prose);

}  // namespace whorl::answer
