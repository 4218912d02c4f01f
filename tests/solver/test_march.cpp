// The explicit stepper against closed solutions.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <vector>

#include "catch.hpp"
#include "solver/march.hpp"

using namespace whorl::solver;

namespace {

using S1 = std::array<double, 1>;
using S2 = std::array<double, 2>;
using S4 = std::array<double, 4>;

const auto oscillator = [](const S2& y, S2& d, double) {
  d[0] = y[1];
  d[1] = -y[0];
};

// y0' = y0 cos t: y0 = exp(sin t); y1' = -2 t y1^2: y1 = 1/(1 + t^2).
const auto coupled = [](const S2& y, S2& d, double t) {
  d[0] = y[0] * std::cos(t);
  d[1] = -2.0 * t * y[1] * y[1];
};

// Kepler orbit of eccentricity e: at t = 2 pi the start point returns (period is 2 pi for unit semi-axis).
const auto kepler = [](const S4& y, S4& d, double) {
  const double r2 = y[0] * y[0] + y[1] * y[1];
  const double w = 1.0 / (r2 * std::sqrt(r2));
  d = {y[2], y[3], -y[0] * w, -y[1] * w};
};

bool finite(const auto& state) {
  return std::all_of(state.begin(), state.end(), [](double v) { return std::isfinite(v); });
}

}  // namespace

TEST_CASE("march: exponential decay and oscillator reach the closed solution within the tolerance", "[solver][march]") {
  for (const double tolerance : {1e-4, 1e-6, 1e-8, 1e-10}) {
    MarchOptions o;
    o.relative_tolerance = tolerance;
    const auto r = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, o);
    REQUIRE(r.status == MarchStatus::reached_end);
    CHECK(r.t == 10.0);
    // Global error stays within the number of steps (at most 200) times the local tolerance.
    CHECK(std::abs(r.state[0] - std::cos(10.0)) < 50.0 * tolerance);
    CHECK(std::abs(r.state[1] + std::sin(10.0)) < 50.0 * tolerance);
  }
}

TEST_CASE("march: two marches by the same steps differ as their solutions do", "[solver][march]") {
  // y' = -a y over 3, and its derivative with respect to a: -3 exp(-3 a)
  const auto end = [](double a, const StepPlan* plan, bool& same) {
    MarchOptions o;
    o.relative_tolerance = 1e-4;
    o.keep_steps = true;
    o.plan = plan;
    const auto r = march([a](const S1& y, S1& d, double) { d[0] = -a * y[0]; }, S1{1.0}, {1.0}, 0.0, 3.0, o);
    REQUIRE(r.status == MarchStatus::reached_end);
    if (plan != nullptr) same = r.steps.size == plan->size && r.counters.rejected == 0;
    return std::pair{r.state[0], r.steps};
  };
  bool same = false;
  const StepPlan plan = end(1.0, nullptr, same).second;
  REQUIRE(plan.size.size() > 3);
  CHECK_FALSE(plan.stiff);
  constexpr double h = 1e-6;  // differences of steps of their own could not show it: 1e-4 / 1e-6
  const double slope = (end(1.0 + h, &plan, same).first - end(1.0 - h, &plan, same).first) / (2.0 * h);
  CHECK(same);
  CHECK(std::abs(slope + 3.0 * std::exp(-3.0)) < 1e-3);
  // one that fits no longer is left, not followed
  const double wide = end(8.0, &plan, same).first;
  CHECK_FALSE(same);
  CHECK(std::abs(wide - std::exp(-24.0)) < 1e-3);
}

TEST_CASE("march: a plan goes on with its last step, over an event too", "[solver][march][event]") {
  StepPlan plan{{0.25, 0.25, 0.5}};
  MarchOptions o;
  o.relative_tolerance = 1e-3;
  o.keep_steps = true;
  o.plan = &plan;
  const Event<S2> down{[](const S2& y, double) { return y[0]; }, Crossing::falling};
  const auto r = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, o, std::span(&down, 1));
  REQUIRE(r.status == MarchStatus::event);
  CHECK_THAT(r.t, WithinAbs(0.5 * std::numbers::pi, 1e-3));
  REQUIRE(r.steps.size.size() == 5);
  CHECK(r.steps.size[3] == 0.5);       // as the last of the plan
  CHECK(1.5 + r.steps.size[4] > r.t);  // a whole step, though the event ended it
}

