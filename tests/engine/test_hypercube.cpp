// Robustness: a Latin hypercube over everything a user may set. 400 points; 5000 with WHORL_FULL=1 in the environment.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include "catch.hpp"
#include "engine/hypercube.hpp"
#include "whorl/engine/estimate.hpp"

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
                                 e.run.polymer_mass_kg, e.jet.air_weber, e.excess_draw, e.jet.budget.gas_J_kg,
                                 e.orifice.critical_layer_m, e.orifice.gas_share, e.orifice.gas_flow_kg_s,
                                 e.run.breakthrough_time_s, e.run.breakthrough_left, e.gas.jet_speed_m_s, e.gas.gas_flow_kg_s,
                                 e.gas.liquid_flow_ratio, e.gas.air_weber, e.gas.run_mean_with_m, e.gas.run_mean_without_m};
  const model::ThreadReport& t = e.threads;
  numbers.insert(numbers.end(), {e.line_diameter_m, e.line_run_mean_m, t.dry_diameter_m, t.wet_diameter_m, t.weber_law_m, t.cascade_law_m, t.threads,
                                 t.carry_speed_m_s, t.flight_time_s, t.solidification_time_s, t.residual_solvent, t.end_temperature_K,
                                 t.lowest_temperature_K, t.capillary_gain, t.levelling_time_s, t.remaining_drying_time_s, t.vapour_fraction,
                                 t.mass_closure, t.momentum_closure, t.energy_closure, t.humidity_factor, e.chance.probability,
                                 e.run.gas_supply_mean_m3_s, e.run.gas_supply_most_m3_s, e.run.share_with_gas, e.run.share_at_full_settings,
                                 e.run.lines.mean_m, e.run.threads.mean_m, e.run.single_low_m, e.run.single_high_m});
  for (const auto& variant : e.gas.variants) {
    numbers.push_back(variant.dry_diameter_m);
    numbers.push_back(variant.end_radius_m);
  }
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

// Means lie between the smallest and the largest of the run, single fibres of 90 % round them; both populations and the heel make the charge;
// chances add up to 1. Empty: all of it holds.
std::string open_account(const model::Estimate& e) {
  const auto off = [](double a, double b, double tolerance) { return !(std::abs(a - b) <= tolerance * std::max(std::abs(a), std::abs(b))); };
  const model::Outcomes& o = e.outcomes;
  if (off(o.even + o.beaded + o.drops + o.wet + o.none, 1.0, 1e-12)) return "chances of what is seen do not add up to 1";
  if (off(e.as_line.probability + e.as_threads.probability, 1.0, 1e-12)) return "chances of the two answers do not add up to 1";
  const model::RunSummary& run = e.run;
  if (run.points.empty()) return {};
  double volume = run.heel_volume_m3;
  for (const auto& point : run.points) volume += point.volume_m3;
  if (off(volume, e.charge.volume_m3, 1e-6)) return "what leaves and the heel are not the charge";
  if (run.dry_diameter_max_m > 0.0) {
    const auto between = [](double low, double x, double high) { return x >= low * (1.0 - 1e-12) && x <= high * (1.0 + 1e-12); };
    if (!between(run.dry_diameter_min_m, run.dry_diameter_mean_m, run.dry_diameter_max_m)) return "mean diameter outside the run";
    if (off(run.lines.length_share + run.threads.length_share, 1.0, 1e-9)) return "length shares do not add up to 1";
    if (off(run.lines.mass_share + run.threads.mass_share, 1.0, 1e-9)) return "mass shares do not add up to 1";
    for (const model::Population* p : {&run.lines, &run.threads})
      if (p->mean_m > 0.0 && (!between(p->least_m, p->mean_m, p->most_m) || !between(p->mean_m, p->mass_mean_m, p->most_m)))
        return "mean of a population outside it";
    if (!(run.single_low_m < run.single_high_m)) return "band of single fibres";
  }
  if (e.threads.predicted && std::max({e.threads.mass_closure, e.threads.momentum_closure, e.threads.energy_closure}) > 1e-6)
    return "balances of the threads";
  return {};
}

void explore(model::Tier tier, std::uint64_t few, double most_unconverged, bool gas = false) {
  const model::Library& library = io::built_in_library();
  const std::vector<const model::Pair*> pairs = testing::Hypercube::pairs_of(library);
  for (const auto& solvent : library.solvents) {
    INFO(solvent.id);
    CHECK(std::any_of(pairs.begin(), pairs.end(), [&](const model::Pair* p) { return p->solvent == solvent.id; }));  // every one takes part
  }
  REQUIRE_FALSE(pairs.empty());

  const char* full = std::getenv("WHORL_FULL");
  const bool is_full = full != nullptr && std::string(full) == "1";
#ifdef NDEBUG
  const std::uint64_t count = is_full ? 5000 : few;
#else
  const std::uint64_t count = is_full ? 5000 : few / 4;  // sanitizers and coverage: 20 to 60 times slower
#endif
  std::size_t blown = 0;
  const testing::Hypercube design(library, count);

  double slowest = 0.0;
  std::size_t most_newton = 0;
  std::vector<std::size_t> newton;
  int threw = 0;
  int not_converged = 0;
  int not_finite = 0;
  int no_reason = 0;
  int open_accounts = 0;
  std::map<std::string, int> classes;
  std::string first_trouble;
  const auto note = [&](std::uint64_t i, const std::string& what) {
    if (first_trouble.size() < 2000) first_trouble += "point " + std::to_string(i) + ": " + what + "\n";
  };
  const auto begin = std::chrono::steady_clock::now();
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    model::CaseInput input = gas ? design.with_gas(i) : design.input(i);
    input.model.tier = tier;
    engine::EstimateOptions options;
    options.run_distribution = tier == model::Tier::inertial;
    if (gas) options.air_variants = options.gas_variants = i % 8 == 0;
    try {
      const auto started = std::chrono::steady_clock::now();
      const model::Estimate e = engine::estimate(input, library, options);
      slowest = std::max(slowest, std::chrono::duration<double>(std::chrono::steady_clock::now() - started).count());
      most_newton = std::max(most_newton, e.jet.work.newton_iterations);
      if (e.jet.work.newton_iterations > 0) newton.push_back(e.jet.work.newton_iterations);
      if (e.orifice.gas_share > 0.0) ++blown;
      if (!all_finite(e)) {
        ++not_finite;
        note(i, "not finite, " + input.solution.polymer + "/" + input.solution.solvent + " " + e.reason);
      }
      if (e.status == model::Status::done) {
        const std::string account = open_account(e);
        if (!account.empty()) {
          ++open_accounts;
          note(i, account);
        }
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
            << most_newton << "; with gas at the start " << blown << '\n' << first_trouble;

  CHECK(threw == 0);
  CHECK(not_finite == 0);
  CHECK(no_reason == 0);
  CHECK(open_accounts == 0);
  CHECK(static_cast<double>(not_converged) <= most_unconverged * static_cast<double>(count));
  if (gas) CHECK(blown > count / 5);
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

TEST_CASE("hypercube with gas along the jets", "[engine][hypercube]") {
  explore(model::Tier::inertial, 200, 0.005, true);
}
