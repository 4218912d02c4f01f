// Tables of trials as laboratories have them, through the command line: workbooks, settings that the physics does not
// know, runs that were timed.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/commands.hpp"
#include "app/commands.hpp"
#include "answer/estimate_statement.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "table/workbook.hpp"
#include "catch.hpp"
#include "engine/published_series.hpp"
#include "app/process.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/run_progress.hpp"

using namespace whorl;
using Json = nlohmann::ordered_json;

namespace {

Json calibrated(const std::vector<std::string>& files, int expected) {
  std::ostringstream out, err;
  app::CalibrateArguments arguments;
  arguments.case_file = files[0];
  if (files.size() > 1) arguments.data = files[1];
  arguments.json = true;
  const int exit = app::run_calibrate(arguments, {out, err});
  INFO(err.str());
  CHECK(exit == expected);
  return Json::parse(out.str());
}

constexpr const char* kCase = WHORL_SOURCE_DIR "/cases/pcl-chloroform.json";

}  // namespace

TEST_CASE("trials: a published series as a table, through the command line, is predicted as by the law itself",
          "[app][trial_law]") {
  const auto all = published::read_series(WHORL_SOURCE_DIR "/tests/reference/gas_spun_diameters.csv");
  const published::Series* series = nullptr;
  for (const auto& one : all) {
    if (one.keys.size() >= 2 && one.settings.size() >= 9 && one.keys[0] == "operation.gas_overpressure") series = &one;
  }
  REQUIRE(series != nullptr);
  const std::vector<std::pair<std::string, std::string>> columns{{"operation.gas_overpressure", "air_pressure_bar"},
                                                                 {"solution.concentration", "concentration_wt_percent"},
                                                                 {"operation.feed_rate", "feed_mL_h"},
                                                                 {"operation.collection_distance", "distance_mm"}};
  study::StudyInput input;
  input.probability_line = 0.05;
  std::string text = "label";
  for (const std::string& key : series->keys) {
    for (const auto& [known, column] : columns) {
      if (key == known) text += "," + column;
    }
    input.settings.push_back({key, key, false});
  }
  text += ",needle_length,diameter_mean_nm\n";
  input.settings.push_back({"needle_length", "needle_length", false});
  for (std::size_t i = 0; i < 9; ++i) {
    std::vector<double> settings = series->settings[i];
    text += "t" + std::to_string(i);
    for (std::size_t k = 0; k < settings.size(); ++k) {
      char cell[40];
      std::snprintf(cell, sizeof cell, ",%.12g",
                    settings[k] * (series->keys[k] == "operation.gas_overpressure" ? 10.0 : 1.0));
      text += cell;
    }
    settings.push_back(i % 2 == 0 ? 10.0 : 15.0);
    text += i % 2 == 0 ? ",10" : ",15";
    char cell[40];
    std::snprintf(cell, sizeof cell, i < 6 ? ",%.12g\n" : ",\n", 1e9 * std::exp(series->ln_diameter[i]));
    text += cell;
    if (i < 6) input.trials.push_back({"", settings, series->ln_diameter[i], 0.0, "", {}, 0.0});
  }
  const testing::Folder folder;
  process::write(folder / "series.csv", text);
  const study::TrialStudy study(input);
  const Json json = calibrated({folder / "series.csv"}, study.misfit().empty() ? 0 : 1);
  REQUIRE(json.at("predictions").size() == 3);
  for (std::size_t i = 6; i < 9; ++i) {
    std::vector<double> settings = series->settings[i];
    settings.push_back(i % 2 == 0 ? 10.0 : 15.0);
    const auto p = study.predict(settings, {});
    const Json& said = json["predictions"][i - 6];
    CHECK_THAT(said.at("diameter_um").get<double>(), WithinRel(1e6 * std::exp(p.median), 1e-6));
    CHECK_THAT(said.at("low_um").get<double>(), WithinRel(1e6 * std::exp(p.low), 1e-6));
    CHECK_THAT(said.at("high_um").get<double>(), WithinRel(1e6 * std::exp(p.high), 1e-6));
  }
  const Json& settings = json.at("law").at("settings");
  CHECK(settings.back().at("column") == "needle_length");
  CHECK_FALSE(settings.back().contains("published"));
}

