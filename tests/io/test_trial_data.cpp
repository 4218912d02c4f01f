// Tables of trials, as they should be and as they must not; calibration files.
#include <filesystem>
#include <fstream>
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/io/calibration_file.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;

TEST_CASE("trials: columns by name or with a unit", "[io][trials]") {
  const io::TrialData d = io::read_trial_text(
      "label,rotation_speed_rpm,gas_overpressure (kPa),diameter_mean (nm),diameter_sd_um,diameter_count\n"
      "first,6000,100,5200,1.1,50\n,12000,200,4100,,\n",
      "t.csv");
  REQUIRE(d.rows.size() == 2);
  CHECK(d.rows[0].name == "first");
  CHECK(d.rows[1].name == "row 2");
  REQUIRE(d.keys.size() == 2);
  CHECK_THAT(d.rows[0].settings[0].second, WithinRel(6000.0 * 2.0 * 3.14159265358979 / 60.0, 1e-9));
  CHECK_THAT(d.rows[0].settings[1].second, WithinRel(1e5, 1e-12));
  CHECK_THAT(d.rows[0].mean_m, WithinRel(5.2e-6, 1e-12));
  CHECK_THAT(d.rows[0].sd_m, WithinRel(1.1e-6, 1e-12));
  CHECK(d.rows[0].count == 50.0);
  CHECK(d.rows[1].sd_m == 0.0);
  CHECK(d.rows[1].count == 0.0);
  CHECK(d.digest.size() == 64);
}

TEST_CASE("trials: semicolons, decimal commas, usual spellings and columns that the model does not know",
          "[io][trials]") {
  const io::TrialData d = io::read_trial_text(
      "Speed (rpm);Pressure (bar);Concentration (wt%);Lot;Needle colour code;Mean diameter (nm);Notes\n"
      "6000;1,5;15,5;A;3;1840;first, fine\n12000;2;16;B;4;;no fibre yet\n",
      "t.csv");
  REQUIRE(d.rows.size() == 2);
  REQUIRE(d.keys.size() == 3);
  CHECK(d.keys[1]->path == "operation.gas_overpressure");
  CHECK_THAT(d.rows[0].settings[1].second, WithinRel(1.5e5, 1e-12));
  CHECK(d.rows[0].batch == "A");
  REQUIRE(d.covariates.size() == 1);
  CHECK(d.covariates[0].heading == "Needle colour code");
  CHECK(d.rows[1].covariates[0] == 4.0);
  CHECK_THAT(d.rows[0].mean_m, WithinRel(1.84e-6, 1e-12));
  CHECK(d.rows[1].mean_m == 0.0);
  // Without a case a column may be in a unit that no key has.
  const io::TrialData bare = io::read_trial_text(
      "conc,feed_mL_h,pressure_MPa,diameter_mean_nm\n8,1.2,0.2,300\n10,2.4,0.3,350\n", "t.csv", "", false);
  CHECK(bare.keys.size() == 2);
  REQUIRE(bare.covariates.size() == 1);
  REQUIRE(bare.covariates[0].key != nullptr);
  CHECK(bare.covariates[0].key->path == "solution.concentration");
  CHECK_THROWS_AS(io::read_trial_text("rotation_speed_rpm,Strain,diameter_um\n6000,stiff,2\n", "t.csv"), InputError);
}

TEST_CASE("trials: single measurements from a list beside the table, not from elsewhere", "[io][trials][hostile]") {
  const auto folder = std::filesystem::temp_directory_path() / "whorl-trials-test";
  std::filesystem::create_directories(folder);
  std::ofstream(folder / "a.csv") << "Diameter (um)\n1\n2\n3\n";
  const std::string table = "rotation_speed_rpm,diameter_list\n6000,a.csv\n";
  const io::TrialData d = io::read_trial_text(table, "t.csv", folder.string());
  CHECK_THAT(d.rows[0].mean_m, WithinRel(2e-6, 1e-12));
  CHECK_THAT(d.rows[0].sd_m, WithinRel(1e-6, 1e-12));
  CHECK(d.rows[0].count == 3.0);
  for (const char* path : {"../a.csv", "/etc/hostname", "b/../../a.csv"}) {
    CHECK_THROWS_AS(io::read_trial_text(std::string("diameter_list\n") + path + "\n", "t.csv", folder.string()),
                    InputError);
  }
  std::filesystem::remove_all(folder);
}

