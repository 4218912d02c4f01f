#include "whorl/model/steady_jet.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whorl::model {
namespace {

constexpr std::array kOhnesorge{1.0, 3.0, 10.0, 30.0, 100.0};
constexpr std::array kBond{0.03, 0.1, 0.3, 1.0, 1.7, 3.0, 5.0, 10.0};
// Printed by `test_stability "[.table]"` (a target of the tests, on demand). Where every jet that was found is steady:
// the slowest of them.
constexpr std::array<std::array<double, kBond.size()>, kOhnesorge.size()> kWeber{{
    {0.318, 0.1869, 0.08163, 0.01977, 0.008317, 0.002483, 0.0005088, 1.87e-06},
    {0.1942, 0.1141, 0.0588, 0.01718, 0.00631, 0.0009397, 5.053e-05, 2.087e-07},
    {0.1168, 0.06633, 0.03772, 0.0158, 0.007368, 0.0002414, 3.736e-06, 1.805e-08},
    {0.07046, 0.04048, 0.02443, 0.01309, 0.008646, 0.003575, 4.065e-07, 1.053e-08},
    {0.04079, 0.0243, 0.01544, 0.009354, 0.007264, 0.005126, 0.003048, 1.741e-10},
}};

// Row below `x` and how far it lies to the next, by logarithms.
template <std::size_t N>
std::pair<std::size_t, double> between(const std::array<double, N>& grid, double x) {
  const double at = std::clamp(x, grid.front(), grid.back());
  std::size_t i = 0;
  while (i + 2 < N && at > grid[i + 1]) ++i;
  return {i, std::log(at / grid[i]) / std::log(grid[i + 1] / grid[i])};
}

}  // namespace

double steady_weber(double ohnesorge, double bond) {
  const auto [i, s] = between(kOhnesorge, ohnesorge);
  const auto [k, t] = between(kBond, bond);
  const auto along = [&, k = k, t = t](std::size_t row) {
    return (1.0 - t) * std::log(kWeber[row][k]) + t * std::log(kWeber[row][k + 1]);
  };
  return std::exp((1.0 - s) * along(i) + s * along(i + 1));
}

double jet_weber(double inviscid, double ohnesorge, double bond) {
  constexpr double kThin = 0.1, kThick = 1.0;
  const double share = std::clamp(std::log(ohnesorge / kThin) / std::log(kThick / kThin), 0.0, 1.0);
  if (!(share > 0.0)) return inviscid;
  return std::exp((1.0 - share) * std::log(inviscid) + share * std::log(steady_weber(ohnesorge, bond)));
}

}  // namespace whorl::model