TEST_CASE("trials: timed runs, gas, yield and what was seen are learned, written and read back", "[app][trial_law]") {
  const study::LoadedCase loaded = study::load_case(kCase);
  const study::QuickRun run = study::quick_run(loaded.file.input, loaded.library);
  REQUIRE(run.signs);
  // A vessel that lets out half of its charge 1.5 times as fast as the model.
  const double half = model::time_when_left_s(run.run, 0.5 / run.run.emptied_fraction);
  REQUIRE(half > 0.0);
  std::ostringstream text;
  text << "rotation_speed_rpm,diameter_mean_um,mass_out_g,run_time_s,gas_flow_L_min,yield_percent,seen\n";
  const double rpm = loaded.file.input.operation.rotation_speed_rad_s * 30.0 / 3.14159265358979323846;
  text.precision(12);
  text << rpm << ",1.5," << 500.0 * run.charge_kg << ',' << half / 1.5 << ",,80,fibre\n";
  text << rpm * 1.2 << ",1.4,,,,,fibre\n" << rpm * 0.8 << ",,,,0,,nothing arrived\n";
  const io::TrialData data = io::read_trial_text(text.str(), "t.csv");
  const study::TrialCalibration learned(&loaded, data, 0.0);
  CHECK(learned.signs().flow.runs == 1);
  CHECK_THAT(std::log(learned.flow_factor()), WithinAbs(0.9 * std::log(1.5), 1e-6));
  CHECK(learned.signs().class_trials == 3);
  REQUIRE(learned.study().input().hints.size() == 1);
  if (run.signs->gas_flow_m3_s > 0.0) CHECK(learned.study().input().hints[0].ln_odds_fine < 0.0);
  const Json file = learned.json();
  const study::TrialCalibration read(file, "law.json");
  CHECK(read.flow_factor() == learned.flow_factor());
  CHECK(read.signs().classes == learned.signs().classes);
  CHECK(read.study().input().hints.size() == 1);
  const auto a = learned.predict(loaded.file.input, loaded.file.input, loaded.library);
  CHECK(read.predict(loaded.file.input, loaded.file.input, loaded.library).median == a.median);
  model::Estimate e = engine::estimate(loaded.file.input, loaded.library, {});
  read.lay_over(e, loaded.file.input, read.physics_at(loaded.file.input, loaded.file.input, loaded.library));
  const auto& o = e.outcomes;
  CHECK_THAT(o.even + o.beaded + o.drops + o.wet + o.none, WithinAbs(1.0, 1e-9));
  Json bad = file;
  bad["law"]["signs"]["ln_flow_factor"] = 1e9;
  CHECK_THROWS_AS(study::TrialCalibration(bad, "law.json"), InputError);
  for (const char* row :
       {"9000,1.5,1,1000000,,,\n", "9000,1.5,,,,,lumps\n", "9000,1.5,,,,120,\n", "9000,1.5,,,-1,,\n"}) {
    INFO(row);
    const std::string heading = text.str().substr(0, text.str().find('\n') + 1);
    CHECK_THROWS_AS(study::TrialCalibration(&loaded, io::read_trial_text(heading + row, "t.csv"), 0.0), InputError);
  }
}

