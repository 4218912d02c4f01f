#include "whorl/study/sweep_spec.hpp"
#include "catch.hpp"
#include "whorl/model/error.hpp"
#include "refusal.hpp"

#include <nlohmann/json.hpp>

using namespace whorl::app;
using whorl::InputError;
using whorl::engine::DesignKind;
using whorl::engine::Spacing;
using Json = nlohmann::ordered_json;

namespace {

std::string message(const std::vector<std::string>& vary, const char* design = nullptr, std::uint64_t points = 0) {
  whorl::study::SpecOverrides overrides;
  overrides.vary = vary;
  if (design != nullptr) overrides.design = design;
  if (points != 0) overrides.points = points;
  return testing::refusal([&] { return whorl::study::make_design(whorl::study::combine({}, overrides, "case.json"), "case.json"); });
}

std::string block_message(const char* text) {
  return testing::refusal([&] { return whorl::study::make_design(whorl::study::combine(whorl::study::parse_sweep_block(Json::parse(text), "case.json"), {}, "case.json"), "case.json"); });
}

bool has(const std::string& text, const std::string& part) {
  INFO(text);
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("--vary reads ranges and lists") {
  auto swept = whorl::study::parse_vary("rotation_speed=4000 rpm..12000 rpm:9");
  CHECK(swept.key->path == "operation.rotation_speed");
  CHECK(swept.axis.from == 4000.0);  // exactly, in the unit of the column
  CHECK(swept.axis.to == 12000.0);
  CHECK(swept.axis.points == 9);
  CHECK(swept.axis.spacing == Spacing::linear);

  swept = whorl::study::parse_vary(" operation.rotation_speed = 100 rad/s .. 12000 rpm : 5 log ");
  CHECK(swept.axis.points == 5);
  CHECK(swept.axis.spacing == Spacing::logarithmic);
  CHECK_THAT(swept.axis.from, WithinRel(100.0 * 30.0 / 3.14159265358979, 1e-12));

  swept = whorl::study::parse_vary("gas_overpressure=0 MPa, 100 kPa, 0.2 MPa");
  CHECK(swept.axis.levels == std::vector<double>{0.0, 0.1, 0.2});
  swept = whorl::study::parse_vary("room.temperature=20 degC..30 degC");
  CHECK(swept.axis.from == 20.0);
  CHECK(swept.axis.points == 0);
  swept = whorl::study::parse_vary("orifice_count=6..24:4");
  CHECK(swept.axis.whole);
}

TEST_CASE("--vary says what is wrong and what is allowed") {
  CHECK(has(message({"rotation_speed"}), "has no \"=\""));
  CHECK(has(message({"rotation_sped=1 rpm..2 rpm:3"}), "nearest: operation.rotation_speed"));
  CHECK(has(message({"rotation_speed="}), "no values"));
  CHECK(has(message({"rotation_speed=4000..5000 rpm:3"}), "operation.rotation_speed"));
  CHECK(has(message({"rotation_speed=4000 mm..5000 rpm:3"}), "operation.rotation_speed"));
  CHECK(has(message({"rotation_speed=4000 rpm..500000 rpm:3"}), "above the limit"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm:x"}), "not a number of points"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm:-3"}), "not a number of points"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm:1"}), "2 points or more"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm"}), "without a number of points"));
  CHECK(has(message({"rotation_speed=4000 rpm..4000 rpm:3"}), "both ends"));
  CHECK(has(message({"rotation_speed=0 rpm..4000 rpm:3 log"}), "logarithmic range"));
  CHECK(has(message({"rotation_speed=4000 rpm,"}), "operation.rotation_speed"));
  CHECK(has(message({"orifice_count=6..24:5"}), "steps of 4.5"));
  CHECK(has(message({"orifice_count=6.5,7"}), "whole number"));
  CHECK(has(message({"orifice_count=1,2", "vessel.orifice_count=3,4"}), "varied twice"));
  CHECK(has(message({"solution.polymer=PMMA,PCL"}), "no numeric key"));
  CHECK(has(message({"rotation_speed=1 rpm..2 rpm:100000", "gas_overpressure=0 MPa..0.6 MPa:100000"}), "more than 1000000000"));
  CHECK(has(message({}), "nothing to vary"));
  const std::vector<std::string> open{"rotation_speed=4000 rpm..5000 rpm"};
  CHECK(has(message(open, "sobol"), "without a number of points"));
  CHECK(has(message(open, "hypercube", 5), "grid, latin-hypercube or sobol"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm:5"}, "sobol", 8), "--points sets the total"));
  CHECK(has(message({"rotation_speed=4000 rpm..5000 rpm:5"}, "grid", 8), "points per range"));
  CHECK(message(open, "sobol", 8) == "accepted");
  CHECK(message({"rotation_speed=4000 rpm..5000 rpm:5"}) == "accepted");
}

TEST_CASE("the sweep block of a case says the same as the command line") {
  const auto spec = whorl::study::parse_sweep_block(Json::parse(R"({"vary": {
      "operation.rotation_speed": {"from": "4000 rpm", "to": "12000 rpm", "points": 9, "spacing": "log"},
      "operation.gas_overpressure": ["0 MPa", "0.1 MPa"],
      "vessel.orifice_count": [6, 12]}, "design": "grid"})"), "case.json");
  REQUIRE(spec.keys.size() == 3);
  CHECK(spec.keys[0].key->path == "operation.rotation_speed");  // in the order of the file
  const auto command = whorl::study::parse_vary("rotation_speed=4000 rpm..12000 rpm:9 log");
  CHECK(whorl::study::axis_text(spec.keys[0], spec.design) == whorl::study::axis_text(command, spec.design));
  CHECK(whorl::study::make_design(spec, "case.json").size() == 36);
  CHECK(whorl::study::parse_sweep_block(Json::parse(R"({"design": "sobol", "points": 8, "seed": 0})"), "c").seed == 0);
}

