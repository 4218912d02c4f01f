#include "jet/thread_work.hpp"

#include <cmath>

namespace whorl::jet {
namespace {

using P = PathState;

double height_of(const ThreadSearch& search, std::size_t i) {
  const PathResult& path = search.now.path;
  if (i == 0) return 0.0;
  return i == search.now.cells() ? path.at_thread_end[P::kZ] : path.at_radius(search.radius_of(i)).state[P::kZ];
}

}  // namespace

ThreadWork work_along(const ThreadSearch& search, const std::vector<ThreadForces>& face) {
  const std::size_t n = search.now.cells();
  const ThreadProblem& problem = search.now.problem;
  const std::vector<model::ThreadStation>& station = problem.station;
  std::vector<double> u(n + 1);
  for (std::size_t i = 0; i <= n; ++i) u[i] = std::exp(search.now.state.log_speed[i]);
  const double end_force = model::end_pull(problem.end, station[n], u[n]);
  const double end_surface = model::surface_pull(station[n], u[n]);
  ThreadWork out;
  model::ForceBudget& budget = out.budget;
  for (std::size_t i = 0; i <= n; ++i) {
    const double m = station[i].flow_kg_s;
    const double from = i == 0 ? u[0] : face[i].carried;
    const double to = i == n ? u[n] : face[i + 1].carried;
    const double per = 0.5 * (from + to) / m;
    const double width = 0.5 * ((i > 0 ? station[i].arc_m - station[i - 1].arc_m : 0.0) +
                                (i < n ? station[i + 1].arc_m - station[i].arc_m : 0.0));
    const double body = width * m * station[i].push_m_s2 / u[i];
    const double drag = width * model::thread_drag(*search.context.air, station[i], u[i]);
    const double z0 = i == 0 ? 0.0 : 0.5 * (height_of(search, i) + height_of(search, i - 1));
    const double z1 = i == n ? height_of(search, n) : 0.5 * (height_of(search, i + 1) + height_of(search, i));
    const double fall = -search.context.gravity_m_s2 * (z1 - z0);
    budget.gravity_J_kg += fall;
    budget.centrifugal_J_kg += per * body - fall;
    budget.air_drag_J_kg += per * drag;
    ThreadForces before = face[i], after = i < n ? face[i + 1] : ThreadForces{};
    if (i == n) after.surface = end_surface;
    if (i == n && problem.end.taken_up) {
      // the collector pulls what it takes
      after.viscous =
          m * (to - from) - body - drag + before.viscous + before.elastic + before.surface - after.surface;
    }
    if (i == 0) {
      // the balance of the half cell at the orifice gives the pull there
      before = {};
      before.surface = model::surface_pull(station[0], u[0]);
      before.viscous = after.viscous + after.elastic + after.surface - before.surface - (m * (to - from) - body - drag);
      out.orifice_viscous_N = before.viscous;
      out.orifice_force_N = before.viscous + before.surface;
    }
    budget.viscous_J_kg += per * (after.viscous - before.viscous);
    budget.elastic_J_kg += per * (after.elastic - before.elastic);
    budget.surface_tension_J_kg += per * (after.surface - before.surface);
    if (i == n && !problem.end.taken_up) budget.solid_constraint_J_kg += per * (end_force - end_surface);
  }
  budget.total_J_kg = 0.5 * (u[n] * u[n] - u[0] * u[0]);
  return out;
}

void add_work_of_solid(const ThreadSearch& search, model::ForceBudget& budget) {
  const PathResult& path = search.now.path;
  if (!path.solid) return;
  const double flow = search.now.problem.station.back().flow_kg_s;
  const double body = (path.at_end[P::kBody] - path.at_thread_end[P::kBody]) / flow;
  const double drag = path.at_end[P::kDragWork] - path.at_thread_end[P::kDragWork];
  const double fall = -search.context.gravity_m_s2 * (path.at_end[P::kZ] - path.at_thread_end[P::kZ]);
  budget.gravity_J_kg += fall;
  budget.centrifugal_J_kg += body - fall;
  budget.air_drag_J_kg += drag;
  budget.solid_constraint_J_kg -= body + drag;  // no change of speed in the solid
}

}  // namespace whorl::jet
