// Batches on several threads.
#include <cmath>
#include <csignal>
#include <optional>

#include "app/commands.hpp"
#include "answer/estimate_statement.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/case_runner.hpp"
#include "run/parallel.hpp"
#include "run/stop_signals.hpp"
#include "whorl/study/uncertain_inputs.hpp"
#include "catch.hpp"
#include "whorl/engine/uncertain.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;

TEST_CASE("estimates come back in order and do not depend on the number of threads") {
  const auto loaded = study::load_case(std::string(WHORL_SOURCE_DIR "/cases/pvp-ethanol-measured.json"));
  engine::EstimateOptions options;
  options.run_distribution = false;
  const engine::Sampler sampler(study::uncertain_inputs(loaded.file, loaded.file.input, loaded.library), engine::plan_for(32));
  std::vector<model::CaseInput> inputs;
  for (std::size_t i = 0; i < sampler.size(); ++i) inputs.push_back(sampler.sample(loaded.file.input, i));
  inputs[7].operation.charge_volume_m3 = 1.0;  // more than the vessel holds: refused
  const auto one = run::parallel_runner(study::case_runner(loaded, options), {1})(inputs);
  const auto four = run::parallel_runner(study::case_runner(loaded, options), {4})(inputs);
  const auto serial = engine::serial_runner(study::case_runner(loaded, options))(inputs);
  REQUIRE(one.size() == inputs.size());
  REQUIRE(four.size() == inputs.size());
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    INFO(i);
    CHECK(one[i].dry_diameter_m == serial[i].dry_diameter_m);  // the same bits
    CHECK(four[i].dry_diameter_m == serial[i].dry_diameter_m);
    CHECK(four[i].fibre_class == serial[i].fibre_class);
    CHECK(four[i].reason == serial[i].reason);
  }
  CHECK(four[7].status == model::Status::not_converged);
  CHECK(four[7].reason.rfind("refused: ", 0) == 0);
  CHECK(four[6].dry_diameter_m != four[8].dry_diameter_m);
}

TEST_CASE("Ctrl-C ends a batch") {
  const run::StopSignals signals;
  int calls = 0;
  const auto runner = run::parallel_runner(
      [&calls](const model::CaseInput&) {
        if (++calls == 3) std::raise(SIGINT);
        return model::Estimate{};
      },
      {1});
  CHECK_THROWS_AS(runner(std::vector<model::CaseInput>(50)), engine::Interrupted);
  CHECK(calls == 3);
}

TEST_CASE("thread counts") {
  CHECK_NOTHROW(run::check_threads(0));
  CHECK_THROWS_AS(run::check_threads(-1), InputError);
  CHECK_THROWS_AS(run::check_threads(run::kMaxThreads + 1), InputError);
}

TEST_CASE("the +- of a case: replaces the library's, keeps its relative size where the value is swept") {
  const auto file = io::read_case_text(R"json({"whorl_case": 1, "solution": {"polymer": "PS", "solvent": "toluene",
    "molar_mass": "280 kg/mol ± 10 %", "concentration": "24 % w/v of solvent ± 5 % of value"},
    "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
    "operation": {"rotation_speed": "12000 rpm ± 100 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "6 mL", "collection_distance": "170 mm"},
    "room": {"temperature": "22 degC ± 2 K (uniform)", "air_swirl": "0.5 ± 0"},
    "model": {"vapour_pressure_factor": "1 ± 20 % (lognormal)"}})json",
                                       "case.json");
  const auto library = io::built_in_library();
  model::CaseInput faster = file.input;
  faster.operation.rotation_speed_rad_s *= 2.0;
  const auto find = [](const std::vector<engine::UncertainInput>& inputs, const std::string& key) {
    for (const auto& input : inputs)
      if (input.key == key) return std::optional(input);
    return std::optional<engine::UncertainInput>();
  };
  const auto as_written = study::uncertain_inputs(file, file.input, library);
  const auto swept = study::uncertain_inputs(file, faster, library);
  CHECK(find(swept, "operation.rotation_speed")->spread.sd == Approx(2.0 * find(as_written, "operation.rotation_speed")->spread.sd));
  CHECK(find(as_written, "operation.rotation_speed")->kind == engine::UncertainKind::measurement);
  CHECK(find(as_written, "room.temperature")->spread.sd == Approx(2.0 / std::sqrt(3.0)));
  CHECK_FALSE(find(as_written, "room.air_swirl").has_value());
  const auto vapour = find(as_written, "model.vapour_pressure_factor");
  REQUIRE(vapour.has_value());
  CHECK(vapour->spread.sd == Approx(0.2));
  CHECK(vapour->kind == engine::UncertainKind::property);
  CHECK(vapour->property == "vapour_pressure");
  CHECK(find(as_written, "model.excess_draw")->kind == engine::UncertainKind::model_form);
}
