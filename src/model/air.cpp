#include "whorl/model/air.hpp"

#include <algorithm>

namespace whorl::model {

double water_saturation_Pa(double temperature_K) {
  const double t = temperature_K - 273.15;
  return 610.94 * std::exp(17.625 * t / (t + 243.04));
}

double dew_point_K(double temperature_K, double relative_humidity) {
  if (relative_humidity <= 0.0) return 0.0;
  const double l = std::log(relative_humidity * water_saturation_Pa(temperature_K) / 610.94);
  return 273.15 + 243.04 * l / (17.625 - l);
}

Air make_air(const CaseInput& input, const Fluid& fluid) {
  Air air;
  const RoomInput& room = input.room;
  air.temperature_K = room.temperature_K;
  air.pressure_Pa = room.pressure_Pa;
  const double water_fraction =
      room.relative_humidity * water_saturation_Pa(room.temperature_K) / room.pressure_Pa;
  // Moist air is lighter: M = M_a - x_w (M_a - M_w)
  const double molar_mass = kMolarMassAir_kg_mol - water_fraction * (kMolarMassAir_kg_mol - kMolarMassWater_kg_mol);
  air.density_kg_m3 = room.pressure_Pa * molar_mass / (kGasConstant_J_mol_K * room.temperature_K);
  air.viscosity_Pa_s = air_viscosity(room.temperature_K);
  air.vapour_fraction = fluid.water_is_solvent ? water_fraction : room.solvent_vapour_fraction;
  air.log_air_fraction = std::log1p(-air.vapour_fraction);
  air.dew_point_K = dew_point_K(room.temperature_K, room.relative_humidity);
  air.swirl_speed_rad_s = room.air_swirl * input.operation.rotation_speed_rad_s;
  air.vessel_radius_m = 0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m;
  air.axial_drag = input.model.axial_drag;
  air.axial_drag_factor = input.model.axial_drag_factor;
  air.cross_drag_factor = input.model.cross_drag_factor;
  air.heat_factor = input.model.heat_transfer_factor;
  air.mass_factor = input.model.mass_transfer_factor;
  return air;
}

}  // namespace whorl::model
