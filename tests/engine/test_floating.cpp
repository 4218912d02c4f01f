// A jet that floats round the vessel before it arrives: a march takes steps of many turns there, and none may be lost;
// and what is said of it must not hang on the last digits of a setting.
#include <cmath>
#include <string>

#include "catch.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/line_band.hpp"
#include "whorl/engine/line_jet.hpp"
#include "whorl/engine/orifice_flow.hpp"
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

TEST_CASE("a jet followed only until its draw is frozen lays the diameter of the whole flight") {
  for (const char* name : {"pcl-chloroform", "peo-water-training", "pmma-acetone-dry", "ps-thf-sweep", "thin-jet-stalled"}) {
    CAPTURE(name);
    study::LoadedCase loaded = study::load_case(std::string(WHORL_SOURCE_DIR "/cases/") + name + ".json");
    loaded.file.input.model.tier = model::Tier::inertial;
    loaded.file.input.model.drying = model::DryingModel::lumped;
    const engine::Setup setup = engine::resolve(loaded.file.input, loaded.library);
    const auto start = engine::solve_orifice(setup, loaded.file.input.operation.charge_volume_m3);
    jet::JetOptions options = engine::jet_options(setup);
    const model::Jet whole = jet::solve_inertial_jet(setup.jet_context(start.flow), options);
    options.only_diameter = true;
    const model::Jet part = jet::solve_inertial_jet(setup.jet_context(start.flow), options);
    REQUIRE(whole.status == model::Status::done);
    REQUIRE(part.status == model::Status::done);
    // A solid keeps its speed but for what the march leaves: a tolerance a step, and 92 turns in the last of these cases.
    CHECK(std::abs(part.dry_diameter_m / whole.dry_diameter_m - 1.0) < 5.0 * options.relative_tolerance);
    CHECK(part.air_weber == whole.air_weber);
    CHECK(part.solidified == whole.solidified);
    CHECK((part.work.rhs_evaluations < whole.work.rhs_evaluations || !whole.solidified));
  }
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
