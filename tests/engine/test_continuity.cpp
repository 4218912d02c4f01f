// No steps that nature does not have: neighbouring settings give neighbouring flows and diameters, or a name changes between them. Every key,
// 400 steps each: tools/continuity.
#include <algorithm>
#include <array>
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "engine/continuity.hpp"

using namespace whorl;

namespace {

// Settings and properties on which something sets in: gas, drainage, entanglement, shear thinning, solidification, the start.
constexpr std::array<std::string_view, 13> kKeys{
    "solution.molar_mass",       "solution.concentration",      "solution.measured.zero_shear_viscosity", "vessel.orifice_diameter",
    "operation.rotation_speed",  "operation.gas_overpressure",  "operation.charge_volume",                "operation.collection_distance",
    "operation.spin_up_time",    "operation.pressure_rise_time", "operation.feed_rate",                   "room.relative_humidity",
    "model.critical_layer_factor"};

void hold(const char* name, int steps) {
  const auto file = io::read_case_file(std::string(WHORL_SOURCE_DIR "/tests/validation/") + name);
  testing::WalkOptions options;
  options.steps = steps;
  options.wanted = [](const io::Key& key) { return std::find(kKeys.begin(), kKeys.end(), key.path) != kKeys.end(); };
  const testing::Walk walk = testing::walk(file.input, io::built_in_library(), options);
  CHECK(walk.keys.size() >= 12);
  CHECK(walk.estimates > walk.keys.size() * static_cast<std::size_t>(steps) * 9 / 10);
  for (const testing::Step& step : walk.steps) {
    INFO(testing::text_of(step));
    CHECK_FALSE(step.event.empty());
  }
}

}  // namespace

TEST_CASE("no unnamed steps: an everyday charge with gas", "[engine][continuity]") { hold("base-pcl-chloroform.json", 40); }
TEST_CASE("no unnamed steps: fed by a pump", "[engine][continuity]") { hold("base-pcl-fed.json", 40); }
TEST_CASE("no unnamed steps: a polymer in water", "[engine][continuity]") { hold("base-peo-water.json", 40); }

TEST_CASE("a walk finds a step that is there, and its name", "[engine][continuity]") {
  // the headline changes from threads to one line where the stated probability is crossed: a jump of diameter, with a name
  const auto file = io::read_case_file(std::string(WHORL_SOURCE_DIR "/tests/validation/base-pcl-chloroform.json"));
  testing::WalkOptions options;
  options.steps = 10;
  options.wanted = [](const io::Key& key) { return key.path == "model.tearing_quantile"; };
  const testing::Walk walk = testing::walk(file.input, io::built_in_library(), options);
  const auto headline = std::find_if(walk.steps.begin(), walk.steps.end(), [](const auto& s) { return s.number == "diameter of the headline"; });
  REQUIRE(headline != walk.steps.end());
  CHECK(headline->sudden);
  CHECK(headline->event.find("answer first") != std::string::npos);
  CHECK(headline->above - headline->below < 1e-4);
}
