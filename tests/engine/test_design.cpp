#include "catch.hpp"
#include "whorl/engine/design.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

using whorl::engine::Axis;
using whorl::engine::Design;
using whorl::engine::DesignKind;
using whorl::engine::Spacing;

namespace {

Axis range(double from, double to, std::uint64_t points = 0, Spacing spacing = Spacing::linear, bool whole = false) {
  Axis axis;
  axis.from = from;
  axis.to = to;
  axis.points = points;
  axis.spacing = spacing;
  axis.whole = whole;
  return axis;
}

Axis list(std::vector<double> levels) {
  Axis axis;
  axis.levels = std::move(levels);
  return axis;
}

std::vector<double> column(const Design& design, std::size_t axis) {
  std::vector<double> values(design.axes().size());
  std::vector<double> found;
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    design.point(i, values);
    found.push_back(values[axis]);
  }
  return found;
}

}  // namespace

TEST_CASE("permuted_index is a permutation for every size and key tried") {
  for (const std::uint64_t size : {1U, 2U, 3U, 4U, 5U, 7U, 16U, 17U, 64U, 65U, 100U, 1000U, 4097U})
    for (const std::uint64_t key : {0ULL, 1ULL, 0xFFFFFFFFFFFFFFFFULL, 12345678901234567ULL}) {
      std::vector<bool> seen(size, false);
      for (std::uint64_t i = 0; i < size; ++i) {
        const std::uint64_t image = whorl::engine::permuted_index(i, size, key);
        REQUIRE(image < size);
        REQUIRE_FALSE(seen[image]);
        seen[image] = true;
      }
    }
}

TEST_CASE("permuted_index scatters: neighbours do not stay neighbours, keys differ") {
  constexpr std::uint64_t kSize = 10000;
  std::uint64_t close = 0;
  std::uint64_t equal = 0;
  for (std::uint64_t i = 0; i + 1 < kSize; ++i) {
    const auto a = static_cast<double>(whorl::engine::permuted_index(i, kSize, 1));
    const auto b = static_cast<double>(whorl::engine::permuted_index(i + 1, kSize, 1));
    if (std::abs(a - b) <= 10.0) ++close;
    if (whorl::engine::permuted_index(i, kSize, 1) == whorl::engine::permuted_index(i, kSize, 2)) ++equal;
  }
  // A random permutation has 20 close pairs (2 x 10 of 10000) and 1 equal image on average; 60 and 10 are 9 standard
  // deviations of the Poisson counts away, so a failure is no accident.
  CHECK(close < 60);
  CHECK(equal < 10);
}

TEST_CASE("a grid holds every combination once, last axis fastest, with the numbers a person would write") {
  const Design grid(DesignKind::grid, {range(4000, 12000, 3), list({0.0, 0.1}), range(0.1, 0.5, 5)}, 0, 0);
  REQUIRE(grid.size() == 30);
  std::vector<double> p(3);
  grid.point(0, p);
  CHECK(p == std::vector<double>{4000, 0.0, 0.1});
  grid.point(2, p);
  CHECK(p == std::vector<double>{4000, 0.0, 0.3});  // not 0.30000000000000004
  grid.point(7, p);
  CHECK(p == std::vector<double>{4000, 0.1, 0.3});
  grid.point(29, p);
  CHECK(p == std::vector<double>{12000, 0.1, 0.5});
  std::set<std::vector<double>> all;
  for (std::uint64_t i = 0; i < grid.size(); ++i) {
    grid.point(i, p);
    all.insert(p);
  }
  CHECK(all.size() == 30);
}

TEST_CASE("a logarithmic range has equal ratios and exact ends") {
  const auto levels = column(Design(DesignKind::grid, {range(0.001, 1000, 7, Spacing::logarithmic)}, 0, 0), 0);
  CHECK(levels == std::vector<double>{0.001, 0.01, 0.1, 1, 10, 100, 1000});
}

TEST_CASE("a range across zero holds zero") {
  CHECK(column(Design(DesignKind::grid, {range(-0.1, 0.2, 4)}, 0, 0), 0) == std::vector<double>{-0.1, 0, 0.1, 0.2});
  CHECK(column(Design(DesignKind::grid, {range(-5, 10, 4)}, 0, 0), 0) == std::vector<double>{-5, 0, 5, 10});
}

