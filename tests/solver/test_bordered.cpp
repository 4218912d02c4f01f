// Block elimination against Eigen's dense LU (the reference).
#include <Eigen/LU>
#include <random>
#include <vector>

#include "catch.hpp"
#include "solver/bordered.hpp"

using whorl::solver::BorderedMatrix;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

struct Example {
  BorderedMatrix blocks;
  MatrixXd dense;
};

Example random_example(Index n, Index m, const std::vector<Index>& unread, unsigned seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  Example e{BorderedMatrix(n, m, unread), MatrixXd::Zero(n, n)};
  Index column = 0;
  for (const Index j : e.blocks.active()) {
    for (Index i = 0; i < n; ++i) e.blocks.columns(i, column) = e.dense(i, j) = normal(random);
    ++column;
  }
  const Index chain = n - m;
  for (Index k = 0; k < chain; ++k) {
    // a chain that diffuses
    const double lower = k > 0 ? std::abs(normal(random)) : 0.0;
    const double upper = k + 1 < chain ? std::abs(normal(random)) : 0.0;
    e.blocks.diagonal[k] = e.dense(m + k, m + k) = -(lower + upper) - 0.1;
    if (k > 0) e.blocks.below[k] = e.dense(m + k, m + k - 1) = lower;
    if (k + 1 < chain) e.blocks.above[k] = e.dense(m + k, m + k + 1) = upper;
  }
  for (Index i = 0; i < m; ++i) {
    for (Index q = 0; q < 3; ++q) e.blocks.tail(i, q) = e.dense(i, n - 3 + q) = normal(random);
  }
  return e;
}

}  // namespace

TEST_CASE("bordered: the dense solution, with and without unread unknowns", "[solver][bordered][verification]") {
  struct Size {
    Index n, m;
    std::vector<Index> unread;
  };
  const Size size = GENERATE(Size{26, 10, {1, 2, 8, 9}}, Size{26, 10, {}}, Size{17, 1, {}}, Size{3, 0, {}}, Size{7, 4, {0, 1, 2, 3}}, Size{200, 5, {4}});
  for (const double c : {1e-6, 0.01, 0.3}) {
    for (unsigned seed = 1; seed <= 10; ++seed) {
      Example e = random_example(size.n, size.m, size.unread, seed);
      const MatrixXd stage = MatrixXd::Identity(size.n, size.n) - c * e.dense;
      const VectorXd right = VectorXd::Random(size.n);
      REQUIRE(e.blocks.factor(c));
      VectorXd x = VectorXd::Zero(size.n);
      e.blocks.solve(right, x);
      const VectorXd exact = stage.partialPivLu().solve(right);
      INFO("n " << size.n << ", border " << size.m << ", c " << c << ", seed " << seed);
      // rounding, times what a random border may lose
      CHECK((x - exact).lpNorm<Eigen::Infinity>() < 1e-9 * (1.0 + exact.lpNorm<Eigen::Infinity>()));
      CHECK((stage * x - right).lpNorm<Eigen::Infinity>() < 1e-9 * (1.0 + x.lpNorm<Eigen::Infinity>()));
    }
  }
}

TEST_CASE("bordered: singular and not finite are refused", "[solver][bordered]") {
  BorderedMatrix one(4, 1, {});
  one.columns(0, 0) = 2.0;  // 1 - c 2 = 0 at c = 1/2
  CHECK_FALSE(one.factor(0.5));
  CHECK(one.factor(0.25));
  one.diagonal[1] = std::nan("");
  CHECK_FALSE(one.factor(0.25));
  BorderedMatrix chain(5, 1, {});
  chain.diagonal[2] = 4.0;
  CHECK_FALSE(chain.factor(0.25));
}
