// Roots of one equation in one unknown. Never throws; every outcome is a status.
#pragma once
#include <algorithm>
#include <boost/math/policies/policy.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <exception>
#include <limits>
#include <string>
#include <utility>

namespace whorl::solver {

enum class RootStatus {
  found,            ///< bracket no wider than the tolerance, or value exactly zero
  no_sign_change,   ///< both ends (or everything up to the limits) have the same sign
  not_finite,       ///< the function is not finite where it is needed
  iteration_limit,  ///< bracket still wider than the tolerance after max_evaluations
  callback_threw,   ///< the function threw; `message` holds what()
  bad_options       ///< bracket or options invalid
};

struct RootOptions {
  double relative_tolerance{1e-14};  ///< on x
  double absolute_tolerance{0.0};    ///< on x
  int max_evaluations{200};
};

struct RootResult {
  RootStatus status{RootStatus::bad_options};
  std::string message{"not run"};
  double x{};      ///< best point known; meaningful only when found() or when the message says so
  double value{};  ///< the function there
  double lower{};  ///< final bracket
  double upper{};
  int evaluations{};

  [[nodiscard]] bool found() const noexcept { return status == RootStatus::found; }
};

namespace detail {

using RootPolicy = boost::math::policies::policy<
    boost::math::policies::domain_error<boost::math::policies::ignore_error>,
    boost::math::policies::pole_error<boost::math::policies::ignore_error>,
    boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
    boost::math::policies::evaluation_error<boost::math::policies::ignore_error>,
    boost::math::policies::rounding_error<boost::math::policies::ignore_error>>;

inline bool opposite(double a, double b) noexcept { return (a < 0.0 && b > 0.0) || (a > 0.0 && b < 0.0); }

inline RootResult root_failure(RootResult r, RootStatus status, std::string message) {
  r.status = status;
  r.message = std::move(message);
  return r;
}

/// Bracket [a, b] with opposite finite values known.
template <class F>
RootResult solve_bracket(F& f, double a, double b, double fa, double fb, const RootOptions& options, RootResult r) {
  bool finite = true;
  double best_x = std::abs(fa) < std::abs(fb) ? a : b;
  double best_f = std::abs(fa) < std::abs(fb) ? fa : fb;
  const auto guarded = [&](double x) {
    const double v = f(x);
    ++r.evaluations;
    if (!std::isfinite(v)) {
      finite = false;
      return 0.0;  // ends the search; reported as not_finite
    }
    if (std::abs(v) <= std::abs(best_f)) {
      best_x = x;
      best_f = v;
    }
    return v;
  };
  const double relative = std::max(options.relative_tolerance, 2.0 * std::numeric_limits<double>::epsilon());
  const auto close = [&](double lo, double hi) {
    return std::abs(hi - lo) <= options.absolute_tolerance + relative * std::min(std::abs(lo), std::abs(hi)) ||
           std::abs(hi - lo) < std::numeric_limits<double>::min();
  };
  auto budget = static_cast<std::uintmax_t>(std::max(1, options.max_evaluations - r.evaluations));
  const auto bracket = boost::math::tools::toms748_solve(guarded, a, b, fa, fb, close, budget, RootPolicy());
  r.lower = std::min(bracket.first, bracket.second);
  r.upper = std::max(bracket.first, bracket.second);
  r.x = best_x;
  r.value = best_f;
  if (!finite)
    return root_failure(std::move(r), RootStatus::not_finite, "the function is not finite inside the bracket");
  if (best_f == 0.0) {
    r.lower = r.upper = best_x;
  } else if (!close(r.lower, r.upper)) {
    return root_failure(std::move(r), RootStatus::iteration_limit,
                        "evaluation limit reached; x is the best point so far");
  }
  r.x = std::clamp(r.x, r.lower, r.upper);
  r.status = RootStatus::found;
  r.message = "found";
  return r;
}

inline bool root_options_ok(const RootOptions& o) noexcept {
  return o.relative_tolerance >= 0.0 && o.absolute_tolerance >= 0.0 && std::isfinite(o.relative_tolerance) &&
         std::isfinite(o.absolute_tolerance) && o.max_evaluations >= 3;
}

}  // namespace detail

/// Root of a continuous function with opposite signs at the ends of [lower, upper]. A jump or a pole with a change of
/// sign is located like a root: look at `value`.
/// Error: status; never throws.
/// Source: Alefeld, Potra & Shi, ACM Trans. Math. Softw. 21 (1995) 327 (Algorithm 748), Boost.Math.
template <class F>
[[nodiscard]] RootResult find_root(F&& f, double lower, double upper, const RootOptions& options = {}) {
  RootResult r;
  r.lower = lower;
  r.upper = upper;
  if (!(lower <= upper) || !std::isfinite(lower) || !std::isfinite(upper) || !detail::root_options_ok(options)) {
    return detail::root_failure(std::move(r), RootStatus::bad_options, "bracket or options are not valid");
  }
  try {
    const double fa = f(lower);
    const double fb = f(upper);
    r.evaluations = 2;
    if (!std::isfinite(fa) || !std::isfinite(fb)) {
      return detail::root_failure(std::move(r), RootStatus::not_finite,
                                  "the function is not finite at an end of the bracket");
    }
    r.x = std::abs(fa) < std::abs(fb) ? lower : upper;
    r.value = std::abs(fa) < std::abs(fb) ? fa : fb;
    if (r.value == 0.0) {
      r.lower = r.upper = r.x;
      r.status = RootStatus::found;
      r.message = "found";
      return r;
    }
    if (!detail::opposite(fa, fb)) {
      return detail::root_failure(std::move(r), RootStatus::no_sign_change,
                                  "the function has the same sign at both ends; x is the end with the smaller value");
    }
    return detail::solve_bracket(f, lower, upper, fa, fb, options, r);
  } catch (const std::exception& e) {
    return detail::root_failure(std::move(r), RootStatus::callback_threw, e.what());
  } catch (...) {
    return detail::root_failure(std::move(r), RootStatus::callback_threw,
                                "the function threw something that is not an exception");
  }
}

/// Where to look for the root of a monotone function.
struct MonotoneSearch {
  double guess{};
  double first_step{};  ///< > 0, additive; every further step is `growth` times larger
  double lower_limit{-std::numeric_limits<double>::max()};
  double upper_limit{std::numeric_limits<double>::max()};
  double growth{2.0};  ///< > 1
};

/// Root of a monotone (rising or falling) continuous function: walks from the guess in growing steps down the size of
/// the function until the sign changes or a limit is met, then Algorithm 748. A point where the function is not
/// finite is treated as a wall: the step towards it is halved.
/// Error: status; never throws. no_sign_change: no root up to the limit in the direction in which the size falls
/// (for a function that is flat at the guess both directions are tried).
template <class F>
[[nodiscard]] RootResult find_monotone_root(F&& f, const MonotoneSearch& search, const RootOptions& options = {}) {
  RootResult r;
  r.x = r.lower = r.upper = search.guess;
  if (!std::isfinite(search.guess) || !(search.first_step > 0.0) || !std::isfinite(search.first_step) ||
      !(search.growth > 1.0) || !(search.lower_limit <= search.guess && search.guess <= search.upper_limit) ||
      !detail::root_options_ok(options)) {
    return detail::root_failure(std::move(r), RootStatus::bad_options, "guess, step, limits or options are not valid");
  }
  try {
    const double f0 = f(search.guess);
    r.evaluations = 1;
    r.value = f0;
    if (!std::isfinite(f0))
      return detail::root_failure(std::move(r), RootStatus::not_finite, "the function is not finite at the guess");
    if (f0 == 0.0) {
      r.status = RootStatus::found;
      r.message = "found";
      return r;
    }
    // Walks one way. True when a bracket is found (left in a, b).
    double a = search.guess, fa = f0, b = a, fb = f0;
    bool wrong_way = false;
    const auto walk = [&](double direction, bool may_turn) {
      a = search.guess;
      fa = f0;
      double step = search.first_step;
      bool walled = false;
      wrong_way = false;
      while (r.evaluations < options.max_evaluations) {
        b = std::clamp(a + direction * step, search.lower_limit, search.upper_limit);
        if (b == a) return false;
        fb = f(b);
        ++r.evaluations;
        if (!std::isfinite(fb)) {
          step *= 0.5;
          walled = true;
          continue;
        }
        if (fb == 0.0 || detail::opposite(fa, fb)) return true;
        if (std::abs(fb) > std::abs(fa) && may_turn) {
          wrong_way = true;
          return false;
        }
        a = b;
        fa = fb;
        if (!walled) step *= search.growth;
      }
      return false;
    };
    bool bracketed = walk(1.0, true);
    if (!bracketed) {
      const bool turned = wrong_way;
      const double end_x = a, end_f = fa;
      bracketed = walk(-1.0, false);
      if (!bracketed && !turned && std::abs(end_f) < std::abs(fa)) {
        a = end_x;
        fa = end_f;
      }
    }
    if (!bracketed) {
      r.x = a;
      r.value = fa;
      r.lower = std::min(a, search.guess);
      r.upper = std::max(a, search.guess);
      if (r.evaluations >= options.max_evaluations) {
        return detail::root_failure(std::move(r), RootStatus::iteration_limit,
                                    "evaluation limit reached before the sign changed");
      }
      return detail::root_failure(std::move(r), RootStatus::no_sign_change,
                                  "the sign does not change within the limits; x is the best point");
    }
    if (fb == 0.0) {
      r.x = r.lower = r.upper = b;
      r.value = 0.0;
      r.status = RootStatus::found;
      r.message = "found";
      return r;
    }
    if (a > b) {
      std::swap(a, b);
      std::swap(fa, fb);
    }
    return detail::solve_bracket(f, a, b, fa, fb, options, r);
  } catch (const std::exception& e) {
    return detail::root_failure(std::move(r), RootStatus::callback_threw, e.what());
  } catch (...) {
    return detail::root_failure(std::move(r), RootStatus::callback_threw,
                                "the function threw something that is not an exception");
  }
}

}  // namespace whorl::solver