TEST_CASE("trials: malformed tables get one clear message", "[io][trials][hostile]") {
  struct Bad {
    const char* what;
    std::string text;
    const char* where;
    const char* allowed;
  };
  const std::vector<Bad> all{
      {"empty", "", "", ""},
      {"heading only", "rotation_speed_rpm,diameter_mean_um\n", "", "one row per trial"},
      {"no diameter", "rotation_speed_rpm\n6000\n", "", "diameter_mean_um"},
      {"both kinds", "diameter_mean_um,diameter_list\n1,a.csv\n", "", "one of them"},
      {"unknown column", "rotation_sped_rpm,diameter_mean_um\n1,2\n", "rotation_sped_rpm", "rotation_speed"},
      {"setting without unit", "rotation_speed,diameter_mean_um\n1,2\n", "rotation_speed", "rpm"},
      {"wrong unit", "rotation_speed (kg),diameter_mean_um\n1,2\n", "rotation_speed (kg)", "rpm"},
      {"diameter without unit", "diameter_mean\n2\n", "diameter_mean", "diameter_mean_um"},
      {"diameter in kg", "diameter_mean (kg)\n2\n", "diameter_mean (kg)", "um"},
      {"column twice", "rotation_speed_rpm,rotation_speed_rpm,diameter_mean_um\n1,1,2\n", "", ""},
      {"the same key twice", "rotation_speed_rpm,rotation_speed (rpm),diameter_mean_um\n6000,6000,2\n",
       "rotation_speed (rpm)", "one"},
      {"ragged", "rotation_speed_rpm,diameter_mean_um\n6000\n", "", ""},
      {"text", "rotation_speed_rpm,diameter_mean_um\nfast,2\n", "row 1, rotation_speed_rpm", "a number"},
      {"empty cell", "rotation_speed_rpm,diameter_mean_um\n,2\n", "row 1, rotation_speed_rpm", "a number"},
      {"not a number", "rotation_speed_rpm,diameter_mean_um\n6000,nan\n", "row 1, diameter_mean_um", "a number"},
      {"overflow", "rotation_speed_rpm,diameter_mean_um\n1e999,2\n", "row 1, rotation_speed_rpm", "a number"},
      {"formula", "rotation_speed_rpm,diameter_mean_um\n=A1,2\n", "row 1, rotation_speed_rpm", "a number"},
      {"outside the limits", "rotation_speed_rpm,diameter_mean_um\n1e9,2\n", "row 1, rotation_speed_rpm", "rpm"},
      {"negative diameter", "diameter_mean_um\n-2\n", "row 1, diameter_mean_um", "1 nm to 10 mm"},
      {"zero diameter", "diameter_mean_um\n0\n", "row 1, diameter_mean_um", "1 nm to 10 mm"},
      {"huge diameter", "diameter_mean_um\n1e9\n", "row 1, diameter_mean_um", "1 nm to 10 mm"},
      {"negative sd", "diameter_mean_um,diameter_sd_um\n2,-1\n", "row 1, diameter_sd_um", "0 or more"},
      {"count of zero", "diameter_mean_um,diameter_count\n2,0\n", "row 1, diameter_count", "whole number"},
      {"half a count", "diameter_mean_um,diameter_count\n2,1.5\n", "row 1, diameter_count", "whole number"},
      {"half an orifice", "orifice_count,diameter_mean_um\n2.5,2\n", "row 1, orifice_count", "whole"},
      {"missing list", "diameter_list\nnowhere.csv\n", "", "measured diameters"},
      {"list without name", "label,diameter_list\na,\n", "row 1, diameter_list", "a file"},
      {"binary", std::string("a\0b", 3), "", "CSV"},
      {"open quote", "label,diameter_mean_um\n\"a,2\n", "", ""},
  };
  CHECK(all.size() >= 25);
  for (const Bad& bad : all) {
    INFO(bad.what);
    try {
      (void)io::read_trial_text(bad.text, "t.csv");
      FAIL("accepted");
    } catch (const InputError& error) {
      INFO(error.what());
      CHECK_FALSE(error.file().empty());
      if (*bad.where != '\0') CHECK(error.key() == bad.where);
      CHECK(error.allowed().find(bad.allowed) != std::string::npos);
      CHECK(std::string(error.what()).size() < 500);
    }
  }
}

TEST_CASE("calibration files: laid over the case, refused for another solution or broken",
          "[io][calibration][hostile]") {
  const std::string good =
      R"({"whorl_calibration": 1, "version": "0.1.0", "polymer": "PCL", "solvent": "chloroform", "case_sha256": "a", "data_sha256": "b",
    "parameters": [{"key": "model.discharge_factor", "value_si": 1.2, "low_si": 1.0, "high_si": 1.5}]})";
  io::CaseFile file = io::read_case_file(testing::case_path("pcl-chloroform"));
  const std::string before = file.hash;
  io::apply_calibration(file, io::read_calibration_text(good, "c.json"));
  CHECK(file.input.model.discharge_factor == 1.2);
  CHECK_THAT(file.uncertainties.at("model.discharge_factor").sd, WithinRel(0.25 / 1.6448536, 1e-6));
  CHECK(file.hash != before);
  CHECK(file.notes.back().find("c.json") != std::string::npos);
  io::CaseFile other = io::read_case_file(testing::case_path("ps-thf-sweep"));
  CHECK_THROWS_AS(io::apply_calibration(other, io::read_calibration_text(good, "c.json")), InputError);
  for (const auto& [from, to] :
       {std::pair<std::string, std::string>{"\"whorl_calibration\": 1", "\"whorl_calibration\": 2"},
        {"\"whorl_calibration\": 1, ", ""},
        {"model.discharge_factor", "model.dischargefactor"},
        {"\"value_si\": 1.2", "\"value_si\": \"1.2\""},
        {"\"value_si\": 1.2", "\"value_si\": 1e9"},
        {"\"high_si\": 1.5", "\"high_si\": 1.1"},
        {", \"high_si\": 1.5", ""},
        {"\"polymer\": \"PCL\", ", ""},
        {"}]}", "}]"}}) {
    std::string bad = good;
    const auto at = bad.find(from);
    REQUIRE(at != std::string::npos);
    bad.replace(at, from.size(), to);
    INFO(to);
    CHECK_THROWS_AS(io::read_calibration_text(bad, "c.json"), InputError);
  }
}

