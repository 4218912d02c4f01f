#include "engine/line_jet.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/classify.hpp"

namespace whorl::engine {

JetOptions jet_options(const Setup& setup) {
  JetOptions options;
  const model::NumericsInput& numerics = setup.input.numerics;
  options.drying = setup.input.model.drying;
  options.relative_tolerance = numerics.relative_tolerance;
  options.radial_cells = static_cast<int>(numerics.radial_cells);
  options.max_turns = numerics.max_turns;
  return options;
}

namespace {

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

}  // namespace

model::Jet solve_jet(const Setup& setup, const model::JetContext& context, const JetOptions& options, TensionMemory& near,
                     bool* fell_back) {
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
    tension.most_rates = 400000;  // fibres that float for 200 turns
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

}  // namespace whorl::engine