TEST_CASE("a falling range is allowed") {
  CHECK(column(Design(DesignKind::grid, {range(3, 1, 3)}, 0, 0), 0) == std::vector<double>{3, 2, 1});
}

// The property that defines the design: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239-245.
TEST_CASE("latin hypercube: one point in every stratum of every axis") {
  for (const std::uint64_t n : {1U, 2U, 3U, 10U, 37U, 1000U}) {
    const Design design(DesignKind::latin_hypercube, {range(0, 1), range(0, 1), range(10, 20), range(1, 100, 0, Spacing::logarithmic)}, n, 7);
    for (std::size_t axis = 0; axis < 4; ++axis) {
      std::vector<int> hits(n, 0);
      for (double value : column(design, axis)) {
        if (axis == 2) value = (value - 10.0) / 10.0;
        if (axis == 3) value = std::log10(value) / 2.0;
        const auto stratum = static_cast<std::size_t>(std::floor(value * static_cast<double>(n)));
        ++hits[std::min(stratum, static_cast<std::size_t>(n) - 1)];
      }
      CHECK(std::all_of(hits.begin(), hits.end(), [](int h) { return h == 1; }));
    }
  }
}

TEST_CASE("latin hypercube: axes are uncorrelated, seeds differ, the same seed repeats") {
  const auto make = [](std::uint64_t seed) {
    return Design(DesignKind::latin_hypercube, {range(0, 1), range(0, 1), range(0, 1)}, 2000, seed);
  };
  const Design design = make(1);
  for (std::size_t a = 0; a < 3; ++a)
    for (std::size_t b = a + 1; b < 3; ++b) {
      const auto x = column(design, a);
      const auto y = column(design, b);
      double sum = 0.0;
      for (std::size_t i = 0; i < x.size(); ++i) sum += (x[i] - 0.5) * (y[i] - 0.5);
      // Standard deviation of the correlation of 2000 independent pairs: 1/sqrt(2000) = 0.022; 5 of them.
      CHECK(std::abs(sum / static_cast<double>(x.size()) * 12.0) < 0.11);
    }
  CHECK(column(make(1), 0) == column(design, 0));
  CHECK(column(make(2), 0) != column(design, 0));
}

namespace {

constexpr unsigned kBits = 20;

// The leading bits of every coordinate of a Sobol design. The seed shifts a coordinate by one exclusive or, and point 0 of the
// sequence is the origin, so that point 0 of the design is the shift; what is left is the sequence itself.
std::vector<std::vector<std::uint32_t>> unshifted(std::uint64_t points, std::size_t dimensions, std::uint64_t seed) {
  const double largest = std::ldexp(1.0, kBits) - 1.0;
  const Design design(DesignKind::sobol, std::vector<Axis>(dimensions, range(0, largest, 0, Spacing::linear, true)), points, seed);
  std::vector<double> values(dimensions);
  std::vector<std::vector<std::uint32_t>> bits(points, std::vector<std::uint32_t>(dimensions));
  for (std::uint64_t i = 0; i < points; ++i) {
    design.point(i, values);
    for (std::size_t k = 0; k < dimensions; ++k)
      bits[i][k] = static_cast<std::uint32_t>(values[k]) ^ (i == 0 ? 0U : bits[0][k]);
  }
  bits[0].assign(dimensions, 0U);
  return bits;
}

/// A row of the published table: degree, inner coefficients of the primitive polynomial, initial direction numbers.
struct DirectionRow {
  unsigned degree, coefficients;
  std::vector<std::uint32_t> initial;
};

}  // namespace