TEST_CASE("march: marches backward", "[solver][march]") {
  MarchOptions o;
  o.relative_tolerance = 1e-10;
  const auto r = march(oscillator, S2{std::cos(3.0), -std::sin(3.0)}, {1.0, 1.0}, 3.0, -2.0, o);
  REQUIRE(r.status == MarchStatus::reached_end);
  CHECK_THAT(r.state[0], WithinAbs(std::cos(-2.0), 1e-8));
  CHECK_THAT(r.state[1], WithinAbs(-std::sin(-2.0), 1e-8));
}

TEST_CASE("march: Kepler orbit closes after one period", "[solver][march]") {
  const double e = 0.6;
  const S4 start{1.0 - e, 0.0, 0.0, std::sqrt((1.0 + e) / (1.0 - e))};
  MarchOptions o;
  o.relative_tolerance = 1e-11;
  const auto r = march(kepler, start, {1.0, 1.0, 1.0, 1.0}, 0.0, 2.0 * std::numbers::pi, o);
  REQUIRE(r.converged());
  for (std::size_t i = 0; i < 4; ++i) CHECK_THAT(r.state[i], WithinAbs(start[i], 1e-8));
}

TEST_CASE("march: order 5 in fixed steps, two-sided", "[solver][march][verification]") {
  // Kepler orbit, nonlinear, closed solution after one period. Steps fine enough for the leading error term to rule,
  // coarse enough to stay 100 times above rounding.
  const double e = 0.3;
  const S4 start{1.0 - e, 0.0, 0.0, std::sqrt((1.0 + e) / (1.0 - e))};
  const double period = 2.0 * std::numbers::pi;
  double previous = 0.0;
  for (int level = 0; level < 5; ++level) {
    MarchOptions o;
    const int steps = 64 << level;
    o.fixed_step = period / steps;
    const auto r = march(kepler, start, {1.0, 1.0, 1.0, 1.0}, 0.0, period, o);
    REQUIRE(r.status == MarchStatus::reached_end);
    CHECK(r.counters.accepted == steps);
    CHECK(r.counters.rhs_calls == 6 * steps + 1);
    double error = 0.0;
    for (std::size_t i = 0; i < 4; ++i) error = std::hypot(error, r.state[i] - start[i]);
    if (level > 0) {
      INFO("steps " << steps << ", error " << error << ", before " << previous);
      CHECK_THAT(std::log2(previous / error), WithinAbs(5.0, 0.2));
    }
    previous = error;
  }
}

TEST_CASE("march: dense output has order 4 inside the step", "[solver][march][verification]") {
  // One step of size h from the closed solution; the error at its middle is of order h^5 (local) for an order-4 output.
  double previous = 0.0;
  for (int level = 0; level < 5; ++level) {
    const double h = 0.1 / std::pow(2.0, level);
    const double t0 = 0.7;
    const auto exact = [](double t) { return S2{std::exp(std::sin(t)), 1.0 / (1.0 + t * t)}; };
    MarchOptions o;
    o.fixed_step = h;
    double error = 0.0;
    const auto r = march(coupled, exact(t0), {1.0, 1.0}, t0, t0 + h, o, {}, [&](const DenseStep<2>& step) {
      const double t = t0 + 0.4 * h;
      error = std::hypot(step.at(t)[0] - exact(t)[0], step.at(t)[1] - exact(t)[1]);
      CHECK_THAT(step.at(step.t1())[0], WithinRel(step.at_fraction(1.0)[0], 1e-14));
    });
    REQUIRE(r.converged());
    if (level > 0) CHECK_THAT(std::log2(previous / error), WithinAbs(5.0, 0.2));
    previous = error;
  }
}

TEST_CASE("march: absolute tolerance is relative to the scale of each component", "[solver][march]") {
  // The same system in units that make one component 1e-9 and the other 1e6: identical steps and relative results.
  const double a = 1e-9, b = 1e6;
  const auto scaled = [&](const S2& y, S2& d, double) {
    d[0] = y[1] / b * a;
    d[1] = -y[0] / a * b;
  };
  MarchOptions o;
  o.relative_tolerance = 1e-7;
  const auto plain = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 20.0, o);
  const auto other = march(scaled, S2{a, 0.0}, {a, b}, 0.0, 20.0, o);
  REQUIRE(plain.converged());
  REQUIRE(other.converged());
  CHECK(plain.counters.accepted == other.counters.accepted);
  CHECK_THAT(other.state[0] / a, WithinRel(plain.state[0], 1e-9));  // rounding only
  CHECK_THAT(other.state[1] / b, WithinRel(plain.state[1], 1e-9));
}

