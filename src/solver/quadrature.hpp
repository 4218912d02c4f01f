// Integrals of one variable by fixed Gauss-Legendre rules.
#pragma once
#include <span>

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

}  // namespace whorl::solver
