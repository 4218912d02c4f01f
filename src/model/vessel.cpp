#include "whorl/model/vessel.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/constants.hpp"

namespace whorl::model {
namespace {

// Below this the parabola is flat to rounding over any vessel; the closed form would divide by ~0.
constexpr double kFlatCurvature_1_m = 1e-9;

// integral of 2 pi r clamp(z0 + b r^2, 0, H) dr over [0, R]; b = Omega^2/(2g)
double clamped_paraboloid(double z0, double b, double radius, double height) {
  const double radius2 = radius * radius;
  if (b < kFlatCurvature_1_m) return kPi * radius2 * std::clamp(z0 + 0.5 * b * radius2, 0.0, height);
  const double w_floor = std::clamp(-z0 / b, 0.0, radius2);            // r^2 where the surface leaves the floor
  const double w_lid = std::clamp((height - z0) / b, 0.0, radius2);    // r^2 where it meets the lid
  const double sloped = z0 * (w_lid - w_floor) + 0.5 * b * (w_lid * w_lid - w_floor * w_floor);
  return kPi * (sloped + height * (radius2 - w_lid));
}

}  // namespace

Vessel make_vessel(const VesselInput& input) {
  Vessel vessel;
  vessel.bore_radius_m = 0.5 * input.bore_diameter_m;
  vessel.outer_radius_m = vessel.bore_radius_m + input.wall_thickness_m;
  vessel.height_m = input.height_m;
  vessel.orifice_length_m = input.wall_thickness_m;
  vessel.orifice_radius_m = 0.5 * input.orifice_diameter_m;
  vessel.orifice_count = input.orifice_count;
  vessel.orifice_height_m = input.orifice_height_m.value_or(0.5 * input.height_m);
  vessel.lid_opening_radius_m = 0.5 * input.lid_opening_diameter_m.value_or(0.0);
  return vessel;
}

double liquid_volume_m3(const Vessel& vessel, double speed_rad_s, double apex_m) {
  const double b = speed_rad_s * speed_rad_s / (2.0 * vessel.gravity_m_s2);
  return clamped_paraboloid(apex_m, b, vessel.bore_radius_m, vessel.height_m);
}

double apex_height_m(const Vessel& vessel, double speed_rad_s, double volume_m3) {
  const double b = speed_rad_s * speed_rad_s / (2.0 * vessel.gravity_m_s2);
  const double rise = b * vessel.bore_radius_m * vessel.bore_radius_m;
  // The volume grows monotonically with z0 from empty (z0 = -rise) to full (z0 = H).
  double low = -rise;
  double high = vessel.height_m;
  const double full = kPi * vessel.bore_radius_m * vessel.bore_radius_m * vessel.height_m;
  const double target = std::clamp(volume_m3, 0.0, full);
  // Annulus with both floor and lid dry at the centre: closed form, exact where it applies.
  if (b >= kFlatCurvature_1_m) {
    const double radius2 = vessel.bore_radius_m * vessel.bore_radius_m;
    const double w_mid = radius2 - target / (kPi * vessel.height_m);  // r^2 of the surface at half height
    const double z0 = 0.5 * vessel.height_m - b * w_mid;
    if (z0 <= 0.0 && (vessel.height_m - z0) / b <= radius2) return z0;
  }
  for (int i = 0; i < 200 && high - low > 1e-15 * (std::abs(low) + std::abs(high)); ++i) {
    const double middle = 0.5 * (low + high);
    if (clamped_paraboloid(middle, b, vessel.bore_radius_m, vessel.height_m) < target) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return 0.5 * (low + high);
}

ChargeState charge_state(const Vessel& vessel, double speed_rad_s, double volume_m3) {
  ChargeState state;
  const double b = speed_rad_s * speed_rad_s / (2.0 * vessel.gravity_m_s2);
  const double full = kPi * vessel.bore_radius_m * vessel.bore_radius_m * vessel.height_m;
  double volume = std::min(volume_m3, full);
  state.spilled_volume_m3 = volume_m3 - volume;

  if (vessel.lid_opening_radius_m > 0.0) {
    // An open lid of radius r_l holds at most the volume whose surface meets the lid plane at r_l (or, at low
    // speed, stays below it): the paraboloid through (r_l, H).
    const double lid2 = vessel.lid_opening_radius_m * vessel.lid_opening_radius_m;
    const double apex_at_lip = vessel.height_m - b * lid2;
    const double held = liquid_volume_m3(vessel, speed_rad_s, apex_at_lip);
    if (volume > held) {
      state.spilled_volume_m3 += volume - held;
      volume = held;
    }
  }
  state.volume_m3 = volume;

  const double apex = apex_height_m(vessel, speed_rad_s, volume);
  const double radius2 = vessel.bore_radius_m * vessel.bore_radius_m;
  const double wall_height = apex + b * radius2;
  state.orifice_wet = volume > 0.0 && wall_height > vessel.orifice_height_m + vessel.orifice_radius_m;
  if (b < kFlatCurvature_1_m) {
    state.free_surface_radius_m = state.orifice_wet ? 0.0 : vessel.bore_radius_m;
  } else {
    const double w = std::clamp((vessel.orifice_height_m - apex) / b, 0.0, radius2);
    state.free_surface_radius_m = std::sqrt(w);
  }
  state.layer_thickness_m = vessel.bore_radius_m - state.free_surface_radius_m;
  return state;
}

LiquidHead liquid_head(const Vessel& vessel, double speed_rad_s, double density_kg_m3,
                       const ChargeState& state) {
  LiquidHead head;
  const double omega2 = speed_rad_s * speed_rad_s;
  const double outer2 = vessel.outer_radius_m * vessel.outer_radius_m;
  const double surface2 = state.free_surface_radius_m * state.free_surface_radius_m;
  head.centrifugal_Pa = 0.5 * density_kg_m3 * omega2 * (outer2 - surface2);
  // Where the axis is covered (low speed) the liquid stands above the orifice by z0 - z_o.
  if (state.free_surface_radius_m <= 0.0) {
    const double apex = apex_height_m(vessel, speed_rad_s, state.volume_m3);
    head.hydrostatic_Pa =
        density_kg_m3 * vessel.gravity_m_s2 * std::max(0.0, apex - vessel.orifice_height_m);
  }
  return head;
}

double wetting_volume_m3(const Vessel& vessel, double speed_rad_s) {
  const double b = speed_rad_s * speed_rad_s / (2.0 * vessel.gravity_m_s2);
  const double rim = vessel.orifice_height_m + vessel.orifice_radius_m;
  return liquid_volume_m3(vessel, speed_rad_s, rim - b * vessel.bore_radius_m * vessel.bore_radius_m);
}

double drainage_layer_m(const Vessel& vessel, double speed_rad_s, double density, double viscosity, double flow) {
  const double field = std::max(speed_rad_s * speed_rad_s * vessel.bore_radius_m, vessel.gravity_m_s2);
  constexpr double kLeastSpacing = 0.5;
  const double spacing =
      std::max(std::log(kPi * vessel.bore_radius_m / (vessel.orifice_count * vessel.orifice_radius_m)), kLeastSpacing);
  return std::sqrt(std::sqrt(6.0 * viscosity * flow * spacing / (kPi * density * field)));
}

double gas_layer_m(double submergence, double drainage) {
  const double s = submergence * submergence;
  const double d = drainage * drainage;
  return std::sqrt(std::sqrt(s * s + d * d));
}

double breakthrough_layer_m(const Vessel& vessel, double speed_rad_s, double flow_m3_s) {
  const double field = std::max(speed_rad_s * speed_rad_s * vessel.bore_radius_m, vessel.gravity_m_s2);
  const double critical = 0.69 * std::pow(flow_m3_s * flow_m3_s / field, 0.2);
  return std::max(critical, vessel.orifice_radius_m);
}

}  // namespace whorl::model