TEST_CASE("trials: a whole run is timed, but not the dribble at its end", "[app][trial_law]") {
  study::LoadedCase loaded = study::load_case(kCase);
  const auto learned = [&](double share, double of_time) {
    const study::QuickRun run = study::quick_run(loaded.file.input, loaded.library);
    const double grams = 1e3 * share * run.run.emptied_fraction * run.charge_kg;
    std::ostringstream text;
    text.precision(15);
    text << "rotation_speed_rpm,diameter_mean_um,mass_out_g,run_time_s\n"
         << loaded.file.input.operation.rotation_speed_rad_s * 30.0 / 3.14159265358979323846 << ",1.5," << grams << ','
         << of_time * model::time_when_left_s(run.run, share) << '\n';
    return study::TrialCalibration(&loaded, io::read_trial_text(text.str(), "t.csv"), 0.0);
  };
  const auto told = [](const study::TrialCalibration& by, const char* words) {
    return std::any_of(by.remarks().begin(), by.remarks().end(),
                       [&](const std::string& remark) { return remark.find(words) != std::string::npos; });
  };
  const auto dribble = learned(0.97, 1.0);
  CHECK(dribble.signs().flow.runs == 0);
  CHECK(told(dribble, "dribbles"));
  CHECK(learned(0.89, 1.0).signs().flow.runs == 1);
  CHECK(told(learned(1.02, 1.0), "more mass left than the model lets out"));
  loaded.file.input.operation.gas_overpressure_Pa = 0.0;
  const auto whole = learned(0.999, 0.5);
  CHECK(whole.signs().flow.runs == 1);
  CHECK_THAT(std::log(whole.flow_factor()), WithinAbs(0.9 * std::log(2.0), 1e-6));
}

TEST_CASE("trials: a workbook says what the same table says", "[app][trial_law]") {
  const std::string path = WHORL_SOURCE_DIR "/tests/data/trials/five-trials.xlsx";
  const std::string bytes = process::read(path);
  REQUIRE(table::is_workbook(bytes));
  std::string csv;
  try {
    csv = table::workbook_csv(bytes, "five-trials.xlsx");
  } catch (const InputError& error) {
    if (error.found().find("this build cannot read") == std::string::npos) throw;
    return;  // built without the two libraries: refused with that reason
  }
  CHECK(csv.rfind("Speed (rpm),Overpressure (MPa),Concentration (%),Mean diameter (um),Notes\n8000,0.1,15,1.84,\n",
                  0) == 0);
  CHECK(csv.find("\"windy, door open\"") != std::string::npos);
  const io::TrialData data = table::read_trials(path, true);
  REQUIRE(data.rows.size() == 5);
  CHECK_THAT(data.rows[4].mean_m, WithinRel(2.72e-6, 1e-12));
  CHECK(data.digest.size() == 64);
  // Damage anywhere is a refusal or the same table, never another end.
  for (std::size_t at = 0; at < bytes.size(); at += 7) {
    std::string damaged = bytes;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x55);
    try {
      (void)table::workbook_csv(damaged, "damaged.xlsx");
    } catch (const InputError& error) {
      CHECK_FALSE(error.found().empty());
    }
  }
  CHECK_THROWS_AS(table::workbook_csv(bytes.substr(0, bytes.size() / 2), "half.xlsx"), InputError);
  // one text of 1 MB named by 200 cells; 100,000 runs inside each other
  CHECK_THROWS_AS(table::workbook_csv(process::read(WHORL_SOURCE_DIR "/tests/data/trials/swollen.xlsx"), "swollen.xlsx"), InputError);
  CHECK_THROWS_AS(table::workbook_csv(process::read(WHORL_SOURCE_DIR "/tests/data/trials/nested.xlsx"), "nested.xlsx"), InputError);
}

TEST_CASE("trials: headings of a table without a case", "[app][trial_law]") {
  const auto column = [](const std::string& heading) {
    const std::string text = heading + ",diameter_mean_nm\n10,500\n15,450\n20,700\n";
    const study::TrialCalibration learned(nullptr, io::read_trial_text(text, "t.csv", "", false), 0.0);
    return learned.study().input().settings.at(0).key;
  };
  CHECK(column("air_pressure_bar") == "operation.gas_overpressure");
  CHECK(column("conc_wt_pct") == "solution.concentration");
  CHECK(column("concentration (% w/v)") == "solution.concentration");
  CHECK(column("flow_rate_uL_min") == "operation.feed_rate");
  CHECK(column("working_distance_cm") == "operation.collection_distance");
  CHECK(column("nozzle_diameter_mm") == "vessel.orifice_diameter");
  // The model's limits do not bind where there is no model, and what nobody knows is a covariate.
  CHECK(column("gas_overpressure_MPa") == "operation.gas_overpressure");
  CHECK(column("surface_tension_mN_m") == "surface_tension_mN_m");
  CHECK(column("voltage_kV") == "voltage_kV");
  CHECK_THROWS_AS(column("diameter_sd"), InputError);
}
