// Forward derivatives against central differences of the standard functions and against closed derivatives.
#include <cmath>
#include <functional>
#include <limits>

#include "catch.hpp"
#include "solver/dual.hpp"

using namespace whorl::solver;
using D1 = Dual<1>;
using D2 = Dual<2>;

namespace {
// Sixth-order central difference: truncation about 1e-13, rounding about 1e-13 at this step.
double difference(const std::function<double(double)>& f, double x) {
  const double h = 5e-3;
  return (45.0 * (f(x + h) - f(x - h)) - 9.0 * (f(x + 2 * h) - f(x - 2 * h)) + (f(x + 3 * h) - f(x - 3 * h))) / (60.0 * h);
}
}  // namespace

#define CHECK_FUNCTION(name)                                                            \
  for (const double x : {0.31, 0.52, 0.77}) {                                           \
    using std::name;                                                                    \
    const D1 d = name(2.0 * D1::independent(x / 2.0, 0));                               \
    INFO(#name << " at " << x);                                                         \
    CHECK_THAT(d.value, WithinRel(std::name(x), 1e-15)); /* a folded constant may differ by one ulp */ \
    const double slope = difference([](double v) { return std::name(v); }, x);          \
    CHECK_THAT(d.slope[0], WithinRel(2.0 * slope, 1e-9));                               \
  }

TEST_CASE("dual: functions agree with differences of the standard library", "[solver][dual]") {
  CHECK_FUNCTION(sqrt)
  CHECK_FUNCTION(cbrt)
  CHECK_FUNCTION(exp)
  CHECK_FUNCTION(expm1)
  CHECK_FUNCTION(log)
  CHECK_FUNCTION(log10)
  CHECK_FUNCTION(log1p)
  CHECK_FUNCTION(sin)
  CHECK_FUNCTION(cos)
  CHECK_FUNCTION(tan)
  CHECK_FUNCTION(asin)
  CHECK_FUNCTION(acos)
  CHECK_FUNCTION(atan)
  CHECK_FUNCTION(sinh)
  CHECK_FUNCTION(cosh)
  CHECK_FUNCTION(tanh)
  CHECK_FUNCTION(erf)
  CHECK_FUNCTION(abs)
}

TEST_CASE("dual: arithmetic and functions of two arguments have the closed derivatives", "[solver][dual]") {
  const double a = 1.7, b = -0.6;
  const D2 x = D2::independent(a, 0), y = D2::independent(b, 1);
  const auto check = [](const D2& d, double value, double dx, double dy) {
    CHECK_THAT(d.value, WithinRel(value, 1e-15));
    CHECK_THAT(d.slope[0], WithinRel(dx, 1e-14));
    CHECK_THAT(d.slope[1], WithinRel(dy, 1e-14));
  };
  check(x * y + 3.0 * x - y / 2.0, a * b + 3.0 * a - b / 2.0, b + 3.0, a - 0.5);
  check(x / y, a / b, 1.0 / b, -a / (b * b));
  check(1.0 / (x * y), 1.0 / (a * b), -1.0 / (a * a * b), -1.0 / (a * b * b));
  check(pow(x, y), std::pow(a, b), b * std::pow(a, b - 1.0), std::pow(a, b) * std::log(a));
  check(pow(2.0, x * y), std::pow(2.0, a * b), std::log(2.0) * b * std::pow(2.0, a * b), std::log(2.0) * a * std::pow(2.0, a * b));
  check(hypot(x, y), std::hypot(a, b), a / std::hypot(a, b), b / std::hypot(a, b));
  check(atan2(y, x), std::atan2(b, a), -b / (a * a + b * b), a / (a * a + b * b));
  check(-(x - y) * abs(y), -(a - b) * -b, b, a - 2.0 * b);
  D2 z = x;
  const D2& same = z;
  z *= same;
  CHECK_THAT(z.slope[0], WithinRel(2.0 * a, 1e-15));
  z = x;
  z /= same;
  CHECK(z.value == 1.0);
  CHECK(std::abs(z.slope[0]) < 1e-15);
}

TEST_CASE("dual: branches follow the value, edges stay finite where nothing depends on them", "[solver][dual]") {
  const D2 x = D2::independent(2.0, 0), y = D2::independent(3.0, 1);
  CHECK(x < y);
  CHECK(y > 2.5);
  CHECK(2.0 <= x);
  CHECK(x == 2.0);
  CHECK(x != y);
  CHECK(max(x, y).slope[1] == 1.0);
  CHECK(min(x, y).slope[0] == 1.0);
  CHECK(max(x, D2(5.0)).slope[0] == 0.0);
  CHECK(sqrt(D2(0.0)).slope[0] == 0.0);
  CHECK(std::isinf(sqrt(D2::independent(0.0, 0)).slope[0]));
  CHECK_FALSE(isfinite(sqrt(D2::independent(0.0, 0))));
  CHECK(sqrt(D2::independent(0.0, 0)).slope[1] == 0.0);
  CHECK(pow(D2::independent(0.0, 0), 2.0).slope[0] == 0.0);
  CHECK(pow(D2::independent(0.0, 0), 1.0).slope[0] == 1.0);
  CHECK(abs(D2::independent(0.0, 0)).slope[0] == 0.0);
  CHECK_FALSE(isfinite(D2(std::numeric_limits<double>::infinity())));
}

TEST_CASE("dual: Newton iteration by duals finds a root of two equations", "[solver][dual]") {
  // x^2 + y^2 = 4, x y = 1: x = sqrt(2 + sqrt 3), y = 1/x.
  double px = 2.0, py = 0.4;
  for (int i = 0; i < 8; ++i) {
    const D2 x = D2::independent(px, 0), y = D2::independent(py, 1);
    const D2 f = x * x + y * y - 4.0, g = x * y - 1.0;
    const double det = f.slope[0] * g.slope[1] - f.slope[1] * g.slope[0];
    px -= (f.value * g.slope[1] - g.value * f.slope[1]) / det;
    py -= (g.value * f.slope[0] - f.value * g.slope[0]) / det;
  }
  CHECK_THAT(px, WithinRel(std::sqrt(2.0 + std::sqrt(3.0)), 1e-14));
  CHECK_THAT(py, WithinRel(1.0 / std::sqrt(2.0 + std::sqrt(3.0)), 1e-14));
}
