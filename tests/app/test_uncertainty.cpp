// `--uncertainty` of estimate and sweep.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <regex>

#include "app/commands.hpp"
#include "answer/estimate_statement.hpp"
#include "whorl/study/loaded_case.hpp"
#include "app/folder.hpp"
#include "run/parallel.hpp"
#include "app/sweep.hpp"
#include "whorl/study/uncertainty.hpp"
#include "catch.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using testing::Folder;
using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

namespace {

constexpr const char* kCase = R"({"whorl_case": 1,
  "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "280 kg/mol ± 5 %", "concentration": "24 % w/v of solvent ± 2 % of value"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm ± 4 um", "orifice_count": 18},
  "operation": {"rotation_speed": "9000 rpm ± 50 rpm", "gas_overpressure": "0.1 MPa ± 5 %", "charge_volume": "3 mL", "collection_distance": "170 mm"},
  "model": {"tier": "inertial", "drying": "lumped"},
  "sweep": {"vary": {"operation.rotation_speed": {"from": "8000 rpm", "to": "11000 rpm", "points": 4}}}})";

std::string read(const std::string& path) {
  std::ifstream input(path, std::ios::binary);
  std::ostringstream text;
  text << input.rdbuf();
  return text.str();
}

app::SweepCommand sweep_command(const Folder& folder, const std::string& output, const std::string& samples = "16") {
  app::SweepCommand command;
  command.case_file = folder / "case.json";
  command.arguments.output = folder / output;
  command.arguments.quiet = true;
  command.arguments.uncertainty.samples = samples;
  return command;
}

constexpr std::array kClassColumns{"share_no_jet", "share_dripping",    "share_stalled",   "share_drops",
                                   "share_beaded", "share_wet_landing", "share_continuous"};

int sweep_to_end(const app::SweepCommand& command) {
  std::ostringstream out, err;
  return app::run_sweep_command(command, {out, err});
}

}  // namespace

TEST_CASE("a share is never told to be without error", "[eq:replicate-share]") {
  const auto told = [](std::size_t count, std::size_t total) {
    std::vector<bool> marked(total);
    std::fill_n(marked.begin(), count, true);
    return study::share_text(engine::share_of(marked, 8));
  };
  // Wilson at 95 %: none or all of n leaves 3.8415/(n + 3.8415) open: 0.1936 of 16, 0.0148 of 256, 0.0037 of 1024
  CHECK(told(16, 16) == "over 80 %");
  CHECK(told(0, 16) == "under 20 %");
  CHECK(told(256, 256) == "over 98 %");
  CHECK(told(0, 1024) == "under 0.4 %");
  CHECK(told(1024, 1024) == "over 99.6 %");
  CHECK(told(8, 16).find("50 ± ") == 0);
}

