// Roots against closed values.
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

#include "catch.hpp"
#include "solver/root.hpp"

using namespace whorl::solver;

TEST_CASE("root: classic equations", "[solver][root]") {
  // x^3 - 2x - 5 = 0: Wallis's example, root 2.0945514815423265 (OEIS A007493).
  const auto wallis = find_root([](double x) { return x * x * x - 2.0 * x - 5.0; }, 2.0, 3.0);
  REQUIRE(wallis.found());
  CHECK_THAT(wallis.x, WithinAbs(2.0945514815423265, 1e-14));
  // cos x = x: Dottie number 0.7390851332151607 (OEIS A003957).
  const auto dottie = find_root([](double x) { return std::cos(x) - x; }, 0.0, 1.0);
  REQUIRE(dottie.found());
  CHECK_THAT(dottie.x, WithinAbs(0.7390851332151607, 1e-15));
  CHECK(dottie.evaluations < 15);
  // x e^x = 1: omega constant 0.5671432904097838 (OEIS A030178).
  const auto omega = find_root([](double x) { return x * std::exp(x) - 1.0; }, 0.0, 10.0);
  REQUIRE(omega.found());
  CHECK_THAT(omega.x, WithinAbs(0.5671432904097838, 1e-14));
}

TEST_CASE("root: multiple, tiny and end-point roots", "[solver][root]") {
  const auto triple = find_root([](double x) { return std::pow(x - 1.0, 3); }, 0.0, 2.5);
  REQUIRE(triple.found());
  CHECK_THAT(triple.x, WithinAbs(1.0, 1e-5));  // rounding of a triple root: (1e-16)^(1/3)
  const auto tiny = find_root([](double x) { return x - 1e-30; }, 0.0, 1.0);
  REQUIRE(tiny.found());
  CHECK_THAT(tiny.x, WithinRel(1e-30, 1e-12));
  const auto end = find_root([](double x) { return x; }, 0.0, 1.0);
  REQUIRE(end.found());
  CHECK(end.x == 0.0);
  CHECK(end.lower == end.upper);
}

TEST_CASE("root: failures are statuses", "[solver][root][failure]") {
  CHECK(find_root([](double x) { return x * x + 1.0; }, -1.0, 1.0).status == RootStatus::no_sign_change);
  CHECK(find_root([](double x) { return std::sqrt(x) - 1.0; }, -1.0, 4.0).status == RootStatus::not_finite);
  CHECK(find_root([](double x) { return x < 0.3 ? -1.0 : (x < 0.9 ? std::nan("") : 1.0); }, 0.0, 1.0).status == RootStatus::not_finite);
  CHECK(find_root([](double) -> double { throw std::runtime_error("x"); }, 0.0, 1.0).status == RootStatus::callback_threw);
  CHECK(find_root([](double x) { return x; }, 1.0, -1.0).status == RootStatus::bad_options);
  RootOptions few;
  few.max_evaluations = 5;
  const auto limited = find_root([](double x) { return std::pow(x - 0.3, 9); }, 0.0, 2.0, few);
  CHECK(limited.status == RootStatus::iteration_limit);
  CHECK(std::isfinite(limited.x));
}

TEST_CASE("monotone root: walks from the guess, either way, up or down", "[solver][root]") {
  for (const double target : {1e-3, 0.9, 1.1, 4e5}) {
    for (const double sign : {1.0, -1.0}) {
      MonotoneSearch s;
      s.guess = 1.0;
      s.first_step = 0.1;
      const auto r = find_monotone_root([&](double x) { return sign * (x - target) * (1.0 + 0.1 / (1.0 + x * x)); }, s);
      REQUIRE(r.found());
      CHECK_THAT(r.x, WithinRel(target, 1e-11));
    }
  }
}

TEST_CASE("monotone root: stays within limits and treats a non-finite region as a wall", "[solver][root]") {
  MonotoneSearch s;
  s.guess = 4.0;
  s.first_step = 3.0;
  s.growth = 4.0;
  // log x = -5; the walk jumps below zero where log is NaN.
  const auto r = find_monotone_root([](double x) { return std::log(x) + 5.0; }, s);
  REQUIRE(r.found());
  CHECK_THAT(r.x, WithinRel(std::exp(-5.0), 1e-12));
  s.lower_limit = 0.5;
  s.upper_limit = 8.0;
  const auto none = find_monotone_root([](double x) { return std::log(x) + 5.0; }, s);
  CHECK(none.status == RootStatus::no_sign_change);
  CHECK(none.x == 0.5);  // the best point within the limits
  s.guess = 10.0;
  CHECK(find_monotone_root([](double x) { return x; }, s).status == RootStatus::bad_options);
}