TEST_CASE("march: blow-up of y' = y^2 is named and the last point is finite", "[solver][march][failure]") {
  const auto r = march([](const S1& y, S1& d, double) { d[0] = y[0] * y[0]; }, S1{1.0}, {1.0}, 0.0, 2.0);
  CHECK(r.status == MarchStatus::step_too_small);
  CHECK_FALSE(r.converged());
  CHECK(finite(r.state));
  CHECK_THAT(r.t, WithinAbs(1.0, 1e-5));  // exact solution 1/(1-t); the numerical pole moves by the tolerance
  CHECK(r.counters.rhs_calls < 20000);
  CHECK(r.message.find("at t =") != std::string::npos);
}

TEST_CASE("march: right-hand side turning NaN, infinite or refusing is named", "[solver][march][failure]") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double inf = std::numeric_limits<double>::infinity();
  for (const double bad : {nan, inf, -inf}) {
    const auto r = march([bad](const S1& y, S1& d, double) { d[0] = y[0] > 1.0 ? bad : 1.0; }, S1{0.0}, {1.0}, 0.0, 3.0);
    CHECK(r.status == MarchStatus::not_finite);
    CHECK(finite(r.state));
    CHECK_THAT(r.t, WithinAbs(1.0, 1e-9));  // marched up to the wall
    CHECK(r.state[0] <= 1.0);
    CHECK(r.counters.rhs_calls < 5000);
  }
  const auto refuses = march(
      [](const S1& y, S1& d, double) {
        d[0] = 1.0;
        return y[0] <= 1.0;
      },
      S1{0.0}, {1.0}, 0.0, 3.0);
  CHECK(refuses.status == MarchStatus::not_finite);
  CHECK_THAT(refuses.state[0], WithinAbs(1.0, 1e-9));
  const auto at_start = march([nan](const S1&, S1& d, double) { d[0] = nan; }, S1{0.0}, {1.0}, 0.0, 3.0);
  CHECK(at_start.status == MarchStatus::not_finite);
  CHECK(at_start.t == 0.0);
}

TEST_CASE("march: a NaN that a shorter step avoids does not stop the march", "[solver][march][failure]") {
  // sqrt of y, y -> 0 as (1 - t/2)^2: too long a step makes y negative.
  const auto rhs = [](const S1& y, S1& d, double) { d[0] = -std::sqrt(y[0]); };
  MarchOptions o;
  o.initial_step = 1.9;
  const auto r = march(rhs, S1{1.0}, {1.0}, 0.0, 1.8, o);
  REQUIRE(r.status == MarchStatus::reached_end);
  CHECK_THAT(r.state[0], WithinAbs(0.01, 1e-5));
  CHECK(r.counters.rejected > 0);
}

TEST_CASE("march: a discontinuous right-hand side is crossed with the error controlled", "[solver][march]") {
  const auto rhs = [](const S1&, S1& d, double t) { d[0] = t < 1.0 ? 1.0 : -3.0; };
  MarchOptions o;
  o.relative_tolerance = 1e-8;
  const auto r = march(rhs, S1{0.0}, {1.0}, 0.0, 2.0, o);
  REQUIRE(r.status == MarchStatus::reached_end);
  // The estimate sees a jump in the first fifth of a step only through its first weight, 35/384 - 5179/57600 = 0.00123,
  // where the solution gets b1 = 35/384 = 0.0911 of it: at worst 74 times the accepted 2e-8.
  CHECK_THAT(r.state[0], WithinAbs(-2.0, 1.5e-6));
}

TEST_CASE("march: events are located to 1e-10 on the dense output", "[solver][march][event]") {
  MarchOptions o;
  o.relative_tolerance = 1e-12;
  const std::array<Event<S2>, 1> quarter{{{[](const S2& y, double) { return y[0]; }}}};
  const auto r = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, o, quarter);
  REQUIRE(r.status == MarchStatus::event);
  CHECK(r.event_index == 0);
  CHECK_THAT(r.t, WithinAbs(std::numbers::pi / 2.0, 1e-10));
  CHECK_THAT(r.state[1], WithinAbs(-1.0, 1e-10));
  CHECK(r.state[0] <= 0.0);  // on the far side

  // Restarting there with the same event finds the next zero, not the same one again.
  const auto next = march(oscillator, r.state, {1.0, 1.0}, r.t, 10.0, o, quarter);
  REQUIRE(next.status == MarchStatus::event);
  CHECK_THAT(next.t, WithinAbs(1.5 * std::numbers::pi, 1e-10));
}