// Source: example output on the page of S. Joe and F. Y. Kuo, "Sobol sequence generator" (web.maths.unsw.edu.au/~fkuo/sobol),
// read in two programs that test themselves against it: 10 points in 3 dimensions from new-joe-kuo-6.21201.
TEST_CASE("sobol: the ten points that Joe and Kuo publish, whatever the shift") {
  constexpr double kPublished[10][3] = {{0, 0, 0},          {0.5, 0.5, 0.5},       {0.75, 0.25, 0.25},        {0.25, 0.75, 0.75},
                                        {0.375, 0.375, 0.625}, {0.875, 0.875, 0.125}, {0.625, 0.125, 0.875},     {0.125, 0.625, 0.375},
                                        {0.1875, 0.3125, 0.9375}, {0.6875, 0.8125, 0.4375}};
  for (const std::uint64_t seed : {0ULL, 1ULL, 987654321ULL}) {
    const auto bits = unshifted(10, 3, seed);
    for (std::size_t i = 0; i < 10; ++i)
      for (std::size_t k = 0; k < 3; ++k) {
        CAPTURE(seed, i, k);
        CHECK(std::ldexp(static_cast<double>(bits[i][k]), -static_cast<int>(kBits)) == kPublished[i][k]);  // exact in binary
      }
  }
}

// Source: S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008) 2635-2654, and their file new-joe-kuo-6.21201, rows 2 to 12 as
// read in the copy that SciPy 1.10 carries. The generator below is the textbook one: recurrence, then one exclusive or per
// set bit of the Gray code; it shares nothing with the design, which takes its direction numbers from Boost.
TEST_CASE("sobol: twelve dimensions against the published direction numbers") {
  const std::vector<DirectionRow> rows{{1, 0, {1}},           {2, 1, {1, 3}},        {3, 1, {1, 3, 1}},      {3, 2, {1, 1, 1}},
                                       {4, 1, {1, 1, 3, 3}},  {4, 4, {1, 3, 5, 13}}, {5, 2, {1, 1, 5, 5, 17}}, {5, 4, {1, 1, 5, 5, 5}},
                                       {5, 7, {1, 1, 7, 11, 19}}, {5, 11, {1, 1, 5, 1, 1}}, {5, 13, {1, 1, 1, 3, 11}}};
  constexpr std::uint64_t kPoints = 5000;
  std::vector<std::vector<std::uint32_t>> direction(rows.size() + 1, std::vector<std::uint32_t>(kBits));
  for (unsigned r = 0; r < kBits; ++r) direction[0][r] = 1U << (kBits - 1 - r);
  for (std::size_t d = 0; d < rows.size(); ++d) {
    const auto& [degree, coefficients, initial] = rows[d];
    std::vector<std::uint32_t> m = initial;  // odd numbers m_r < 2^r
    for (unsigned r = degree; r < kBits; ++r) {
      std::uint32_t next = m[r - degree] ^ (m[r - degree] << degree);
      for (unsigned k = 1; k < degree; ++k)
        if (((coefficients >> (degree - 1 - k)) & 1U) != 0) next ^= m[r - k] << k;
      m.push_back(next);
    }
    for (unsigned r = 0; r < kBits; ++r) direction[d + 1][r] = m[r] << (kBits - 1 - r);
  }
  const auto bits = unshifted(kPoints, rows.size() + 1, 42);
  std::uint64_t wrong = 0;
  for (std::uint64_t i = 0; i < kPoints; ++i)
    for (std::size_t k = 0; k < direction.size(); ++k) {
      std::uint32_t expected = 0;
      const std::uint64_t gray = i ^ (i >> 1U);
      for (unsigned r = 0; r < kBits; ++r)
        if (((gray >> r) & 1U) != 0) expected ^= direction[k][r];
      wrong += expected != bits[i][k] ? 1U : 0U;
    }
  CHECK(wrong == 0);
}

