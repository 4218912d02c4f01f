// Splits of a change must sum to it; derivatives must agree with independent differences.
#include <cmath>
#include <numeric>
#include <random>
#include <vector>

#include "catch.hpp"
#include "whorl/study/explain.hpp"
#include "engine/hypercube.hpp"

using namespace whorl;

namespace {

double sum(const std::vector<study::Part>& parts) {
  return std::accumulate(parts.begin(), parts.end(), 0.0, [](double s, const study::Part& part) { return s + part.value; });
}
double part(const std::vector<study::Part>& parts, const std::string& key) {
  for (const auto& p : parts)
    if (p.key == key) return p.value;
  FAIL("no part " << key);
  return 0.0;
}
model::CaseInput pushed_case() {
  model::CaseInput input = io::read_case_file(testing::case_path("pvp-ethanol-measured")).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  return input;
}
study::OperatingPoint point_of(const model::CaseInput& input) {
  study::OperatingPoint point{engine::resolve(input, io::built_in_library()), {}};
  engine::EstimateOptions options;
  options.run_distribution = false;
  point.estimate = engine::estimate(point.setup, options);
  return point;
}

}  // namespace

TEST_CASE("logarithmic mean lies between geometric and arithmetic mean", "[eq:logarithmic-mean]") {
  CHECK(study::logarithmic_mean(3.0, 3.0) == 3.0);
  // e - 1 for 1 and e, by definition
  CHECK(std::abs(study::logarithmic_mean(1.0, std::exp(1.0)) - (std::exp(1.0) - 1.0)) < 1e-15);
  for (const double x : {9e-4, 1.1e-3, 0.1, 2.0}) {
    const double mean = study::logarithmic_mean(2.0, 2.0 * std::exp(x));
    CHECK(mean > 2.0 * std::exp(0.5 * x));
    CHECK(mean < 1.0 + std::exp(x));
    CHECK(std::abs(mean / (2.0 * std::expm1(x) / x) - 1.0) < 1e-12);
  }
}

TEST_CASE("splits sum to the change on random pairs", "[eq:diameter-split]") {
  // 1,000 pairs of all inputs, radial and lumped; draw factors differ within a pair.
  const testing::Hypercube design(io::built_in_library(), 600);
  std::vector<study::OperatingPoint> landed;
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    model::CaseInput input = design.input(i);
    input.model.excess_draw = 1.0 + 0.1 * static_cast<double>(i % 7);
    input.model.drying = model::DryingModel::lumped;
    study::OperatingPoint point = point_of(input);
    if (study::why_not_explained(point.estimate).empty()) landed.push_back(std::move(point));
  }
  REQUIRE(landed.size() >= 50);
  std::mt19937 random(1);
  double worst = 0.0;
  for (int pair = 0; pair < 1000; ++pair) {
    const std::size_t i = random() % landed.size();
    const std::size_t j = random() % landed.size();
    const auto split = study::split_change(landed[i], landed[j]);
    REQUIRE(split.made);
    worst = std::max(worst, std::abs(sum(split.diameter) - split.total));
    worst = std::max(worst, std::abs(sum(split.line_speed) - part(split.diameter, "line-speed")));
    worst = std::max(worst, std::abs(sum(split.throughput) - part(split.diameter, "throughput")));
    worst = std::max(worst, std::abs(sum(split.orifice) - part(split.diameter, "throughput")));
    if (pair % 20 != 0) continue;
    const auto back = study::split_change(landed[j], landed[i]);
    for (std::size_t k = 0; k < split.throughput.size(); ++k)
      worst = std::max(worst, std::abs(back.throughput[k].value + split.throughput[k].value));  // order-free
  }
  CHECK(worst < 1e-10);
}