TEST_CASE("march: event direction, order, and several events in one step", "[solver][march][event]") {
  MarchOptions o;
  o.relative_tolerance = 1e-11;
  const std::vector<Event<S2>> events{
      {[](const S2& y, double) { return y[0]; }, Crossing::rising, false},
      {[](const S2& y, double) { return y[0]; }, Crossing::falling, false},
      {[](const S2&, double t) { return t - 4.0; }, Crossing::any, false},
      {[](const S2&, double t) { return t - 8.0; }, Crossing::any, true},
      {[](const S2&, double t) { return 4.0 + 1e-9 - t; }, Crossing::any, false},
      {[](const S2&, double t) { return t - 8.0 - 1e-12; }, Crossing::any, true}};
  std::vector<double> seen;
  const auto r = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 100.0, o, events, [&](const S2&, double t) { seen.push_back(t); });
  REQUIRE(r.status == MarchStatus::event);
  CHECK(r.event_index == 3);
  REQUIRE(r.events.size() == 6);
  const double pi = std::numbers::pi;
  const std::array<std::pair<std::size_t, double>, 6> expected{
      {{1, pi / 2}, {2, 4.0}, {4, 4.0 + 1e-9}, {0, 1.5 * pi}, {1, 2.5 * pi}, {3, 8.0}}};
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(r.events[i].index == expected[i].first);
    CHECK_THAT(r.events[i].t, WithinAbs(expected[i].second, 1e-10));
  }
  CHECK(std::is_sorted(seen.begin(), seen.end()));
  CHECK(seen.front() == 0.0);
  CHECK(seen.back() == r.t);
  for (const auto& e : r.events) CHECK(std::find(seen.begin(), seen.end(), e.t) != seen.end());
}

TEST_CASE("march: an event that is zero at the start does not fire unless asked", "[solver][march][event]") {
  MarchOptions o;
  o.relative_tolerance = 1e-11;
  std::array<Event<S2>, 1> e{{{[](const S2& y, double) { return y[1]; }}}};  // y1 = -sin t: zero at 0, next at pi
  const auto r = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, o, e);
  REQUIRE(r.status == MarchStatus::event);
  CHECK_THAT(r.t, WithinAbs(std::numbers::pi, 1e-10));

  // A start that is zero but for rounding, on the wrong side.
  e[0].zero_tolerance = 1e-12;
  const auto nearly = march(oscillator, S2{1.0, 1e-15}, {1.0, 1.0}, 0.0, 10.0, o, e);
  REQUIRE(nearly.status == MarchStatus::event);
  CHECK_THAT(nearly.t, WithinAbs(std::numbers::pi, 1e-10));

  e[0].fire_at_start = true;
  const auto fired = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, o, e);
  REQUIRE(fired.status == MarchStatus::event);
  CHECK(fired.t == 0.0);
  REQUIRE(fired.events.size() == 1);
}

TEST_CASE("march: more checks per step find a double crossing inside one step", "[solver][march][event]") {
  // y = t exactly in one long step; (y - 0.4)(y - 0.6) is positive at both ends.
  const auto rhs = [](const S1&, S1& d, double) { d[0] = 1.0; };
  const std::array<Event<S1>, 1> e{{{[](const S1& y, double) { return (y[0] - 0.4) * (y[0] - 0.6); }}}};
  MarchOptions o;
  o.fixed_step = 1.0;
  CHECK(march(rhs, S1{0.0}, {1.0}, 0.0, 1.0, o, e).status == MarchStatus::reached_end);
  o.event_checks_per_step = 8;
  const auto r = march(rhs, S1{0.0}, {1.0}, 0.0, 1.0, o, e);
  REQUIRE(r.status == MarchStatus::event);
  CHECK_THAT(r.t, WithinAbs(0.4, 1e-12));
}

