#include "whorl/model/jet.hpp"

#include <cmath>

namespace whorl::model {

AirVelocity air_velocity(const JetContext& context, const std::array<double, 3>& position,
                         const std::array<double, 3>& liquid, double liquid_flow_kg_s, JetAxes axes) {
  const Air& air = *context.air;
  AirVelocity out;
  // Air is still in the laboratory, or dragged round with a decaying swirl.
  if (air.swirl_speed_rad_s > 0.0) {
    const double swirl = air.swirl_speed_rad_s * air.vessel_radius_m * air.vessel_radius_m /
                         (position[0] * position[0] + position[1] * position[1]);
    out.x = -swirl * position[1];
    out.y = swirl * position[0];
  }
  if (!context.gas.blows()) return out;
  const GasWind wind = gas_wind(context.gas, position[0], position[1], position[2], axes.orifice);
  const double c = std::cos(axes.release);
  const double s = std::sin(axes.release);
  const double wall = context.speed_rad_s * context.outer_radius_m;
  const double gain_x = liquid[0] - (c * context.exit_speed_m_s - s * wall);
  const double gain_y = liquid[1] - (s * context.exit_speed_m_s + c * wall);
  const double speed = std::sqrt(wind.x * wind.x + wind.y * wind.y);
  if (!(speed > 0.0)) return out;
  const double left = gas_wind_left(context.gas, liquid_flow_kg_s, (gain_x * wind.x + gain_y * wind.y) / speed);
  out.gas_m_s = left * speed;
  out.x += left * wind.x;
  out.y += left * wind.y;
  return out;
}

JetPlace jet_place(const JetContext& context, const double* y) {
  using S = JetState;
  JetPlace at{y[S::kX], y[S::kY], y[S::kZ], y[S::kVx], y[S::kVy], y[S::kVz]};
  // velocity along the jet: what the turning vessel sees
  const double ux = at.vx + context.speed_rad_s * at.y;
  const double uy = at.vy - context.speed_rad_s * at.x;
  at.speed = std::sqrt(ux * ux + uy * uy + at.vz * at.vz);
  at.tx = ux / at.speed;
  at.ty = uy / at.speed;
  at.tz = at.vz / at.speed;
  at.solvent_ratio = y[S::kSolvent];
  at.temperature = y[S::kTemperature];
  return at;
}

namespace {

// Speed, mass and diameter at a place, and the wind there by its parts.
struct InWind {
  JetLocal local;
  double nx{}, ny{}, nz{};  // wind across the jet
  double across2{}, wind2{};

