// Diffusion inside the filament against Crank's series for a cylinder.
#include <Eigen/Dense>
#include <Eigen/Eigenvalues>
#include <cmath>
#include <vector>

#include "catch.hpp"
#include "whorl/model/radial.hpp"

using namespace whorl::model;

namespace {

// Crank, The Mathematics of Diffusion (1975), eq. 5.23: M_t/M_inf = 1 - sum 4/alpha^2 exp(-alpha^2 D t/a^2), alpha the
// zeros of J0 (Abramowitz & Stegun, table 9.5). The seventh term is below 1e-15 from D t/a^2 = 0.08 on.
double crank_share_lost(double fourier) {
  double sum = 0.0;
  for (const double root : {2.4048255577, 5.5200781103, 8.6537279129, 11.7915344391, 14.9309177086, 18.0710639679}) {
    sum += 4.0 / (root * root) * std::exp(-root * root * fourier);
  }
  return 1.0 - sum;
}

// Share of solvent lost by a dry-surfaced cylinder with constant diffusivity and next to no solvent, on a grid of n cells:
// the rates are then linear, so they give a matrix and time is exact.
double share_lost(std::size_t n, double clustering, double fourier) {
  const RadialGrid grid = make_radial_grid(n, clustering);
  const double radius = 1.0;
  const double area = kPi * radius * radius;
  const double tiny = 1e-9;
  const auto size = static_cast<Eigen::Index>(n);
  Eigen::MatrixXd matrix(size, size);
  std::vector<double> v(n), rates(n);
  for (std::size_t j = 0; j < n; ++j) {
    std::fill(v.begin(), v.end(), 0.0);
    v[j] = tiny;
    // surface at v = 0: flux through the half cell, W = 1 there
    const double outflow = 4.0 * kPi / area * v[n - 1] / (1.0 - grid.centre[n - 1]);
    radial_rates(grid, area, v, outflow, [](double) { return 1.0; }, rates);
    for (std::size_t i = 0; i < n; ++i) {
      matrix(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = rates[i] / tiny;
    }
  }
  // width^(1/2) J width^(-1/2) is symmetric
  Eigen::VectorXd root(size);
  for (Eigen::Index i = 0; i < size; ++i) root(i) = std::sqrt(grid.width[static_cast<std::size_t>(i)]);
  const Eigen::MatrixXd symmetric = root.asDiagonal() * matrix * root.cwiseInverse().asDiagonal();
  CHECK((symmetric - symmetric.transpose()).norm() < 1e-6 * symmetric.norm());
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(0.5 * (symmetric + symmetric.transpose()));
  const Eigen::VectorXd modes = solver.eigenvectors().transpose() * root;
  const Eigen::VectorXd decay = (solver.eigenvalues() * fourier).array().exp();
  return 1.0 - (modes.array().square() * decay.array()).sum();
}

}  // namespace

TEST_CASE("radial: desorption of a cylinder, second order in the cells", "[model][eq:radial-diffusion][convergence]") {
  for (const double fourier : {0.1, 0.3}) {
    const double exact = crank_share_lost(fourier);
    for (const double clustering : {1.0, kRadialClustering}) {
      double last = 0.0;
      for (const std::size_t n : {12u, 24u, 48u, 96u}) {
        const double error = std::abs(share_lost(n, clustering, fourier) - exact);
        INFO("D t/a^2 " << fourier << ", clustering " << clustering << ", " << n << " cells, error " << error);
        if (last > 0.0) {
          const double order = std::log2(last / error);
          INFO("order " << order);
          CHECK_THAT(order, WithinAbs(2.0, 0.2));
        }
        last = error;
      }
      CHECK(last < 2e-4);
    }
  }
  // Default cells: error in the share lost well below what diffusivities are known to
  CHECK_THAT(share_lost(24, kRadialClustering, 0.1), WithinAbs(crank_share_lost(0.1), 5e-3));
}

TEST_CASE("radial: short times follow the root of time", "[model][eq:radial-diffusion]") {
  // Crank eq. 5.24: M_t/M_inf = 4/sqrt(pi) sqrt(F) - F - F^1.5/(3 sqrt(pi)) ...
  const double f = 1e-3;
  const double series = 4.0 / std::sqrt(kPi) * std::sqrt(f) - f - std::pow(f, 1.5) / (3.0 * std::sqrt(kPi));
  CHECK_THAT(share_lost(48, kRadialClustering, f), WithinRel(series, 0.01));
}

TEST_CASE("radial: solvent is conserved to rounding", "[model][eq:radial-diffusion]") {
  const RadialGrid grid = make_radial_grid(24);
  std::vector<double> v(24), rates(24);
  for (std::size_t i = 0; i < 24; ++i) v[i] = 4.0 - 3.5 * std::pow(grid.centre[i], 2.0);  // strongly swollen, not linear
  const double outflow = 12.5;
  radial_rates(grid, 1e-10, v, outflow, [](double x) { return 1e-9 * std::exp(-3.0 / (1.0 + x)); }, rates);
  double sum = 0.0;
  double size = 0.0;
  for (std::size_t i = 0; i < 24; ++i) {
    sum += grid.width[i] * rates[i];
    size += std::abs(grid.width[i] * rates[i]);
  }
  CHECK_THAT(sum, WithinAbs(-outflow, 1e-13 * size));
  double total = 0.0;
  for (const double w : grid.width) total += w;
  CHECK_THAT(total, WithinRel(1.0, 1e-14));
}

TEST_CASE("radial: surface value", "[model][eq:radial-surface]") {
  const RadialGrid grid = make_radial_grid(24);
  CHECK(surface_value(grid, 2.0, 2.0) == 2.0);
  // Linear profile: exact when wetting, positive and second order when drying.
  const double x1 = grid.centre[23];
  const double x0 = grid.centre[22];
  CHECK_THAT(surface_value(grid, 1.0 + x1, 1.0 + x0), WithinRel(2.0, 1e-12));
  CHECK(surface_value(grid, 1e-6, 1.0) > 0.0);
  const double slope = 1e-3;
  CHECK_THAT(surface_value(grid, 1.0 - slope * x1, 1.0 - slope * x0), WithinAbs(1.0 - slope, 1e-6));
}
