#include "jet/drying_rounds.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "solver/anderson.hpp"
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
constexpr double kSameSteps = 1e-3;           // change of the drying from which on the path is marched by new steps
constexpr double kStays = 0.2, kMostStays = 10.0;  // a difference that changes by less than this share of it, if small
constexpr double kNearNeighbour = 5e-4, kWithinNeighbour = 0.02;  // the first two for a neighbour on the same mesh
constexpr double kSlow = 0.3;                   // a change that is more than this share of the last one is slow;
constexpr int kMostSlow = 2;                    // after so many of them
constexpr std::size_t kNeighbourDepth = 5;      // Anderson's rule
constexpr double kNeighbourMarch = 10.0;        // times the path's tolerance: what it leaves is the same for neighbours
// Times the rounds' tolerance: the next march would find a fiftieth of it, and ln u answers to that by another
// fiftieth.
constexpr double kSurfaceShare = 1000.0;
constexpr double kOtherEnd = 0.5;             // change where one of the two solidifies and the other does not

// The path beyond the thread: of the solid, or without pull beyond a cut (`all`; else up to the cut).
bool go_on(ThreadSearch& search, bool all) {
  ThreadSolution& now = search.now;
  if (now.path.end != PathEnd::solid && !(now.path.end == PathEnd::cut && all)) return true;
  PathResult more;
  PathOptions how = search.path_options(now.path.end != PathEnd::solid || all);
  if (search.options.keep_steps && !search.kept.beyond.empty()) how.steps = &search.kept.beyond;
  if (now.path.end == PathEnd::solid) {
    more = march_solid(search.context, now.path, std::exp(now.state.log_speed.back()), now.surface, how);
    more.step.insert(more.step.begin(), now.path.step.begin(), now.path.step.end());
  } else {
    more = march_path(search.context, search.speed_field(), now.surface, how);
  }
  search.count(more);
  search.taken.beyond = more.taken;
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
  if (search.options.keep_steps && !search.kept.drying.empty()) drying.steps = &search.kept.drying;
  drying.stretch = search.stretch();
  DryingResult result = march_drying(search.context, search.now.path, speed, search.path_options(beyond), drying);
  ++search.drying_rounds;
  search.taken.drying = result.taken;
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

// The surface as numbers, and back: its share of the mean at places that go with the dryness at which it freezes, for
// the front that comes with it moves as that does; and the solvent there.
class SurfaceValues {
 public:
  explicit SurfaceValues(const SurfaceHistory& like) {
    const double freezing = freezing_dryness(like);
    for (const double q : like.share.places())
      places_.push_back(q <= freezing ? q / freezing : 1.0 + (q - freezing) / (1.0 - freezing));
    const std::size_t n = places_.size();
    for (std::size_t i = 0; i < n; ++i)
      weights_.push_back(std::sqrt(0.5 * (places_[std::min(i + 1, n - 1)] - places_[i > 0 ? i - 1 : 0])));
  }
  [[nodiscard]] std::vector<double> of(const SurfaceHistory& surface) const {
    std::vector<double> out;
    for (const double q : dryness(surface)) {
      const double share = surface.share.empty() ? 1.0 : surface.share.at(q);
      out.push_back(weights_[out.size()] * share);
    }
    out.push_back(surface.freezing_ratio);
    return out;
  }
  [[nodiscard]] SurfaceHistory history(std::vector<double> values, double start_ratio) const {
    SurfaceHistory out;
    out.start_ratio = start_ratio;
    out.freezing_ratio = values.back();
    values.pop_back();
    for (std::size_t i = 0; i < values.size(); ++i) values[i] /= weights_[i];
    out.share = Curve(dryness(out), std::move(values));
    return out;
  }

 private:
  static double freezing_dryness(const SurfaceHistory& surface) {
    return surface.freezing_ratio > 0.0 ? surface.dryness(surface.freezing_ratio) : 1.0;
  }
  [[nodiscard]] std::vector<double> dryness(const SurfaceHistory& surface) const {
    const double freezing = freezing_dryness(surface);
    std::vector<double> out;
    for (const double x : places_) out.push_back(x <= 1.0 ? x * freezing : freezing + (x - 1.0) * (1.0 - freezing));
    return out;
  }
  std::vector<double> places_, weights_;
};

// From the surface of a similar jet, at its places and by its steps. What a march finds hardly hangs on the surface
// that the path was marched with, so that the next one is what was found.
bool settle_like_neighbour(ThreadSearch& search, const PathAndSpeed& thread, double tolerance) {
  ThreadSolution& now = search.now;
  const SurfaceValues surface(now.surface);
  const double start_ratio = search.context.fluid->initial.solvent_ratio;
  solver::Anderson mixer(kNeighbourDepth);
  double change = kNearNeighbour, before = 1e300;
  int slow = 0;
  std::vector<double> values = surface.of(now.surface);
  for (int k = 0; k < kMostTimes; ++k) {
    now.surface = surface.history(values, start_ratio);
    if (!thread.settle(std::clamp(kWithinNeighbour * change, tolerance, kRoughestRounds)) || !go_on(search, false))
      return false;
    DryingResult result = dry(search, thread.speed(), false, kNeighbourMarch * search.options.path_tolerance);
    if (!result.ok) return false;
    if ((result.surface.freezing_ratio > 0.0) != (values.back() > 0.0)) {
      search.trouble = "drying over the radius: one of two similar jets solidifies and the other does not";
      return false;
    }
    now.drying_off = difference(result, now.path);
    now.cells_end_ratio = result.end_solvent_ratio;
    const std::vector<double> found = surface.of(result.surface);
    change = 0.0;
    for (std::size_t i = 0; i < found.size(); ++i) change += (found[i] - values[i]) * (found[i] - values[i]);
    change = std::sqrt(change);
    if (change < kSurfaceShare * tolerance) {
      now.surface = surface.history(found, start_ratio);
      return thread.settle(tolerance) && go_on(search, false);
    }
    std::vector<double> mixed = mixer.next(values, found, 1.0);
    if (change > kSlow * before) ++slow;
    values = slow > kMostSlow ? std::move(mixed) : found;
    before = change;
  }
  search.trouble = fmt::format("drying over the radius still changes after {} times on a new path", kMostTimes);
  return false;
}

// Path and speed, and the path beyond. One that is left because it is plain that it lands slowly has to land.
bool settle_and_go_on(ThreadSearch& search, const PathAndSpeed& thread, double tolerance) {
  if (!thread.settle(tolerance)) return false;
  if (!search.plainly_slow) return go_on(search, false);
  const PathResult so_far = search.now.path;
  if (go_on(search, false) && search.now.path.end == PathEnd::collector) return true;
  search.plainly_slow = false;
  search.may_not_land = true;
  search.now.path = so_far;
  return thread.settle(tolerance) && go_on(search, false);
}

}  // namespace