TEST_CASE("no split is made with a point that is no fibre, and it says why", "[eq:diameter-split]") {
  // The other class of points of the same design: stalled, dripping, drops, no jet.
  const testing::Hypercube design(io::built_in_library(), 600);
  std::vector<study::OperatingPoint> fibre, other;
  for (std::uint64_t i = 0; i < 200; ++i) {
    model::CaseInput input = design.input(i);
    input.model.drying = model::DryingModel::lumped;
    study::OperatingPoint point = point_of(input);
    (study::why_not_explained(point.estimate).empty() ? fibre : other).push_back(std::move(point));
  }
  REQUIRE(fibre.size() >= 10);
  REQUIRE(other.size() >= 10);
  for (const auto& failed : other) {
    for (const bool second : {false, true}) {
      const auto split = second ? study::split_change(fibre.front(), failed) : study::split_change(failed, fibre.front());
      CHECK_FALSE(split.made);
      CHECK(split.reason.rfind(second ? "second point: " : "first point: ", 0) == 0);
      CHECK(split.diameter.empty());
      CHECK(split.orifice.empty());
    }
  }
}

TEST_CASE("one changed input is found where it acts", "[eq:diameter-split]") {
  const model::CaseInput input = pushed_case();
  const study::OperatingPoint a = point_of(input);
  model::CaseInput thin = input;
  thin.solution.measured.zero_shear_viscosity_Pa_s = 0.5;
  const auto split = study::split_change(a, point_of(thin));
  INFO(split.reason);
  REQUIRE(split.made);
  CHECK(part(split.diameter, "solids") == 0.0);
  CHECK(part(split.diameter, "excess-draw") == 0.0);
  // nothing but the flow curve differs: it takes the whole throughput part
  CHECK(std::abs(part(split.throughput, "rheology") - part(split.diameter, "throughput")) < 1e-12);
  CHECK(part(split.throughput, "rheology") > 0.0);
}

TEST_CASE("elasticities agree with independent differences", "[eq:elasticity]") {
  const model::CaseInput input = pushed_case();
  const auto set = [](model::CaseInput& in, double value) { in.operation.rotation_speed_rad_s = value; };
  const model::Library library = io::built_in_library();
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto runner = engine::serial_runner([&](const model::CaseInput& c) { return engine::estimate(c, library, options); });
  const std::vector<study::Response> responses = {
      {"d", true, [](const model::Estimate& e) { return std::optional(e.dry_diameter_m); }},
      {"Q", true, [](const model::Estimate& e) { return std::optional(e.orifice.flow_m3_s); }},
      {"u", true, [](const model::Estimate& e) { return std::optional(e.jet.end_speed_m_s); }},
      {"w", false, [](const model::Estimate& e) { return std::optional(e.jet.residual_solvent); }}};
  const auto found = study::elasticities(
      input,
      {{"rotation_speed", input.operation.rotation_speed_rad_s, false, 0.0, 4000.0, set},
       {"vapour", 0.0, false, 0.0, 0.2, [](model::CaseInput& in, double value) { in.room.solvent_vapour_fraction = value; }},
       {"excess_draw", 1.0, false, 1.0, 9.0, [](model::CaseInput& in, double value) { in.model.excess_draw = value; }},
       {"distance", 0.15, false, 1e-3, 2.0, [](model::CaseInput& in, double value) { in.operation.collection_distance_m = 20.0 * value; }}},
      responses, runner);
  INFO(found.reason);
  REQUIRE(found.reason.empty());
  const auto& rows = found.rows;
  REQUIRE(rows.size() == 4);
  CHECK_FALSE(rows[1].made);
  CHECK(rows[1].reason == "is zero: no logarithm");
  CHECK(rows[2].reason == "at its limit");
  CHECK_FALSE(rows[3].made);  // ten times as far away no jet arrives
  CHECK_FALSE(rows[3].reason.empty());
  REQUIRE(rows[0].made);
  // fourth-order five-point formula with a step of its own
  constexpr double h = 0.005;
  std::vector<double> d, q, u, w;
  for (const double step : {-2.0 * h, -h, h, 2.0 * h}) {
    model::CaseInput there = input;
    there.numerics.relative_tolerance = 1e-10;
    set(there, input.operation.rotation_speed_rad_s * std::exp(step));
    const auto e = point_of(there).estimate;
    d.push_back(std::log(e.dry_diameter_m));
    q.push_back(std::log(e.orifice.flow_m3_s));
    u.push_back(std::log(e.jet.end_speed_m_s));
    w.push_back(e.jet.residual_solvent);
  }
  const auto slope = [&](const std::vector<double>& f) { return (f[0] - 8.0 * f[1] + 8.0 * f[2] - f[3]) / (12.0 * h); };
  CHECK(std::abs(rows[0].slopes[0].value - slope(d)) < 1e-4);
  CHECK(std::abs(rows[0].slopes[1].value - slope(q)) < 1e-4);
  CHECK(std::abs(rows[0].slopes[2].value - slope(u)) < 1e-4);
  CHECK(std::abs(rows[0].slopes[3].value - slope(w)) < 1e-4);
  CHECK(rows[0].slopes[0].linear);
  // the identity: ln d = (ln Q - ln u)/2 + const at fixed solids
  CHECK(std::abs(rows[0].slopes[0].value - 0.5 * (rows[0].slopes[1].value - rows[0].slopes[2].value)) < 1e-9);
}

