#include "whorl/study/usual_plane.hpp"

#include <algorithm>

#include "whorl/engine/design.hpp"

namespace whorl::study {

std::array<UsualRange, 2> usual_plane(const model::CaseInput& input) {
  constexpr double kWithoutPressure_MPa = 0.1;
  const io::Key* speed = io::find_key("operation.rotation_speed");
  const io::Key* pressure = io::find_key("operation.gas_overpressure");
  const auto shown = [](const io::Key& key, double si) { return engine::round_15_digits(io::to_display(key, si)); };
  const double n = shown(*speed, input.operation.rotation_speed_rad_s);
  const double p = shown(*pressure, input.operation.gas_overpressure_Pa);
  UsualRange speeds{speed, n > 0.0 ? 0.5 * n : 2000.0, n > 0.0 ? 1.5 * n : 12000.0};
  speeds.from = std::max(speeds.from, shown(*speed, speed->minimum));
  speeds.to = std::min(speeds.to, shown(*speed, speed->maximum));
  UsualRange pressures{pressure, 0.0, p > 0.0 ? 2.0 * p : kWithoutPressure_MPa};
  pressures.to = std::min(pressures.to, shown(*pressure, pressure->maximum));
  return {speeds, pressures};
}

}  // namespace whorl::study
