// A place of a path in the words of the jet's own equations.
#pragma once
#include <cmath>

#include "whorl/jet/tension_path.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::jet {

/// The jet at a place of the path, as the inertial tier writes it: laboratory axes that stand with the vessel at this
/// moment, x outward.
[[nodiscard]] inline model::JetPlace jet_place(const model::JetContext& context, const PathState::Array& s, double u,
                                               double solvent, double temperature) {
  using P = PathState;
  const double per = 1.0 / std::sqrt(s[P::kTr] * s[P::kTr] + s[P::kTa] * s[P::kTa] + s[P::kTz] * s[P::kTz]);
  model::JetPlace at;
  at.x = s[P::kRadius];
  at.z = s[P::kZ];
  at.tx = per * s[P::kTr];
  at.ty = per * s[P::kTa];
  at.tz = per * s[P::kTz];
  at.vx = u * at.tx;
  at.vy = u * at.ty + context.speed_rad_s * at.x;
  at.vz = u * at.tz;
  at.speed = u;
  at.solvent_ratio = solvent;
  at.temperature = temperature;
  return at;
}

}  // namespace whorl::jet