TEST_CASE("calibration files: a case outside the settings of the trials is told so", "[io][calibration]") {
  const std::string head =
      R"({"whorl_calibration": 1, "version": "0.1.0", "polymer": "PCL", "solvent": "chloroform", "case_sha256": "a", "data_sha256": "b",
    "parameters": [{"key": "model.excess_draw", "value_si": 1.2, "low_si": 1.0, "high_si": 1.5}], "range": )";
  const auto noted = [&](const std::string& range) {
    io::CaseFile file = io::read_case_file(testing::case_path("pcl-chloroform"));  // 0.3 mm, 10000 rpm = 1047.2 rad/s
    io::apply_calibration(file, io::read_calibration_text(head + range + "}", "c.json"));
    for (const std::string& note : file.notes) {
      if (note.find("outside the trials") != std::string::npos) return note;
    }
    return std::string();
  };
  CHECK(noted("[]").empty());
  CHECK(
      noted(
          R"([{"key": "vessel.orifice_diameter", "low_si": 0.0003, "high_si": 0.0003}, {"key": "operation.rotation_speed", "low_si": 700, "high_si": 1300}])")
          .empty());
  const std::string both = noted(
      R"([{"key": "vessel.orifice_diameter", "low_si": 0.0004, "high_si": 0.0004}, {"key": "operation.rotation_speed", "low_si": 1100, "high_si": 1300}])");
  CHECK(both.find("vessel.orifice_diameter = 0.3 mm (trials: 0.4 mm)") != std::string::npos);
  CHECK(both.find("operation.rotation_speed") != std::string::npos);
  for (const char* bad :
       {"{}", "[7]", R"([{"key": "no.such", "low_si": 0, "high_si": 1}])",
        R"([{"key": "vessel.height", "low_si": 2, "high_si": 1}])", R"([{"key": "vessel.height", "low_si": 2}])"}) {
    INFO(bad);
    CHECK_THROWS_AS(io::read_calibration_text(head + bad + "}", "c.json"), InputError);
  }
}

TEST_CASE("tables of trials as spreadsheets of other countries export them", "[io][trials]") {
  const auto means = [](const std::string& text) {
    std::vector<double> out;
    for (const auto& row : io::read_trial_text(text, "t.csv", "").rows) out.push_back(row.mean_m);
    return out;
  };
  const std::vector<double> plain = means("label,rotation_speed_rpm,diameter_mean_um\na,6000,9.125\nb,9000,6.5\n");
  CHECK(means("sep=;\r\nlabel;rotation_speed_rpm;diameter_mean_um\r\na;6000;9,125\r\nb;9000;6,5\r\n") == plain);
  CHECK(means("label;rotation_speed_rpm;diameter_mean_um\r\"a\";6000;9,125\rb;9000;6,5\r") == plain);
  CHECK(means("label;rotation_speed_rpm;diameter_mean_um\n\"a, one;two\";6000;9.125\nb;9000;6.5\n") == plain);
  // may part thousands: refused
  CHECK_THROWS_AS(means("rotation_speed_rpm;diameter_mean_nm\n6000;850\n9000;1,250\n"), InputError);
}

TEST_CASE("trials: spread and number of the fibres as laboratories head them, which are no settings", "[io][trials]") {
  for (const char* words : {"SD (nm);n", "Std. dev. (nm);N", "St dev (nm);n fibres", "sd_nm;Number of fibres",
                            "Standard deviation (nm);count"}) {
    CAPTURE(words);
    const io::TrialData d = io::read_trial_text(std::string("Speed (rpm);Mean diameter (nm);") + words +
                                                    "\n6000;1840;420;80\n9000;;;\n",
                                                "t.csv");
    CHECK(d.covariates.empty());
    CHECK_THAT(d.rows.at(0).sd_m, WithinRel(4.2e-7, 1e-12));
    CHECK(d.rows.at(0).count == 80.0);
    CHECK(d.rows.at(1).sd_m == 0.0);
  }
  CHECK_THROWS_AS(io::read_trial_text("Speed (rpm);Mean diameter (nm);SD\n6000;1840;420\n", "t.csv"), InputError);
}
