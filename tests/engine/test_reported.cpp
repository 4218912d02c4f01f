// What an estimate reports beside the jet itself, against hand calculation.
#include <algorithm>
#include <cmath>
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/model/radial.hpp"

using namespace whorl;

namespace {

double group(const model::Estimate& e, const std::string& key) {
  const auto it = std::find_if(e.groups.begin(), e.groups.end(), [&](const auto& g) { return g.key == key; });
  REQUIRE(it != e.groups.end());
  return it->value;
}

}  // namespace

TEST_CASE("dry diameter and kinematic bound by hand", "[engine][eq:dry-diameter][eq:kinematic-bound]") {
  // Hand arithmetic: 1 mL/min with 10 % polymer by volume is 1.6667e-9 m3/s of polymer; at 100 m/s that is 16.667 um2, a
  // fibre of 4.6066 um. At 10,000 rpm and a collector radius of 150 mm the collector passes at 157.08 m/s: 3.6756 um.
  const double polymer_flow = 1e-6 / 60.0 * 0.10;
  const engine::Setup setup = engine::resolve(testing::plain_case(), io::built_in_library());
  model::JetContext context = setup.jet_context(1e-8);
  context.polymer_flow_kg_s = polymer_flow * setup.fluid.polymer_density_kg_m3;
  const double area = model::dry_area_m2(context, 100.0);
  CHECK_THAT(area, WithinRel(16.667e-12, 1e-4));
  CHECK_THAT(std::sqrt(4.0 * area / model::kPi), WithinRel(4.6066e-6, 1e-4));
  CHECK_THAT(model::kinematic_bound_m(polymer_flow, 10000.0 * model::kPi / 30.0, 0.150), WithinRel(3.6756e-6, 1e-4));
  CHECK(model::kinematic_bound_m(polymer_flow, 0.0, 0.150) == 0.0);
}

TEST_CASE("a jet without air lands with the diameter of free flight, just above the bound", "[engine][eq:dry-diameter]") {
  // Free flight: u^2 = U^2 + Omega^2 (R_c^2 - R^2), so d_dry = sqrt(4 Q phi/(pi u)) in closed form.
  const model::CaseInput input = testing::plain_case();
  engine::Setup setup = engine::resolve(input, io::built_in_library());
  setup.air.axial_drag_factor = setup.air.cross_drag_factor = 1e-12;
  const auto start = engine::solve_orifice(setup, input.operation.charge_volume_m3);
  const model::JetContext context = setup.jet_context(start.flow.flow_m3_s);
  jet::JetOptions options;
  options.drying = model::DryingModel::lumped;
  options.freeze_when_solid = false;
  options.relative_tolerance = 1e-9;
  const model::Jet jet = jet::solve_inertial_jet(context, options);
  REQUIRE(jet.reached_collector);
  const double omega = input.operation.rotation_speed_rad_s;
  const double rc = setup.collector_radius_m();
  const double r = setup.vessel.outer_radius_m;
  const double u = std::sqrt(std::pow(start.flow.mean_speed_m_s, 2) + omega * omega * (rc * rc - r * r));
  const double polymer = start.flow.flow_m3_s * setup.fluid.initial.concentration_kg_m3 / setup.fluid.polymer_density_kg_m3;
  // 1e-5: gravity adds 2 g z / u^2.
  CHECK_THAT(jet.dry_diameter_m, WithinRel(std::sqrt(4.0 * polymer / (model::kPi * u)), 1e-5));
  CHECK(jet.dry_diameter_m > model::kinematic_bound_m(polymer, omega, rc));
}

