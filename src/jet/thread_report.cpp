#include "jet/thread_report.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "jet/thread_samples.hpp"
#include "jet/thread_work.hpp"
#include "solver/collocation.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

constexpr double kHeatScale_K = 100.0;  // the energy balance is held against this warming of the charge

// What a method gives to the rest of the report.
struct Finding {
  const std::vector<JetSample>& samples;
  model::ForceBudget budget;
  std::size_t nodes{};
  double orifice_viscous_N{};
  std::string method;  ///< how it was solved
  MeshFinding mesh;
};

double momentum_left(const ThreadSearch& search, const model::ForceBudget& b) {
  const double size = search.context.exit_speed_m_s + search.context.speed_rad_s * search.context.collector_radius_m;
  return std::abs(b.total_J_kg - b.centrifugal_J_kg - b.gravity_J_kg - b.air_drag_J_kg - b.gas_J_kg - b.viscous_J_kg -
                  b.elastic_J_kg - b.surface_tension_J_kg - b.solid_constraint_J_kg) /
         (size * size);
}

void close_balances(const ThreadSearch& search, model::Jet& jet) {
  const model::Fluid& fluid = *search.context.fluid;
  const PathResult& path = search.now.path;
  const double start = fluid.initial.solvent_ratio;
  const P::Array& end = path.at_end;
  const double ratio = end[P::kSolvent];
  jet.balances.momentum = momentum_left(search, jet.budget);
  const double heat_scale = kHeatScale_K * (fluid.polymer_heat_capacity + start * fluid.solvent_heat_capacity);
  const double enthalpy = (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity) *
                          (end[P::kTemperature] - fluid.charge_temperature_K);
  jet.balances.energy = std::abs(enthalpy - end[P::kHeatGained]) / heat_scale;
  jet.balances.solvent = std::abs(start - ratio - end[P::kEvaporated]) / start;
  if (search.options.radial && (!path.cut || path.end == PathEnd::collector)) {
    // solvent left in the cells against the mean that the path carries
    jet.balances.solvent = std::max(jet.balances.solvent, std::abs(search.now.cells_end_ratio - ratio) / start);
  }
  const double area = 0.25 * model::kPi * jet.wet_diameter_m * jet.wet_diameter_m;
  const double dry = std::max(ratio, 0.0);
  jet.balances.polymer = std::abs(area * model::mixture_density(fluid, dry) * jet.end_speed_m_s / (1.0 + dry) /
                                      search.context.polymer_flow_kg_s -
                                  1.0);
  jet.balances_known = true;
}

std::string how_it_ended(const ThreadSearch& search) {
  const PathResult& path = search.now.path;
  switch (path.end) {
    case PathEnd::collector: return "reached the collector";
    case PathEnd::inward:
      return fmt::format("stalled: stopped by the air at radius {}", millimetres(path.at_end[P::kRadius]));
    case PathEnd::fallen: return fmt::format("fell {:.0f} mm before reaching the collector", -1e3 * path.at_end[P::kZ]);
    default:
      return fmt::format("stalled: floats round the vessel at radius {} after {:.0f} turns",
                         millimetres(path.at_end[P::kRadius]),
                         path.at_end[P::kTime] * search.context.speed_rad_s / (2.0 * model::kPi));
  }
}

std::string how_it_converged(const ThreadSearch& search, const Finding& found) {
  const ThreadSolution& now = search.now;
  std::string out = found.method;
  if (found.mesh.error >= 0.0) {
    out += fmt::format("; mesh error of the line speed about {} %", number_text(100.0 * found.mesh.error, 1));
  }
  if (search.options.radial) {
    out += fmt::format("; drying over the radius solved on {} path{}, agrees to {:.0e}", search.drying_rounds,
                       search.drying_rounds == 1 ? "" : "s", now.drying_off);
  }
  if (now.path.cut) {
    out += fmt::format(
        "; the thread is solved to radius {:.0f} mm with a free end there, short of where it stalls: beyond, without "
        "tension",
        1e3 * now.end_radius_m);
  }
  return out.substr(out.find_first_not_of("; ")) + found.mesh.remark;
}