  InWind(const JetContext& context, const JetPlace& at, JetAxes axes) {
    local.speed_m_s = at.speed;
    local.density_kg_m3 = mixture_density(*context.fluid, at.solvent_ratio);
    const double flow = context.polymer_flow_kg_s * (1.0 + at.solvent_ratio);
    local.linear_mass_kg_m = flow / at.speed;
    local.diameter_m = std::sqrt(4.0 * local.linear_mass_kg_m / (kPi * local.density_kg_m3));

    const AirVelocity wind = air_velocity(context, {at.x, at.y, at.z}, {at.vx, at.vy, at.vz}, flow, axes);
    local.gas_speed_m_s = wind.gas_m_s;
    const double wx = wind.x - at.vx;
    const double wy = wind.y - at.vy;
    const double wz = wind.z - at.vz;
    const double along = wx * at.tx + wy * at.ty + wz * at.tz;
    nx = wx - along * at.tx;
    ny = wy - along * at.ty;
    nz = wz - along * at.tz;
    across2 = nx * nx + ny * ny + nz * nz;
    wind2 = along * along + across2;
    local.wind_along_m_s = along;
    local.wind_across_m_s = std::sqrt(across2);
  }
};

// Exchange with the air, and what it does to composition and temperature.
void dry(const JetContext& context, const JetPlace& at, double surface_ratio, InWind& in) {
  const Fluid& fluid = *context.fluid;
  JetLocal& local = in.local;
  local.surface_phi = polymer_volume_fraction(fluid, surface_ratio);
  const double share = in.wind2 > 0.0 ? in.across2 / in.wind2 : 0.0;
  local.exchange = surface_exchange(*context.air, fluid, local.diameter_m, std::sqrt(in.wind2), share, at.temperature,
                                    local.surface_phi);
  local.latent_heat_J_kg = latent_heat(fluid, at.temperature);
  const double perimeter_per_polymer = kPi * local.diameter_m * at.speed / context.polymer_flow_kg_s;
  const double evaporation = local.exchange.evaporation_kg_m2_s;
  local.solvent_rate_1_s = -perimeter_per_polymer * evaporation;
  const double heat_capacity = fluid.polymer_heat_capacity + at.solvent_ratio * fluid.solvent_heat_capacity;
  local.temperature_rate_K_s =
      perimeter_per_polymer * (local.exchange.heat_W_m2 - evaporation * local.latent_heat_J_kg) / heat_capacity;
}

}  // namespace

JetLocal jet_in_wind(const JetContext& context, const double* state, JetAxes axes) {
  return InWind(context, jet_place(context, state), axes).local;
}

JetLocal jet_local(const JetContext& context, const double* state, double surface_ratio, bool solid, JetAxes axes) {
  return jet_local(context, jet_place(context, state), surface_ratio, solid, axes);
}

JetLocal jet_local(const JetContext& context, const JetPlace& at, double surface_ratio, bool solid, JetAxes axes) {
  const Air& air = *context.air;
  const double omega = context.speed_rad_s;
  InWind in(context, at, axes);
  JetLocal& local = in.local;
  const double along = local.wind_along_m_s;
  const double tx = at.tx, ty = at.ty, tz = at.tz;

  const DragResistance<double> drag = drag_resistance(air, local.diameter_m, along, local.wind_across_m_s);
  const double per_mass_t = drag.along / local.linear_mass_kg_m;
  const double per_mass_n = drag.across / local.linear_mass_kg_m;
  local.drag_along_m_s2 = per_mass_t * along;
  local.drag_acceleration = {local.drag_along_m_s2 * tx + per_mass_n * in.nx,
                             local.drag_along_m_s2 * ty + per_mass_n * in.ny,
                             local.drag_along_m_s2 * tz + per_mass_n * in.nz};

  double ax = local.drag_acceleration[0];
  double ay = local.drag_acceleration[1];
  double az = local.drag_acceleration[2] - context.gravity_m_s2;
  const double a_along = ax * tx + ay * ty + az * tz + omega * omega * (at.x * tx + at.y * ty);
  if (solid) {
    ax -= a_along * tx;
    ay -= a_along * ty;
    az -= a_along * tz;
  } else {
    local.strain_rate_1_s = a_along / at.speed;
  }
  local.acceleration = {ax, ay, az};

  dry(context, at, surface_ratio, in);
  return local;
}

JetLocal jet_drying(const JetContext& context, const JetPlace& at, double surface_ratio, JetAxes axes) {
  InWind in(context, at, axes);
  dry(context, at, surface_ratio, in);
  return in.local;
}

void jet_rates(const JetContext& context, const JetLocal& local, const double* y, bool audit, double* rates) {
  using S = JetState;
  rates[S::kX] = y[S::kVx];
  rates[S::kY] = y[S::kVy];
  rates[S::kZ] = y[S::kVz];
  rates[S::kVx] = local.acceleration[0];
  rates[S::kVy] = local.acceleration[1];
  rates[S::kVz] = local.acceleration[2];
  rates[S::kSolvent] = local.solvent_rate_1_s;
  rates[S::kTemperature] = local.temperature_rate_K_s;
  rates[S::kArc] = local.speed_m_s;
  rates[S::kDragWork] = local.drag_along_m_s2 * local.speed_m_s;
  if (!audit) return;
  const auto& force = local.acceleration;
  rates[S::kTorque] = y[S::kX] * force[1] - y[S::kY] * force[0];
  rates[S::kWork] = y[S::kVx] * force[0] + y[S::kVy] * force[1] + y[S::kVz] * force[2];
  const Fluid& fluid = *context.fluid;
  const double perimeter_per_polymer = kPi * local.diameter_m * local.speed_m_s / context.polymer_flow_kg_s;
  rates[S::kHeatGained] = perimeter_per_polymer * local.exchange.heat_W_m2 +
                          local.solvent_rate_1_s * (local.latent_heat_J_kg +
                                                    fluid.solvent_heat_capacity *
                                                        (y[S::kTemperature] - fluid.charge_temperature_K));
  rates[S::kEvaporated] = -local.solvent_rate_1_s;
}

std::array<double, JetState::kAuditSize> jet_start(const JetContext& context) {
  std::array<double, JetState::kAuditSize> y{};
  y[JetState::kX] = context.outer_radius_m;
  y[JetState::kVx] = context.exit_speed_m_s;
  y[JetState::kVy] = context.speed_rad_s * context.outer_radius_m;
  y[JetState::kSolvent] = context.fluid->initial.solvent_ratio;
  y[JetState::kTemperature] = context.fluid->charge_temperature_K;
  return y;
}

double dry_area_m2(const JetContext& context, double speed_m_s) {
  return context.polymer_flow_kg_s / (context.fluid->polymer_density_kg_m3 * speed_m_s);
}

double excess_draw(double constant, double flapping, double air_weber) {
  if (!(flapping > 0.0) || !(air_weber > kFlappingWeber)) return constant;
  const double most = kMostFlappingDraw - 1.0;
  return constant * (1.0 + most * std::tanh(flapping * (air_weber - kFlappingWeber) / most));
}

double kinematic_bound_m(double polymer_volume_flow, double speed_rad_s, double collector_radius_m) {
  if (speed_rad_s <= 0.0) return 0.0;
  return std::sqrt(4.0 * polymer_volume_flow / (kPi * speed_rad_s * collector_radius_m));
}

double free_flight_speed(double exit_speed, double speed_rad_s, double outer_radius, double radius) {
  return std::sqrt(exit_speed * exit_speed +
                   speed_rad_s * speed_rad_s * (radius * radius - outer_radius * outer_radius));
}

}  // namespace whorl::model