TEST_CASE("the sweep block is checked as strictly as the rest of the case") {
  CHECK(has(block_message("[]"), "case.json: sweep"));
  CHECK(has(block_message(R"({"vry": {}})"), "unknown key"));
  CHECK(has(block_message(R"({"vary": []})"), "sweep.vary"));
  CHECK(has(block_message(R"({"vary": {}})"), "nothing to vary"));
  CHECK(has(block_message(R"({"vary": {"rotation_sped": ["1 rpm"]}})"), "nearest: operation.rotation_speed"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": "1 rpm"}})"), "sweep.vary.rotation_speed"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": []}})"), "list of 0 values"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": [true]}})"), "a JSON boolean"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": [12000]}})"), "operation.rotation_speed"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": {"from": "1 rpm"}}})"), "no \"to\""));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm", "point": 3}}})"), "unknown key"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm", "points": 2.5}}})"), "whole number"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm", "points": 3, "spacing": "cubic"}}})"), "linear or log"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": ["1 rpm"]}, "design": 3})"), "sweep.design"));
  CHECK(has(block_message(R"({"vary": {"rotation_speed": ["1 rpm"]}, "points": -1})"), "sweep.points"));
}

TEST_CASE("the command line replaces the block, or single settings of it") {
  const auto block = whorl::study::parse_sweep_block(Json::parse(R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "9 rpm"}},
      "design": "sobol", "points": 8})"), "case.json");
  whorl::study::SpecOverrides overrides;
  overrides.points = 16;
  CHECK(whorl::study::make_design(whorl::study::combine(block, overrides, "case.json"), "case.json").size() == 16);
  overrides = {};
  overrides.vary = {"gas_overpressure=0 MPa, 0.1 MPa"};
  const auto spec = whorl::study::combine(block, overrides, "case.json");
  CHECK(spec.design == DesignKind::grid);
  CHECK(spec.keys.size() == 1);
}
