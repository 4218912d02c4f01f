// The plane of speed and overpressure about a case where nobody states one: of the map, the report, the window and
// the next trials.
#pragma once
#include <array>

#include "whorl/io/keys.hpp"
#include "whorl/model/case.hpp"

namespace whorl::study {

/// In the unit in which the key is shown.
struct UsualRange {
  const io::Key* key{};
  double from{}, to{};
};

/// Half to one and a half of the speed of the case, and overpressure from none to twice that of the case, or to 0.1 MPa
/// where it has none; within the limits of the keys. Speed first.
[[nodiscard]] std::array<UsualRange, 2> usual_plane(const model::CaseInput& input);

}  // namespace whorl::study
