// Cylindrical axes for jets that the air carries round. Such a jet changes slowly there, while in x, y it turns with a
// force that nearly cancels: many steps for an explicit method, lost order for a stiff one.
#pragma once
#include <cmath>

#include "whorl/model/jet.hpp"

namespace whorl::model {

/// State in laboratory axes to cylindrical ones, in place: kX holds r, kY the azimuth, kVx and kVy the speeds along and
/// across r; all other entries stay.
/// Error: r = 0 has no azimuth; jets start at the outer wall
inline void to_cylindrical(double* y) {
  const double r = std::hypot(y[JetState::kX], y[JetState::kY]);
  const double azimuth = std::atan2(y[JetState::kY], y[JetState::kX]);
  const double c = y[JetState::kX] / r;
  const double s = y[JetState::kY] / r;
  const double vx = y[JetState::kVx];
  const double vy = y[JetState::kVy];
  y[JetState::kX] = r;
  y[JetState::kY] = azimuth;
  y[JetState::kVx] = c * vx + s * vy;
  y[JetState::kVy] = c * vy - s * vx;
}

/// The way back.
inline void to_cartesian(double* y) {
  const double r = y[JetState::kX];
  const double c = std::cos(y[JetState::kY]);
  const double s = std::sin(y[JetState::kY]);
  const double vr = y[JetState::kVx];
  const double va = y[JetState::kVy];
  y[JetState::kX] = r * c;
  y[JetState::kY] = r * s;
  y[JetState::kVx] = c * vr - s * va;
  y[JetState::kVy] = s * vr + c * va;
}

/// Completes rates that were evaluated at azimuth 0, where both axes agree, for the cylindrical state y: nothing in the
/// equations depends on the azimuth.
inline void turn_rates(const double* y, double* rates) {
  const double turn = y[JetState::kVy] / y[JetState::kX];
  rates[JetState::kX] = y[JetState::kVx];
  rates[JetState::kY] = turn;
  rates[JetState::kVx] += turn * y[JetState::kVy];
  rates[JetState::kVy] -= turn * y[JetState::kVx];
}

}  // namespace whorl::model
