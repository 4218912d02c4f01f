// Gauss-Legendre rules against tables and closed integrals.
#include <array>
#include <cmath>

#include "catch.hpp"
#include "solver/quadrature.hpp"

using namespace whorl::solver;

TEST_CASE("gauss-legendre: nodes and weights of the handbook", "[solver][quadrature]") {
  // Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 25.4 (positive nodes, ascending here).
  const auto g2 = gauss_legendre(2);
  CHECK_THAT(g2[1].x, WithinAbs(0.577350269189626, 1e-15));
  CHECK_THAT(g2[1].weight, WithinAbs(1.0, 1e-15));
  const auto g3 = gauss_legendre(3);
  CHECK(g3[1].x == 0.0);
  CHECK_THAT(g3[1].weight, WithinAbs(0.888888888888889, 1e-15));
  CHECK_THAT(g3[2].x, WithinAbs(0.774596669241483, 1e-15));
  const auto g5 = gauss_legendre(5);
  CHECK_THAT(g5[3].x, WithinAbs(0.538469310105683, 1e-15));
  CHECK_THAT(g5[3].weight, WithinAbs(0.478628670499366, 1e-15));
  CHECK_THAT(g5[4].x, WithinAbs(0.906179845938664, 1e-15));
  CHECK_THAT(g5[4].weight, WithinAbs(0.236926885056189, 1e-15));
  const auto g10 = gauss_legendre(10);
  CHECK_THAT(g10[5].x, WithinAbs(0.148874338981631, 1e-15));
  CHECK_THAT(g10[5].weight, WithinAbs(0.295524224714753, 1e-15));
  CHECK_THAT(g10[9].x, WithinAbs(0.973906528517172, 1e-15));
  CHECK_THAT(g10[9].weight, WithinAbs(0.066671344308688, 1e-15));
}

TEST_CASE("gauss-legendre: exact up to degree 2n-1 and not beyond", "[solver][quadrature][verification]") {
  for (int n = kGaussLegendreMin; n <= kGaussLegendreMax; ++n) {
    REQUIRE(gauss_legendre(n).size() == static_cast<std::size_t>(n));
    for (int degree = 0; degree <= 2 * n; ++degree) {
      const double value = integrate_gauss([&](double x) { return std::pow(x, degree); }, 0.0, 2.0, n);
      const double exact = std::pow(2.0, degree + 1) / (degree + 1);
      if (degree < 2 * n) {
        CHECK_THAT(value, WithinRel(exact, 1e-14));  // a few roundings
      } else {
        CHECK(std::abs(value / exact - 1.0) > 1e-13);
      }
    }
  }
  CHECK(gauss_legendre(1).size() == 2);
  CHECK(gauss_legendre(99).size() == 10);
}
