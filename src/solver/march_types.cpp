#include "solver/march_types.hpp"

#include <fmt/core.h>

namespace whorl::solver::detail {

std::string at_point(std::string text, double t) { return fmt::format("{}, at t = {:.4g}", text, t); }

}  // namespace whorl::solver::detail
