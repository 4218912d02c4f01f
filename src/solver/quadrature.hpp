// Integrals of one variable: fixed Gauss-Legendre rules and an adaptive rule with an error estimate.
#pragma once
#include <algorithm>
#include <boost/math/policies/policy.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>
#include <exception>
#include <limits>
#include <span>
#include <string>
#include <utility>

namespace whorl::solver {

struct QuadratureNode {
  double x{};       ///< in (-1, 1)
  double weight{};  ///< the weights of a rule add up to 2
};

constexpr int kGaussLegendreMin = 2;
constexpr int kGaussLegendreMax = 10;

/// Gauss-Legendre rule with n points on [-1, 1], nodes ascending; exact for polynomials of degree 2n - 1.
/// Valid: n = 2..10; n outside is taken to the nearest of these.
/// Accuracy: nodes and weights to 2 units of rounding.
/// Source: Boost.Math gauss; checked against Abramowitz & Stegun, table 25.4.
[[nodiscard]] std::span<const QuadratureNode> gauss_legendre(int n);

/// Integral of f over [lower, upper] with the n-point rule. No error estimate; whatever f returns is passed on.
template <class F>
[[nodiscard]] double integrate_gauss(F&& f, double lower, double upper, int n) {
  const double middle = 0.5 * (lower + upper);
  const double half = 0.5 * (upper - lower);
  double sum = 0.0;
  for (const auto& node : gauss_legendre(n)) sum += node.weight * f(middle + half * node.x);
  return half * sum;
}

enum class IntegralStatus {
  converged,       ///< error estimate at most the tolerance times the L1 norm
  not_converged,   ///< error estimate (which is careful) still larger; `value` is the best estimate
  not_finite,      ///< the integrand is not finite somewhere
  callback_threw,  ///< the integrand threw; `message` holds what()
  bad_options
};

struct IntegralResult {
  IntegralStatus status{IntegralStatus::bad_options};
  std::string message{"not run"};
  double value{};
  double error{};  ///< estimate, usually much too large
  double l1{};     ///< integral of |f|: value far below l1 means cancellation
  int evaluations{};

  [[nodiscard]] bool converged() const noexcept { return status == IntegralStatus::converged; }
};

struct IntegralOptions {
  double tolerance{1e-10};  ///< relative to the integral of |f|
  int max_depth{15};        ///< bisections
};

/// Adaptive 15-point Gauss-Kronrod integral; either limit may be infinite.
/// Error: status; never throws.
/// Source: Boost.Math gauss_kronrod; rule of Kronrod (1964) as in QUADPACK.
template <class F>
[[nodiscard]] IntegralResult integrate(F&& f, double lower, double upper, const IntegralOptions& options = {}) {
  namespace policies = boost::math::policies;
  using Quiet = policies::policy<policies::domain_error<policies::ignore_error>, policies::pole_error<policies::ignore_error>,
                                 policies::overflow_error<policies::ignore_error>,
                                 policies::evaluation_error<policies::ignore_error>>;
  IntegralResult r;
  if (std::isnan(lower) || std::isnan(upper) || !(options.tolerance > 0.0) || options.max_depth < 0) {
    r.message = "limits or options are not valid";
    return r;
  }
  if (lower == upper) {
    r.status = IntegralStatus::converged;
    r.message = "empty interval";
    return r;
  }
  try {
    bool finite = true;
    const auto guarded = [&](double x) {
      ++r.evaluations;
      const double v = f(x);
      if (!std::isfinite(v)) {
        finite = false;
        return 0.0;
      }
      return v;
    };
    // The goal inside Boost.Math is relative to a first coarse estimate, which may be far from the integral of |f|:
    // a second pass with a tighter goal follows when the first misses ours.
    double goal = options.tolerance;
    for (int pass = 0; pass < 2; ++pass) {
      double error = 0.0, l1 = 0.0;
      const double value = boost::math::quadrature::gauss_kronrod<double, 15, Quiet>::integrate(
          guarded, lower, upper, static_cast<unsigned>(options.max_depth), goal, &error, &l1);
      if (!finite || !std::isfinite(value)) {
        r.status = IntegralStatus::not_finite;
        r.message = "the integrand is not finite";
        return r;
      }
      r.value = value;
      r.error = std::isfinite(error) ? error : std::numeric_limits<double>::max();
      r.l1 = l1;
      if (r.error <= options.tolerance * l1 || l1 == 0.0) {
        r.status = IntegralStatus::converged;
        r.message = "converged";
        return r;
      }
      goal = std::max(1e-16, 0.1 * goal * std::min(1.0, options.tolerance * l1 / r.error));
    }
    r.status = IntegralStatus::not_converged;
    r.message = "depth limit reached or error estimate above the tolerance; value is the best estimate";
  } catch (const std::exception& e) {
    r.status = IntegralStatus::callback_threw;
    r.message = e.what();
  } catch (...) {
    r.status = IntegralStatus::callback_threw;
    r.message = "the integrand threw something that is not an exception";
  }
  return r;
}

}  // namespace whorl::solver
