#include "whorl/engine/setup.hpp"

#include <cmath>

namespace whorl::engine {

double Setup::ohnesorge() const noexcept {
  return zero_shear_viscosity_Pa_s() /
         std::sqrt(fluid.initial.density_kg_m3 * fluid.surface_tension_N_m * vessel.orifice_radius_m);
}

model::JetContext Setup::jet_context(double flow_m3_s) const {
  model::JetContext context;
  context.fluid = &fluid;
  context.air = &air;
  context.speed_rad_s = input.operation.rotation_speed_rad_s;
  context.polymer_flow_kg_s = flow_m3_s * fluid.initial.concentration_kg_m3;
  context.exit_speed_m_s = flow_m3_s / (model::kPi * vessel.orifice_radius_m * vessel.orifice_radius_m);
  context.outer_radius_m = vessel.outer_radius_m;
  context.collector_radius_m = collector_radius_m();
  context.gravity_m_s2 = vessel.gravity_m_s2;
  return context;
}

model::JetContext Setup::jet_context(const model::OrificeFlow& flow) const {
  model::JetContext context = jet_context(flow.flow_m3_s);
  if (!(flow.gas_share > 0.0)) return context;
  context.exit_speed_m_s = flow.mean_speed_m_s;
  context.gas = model::make_gas_plume(model::gas_exit(flow.gas_overpressure_Pa, air), air, vessel, context.speed_rad_s,
                                      flow.gas_share);
  return context;
}

Setup resolve(const model::CaseInput& input, const model::Library& library) {
  Setup setup;
  setup.input = input;
  setup.fluid = model::resolve_fluid(input.solution, input.room, library);
  setup.vessel = model::make_vessel(input.vessel);
  setup.air = model::make_air(input, setup.fluid);
  return setup;
}

}  // namespace whorl::engine