// What follows from the places along the jet and the work done on it.
model::Jet finish(ThreadSearch& search, const Finding& found, model::Jet jet) {
  search.work.mesh_nodes = found.nodes;
  jet.work = search.work;
  JetOptions report;
  report.keep_profile = search.options.keep_profile;
  report.relative_tolerance = search.options.path_tolerance;  // of the march that the places come from
  report_jet(search.context, report, found.samples, jet);
  model::ForceBudget budget = found.budget;
  budget.gas_J_kg = jet.budget.gas_J_kg;  // parted from the drag of the room air by the report
  budget.air_drag_J_kg -= budget.gas_J_kg;
  jet.budget = budget;
  close_balances(search, jet);
  const double all = jet.dry_diameter_m + jet.capillary_gain + jet.end_temperature_K + jet.tension_ratio;
  if (!std::isfinite(all + found.orifice_viscous_N)) return not_solved(search, "the jet's report is not finite");
  jet.status = model::Status::done;
  jet.reached_collector = search.now.path.end == PathEnd::collector;
  jet.reason = how_it_ended(search);
  jet.convergence = how_it_converged(search, found);
  if (search.now.path.cut) jet.pulled_until_m = search.now.end_radius_m;
  return jet;
}

// Stations of the nodes, with stress and pull as solved.
void add_thread(const ThreadSearch& search, const std::vector<ThreadForces>& face, double orifice_force_N,
                ThreadSamples& samples) {
  const ThreadSolution& now = search.now;
  const std::vector<model::ThreadStation>& station = now.problem.station;
  const std::size_t n = now.cells();
  const auto total = [](const ThreadForces& f) { return f.viscous + f.elastic + f.surface; };
  const auto pull_at = [&](std::size_t i, double u) {
    if (i == 0) return orifice_force_N;
    if (i < n) return 0.5 * (total(face[i]) + total(face[i + 1]));
    return now.problem.end.taken_up ? total(face[n]) : model::end_pull(now.problem.end, station[n], u);
  };
  samples.all.reserve(n + 1 + 4 * now.path.step.size());
  for (std::size_t i = 0; i <= n; ++i) {
    PathResult::Place place{0.0, now.path.at_thread_end};
    if (i == 0) place.state = now.path.step.front().state[0];
    if (i > 0 && i < n) place = now.path.at_radius(search.radius_of(i));
    place.arc_m = station[i].arc_m;
    const double u = std::exp(now.state.log_speed[i]);
    JetSample sample = sample_at(search.context, now.surface, place, u);
    sample.chain_stress_Pa =
        station[i].modulus_Pa * model::chains(search.law, now.state.pull[i], now.state.waist[i]).stretch;
    const std::size_t a = i > 0 ? i - 1 : 0, b = std::min(i + 1, n);
    sample.strain_rate_1_s =
        u * (now.state.log_speed[b] - now.state.log_speed[a]) / (station[b].arc_m - station[a].arc_m);
    sample.tension_N = pull_at(i, u);
    samples.add(sample, place.state);
  }
}

void note_solidification(const ThreadSearch& search, model::Jet& jet) {
  const PathResult& path = search.now.path;
  if (!path.solid && !path.later_solid) return;
  jet.solidified = true;
  const model::Fluid& fluid = *search.context.fluid;
  const double phi = model::polymer_volume_fraction(fluid, std::max(path.at_solid[P::kSolvent], 0.0));
  const bool crystals = model::solidifies_by_crystallisation(fluid, phi, path.at_solid[P::kTemperature]);
  jet.solidification_kind = crystals ? "crystallised" : "vitrified";
}

// Stations of the points of the mesh; forces of the surface and of the chains there.
struct PointForces {
  std::vector<double> per_flow;  // u/m
  std::vector<double> surface, chains;
};
PointForces add_points(const ThreadSearch& search, const CollocatedThread& solved, ThreadSamples& samples) {
  const PathResult& path = search.now.path;
  const SmoothThread& thread = solved.thread();
  const std::size_t n = thread.radius.size();
  PointForces out;
  for (std::size_t i = 0; i < n; ++i) {
    PathResult::Place place{path.thread_m, path.at_thread_end};
    if (i == 0) place = {0.0, path.step.front().state[0]};
    if (i > 0 && i + 1 < n) place = path.at_radius(thread.radius[i]);
    const SmoothStation& at = solved.stations()[i];
    const double u = std::exp(thread.log_speed[i]);
    const double volume = at.flow_kg_s / at.density_kg_m3;
    JetSample sample = sample_at(search.context, search.now.surface, place, u);
    sample.strain_rate_1_s = u * place.state[P::kTr] * thread.log_speed_slope[i];
    const double eta_p = at.viscosity_Pa_s * (1.0 - at.solvent_share);
    sample.chain_stress_Pa = 3.0 * eta_p * sample.strain_rate_1_s;
    sample.tension_N = thread.force[i];
    samples.add(sample, place.state);
    out.per_flow.push_back(u / at.flow_kg_s);
    out.surface.push_back(at.surface_tension_N_m * std::sqrt(model::kPi * volume / u));
    out.chains.push_back(volume / u * sample.chain_stress_Pa);
  }
  return out;
}

