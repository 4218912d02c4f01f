#include "jet/drying_rounds.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "whorl/jet/tension_tolerances.hpp"

namespace whorl::jet {
namespace {

// Own choices: they decide how many times the radius is solved, not what it tends to.
constexpr int kMostTimes = 15, kMostBeyond = 12, kFairBeyond = 4;
constexpr double kTakenOver = 0.01;  // a change that counts as settled once taken over, where nothing confirms it
constexpr double kNextOfTakenOver = 0.1;      // what is left of it on one more path, at most
constexpr double kNearHeadline = 0.02,
                 kNearCompanion = 0.002;  // least change to expect of a history taken from a similar jet
constexpr double kWithinShare = 0.05, kRoughestRounds = 1e-2;   // rounds against what the drying still changes
constexpr double kMarchShare = 1e-3, kRoughestMarch = 1e-4;     // the march over the radius against the same
constexpr double kMarchBeyond = 1e-5;
constexpr double kOtherEnd = 0.5;             // change where one of the two solidifies and the other does not

// The path beyond the thread: of the solid, or without pull beyond a cut (`all`; else up to the cut).
bool go_on(ThreadSearch& search, bool all) {
  ThreadSolution& now = search.now;
  if (now.path.end != PathEnd::solid && !(now.path.end == PathEnd::cut && all)) return true;
  PathResult more;
  if (now.path.end == PathEnd::solid) {
    more = march_solid(search.context, now.path, std::exp(now.state.log_speed.back()), now.surface,
                       search.path_options(all));
    more.step.insert(more.step.begin(), now.path.step.begin(), now.path.step.end());
  } else {
    more = march_path(search.context, search.speed_field(), now.surface, search.path_options(true));
  }
  search.count(more);
  if (more.end == PathEnd::failed) {
    search.trouble = "path beyond the thread: " + more.message;
    return false;
  }
  now.path = std::move(more);
  return true;
}

// A path that stopped at the cut, on to its end.
bool continue_beyond(ThreadSearch& search) {
  PathResult& path = search.now.path;
  if (!path.solid) return go_on(search, true);
  const auto after =
      std::find_if(path.step.begin(), path.step.end(), [&](const auto& s) { return s.from >= path.thread_m; });
  path.step.erase(after, path.step.end());
  path.end = PathEnd::solid;
  return go_on(search, true);
}

DryingResult dry(ThreadSearch& search, const SpeedField& speed, bool beyond, double relative_tolerance) {
  DryingOptions drying;
  drying.cells = search.options.radial_cells;
  drying.relative_tolerance = relative_tolerance;
  drying.freeze_when_solid = search.options.freeze_when_solid;
  DryingResult result = march_drying(search.context, search.now.path, speed, search.path_options(beyond), drying);
  ++search.drying_rounds;
  search.work.rhs_evaluations += result.rhs_calls;
  search.work.steps += result.steps;
  search.work.rejected += result.rejected;
  search.work.jacobians += result.jacobians;
  search.work.factorizations += result.factorisations;
  if (!result.ok) search.trouble = "drying over the radius: " + result.message;
  return result;
}

// By how much the march over the radius differs from what the path carried, as a share.
double difference(const DryingResult& dried, const PathResult& path) {
  if (dried.solid != path.solid) return std::max(dried.off, kOtherEnd);
  if (dried.solid) return std::max(dried.off, std::abs(dried.solid_m - path.solid_m) / path.length_m);
  return dried.off;
}

}  // namespace

bool settle_drying(ThreadSearch& search, const PathAndSpeed& thread, double tolerance, bool confirm) {
  const TensionOptions& options = search.options;
  ThreadSolution& now = search.now;
  if (!options.radial) return thread.settle(tolerance) && go_on(search, false);
  const double aim = of_drying(tolerance, options.path_tolerance);
  double off = 1.0;
  if (search.drying_known) off = std::max(confirm ? kNearHeadline : kNearCompanion, now.drying_off);
  for (int k = 0; k < kMostTimes; ++k) {
    const double within = off < aim ? tolerance : std::clamp(kWithinShare * off, tolerance, kRoughestRounds);
    if (!thread.settle(within) || !go_on(search, false)) return false;
    // rough while it still changes
    const double march = confirm ? std::min(kMarchShare * off, kRoughestMarch) : kRoughestMarch;
    DryingResult result = dry(search, thread.speed(), false, std::max(options.path_tolerance, march));
    if (!result.ok) return false;
    off = now.drying_off = difference(result, now.path);
    const bool fair = (search.exhausted() || k + 1 == kMostTimes) && off < options.fair_tolerance;
    if ((off < aim && within <= tolerance) || fair) {
      now.cells_end_ratio = result.end_solvent_ratio;
      return true;
    }
    if (off >= aim) now.surface = std::move(result.surface);
    if (!confirm && off < kTakenOver) {
      now.drying_off = kNextOfTakenOver * off;
      search.drying_known = true;
      now.cells_end_ratio = result.end_solvent_ratio;
      return thread.settle(tolerance) && go_on(search, false);
    }
  }
  search.trouble = fmt::format("drying over the radius still changes by {:.1e} after {} times on a new path",
                               now.drying_off, kMostTimes);
  return false;
}

bool go_beyond_cut(ThreadSearch& search) {
  const TensionOptions& options = search.options;
  ThreadSolution& now = search.now;
  const PathResult thread = now.path;
  const double aim = of_drying_beyond(options.tolerance, options.path_tolerance);
  for (int k = 0; k < kMostBeyond; ++k) {
    now.path = thread;
    if (!continue_beyond(search)) return false;
    if (!options.radial || now.path.end != PathEnd::collector) return true;  // what does not land is not asked how dry
    const double march = options.confirm_drying ? kMarchBeyond : kRoughestMarch;
    DryingResult result = dry(search, search.speed_field(), true, std::max(options.path_tolerance, march));
    if (!result.ok) return false;
    now.cells_end_ratio = result.end_solvent_ratio;
    now.drying_off = result.off;
    if (result.off < aim || (k >= kFairBeyond && result.off < options.fair_tolerance)) return true;
    if (!options.confirm_drying && result.off < kTakenOver) return true;
    now.surface = std::move(result.surface);
  }
  search.trouble =
      fmt::format("drying over the radius beyond where the tension is solved still changes by {:.1e} after {} times",
                  now.drying_off, kMostBeyond);
  return false;
}

}  // namespace whorl::jet
