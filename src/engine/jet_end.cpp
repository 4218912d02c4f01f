#include "engine/jet_end.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whorl::engine {
namespace {

// Arrived, with its pull in it all the way.
bool whole(const model::Jet& jet) {
  return jet.status == model::Status::done && jet.reached_collector && jet.pulled_until_m == 0.0;
}

bool arrived(const model::Jet& jet) { return jet.status == model::Status::done && jet.reached_collector; }

void add_work(model::WorkCounts& sum, const model::WorkCounts& more) {
  sum.newton_iterations += more.newton_iterations;
  sum.rhs_evaluations += more.rhs_evaluations;
}

// Why a jet that the collector should hold is no answer; one that was solved says how it ended, which is no reason.
std::string why_not_held(const model::Jet& jet) {
  if (jet.status == model::Status::done) return "held, it finds no way on";
  return jet.reason.empty() ? "a similar jet, held, was not solved" : jet.reason;
}

void fail(model::Jet& jet) {
  const std::string why = why_not_held(jet);
  jet.status = model::Status::not_converged;
  jet.reason = why.starts_with("tension: ") ? why : "tension: " + why;
}

}  // namespace

double hold_share(double share_of_free_flight) {
  const double x = std::clamp((kLetGo - share_of_free_flight) / (kLetGo - kCaught), 0.0, 1.0);
  return x * x * (3.0 - 2.0 * x);
}

model::Jet laid_at(const model::JetContext& context, model::Jet flight, double speed_m_s) {
  const double before = flight.end_speed_m_s;
  const double thinner = std::sqrt(before / speed_m_s);
  flight.wet_diameter_m *= thinner;
  flight.dry_diameter_m = std::sqrt(4.0 * model::dry_area_m2(context, speed_m_s) / model::kPi);
  flight.end_speed_m_s = speed_m_s;
  const double work = 0.5 * (speed_m_s * speed_m_s - before * before);
  flight.budget.viscous_J_kg += work;  // of the pull of the collector, in the last stretch
  flight.budget.total_J_kg += work;
  flight.levelling_time_s *= thinner;
  if (!flight.profile.empty()) {
    model::JetStation& last = flight.profile.back();
    last.speed_m_s = speed_m_s;
    last.diameter_m *= thinner;
  }
  flight.held_by_balance = true;
  return flight;
}

model::Jet surely_held(const model::JetContext& context, model::Jet jet, const model::Jet& flight,
                       bool flight_may_stand_in) {
  if (arrived(jet) && jet.pulled_until_m > 0.0) return laid_at(context, std::move(jet), held_speed_m_s(context));
  if (jet.status == model::Status::done || !flight_may_stand_in || !arrived(flight)) return jet;
  model::Jet laid = laid_at(context, flight, held_speed_m_s(context));
  laid.convergence = "held at its end, flight by momentum and air alone: " + jet.reason;
  laid.work = jet.work;
  return laid;
}

model::Jet held_like(const model::JetContext& context, jet::TensionOptions options,
                     const jet::JetOptions& flight_options, bool flight_may_stand_in, jet::TensionMemory& near) {
  const double share = near.take_up_share;
  options.end = model::JetEnd::taken_up;
  options.take_up_speed_m_s = share * held_speed_m_s(context);
  model::Jet jet;
  const jet::TensionMemory before = near;
  if (near.taken_up) jet = jet::solve_tension_jet(context, options, {}, &near);
  if (whole(jet)) return jet;
  if (!flight_may_stand_in) {  // the next one starts where this one did
    near = before;
    fail(jet);
    return jet;
  }
  near = {};
  near.take_up_share = share;
  near.held_by_balance = true;
  const model::WorkCounts work = jet.work;
  jet = jet::solve_inertial_jet(context, flight_options);
  if (arrived(jet)) jet = laid_at(context, std::move(jet), options.take_up_speed_m_s);
  add_work(jet.work, work);
  return jet;
}