// Work of the pull, integrated as the collocation does; of surface and chains, by trapezoids.
model::ForceBudget work_of_points(const ThreadSearch& search, const SmoothThread& thread, const PointForces& at) {
  model::ForceBudget budget;
  const std::size_t n = thread.radius.size();
  const auto& table = solver::lobatto::table();
  double pull = 0.0;
  for (std::size_t c = 0; c < thread.cells(); ++c) {
    const double h = thread.radius[3 * c + 3] - thread.radius[3 * c];
    for (std::size_t k = 0; k < 4; ++k)
      pull += h * table.to[3][k] * at.per_flow[3 * c + k] * thread.force_slope[3 * c + k];
  }
  for (std::size_t i = 1; i < n; ++i) {
    const double mean = 0.5 * (at.per_flow[i] + at.per_flow[i - 1]);
    budget.surface_tension_J_kg += mean * (at.surface[i] - at.surface[i - 1]);
    budget.elastic_J_kg += mean * (at.chains[i] - at.chains[i - 1]);
  }
  budget.viscous_J_kg = pull - budget.surface_tension_J_kg - budget.elastic_J_kg;
  const PathState::Array& end = search.now.path.at_end;
  const double omega = search.context.speed_rad_s;
  const double r = thread.radius.back(), r0 = thread.radius.front();
  budget.centrifugal_J_kg = 0.5 * omega * omega * (r * r - r0 * r0);
  budget.gravity_J_kg = -search.context.gravity_m_s2 * end[P::kZ];
  budget.air_drag_J_kg = end[P::kDragWork];
  const double u = std::exp(thread.log_speed.back()), u0 = search.context.exit_speed_m_s;
  budget.total_J_kg = 0.5 * (u * u - u0 * u0);
  return budget;
}

}  // namespace

model::Jet not_solved(const ThreadSearch& search, const std::string& why) {
  model::Jet failed;
  failed.work = search.work;
  failed.reason = "tension: " + why;
  return failed;
}

model::Jet report_thread(ThreadSearch& search, const MeshFinding& mesh) {
  const ThreadSolution& now = search.now;
  const std::size_t n = now.cells();
  Thread thread(now.problem);
  thread.set_weights(now.weights);
  const std::vector<ThreadForces> face = thread.forces(now.state);
  ThreadWork work = work_along(search, face);
  ThreadSamples samples(search);
  add_thread(search, face, work.orifice_force_N, samples);
  model::Jet jet;
  note_solidification(search, jet);
  if (now.path.solid || now.path.cut) {
    const model::ThreadStation& end = now.problem.station[n];
    const double u = std::exp(now.state.log_speed[n]);
    samples.add_beyond(end.flow_kg_s, u, model::surface_pull(end, u));
    add_work_of_solid(search, work.budget);
  }
  const std::string method =
      fmt::format("{}; {} rounds of path and speed, which agree to {:.0e}",
                  now.first_order ? " (first-order mesh rule: speed jumps)" : "", search.rounds, now.change);
  return finish(search, {samples.all, work.budget, n + 1, work.orifice_viscous_N, method, mesh}, std::move(jet));
}

model::Jet report_collocated(ThreadSearch& search, const CollocatedThread& solved) {
  const SmoothThread& thread = solved.thread();
  ThreadSamples samples(search);
  const PointForces at = add_points(search, solved, samples);
  const model::ForceBudget budget = work_of_points(search, thread, at);
  const std::string method = fmt::format(
      "; thread without memory: collocation of order six on {} cells, direction, speed and tension together; {} rounds",
      thread.cells(), search.rounds);
  return finish(search, {samples.all, budget, thread.radius.size(), thread.force.front(), method, {thread.error, {}}},
                {});
}

}  // namespace whorl::jet
