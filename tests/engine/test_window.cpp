// The window: boundary, tolerance, nearest miss, probability; on stand-ins whose answers are known, and on the model.
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/study/window.hpp"

using namespace whorl;
using study::UnitPoint;
using study::WindowConstraint;
using study::WindowMap;
using study::WindowProbe;

namespace {

using Margins = std::function<std::vector<std::optional<double>>(double, double)>;

struct StandIn {
  std::vector<WindowConstraint> constraints;
  Margins margins;
  mutable std::size_t runs{};

  [[nodiscard]] study::ProbeBatch batch() const {
    return [this](const std::vector<UnitPoint>& points) {
      std::vector<WindowProbe> probes;
      for (const UnitPoint& p : points) {
        ++runs;
        WindowProbe probe;
        probe.converged = true;
        probe.margins = margins(p.x, p.y);
        probes.push_back(probe);
      }
      return probes;
    };
  }
  [[nodiscard]] bool met(double x, double y) const {
    for (const auto& margin : margins(x, y))
      if (!margin || *margin < 0.0) return false;
    return true;
  }
};

double distance_to_boundary(const WindowMap& map, const UnitPoint& at) {
  return study::tolerance_at(map, {[](const UnitPoint& p) { return p; }, {}}, at).tolerance;
}

// The stated accuracy: what a grid of 1 % steps says is what the rings say, but for its points that lie within 1 % of a ring; and on either
// side of each boundary point, 1 % away, there is a met and a missed point of the dense grid's kind. A fifth of its runs is enough.
template <class Met>
void check_against_dense_grid(const WindowMap& map, std::size_t runs, const Met& met, int steps = 100) {
  constexpr double kOnePercent = 0.01;
  std::size_t wrong = 0;
  double worst = 0.0;
  std::vector<std::vector<char>> truth(static_cast<std::size_t>(steps + 1), std::vector<char>(static_cast<std::size_t>(steps + 1)));
  for (int i = 0; i <= steps; ++i)
    for (int j = 0; j <= steps; ++j) {
      const UnitPoint at{static_cast<double>(i) / steps, static_cast<double>(j) / steps};
      const bool is_met = met(at.x, at.y);
      truth[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = is_met ? 1 : 0;
      // just inside of the edge of the plane, so that the even-odd rule is clear there
      const UnitPoint nudged{std::clamp(at.x, 1e-9, 1.0 - 1e-9), std::clamp(at.y, 1e-9, 1.0 - 1e-9)};
      if (study::inside(map, nudged) == is_met) continue;
      ++wrong;
      worst = std::max(worst, distance_to_boundary(map, at));
    }
  if (std::getenv("WHORL_FULL") != nullptr)
    std::printf("window: %zu runs; %zu of %d points of the dense grid differ, the worst %.4f of the range from the boundary\n", runs, wrong,
                (steps + 1) * (steps + 1), worst);
  INFO(wrong << " of " << (steps + 1) * (steps + 1) << " points differ, the worst " << worst << " from the boundary; runs " << runs);
  CHECK(worst <= kOnePercent);
  // and the other way round: near each boundary point the dense grid changes
  const double step = 1.0 / steps;
  double stray = 0.0;
  for (const auto& ring : map.rings)
    for (std::size_t k = 0; k < ring.points.size(); ++k) {
      if (ring.by[k] < 0) continue;
      const UnitPoint& p = ring.points[k];
      double nearest = 1.0;
      const int i0 = static_cast<int>(p.x / step);
      const int j0 = static_cast<int>(p.y / step);
      for (int i = std::max(0, i0 - 3); i <= std::min(steps, i0 + 4); ++i)
        for (int j = std::max(0, j0 - 3); j <= std::min(steps, j0 + 4); ++j) {
          const auto here = truth[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
          if (i < steps && here != truth[static_cast<std::size_t>(i + 1)][static_cast<std::size_t>(j)])
            nearest = std::min(nearest, std::hypot((i + 0.5) * step - p.x, j * step - p.y));
          if (j < steps && here != truth[static_cast<std::size_t>(i)][static_cast<std::size_t>(j + 1)])
            nearest = std::min(nearest, std::hypot(i * step - p.x, (j + 0.5) * step - p.y));
        }
      stray = std::max(stray, nearest);
    }
  INFO("farthest boundary point from a change of the dense grid: " << stray);
  // 1 % and what the dense grid itself leaves open: its change lies anywhere within half a step of the middle, crosswise half a step
  CHECK(stray <= kOnePercent + 0.71 * step);
  if (steps == 100) CHECK(runs <= 10201 / 5);
}

constexpr double kPi = 3.14159265358979323846;

}  // namespace

TEST_CASE("window of a disc: boundary, area, most tolerant point", "[eq:window-boundary][eq:window-tolerance]") {
  StandIn disc{{{"diameter-most", true}}, [](double x, double y) {
                 return std::vector<std::optional<double>>{0.3 - std::hypot(x - 0.55, y - 0.45)};
               }};
  const WindowMap map = study::map_window(disc.constraints, disc.batch());
  check_against_dense_grid(map, disc.runs, [&](double x, double y) { return disc.met(x, y); });
  // polygon inscribed in a circle by chords of about 1/64: area low by (h/r)^2/6 = 0.05 %, boundary points within 0.001
  CHECK(map.share == Approx(kPi * 0.09).epsilon(5e-3));
  REQUIRE(map.rings.size() == 1);
  for (const auto& point : map.rings[0].points) CHECK(std::hypot(point.x - 0.55, point.y - 0.45) == Approx(0.3).margin(1.5e-3));
  const study::WindowScale scale{[](const UnitPoint& p) { return UnitPoint{100.0 * p.x, 50.0 * p.y}; }, {}};
  const auto best = study::most_tolerant(map, scale);
  REQUIRE(best.has_value());
  // an ellipse of half-axes 30 and 15 setting errors: its centre is 15 from the boundary, and so is every point of the long axis that is
  // no farther from the centre than the centre of the osculating circle, (a^2 - b^2)/a ... so only the distance is unique
  CHECK(best->tolerance == Approx(15.0).epsilon(0.01));
  CHECK(best->by == 0);
  CHECK(study::tolerance_at(map, scale, {0.55, 0.45}).tolerance == Approx(15.0).epsilon(0.01));
}

TEST_CASE("window between two curves and a class that jumps", "[eq:window-boundary]") {
  // diameter-like margins, known only where the class is right; the class boundary is a wavy line where nothing is continuous
  const auto class_ok = [](double x, double y) { return y > 0.25 + 0.1 * std::sin(6.0 * x); };
  StandIn strip{{{"class", false}, {"diameter-least", true}, {"diameter-most", true}}, [&](double x, double y) {
                  std::vector<std::optional<double>> m(3);
                  m[0] = class_ok(x, y) ? 1.0 : -1.0;
                  const double d = std::log(1.0 + 3.0 * x * x + 2.0 * y) + 0.2 * std::sin(4.0 * y);
                  if (class_ok(x, y)) m[1] = d - 0.9, m[2] = 1.3 - d;
                  return m;
                }};
  const WindowMap map = study::map_window(strip.constraints, strip.batch());
  check_against_dense_grid(map, strip.runs, [&](double x, double y) { return strip.met(x, y); });
  // each constraint bounds some of it, and where it says so it does
  std::array<int, 3> pieces{};
  for (const auto& ring : map.rings)
    for (std::size_t k = 0; k < ring.points.size(); ++k) {
      if (ring.by[k] < 0) continue;
      ++pieces[static_cast<std::size_t>(ring.by[k])];
    }
  for (const int count : pieces) CHECK(count > 5);
}

TEST_CASE("window with a hole, and one in two parts that nearly touch", "[eq:window-boundary]") {
  StandIn hole{{{"diameter-least", true}}, [](double x, double y) {
                 const double r = std::hypot(x - 0.5, y - 0.5);
                 return std::vector<std::optional<double>>{std::min(0.4 - r, r - 0.15)};
               }};
  const WindowMap annulus = study::map_window(hole.constraints, hole.batch());
  check_against_dense_grid(annulus, hole.runs, [&](double x, double y) { return hole.met(x, y); });
  CHECK(annulus.rings.size() == 2);
  CHECK(annulus.share == Approx(kPi * (0.16 - 0.0225)).epsilon(5e-3));
  CHECK_FALSE(study::inside(annulus, {0.5, 0.5}));

  // (x - 1/2)(y - 1/2) > 0.0004: two quarters, corner to corner
  StandIn saddle{{{"diameter-least", true}}, [](double x, double y) {
                   return std::vector<std::optional<double>>{(x - 0.5) * (y - 0.5) - 0.0004};
                 }};
  const WindowMap quarters = study::map_window(saddle.constraints, saddle.batch());
  check_against_dense_grid(quarters, saddle.runs, [&](double x, double y) { return saddle.met(x, y); });
  // 0.5 less twice the integral of 0.0004/u from 0.0008 to 0.5, and twice the strip below 0.0008
  const double area = 0.5 - 2.0 * (0.0004 * std::log(0.5 / 0.0008) + 0.5 * 0.0008);
  CHECK(quarters.share == Approx(area).margin(2e-3));
}

TEST_CASE("a narrow window between the points of the first grid is found by its two sides", "[eq:window-boundary]") {
  // 2 % wide, much less than a cell of the first grid: one side is too fine, the other too coarse
  StandIn narrow{{{"diameter-least", true}, {"diameter-most", true}}, [](double x, double y) {
                   const double d = x + 0.3 * y;
                   return std::vector<std::optional<double>>{d - 0.59, 0.61 - d};
                 }};
  const WindowMap map = study::map_window(narrow.constraints, narrow.batch());
  CHECK(map.share == Approx(0.02).epsilon(0.02));
  check_against_dense_grid(map, narrow.runs, [&](double x, double y) { return narrow.met(x, y); });
}

TEST_CASE("everything, and nothing", "[eq:window-miss]") {
  StandIn all{{{"diameter-least", true}}, [](double, double) { return std::vector<std::optional<double>>{1.0}; }};
  const WindowMap everything = study::map_window(all.constraints, all.batch());
  CHECK(everything.share == Approx(1.0));
  REQUIRE(everything.rings.size() == 1);
  for (const int by : everything.rings[0].by) CHECK(by == -1);
  const auto centre = study::most_tolerant(everything, {[](const UnitPoint& p) { return p; }, {}});
  REQUIRE(centre.has_value());
  CHECK(centre->at.x == Approx(0.5).margin(1e-3));
  CHECK(centre->by == -1);
  // an edge beyond which there is nothing is no boundary
  const auto open = study::most_tolerant(everything, {[](const UnitPoint& p) { return p; }, {true, false, false, false}});
  CHECK(open->tolerance == Approx(0.5).epsilon(1e-3));
  CHECK(open->at.x < 0.51);

  // d = 1 + x, wanted at most 0.9; also class everywhere right
  StandIn coarse{{{"class", false}, {"diameter-most", true}}, [](double x, double y) {
                   return std::vector<std::optional<double>>{1.0, -std::log((1.0 + x + 0.1 * (y - 0.4) * (y - 0.4)) / 0.9)};
                 }};
  WindowMap nothing = study::map_window(coarse.constraints, coarse.batch());
  CHECK(nothing.rings.empty());
  CHECK(nothing.share == 0.0);
  CHECK_FALSE(study::most_tolerant(nothing, {[](const UnitPoint& p) { return p; }, {}}).has_value());
  const auto miss = study::nearest_miss(nothing, coarse.batch());
  CHECK(miss.unmet == std::vector<int>{1});
  CHECK(miss.alone == std::vector<int>{1});
  CHECK(miss.node.at.x == 0.0);
  CHECK(miss.node.at.y == Approx(0.4).margin(0.01));
  CHECK(*miss.node.probe.margins[1] == Approx(-std::log(1.0 / 0.9)).margin(1e-4));

  // no single condition in the way: the class is right only where the diameter is wrong, and a throughput never is
  StandIn two{{{"class", false}, {"diameter-most", true}, {"throughput", true}}, [](double x, double) {
                return std::vector<std::optional<double>>{x > 0.5 ? 1.0 : -1.0, 0.3 - x, -2.0};
              }};
  WindowMap neither = study::map_window(two.constraints, two.batch());
  const auto both = study::nearest_miss(neither, two.batch());
  CHECK(both.alone.empty());
  CHECK(both.unmet == std::vector<int>{1, 2});
}

TEST_CASE("judging a result", "[eq:window-margin]") {
  study::WindowTarget target;
  target.least_diameter_m = 1e-6;
  target.most_diameter_m = 3e-6;
  target.least_throughput_kg_s = 1e-5;
  model::Estimate e;
  e.status = model::Status::done;
  e.fibre_class = model::FibreClass::continuous;
  e.landing = model::Landing::dry;
  e.jet.reached_collector = true;
  e.dry_diameter_m = 2e-6;
  e.run.polymer_throughput_kg_s = 2e-5;
  const WindowProbe good = study::judge(e, target);
  CHECK(good.met());
  REQUIRE(good.margins.size() == study::window_constraints(target).size());
  CHECK(*good.margins[3] == Approx(std::log(2.0)));
  CHECK(*good.margins[4] == Approx(std::log(1.5)));
  CHECK(*good.margins[5] == Approx(std::log(2.0)));
  e.landing = model::Landing::tacky;
  CHECK_FALSE(study::judge(e, target).met());
  e.landing = model::Landing::dry;
  e.fibre_class = model::FibreClass::stalled;
  e.jet.reached_collector = false;
  const WindowProbe stalled = study::judge(e, target);
  CHECK_FALSE(stalled.met());
  CHECK_FALSE(stalled.margins[3].has_value());  // a stalled jet has no diameter
  e.status = model::Status::not_converged;
  CHECK_FALSE(study::judge(e, target).met());
}

TEST_CASE("interval of a share, Wilson", "[eq:wilson]") {
  // Newcombe, Statist. Med. 17 (1998) 857, table I, method 3 (Wilson without continuity correction), from memory: 81 of 263 gives
  // 0.2553 to 0.3662; 15 of 148 gives 0.0624 to 0.1605; 0 of 20 gives 0 to 0.1611; 1 of 29 gives 0.0061 to 0.1718
  const auto check = [](std::size_t count, std::size_t total, double low, double high) {
    const auto samples = static_cast<double>(total);
    const auto [a, b] = engine::wilson_interval(static_cast<double>(count) / samples, samples, 1.96);
    CHECK(a == Approx(low).margin(5e-5));
    CHECK(b == Approx(high).margin(5e-5));
  };
  check(81, 263, 0.2553, 0.3662);
  check(15, 148, 0.0624, 0.1605);
  check(0, 20, 0.0, 0.1611);
  check(1, 29, 0.0061, 0.1718);
}

TEST_CASE("a point of the plane that lies at an end but for rounding lies there") {
  // "TRY FIRST 5318 rpm, 1.73e-20 MPa"
  for (const bool logarithmic : {false, true}) {
    const study::WindowAxis axis{logarithmic ? 1.0 : 0.0, 20.0, logarithmic, {}};
    CHECK(axis.value(8.7e-19) == axis.from);
    CHECK(axis.value(1.0 - 2e-16) == axis.to);
    CHECK(axis.value(1e-6) > axis.from);
  }
}

TEST_CASE("probability of meeting a limit: known from the normal distribution") {
  // d = speed (SI number), normally distributed with sd 0.1; wanted at most 0.5: P = Phi((0.5 - x)/0.1) whatever y
  const std::array<study::WindowAxis, 2> axes{
      study::WindowAxis{0.0, 1.0, false, [](model::CaseInput& c, double v) { c.operation.rotation_speed_rad_s = v; }},
      study::WindowAxis{0.0, 1.0, false, [](model::CaseInput& c, double v) { c.operation.gas_overpressure_Pa = v; }}};
  study::WindowTarget target;
  target.most_diameter_m = 0.5;
  const engine::BatchRunner runner = engine::serial_runner([](const model::CaseInput& c) {
    model::Estimate e;
    e.status = model::Status::done;
    e.fibre_class = model::FibreClass::continuous;
    e.landing = model::Landing::dry;
    e.jet.reached_collector = true;
    e.dry_diameter_m = std::max(1e-12, c.operation.rotation_speed_rad_s);
    return e;
  });
  const study::SamplerAt samples = [](const model::CaseInput& c) {
    return engine::Sampler({{"operation.rotation_speed", "", engine::UncertainKind::measurement,
                             {engine::SpreadKind::normal, c.operation.rotation_speed_rad_s, 0.1}, "",
                             [](model::CaseInput& i, double x) { i.operation.rotation_speed_rad_s = x; }}},
                           engine::plan_for(256));
  };
  const auto map = study::map_probability({}, axes, target, samples, runner);
  CHECK(map.runs < 2 * 289 * 256);  // not everywhere
  for (const auto& node : map.nodes) {
    const double z = (0.5 - node.at.x) / 0.1;
    const double exact = 0.5 * std::erfc(-z / std::sqrt(2.0));
    if (node.interpolated) continue;
    // one dimension: stratified to 1/32 in each of 8 replicates
    CHECK(node.all.value == Approx(exact).margin(0.012));
    // far out a sample of 256 sees none of the last per mille
    CHECK(node.all.low <= exact + 1e-3);
    CHECK(node.all.high >= exact - 1e-3);
  }
  const auto lines = study::probability_contour(map, 0.5);
  REQUIRE(lines.size() == 1);
  for (const auto& point : lines[0]) CHECK(point.x == Approx(0.5).margin(0.02));
  CHECK(std::abs(lines[0].front().y - lines[0].back().y) == Approx(1.0));
}

TEST_CASE("window of the real model against a dense grid", "[eq:window-boundary]") {
  // steps of 1 % (10,201 runs, drying over the radius) under WHORL_FULL=1; else well mixed and steps of 4 %, on which the same is asked of
  // the boundary
  const bool full = std::getenv("WHORL_FULL") != nullptr;
  auto file = io::read_case_file(testing::case_path("pcl-chloroform"));
  file.input.model.tier = model::Tier::inertial;  // as the command screens
  // both answers: torn threads where gas goes through, with a jump of the diameter where the likelier answer changes; and one line
  const bool torn = GENERATE(true, false);
  CAPTURE(torn);
  if (!torn) file.input.model.splitting = model::Splitting::off;
  if (!full) file.input.model.drying = model::DryingModel::lumped;
  const auto library = io::built_in_library();
  const engine::CaseRunner run = [&](const model::CaseInput& c) { return engine::estimate(c, library, {false, false, false, false}); };
  std::size_t runs = 0;
  const auto runner = engine::counting_runner(engine::serial_runner(run), runs);
  constexpr double kRpm = kPi / 30.0;
  const std::array<study::WindowAxis, 2> axes{
      study::WindowAxis{2000.0, 20000.0, false, [](model::CaseInput& c, double v) { c.operation.rotation_speed_rad_s = kRpm * v; }},
      study::WindowAxis{0.0, 0.5e6, false, [](model::CaseInput& c, double v) { c.operation.gas_overpressure_Pa = v; }}};
  study::WindowTarget target;
  target.least_diameter_m = torn ? 0.3e-6 : 4e-6;
  target.most_diameter_m = torn ? 4e-6 : 12e-6;
  const auto probe = study::probe_model(file.input, axes, target, runner);
  const WindowMap map = study::map_window(study::window_constraints(target), probe);
  CHECK(map.share > 0.1);
  CHECK(map.share < 0.9);
  const std::size_t spent = runs;
  check_against_dense_grid(map, spent, [&](double x, double y) { return probe({{x, y}}).front().met(); }, full ? 100 : 25);
  CHECK(spent <= 10201 / 5);
}
