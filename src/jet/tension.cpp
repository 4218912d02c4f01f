#include "whorl/jet/tension.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "jet/drying_rounds.hpp"
#include "jet/tension_rounds.hpp"
#include "jet/thread_collocated.hpp"
#include "jet/thread_mesh.hpp"
#include "jet/thread_report.hpp"
#include "jet/thread_start.hpp"
#include "whorl/jet/tension_tolerances.hpp"

namespace whorl::jet {
namespace {

// Own choices of how much is tried.
constexpr std::size_t kFinerWork = 6;      // a finer mesh that finds its solution takes a few times the work so far
constexpr std::size_t kFewSteps = 20;      // Newton steps that the work so far counts as at least
constexpr double kSecondOrder = 3.0;       // the finer of two meshes is off by a third of their difference
constexpr double kShorterWays[] = {
    0.6, 0.3};  // shares of the way to where a jet stalls, after TensionOptions::stalled_share

struct Solved {
  model::Jet jet;
  bool smooth{};  // as a thread without memory
};

// Meshes of doubled cells until two agree. False: the first one has no solution; see search.trouble.
bool refine(ThreadSearch& search, MeshFinding& mesh) {
  const TensionOptions& options = search.options;
  const PathAndSpeed thread{[&](double tolerance) { return settle_path_and_speed(search, tolerance); },
                            [&] { return search.speed_before_solid(); }};
  ThreadSolution coarse;
  for (std::size_t cells = options.cells;; cells *= 2) {
    const bool first = cells == options.cells;
    bool last = cells * 2 > options.most_cells || options.mesh_tolerance <= 0.0;
    if (!first) {
      remesh(search, cells);
      // one that does not find it is not tried to the end
      search.spend_until = search.spent + kFinerWork * std::max(search.spent, kFewSteps * cells);
    }
    const double before = first ? 0.0 : search.now.state.log_speed.back();
    const bool counts = !first || last;
    const double tolerance = counts ? options.tolerance : of_first_mesh(options.tolerance);
    if (!settle_drying(search, thread, tolerance, options.confirm_drying && counts)) {
      if (first) {
        search.trouble = "on the mesh of " + std::to_string(cells) + " cells: " + search.trouble;
        return false;
      }
      mesh.remark = "; the mesh of " + std::to_string(cells) + " cells failed (" + search.trouble + ")";
      search.now = coarse;
      return true;
    }
    if (!first) {
      const double change = std::abs(search.now.state.log_speed.back() - before);
      mesh.error = change / (search.now.first_order ? 1.0 : kSecondOrder);
      if (mesh.error < options.mesh_tolerance || search.exhausted()) return true;
    }
    last = last || (search.now.path.cut && !options.refine_cut);
    if (last) return true;
    coarse = search.now;
  }
}

Solved solve(ThreadSearch& search, const model::Jet& start, const TensionMemory* memory) {
  search.work = start.work;
  if (search.options.rule == ThreadRule::automatic) {
    CollocatedThread collocated(search);
    if (collocated.solve(start, memory)) return {report_collocated(search, collocated), true};
  }
  if (memory != nullptr) {
    start_from_memory(search, *memory);
  } else if (!start_from_flight(search, start)) {
    return {not_solved(search, "the inertial start has too few stations")};
  }
  MeshFinding mesh;
  if (!refine(search, mesh)) return {not_solved(search, search.trouble)};
  if (search.now.path.end == PathEnd::cut && !go_beyond_cut(search)) return {not_solved(search, search.trouble)};
  return {report_thread(search, mesh)};
}

// From the solution of a similar jet, which has to arrive where this one does.
model::Jet solve_from_memory(const model::JetContext& context, const TensionOptions& options, const model::Jet& start,
                             TensionMemory& memory) {
  ThreadSearch search(context, options);
  const Solved solved = solve(search, start, &memory);
  const bool reached = memory.reached_collector;
  const bool done = solved.jet.status == model::Status::done;
  const bool same = solved.jet.reached_collector == reached;
  if (done && same) {
    leave_memory(search, solved.smooth, memory);
  } else {
    memory = {};
  }
  if (!done || same) return solved.jet;
  model::Jet again;  // that may come from there
  again.work = solved.jet.work;
  again.reason = "one of two similar jets arrives and the other does not";
  return again;
}

// A free end gains nothing from being pulled: with tension it stalls, too. What is left open is where, and how much.
model::Jet stalled_without_tension(const model::Jet& start, const model::Jet& failed) {
  const std::string text = fmt::format(
      "stalls without tension; the tension left out is up to {:.1e} of the momentum flux, and the thread with it is "
      "not solved (",
      start.tension_ratio);
  model::Jet jet = start;
  jet.work = failed.work;
  jet.convergence = text + failed.reason + ")";
  return jet;
}

}  // namespace

model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options, const model::Jet& start,
                             TensionMemory* memory) {
  if (memory != nullptr && memory->exit_speed_m_s > 0.0) return solve_from_memory(context, options, start, *memory);
  if (start.status != model::Status::done) return start;
  TensionOptions now = options;
  now.refine_cut = options.refine_cut || !start.reached_collector;
  model::Jet jet;
  int tries = 0;
  for (const double share : {options.stalled_share, kShorterWays[0], kShorterWays[1]}) {
    if (++tries > options.stalled_tries) break;
    now.stalled_share = share;
    ThreadSearch search(context, now);
    const model::WorkCounts spent = jet.work;
    const Solved solved = solve(search, start, nullptr);
    jet = solved.jet;
    jet.work.newton_iterations += spent.newton_iterations;
    if (jet.status == model::Status::done && !now.refine_cut && search.now.path.cut && !jet.reached_collector) {
      TensionOptions refined = options;
      refined.refine_cut = true;
      return solve_tension_jet(context, refined, start, memory);
    }
    if (jet.status == model::Status::done) {
      if (memory != nullptr) leave_memory(search, solved.smooth, *memory);
      return jet;
    }
    if (start.reached_collector) return jet;
  }
  return stalled_without_tension(start, jet);
}

}  // namespace whorl::jet
