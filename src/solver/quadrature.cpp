#include "solver/quadrature.hpp"

#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cstddef>
#include <utility>

namespace whorl::solver {
namespace {

constexpr std::size_t kRules = kGaussLegendreMax - kGaussLegendreMin + 1;
using Rule = std::array<QuadratureNode, kGaussLegendreMax>;

template <std::size_t n>
Rule make_rule() {
  using Half = boost::math::quadrature::gauss<double, static_cast<unsigned>(n)>;  // the nodes x >= 0, ascending
  Rule rule{};
  const auto& x = Half::abscissa();
  const auto& weight = Half::weights();
  for (std::size_t i = 0; i < (n + 1) / 2; ++i) {
    rule[(n - 1) / 2 - i] = {-x[i], weight[i]};
    rule[n / 2 + i] = {x[i], weight[i]};
  }
  return rule;
}

template <std::size_t... i>
std::array<Rule, kRules> make_rules(std::index_sequence<i...>) {
  return {make_rule<static_cast<std::size_t>(kGaussLegendreMin) + i>()...};
}

}  // namespace

std::span<const QuadratureNode> gauss_legendre(int n) {
  static const std::array<Rule, kRules> rules = make_rules(std::make_index_sequence<kRules>{});
  const int points = std::clamp(n, kGaussLegendreMin, kGaussLegendreMax);
  return {rules[static_cast<std::size_t>(points - kGaussLegendreMin)].data(), static_cast<std::size_t>(points)};
}

}  // namespace whorl::solver