TEST_CASE("estimate --uncertainty: same numbers from any number of threads, kinds apart, nothing dropped") {
  const Folder folder;
  std::ofstream(folder / "case.json") << kCase;
  Json without_gas = Json::parse(kCase);
  without_gas["model"]["splitting"] = "off";
  without_gas["model"]["gas_breakthrough"] = "off";
  std::ofstream(folder / "without-gas.json") << without_gas.dump();
  const auto json_with = [&](int threads, const char* samples, const char* name = "case.json") {
    app::EstimateArguments arguments;
    arguments.case_file = folder / name;
    arguments.json = true;
    arguments.uncertainty = {std::string(samples), 1, threads};
    std::ostringstream out, err;
    REQUIRE(app::run_estimate(arguments, {out, err}) == 0);
    return Json::parse(out.str());
  };
  const Json one = json_with(1, "128");
  CHECK(one == json_with(3, "128"));
  const Json& u = one["uncertainty"];
  CHECK(u["replicates"] == 8);
  CHECK(u["points_per_replicate"] == 16);
  std::map<std::string, int> kinds;
  for (const auto& input : u["inputs"]) ++kinds[input["kind"].get<std::string>()];
  CHECK(kinds["measurement"] == 5);
  CHECK(kinds["model-form"] == 8);
  CHECK(kinds["property"] >= 14);
  for (const char* set : {"all", "measurement_and_property", "model_form"}) {
    INFO(set);
    CHECK(u[set]["samples"] == 128);
    double sum = u[set]["not_converged"].get<double>() / 128.0;
    for (const auto& [name, share] : u[set]["classes"].items()) {
      sum += share["share"].get<double>();
      CHECK(share["error"] > 0.0);
      CHECK(share["low"] <= share["share"]);
      CHECK(share["low"] < share["high"]);
      CHECK(share["share"] <= share["high"]);
    }
    CHECK(sum == Approx(1.0));
    const auto& band = u[set]["bands"]["dry_diameter_um"];
    CHECK(band["p05"] < band["median"]);
    CHECK(band["median"] < band["p95"]);
    CHECK(band["median_error"] > 0.0);
  }
  // The flow of liquid alone does not know of the air: without measurements and properties it has no band at all.
  const Json liquid = json_with(0, "128", "without-gas.json");
  const Json& v = liquid["uncertainty"];
  const auto& full = v["model_form"]["bands"]["orifice_flow_mL_min"];
  CHECK(full["p05"] == full["p95"]);
  CHECK(full["median"].get<double>() == Approx(liquid["results"]["orifice_flow_mL_min"].get<double>()).epsilon(1e-12));
  CHECK(v["measurement_and_property"]["bands"]["orifice_flow_mL_min"] == v["all"]["bands"]["orifice_flow_mL_min"]);
  // Of the relations it knows only the layer at which gas takes its part, which never lets more liquid through.
  const auto& flow = u["model_form"]["bands"]["orifice_flow_mL_min"];
  CHECK(flow["p05"] < full["p05"]);
  CHECK(flow["p95"].get<double>() <= full["p95"].get<double>() * (1.0 + 1e-12));
  // another seed is another sample, near the first
  app::EstimateArguments other;
  other.case_file = folder / "case.json";
  other.json = true;
  other.uncertainty = {std::string("128"), 2, 0};
  std::ostringstream out, err;
  REQUIRE(app::run_estimate(other, {out, err}) == 0);
  const auto second = Json::parse(out.str())["uncertainty"]["all"]["bands"]["dry_diameter_um"];
  const auto& first = u["all"]["bands"]["dry_diameter_um"];
  CHECK(second["median"] != first["median"]);
  // five joint standard errors: errors known to a quarter each
  CHECK(std::abs(second["median"].get<double>() - first["median"].get<double>()) <
        5.0 * std::hypot(second["median_error"].get<double>(), first["median_error"].get<double>()));
}

TEST_CASE("the page states bands with their errors") {
  const Folder folder;
  std::ofstream(folder / "case.json") << kCase;
  app::EstimateArguments arguments;
  arguments.case_file = folder / "case.json";
  arguments.uncertainty.samples = "64";
  std::ostringstream out, err;
  REQUIRE(app::run_estimate(arguments, {out, err}) == 0);
  const std::string page = std::regex_replace(out.str(), std::regex("\\s+"), " ");  // as it reads, wherever lines are folded
  for (const char* part : {"HOW FAR IT CAN BE TRUSTED", "64 of each kind, in 8 scrambled Sobol sets; 5 measured values", "dry diameter [um]",
                           "all doubts", "measured, library", "relations only", " ± ", "not in it"})
    CHECK(page.find(part) != std::string::npos);
  const auto begin = page.find("HOW FAR");
  const std::string paragraph = page.substr(begin, page.find("HOW IT WAS") - begin);
  CHECK(paragraph.find("e+") == std::string::npos);
}

