// Robustness: a Latin hypercube over everything a user may set. 400 points; 5000 with WHORL_FULL=1 in the environment.
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "engine/design.hpp"
#include "engine/estimate.hpp"

using namespace whorl;

namespace {

bool all_finite(const model::Estimate& e) {
  std::vector<double> numbers = {e.dry_diameter_m, e.kinematic_bound_m, e.entanglement_number, e.charge.layer_thickness_m,
                                 e.orifice.driving_pressure_Pa, e.orifice.flow_m3_s, e.orifice.reynolds, e.orifice.weber,
                                 e.orifice.critical_weber, e.orifice.wall_stress_Pa, e.jet.end_radius_m, e.jet.end_speed_m_s,
                                 e.jet.wet_diameter_m, e.jet.dry_diameter_m, e.jet.end_temperature_K,
                                 e.jet.lowest_temperature_K, e.jet.residual_solvent, e.jet.surface_residual_solvent,
                                 e.jet.capillary_gain, e.jet.tension_ratio, e.jet.flight_time_s, e.jet.path_length_m,
                                 e.jet.evaporated_kg_s, e.jet.levelling_time_s, e.jet.remaining_drying_time_s,
                                 e.jet.dew_margin_K, e.jet.budget.total_J_kg, e.run.run_time_s, e.run.emptied_fraction,
                                 e.run.heel_volume_m3, e.run.dry_diameter_mean_m, e.run.dry_diameter_sd_m,
                                 e.run.polymer_mass_kg};
  for (const auto& group : e.groups) numbers.push_back(group.value);
  for (const auto& point : e.run.points) {
    numbers.push_back(point.time_s);
    numbers.push_back(point.dry_diameter_m);
    numbers.push_back(point.fibre_length_weight);
  }
  for (const double value : numbers) {
    if (!std::isfinite(value)) return false;
  }
  return true;
}

void explore(model::Tier tier, std::uint64_t few, double most_unconverged) {
  const model::Library& library = io::built_in_library();
  std::vector<const model::Pair*> pairs;
  for (const auto& solvent : library.solvents) {
    std::size_t before = pairs.size();
    for (const auto& pair : library.pairs) {
      if (pair.soluble && pair.solvent == solvent.id && library.polymer(pair.polymer) != nullptr) pairs.push_back(&pair);
    }
    INFO(solvent.id);
    CHECK(pairs.size() > before);  // every solvent takes part
  }
  REQUIRE_FALSE(pairs.empty());

  const char* full = std::getenv("WHORL_FULL");
  const bool is_full = full != nullptr && std::string(full) == "1";
  const std::uint64_t count = is_full ? 5000 : few;
  using engine::Axis;
  using engine::Spacing;
  const auto range = [](double from, double to, Spacing spacing = Spacing::linear) {
    Axis axis;
    axis.from = from;
    axis.to = to;
    axis.spacing = spacing;
    return axis;
  };
  Axis pair_axis = range(0.0, static_cast<double>(pairs.size() - 1));
  pair_axis.whole = true;
  const std::vector<Axis> axes = {range(0.0, 40000.0),                          // rpm
                                  range(0.0, 0.6e6),                            // Pa
                                  range(1e-3, 1e3, Spacing::logarithmic),       // Pa s
                                  range(0.1e-3, 2e-3, Spacing::logarithmic),    // orifice, m
                                  pair_axis, range(0.0, 0.95),                  // humidity
                                  range(0.02, 0.30),                            // polymer mass fraction
                                  range(0.03, 0.5),                             // collection distance, m
                                  range(10e-6, 45e-6),                          // charge, m3 (vessel holds 49 mL)
                                  range(20.0, 2000.0, Spacing::logarithmic),    // kg/mol
                                  range(0.0, 1.0)};                             // swirl of the air
  const engine::Design design(engine::DesignKind::latin_hypercube, axes, count, 20240607);

  double slowest = 0.0;
  std::size_t most_newton = 0;
  std::vector<std::size_t> newton;
  int threw = 0;
  int not_converged = 0;
  int not_finite = 0;
  int no_reason = 0;
  std::map<std::string, int> classes;
  std::string first_trouble;
  const auto note = [&](std::uint64_t i, const std::string& what) {
    if (first_trouble.size() < 2000) first_trouble += "point " + std::to_string(i) + ": " + what + "\n";
  };
  const auto begin = std::chrono::steady_clock::now();
  std::array<double, 11> v{};
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    design.point(i, v);
    const model::Pair& pair = *pairs[static_cast<std::size_t>(v[4])];
    model::CaseInput input = testing::plain_case(v[2]);
    input.solution.measured.shear_model = model::ShearModel::automatic;
    input.solution.polymer = pair.polymer;
    input.solution.solvent = pair.solvent;
    input.solution.molar_mass_kg_mol = v[9];
    input.solution.concentration.value = v[6];
    input.vessel.orifice_diameter_m = v[3];
    input.operation.rotation_speed_rad_s = v[0] * 2.0 * model::kPi / 60.0;
    input.operation.gas_overpressure_Pa = v[1];
    input.operation.charge_volume_m3 = v[8];
    input.operation.collection_distance_m = v[7];
    input.room.relative_humidity = v[5];
    input.model.tier = tier;
    engine::EstimateOptions options;
    options.run_distribution = tier == model::Tier::inertial;
    input.room.air_swirl = v[10];
    input.model.drying = i % 2 == 0 ? model::DryingModel::lumped : model::DryingModel::radial;
    try {
      const auto started = std::chrono::steady_clock::now();
      const model::Estimate e = engine::estimate(input, library, options);
      slowest = std::max(slowest, std::chrono::duration<double>(std::chrono::steady_clock::now() - started).count());
      most_newton = std::max(most_newton, e.jet.work.newton_iterations);
      if (e.jet.work.newton_iterations > 0) newton.push_back(e.jet.work.newton_iterations);
      if (!all_finite(e)) {
        ++not_finite;
        note(i, "not finite, " + pair.polymer + "/" + pair.solvent + " " + e.reason);
      }
      if (e.status == model::Status::done) {
        ++classes[model::to_string(e.fibre_class)];
        if (e.decided_by.empty()) {
          ++no_reason;
          note(i, std::string("no reason for class ") + model::to_string(e.fibre_class));
        }
      } else {
        ++not_converged;
        note(i, "not converged: " + e.reason);
        if (e.reason.empty()) ++no_reason;
      }
    } catch (const std::exception& error) {
      ++threw;
      note(i, std::string("threw: ") + error.what());
    }
  }
  const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  std::cout << "hypercube: " << count << " points in " << seconds << " s; exceptions " << threw << ", not finite "
            << not_finite << ", not converged " << not_converged << ";";
  for (const auto& [name, n] : classes) std::cout << ' ' << name << ' ' << n;
  std::sort(newton.begin(), newton.end());
  std::cout << "; slowest " << slowest << " s; Newton steps: median " << (newton.empty() ? 0 : newton[newton.size() / 2]) << ", most "
            << most_newton << '\n' << first_trouble;

  CHECK(threw == 0);
  CHECK(not_finite == 0);
  CHECK(no_reason == 0);
  CHECK(static_cast<double>(not_converged) <= most_unconverged * static_cast<double>(count));
  // A design this wide that met fewer than five classes would not test the classification.
  CHECK(classes.size() >= 5);
}

}  // namespace

TEST_CASE("hypercube: every corner of the input space ends in a class or in a reason", "[engine][hypercube]") {
  explore(model::Tier::inertial, 400, 0.005);
}

TEST_CASE("hypercube with tension: at least 99 in 100 end in a class", "[engine][hypercube]") {
  explore(model::Tier::tension, 300, 0.01);
}
