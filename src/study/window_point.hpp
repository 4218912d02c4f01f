// Small things about points of the plane of a window.
#pragma once
#include <array>

#include "whorl/study/window.hpp"

namespace whorl::study {

/// The share t of the way from a to b.
[[nodiscard]] inline double part_way(double a, double b, double t) { return a + t * (b - a); }

/// The case at a point of the plane.
[[nodiscard]] model::CaseInput at_point(const model::CaseInput& base, const std::array<WindowAxis, 2>& axes,
                                        const UnitPoint& at);

}  // namespace whorl::study