TEST_CASE("elasticities of the tension tier agree with independent differences", "[eq:elasticity]") {
  // a thread that solidifies and floats, one that keeps its chains stretched, one without memory
  const char* name = GENERATE("pcl-chloroform", "ps-thf-sweep", "pvp-ethanol-measured");
  model::CaseInput input = io::read_case_file(testing::case_path(name)).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  const model::Library library = io::built_in_library();
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto set = [](model::CaseInput& in, double value) { in.operation.rotation_speed_rad_s = value; };
  const double speed = input.operation.rotation_speed_rad_s;
  const auto found = study::elasticities(input, {{"rotation_speed", speed, false, 0.0, 4000.0, set}},
                                          {{"d", true, [](const model::Estimate& e) { return std::optional(e.dry_diameter_m); }}},
                                          engine::neighbour_runner(
                                              [&](const model::CaseInput& c, const engine::EstimateOptions& o) { return engine::estimate(c, library, o); },
                                              options, engine::serial_loop()));
  INFO(name << " " << found.reason);
  REQUIRE(found.rows.size() == 1);
  REQUIRE(found.rows[0].made);
  // five-point formula with a step of its own, tighter
  constexpr double h = 0.016;
  const auto log_d = [&](double step) {
    model::CaseInput there = input;
    there.numerics.relative_tolerance = 3e-8;
    set(there, speed * std::exp(step));
    return std::log(engine::estimate(there, library, options).dry_diameter_m);
  };
  const double slope = (log_d(-2.0 * h) - 8.0 * log_d(-h) + 8.0 * log_d(h) - log_d(2.0 * h)) / (12.0 * h);
  CHECK(std::abs(found.rows[0].slopes[0].value - slope) < 1e-4);
}