TEST_CASE("march: an event that touches zero exactly at a step end fires once", "[solver][march][event]") {
  const auto rhs = [](const S1&, S1& d, double) { d[0] = 1.0; };
  const std::array<Event<S1>, 1> e{{{[](const S1&, double t) { return t - 0.5; }, Crossing::any, false}}};
  MarchOptions o;
  o.fixed_step = 0.25;
  const auto r = march(rhs, S1{0.0}, {1.0}, 0.0, 1.0, o, e);
  REQUIRE(r.status == MarchStatus::reached_end);
  REQUIRE(r.events.size() == 1);
  CHECK(r.events[0].t == 0.5);
}

TEST_CASE("march: an event that is not finite beyond a point is named", "[solver][march][event][failure]") {
  const auto rhs = [](const S1&, S1& d, double) { d[0] = 1.0; };
  const std::array<Event<S1>, 1> e{{{[](const S1& y, double) { return y[0] < 0.5 ? -1.0 : std::log(-y[0]); }}}};
  const auto r = march(rhs, S1{0.0}, {1.0}, 0.0, 1.0, {}, e);
  CHECK(r.status == MarchStatus::not_finite);
  CHECK(finite(r.state));
  CHECK(r.message.find("event 0") != std::string::npos);
}

TEST_CASE("march: limits, interruption, exceptions and bad options are statuses", "[solver][march][failure]") {
  MarchOptions o;
  o.max_steps = 5;
  CHECK(march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 1e4, o).status == MarchStatus::step_limit);

  const auto stop = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 10.0, {}, {}, [](const S2&, double t) { return t < 1.0; });
  CHECK(stop.status == MarchStatus::interrupted);
  CHECK(stop.t >= 1.0);
  CHECK(stop.t < 10.0);

  const auto thrown = march(
      [](const S1& y, S1& d, double) {
        if (y[0] > 0.5) throw std::runtime_error("no data here");
        d[0] = 1.0;
      },
      S1{0.0}, {1.0}, 0.0, 1.0);
  CHECK(thrown.status == MarchStatus::callback_threw);
  CHECK(thrown.message == "no data here");
  CHECK(finite(thrown.state));

  MarchOptions bad;
  bad.relative_tolerance = -1.0;
  CHECK(march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 1.0, bad).status == MarchStatus::bad_options);
  CHECK(march(oscillator, S2{1.0, 0.0}, {1.0, 0.0}, 0.0, 1.0).status == MarchStatus::bad_options);
  CHECK(march(oscillator, S2{1.0, std::nan("")}, {1.0, 1.0}, 0.0, 1.0).status == MarchStatus::bad_options);
  CHECK(march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, std::nan("")).status == MarchStatus::bad_options);
  const auto empty = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 2.0, 2.0);
  CHECK(empty.status == MarchStatus::reached_end);
  CHECK(empty.state == S2{1.0, 0.0});
}

TEST_CASE("march: stiffness is reported when asked, and only then", "[solver][march]") {
  // Prothero & Robinson: slow solution cos t, fast rate 1e5.
  const auto rhs = [](const S1& y, S1& d, double t) { d[0] = -1e5 * (y[0] - std::cos(t)) - std::sin(t); };
  MarchOptions o;
  o.detect_stiffness = true;
  const auto r = march(rhs, S1{1.0}, {1.0}, 0.0, 1.0, o);
  CHECK(r.status == MarchStatus::stiff);
  CHECK(r.counters.accepted < 200);
  CHECK_THAT(r.state[0], WithinAbs(std::cos(r.t), 1e-5));
  const auto mild = march(oscillator, S2{1.0, 0.0}, {1.0, 1.0}, 0.0, 100.0, o);
  CHECK(mild.status == MarchStatus::reached_end);
  o.detect_stiffness = false;
  CHECK(march(rhs, S1{1.0}, {1.0}, 0.0, 0.1, o).status == MarchStatus::reached_end);
}

TEST_CASE("march: an abrupt scale of time at the start is found by itself", "[solver][march]") {
  // Rate 1e9 at the start of a span of 1e3; no initial step given.
  const auto rhs = [](const S1& y, S1& d, double t) { d[0] = -y[0] / (1e-9 + t); };
  MarchOptions o;
  o.relative_tolerance = 1e-8;
  o.absolute_tolerance = 1e-20;
  const auto r = march(rhs, S1{1.0}, {1.0}, 0.0, 1e3, o);
  REQUIRE(r.status == MarchStatus::reached_end);
  CHECK_THAT(r.state[0], WithinRel(1e-9 / (1e-9 + 1e3), 1e-5));
}
