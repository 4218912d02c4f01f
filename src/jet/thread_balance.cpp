#include "jet/thread_balance.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/jet/tension_tolerances.hpp"

namespace whorl::jet {
namespace {

// Continuation by smoothing (ThreadProblem::smoothing). Own choices: they decide how soon a jump of the speed is found,
// not which.
constexpr double kFirstSmoothing = 10.0;   // of a first round: wider than any jump seen
constexpr double kLaterSmoothing = 0.3;    // later rounds start close
constexpr double kLeastSmoothing = 0.02;   // below it, none at all is tried
constexpr double kMostSmoothing = 1e5;     // where even this finds nothing, more does not help
constexpr double kNoSmoothing = 1e-5;      // a jump that needs less than this to be found is not found
constexpr double kFirstFactor = 3.0;       // by which smoothing falls from step to step
constexpr double kMostFactor = 10.0, kLeastFactor = 1.03, kFactorGrowth = 1.3;
constexpr int kMostSteps = 60;
// Shares of the stretch of the guess from which a thread that is held back is tried again.
constexpr double kLessStretched[] = {0.5, 0.1};

ThreadOutcome attempt(ThreadSearch& search, ThreadState& guess, bool second_order, double smoothing,
                      double tolerance) {
  ThreadProblem& problem = search.now.problem;
  problem.second_order = second_order;
  problem.smoothing = smoothing;
  Thread thread(problem);
  thread.set_weights(guess);
  ThreadOptions how;
  how.residual_tolerance = of_balances(tolerance);
  how.factor = &search.factor;
  const ThreadOutcome outcome = thread.solve(guess, how);
  search.now.weights = thread.weights();
  search.count_newton(outcome.iterations);
  search.spent += static_cast<std::size_t>(outcome.iterations) * search.now.cells();
  return outcome;
}

struct Sharpened {
  ThreadOutcome outcome;
  double reached{1e9};  // least smoothing with a solution; 1e9: none
  [[nodiscard]] bool any() const { return reached <= 1e8; }
};

// A jump of the speed (thread faster than its elastic waves before, slower behind) cannot be moved by Newton's method
// from cell to cell: it is found wide, and made narrow.
Sharpened sharpen(ThreadSearch& search, ThreadState& guess, bool second_order, double tolerance) {
  double smoothing = search.rounds > 0 ? kLaterSmoothing : kFirstSmoothing;
  double factor = kFirstFactor;
  ThreadState good = guess;
  Sharpened out;
  for (int k = 0; k < kMostSteps; ++k) {
    if (search.exhausted()) {
      out.outcome.converged = false;
      out.outcome.reason = "the allowed work";
      break;
    }
    guess = good;
    out.outcome = attempt(search, guess, second_order, smoothing, tolerance);
    if (out.outcome.converged) {
      good = guess;
      out.reached = smoothing;
      if (smoothing <= 0.0) break;
      factor = std::min(kMostFactor, factor * kFactorGrowth);
      smoothing = smoothing > kLeastSmoothing ? smoothing / factor : 0.0;
    } else if (!out.any()) {
      if (smoothing > kMostSmoothing) break;
      smoothing *= 10.0;
    } else if (smoothing <= 0.0) {
      smoothing = kLaterSmoothing * out.reached;
      factor = kFirstFactor;
      if (smoothing < kNoSmoothing) break;
    } else {
      factor = std::sqrt(factor);
      if (factor < kLeastFactor) break;
      smoothing = out.reached / factor;
    }
  }
  return out;
}

}  // namespace

bool solve_thread(ThreadSearch& search, ThreadState& guess, double tolerance) {
  const ThreadState start = guess;
  const bool second = !search.now.first_order;
  if (attempt(search, guess, second, 0.0, tolerance).converged) return true;
  if (!search.now.problem.end.taken_up && !search.jumps) {
    // a pull far above the momentum flux holds the thread back: from a thread that is hardly stretched
    for (const double share : kLessStretched) {
      guess = start;
      for (std::size_t i = 1; i < guess.log_speed.size(); ++i) {
        guess.log_speed[i] = guess.log_speed[0] + share * (start.log_speed[i] - start.log_speed[0]);
        guess.pull[i] = guess.waist[i] = 0.0;
      }
      if (attempt(search, guess, second, 0.0, tolerance).converged) return true;
    }
  }
  guess = start;
  Sharpened found = sharpen(search, guess, second, tolerance);
  if (!found.outcome.converged && second) {
    search.now.first_order = true;
    guess = start;
    found.outcome = attempt(search, guess, false, 0.0, tolerance);
    if (!found.outcome.converged) {
      guess = start;
      found = sharpen(search, guess, false, tolerance);
    }
  }
  if (found.outcome.converged) {
    search.jumps = true;
    return true;
  }
  // No digits of the residual: it is rounding that is left, and this text ends in a warning for people.
  search.trouble = "speed on the path: " + found.outcome.reason + " did not close the balance";
  return false;
}

}  // namespace whorl::jet
