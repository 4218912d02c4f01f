// Dimensional invariance: an estimate in other units of mass, length and time is the same estimate.
// Everything that has a dimension is scaled by hand: charge, vessel, operation, gravity, the air as a gas, and the amount of
// substance such that the gas constant keeps its figure (R = energy / (amount x temperature)). The kelvin stays: free volume,
// vapour pressure and viscosity are relations with temperatures of their own. Done behind the reader and the property
// estimates, whose relations are written in SI.
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <variant>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/outputs.hpp"

using namespace whorl;

namespace {

/// How many new units make one SI unit.
struct Units {
  double mass, length, time;
  [[nodiscard]] double of(double m, double l, double t) const {
    return std::pow(mass, m) * std::pow(length, l) * std::pow(time, t);
  }
  [[nodiscard]] double density() const { return of(1, -3, 0); }
  [[nodiscard]] double pressure() const { return of(1, -1, -2); }
  [[nodiscard]] double viscosity() const { return of(1, -1, -1); }
  [[nodiscard]] double specific_energy() const { return of(0, 2, -2); }
  [[nodiscard]] double diffusivity() const { return of(0, 2, -1); }
  [[nodiscard]] double amount() const { return of(1, 2, -2); }  // R and the kelvin as they are
};

model::FlowCurve scaled(const model::FlowCurve& curve, const Units& units) {
  if (const auto* newtonian = std::get_if<model::Newtonian>(&curve))
    return model::Newtonian{newtonian->viscosity_Pa_s * units.viscosity()};
  if (const auto* power = std::get_if<model::PowerLaw>(&curve))
    return model::PowerLaw{power->consistency_Pa_sn * units.of(1, -1, power->index - 2), power->index};
  auto carreau = std::get<model::CarreauYasuda>(curve);
  carreau.zero_shear_Pa_s *= units.viscosity();
  carreau.infinite_shear_Pa_s *= units.viscosity();
  carreau.time_constant_s *= units.time;
  return carreau;
}

engine::Setup scaled(engine::Setup setup, const Units& units) {
  model::Fluid& f = setup.fluid;
  for (double* density : {&f.initial.concentration_kg_m3, &f.initial.density_kg_m3, &f.polymer_density_kg_m3,
                          &f.solvent_density_kg_m3})
    *density *= units.density();
  for (double* molar_mass : {&f.molar_mass_kg_mol, &f.solvent_molar_mass_kg_mol, &f.entanglement_molar_mass_kg_mol})
    *molar_mass *= units.mass / units.amount();
  f.solvent_viscosity_Pa_s *= units.viscosity();
  f.polymer_viscosity_Pa_s *= units.viscosity();
  f.flow_curve = scaled(f.flow_curve, units);
  f.relaxation_time_s *= units.time;
  f.surface_tension_N_m *= units.of(1, 0, -2);
  f.surface_tension_slope_N_m_K *= units.of(1, 0, -2);
  f.antoine_a += std::log10(units.pressure());
  for (double* energy : {&f.latent_heat_25_J_kg, &f.solvent_heat_capacity, &f.polymer_heat_capacity, &f.vapour_heat_capacity})
    *energy *= units.specific_energy();
  f.diffusivity_air_25_m2_s *= units.diffusivity();
  f.log_dilute_diffusivity += std::log(units.diffusivity());
  f.heat_of_fusion_J_m3 *= units.pressure();
  f.solvent_molar_volume_m3_mol *= units.of(0, 3, 0) / units.amount();
  // f.solvent_viscosity_energy_J_mol: energy per amount keeps its figure, like R

  model::Vessel& v = setup.vessel;
  for (double* length : {&v.bore_radius_m, &v.outer_radius_m, &v.height_m, &v.orifice_length_m, &v.orifice_radius_m,
                         &v.orifice_height_m, &v.lid_opening_radius_m})
    *length *= units.length;
  v.gravity_m_s2 *= units.of(0, 1, -2);

  model::Air& a = setup.air;
  a.pressure_Pa *= units.pressure();
  a.density_kg_m3 *= units.density();
  a.viscosity_Pa_s *= units.viscosity();
  a.swirl_speed_rad_s /= units.time;
  a.vessel_radius_m *= units.length;
  a.viscosity_constant *= units.viscosity();
  a.heat_capacity_J_kg_K *= units.specific_energy();
  a.molar_mass_kg_mol *= units.mass / units.amount();
  a.diffusivity_pressure_Pa *= units.pressure();

  model::OperationInput& o = setup.input.operation;
  o.rotation_speed_rad_s /= units.time;
  o.gas_overpressure_Pa *= units.pressure();
  o.charge_volume_m3 *= units.of(0, 3, 0);
  o.collection_distance_m *= units.length;
  o.spin_up_time_s *= units.time;
  o.pressure_rise_time_s *= units.time;
  if (o.gas_supply_m3_s) *o.gas_supply_m3_s *= units.of(1, 2, -3);  // see L/min below
  return setup;
}

/// What a result in one of the units of the output table is to be multiplied with.
double factor_of(const std::string& unit, const Units& units) {
  static const std::map<std::string, std::array<int, 3>> dimensions{
      {"1", {0, 0, 0}},       {"K", {0, 0, 0}},       {"degC", {0, 0, 0}},  {"um", {0, 1, 0}},     {"mm", {0, 1, 0}},
      {"mL", {0, 3, 0}},      {"s", {0, 0, 1}},       {"ms", {0, 0, 1}},    {"1/s", {0, 0, -1}},   {"m/s", {0, 1, -1}},
      {"g", {1, 0, 0}},       {"g/h", {1, 0, -1}},    {"mg/s", {1, 0, -1}}, {"mL/min", {0, 3, -1}}, {"kg/m3", {1, -3, 0}},
      // at 0 degC and 1 atm: the pressure of the normal state keeps its figure, so n R T/p goes like energy over time
      {"L/min", {1, 2, -3}},
      {"Pa", {1, -1, -2}},    {"kPa", {1, -1, -2}},   {"Pa s", {1, -1, -1}}};
  const auto found = dimensions.find(unit);
  INFO("unit of an output: " << unit);
  REQUIRE(found != dimensions.end());
  return units.of(found->second[0], found->second[1], found->second[2]);
}

}  // namespace

