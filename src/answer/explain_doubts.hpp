// The sentences about what is uncertain at a point, and which doubt matters.
#pragma once
#include "whorl/io/prose.hpp"
#include "whorl/study/explanation.hpp"

namespace whorl::answer {

void say_doubts(const study::PointReport& report, io::Prose& prose);
void say_sensitivity(const study::PointReport& report, io::Prose& prose);

}  // namespace whorl::answer
