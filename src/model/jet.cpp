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

namespace {

// Speed, mass and diameter at a place, and the wind there by its parts.
struct InWind {
  JetLocal local;
  double tx{}, ty{}, tz{};  // direction of the jet
  double nx{}, ny{}, nz{};  // wind across it
  double across2{}, wind2{};

  InWind(const JetContext& context, const double* y, JetAxes axes) {
    using S = JetState;
    const double omega = context.speed_rad_s;
    const double px = y[S::kX];
    const double py = y[S::kY];
    const double vx = y[S::kVx];
    const double vy = y[S::kVy];
    const double vz = y[S::kVz];
    const double ratio = y[S::kSolvent];

    // velocity along the jet: what the turning vessel sees
    const double ux = vx + omega * py;
    const double uy = vy - omega * px;
    const double speed = std::sqrt(ux * ux + uy * uy + vz * vz);
    tx = ux / speed;
    ty = uy / speed;
    tz = vz / speed;
    local.speed_m_s = speed;
    local.density_kg_m3 = mixture_density(*context.fluid, ratio);
    local.linear_mass_kg_m = context.polymer_flow_kg_s * (1.0 + ratio) / speed;
    local.diameter_m = std::sqrt(4.0 * local.linear_mass_kg_m / (kPi * local.density_kg_m3));

    const AirVelocity wind =
        air_velocity(context, {px, py, y[S::kZ]}, {vx, vy, vz}, context.polymer_flow_kg_s * (1.0 + ratio), axes);
    local.gas_speed_m_s = wind.gas_m_s;
    const double wx = wind.x - vx;
    const double wy = wind.y - vy;
    const double wz = wind.z - vz;
    const double along = wx * tx + wy * ty + wz * tz;
    nx = wx - along * tx;
    ny = wy - along * ty;
    nz = wz - along * tz;
    across2 = nx * nx + ny * ny + nz * nz;
    wind2 = along * along + across2;
    local.wind_along_m_s = along;
    local.wind_across_m_s = std::sqrt(across2);
  }
};

}  // namespace

JetLocal jet_in_wind(const JetContext& context, const double* state, JetAxes axes) {
  return InWind(context, state, axes).local;
}

JetLocal jet_local(const JetContext& context, const double* y, double surface_ratio, bool solid, JetAxes axes) {
  using S = JetState;
  const Fluid& fluid = *context.fluid;
  const Air& air = *context.air;
  const double omega = context.speed_rad_s;
  const double px = y[S::kX];
  const double py = y[S::kY];
  const double ratio = y[S::kSolvent];
  const double temperature = y[S::kTemperature];
  InWind in(context, y, axes);
  JetLocal& local = in.local;
  const double speed = local.speed_m_s, along = local.wind_along_m_s;
  const double tx = in.tx, ty = in.ty, tz = in.tz, nx = in.nx, ny = in.ny, nz = in.nz;

  const DragResistance<double> drag = drag_resistance(air, local.diameter_m, along, local.wind_across_m_s);
  const double per_mass_t = drag.along / local.linear_mass_kg_m;
  const double per_mass_n = drag.across / local.linear_mass_kg_m;
  local.drag_along_m_s2 = per_mass_t * along;
  local.drag_acceleration = {local.drag_along_m_s2 * tx + per_mass_n * nx,
                             local.drag_along_m_s2 * ty + per_mass_n * ny,
                             local.drag_along_m_s2 * tz + per_mass_n * nz};

  double ax = local.drag_acceleration[0];
  double ay = local.drag_acceleration[1];
  double az = local.drag_acceleration[2] - context.gravity_m_s2;
  const double a_along = ax * tx + ay * ty + az * tz + omega * omega * (px * tx + py * ty);
  if (solid) {
    ax -= a_along * tx;
    ay -= a_along * ty;
    az -= a_along * tz;
  } else {
    local.strain_rate_1_s = a_along / speed;
  }
  local.acceleration = {ax, ay, az};

  local.surface_phi = polymer_volume_fraction(fluid, surface_ratio);
  const double share = in.wind2 > 0.0 ? in.across2 / in.wind2 : 0.0;
  local.exchange = surface_exchange(air, fluid, local.diameter_m, std::sqrt(in.wind2), share, temperature,
                                    local.surface_phi);
  const double perimeter_per_polymer = kPi * local.diameter_m * speed / context.polymer_flow_kg_s;
  const double evaporation = local.exchange.evaporation_kg_m2_s;
  local.solvent_rate_1_s = -perimeter_per_polymer * evaporation;
  const double heat_capacity = fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity;
  local.temperature_rate_K_s = perimeter_per_polymer *
                               (local.exchange.heat_W_m2 - evaporation * latent_heat(fluid, temperature)) /
                               heat_capacity;
  return local;
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
                          local.solvent_rate_1_s * (latent_heat(fluid, y[S::kTemperature]) +
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
