// The first screen of a report: where its bands stand, what it says, and the chance that it states.
#include <cmath>
#include <regex>

#include "answer/report_opening.hpp"
#include "answer/wanted_chance.hpp"
#include "catch.hpp"
#include "whorl/engine/estimate.hpp"
#include "figures/figure_section.hpp"
#include "figures/opening.hpp"

using namespace whorl;

namespace {

figures::Opening two_bands() {
  figures::Opening opening;
  opening.bands = {{"1 µm, 60 %", 1.0, 0.5, 2.0}, {"8 µm, 40 %", 8.0, 4.0, 16.0}};
  return opening;
}

// x and width, in per cent, of the rectangle of a kind.
std::pair<double, double> rectangle(const std::string& html, const std::string& kind) {
  const std::regex wanted("class=\"" + kind + "\" x=\"([0-9.]+)%\" y=\"[0-9.]+\" width=\"([0-9.]+)%\"");
  std::smatch found;
  REQUIRE(std::regex_search(html, found, wanted));
  return {std::stod(found[1]), std::stod(found[2])};
}

// Standard normal distribution by Simpson's rule, for a check that owes nothing to erfc.
double normal_by_sum(double z) {
  constexpr int kSteps = 4000;
  const double from = -9.0;
  const double step = (z - from) / kSteps;
  double sum = 0.0;
  for (int i = 0; i <= kSteps; ++i) {
    const double x = from + step * i;
    sum += (i == 0 || i == kSteps ? 1.0 : i % 2 == 1 ? 4.0 : 2.0) * std::exp(-0.5 * x * x);
  }
  return sum * step / 3.0 / std::sqrt(2.0 * 3.14159265358979323846);
}

}  // namespace

TEST_CASE("ruler: bands stand at their logarithms") {
  const std::string html = figures::html_ruler(two_bands());
  const auto [first, wide] = rectangle(html, "band first");
  const auto [other, same] = rectangle(html, "band other");
  // 0.5 to 2 and 4 to 16 are both a factor 4 wide, and a factor 8 apart
  CHECK(std::abs(wide - same) < 0.03);
  CHECK(std::abs((other - first) / wide - std::log(8.0) / std::log(4.0)) < 2e-3);
  CHECK(first > 2.0);
  CHECK(other + same < 98.0);
  figures::Opening wanted = two_bands();
  wanted.least_um = 0.5;
  wanted.most_um = 2.0;
  const std::string zoned = figures::html_ruler(wanted);
  CHECK(rectangle(zoned, "zone") == rectangle(zoned, "band first"));
  CHECK(figures::html_ruler({}).empty());
}

TEST_CASE("opening: shares of the bar, and text that cannot become markup") {
  figures::Opening opening = two_bands();
  const std::string hostile = "<script>alert(1)</script>\"'&";
  opening.headline = opening.second = opening.extent = opening.chance = opening.chance_of = opening.caution = hostile;
  opening.steps = {{hostile, hostile, true}};
  opening.bands[0].label = hostile;
  opening.outcomes = {{"even", hostile, "75 %", 0.75}, {"wet", "wet film", "25 %", 0.25}};
  opening.map = opening.picture = figures::Figure{};
  opening.map_title = opening.map_words = opening.picture_title = opening.picture_words = opening.map_link = hostile;
  const std::string html = figures::html_opening(opening);
  CHECK(html.find("<script") == std::string::npos);
  const auto [even, three] = rectangle(html, "outcome even");
  const auto [wet, one] = rectangle(html, "outcome wet");
  CHECK(even == 0.0);
  CHECK(std::abs(wet - 75.0) < 1e-9);
  CHECK(std::abs(three - 74.6) < 1e-9);  // 0.4 of a per cent between neighbours
  CHECK(std::abs(one - 24.6) < 1e-9);
}

