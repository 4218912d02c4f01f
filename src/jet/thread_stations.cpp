#include "jet/thread_stations.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/liquid.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

constexpr double kLeastRelaxation_s = 1e-30;     // a divisor: a liquid without memory has none
constexpr double kLeastWind2_m2_s2 = 1e-10;      // of the wind across: smooth where there is none

double flow_at(const model::JetContext& context, double ratio) { return context.polymer_flow_kg_s * (1.0 + ratio); }

// The air as the laboratory sees it, in the axes of this station: outward, round, up.
model::AirVelocity air_at(const model::JetContext& context, const P::Array& p, double speed, double flow) {
  const double turning = context.speed_rad_s * p[P::kRadius];
  return model::air_velocity(context, {p[P::kRadius], 0.0, p[P::kZ]},
                             {speed * p[P::kTr], speed * p[P::kTa] + turning, speed * p[P::kTz]}, flow,
                             axes_at(p, context.speed_rad_s));
}

}  // namespace

model::ThreadStation thread_station(const model::JetContext& context, const PathResult::Place& place,
                                    double speed_m_s) {
  const P::Array& p = place.state;
  const double ratio = std::max(p[P::kSolvent], 0.0);
  const model::Liquid liquid = model::liquid_at(*context.fluid, ratio, p[P::kTemperature]);
  const double omega = context.speed_rad_s;
  model::ThreadStation at;
  at.arc_m = place.arc_m;
  at.flow_kg_s = flow_at(context, ratio);
  at.density_kg_m3 = model::mixture_density(*context.fluid, ratio);
  at.relaxation_s = std::max(liquid.relaxation_s, kLeastRelaxation_s);
  at.modulus_Pa = liquid.polymer_viscosity_Pa_s / at.relaxation_s;
  at.viscosity_Pa_s = liquid.solvent_viscosity_Pa_s;
  at.surface_tension_N_m = liquid.surface_tension_N_m;
  at.push_m_s2 = omega * omega * p[P::kRadius] * p[P::kTr] - context.gravity_m_s2 * p[P::kTz];
  // the wind that the vessel sees: air less the turning frame
  const model::AirVelocity air = air_at(context, p, speed_m_s, at.flow_kg_s);
  const double across_round = air.y - omega * p[P::kRadius];
  at.wind_along_m_s = air.x * p[P::kTr] + across_round * p[P::kTa];
  const double across2 = air.x * air.x + across_round * across_round - at.wind_along_m_s * at.wind_along_m_s;
  at.wind_across_m_s = std::sqrt(std::max(across2, kLeastWind2_m2_s2));
  return at;
}

SmoothStation smooth_station(const model::JetContext& context, const PathState::Array& place, double speed_m_s) {
  const double ratio = std::max(place[P::kSolvent], 0.0);
  const model::Liquid liquid = model::liquid_at(*context.fluid, ratio, place[P::kTemperature]);
  SmoothStation at;
  at.flow_kg_s = flow_at(context, ratio);
  at.density_kg_m3 = model::mixture_density(*context.fluid, ratio);
  at.surface_tension_N_m = liquid.surface_tension_N_m;
  at.viscosity_Pa_s = liquid.viscosity_Pa_s();
  at.solvent_share = liquid.solvent_viscosity_Pa_s / at.viscosity_Pa_s;
  at.relaxation_s = liquid.relaxation_s;
  at.climb = place[P::kTz];
  const model::AirVelocity air = air_at(context, place, speed_m_s, at.flow_kg_s);
  at.air = {air.x, air.y, air.z};
  return at;
}

}  // namespace whorl::jet
