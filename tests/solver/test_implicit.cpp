// The implicit stepper against closed solutions and published end values.
#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <vector>

#include "catch.hpp"
#include "solver/implicit.hpp"

using namespace whorl::solver;
using Eigen::VectorXd;

namespace {

VectorXd vec(std::initializer_list<double> values) {
  VectorXd v(static_cast<Eigen::Index>(values.size()));
  Eigen::Index i = 0;
  for (const double x : values) v[i++] = x;
  return v;
}

// y0' = y0 cos t: y0 = exp(sin t); y1' = -2 t y1^2: y1 = 1/(1 + t^2).
const auto coupled = [](const VectorXd& y, VectorXd& d, double t) {
  d[0] = y[0] * std::cos(t);
  d[1] = -2.0 * t * y[1] * y[1];
};

const auto oscillator = [](const VectorXd& y, VectorXd& d, double) {
  d[0] = y[1];
  d[1] = -y[0];
};

const auto robertson = [](const VectorXd& y, VectorXd& d, double) {
  d[0] = -0.04 * y[0] + 1e4 * y[1] * y[2];
  d[2] = 3e7 * y[1] * y[1];
  d[1] = -d[0] - d[2];
};

// Rows of the heat equation on n inner points of (0,1), ends at zero, behind a border of m unknowns y' = -y + a tenth
// of the last chain value. With `far`, every chain row also feels the row 5 before it.
struct Column {
  Eigen::Index m{}, n{};
  double far{};  // coupling outside the structure
  void operator()(const VectorXd& y, VectorXd& d, double) const {
    const double w = static_cast<double>((n + 1) * (n + 1));
    for (Eigen::Index i = 0; i < m; ++i) d[i] = -y[i] + 0.1 * y[m + n - 1];
    for (Eigen::Index i = 0; i < n; ++i) {
      const double left = i > 0 ? y[m + i - 1] : 0.0;
      const double right = i + 1 < n ? y[m + i + 1] : 0.0;
      d[m + i] = w * (left - 2.0 * y[m + i] + right);
      if (i >= 5) d[m + i] += far * y[m + i - 5];
    }
  }
};

}  // namespace

TEST_CASE("implicit: coefficients satisfy the order conditions", "[solver][implicit][verification]") {
  // All conditions up to order 4 for the weights, up to order 3 for the embedded ones (Butcher trees, Hairer, Norsett &
  // Wanner I, table II.2.1, from memory).
  const auto& q = kImplicitTableau;
  constexpr std::size_t s = ImplicitTableau::kStages;
  for (std::size_t i = 0; i < s; ++i) {
    double row = 0.0;
    for (std::size_t j = 0; j < s; ++j) row += q.a[i][j];
    CHECK_THAT(row, WithinAbs(q.c[i], 1e-14));
  }
  std::array<double, 8> main{}, embedded{};
  for (std::size_t i = 0; i < s; ++i) {
    double ac = 0.0, ac2 = 0.0, aac = 0.0;
    for (std::size_t j = 0; j < s; ++j) {
      ac += q.a[i][j] * q.c[j];
      ac2 += q.a[i][j] * q.c[j] * q.c[j];
      for (std::size_t k = 0; k < s; ++k) aac += q.a[i][j] * q.a[j][k] * q.c[k];
    }
    const double c = q.c[i];
    const std::array<double, 8> terms{1.0, c, c * c, ac, c * c * c, c * ac, ac2, aac};
    for (std::size_t k = 0; k < 8; ++k) {
      main[k] += q.a[s - 1][i] * terms[k];
      embedded[k] += q.embedded[i] * terms[k];
    }
  }
  const std::array<double, 8> want{1.0, 1.0 / 2, 1.0 / 3, 1.0 / 6, 1.0 / 4, 1.0 / 8, 1.0 / 12, 1.0 / 24};
  for (std::size_t k = 0; k < 8; ++k) CHECK_THAT(main[k], WithinAbs(want[k], 1e-13));
  for (std::size_t k = 0; k < 4; ++k) CHECK_THAT(embedded[k], WithinAbs(want[k], 1e-13));
  CHECK(std::abs(embedded[7] - want[7]) > 1e-4);  // and is not of order 4
}