TEST_CASE("an estimate does not depend on the units of mass, length and time", "[engine][verification]") {
  const char* name = GENERATE("pcl-chloroform", "peo-water-training", "pmma-acetone-dry", "pmma-acetone-humid", "ps-thf-sweep",
                              "pva-water-wet", "pvp-ethanol-measured", "slow-dripping", "thin-jet-stalled");
  // One unit at a time finds which one a slip is in; the last changes all three.
  const Units units = GENERATE(Units{3.7, 1, 1}, Units{1, 0.61, 1}, Units{1, 1, 1.9}, Units{0.043, 1.7, 0.37});
  auto file = io::read_case_file(testing::case_path(name));
  file.input.model.tier = model::Tier::inertial;
  file.input.model.drying = model::DryingModel::lumped;
  // Steps are chosen from rounded numbers, so results may differ by the tolerance of the march, not only by rounding.
  file.input.numerics.relative_tolerance = 1e-12;
  // The default law of torn threads holds a length, and an unstated supply is judged against a flow: figures in SI of themselves. The Weber law
  // and a stated supply have none.
  file.input.model.thread_law = model::ThreadLaw::weber;
  file.input.operation.gas_supply_m3_s = 200e-3 / 60.0;
  // What humidity does to threads from water is judged against a room of 40 %, whose air is made from the case, in SI: in that room itself
  // the factor is 1 in any units.
  if (file.input.solution.solvent == "water") file.input.room.relative_humidity = 0.4;
  const engine::Setup setup = engine::resolve(file.input, io::built_in_library());
  const model::Estimate plain = engine::estimate(setup);
  const model::Estimate other = engine::estimate(scaled(setup, units));
  INFO(name << ": unit of mass " << units.mass << ", length " << units.length << ", time " << units.time << "; "
            << plain.reason << "; " << other.reason);
  REQUIRE(plain.status == model::Status::done);
  REQUIRE(other.status == model::Status::done);
  CHECK(other.fibre_class == plain.fibre_class);
  CHECK(other.landing == plain.landing);
  CHECK(other.warnings.size() == plain.warnings.size());

  constexpr double kRelative = 1e-9;
  // The tension left out is integrated from sample to sample of the report, so it hangs on the steps themselves: 2 % more
  // tolerance moves it by 1e-4, rounding in another unit by up to 1.4e-9 (both measured).
  constexpr double kBySamples = 1e-7;
  const auto relative = [](std::string_view what) { return what == "tension_ratio" ? kBySamples : kRelative; };
  // Below this share of its typical size a result is the rest of a difference (solvent left in a dry fibre).
  constexpr double kNothing = 1e-9;
  // Taken from the property list of the fluid, which is a statement in SI and is not scaled.
  const std::set<std::string> stated_in_si{"solution_viscosity_Pa_s"};
  std::size_t compared = 0;
  for (const io::Output& output : io::outputs()) {
    if (stated_in_si.count(std::string(output.column)) != 0) continue;
    const auto before = io::output_value(output, plain);
    const auto after = io::output_value(output, other);
    INFO(output.column);
    CHECK(before.has_value() == after.has_value());
    if (!before || !after) continue;
    const double expected = *before * factor_of(std::string(output.unit), units);
    const double nothing = kNothing * output.typical * factor_of(std::string(output.unit), units);
    CHECK(std::abs(*after - expected) <= relative(output.column) * std::abs(expected) + nothing);
    ++compared;
  }
  CHECK(compared >= 15);  // a dripping case has the fewest results
  REQUIRE(other.groups.size() == plain.groups.size());
  CHECK(plain.groups.size() >= 3);
  for (std::size_t i = 0; i < plain.groups.size(); ++i) {
    INFO(plain.groups[i].key);
    // A dripping case has no jet; the tension of the one that was tried is 1e15 times its momentum, and as ill-conditioned.
    if (plain.fibre_class == model::FibreClass::dripping && plain.groups[i].key == "tension_ratio") continue;
    CHECK_THAT(other.groups[i].value, WithinRel(plain.groups[i].value, relative(plain.groups[i].key)));
  }
}
