// Splits of a change must sum to it; derivatives must agree with independent differences.
#include <cmath>
#include <numeric>
#include <random>
#include <vector>

#include "catch.hpp"
#include "engine/explain.hpp"
#include "engine/hypercube.hpp"

using namespace whorl;

namespace {

double sum(const std::vector<engine::Part>& parts) {
  return std::accumulate(parts.begin(), parts.end(), 0.0, [](double s, const engine::Part& part) { return s + part.value; });
}
double part(const std::vector<engine::Part>& parts, const std::string& key) {
  for (const auto& p : parts)
    if (p.key == key) return p.value;
  FAIL("no part " << key);
  return 0.0;
}
engine::OperatingPoint point_of(const model::CaseInput& input) {
  engine::OperatingPoint point{engine::resolve(input, io::built_in_library()), {}};
  engine::EstimateOptions options;
  options.run_distribution = false;
  point.estimate = engine::estimate(point.setup, options);
  return point;
}

}  // namespace

TEST_CASE("logarithmic mean lies between geometric and arithmetic mean", "[eq:logarithmic-mean]") {
  CHECK(engine::logarithmic_mean(3.0, 3.0) == 3.0);
  // e - 1 for 1 and e, by definition
  CHECK(std::abs(engine::logarithmic_mean(1.0, std::exp(1.0)) - (std::exp(1.0) - 1.0)) < 1e-15);
  for (const double x : {9e-4, 1.1e-3, 0.1, 2.0}) {
    const double mean = engine::logarithmic_mean(2.0, 2.0 * std::exp(x));
    CHECK(mean > 2.0 * std::exp(0.5 * x));
    CHECK(mean < 1.0 + std::exp(x));
    CHECK(std::abs(mean / (2.0 * std::expm1(x) / x) - 1.0) < 1e-12);
  }
}

TEST_CASE("splits sum to the change on random pairs", "[eq:diameter-split]") {
  // 1,000 pairs of all inputs, radial and lumped; draw factors differ within a pair.
  const testing::Hypercube design(io::built_in_library(), 600);
  std::vector<engine::OperatingPoint> landed;
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    model::CaseInput input = design.input(i);
    input.model.excess_draw = 1.0 + 0.1 * static_cast<double>(i % 7);
    input.model.drying = model::DryingModel::lumped;
    engine::OperatingPoint point = point_of(input);
    if (engine::why_not_explained(point.estimate).empty()) landed.push_back(std::move(point));
  }
  REQUIRE(landed.size() >= 50);
  std::mt19937 random(1);
  double worst = 0.0;
  for (int pair = 0; pair < 1000; ++pair) {
    const std::size_t i = random() % landed.size();
    const std::size_t j = random() % landed.size();
    const auto split = engine::split_change(landed[i], landed[j]);
    REQUIRE(split.made);
    worst = std::max(worst, std::abs(sum(split.diameter) - split.total));
    worst = std::max(worst, std::abs(sum(split.line_speed) - part(split.diameter, "line-speed")));
    worst = std::max(worst, std::abs(sum(split.throughput) - part(split.diameter, "throughput")));
    if (pair % 20 != 0) continue;
    const auto back = engine::split_change(landed[j], landed[i]);
    for (std::size_t k = 0; k < split.throughput.size(); ++k)
      worst = std::max(worst, std::abs(back.throughput[k].value + split.throughput[k].value));  // order-free
  }
  CHECK(worst < 1e-10);
}

TEST_CASE("one changed input is found where it acts", "[eq:diameter-split]") {
  const model::CaseInput input = testing::plain_case();
  const engine::OperatingPoint a = point_of(input);
  model::CaseInput thin = input;
  thin.solution.measured.zero_shear_viscosity_Pa_s = 0.5;
  const auto split = engine::split_change(a, point_of(thin));
  REQUIRE(split.made);
  CHECK(part(split.diameter, "solids") == 0.0);
  CHECK(part(split.diameter, "excess-draw") == 0.0);
  // nothing but the flow curve differs: it takes the whole throughput part
  CHECK(std::abs(part(split.throughput, "rheology") - part(split.diameter, "throughput")) < 1e-12);
  CHECK(part(split.throughput, "rheology") > 0.0);

  model::CaseInput stopped = input;
  stopped.operation.collection_distance_m = 0.15;
  stopped.operation.charge_volume_m3 = 1e-8;  // does not reach the orifices
  const auto none = engine::split_change(a, point_of(stopped));
  CHECK_FALSE(none.made);
  CHECK_FALSE(none.reason.empty());
  CHECK(none.diameter.empty());
}

TEST_CASE("elasticities agree with independent differences", "[eq:elasticity]") {
  const model::CaseInput input = testing::plain_case();
  const auto set = [](model::CaseInput& in, double value) { in.operation.rotation_speed_rad_s = value; };
  const auto rows = engine::elasticities(input, io::built_in_library(),
                                         {{"rotation_speed", input.operation.rotation_speed_rad_s, false, 0.0, 4000.0, set},
                                          {"gas_overpressure", 0.0, false, 0.0, 6e5,
                                           [](model::CaseInput& in, double value) { in.operation.gas_overpressure_Pa = value; }}});
  REQUIRE(rows.size() == 2);
  CHECK_FALSE(rows[1].made);
  REQUIRE(rows[0].made);
  // fourth-order five-point formula with a step of its own
  constexpr double h = 0.005;
  std::vector<double> d, q, u;
  for (const double step : {-2.0 * h, -h, h, 2.0 * h}) {
    model::CaseInput there = input;
    there.numerics.relative_tolerance = 1e-10;
    set(there, input.operation.rotation_speed_rad_s * std::exp(step));
    const auto e = point_of(there).estimate;
    d.push_back(std::log(e.dry_diameter_m));
    q.push_back(std::log(e.orifice.flow_m3_s));
    u.push_back(std::log(e.jet.end_speed_m_s));
  }
  const auto slope = [&](const std::vector<double>& f) { return (f[0] - 8.0 * f[1] + 8.0 * f[2] - f[3]) / (12.0 * h); };
  CHECK(std::abs(rows[0].dry_diameter.value - slope(d)) < 1e-4);
  CHECK(std::abs(rows[0].flow.value - slope(q)) < 1e-4);
  CHECK(std::abs(rows[0].line_speed.value - slope(u)) < 1e-4);
  // the identity: ln d = (ln Q - ln u)/2 + const at fixed solids
  CHECK(std::abs(rows[0].dry_diameter.value - 0.5 * (rows[0].flow.value - rows[0].line_speed.value)) < 1e-9);
}
