// Where nothing in the plane meets the target: whether another concentration alone would.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "whorl/study/loaded_case.hpp"
#include "whorl/study/window.hpp"

namespace whorl::study {

struct OtherSolution {
  std::string concentration;  ///< in the basis of the case: "14 % w/v of solvent"
  std::string stated;         ///< of the case
  std::size_t slice{};
  UnitPoint at;
  WindowProbe probe;
};

/// The concentration nearest to the case's, of ten from half to double, at which the nearest miss of a slice or one of
/// nine points over the plane meets the target. Not for a solution whose properties were measured: they would not
/// follow.
[[nodiscard]] std::optional<OtherSolution> other_solution(const std::vector<model::CaseInput>& bases,
                                                          const std::vector<UnitPoint>& misses,
                                                          const std::array<WindowAxis, 2>& axes,
                                                          const WindowTarget& target,
                                                          const engine::BatchRunner& runner);

}  // namespace whorl::study