TEST_CASE("implicit: order 4 in fixed steps, two-sided, also with a wrong Jacobian", "[solver][implicit][verification]") {
  // Kepler orbit of eccentricity 0.1 (closed after 2 pi). Stated as a chain of neighbours the Jacobian lacks most of its
  // entries, the coupling of velocity to position among them.
  const auto kepler = [](const VectorXd& y, VectorXd& d, double) {
    const double r2 = y[0] * y[0] + y[1] * y[1];
    const double w = 1.0 / (r2 * std::sqrt(r2));
    d << y[2], y[3], -y[0] * w, -y[1] * w;
  };
  const double e = 0.1;
  const VectorXd start = vec({1.0 - e, 0.0, 0.0, std::sqrt((1.0 + e) / (1.0 - e))});
  const double period = 2.0 * std::numbers::pi;
  for (const auto kind : {JacobianStructure::Kind::dense, JacobianStructure::Kind::bordered_tridiagonal}) {
    double previous = 0.0;
    for (int level = 0; level < 5; ++level) {
      MarchOptions o;
      o.relative_tolerance = 1e-13;  // of the stage iteration: far below the error of the steps
      const int steps = 48 << level;
      o.fixed_step = period / steps;
      const auto r = march_implicit(kepler, start, VectorXd::Ones(4), 0.0, period, o, {}, detail::NoObserver{}, {kind, 0});
      REQUIRE(r.status == MarchStatus::reached_end);
      CHECK(r.counters.accepted == steps);
      const double error = (r.state - start).norm();
      INFO("steps " << steps << " error " << error << " before " << previous);
      if (level > 0) CHECK_THAT(std::log2(previous / error), WithinAbs(4.0, 0.2));
      previous = error;
    }
  }
}

TEST_CASE("implicit: two marches by the same steps differ as their solutions do", "[solver][implicit]") {
  // y' = -50 (y - a cos t): stiff, and linear in a
  const auto end = [](double a, const StepPlan* plan) {
    MarchOptions o;
    o.relative_tolerance = 1e-4;
    o.keep_steps = true;
    o.plan = plan;
    const auto r = march_implicit(
        [a](const VectorXd& y, VectorXd& d, double t) { d[0] = -50.0 * (y[0] - a * std::cos(t)); }, vec({0.0}),
        vec({1.0}), 0.0, 2.0, o);
    REQUIRE(r.status == MarchStatus::reached_end);
    if (plan != nullptr) CHECK(r.steps.size == plan->size);
    return std::pair{r.state[0], r.steps};
  };
  const StepPlan plan = end(1.0, nullptr).second;
  constexpr double h = 1e-5;
  const double slope = (end(1.0 + h, &plan).first - end(1.0 - h, &plan).first) / (2.0 * h);
  const double exact = (2500.0 * std::cos(2.0) + 50.0 * std::sin(2.0)) / 2501.0;  // exp(-100) left out
  CHECK(std::abs(slope - exact) < 1e-3);
}

TEST_CASE("implicit: global error follows the tolerance", "[solver][implicit]") {
  for (const double tolerance : {1e-4, 1e-6, 1e-8, 1e-10}) {
    MarchOptions o;
    o.relative_tolerance = tolerance;
    const auto r = march_implicit(coupled, vec({1.0, 1.0}), vec({1.0, 1.0}), 0.0, 3.0, o);
    REQUIRE(r.status == MarchStatus::reached_end);
    CHECK(r.t == 3.0);
    CHECK(std::abs(r.state[0] - std::exp(std::sin(3.0))) < 20.0 * tolerance);
    CHECK(std::abs(r.state[1] - 0.1) < 20.0 * tolerance);
  }
  MarchOptions o;
  o.relative_tolerance = 1e-9;
  const auto back = march_implicit(oscillator, vec({std::cos(3.0), -std::sin(3.0)}), vec({1.0, 1.0}), 3.0, -2.0, o);
  REQUIRE(back.converged());
  CHECK_THAT(back.state[0], WithinAbs(std::cos(2.0), 1e-7));
  CHECK_THAT(back.state[1], WithinAbs(std::sin(2.0), 1e-7));
}

