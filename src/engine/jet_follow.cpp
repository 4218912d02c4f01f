#include "engine/jet_follow.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whorl::engine {
namespace {

model::JetContext with_flow(model::JetContext context, double factor) {
  context.exit_speed_m_s *= factor;
  context.polymer_flow_kg_s *= factor;
  return context;
}

bool whole(const model::Jet& jet) {
  return jet.status == model::Status::done && jet.reached_collector && jet.pulled_until_m == 0.0;
}

}  // namespace

model::Jet follow_from_richer(const model::JetContext& context, const jet::TensionOptions& options,
                              const jet::JetOptions& flight_options, jet::TensionMemory& memory) {
  jet::TensionOptions on_the_way = options;
  on_the_way.mesh_tolerance = 0.0;
  on_the_way.confirm_drying = false;
  on_the_way.tolerance = std::max(options.tolerance, 1e-4);
  on_the_way.keep_profile = false;
  on_the_way.most_newton = std::min<std::size_t>(options.most_newton, 800);
  on_the_way.stalled_tries = 1;
  jet::JetOptions start_options = flight_options;
  start_options.drying = model::DryingModel::lumped;
  start_options.keep_profile = true;

  model::WorkCounts work;
  model::Jet jet;
  jet::TensionMemory near;
  for (const double factor : {kRicherFlow, std::sqrt(kRicherFlow), 1.0}) {
    const model::JetContext richer = with_flow(context, factor);
    model::Jet start;
    if (!(near.exit_speed_m_s > 0.0)) start = jet::solve_inertial_jet(richer, start_options);
    jet = jet::solve_tension_jet(richer, factor > 1.0 ? on_the_way : options, start, &near);
    work.newton_iterations += jet.work.newton_iterations;
    work.rhs_evaluations += jet.work.rhs_evaluations;
    if (!whole(jet)) {
      jet.status = model::Status::not_converged;
      break;
    }
  }
  jet.work = work;
  if (whole(jet)) memory = std::move(near);
  return jet;
}

}  // namespace whorl::engine
