// A jet that floats round the vessel before it arrives: a march takes steps of many turns there, and none may be lost;
// and what is said of it must not hang on the last digits of a setting.
#include <cmath>

#include "catch.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/line_band.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/study/loaded_case.hpp"

using namespace whorl;

namespace {

study::LoadedCase floating() {
  study::LoadedCase loaded = study::load_case(WHORL_SOURCE_DIR "/cases/peo-water-training.json");
  model::CaseInput& input = loaded.file.input;
  input.model.tier = model::Tier::inertial;
  input.operation.rotation_speed_rad_s = 6437.0 * model::kPi / 30.0;
  input.operation.gas_overpressure_Pa = 36e3;
  input.operation.charge_volume_m3 = 4e-6;
  input.operation.collection_distance_m = 0.251;
  input.solution.concentration.value = 0.269;
  return loaded;
}

model::Jet flown(bool keep_profile) {
  const study::LoadedCase loaded = floating();
  engine::EstimateOptions options;
  options.run_distribution = false;
  options.keep_profile = keep_profile;
  return engine::estimate(loaded.file.input, loaded.library, options).jet;
}

}  // namespace

TEST_CASE("turns: the same with and without a drawing, and those of the path") {
  const model::Jet plain = flown(false);
  const model::Jet drawn = flown(true);
  REQUIRE(plain.reached_collector);
  CHECK(plain.turns > 20.0);
  CHECK(std::abs(plain.turns - drawn.turns) < 1e-9 * drawn.turns);
  // The frame of the vessel: angle by angle along the stations of the drawing, which lie far less than a turn apart.
  double swept = 0.0;
  for (std::size_t i = 1; i < drawn.profile.size(); ++i) {
    const auto& a = drawn.profile[i - 1];
    const auto& b = drawn.profile[i];
    swept += std::atan2(a.x_m * b.y_m - a.y_m * b.x_m, a.x_m * b.x_m + a.y_m * b.y_m);
  }
  CHECK(std::abs(std::abs(swept) / (2.0 * model::kPi) - drawn.turns) < 1e-6 * drawn.turns);
}

TEST_CASE("band of one line: the twelfth digit of the speed does not move it") {
  study::LoadedCase loaded = floating();
  const engine::LineBand band = engine::line_band(loaded.file.input, loaded.library);
  REQUIRE(band.made);
  REQUIRE(band.log_sd > 0.1);
  for (const double by : {1e-12, 3e-12}) {
    model::CaseInput moved = loaded.file.input;
    moved.operation.rotation_speed_rad_s *= 1.0 + by;
    const engine::LineBand there = engine::line_band(moved, loaded.library);
    REQUIRE(there.made);
    CHECK(std::abs(there.log_sd - band.log_sd) < 1e-7);
    CHECK(there.parts.size() == band.parts.size());
  }
}
