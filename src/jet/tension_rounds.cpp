#include "jet/tension_rounds.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "jet/solid_pull.hpp"
#include "jet/thread_balance.hpp"
#include "jet/thread_mesh.hpp"
#include "jet/thread_stations.hpp"
#include "solver/anderson.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

// Own choices: they decide how many rounds it takes, not where they end.
constexpr std::size_t kDepth = 5;             // rounds that Anderson's rule remembers
constexpr double kFirstChange = 0.5;          // taken for the change before the first round
constexpr double kPullShare = 0.02;           // of the last change: as sharp as the pull of a solid need be,
constexpr double kRoughest = 1e-2;            // and no rougher than this
constexpr double kLeastDamping = 0.2, kDampingFall = 0.7, kDampingRise = 1.1;
constexpr double kMostJump = 3.0;             // of a proposal over the change: beyond, half the plain change is taken
constexpr int kPatience = 12,
              kLookBack = 5;  // close, and within so many rounds no longer closer by half: rounding of the march
constexpr double kNearPull = 0.02;            // of a round: the next may owe the pull of the solid
constexpr double kNearChange = 3e-4;          // of a round: from here on paths are marched by the same steps
// Times that it arrives liquid in one round and was solid before the collector in the last: pulled by its solid end it
// does not solidify, and unpulled it does. Of 4,000 threads none that had a state took five.
constexpr int kMostReturns = 5;
constexpr double kPlainChange = 0.1;          // of a round: what is slower than asked for by kPlainly then stays so
constexpr double kPlainly = 0.5;
constexpr int kLostRounds = 2;                // in turn without a way out, before the thread is cut

// A solid fibre is wound up, too.
bool ends_held(const ThreadSearch& search) {
  return search.options.end == model::JetEnd::taken_up && !search.now.path.cut;
}

// The stations of the path at the radii of the nodes, for a thread as fast as `guess`, and the far end.
void lay_stations(ThreadSearch& search, const ThreadState& guess) {
  const PathResult& path = search.now.path;
  ThreadProblem& problem = search.now.problem;
  const std::size_t n = search.now.cells();
  problem.air = search.context.air;
  problem.law = search.law;
  problem.start_speed_m_s = search.context.exit_speed_m_s;
  problem.station.resize(n + 1);
  for (std::size_t i = 0; i <= n; ++i) {
    PathResult::Place place{path.thread_m, path.at_thread_end};
    if (i == 0) place = {0.0, path.step.front().state[0]};
    if (i > 0 && i < n) place = path.at_radius(search.radius_of(i));
    const double u = i == 0 ? search.context.exit_speed_m_s : std::exp(guess.log_speed[i]);
    problem.station[i] = thread_station(search.context, place, u);
  }
  problem.end = {};
  problem.end.taken_up = ends_held(search);
  problem.end.take_up_speed_m_s = search.take_up_speed_m_s();
}

// The path of this round or, before there is one in it, of the last.
bool pulled_by_solid(const ThreadSearch& search) { return search.now.path.solid && !ends_held(search); }

// The last thread at the new radii of its nodes. The jump of the speed that the pull of a solid makes in its last cells
// goes with the nodes: these cells are narrower than the way by which the end moves.
ThreadState first_guess(const ThreadSearch& search, const std::vector<double>& before, const SpeedField& field) {
  const ThreadState& state = search.now.state;
  const std::size_t n = search.now.cells();
  const std::size_t jump = pulled_by_solid(search) ? n + 1 - kCellsOfJump : n + 1;
  ThreadState guess = state;
  guess.log_speed[0] = std::log(search.context.exit_speed_m_s);
  guess.pull[0] = guess.waist[0] = 0.0;
  for (std::size_t i = 1; i <= n; ++i) {
    const double s = search.radius_of(i);
    if (i < jump) {
      guess.log_speed[i] = field.log_at(s);
      guess.pull[i] = interpolate(before, state.pull, s);
      guess.waist[i] = interpolate(before, state.waist, s);
    } else {
      guess.log_speed[i] += field.log_at(s) - field.log_at(before[i]);
    }
  }
  return guess;
}

// A start that does not meet the collector's speed is drawn evenly.
void draw_evenly(const ThreadProblem& problem, ThreadState& guess) {
  const std::size_t n = guess.log_speed.size() - 1;
  const double gap = std::log(problem.end.take_up_speed_m_s) - guess.log_speed[n];
  const double length = problem.station[n].arc_m;
  for (std::size_t i = 1; i <= n; ++i) guess.log_speed[i] += gap * problem.station[i].arc_m / length;
}

// One round: path at the present speed, then speed on that path. `near`: another will follow, and is near. False: see
// search.trouble.
bool round(ThreadSearch& search, double tolerance, bool near) {
  ThreadSolution& now = search.now;
  const std::vector<double> before = search.radii();
  const SpeedField before_solid = search.speed_before_solid(), whole = search.speed_field();
  const SpeedField& field = search.options.keep_steps && pulled_by_solid(search) ? before_solid : whole;
  PathOptions how = search.path_options(false);
  how.stop_at_solid = true;
  if (!search.kept.path.empty()) how.steps = &search.kept.path;
  how.stretch = search.stretch();
  now.path = march_path(search.context, field, now.surface, how);
  search.taken.path = now.path.taken;
  search.taken.thread_m = now.path.thread_m;
  search.count(now.path);
  if (now.path.end == PathEnd::failed) {
    search.trouble = "path: " + now.path.message;
    return false;
  }
  now.end_radius_m = now.path.at_thread_end[P::kRadius];
  if (!(now.end_radius_m > search.context.outer_radius_m)) {
    search.trouble = "path: no way outward";
    return false;
  }
  ThreadState guess = first_guess(search, before, pulled_by_solid(search) ? before_solid : whole);
  lay_stations(search, guess);
  if (now.problem.end.taken_up) draw_evenly(now.problem, guess);
  search.owed = 0.0;
  const bool solved = pulled_by_solid(search) ? solve_with_solid(search, guess, tolerance, near)
                                              : solve_thread(search, guess, tolerance);
  if (!solved) return false;
  now.state = guess;
  return true;
}

