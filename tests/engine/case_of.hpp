// Cases for tests of the engine, made in code.
#pragma once
#include <string>

#include "whorl/engine/setup.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"

namespace whorl::testing {

/// One line per orifice at full settings from the first moment, orifices kept full of liquid: what the closed forms for jet, orifice and
/// emptying hold for. Torn threads, drainage of the layer and the start from rest have tests of their own.
inline void one_line_at_full_settings(model::CaseInput& input) {
  input.model.splitting = model::Splitting::off;
  input.model.gas_breakthrough = model::GasBreakthrough::off;
  input.model.layer_supply = model::LayerSupply::submergence;
  input.operation.spin_up_time_s = 0.0;
  input.operation.pressure_rise_time_s = 0.0;
}

/// The program's own defaults again: gas that goes through and tears, a layer that drains, a start from rest.
inline void as_shipped(model::CaseInput& input) {
  const model::CaseInput standard;
  input.model.splitting = standard.model.splitting;
  input.model.gas_breakthrough = standard.model.gas_breakthrough;
  input.model.layer_supply = standard.model.layer_supply;
  input.operation.spin_up_time_s = standard.operation.spin_up_time_s;
  input.operation.pressure_rise_time_s = standard.operation.pressure_rise_time_s;
}

/// A small vessel with PVP in ethanol of a stated viscosity: no library estimate takes part. Values are our own.
/// One line at full settings.
inline model::CaseInput plain_case(double viscosity_Pa_s = 1.0) {
  model::CaseInput input;
  input.solution.polymer = "PVP";
  input.solution.solvent = "ethanol";
  input.solution.molar_mass_kg_mol = 1250.0;
  input.solution.concentration = {model::ConcentrationBasis::mass, 0.10};
  input.solution.measured.zero_shear_viscosity_Pa_s = viscosity_Pa_s;
  input.solution.measured.shear_model = model::ShearModel::newtonian;
  input.vessel.bore_diameter_m = 50e-3;
  input.vessel.height_m = 25e-3;
  input.vessel.wall_thickness_m = 1.5e-3;
  input.vessel.orifice_diameter_m = 0.4e-3;
  input.vessel.orifice_count = 8;
  input.operation.rotation_speed_rad_s = 2.0 * model::kPi * 8000.0 / 60.0;
  input.operation.gas_overpressure_Pa = 0.0;
  input.operation.charge_volume_m3 = 10e-6;
  input.operation.collection_distance_m = 0.15;
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  one_line_at_full_settings(input);
  return input;
}

inline std::string case_path(const std::string& name) { return std::string(WHORL_SOURCE_DIR "/cases/") + name + ".json"; }

}  // namespace whorl::testing