TEST_CASE("sweep --uncertainty: columns described, shares and resume give the bytes of one run") {
  const Folder folder;
  std::ofstream(folder / "case.json") << kCase;
  REQUIRE(sweep_to_end(sweep_command(folder, "whole.csv")) == 0);
  const std::string whole = read(folder / "whole.csv");
  const auto metadata = Json::parse(read(folder / "whole.csv-metadata.json"));
  std::istringstream lines(whole);
  std::vector<std::string> header, row;
  REQUIRE(io::read_csv_record(lines, header, "whole.csv"));
  REQUIRE(io::read_csv_record(lines, row, "whole.csv"));
  REQUIRE(row.size() == header.size());
  const auto& columns = metadata["tableSchema"]["columns"];
  REQUIRE(columns.size() == header.size());
  for (std::size_t i = 0; i < header.size(); ++i) CHECK(columns[i]["name"] == header[i]);
  const auto cell = [&](const std::string& name) {
    const auto found = std::find(header.begin(), header.end(), name);
    REQUIRE(found != header.end());
    return row[static_cast<std::size_t>(found - header.begin())];
  };
  CHECK(std::stod(cell("dry_diameter_um_p05")) < std::stod(cell("dry_diameter_um_median")));
  CHECK(std::stod(cell("dry_diameter_um_median")) < std::stod(cell("dry_diameter_um_p95")));
  double sum = std::stod(cell("share_no_result"));
  for (const char* name : kClassColumns) sum += std::stod(cell(name));
  CHECK(sum == Approx(1.0));

  // shares
  for (const char* part : {"1/2", "2/2"}) {
    auto share = sweep_command(folder, std::string("part") + part[0] + ".csv");
    share.arguments.part = part;
    share.arguments.threads = part[0] - '0';
    REQUIRE(sweep_to_end(share) == 0);
  }
  std::ostringstream out, err;
  REQUIRE(app::run_merge({{folder / "part2.csv", folder / "part1.csv"}, folder / "merged.csv", false, false, true}, {out, err}) == 0);
  CHECK(read(folder / "merged.csv") == whole);

  // resume a torn file
  std::ofstream(folder / "torn.csv") << whole.substr(0, 2 * whole.size() / 3);
  std::ofstream(folder / "torn.csv-metadata.json") << read(folder / "whole.csv-metadata.json");
  auto again = sweep_command(folder, "torn.csv");
  again.arguments.resume = true;
  REQUIRE(sweep_to_end(again) == 0);
  CHECK(read(folder / "torn.csv") == whole);
  // other samples are another sweep
  auto other = sweep_command(folder, "torn.csv", "32");
  other.arguments.resume = true;
  CHECK_THROWS_AS(sweep_to_end(other), InputError);
  other = sweep_command(folder, "torn.csv");
  other.arguments.resume = true;
  other.arguments.uncertainty.samples.reset();
  CHECK_THROWS_AS(sweep_to_end(other), InputError);
}

TEST_CASE("estimate --uncertainty with tension: two levels, said so; the same from any number of threads; plain if asked for") {
  const Folder folder;
  Json content = Json::parse(kCase);
  content["model"] = {{"tier", "tension"}, {"drying", "lumped"}};
  std::ofstream(folder / "case.json") << content.dump();
  const auto answer = [&](int threads, bool all_in_full, bool json) {
    app::EstimateArguments arguments;
    arguments.case_file = folder / "case.json";
    arguments.json = json;
    arguments.uncertainty = {std::string("32"), 1, threads, all_in_full};
    std::ostringstream out, err;
    REQUIRE(app::run_estimate(arguments, {out, err}) == 0);
    return out.str();
  };
  const std::string one = answer(1, false, true);
  CHECK(one == answer(3, false, true));
  const Json two = Json::parse(one)["uncertainty"];
  CHECK(two["runs_in_full"] == 3 * 8);
  CHECK(two["runs_without_tension"] == 3 * 32);
  CHECK(two["how_run"].get<std::string>().find("without tension") != std::string::npos);
  const Json plain = Json::parse(answer(0, true, true))["uncertainty"];
  CHECK(plain["runs_in_full"] == 3 * 32);
  CHECK(plain["runs_without_tension"] == 0);
  for (const char* set : {"all", "measurement_and_property", "model_form"}) {
    INFO(set);
    CHECK(two[set]["samples"] == 32);
    CHECK(two[set]["in_full"] == 8);
    CHECK(plain[set]["in_full"] == 32);
    double sum = two[set]["no_result"].is_null() ? 0.0 : two[set]["no_result"]["share"].get<double>();
    for (const auto& [name, share] : two[set]["classes"].items()) sum += share["share"].get<double>();
    CHECK(sum == Approx(1.0));
    // flow does not know of the tension: all 32 samples, the same numbers as plain
    CHECK(two[set]["bands"]["orifice_flow_mL_min"]["p95"] == plain[set]["bands"]["orifice_flow_mL_min"]["p95"]);
    const auto& a = two[set]["bands"]["dry_diameter_um"];
    const auto& b = plain[set]["bands"]["dry_diameter_um"];
    CHECK(a["in_full"] == 8);
    CHECK(std::abs(a["median"].get<double>() - b["median"].get<double>()) <
          3.0 * std::hypot(a["median_error"].get<double>(), b["median_error"].get<double>()));
  }
  // a result that exists under tension alone rests on the samples in full
  CHECK(two["all"]["bands"]["collector_hold"]["samples"] <= 8);
  CHECK(answer(0, false, false).find("of those in full") != std::string::npos);
}