TEST_CASE("implicit: Robertson's reaction at t = 40 and far beyond", "[solver][implicit][verification]") {
  MarchOptions o;
  o.relative_tolerance = 1e-9;
  o.absolute_tolerance = 1e-9;
  const VectorXd scale = vec({1.0, 1e-5, 1.0});
  const auto r = march_implicit(robertson, vec({1.0, 0.0, 0.0}), scale, 0.0, 40.0, o);
  REQUIRE(r.status == MarchStatus::reached_end);
  // Hairer & Wanner II, IV.10 (from memory): 0.7158270688, 0.9185534765e-5, 0.2841637457.
  CHECK_THAT(r.state[0], WithinRel(0.7158270688, 1e-8));
  CHECK_THAT(r.state[1], WithinRel(0.9185534765e-5, 1e-7));
  CHECK_THAT(r.state[2], WithinRel(0.2841637457, 1e-8));
  o.relative_tolerance = 1e-6;
  o.absolute_tolerance = 1e-9;
  const auto far = march_implicit(robertson, vec({1.0, 0.0, 0.0}), scale, 0.0, 1e6, o);
  REQUIRE(far.converged());
  CHECK_THAT(far.state.sum(), WithinAbs(1.0, 1e-8));  // linear invariant, kept to the iteration tolerance
  CHECK(far.counters.accepted < 500);
}

TEST_CASE("implicit: stiff van der Pol oscillator, mu = 1000", "[solver][implicit][verification]") {
  // Scaled form with eps = 1e-6, Hairer & Wanner II, IV.10: start (2, 0), at t = 2: 1.706167732, -0.892809701 (from
  // memory). Tolerance: two and four times that of the march; a start on the slow curve (y' = -0.66) ends 1.7e-7 off.
  const auto rhs = [](const VectorXd& y, VectorXd& d, double) {
    d[0] = y[1];
    d[1] = ((1.0 - y[0] * y[0]) * y[1] - y[0]) / 1e-6;
  };
  MarchOptions o;
  o.relative_tolerance = 1e-8;
  const auto r = march_implicit(rhs, vec({2.0, 0.0}), vec({1.0, 1.0}), 0.0, 2.0, o);
  REQUIRE(r.converged());
  CHECK_THAT(r.state[0], WithinRel(1.706167732, 2e-8));
  CHECK_THAT(r.state[1], WithinRel(-0.892809701, 4e-8));
  CHECK(r.counters.accepted < 20000);  // an explicit method needs some 1e6
}

