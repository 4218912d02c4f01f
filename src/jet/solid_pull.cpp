#include "jet/solid_pull.hpp"

#include <algorithm>
#include <cmath>

#include "jet/thread_balance.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

// Own choices: how the bracket is laid. They decide how many flights of the solid it takes.
constexpr double kSharpness = 0.1;        // of the rounds' tolerance, over the momentum flux
constexpr int kMostBrackets = 14, kMostHalvings = 60;
constexpr double kOvershoot = 1.5;        // of a step by the slope, so that it lands on the other side
constexpr double kLeastStep = 0.02;       // of the momentum flux, upward
constexpr int kHalfEvery = 4;             // a plain half of the bracket among so many false positions

// What is missing in a pull: the thread solved with it, the solid flown at the speed that comes out.
class Missing {
 public:
  Missing(ThreadSearch& search, ThreadState& guess, double tolerance)
      : search_(search), guess_(guess), tolerance_(tolerance), flow_(search.now.problem.station.back().flow_kg_s) {
    how_ = search.path_options(false);
    const double turned = search.now.path.at_solid[P::kTime] * search.context.speed_rad_s / (2.0 * model::kPi);
    how_.max_turns = std::min(how_.max_turns, turned + model::kPullTurns);
  }
  double operator()(double pull) {
    search_.now.problem.end.pull_N = pull;
    if (!solve_thread(search_, guess_, tolerance_)) {
      failed = true;
      return 0.0;
    }
    const double u = std::exp(guess_.log_speed.back());
    const PathResult solid = march_solid(search_.context, search_.now.path, u, search_.now.surface, how_);
    search_.count(solid);
    if (solid.end == PathEnd::failed) {
      search_.trouble = "path of the solid: " + solid.message;
      failed = true;
      return 0.0;
    }
    return std::min(pull_of_solid(solid), flow_ * u) - pull;
  }
  [[nodiscard]] double flux() const { return flow_ * std::exp(guess_.log_speed.back()); }
  bool failed{};

 private:
  ThreadSearch& search_;
  ThreadState& guess_;
  double tolerance_, flow_;
  PathOptions how_;
};

struct Bracket {
  double a{}, at_a{}, b{}, at_b{};
  [[nodiscard]] bool one_sided() const { return at_a * at_b > 0.0; }
};

// False position with halving (Illinois); halves of the bracket where that is slow.
bool close_in(ThreadSearch& search, Missing& missing, Bracket at, double within) {
  int side = 0;
  for (int k = 0; k < kMostHalvings && !missing.failed; ++k) {
    search.now.pull_N = at.b;
    if (std::abs(at.at_b) <= within || std::abs(at.b - at.a) <= within || at.one_sided()) return true;
    const bool half = k % kHalfEvery == kHalfEvery - 1;
    double next = half ? 0.5 * (at.a + at.b) : (at.a * at.at_b - at.b * at.at_a) / (at.at_b - at.at_a);
    if (!(next > std::min(at.a, at.b) && next < std::max(at.a, at.b))) next = 0.5 * (at.a + at.b);
    const double f = missing(next);
    if (f * at.at_b < 0.0) {
      at.a = at.b;
      at.at_a = at.at_b;
      side = 0;
    } else {
      if (side == 1) at.at_a *= 0.5;
      side = 1;
    }
    at.b = next;
    at.at_b = f;
  }
  return !missing.failed;
}

}  // namespace

bool solve_with_solid(ThreadSearch& search, ThreadState& guess, double tolerance) {
  Missing missing(search, guess, tolerance);
  double& slope = search.pull_slope;
  const double flux = missing.flux();
  const double within = kSharpness * tolerance * flux;
  Bracket at;
  at.a = search.now.pull_N;
  at.at_a = missing(at.a);
  if (missing.failed && at.a > 0.0) {  // the old pull does not fit the new path
    missing.failed = false;
    at.a = 0.0;
    at.at_a = missing(at.a);
  }
  if (missing.failed) return false;
  search.now.pull_N = at.a;
  if (std::abs(at.at_a) <= within) return true;
  // the slope found on the last path leads close
  at.b = std::max(slope < 0.0 ? at.a - at.at_a / slope : at.a + at.at_a, 0.0);
  at.at_b = missing(at.b);
  const auto note_slope = [&] {
    const double found = (at.at_b - at.at_a) / (at.b - at.a);
    if (!missing.failed && found < 0.0 && std::isfinite(found)) slope = found;
  };
  note_slope();
  for (int k = 0; k < kMostBrackets && !missing.failed && at.one_sided() && std::abs(at.at_b) > within; ++k) {
    at.a = at.b;
    at.at_a = at.at_b;
    if (k < 2 && slope < 0.0) {
      at.b = std::max(at.b - kOvershoot * at.at_b / slope, 0.0);
    } else {
      at.b = at.at_b > 0.0 ? at.b + std::max(2.0 * at.at_b, kLeastStep * flux) : std::max(at.b + 2.0 * at.at_b, 0.0);
    }
    if (at.a == 0.0 && at.b == 0.0) break;
    at.at_b = missing(at.b);
    note_slope();
  }
  return close_in(search, missing, at, within);
}

}  // namespace whorl::jet
