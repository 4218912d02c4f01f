// A made-up liquid in a made-up vessel, for tests and benches of the jet solvers.
#pragma once
#include "whorl/model/jet.hpp"

namespace whorl::testing {

// It neither dries nor feels the air or gravity until told to: what is left is momentum and stress.
struct StandIn {
  model::Fluid fluid;
  model::Air air;
  model::JetContext context;
  StandIn(double speed_rad_s, double exit_speed, double solvent_viscosity, double polymer_viscosity, double relaxation_time) {
    fluid.polymer_density_kg_m3 = fluid.solvent_density_kg_m3 = 1000.0;
    fluid.initial.solvent_ratio = 9.0;
    fluid.initial.polymer_volume_fraction = 0.1;
    fluid.charge_temperature_K = 295.0;
    fluid.solvent_viscosity_Pa_s = solvent_viscosity;
    fluid.polymer_viscosity_Pa_s = polymer_viscosity;
    fluid.relaxation_time_s = relaxation_time;
    fluid.extensibility = 1e6;
    fluid.polymer_glass_K = fluid.solvent_glass_K = 120.0;
    const double alpha = 0.1 * fluid.polymer_expansion_1_K + 0.9 * fluid.solvent_expansion_1_K;
    fluid.inverse_free_volume_0 = 1.0 / (model::kFreeVolumeAtGlass + alpha * 175.0);
    fluid.surface_tension_N_m = 1e-9;
    fluid.solvent_molar_mass_kg_mol = 0.018;
    fluid.antoine_a = 10.0;
    fluid.antoine_b = 1730.0;
    fluid.antoine_c = -40.0;
    fluid.latent_heat_25_J_kg = 2.4e6;
    fluid.critical_temperature_K = 647.0;
    fluid.solvent_heat_capacity = 4180.0;
    fluid.polymer_heat_capacity = 1500.0;
    fluid.vapour_heat_capacity = 1900.0;
    fluid.diffusivity_air_25_m2_s = 2.5e-5;
    air.temperature_K = 295.0;
    air.pressure_Pa = 101325.0;
    air.density_kg_m3 = 1.2;
    air.viscosity_Pa_s = 1.8e-5;
    air.axial_drag_factor = air.cross_drag_factor = air.mass_factor = 0.0;
    context.fluid = &fluid;
    context.air = &air;
    context.speed_rad_s = speed_rad_s;
    context.exit_speed_m_s = exit_speed;
    context.outer_radius_m = 0.03;
    context.collector_radius_m = 0.13;
    context.gravity_m_s2 = 0.0;
    area(1e-6);
  }
  StandIn(const StandIn&) = delete;
  void area(double m2) { context.polymer_flow_kg_s = 100.0 * m2 * context.exit_speed_m_s; }  // a tenth polymer
};

}  // namespace whorl::testing