TEST_CASE("--all-in-full without samples is refused, by estimate and by sweep") {
  const Folder folder;
  std::ofstream(folder / "case.json") << kCase;
  app::EstimateArguments arguments;
  arguments.case_file = folder / "case.json";
  arguments.uncertainty.all_in_full = true;
  std::ostringstream out, err;
  CHECK_THROWS_AS(app::run_estimate(arguments, {out, err}), InputError);
  auto command = sweep_command(folder, "sweep.csv");
  command.arguments.uncertainty.samples.reset();
  command.arguments.uncertainty.all_in_full = true;
  CHECK_THROWS_AS(sweep_to_end(command), InputError);
  CHECK_FALSE(fs::exists(folder / "sweep.csv"));
}

TEST_CASE("sweep --uncertainty with tension: two levels, and --all-in-full is another sweep") {
  const Folder folder;
  Json content = Json::parse(kCase);
  content["model"] = {{"tier", "tension"}, {"drying", "lumped"}};
  content["sweep"]["vary"]["operation.rotation_speed"]["points"] = 2;
  std::ofstream(folder / "case.json") << content.dump();
  const auto two = sweep_command(folder, "two.csv", "32");
  REQUIRE(sweep_to_end(two) == 0);
  const std::string metadata = read(folder / "two.csv-metadata.json");
  CHECK(metadata.find("with tension 1 of the 4 points of each set in full") != std::string::npos);
  std::istringstream lines(read(folder / "two.csv"));
  std::vector<std::string> header, row;
  REQUIRE(io::read_csv_record(lines, header, "two.csv"));
  REQUIRE(io::read_csv_record(lines, row, "two.csv"));
  double sum = 0.0;
  for (std::size_t i = 0; i < header.size(); ++i)
    if (header[i] == "share_no_result" || std::find(kClassColumns.begin(), kClassColumns.end(), header[i]) != kClassColumns.end())
      sum += std::stod(row[i]);
  CHECK(sum == Approx(1.0));
  auto other = two;
  other.arguments.resume = true;
  other.arguments.uncertainty.all_in_full = true;
  CHECK_THROWS_AS(sweep_to_end(other), InputError);
}

TEST_CASE("numbers of samples") {
  CHECK(study::sample_plan("", 1).size() == 256);
  CHECK(study::sample_plan("100", 1).size() == 128);
  CHECK(study::sample_plan("100", 1, true).all_in_full);
  CHECK(study::sample_plan("1000", 1).size() == 1024);
  for (const char* text : {"0", "15", "-3", "1e3", "many", "1000001", "99999999999999999999"})
    CHECK_THROWS_AS(study::sample_plan(text, 1), InputError);
}