TEST_CASE("a case started from its neighbour has the answer that it has from nothing, for less work", "[eq:elasticity]") {
  // a thread that solidifies and floats, one that keeps its chains stretched
  const char* name = GENERATE("pcl-chloroform", "ps-thf-sweep");
  model::CaseInput input = io::read_case_file(testing::case_path(name)).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  input.numerics.relative_tolerance = 1e-6;  // as elasticities are taken
  const model::Library library = io::built_in_library();
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto neighbours = engine::neighbour_runner(
      [&](const model::CaseInput& c, const engine::EstimateOptions& o) { return engine::estimate(c, library, o); }, options, engine::serial_loop());
  // to one side, to both sides, to one side
  std::vector<engine::Sides> pairs(3, {input});
  pairs[0][0].operation.rotation_speed_rad_s *= 1.01;
  pairs[1].push_back(input);
  pairs[1][0].operation.gas_overpressure_Pa -= 2e3;
  pairs[1][1].operation.gas_overpressure_Pa += 2e3;
  pairs[2][0].room.temperature_K += 1.0;
  const auto near = neighbours(input)(pairs);
  std::swap(pairs[0], pairs[2]);
  const auto other_order = neighbours(input)(pairs);
  std::swap(pairs[0], pairs[2]);
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    REQUIRE(near[i].size() == pairs[i].size());
    for (std::size_t k = 0; k < pairs[i].size(); ++k) {
      const model::Estimate alone = engine::estimate(pairs[i][k], library, options);
      INFO(name << " " << i << " " << k << " " << near[i][k].reason);
      REQUIRE(near[i][k].status == model::Status::done);
      // two meshes, each fine enough for 1e-5 of the line speed, and nothing else between them
      CHECK(std::abs(near[i][k].dry_diameter_m / alone.dry_diameter_m - 1.0) < 5e-6);
      CHECK(near[i][k].fibre_class == alone.fibre_class);
      CHECK(near[i][k].jet.work.rhs_evaluations < alone.jet.work.rhs_evaluations);
      CHECK(near[i][k].dry_diameter_m == other_order[2 - i][k].dry_diameter_m);
    }
  }
  // from the mirror image there is less left to do than from the case itself
  const auto from_case = neighbours(input)({{pairs[1][1]}});
  CHECK(near[1][1].jet.work.rhs_evaluations < from_case[0][0].jet.work.rhs_evaluations);
}

TEST_CASE("neighbours of a line that has no free end are held as it is, without a search for one", "[engine][work]") {
  model::CaseInput input = io::read_case_file(testing::case_path("pmma-acetone-dry")).input;
  testing::one_line_at_full_settings(input);
  input.operation.rotation_speed_rad_s *= 8600.0 / 8000.0;  // here all of them have none; at other speeds one or the other has
  input.model.tier = model::Tier::tension;
  const model::Library library = io::built_in_library();
  engine::EstimateOptions options;
  options.run_distribution = false;
  const auto neighbours = engine::neighbour_runner(
      [&](const model::CaseInput& c, const engine::EstimateOptions& o) { return engine::estimate(c, library, o); }, options, engine::serial_loop());
  engine::Sides cases(3, input);
  cases[0].operation.rotation_speed_rad_s /= 1.01;
  cases[1].operation.rotation_speed_rad_s *= 1.01;
  cases[2].room.temperature_K += 1.0;
  auto found = neighbours(input)({{cases[0], cases[1]}, {cases[2]}});
  found[0].push_back(found[1][0]);
  const std::vector<model::Estimate>& near = found[0];
  for (std::size_t i = 0; i < cases.size(); ++i) {
    const model::Estimate alone = engine::estimate(cases[i], library, options);
    INFO(i << ": " << near[i].jet.work.rhs_evaluations << " right-hand sides, alone " << alone.jet.work.rhs_evaluations << "; "
           << near[i].reason << alone.reason);
    REQUIRE(near[i].status == model::Status::done);
    REQUIRE(alone.status == model::Status::done);
    REQUIRE_FALSE(alone.jet.free_end_failure.empty());
    CHECK_FALSE(near[i].jet.free_end_failure.empty());
    CHECK(near[i].jet.collector_hold == alone.jet.collector_hold);
    CHECK(std::abs(near[i].dry_diameter_m / alone.dry_diameter_m - 1.0) < 3e-6);
    CHECK(std::abs(near[i].jet.held_end_dry_diameter_m / alone.jet.held_end_dry_diameter_m - 1.0) < 1e-12);
    CHECK(near[i].fibre_class == alone.fibre_class);
    CHECK(near[i].landing == alone.landing);
    CHECK(20 * near[i].jet.work.rhs_evaluations < alone.jet.work.rhs_evaluations);
  }
}