TEST_CASE("entanglement number and classes of Shenoy et al.", "[engine][eq:entanglement-number]") {
  // n_e = phi M_w / M_e. Polystyrene, M_e = 13.3 kg/mol in the 4/5 convention or 16.6 kg/mol (Fetters et al. 1994, 1999, from
  // memory): 280 kg/mol at a volume fraction of 0.2 makes 56/M_e, 3.4 to 4.2.
  model::CaseInput input = testing::plain_case(1.0);
  input.solution.polymer = "PS";
  input.solution.solvent = "tetrahydrofuran";
  input.solution.molar_mass_kg_mol = 280.0;
  input.solution.concentration = {model::ConcentrationBasis::volume, 0.20};
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const double ne = setup.fluid.entanglement_number;
  CHECK_THAT(ne * setup.fluid.entanglement_molar_mass_kg_mol, WithinRel(56.0, 1e-12));
  CHECK(ne > 3.3);
  CHECK(ne < 4.3);
  // Once a jet is broken, strain hardening holds it together as beads on a string from an entanglement number of 2 on, and below that it is
  // drops (Shenoy et al. 2005: first fibres at 2). A jet that is not broken is even fibre at any of them. Beads that land liquid, as
  // these do, flow together.
  const auto class_at = [&](double number, double threshold) {
    model::CaseInput other = input;
    other.solution.concentration.value = number * setup.fluid.entanglement_molar_mass_kg_mol / 280.0;
    other.operation.collection_distance_m = 0.15;
    other.operation.gas_overpressure_Pa = 2e5;
    other.vessel.orifice_diameter_m = 0.8e-3;
    other.solution.measured.zero_shear_viscosity_Pa_s = 0.05;
    other.model.breakup_threshold = threshold;
    const model::Estimate e = engine::estimate(other, io::built_in_library());
    REQUIRE(e.status == model::Status::done);
    REQUIRE(e.jet.reached_collector);
    INFO("gain " << e.jet.capillary_gain);
    CHECK((e.jet.capillary_gain > threshold + 3.0) == (threshold < 0.0));  // broken, or far from it
    return e.fibre_class;
  };
  CHECK(class_at(1.5, -20.0) == model::FibreClass::drops);
  CHECK(class_at(1.9, -20.0) == model::FibreClass::drops);
  CHECK(class_at(2.1, -20.0) == model::FibreClass::wet_landing);
  CHECK(class_at(3.6, -20.0) == model::FibreClass::wet_landing);
  for (const double number : {1.5, 2.1, 3.6}) {
    const auto whole = class_at(number, 50.0);
    CHECK((whole == model::FibreClass::continuous || whole == model::FibreClass::wet_landing));
  }
}

TEST_CASE("dimensionless groups are what their definitions say", "[engine][eq:groups]") {
  const double viscosity = 1.0;
  model::CaseInput input = testing::plain_case(viscosity);
  input.operation.gas_overpressure_Pa = 1e5;
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const model::Estimate e = engine::estimate(setup);
  REQUIRE(e.status == model::Status::done);
  const double rho = setup.fluid.initial.density_kg_m3;
  const double sigma = setup.fluid.surface_tension_N_m;
  const double omega = 8000.0 * 2.0 * model::kPi / 60.0;
  const double radius = 0.5 * 50e-3 + 1.5e-3;
  const double d = 0.4e-3;
  const double u = e.orifice.flow_m3_s / (0.25 * model::kPi * d * d);
  CHECK_THAT(group(e, "rossby"), WithinRel(u / (omega * radius), 1e-12));
  CHECK_THAT(group(e, "reynolds"), WithinRel(rho * u * radius / viscosity, 1e-12));
  CHECK_THAT(group(e, "weber"), WithinRel(rho * u * u * d / sigma, 1e-12));
  CHECK_THAT(group(e, "capillary"), WithinRel(viscosity * u / sigma, 1e-12));
  CHECK_THAT(group(e, "ohnesorge"), WithinRel(viscosity / std::sqrt(rho * sigma * 0.5 * d), 1e-12));
  CHECK_THAT(group(e, "bond_rotation"), WithinRel(rho * omega * omega * radius * 0.25 * d * d / sigma, 1e-12));
  CHECK_THAT(group(e, "froude"), WithinRel(omega * std::sqrt(radius / 9.80665), 1e-12));
  CHECK_THAT(group(e, "pressure_share"), WithinRel(1e5 / e.orifice.driving_pressure_Pa, 1e-12));
  // Newtonian pipe: tau_w = 8 eta U / d, so 8 rho U^2 / tau_w = rho U d / eta.
  CHECK_THAT(group(e, "reynolds_orifice"), WithinRel(rho * u * d / viscosity, 1e-9));
  // Newtonian pipe: wall shear rate 8 U / d.
  CHECK_THAT(group(e, "weissenberg_orifice"), WithinRel(setup.fluid.relaxation_time_s * 8.0 * u / d, 1e-9));
  CHECK_THAT(group(e, "draw_ratio"), WithinRel(e.jet.end_speed_m_s / u, 1e-12));
  CHECK_THAT(group(e, "speed_ratio"), WithinRel(e.jet.end_speed_m_s / (omega * setup.collector_radius_m()), 1e-12));
  CHECK_THAT(group(e, "deborah_flight"), WithinRel(setup.fluid.relaxation_time_s / e.jet.flight_time_s, 1e-12));
}

