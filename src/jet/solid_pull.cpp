#include "jet/solid_pull.hpp"

#include <algorithm>
#include <cmath>

#include "jet/thread_balance.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

// Own choices: how the pull is looked for. They decide how many flights of the solid it takes.
constexpr double kSharpness = 0.1;        // of the rounds' tolerance, over the momentum flux
constexpr int kMostFlights = 60;
constexpr double kLeastStep = 0.02;       // of the momentum flux, upward
constexpr double kGrowth = 2.0;           // of what is missing: a step upward where no slope is known
constexpr double kTowardsLow = 0.25;      // of the bracket, where its upper end says nothing but that it is too high
constexpr double kMostLimitSlope = 0.95;  // of the limit over the pull: it never grows as fast
constexpr int kPatience = 3;              // flights in which the bracket has to be halved, or it is halved plainly
constexpr double kMostOwed = 0.02;        // of ln u: what the thread is moved by without a trial

// One trial of a pull.
struct Flight {
  double pull{};
  double solid{};  ///< what the solid pulls at the speed that comes out
  double limit{};  ///< the momentum flux at that speed: no more is taken up
  [[nodiscard]] double missing() const { return std::min(solid, limit) - pull; }
};

// What is missing in a pull: the thread solved with it, the solid flown at the speed that comes out.
class Missing {
 public:
  Missing(ThreadSearch& search, ThreadState& guess, double tolerance)
      : search_(search), guess_(guess), tolerance_(tolerance), flow_(search.now.problem.station.back().flow_kg_s) {
    how_ = search.path_options(false);
    const double turned = search.now.path.at_solid[P::kTime] * search.context.speed_rad_s / (2.0 * model::kPi);
    how_.max_turns = std::min(how_.max_turns, turned + model::kPullTurns);
  }
  Flight operator()(double pull) {
    Flight flight{pull, 0.0, 0.0};
    search_.now.problem.end.pull_N = search_.now.pull_N = pull;
    if (!solve_thread(search_, guess_, tolerance_)) {
      failed = true;
      return flight;
    }
    const double u = std::exp(guess_.log_speed.back());
    if (!search_.kept.pulling.empty()) how_.steps = &search_.kept.pulling;
    const PathResult solid = march_solid(search_.context, search_.now.path, u, search_.now.surface, how_);
    search_.count(solid);
    if (solid.end == PathEnd::failed) {
      search_.trouble = "path of the solid: " + solid.message;
      failed = true;
      return flight;
    }
    search_.taken.pulling = solid.taken;
    if (search_.kept.pulling.empty() && !search_.kept.path.empty()) search_.kept.pulling = solid.taken;
    flight.solid = pull_of_solid(solid);
    flight.limit = flow_ * u;
    return flight;
  }
  [[nodiscard]] double flux() const { return flow_ * std::exp(guess_.log_speed.back()); }
  bool failed{};

 private:
  ThreadSearch& search_;
  ThreadState& guess_;
  double tolerance_, flow_;
  PathOptions how_;
};

// Where the pull lies: no pull is never too much.
struct Bracket {
  Flight low{}, high{};
  bool high_known{};
  void take(const Flight& f) {
    if (f.missing() > 0.0) {
      low = f;
    } else {
      high = f;
      high_known = true;
    }
  }
  [[nodiscard]] double width() const { return high.pull - low.pull; }
};

// The slopes of what the solid pulls and of the limit, both over the pull, from the flights so far.
struct Slopes {
  double solid{};  ///< less 1; below 0 once it is known
  double limit{};
  Flight near{};   ///< that pulls, nearest to its pull
  bool near_known{};
  void learn(const Flight& before, const Flight& now) {
    const double step = now.pull - before.pull;
    const double found = (now.limit - before.limit) / step;
    limit = found > 0.0 && found < kMostLimitSlope ? found : 0.0;
  }
  void learn(const Flight& now) {
    if (!(now.solid > 0.0)) return;
    if (near_known) {
      const double found = (now.solid - near.solid) / (now.pull - near.pull) - 1.0;
      if (found < 0.0 && std::isfinite(found)) solid = found;
    }
    if (!near_known || std::abs(now.solid - now.pull) < std::abs(near.solid - near.pull)) near = now;
    near_known = true;
  }
};