TEST_CASE("section: the gas line only where gas goes through") {
  figures::SectionFigure vessel{60.0, 20.0, 1.5, 0.3, 10.0, 0.0, 1.4, 0.3, 15.0, ""};
  const figures::Figure with = figures::draw_section(vessel, {});
  CHECK(with.svg.find("gas goes through") != std::string::npos);
  CHECK(with.svg.find("20 mm") != std::string::npos);  // a third of 63 mm, rounded down
  vessel.gas_layer_mm = 0.0;
  CHECK(figures::draw_section(vessel, {}).svg.find("gas goes through") == std::string::npos);
  vessel.bore_mm = 0.0;
  CHECK_THROWS_AS(figures::draw_section(vessel, {}), std::invalid_argument);
}

TEST_CASE("chance to meet: both answers by their probability, sides of a band apart") {
  model::Answer threads, line;
  threads.probability = 0.7;
  threads.diameter_m = 1e-6;
  threads.low_m = 0.5e-6;
  threads.high_m = 4e-6;
  threads.outcomes.even = 0.9;
  line.probability = 0.3;
  line.diameter_m = 10e-6;
  line.low_m = 5e-6;
  line.high_m = 20e-6;
  line.outcomes.even = 0.5;
  CHECK(std::abs(answer::share_within(threads, {0.5e-6, 4e-6}) - 0.9) < 1e-12);
  CHECK(std::abs(answer::share_within(threads, {{}, 1e-6}) - 0.5) < 1e-12);
  const double upper = normal_by_sum(1.6448536269514722 * std::log(2.0) / std::log(4.0));
  CHECK(std::abs(answer::share_within(threads, {1e-6, 2e-6}) - (upper - 0.5)) < 1e-9);
  CHECK(std::abs(answer::chance_to_meet(threads, line, {{}, {}}) - (0.7 * 0.9 + 0.3 * 0.5)) < 1e-12);
  CHECK(std::abs(answer::chance_to_meet(threads, line, {5e-6, 20e-6}) - 0.3 * 0.5 * 0.9 -
                 0.7 * 0.9 * answer::share_within(threads, {5e-6, 20e-6})) < 1e-12);
  line.diameter_m = 0.0;  // no fibre
  CHECK(answer::share_within(line, {{}, {}}) == 0.0);
}

TEST_CASE("opening of a case: what the estimate says, in bench words") {
  study::LoadedCase loaded = study::load_case(WHORL_SOURCE_DIR "/cases/ps-thf-sweep.json");
  engine::EstimateOptions options;
  options.band = true;
  options.keep_profile = true;
  const model::Estimate e = answer::case_estimate(loaded, options);
  REQUIRE(e.torn);
  const figures::Opening opening = answer::report_opening(loaded, e, nullptr);
  CHECK(std::regex_match(opening.headline, std::regex("About [0-9.]+\u00a0µm, could be [0-9.]+ to [0-9.]+")));
  REQUIRE(opening.bands.size() == 2);
  CHECK(opening.bands[0].middle_um == 1e6 * e.as_threads.diameter_m);
  CHECK(opening.bands[1].high_um == 1e6 * e.as_line.high_m);
  double sum = 0.0;
  for (const auto& outcome : opening.outcomes) sum += outcome.share;
  CHECK(sum > 0.97);
  CHECK(!opening.map);
  REQUIRE(opening.picture);
  CHECK(opening.picture_title == "The vessel, in section");
  CHECK(!opening.steps.empty());
  CHECK(opening.steps.front().label == "Next");
  CHECK(opening.caution.find("etrahydrofuran") != std::string::npos);
  CHECK(opening.chance.empty());
  CHECK(figures::html_opening(opening).find("--full") == std::string::npos);

  loaded.file.window_json = R"({"diameter": "0.3 um..1 um"})";
  const figures::Opening wanted = answer::report_opening(loaded, e, nullptr);
  CHECK(wanted.chance_of == "chance of even fibre of 0.3 to 1\u00a0µm");
  const double chance = answer::chance_to_meet(e.as_threads, e.as_line, {0.3e-6, 1e-6});
  CHECK(wanted.chance == std::to_string(static_cast<int>(std::lround(100.0 * chance))) + "\u00a0%");
}