// To TensionOptions::stalled_share of the way that the path went.
void cut_short(ThreadSearch& search) {
  ThreadSolution& now = search.now;
  const double outer = search.context.outer_radius_m;
  double farthest = 0.0;
  for (const auto& step : now.path.step) farthest = std::max(farthest, step.state[3][P::kRadius]);
  const std::vector<double> before = search.radii();
  now.cut_m = outer + search.options.stalled_share * (farthest - outer);
  now.end_radius_m = std::min(now.end_radius_m, now.cut_m);
  ThreadState next = now.state;
  for (std::size_t i = 1; i < now.share.size(); ++i) {
    const double r = search.radius_of(i);
    next.log_speed[i] = interpolate(before, now.state.log_speed, r);
    next.pull[i] = interpolate(before, now.state.pull, r);
    next.waist[i] = interpolate(before, now.state.waist, r);
  }
  now.state = next;
}

bool found_its_way(PathEnd end) {
  return end == PathEnd::solid || end == PathEnd::cut || end == PathEnd::collector;
}

// What a round maps to itself: speeds of the nodes and the way to the end, as logarithms.
std::vector<double> unknowns(const ThreadSearch& search) {
  const std::vector<double>& speed = search.now.state.log_speed;
  std::vector<double> z(speed.begin() + 1, speed.end());
  z.push_back(std::log(search.now.end_radius_m - search.context.outer_radius_m));
  return z;
}

// A jet that need not be settled to be known as slow: close enough, and by a wide margin.
bool plainly_slow(const ThreadSearch& search) {
  return search.now.change < kPlainChange &&
         std::exp(search.now.state.log_speed.back()) < kPlainly * search.options.slow_m_s &&
         (search.now.path.end == PathEnd::solid || search.now.path.end == PathEnd::collector);
}

// Not a number where one of them is none: std::max would pass over it, and what is none would agree with anything.
double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double most = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const double off = std::abs(a[i] - b[i]);
    if (!(off <= most)) most = off;
    if (std::isnan(off)) break;
  }
  return most;
}

}  // namespace

bool settle_path_and_speed(ThreadSearch& search, double tolerance) {
  ThreadSolution& now = search.now;
  const TensionOptions& options = search.options;
  solver::Anderson mixer(kDepth);
  constexpr double kNone = 1e300;
  // One that goes on from an earlier end may be settled after a single round: its pull has to be sharp.
  double damping = 1.0, last = kNone, change = search.rounds == 0 ? kFirstChange : 0.0;
  const std::size_t n = now.cells();
  now.first_order = false;
  int lost = 0, returns = 0;
  bool was_solid = false;
  std::vector<double> changes;
  for (int k = 0; k < options.most_rounds; ++k) {
    const std::vector<double> z = unknowns(search);
    // far from agreement, the pull of a solid need not be sharp
    if (!round(search, std::max(tolerance, std::min(kPullShare * change, kRoughest)), change < kNearPull)) return false;
    ++search.rounds;
    lost = found_its_way(now.path.end) ? 0 : lost + 1;
    if (lost >= kLostRounds) {
      cut_short(search);
      lost = 0;
      mixer.restart();
      changes.clear();
      last = kNone;
      continue;
    }
    if (was_solid && now.path.end == PathEnd::collector && ++returns == kMostReturns) {
      search.trouble = "path and speed do not agree: pulled, it arrives liquid, and unpulled it solidifies before";
      return false;
    }
    was_solid = now.path.end == PathEnd::solid;
    const std::vector<double> g = unknowns(search);
    change = now.change = std::max(largest_difference(g, z), search.owed);
    if (change < tolerance) return true;
    if (options.slow_m_s > 0.0 && !search.may_not_land && plainly_slow(search)) {
      search.plainly_slow = true;
      return true;
    }
    if (change < kNearChange && search.kept.path.empty()) {
      search.kept.path = search.taken.path;
      search.kept.thread_m = search.taken.thread_m;
    }
    const bool fair = change < options.fair_tolerance;
    changes.push_back(change);
    if (k >= kPatience && changes.size() >= kLookBack && fair && change > 0.5 * changes[changes.size() - kLookBack])
      return true;
    if (search.exhausted()) {
      if (fair) return true;
      search.trouble = "path and speed do not agree within the allowed work";
      return false;
    }
    damping = change > last ? std::max(kLeastDamping, kDampingFall * damping) : std::min(1.0, kDampingRise * damping);
    last = change;
    std::vector<double> next = mixer.next(z, g, damping);
    if (!(largest_difference(next, z) < std::max(1.0, kMostJump * change))) {
      mixer.restart();
      for (std::size_t i = 0; i < next.size(); ++i) next[i] = z[i] + 0.5 * (g[i] - z[i]);
    }
    if (k + 1 == options.most_rounds) break;
    for (std::size_t i = 0; i < n; ++i) now.state.log_speed[i + 1] = next[i];
    now.end_radius_m = search.context.outer_radius_m + std::exp(next[n]);
  }
  if (now.change < options.fair_tolerance) return true;
  // No digits of what is left: it is rounding that decides over them, and this text ends in a warning for people.
  search.trouble = fmt::format("path and speed do not agree after {} rounds", options.most_rounds);
  return false;
}

}  // namespace whorl::jet
