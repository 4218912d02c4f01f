#include "solver/quadrature.hpp"

#include <array>
#include <cstddef>
#include <numbers>

namespace whorl::solver {
namespace {

constexpr std::size_t kRules = kGaussLegendreMax - kGaussLegendreMin + 1;
using Rule = std::array<QuadratureNode, kGaussLegendreMax>;

Rule make_rule(int n) {
  Rule rule{};
  const int half = (n + 1) / 2;
  for (int i = 0; i < half; ++i) {
    // Start from the asymptotic position of the i-th zero; Newton converges quadratically from there.
    double x = std::cos(std::numbers::pi * (i + 0.75) / (n + 0.5));
    double slope = 1.0;
    for (int iteration = 0; iteration < 20; ++iteration) {
      double p = 1.0, p_before = 0.0;
      for (int k = 1; k <= n; ++k) {
        const double p_next = ((2.0 * k - 1.0) * x * p - (k - 1.0) * p_before) / k;
        p_before = p;
        p = p_next;
      }
      slope = n * (x * p - p_before) / (x * x - 1.0);
      const double change = p / slope;
      x -= change;
      if (std::abs(change) < 1e-16) break;
    }
    if (2 * i + 1 == n) x = 0.0;  // the middle node of an odd rule
    const double weight = 2.0 / ((1.0 - x * x) * slope * slope);
    rule[static_cast<std::size_t>(i)] = {-x, weight};
    rule[static_cast<std::size_t>(n - 1 - i)] = {x, weight};
  }
  return rule;
}

std::array<Rule, kRules> make_rules() {
  std::array<Rule, kRules> rules{};
  for (std::size_t i = 0; i < kRules; ++i) rules[i] = make_rule(kGaussLegendreMin + static_cast<int>(i));
  return rules;
}

}  // namespace

std::span<const QuadratureNode> gauss_legendre(int n) {
  static const std::array<Rule, kRules> rules = make_rules();
  const int points = std::clamp(n, kGaussLegendreMin, kGaussLegendreMax);
  return {rules[static_cast<std::size_t>(points - kGaussLegendreMin)].data(), static_cast<std::size_t>(points)};
}

}  // namespace whorl::solver