TEST_CASE("tension that the inertial tier leaves out: Trouton's in a liquid that relaxes at once", "[engine][eq:neglected-tension]") {
  // F = 3 eta A du/ds + pi a sigma for a Newtonian thread (Trouton 1906).
  model::CaseInput input = testing::plain_case(1.0);
  input.solution.measured.relaxation_time_s = 1e-9;
  input.room.temperature_K = 295.15;
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  engine::EstimateOptions options;
  options.keep_profile = true;
  options.run_distribution = false;
  const model::Estimate e = engine::estimate(setup, options);
  REQUIRE(e.status == model::Status::done);
  REQUIRE(e.jet.profile.size() > 10);
  double largest = 0.0;
  std::size_t compared = 0;
  bool at_once = true;
  for (std::size_t i = 1; i < e.jet.profile.size(); ++i) {
    const auto& s = e.jet.profile[i];
    if (s.solid) break;
    const double area = 0.25 * model::kPi * s.diameter_m * s.diameter_m;
    const double sigma = model::surface_tension(setup.fluid, s.temperature_K);
    const double solvent = model::solvent_viscosity(setup.fluid, s.temperature_K);
    // chains see the mean rate since the sample before, the solvent the rate here
    const auto& before = e.jet.profile[i - 1];
    const double mean_rate = std::log(s.speed_m_s / before.speed_m_s) / (s.time_s - before.time_s);
    const double trouton = area * 3.0 * ((s.viscosity_Pa_s - solvent) * mean_rate + solvent * s.strain_rate_1_s) +
                           0.5 * model::kPi * s.diameter_m * sigma;
    largest = std::max(largest, std::abs(s.tension_N) / s.momentum_flux_N);
    // Chains of 1 ns still answer with lambda x rate, and lambda grows with the viscosity on drying, by ten decades before the jet is solid:
    // compared while lambda is below 3e-4 of the time in which stretching or drying changes the stress.
    const double phi = s.polymer_volume_fraction;
    const double lambda = model::relaxation_time(setup.fluid, phi, s.temperature_K, s.viscosity_Pa_s - solvent);
    const double drying_rate = std::log(s.viscosity_Pa_s / before.viscosity_Pa_s) / (s.time_s - before.time_s);
    at_once = at_once && lambda * std::max(std::abs(s.strain_rate_1_s), std::abs(drying_rate)) < 3e-4;
    if (!at_once) continue;
    CHECK_THAT(s.tension_N, WithinRel(trouton, 1e-3) || WithinAbs(trouton, 1e-6 * s.momentum_flux_N));
    ++compared;
  }
  CHECK(compared > 50);
  CHECK(e.jet.tension_ratio >= largest * (1.0 - 1e-12));
}

TEST_CASE("a relaxation time of zero is that of a liquid which relaxes at once", "[engine][eq:neglected-tension]") {
  for (const model::Tier tier : {model::Tier::inertial, model::Tier::tension}) {
    const auto relaxes_in = [&](double time_s) {
      model::CaseInput input = testing::plain_case(1.0);
      input.model.tier = tier;
      input.solution.measured.relaxation_time_s = time_s;
      engine::EstimateOptions options;
      options.run_distribution = false;
      return engine::estimate(input, io::built_in_library(), options);
    };
    const auto none = relaxes_in(0.0);
    const auto least = relaxes_in(1e-9);
    REQUIRE(none.status == model::Status::done);
    REQUIRE(least.status == model::Status::done);
    CHECK(none.jet.tension_ratio > 0.0);
    CHECK_THAT(none.jet.tension_ratio, WithinRel(least.jet.tension_ratio, 1e-9));
    CHECK_THAT(none.line_diameter_m, WithinRel(least.line_diameter_m, 1e-9));
    const auto told = std::find_if(none.properties.begin(), none.properties.end(),
                                   [](const model::NamedProperty& p) { return p.key == "relaxation_time"; });
    REQUIRE(told != none.properties.end());
    CHECK(told->property.value == 0.0);  // as it was stated
  }
}

TEST_CASE("a solid outer tenth freezes the draw", "[engine][eq:frozen-draw]") {
  const auto file = io::read_case_file(testing::case_path("pcl-chloroform"));
  const engine::Setup setup = engine::resolve(file.input, io::built_in_library());
  engine::EstimateOptions options;
  options.keep_profile = true;
  options.run_distribution = false;
  const model::Estimate e = engine::estimate(setup, options);
  REQUIRE(e.jet.solidified);
  double frozen = 0.0;
  std::size_t after = 0;
  for (const auto& s : e.jet.profile) {
    if (!s.solid) {
      CHECK(s.arc_length_m <= e.jet.solidification_distance_m * (1.0 + 1e-12));
      continue;
    }
    if (frozen == 0.0) frozen = s.speed_m_s;
    // inextensible: one speed from there on, to the tolerance of the march over the many turns that follow
    CHECK_THAT(s.speed_m_s, WithinRel(frozen, 1e-4));
    ++after;
  }
  CHECK(after > 10);
}