// The next pull to try: the lesser of where the solid pulls as much and of the limit, by their slopes, if that lies in
// the bracket and the bracket shrinks.
double next_pull(const Bracket& at, const Slopes& slopes, const Flight& last, double flux, bool slow) {
  double next = -1.0;
  if (slopes.near_known && slopes.solid < 0.0)
    next = slopes.near.pull - (slopes.near.solid - slopes.near.pull) / slopes.solid;
  if (last.solid > last.limit) {
    const double limit = last.pull + (last.limit - last.pull) / (1.0 - slopes.limit);
    next = next > 0.0 ? std::min(next, limit) : limit;
  }
  if (!at.high_known)
    return next > at.low.pull ? next : at.low.pull + std::max(kGrowth * at.low.missing(), kLeastStep * flux);
  if (next > at.low.pull && next < at.high.pull && !slow) return next;
  return at.low.pull + (at.high.solid > 0.0 ? 0.5 : kTowardsLow) * at.width();
}

ThreadState difference(const ThreadState& a, const ThreadState& b, double per) {
  ThreadState out = a;
  for (std::size_t i = 0; i < a.log_speed.size(); ++i) {
    out.log_speed[i] = (a.log_speed[i] - b.log_speed[i]) / per;
    out.pull[i] = (a.pull[i] - b.pull[i]) / per;
    out.waist[i] = (a.waist[i] - b.waist[i]) / per;
  }
  return out;
}

// The thread as it would be at the pull that closes what is missing, by how both answer. False: that is not known, or
// too far.
bool owe(ThreadSearch& search, ThreadState& guess, const Flight& last) {
  const ThreadState& by = search.by_pull;
  if (by.log_speed.size() != guess.log_speed.size() || !(search.pull_slope < 0.0)) return false;
  if (!(last.pull > 0.0 && last.solid > 0.0 && last.solid < last.limit)) return false;
  const double step = -last.missing() / search.pull_slope;
  if (!(last.pull + step > 0.0)) return false;
  double most = 0.0;
  for (std::size_t i = 1; i < guess.log_speed.size(); ++i) {
    const double moved = std::abs(step * by.log_speed[i]);
    if (!(moved < kMostOwed) || !std::isfinite(step * by.pull[i] + step * by.waist[i])) return false;
    most = std::max(most, moved);
  }
  for (std::size_t i = 1; i < guess.log_speed.size(); ++i) {
    guess.log_speed[i] += step * by.log_speed[i];
    guess.pull[i] += step * by.pull[i];
    guess.waist[i] += step * by.waist[i];
  }
  search.now.problem.end.pull_N = search.now.pull_N = last.pull + step;
  search.owed = most;
  return true;
}

}  // namespace

bool solve_with_solid(ThreadSearch& search, ThreadState& guess, double tolerance, bool may_owe) {
  Missing missing(search, guess, tolerance);
  const double flux = missing.flux();
  const double within = kSharpness * tolerance * flux;
  Flight last = missing(search.now.pull_N);
  if (missing.failed && last.pull > 0.0) {  // the old pull does not fit the new path
    missing.failed = false;
    last = missing(0.0);
  }
  if (may_owe && !missing.failed && std::abs(last.missing()) > within && owe(search, guess, last)) return true;
  Bracket at;
  Slopes slopes;
  slopes.solid = search.pull_slope;
  slopes.learn(last);
  double halved = 0.0;  // width of the bracket when it was last seen to halve
  int since = 0;
  for (int k = 0; k < kMostFlights && !missing.failed; ++k) {
    if (std::abs(last.missing()) <= within || (last.pull == 0.0 && last.missing() <= 0.0)) break;
    at.take(last);
    if (at.high_known) {
      if (at.width() <= within) break;
      since = halved == 0.0 || at.width() <= 0.5 * halved ? 0 : since + 1;
      if (since == 0) halved = at.width();
    }
    const Flight before = last;
    const ThreadState there = k == 0 ? guess : ThreadState{};
    last = missing(next_pull(at, slopes, last, flux, since >= kPatience));
    if (missing.failed) break;
    if (k == 0) search.by_pull = difference(guess, there, last.pull - before.pull);
    slopes.learn(before, last);
    slopes.learn(last);
  }
  search.pull_slope = slopes.solid;
  return !missing.failed;
}

}  // namespace whorl::jet
