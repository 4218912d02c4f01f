#include "engine/line_jet.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/classify.hpp"
#include "engine/jet_end.hpp"
#include "engine/jet_follow.hpp"

namespace whorl::engine {
namespace {

// The jet as it is without the audit; its balances from a second march, with them alongside: other steps, the same
// tolerance.
model::Jet audited(const model::JetContext& context, JetOptions options) {
  const model::Jet twin = solve_inertial_jet(context, options);
  options.audit = false;
  model::Jet jet = solve_inertial_jet(context, options);
  jet.balances = twin.balances;
  jet.balances_known = twin.balances_known;
  return jet;
}

// `companion`: of a jet over the run or in other air.
TensionOptions tension_options(const model::ModelInput& model, const JetOptions& options, bool companion) {
  TensionOptions tension;
  tension.polymer = model.polymer_stress;
  tension.mobility = model.giesekus_mobility;
  tension.end = model.jet_end == model::JetEnd::caught ? model::JetEnd::free : model.jet_end;
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
  if (companion) {
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
  return tension;
}

// From a neighbouring case, solved to the same tolerance: on the mesh that was fine enough there, which keeps differences between
// neighbours free of what a mesh leaves; and with the work that a near start takes, or it is not near.
void keep_mesh(const TensionMemory& near, TensionOptions& tension) {
  constexpr std::size_t kMostNewton = 400;
  tension.most_newton = std::min(tension.most_newton, kMostNewton);
  if (near.smooth || near.share.size() <= tension.cells) return;
  tension.cells = near.share.size() - 1;
  tension.most_cells = tension.cells;
}

}  // namespace

JetOptions jet_options(const Setup& setup) {
  JetOptions options;
  const model::NumericsInput& numerics = setup.input.numerics;
  options.drying = setup.input.model.drying;
  options.relative_tolerance = numerics.relative_tolerance;
  options.radial_cells = static_cast<int>(numerics.radial_cells);
  options.max_turns = numerics.max_turns;
  return options;
}

model::Jet solve_jet(const Setup& setup, const model::JetContext& context, const JetOptions& options, TensionMemory& near,
                     bool* fell_back) {
  const model::ModelInput& model = setup.input.model;
  // what a caught jet would do with a free end is a result of the first one, and asks for the free one first
  if (fell_back != nullptr && model.jet_end == model::JetEnd::caught && (near.taken_up || near.held_by_balance)) near = {};
  if (model.tier == model::Tier::inertial)
    return options.audit ? audited(context, options) : solve_inertial_jet(context, options);

  const bool may_catch = model.jet_end == model::JetEnd::caught;
  TensionOptions tension = tension_options(model, options, fell_back == nullptr);
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
  JetOptions start_options = options;
  start_options.keep_profile = true;
  start_options.audit = false;  // this tier closes its balances in any case
  const bool stand_in = model.on_tension_failure == model::OnTensionFailure::inertial;
  if (may_catch && (near.taken_up || near.held_by_balance)) {
    jet = held_like(context, tension, start_options, stand_in, near);
    if (!options.keep_profile) jet.profile.clear();
    return jet;
  }
  if (near.exit_speed_m_s > 0.0) {
    if (fell_back != nullptr) keep_mesh(near, tension);
    else near.pull_slope = 0.0;  // of a jet that may be far from this one
    from({});
    if (fell_back != nullptr && !done()) {  // from nothing, as if there were no neighbour
      near = {};
      tension = allowed;
    }
  }
  model::Jet start, layered;
  if (!done() && tension.radial) {
    // Well mixed is near enough for a start, and many times cheaper; a jet that only stalls in one of the two
    // is looked at again.
    start_options.drying = model::DryingModel::lumped;
    start = solve_inertial_jet(context, start_options);
    from(start);
    if (done() && jet.reached_collector != start.reached_collector) {
      near = {};
      jet.status = model::Status::not_converged;
      jet.reason = "tension: well mixed and layered, the start does not agree with the thread whether it arrives";
    }
    start_options.drying = model.drying;
  }
  if (!done()) {
    layered = solve_inertial_jet(context, start_options);
    // no second start where the first one took the work that is allowed
    if (fell_back == nullptr ? tension.most_newton > 100 : jet.work.newton_iterations < tension.most_newton / 2) {
      if (fell_back != nullptr) tension.most_newton /= 2;
      from(layered);
    }
    if (!tension.radial) start = layered;
  }
  const bool arrives = done() ? jet.reached_collector : layered.reached_collector;
  if (fell_back != nullptr && may_catch && arrives && (!done() || jet.pulled_until_m > 0.0)) {
    model::Jet followed = follow_from_richer(context, allowed, start_options, near);
    followed.work.newton_iterations += jet.work.newton_iterations;
    followed.work.rhs_evaluations += jet.work.rhs_evaluations;
    if (followed.status == model::Status::done) jet = std::move(followed);
    else jet.work = followed.work;
  }
  if (may_catch && arrives)
    jet = caught_jet(context, allowed, {jet, start, layered, start_options, stand_in}, near);
  if (model.jet_end == model::JetEnd::taken_up) jet = surely_held(context, std::move(jet), layered, stand_in);
  if (!done() && layered.status == model::Status::done && stand_in) {
    if (fell_back != nullptr) *fell_back = true;
    layered.convergence = "inertial tier in its place: " + jet.reason;
    jet = std::move(layered);
  }
  if (options.audit && done() && !jet.balances_known) {  // flies without pull
    start_options.audit = true;
    const model::Jet twin = solve_inertial_jet(context, start_options);
    jet.balances = twin.balances;
    jet.balances_known = twin.balances_known;
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