bool settle_drying(ThreadSearch& search, const PathAndSpeed& thread, double tolerance, bool confirm) {
  const TensionOptions& options = search.options;
  ThreadSolution& now = search.now;
  if (options.keep_steps && options.radial) return settle_like_neighbour(search, thread, tolerance);
  if (!options.radial) return settle_and_go_on(search, thread, tolerance);
  const double aim = of_drying(tolerance, options.path_tolerance);
  double off = 1.0;
  if (search.drying_known) off = std::max(confirm ? kNearHeadline : kNearCompanion, now.drying_off);
  for (int k = 0; k < kMostTimes; ++k) {
    const double within =
        off < kMostStays * aim ? tolerance : std::clamp(kWithinShare * off, tolerance, kRoughestRounds);
    if (!settle_and_go_on(search, thread, within)) return false;
    if (search.plainly_slow) return true;
    // rough while it still changes
    const double march = confirm ? std::min(kMarchShare * off, kRoughestMarch) : kRoughestMarch;
    DryingResult result = dry(search, thread.speed(), false, std::max(options.path_tolerance, march));
    if (!result.ok) return false;
    const double before = off;
    off = now.drying_off = difference(result, now.path);
    // what stays is the surface between the points that it is known at, not a drying that still changes
    const bool stays = k > 0 && off < kMostStays * aim && std::abs(off - before) < kStays * off;
    const bool fair = (search.exhausted() || k + 1 == kMostTimes) && off < options.fair_tolerance;
    if (((off < aim || stays) && within <= tolerance) || fair) {
      now.cells_end_ratio = result.end_solvent_ratio;
      return true;
    }
    if (off >= aim) now.surface = std::move(result.surface);
    if (off >= kSameSteps) search.kept = {};
    if (!confirm && off < kTakenOver) {
      now.drying_off = kNextOfTakenOver * off;
      search.drying_known = true;
      now.cells_end_ratio = result.end_solvent_ratio;
      return thread.settle(tolerance) && go_on(search, false);
    }
  }
  search.trouble = fmt::format("drying over the radius still changes after {} times on a new path", kMostTimes);
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
  search.trouble = fmt::format(
      "drying over the radius beyond where the tension is solved still changes after {} times", kMostBeyond);
  return false;
}

}  // namespace whorl::jet
