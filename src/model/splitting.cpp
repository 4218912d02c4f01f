#include "whorl/model/splitting.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/constants.hpp"

namespace whorl::model {
namespace {

constexpr double kHinze = 0.725;
constexpr double kNormalTemperature_K = 273.15;

}  // namespace

double expanded_gas_density_kg_m3(const GasExit& exit, const Air& air) {
  return air.pressure_Pa * air.molar_mass_kg_mol / (kGasConstant_J_mol_K * exit.jet_temperature_K);
}

double torn_thread_m(ThreadLaw law, const TearingFlow& flow) {
  const double pressure = flow.gas_density_kg_m3 * flow.gas_speed_m_s * flow.gas_speed_m_s;
  if (!(pressure > 0.0)) return 0.0;
  const double capillary = flow.surface_tension_N_m / pressure;
  const double solids = std::sqrt(flow.solids_fraction);
  switch (law) {
    case ThreadLaw::length: return std::sqrt(kThreadLength_m * capillary) * solids;
    case ThreadLaw::weber: return kDropWeber * capillary * solids;
    case ThreadLaw::cascade: {
      const double dissipation = flow.gas_speed_m_s * flow.gas_speed_m_s * flow.gas_speed_m_s / flow.liquid_diameter_m;
      return kHinze * std::pow(flow.surface_tension_N_m / flow.gas_density_kg_m3, 0.6) * std::pow(dissipation, -0.4) *
             solids;
    }
  }
  return 0.0;
}

double threads_per_orifice(double polymer_flow, double diameter, double speed) {
  if (!(diameter > 0.0) || !(speed > 0.0)) return 0.0;
  return 4.0 * polymer_flow / (kPi * diameter * diameter * speed);
}

double carry_speed_m_s(double gas_kg_s, double gas_speed, double liquid_kg_s, double liquid_speed) {
  const double mass = gas_kg_s + liquid_kg_s;
  return mass > 0.0 ? (gas_kg_s * gas_speed + liquid_kg_s * liquid_speed) / mass : 0.0;
}

double tearing_weber(double ohnesorge) { return kDropWeber * (1.0 + 1.5 * std::pow(std::max(ohnesorge, 0.0), 0.74)); }

void judge_tearing(TearingChance& chance, bool supply_is_stated) {
  const double share = std::clamp(chance.share_with_gas, 0.0, 1.0);
  chance.by_share = share / (share + kHalfShare);
  const double ratio = chance.critical_weber > 0.0 ? chance.gas_weber / chance.critical_weber : 0.0;
  chance.by_weber = ratio * ratio / (1.0 + ratio * ratio);
  const double demand = chance.supply_flow_m3_s / kUsualSupply_m3_s;
  chance.by_supply = supply_is_stated ? 1.0 : 1.0 / (1.0 + demand * demand);
  chance.probability = kSureTearing * chance.by_share * chance.by_weber * chance.by_supply;
}

double normal_flow_m3_s(double mass_flow, double molar_mass) {
  return mass_flow / molar_mass * kGasConstant_J_mol_K * kNormalTemperature_K / kStandardAtmosphere_Pa;
}

}  // namespace whorl::model
