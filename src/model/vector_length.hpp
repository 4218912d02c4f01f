// Length of a vector in space. std::hypot of three arguments is written differently in every standard library and
// differs in the last bit; speeds and distances in SI units are far from overflow.
#pragma once
#include <cmath>

namespace whorl::model {

[[nodiscard]] inline double vector_length(double x, double y, double z) { return std::sqrt(x * x + y * y + z * z); }

}  // namespace whorl::model