TEST_CASE("implicit: heat equation decays at the closed rate of its difference form, with m + 3 calls per Jacobian", "[solver][implicit][verification]") {
  const Eigen::Index m = 4, n = 30;
  const double pi = std::numbers::pi;
  const double w = static_cast<double>((n + 1) * (n + 1));
  const double half_angle = std::sin(0.5 * pi / static_cast<double>(n + 1));
  const double rate = 4.0 * w * half_angle * half_angle;  // eigenvalue of the first mode
  VectorXd start = VectorXd::Zero(m + n);
  for (Eigen::Index i = 0; i < n; ++i) start[m + i] = std::sin(pi * static_cast<double>(i + 1) / static_cast<double>(n + 1));
  MarchOptions o;
  o.relative_tolerance = 1e-7;
  const VectorXd scale = VectorXd::Ones(m + n);
  const double t_end = 0.2;
  const auto r = march_implicit(Column{m, n, 0.0}, start, scale, 0.0, t_end, o, {}, detail::NoObserver{},
                                {JacobianStructure::Kind::bordered_tridiagonal, m});
  REQUIRE(r.converged());
  for (Eigen::Index i = 0; i < n; ++i) CHECK_THAT(r.state[m + i], WithinAbs(start[m + i] * std::exp(-rate * t_end), 1e-6));
  // Border: y' = -y + 0.1 s exp(-rate t), s the start value at the end of the chain.
  const double share = 0.1 * start[m + n - 1] * (std::exp(-t_end) - std::exp(-rate * t_end)) / (rate - 1.0);
  for (Eigen::Index i = 0; i < m; ++i) CHECK_THAT(r.state[i], WithinAbs(share, 1e-7));
  // A linear system: the first Jacobian serves throughout.
  CHECK(r.counters.jacobians <= 2);
  CHECK(r.counters.rhs_calls < 5 * 3 * (r.counters.accepted + r.counters.rejected) + 2 * (m + 4) + 2);

  // Dense and structured give the same solution, also when the truth has entries outside the structure.
  for (const double far : {0.0, 100.0}) {
    const auto dense = march_implicit(Column{m, n, far}, start, scale, 0.0, t_end, o);
    const auto hinted = march_implicit(Column{m, n, far}, start, scale, 0.0, t_end, o, {}, detail::NoObserver{},
                                       {JacobianStructure::Kind::bordered_tridiagonal, m});
    REQUIRE(dense.converged());
    REQUIRE(hinted.converged());
    // Far coupling makes the solution grow (to about 1e5 at 100): compare relative to its size.
    CHECK((dense.state - hinted.state).lpNorm<Eigen::Infinity>() < 2e-6 * dense.state.lpNorm<Eigen::Infinity>());
    if (far > 0.0) CHECK(hinted.counters.rhs_calls > dense.counters.rhs_calls);  // the hint was wrong, and only cost calls
  }
}

TEST_CASE("implicit: a chain that loses the square of its last unknown, down to less than a difference", "[solver][implicit]") {
  // a dried surface: what flows in leaves as K y^2, so the last unknown is sqrt(inflow/K), here some 1e-7 of the others
  constexpr double kLoss = 1e13;
  constexpr Eigen::Index n = 8;
  const auto drying = [](const VectorXd& y, VectorXd& d, double) {
    double inflow = 0.0;
    for (Eigen::Index i = 0; i + 1 < n; ++i) {
      const double through = y[i + 1] - y[i];
      d[i] = through - inflow;
      inflow = through;
    }
    d[n - 1] = -kLoss * y[n - 1] * y[n - 1] - inflow;
  };
  MarchOptions options;
  options.relative_tolerance = 1e-6;
  const VectorXd start = VectorXd::Ones(n);
  const auto r = march_implicit(drying, start, VectorXd::Ones(n), 0.0, 40.0, options, {}, {},
                                {JacobianStructure::Kind::bordered_tridiagonal, 0});
  REQUIRE(r.status == MarchStatus::reached_end);
  const double inflow = r.state[n - 2] - r.state[n - 1];
  // it lies far below the absolute tolerance: to some per cent
  CHECK_THAT(kLoss * r.state[n - 1] * r.state[n - 1], WithinRel(inflow, 0.05));
  // with the end held at nothing the rest decays by its slowest mode: cells of a rod, one end closed (closed form)
  const double slowest = 4.0 * std::pow(std::sin(0.5 * std::numbers::pi / (2.0 * (n - 1) + 1.0)), 2);
  const auto later = march_implicit(drying, r.state, VectorXd::Ones(n), 0.0, 20.0, options, {}, {},
                                    {JacobianStructure::Kind::bordered_tridiagonal, 0});
  REQUIRE(later.status == MarchStatus::reached_end);
  CHECK_THAT(later.state[0] / r.state[0], WithinRel(std::exp(-20.0 * slowest), 1e-3));
  CHECK(r.counters.accepted + r.counters.rejected < 400);
}

