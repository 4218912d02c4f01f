// A place of a path in the words of the jet's own equations.
#pragma once
#include <array>
#include <cmath>

#include "whorl/jet/tension_path.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::jet {

/// The jet at a place of the path, as the inertial tier writes it: laboratory axes that stand with the vessel at this
/// moment, x outward.
[[nodiscard]] inline std::array<double, model::JetState::kSize> jet_state(const model::JetContext& context,
                                                                          const PathState::Array& s, double u,
                                                                          double solvent, double temperature) {
  using J = model::JetState;
  using P = PathState;
  const double per = u / std::sqrt(s[P::kTr] * s[P::kTr] + s[P::kTa] * s[P::kTa] + s[P::kTz] * s[P::kTz]);
  std::array<double, J::kSize> state{};
  state[J::kX] = s[P::kRadius];
  state[J::kZ] = s[P::kZ];
  state[J::kVx] = per * s[P::kTr];
  state[J::kVy] = per * s[P::kTa] + context.speed_rad_s * s[P::kRadius];
  state[J::kVz] = per * s[P::kTz];
  state[J::kSolvent] = solvent;
  state[J::kTemperature] = temperature;
  return state;
}

}  // namespace whorl::jet
