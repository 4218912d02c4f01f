#include "jet/thread_search.hpp"

#include <algorithm>

namespace whorl::jet {

ThreadSearch::ThreadSearch(const model::JetContext& jet, const TensionOptions& how) : context(jet), options(how) {
  law.model = how.polymer;
  law.mobility = how.mobility;
  law.extensibility = jet.fluid->extensibility;
}

bool ThreadSearch::exhausted() const {
  return spent > std::min(options.most_newton * options.cells, spend_until) ||
         work.rhs_evaluations > options.most_rates;
}

void ThreadSearch::count(const PathResult& path) {
  work.rhs_evaluations += path.rhs_calls;
  work.steps += path.steps;
  work.rejected += path.rejected;
}

void ThreadSearch::count_newton(int iterations) {
  const auto each = static_cast<std::size_t>(iterations);
  work.newton_iterations += each;
  work.jacobians += each;
  work.factorizations += each;
}

double ThreadSearch::take_up_speed_m_s() const {
  const double turning = context.speed_rad_s * context.collector_radius_m;
  return options.take_up_speed_m_s > 0.0 ? options.take_up_speed_m_s : turning;
}

PathOptions ThreadSearch::path_options(bool go_on) const {
  PathOptions out{options.path_tolerance, options.max_turns, options.freeze_when_solid};
  out.given_until_m = now.cut_m;
  out.go_on = go_on;
  if (options.end == model::JetEnd::taken_up) out.touches = true;
  return out;
}

double ThreadSearch::radius_of(std::size_t node) const {
  return context.outer_radius_m + now.share[node] * (now.end_radius_m - context.outer_radius_m);
}

SpeedField ThreadSearch::speed_before_solid() const {
  std::vector<double> radius = radii(), log_speed = now.state.log_speed;
  if (now.path.solid && radius.size() > 2 * kCellsOfJump) {
    radius.resize(radius.size() - kCellsOfJump);
    log_speed.resize(radius.size());
  }
  return {std::move(radius), std::move(log_speed)};
}

std::vector<double> ThreadSearch::radii() const {
  std::vector<double> r(now.share.size());
  for (std::size_t i = 0; i < r.size(); ++i) r[i] = radius_of(i);
  return r;
}

}  // namespace whorl::jet