TEST_CASE("implicit: events are located to 1e-10, restart does not repeat them", "[solver][implicit][event]") {
  MarchOptions o;
  o.relative_tolerance = 1e-12;
  const std::vector<Event<VectorXd>> events{{[](const VectorXd& y, double) { return y[0]; }},
                                            {[](const VectorXd&, double t) { return t - 1.0; }, Crossing::rising, false}};
  std::vector<double> seen;
  const auto r = march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0, 1.0}), 0.0, 10.0, o, events, [&](const VectorXd&, double t) { seen.push_back(t); });
  REQUIRE(r.status == MarchStatus::event);
  REQUIRE(r.events.size() == 2);
  CHECK(r.event_index == 0);
  CHECK_THAT(r.events[0].t, WithinAbs(1.0, 1e-12));
  CHECK_THAT(r.t, WithinAbs(std::numbers::pi / 2.0, 1e-10));
  CHECK_THAT(r.state[1], WithinAbs(-1.0, 1e-10));
  CHECK(std::is_sorted(seen.begin(), seen.end()));
  CHECK(seen.back() == r.t);
  const auto next = march_implicit(oscillator, r.state, vec({1.0, 1.0}), r.t, 10.0, o, std::span(events).first(1));
  REQUIRE(next.status == MarchStatus::event);
  CHECK_THAT(next.t, WithinAbs(1.5 * std::numbers::pi, 1e-10));
}

TEST_CASE("implicit: failures are statuses with a finite last point", "[solver][implicit][failure]") {
  const VectorXd one = vec({1.0});
  const auto blow = march_implicit([](const VectorXd& y, VectorXd& d, double) { d[0] = y[0] * y[0]; }, one, one, 0.0, 2.0);
  CHECK(blow.status == MarchStatus::step_too_small);
  CHECK(blow.state.allFinite());
  CHECK_THAT(blow.t, WithinAbs(1.0, 1e-4));
  CHECK(blow.counters.rhs_calls < 20000);

  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
    const auto wall = march_implicit([bad](const VectorXd& y, VectorXd& d, double) { d[0] = y[0] > 1.0 ? bad : 1.0; }, vec({0.0}), one, 0.0, 3.0);
    CHECK(wall.status == MarchStatus::not_finite);
    CHECK_THAT(wall.t, WithinAbs(1.0, 1e-7));
    CHECK(wall.state[0] <= 1.0);
    CHECK(wall.counters.rhs_calls < 5000);
  }
  const auto refuses = march_implicit(
      [](const VectorXd& y, VectorXd& d, double) {
        d[0] = 1.0;
        return y[0] <= 1.0;
      },
      vec({0.0}), one, 0.0, 3.0);
  CHECK(refuses.status == MarchStatus::not_finite);
  const auto thrown = march_implicit([](const VectorXd&, VectorXd&, double) { throw std::runtime_error("no data here"); }, one, one, 0.0, 1.0);
  CHECK(thrown.status == MarchStatus::callback_threw);
  CHECK(thrown.message == "no data here");
  const auto stop = march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0, 1.0}), 0.0, 10.0, {}, {}, [](const VectorXd&, double t) { return t < 1.0; });
  CHECK(stop.status == MarchStatus::interrupted);
  MarchOptions o;
  o.max_steps = 5;
  CHECK(march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0, 1.0}), 0.0, 1e4, o).status == MarchStatus::step_limit);
  CHECK(march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0}), 0.0, 1.0).status == MarchStatus::bad_options);
  CHECK(march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0, 0.0}), 0.0, 1.0).status == MarchStatus::bad_options);
  CHECK(march_implicit(oscillator, vec({1.0, 0.0}), vec({1.0, 1.0}), 0.0, 1.0, {}, {}, detail::NoObserver{},
                       {JacobianStructure::Kind::bordered_tridiagonal, 3})
            .status == MarchStatus::bad_options);
}
