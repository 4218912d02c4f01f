// Two-point problems against their closed forms.
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "catch.hpp"
#include "solver/collocation.hpp"

using namespace whorl;

namespace {

using solver::Dual;

std::vector<double> even(std::size_t cells) {
  std::vector<double> x;
  for (std::size_t i = 0; i <= cells; ++i) x.push_back(static_cast<double>(i) / static_cast<double>(cells));
  return x;
}

// Bratu: y'' + e^y = 0, y(0) = y(1) = 0; lower branch y = -2 ln[cosh((x - 1/2) t/2)/cosh(t/4)], t = sqrt(2) cosh(t/4).
struct Bratu {
  double t{1.5};
  Bratu() {
    for (int i = 0; i < 200; ++i) t = std::sqrt(2.0) * std::cosh(t / 4.0);
  }
  [[nodiscard]] double at(double x) const { return -2.0 * std::log(std::cosh((x - 0.5) * t / 2.0) / std::cosh(t / 4.0)); }
  static auto solve(const std::vector<double>& node, const solver::CollocationOptions& options) {
    const auto rates = [](double, const auto& y, auto& rate) {
      using std::exp;
      rate[0] = y[1];
      rate[1] = -exp(y[0]);
      return true;
    };
    const auto zero = [](const auto& y) { return std::array<Dual<2>, 1>{y[0]}; };
    solver::Collocation<2, 1, decltype(rates), decltype(zero), decltype(zero)> problem(rates, zero, zero, {1.0, 1.0}, options);
    return problem.solve(node, {0.0, 1.0}, {{0.0, 0.0}, {0.0, 0.0}});
  }
};

// Layer at the far end: y'' = y/e^2, y(0) = 0, y(1) = 1: sinh(x/e)/sinh(1/e).
auto layer(double width, const std::vector<double>& node, const solver::CollocationOptions& options) {
  const auto rates = [width](double, const auto& y, auto& rate) {
    rate[0] = y[1] * (1.0 / width);
    rate[1] = y[0] * (1.0 / width);
    return true;
  };
  const auto start = [](const auto& y) { return std::array<Dual<2>, 1>{y[0]}; };
  const auto end = [](const auto& y) { return std::array<Dual<2>, 1>{y[0] - 1.0}; };
  solver::Collocation<2, 1, decltype(rates), decltype(start), decltype(end)> problem(rates, start, end, {1.0, 1.0}, options);
  return problem.solve(node, {0.0, 1.0}, {{0.0, 0.0}, {1.0, 1.0}});
}

}  // namespace

TEST_CASE("Collocation: Bratu's problem, order six at the nodes", "[solver][convergence]") {
  const Bratu bratu;
  REQUIRE_THAT(bratu.t, WithinAbs(1.5171645990507544, 1e-12));  // from memory
  solver::CollocationOptions options;
  options.adapt = false;
  options.newton_tolerance = 1e-16;
  std::vector<double> errors;
  for (std::size_t cells : {2U, 4U, 8U, 16U}) {
    const auto s = Bratu::solve(even(cells), options);
    INFO(cells << " cells: " << s.reason);
    REQUIRE(s.converged);
    double worst = std::abs(s.y.front()[1] - bratu.t * std::tanh(bratu.t / 4.0));  // y'(0)
    for (std::size_t i = 0; i < s.x.size(); i += 3) worst = std::max(worst, std::abs(s.y[i][0] - bratu.at(s.x[i])));
    errors.push_back(worst);
  }
  for (std::size_t i = 0; i + 1 < errors.size(); ++i) {
    INFO(errors[i] << ", " << errors[i + 1]);
    CHECK_THAT(std::log2(errors[i] / errors[i + 1]), WithinAbs(6.0, 0.4));
  }
  CHECK(errors.back() < 1e-9);
}

TEST_CASE("Collocation: the mesh follows the error that is asked for", "[solver]") {
  for (const double width : {0.1, 0.01, 1e-3}) {
    for (const double tolerance : {1e-3, 1e-6}) {
      solver::CollocationOptions options;
      options.tolerance = tolerance;
      const auto s = layer(width, even(6), options);
      INFO("layer " << width << ", tolerance " << tolerance << ": " << s.reason << ", " << s.cells() << " cells, stated " << s.error);
      REQUIRE(s.converged);
      double worst = 0.0;
      for (std::size_t i = 0; i < s.x.size(); ++i) {
        const double exact = std::exp((s.x[i] - 1.0) / width) * -std::expm1(-2.0 * s.x[i] / width) / -std::expm1(-2.0 / width);
        worst = std::max(worst, std::abs(s.y[i][0] - exact));
      }
      CHECK(worst < tolerance);
      CHECK(s.error <= tolerance);
    }
  }
}

TEST_CASE("Collocation: no solution is said, not invented", "[solver]") {
  // y'' + 4 e^y = 0 has none (Bratu's largest factor is 3.5138)
  const auto rates = [](double, const auto& y, auto& rate) {
    using std::exp;
    rate[0] = y[1];
    rate[1] = -4.0 * exp(y[0]);
    return y[0] < 50.0;
  };
  const auto zero = [](const auto& y) { return std::array<Dual<2>, 1>{y[0]}; };
  solver::Collocation<2, 1, decltype(rates), decltype(zero), decltype(zero)> problem(rates, zero, zero, {1.0, 1.0}, {});
  const auto s = problem.solve(even(8), {0.0, 1.0}, {{0.0, 0.0}, {0.0, 0.0}});
  CHECK_FALSE(s.converged);
  CHECK_FALSE(s.reason.empty());
}