// Nets: I. M. Sobol, USSR Comput. Math. Math. Phys. 7 (1967) 86-112. The first 2^m points of the first two coordinates are a
// (0, m, 2)-net in base 2: one point in every elementary interval of volume 2^-m. A digital shift keeps this.
TEST_CASE("sobol: a (0, m, 2)-net in the first two axes, balanced in all of twelve") {
  constexpr unsigned kM = 8;
  constexpr std::uint64_t kPoints = 1U << kM;
  for (const std::uint64_t seed : {1U, 99U}) {
    const Design design(DesignKind::sobol, std::vector<Axis>(12, range(0, 1)), kPoints, seed);
    const auto x = column(design, 0);
    const auto y = column(design, 1);
    for (unsigned split = 0; split <= kM; ++split) {
      std::vector<int> hits(kPoints, 0);
      for (std::size_t i = 0; i < kPoints; ++i) {
        const auto cell_x = static_cast<std::size_t>(std::ldexp(x[i], static_cast<int>(split)));
        const auto cell_y = static_cast<std::size_t>(std::ldexp(y[i], static_cast<int>(kM - split)));
        ++hits[(cell_x << (kM - split)) + cell_y];
      }
      CHECK(std::all_of(hits.begin(), hits.end(), [](int h) { return h == 1; }));
    }
    for (std::size_t axis = 0; axis < 12; ++axis) {
      std::vector<int> hits(kPoints, 0);
      for (const double value : column(design, axis)) ++hits[static_cast<std::size_t>(value * static_cast<double>(kPoints))];
      CHECK(std::all_of(hits.begin(), hits.end(), [](int h) { return h == 1; }));
    }
  }
}

TEST_CASE("sobol: the mean of a smooth product converges faster than a random sample") {
  // Product of (pi/2) sin(pi x_k) over four axes: the integral is 1.
  constexpr double kPi = 3.14159265358979323846;
  const Design design(DesignKind::sobol, std::vector<Axis>(4, range(0, 1)), 4096, 3);
  std::vector<double> p(4);
  double sum = 0.0;
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    design.point(i, p);
    double product = 1.0;
    for (const double x : p) product *= kPi / 2.0 * std::sin(kPi * x);
    sum += product;
  }
  // Random sampling: variance (pi^2/8)^4 - 1 = 1.32, standard error 0.018 at 4096 points. A tenth of that.
  CHECK(std::abs(sum / 4096.0 - 1.0) < 0.0018);
}

TEST_CASE("space-filling designs give every level of a list and every whole number its share") {
  for (const auto kind : {DesignKind::latin_hypercube, DesignKind::sobol}) {
    const Design design(kind, {list({5, 6, 9, 1}), range(1, 4, 0, Spacing::linear, true), range(4, 1, 0, Spacing::linear, true)}, 64, 1);
    for (const double level : {5.0, 6.0, 9.0, 1.0}) {
      const auto levels = column(design, 0);
      CHECK(std::count(levels.begin(), levels.end(), level) == 16);
    }
    for (std::size_t axis = 1; axis < 3; ++axis) {
      const auto wholes = column(design, axis);
      for (const double level : {1.0, 2.0, 3.0, 4.0}) CHECK(std::count(wholes.begin(), wholes.end(), level) == 16);
    }
  }
}

TEST_CASE("a billion points cost no more than one") {
  const Design design(DesignKind::latin_hypercube, {range(0, 1), range(2, 3)}, whorl::engine::kMaxDesignPoints, 5);
  std::vector<double> p(2);
  design.point(whorl::engine::kMaxDesignPoints - 1, p);
  CHECK(p[0] >= 0.0);
  CHECK(p[0] < 1.0);
  CHECK(p[1] >= 2.0);
  CHECK(p[1] < 3.0);
  CHECK_THROWS_AS(design.point(whorl::engine::kMaxDesignPoints, p), std::out_of_range);
}

TEST_CASE("a design that makes no sense is refused") {
  using Axes = std::vector<Axis>;
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes{}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes{range(1, 2, 1)}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes{range(1, 1, 3)}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes{range(0, 1, 3, Spacing::logarithmic)}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes{range(0, NAN, 3)}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::grid, Axes(4, range(0, 1, 1000)), 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::sobol, Axes{range(0, 1)}, 0, 0), std::invalid_argument);
  CHECK_THROWS_AS(Design(DesignKind::latin_hypercube, Axes{range(0, 1)}, 1'000'000'001, 0), std::invalid_argument);
}

TEST_CASE("round_15_digits") {
  CHECK(whorl::engine::round_15_digits(0.1 + 0.2) == 0.3);
  CHECK(whorl::engine::round_15_digits(4000.0000000000005) == 4000.0);
  CHECK(whorl::engine::round_15_digits(-1e-300) == -1e-300);
  CHECK(whorl::engine::round_15_digits(0.0) == 0.0);
}
