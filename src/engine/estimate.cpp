#include "engine/estimate.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "engine/classify.hpp"
#include "engine/orifice_flow.hpp"
#include "engine/tension.hpp"

namespace whorl::engine {
namespace {

JetOptions jet_options(const Setup& setup) {
  JetOptions options;
  const model::NumericsInput& numerics = setup.input.numerics;
  options.drying = setup.input.model.drying;
  options.relative_tolerance = numerics.relative_tolerance;
  options.radial_cells = static_cast<int>(numerics.radial_cells);
  options.max_turns = numerics.max_turns;
  return options;
}

// A jet that would land dragged round, as one that the collector holds: where that is solved and arrives, it stands in its place.
void catch_jet(const model::JetContext& context, TensionOptions tension, JetOptions start_options, model::Jet& jet, TensionMemory& near) {
  tension.end = model::JetEnd::taken_up;
  for (const model::DryingModel drying : {model::DryingModel::lumped, model::DryingModel::radial}) {
    if (drying == model::DryingModel::radial && !tension.radial) break;
    start_options.drying = drying;
    TensionMemory held;
    model::Jet caught = solve_tension_jet(context, tension, solve_inertial_jet(context, start_options), &held);
    const bool solved = caught.status == model::Status::done && caught.reached_collector;
    caught.work.newton_iterations += jet.work.newton_iterations;
    caught.work.rhs_evaluations += jet.work.rhs_evaluations;
    jet.work = caught.work;
    if (!solved) continue;
    caught.free_end_speed_m_s = jet.end_speed_m_s;
    caught.free_end_dry_diameter_m = jet.dry_diameter_m;
    jet = std::move(caught);
    near = std::move(held);
    return;
  }
}

// One jet in the tier that was asked for. `fell_back`: set where the inertial tier stands in for the tension tier; none for the
// jets over the run and in other air, which are solved on the first mesh only. `near`: solution of a similar jet, for a start; replaced by
// this one's.
model::Jet solve_jet(const Setup& setup, const model::JetContext& context, const JetOptions& options, TensionMemory& near,
                     bool* fell_back = nullptr) {
  const model::ModelInput& model = setup.input.model;
  if (model.tier == model::Tier::inertial) return solve_inertial_jet(context, options);

  TensionOptions tension;
  tension.polymer = model.polymer_stress;
  tension.mobility = model.giesekus_mobility;
  // a similar jet that was caught is a start for one that is
  const bool may_catch = model.jet_end == model::JetEnd::caught;
  tension.end = may_catch ? (near.taken_up ? model::JetEnd::taken_up : model::JetEnd::free) : model.jet_end;
  tension.radial = model.drying == model::DryingModel::radial;
  tension.radial_cells = static_cast<std::size_t>(options.radial_cells);
  tension.path_tolerance = 0.1 * options.relative_tolerance;  // rounds of path and speed must agree, too
  tension.tolerance = std::clamp(10.0 * tension.path_tolerance, 1e-8, 1e-6);
  tension.mesh_tolerance = std::clamp(100.0 * options.relative_tolerance, 1e-6, 1e-3);
  // who asks for more than usual gets the work for it: shorter steps, finer meshes, more rounds
  const double tighter = std::pow(std::max(1.0, 1e-5 / options.relative_tolerance), 0.25);
  tension.most_newton = static_cast<std::size_t>(static_cast<double>(tension.most_newton) * tighter);
  tension.most_rates = static_cast<std::size_t>(static_cast<double>(tension.most_rates) * tighter);
  tension.max_turns = options.max_turns;
  tension.freeze_when_solid = options.freeze_when_solid;
  tension.keep_profile = options.keep_profile;
  if (fell_back == nullptr) {
    // the mesh leaves some 1e-3
    tension.mesh_tolerance = 0.0;
    tension.confirm_drying = false;
    tension.tolerance = std::max(1e-4, options.relative_tolerance);
    tension.path_tolerance = options.relative_tolerance;
    // up to 17 of them: none may take long; one that would is left out, and said
    tension.most_newton = 800;
    tension.most_rates = 120000;
    tension.stalled_tries = 1;
  }
  const TensionOptions allowed = tension;
  model::Jet jet;
  const auto done = [&] { return jet.status == model::Status::done; };
  const auto from = [&](const model::Jet& start) {
    const model::WorkCounts spent = jet.work;
    jet = solve_tension_jet(context, tension, start, &near);
    if (fell_back == nullptr) {
      tension.most_newton -= std::min(tension.most_newton, jet.work.newton_iterations);
      tension.most_rates -= std::min(tension.most_rates, jet.work.rhs_evaluations);
    }
    jet.work.newton_iterations += spent.newton_iterations;
    jet.work.rhs_evaluations += spent.rhs_evaluations;
  };
  const auto reached = [&] { return done() && jet.reached_collector; };
  if (near.exit_speed_m_s > 0.0) {
    from({});
    if (may_catch && tension.end == model::JetEnd::taken_up && !reached()) {
      jet.status = model::Status::not_converged;
      near = {};
      tension.end = model::JetEnd::free;
      tension.most_newton = allowed.most_newton;  // with its own work
      tension.most_rates = allowed.most_rates;
    }
  }
  JetOptions start_options = options;
  start_options.keep_profile = true;
  if (!done() && tension.radial) {
    // Well mixed is near enough for a start, and many times cheaper; a jet that only stalls in one of the two
    // is looked at again.
    start_options.drying = model::DryingModel::lumped;
    const model::Jet start = solve_inertial_jet(context, start_options);
    from(start);
    if (done() && jet.reached_collector != start.reached_collector) {
      near = {};
      jet.status = model::Status::not_converged;
      jet.reason = "tension: well mixed and layered, the start does not agree with the thread whether it arrives";
    }
    start_options.drying = model.drying;
  }
  if (!done()) {
    model::Jet start = solve_inertial_jet(context, start_options);
    // no second start where the first one took the work that is allowed
    if (fell_back == nullptr ? tension.most_newton > 100 : jet.work.newton_iterations < tension.most_newton / 2) {
      if (fell_back != nullptr) tension.most_newton /= 2;
      from(start);
    }
    if (!done() && start.status == model::Status::done && model.on_tension_failure == model::OnTensionFailure::inertial) {
      if (fell_back != nullptr) *fell_back = true;
      start.convergence = "inertial tier in its place: " + jet.reason;
      jet = std::move(start);
    }
  }
  if (may_catch && tension.end == model::JetEnd::free && reached() &&
      jet.end_speed_m_s < kCaught * model::free_flight_speed(context.exit_speed_m_s, context.speed_rad_s, context.outer_radius_m,
                                                             context.collector_radius_m)) {
    catch_jet(context, allowed, start_options, jet, near);
  }
  if (!options.keep_profile) jet.profile.clear();
  return jet;
}

// A solved jet of the run, as a start for one of similar flow.
struct Solved {
  double flow_m3_s{};
  TensionMemory memory;
};
const TensionMemory& nearest(const std::vector<Solved>& solved, double flow_m3_s, const TensionMemory& other) {
  const TensionMemory* best = &other;
  double least = 1e300;
  for (const Solved& one : solved) {
    const double off = std::abs(std::log(one.flow_m3_s / flow_m3_s));
    if (one.memory.exit_speed_m_s > 0.0 && off < least) {
      least = off;
      best = &one.memory;
    }
  }
  return *best;
}

// Jets over the run: same tier and drying as the first one. The first failure is named; the rest still counts. Returns what was solved.
std::vector<Solved> distribute(const Setup& setup, const RunDown& down, TensionMemory near, model::Estimate& estimate) {
  std::vector<Solved> solved;
  const JetOptions options = jet_options(setup);
  model::RunSummary& run = estimate.run;
  double weight_sum = 0.0;
  double mean = 0.0;
  const model::ModelInput& m = setup.input.model;
  for (std::size_t i = 0; i < run.points.size(); ++i) {
    model::RunPoint& point = run.points[i];
    const model::Jet jet = solve_jet(setup, setup.jet_context(point.orifice), options, near);
    if (m.tier == model::Tier::tension) solved.push_back({point.orifice.flow_m3_s, near});
    point.jet_status = jet.status;
    point.work = jet.work;
    point.reached_collector = jet.reached_collector;
    if (jet.status != model::Status::done) {
      estimate.warnings.push_back({"run-point-not-converged", "One moment of the run did not converge (" + jet.reason +
                                                                  "); it is left out of the distribution."});
      continue;
    }
    const double draw = model::excess_draw(m.excess_draw, m.flapping_draw, jet.air_weber);
    point.excess_draw = draw;
    point.line_speed_m_s = jet.end_speed_m_s * draw;
    point.dry_diameter_m = jet.dry_diameter_m / std::sqrt(draw);
    if (!jet.reached_collector) continue;
    // length of fibre laid while this share of the charge leaves one orifice
    point.fibre_length_weight = down.volume_weights[i] / point.orifice.flow_m3_s * point.line_speed_m_s;
    weight_sum += point.fibre_length_weight;
    mean += point.fibre_length_weight * point.dry_diameter_m;
    if (run.dry_diameter_max_m == 0.0) run.dry_diameter_min_m = point.dry_diameter_m;
    run.dry_diameter_min_m = std::min(run.dry_diameter_min_m, point.dry_diameter_m);
    run.dry_diameter_max_m = std::max(run.dry_diameter_max_m, point.dry_diameter_m);
  }
  if (weight_sum <= 0.0) return solved;
  for (auto& point : run.points) point.fibre_length_weight /= weight_sum;
  run.dry_diameter_mean_m = mean / weight_sum;
  double variance = 0.0;  // in a second pass: the difference of two means of squares would keep half the digits
  for (const auto& point : run.points) {
    const double off = point.dry_diameter_m - run.dry_diameter_mean_m;
    variance += point.fibre_length_weight * off * off;
  }
  run.dry_diameter_sd_m = std::sqrt(variance);
  return solved;
}

double draw_of(const Setup& setup, const model::Jet& jet) {
  return model::excess_draw(setup.input.model.excess_draw, setup.input.model.flapping_draw, jet.air_weber);
}

// `near`: solution of a jet close to this one, by value: each variant starts from the same.
model::AirVariant variant_of(const Setup& setup, const char* key, const char* text, const model::JetContext& context,
                             TensionMemory near) {
  const model::Jet jet = solve_jet(setup, context, jet_options(setup), near);
  model::AirVariant variant;
  variant.key = key;
  variant.text = text;
  variant.status = jet.status;
  variant.reached_collector = jet.reached_collector;
  variant.end_radius_m = jet.end_radius_m;
  variant.turns = jet.turns;
  if (jet.reached_collector) {
    const double draw = draw_of(setup, jet);
    variant.dry_diameter_m = jet.dry_diameter_m / std::sqrt(draw);
    variant.line_speed_m_s = jet.end_speed_m_s * draw;
    variant.residual_solvent = jet.residual_solvent;
  }
  return variant;
}

// What the least known parts of the air do to the first jet: the swirl round the vessel, from none to all, and the axial
// drag, whose published laws differ by 2 to 5.
void vary_air(const Setup& setup, const model::OrificeFlow& flow, const TensionMemory& first, model::Estimate& estimate) {
  struct Change {
    const char* key;
    const char* text;
    double swirl;        // negative: as in the case
    double axial_factor;
  };
  static constexpr Change kChanges[] = {{"still-air", "air still right up to the vessel", 0.0, 1.0},
                                        {"carried-air", "air carried along by the vessel wall", 1.0, 1.0},
                                        {"half-axial-drag", "half the drag along the jet", -1.0, 0.5},
                                        {"double-axial-drag", "twice the drag along the jet", -1.0, 2.0}};
  for (const Change& change : kChanges) {
    model::Air air = setup.air;
    if (change.swirl >= 0.0) air.swirl_speed_rad_s = change.swirl * setup.input.operation.rotation_speed_rad_s;
    air.axial_drag_factor *= change.axial_factor;
    model::JetContext context = setup.jet_context(flow);
    context.air = &air;
    estimate.air_variants.push_back(variant_of(setup, change.key, change.text, context, first));
  }
}

// The gas that breaks through, at the moment when half of the liquid that is left then has gone. With `air_variants` also what it does
// to the jet of that moment and to the distribution over the run, whatever the case says about the headline. `solved`: jets of the run.
void report_gas(const Setup& setup, const OrificeSolution& start, const TensionMemory& near, const std::vector<Solved>& solved,
                const EstimateOptions& options, model::Estimate& estimate) {
  const model::RunSummary& run = estimate.run;
  if (!run.breakthrough) return;
  model::GasReport& gas = estimate.gas;
  gas.predicted = true;
  const model::GasExit exit = model::gas_exit(setup.input.operation.gas_overpressure_Pa, setup.air);
  gas.choked = exit.choked;
  gas.pressure_ratio = exit.pressure_ratio;
  gas.exit_mach = exit.mach;
  gas.exit_temperature_K = exit.temperature_K;
  gas.jet_speed_m_s = exit.jet_speed_m_s;
  gas.open_flow_kg_s = exit.mass_flux_kg_m2_s * model::kPi * setup.vessel.orifice_radius_m * setup.vessel.orifice_radius_m;

  Setup with = setup;
  with.input.model.gas_breakthrough = model::GasBreakthrough::on;
  Setup without = setup;
  without.input.model.gas_breakthrough = model::GasBreakthrough::off;
  const double dry = std::min(model::wetting_volume_m3(setup.vessel, setup.input.operation.rotation_speed_rad_s),
                              start.charge.volume_m3);
  const double volume = 0.5 * (dry + run.breakthrough_left * start.charge.volume_m3);
  const OrificeSolution blown = solve_orifice(with, volume, start.flow.wall_shear_rate_1_s);
  const OrificeSolution full = solve_orifice(without, volume, start.flow.wall_shear_rate_1_s);
  if (blown.status != model::Status::done || full.status != model::Status::done || !(blown.flow.flow_m3_s > 0.0)) return;
  gas.layer_thickness_m = blown.charge.layer_thickness_m;
  gas.gas_share = blown.flow.gas_share;
  gas.gas_flow_kg_s = blown.flow.gas_flow_kg_s;
  const double liquid_diameter = 2.0 * setup.vessel.orifice_radius_m * std::sqrt(1.0 - blown.flow.gas_share);
  gas.air_weber = setup.air.density_kg_m3 * exit.jet_speed_m_s * exit.jet_speed_m_s * liquid_diameter / setup.fluid.surface_tension_N_m;
  gas.liquid_flow_ratio = blown.flow.flow_m3_s / full.flow.flow_m3_s;
  if (!options.air_variants) return;

  const bool is_on = setup.input.model.gas_breakthrough == model::GasBreakthrough::on;
  std::vector<Solved> solved_other;
  if (options.run_distribution) {
    const Setup& other = is_on ? without : with;
    const OrificeSolution other_start = solve_orifice(other, setup.input.operation.charge_volume_m3);
    const RunDown down = run_down(other, other_start, {static_cast<int>(setup.input.numerics.run_points)});
    model::Estimate scratch;
    if (down.status == model::Status::done) {
      scratch.run = down.summary;
      solved_other = distribute(other, down, near, scratch);
    }
    gas.run_mean_with_m = is_on ? run.dry_diameter_mean_m : scratch.run.dry_diameter_mean_m;
    gas.run_mean_without_m = is_on ? scratch.run.dry_diameter_mean_m : run.dry_diameter_mean_m;
    gas.run_time_with_s = is_on ? run.run_time_s : scratch.run.run_time_s;
  }
  const std::vector<Solved>& on = is_on ? solved : solved_other;
  const std::vector<Solved>& off = is_on ? solved_other : solved;
  const TensionMemory& near_full = nearest(off, full.flow.flow_m3_s, near);
  const TensionMemory& near_blown = nearest(on, blown.flow.flow_m3_s, near);
  model::JetContext less_liquid = with.jet_context(blown.flow);
  less_liquid.gas = {};
  gas.variants.push_back(variant_of(without, "orifices-full", "orifices full of liquid", without.jet_context(full.flow), near_full));
  gas.variants.push_back(variant_of(with, "less-liquid", "less liquid, no wind of the gas", less_liquid, near_blown));
  gas.variants.push_back(variant_of(with, "gas-along-jet", "less liquid, gas along the jet", with.jet_context(blown.flow), near_blown));
}

}  // namespace

model::Estimate estimate(const Setup& setup, const EstimateOptions& options) {
  model::Estimate result;
  const model::Fluid& fluid = setup.fluid;
  result.tier = setup.input.model.tier == model::Tier::tension ? "tension" : "inertial";
  result.drying_model = setup.input.model.drying == model::DryingModel::radial ? "radial" : "lumped";
  result.properties = fluid.properties;
  result.warnings = fluid.warnings;
  result.polymer_mass_fraction = fluid.initial.polymer_mass_fraction;
  result.polymer_volume_fraction = fluid.initial.polymer_volume_fraction;
  result.polymer_concentration_kg_m3 = fluid.initial.concentration_kg_m3;
  result.solution_density_kg_m3 = fluid.initial.density_kg_m3;
  result.entanglement_number = fluid.entanglement_number;
  result.excess_draw = setup.input.model.excess_draw;

  const OrificeSolution start = solve_orifice(setup, setup.input.operation.charge_volume_m3);
  result.charge = start.charge;
  result.orifice = start.flow;
  if (start.status != model::Status::done) {
    result.reason = start.reason;
    return result;
  }
  if (!(start.flow.flow_m3_s > 0.0)) {
    result.status = model::Status::done;
    result.reason = start.reason;
    classify(setup, result);
    add_groups(setup, result);
    add_warnings(setup, result);
    return result;
  }

  JetOptions jets = jet_options(setup);
  jets.keep_profile = options.keep_profile;
  jets.audit = options.audit;
  bool fell_back = false;
  TensionMemory near;
  result.jet = solve_jet(setup, setup.jet_context(start.flow), jets, near, &fell_back);
  result.excess_draw = draw_of(setup, result.jet);
  if (fell_back) {
    result.warnings.push_back({"tension-not-converged", "The tension tier did not converge (" + result.jet.convergence +
                                                            "): line speed is overestimated, diameter underestimated."});
  }
  const double polymer_flow = start.flow.flow_m3_s * fluid.initial.concentration_kg_m3 / fluid.polymer_density_kg_m3;
  result.kinematic_bound_m = model::kinematic_bound_m(polymer_flow, setup.input.operation.rotation_speed_rad_s,
                                                      setup.collector_radius_m());
  if (result.jet.status != model::Status::done) {
    // Far below jetting there is no steady jet to march: that is a result, not a failure.
    if (start.flow.weber < start.flow.critical_weber && rotation_bond(setup) <= kThreadBond) {
      result.status = model::Status::done;
      result.reason = "drips";
      classify(setup, result);
      add_groups(setup, result);
      add_warnings(setup, result);
      return result;
    }
    result.reason = result.jet.reason;
    return result;
  }
  result.dry_diameter_m = result.jet.dry_diameter_m / std::sqrt(result.excess_draw);

  const RunDown down = run_down(setup, start, {static_cast<int>(setup.input.numerics.run_points)});
  if (down.status != model::Status::done) {
    result.reason = down.reason;
    return result;
  }
  result.run = down.summary;
  result.status = model::Status::done;
  result.reason = result.jet.reason;
  classify(setup, result);
  // Where nothing leaves as a jet there is none to follow over the run or in other air; one that stalls lays no fibre to distribute.
  EstimateOptions what = options;
  if (result.fibre_class == model::FibreClass::dripping) what.run_distribution = what.air_variants = false;
  if (result.fibre_class == model::FibreClass::stalled) what.run_distribution = false;
  std::vector<Solved> solved;
  if (what.run_distribution) solved = distribute(setup, down, near, result);
  // The run begins with the first jet, which lies outside the points of the quadrature.
  if (model::RunSummary& run = result.run; run.dry_diameter_max_m > 0.0 && result.jet.reached_collector && !fell_back) {
    run.dry_diameter_min_m = std::min(run.dry_diameter_min_m, result.dry_diameter_m);
    run.dry_diameter_max_m = std::max(run.dry_diameter_max_m, result.dry_diameter_m);
  }
  if (what.air_variants) vary_air(setup, start.flow, near, result);
  report_gas(setup, start, near, solved, what, result);
  if (result.fibre_class == model::FibreClass::dripping) result.reason = "drips";
  add_groups(setup, result);
  add_warnings(setup, result);
  return result;
}

model::Estimate estimate(const model::CaseInput& input, const model::Library& library, const EstimateOptions& options) {
  return estimate(resolve(input, library), options);
}

}  // namespace whorl::engine