model::Jet caught_jet(const model::JetContext& context, const jet::TensionOptions& options, const FreeEnd& known,
                      jet::TensionMemory& near) {
  const bool found = whole(known.jet);
  const double held_speed = held_speed_m_s(context);
  const double held_diameter = std::sqrt(4.0 * model::dry_area_m2(context, held_speed) / model::kPi);
  model::Jet unheld = known.jet;
  if (found) unheld.held_end_dry_diameter_m = held_diameter;
  double hold = 1.0;
  if (found) {
    const double flight = model::free_flight_speed(context.exit_speed_m_s, context.speed_rad_s, context.outer_radius_m,
                                                   context.collector_radius_m);
    hold = hold_share(known.jet.end_speed_m_s / flight);
    if (hold <= 0.0) return unheld;
  }
  jet::TensionOptions held = options;
  held.end = model::JetEnd::taken_up;
  held.refine_cut = !known.flight_may_stand_in;
  held.slow_m_s = 0.0;
  held.take_up_speed_m_s =
      found ? known.jet.end_speed_m_s * std::pow(held_speed / known.jet.end_speed_m_s, hold) : held_speed;

  const auto solved = [&](const model::Jet& flight, model::DryingModel drying) {
    if (flight.status == model::Status::done) return flight;
    jet::JetOptions now = known.options;
    now.drying = drying;
    now.keep_profile = true;
    return jet::solve_inertial_jet(context, now);
  };
  const model::Jet start = solved(known.mixed, model::DryingModel::lumped);
  jet::TensionMemory memory;
  model::Jet jet;
  model::Jet laid;
  if (known.line_alone && known.flight_may_stand_in && hold == 1.0)
    laid = solved(known.flight, known.options.drying);
  const bool by_balance = arrived(laid);
  if (arrived(start) && !by_balance) jet = jet::solve_tension_jet(context, held, start, &memory);
  model::WorkCounts work = known.jet.work;
  add_work(work, jet.work);
  if (!whole(jet)) {
    model::Jet flight = by_balance ? std::move(laid) : solved(known.flight, known.options.drying);
    if (!arrived(flight)) return unheld;
    // a start that dries as the jet does; not where the free end took its work already, nor where the held thread is
    // solved and floats
    if (found && !by_balance && held.radial && jet.status != model::Status::done) {
      memory = {};
      jet = jet::solve_tension_jet(context, held, flight, &memory);
      add_work(work, jet.work);
    }
    if (!whole(jet)) {
      if (!known.flight_may_stand_in) return unheld;
      const std::string why = why_not_held(jet);
      jet = laid_at(context, std::move(flight), held.take_up_speed_m_s);
      jet.convergence = "held at its end, flight by momentum and air alone: " + why;
      memory = {};
      memory.take_up_share = held.take_up_speed_m_s / held_speed;
      memory.held_by_balance = true;
    }
  }
  jet.work = work;
  jet.collector_hold = hold;
  jet.held_end_dry_diameter_m = held_diameter;
  if (found) {
    jet.free_end_speed_m_s = known.jet.end_speed_m_s;
    jet.free_end_dry_diameter_m = known.jet.dry_diameter_m;
  } else {
    jet.free_end_failure = arrived(known.jet) ? "no path was found under its tension" : known.jet.reason;
  }
  near = std::move(memory);
  near.no_free_end = jet.free_end_failure;
  return jet;
}

model::Jet held_neighbour(const model::JetContext& context, const jet::TensionOptions& options,
                          const jet::JetOptions& flight_options, bool flight_may_stand_in, jet::TensionMemory& near) {
  const bool solved = near.taken_up;
  const std::string why = near.no_free_end;
  model::Jet jet = held_like(context, options, flight_options, flight_may_stand_in, near);
  if (solved && (near.held_by_balance || jet.status != model::Status::done)) {
    fail(jet);
    return jet;
  }
  near.no_free_end = why;
  jet.collector_hold = 1.0;
  jet.held_end_dry_diameter_m = std::sqrt(4.0 * model::dry_area_m2(context, held_speed_m_s(context)) / model::kPi);
  jet.free_end_failure = why;
  return jet;
}

}  // namespace whorl::engine
