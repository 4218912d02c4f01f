// The light answer of `estimate`: nothing of what it keeps is another number.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "app/shown.hpp"
#include "catch.hpp"

using process::Folder;
using process::show;
using process::Shown;
using Json = nlohmann::ordered_json;

namespace {

const std::string kCases = WHORL_SOURCE_DIR "/cases/";

// Without warnings of lines that the light answer does not follow.
Json answer(const Folder& folder, const std::vector<std::string>& words) {
  const Shown shown = show(folder, words);
  INFO(shown.err);
  REQUIRE(shown.exit == 0);
  Json json = Json::parse(shown.out);
  Json& warnings = json["warnings"];
  for (std::size_t i = warnings.size(); i-- > 0;)
    if (warnings[i]["code"] == "run-point-not-converged") warnings.erase(i);
  return json;
}

Json estimate(const Folder& folder, const std::string& name, const std::vector<std::string>& settings, bool light) {
  std::vector<std::string> words{"estimate", name + ".json", "--json"};
  if (light) words.emplace_back("--without-variants");
  for (const std::string& setting : settings) words.insert(words.end(), {"--set", setting});
  return answer(folder, words);
}

// Paths at which the light answer differs; "-" in front where it has nothing.
std::vector<std::string> changes(const Json& whole, const Json& light) {
  std::vector<std::string> out;
  for (const Json& change : Json::diff(whole, light)) {
    const std::string path = change["path"];
    out.push_back((change["op"] == "remove" ? "-" : "") + path);
  }
  return out;
}

bool is_variant(const std::string& path) {
  static const std::regex variants(
      "-/air_variants/[0-9]+|-/gas/variants/[0-9]+|-/gas/run_(mean|time)_with(out)?_(um|s)|"
      "-/results/line_run_mean_um|-/run/[0-9]+/line_(speed_m_s|diameter_um)|/options.*");
  return std::regex_match(path, variants);
}

}  // namespace

TEST_CASE("without variants the answer is the same to the last digit, and only variants are left out") {
  const Folder folder;
  std::size_t compared = 0;
  std::size_t left_out = 0;
  for (const auto& entry : std::filesystem::directory_iterator(kCases)) {
    if (entry.path().extension() != ".json") continue;
    const std::string name = entry.path().stem().string();
    std::filesystem::copy_file(entry.path(), folder / (name + ".json"));
    for (const std::string pressure : {"0.01 MPa", "0.1 MPa"}) {
      const std::vector<std::string> settings{"model.tier=inertial", "rotation_speed=12000 rpm",
                                              "gas_overpressure=" + pressure};
      const Json whole = estimate(folder, name, settings, false);
      const Json light = estimate(folder, name, settings, true);
      for (const std::string& path : changes(whole, light)) {
        INFO(name << ", " << pressure << ": " << path);
        CHECK(is_variant(path));
        ++left_out;
      }
      if (!whole.value("air_variants", Json::array()).empty()) ++compared;
      CHECK(light.value("air_variants", Json::array()).empty());
    }
  }
  CHECK(compared >= 14);
  CHECK(left_out > 100);
}

TEST_CASE("without variants under tension, with threads and where they are hardly finer than the line") {
  const Folder folder;
  for (const std::string name : {"pcl-chloroform", "pmma-acetone-humid"}) {
    std::filesystem::copy_file(kCases + name + ".json", folder / (name + ".json"));
    for (const std::string pressure : {"0.01 MPa", "0.1 MPa"}) {
      const std::vector<std::string> settings{"rotation_speed=4000 rpm", "gas_overpressure=" + pressure};
      for (const std::string& path :
           changes(estimate(folder, name, settings, false), estimate(folder, name, settings, true))) {
        INFO(name << ", " << pressure << ": " << path);
        CHECK(is_variant(path));
      }
    }
  }
}

TEST_CASE("without the run, too, the two answers and all said of them are the same; with trials the run stays") {
  const Folder folder;
  for (const std::string name : {"pcl-chloroform", "thin-jet-stalled", "slow-dripping"})
    std::filesystem::copy_file(kCases + name + ".json", folder / (name + ".json"));
  std::filesystem::copy_file(kCases + "measured/pcl-five-trials.csv", folder / "trials.csv");
  REQUIRE(show(folder, {"calibrate", "pcl-chloroform.json", "trials.csv", "-o", "law.json"}).exit == 0);
  static const std::regex of_run(
      "-/results/(run_diameter_(mean|sd|min|max)|single_fibre_(low|high)|(line|thread)_population_mean)_um|"
      "-/results/line_(length|mass)_share|"
      "-/run/[0-9]+/(dry_diameter_um|fibre_length_share|torn|thread_diameter_um)");
  const auto of = [&](const std::string& name, const std::string& tier, bool without, bool trials) {
    std::vector<std::string> words{"estimate", name + ".json",        "--json", "--without-variants",
                                   "--set",    "model.tier=" + tier};
    if (without) words.emplace_back("--without-run");
    if (trials) words.insert(words.end(), {"--calibration", "law.json"});
    return answer(folder, words);
  };
  std::size_t left_out = 0;
  for (const std::string name : {"pcl-chloroform", "thin-jet-stalled", "slow-dripping"}) {
    for (const std::string tier : {"inertial", "tension"}) {
      for (const std::string& path : changes(of(name, tier, false, false), of(name, tier, true, false))) {
        INFO(name << ", " << tier << ": " << path);
        CHECK((is_variant(path) || std::regex_match(path, of_run)));
        ++left_out;
      }
    }
  }
  CHECK(left_out > 50);
  for (const std::string& path :
       changes(of("pcl-chloroform", "inertial", false, true), of("pcl-chloroform", "inertial", true, true)))
    CHECK(path.rfind("/options", 0) == 0);
  CHECK(show(folder, {"estimate", "pcl-chloroform.json", "--json", "--without-run"}).exit == 2);
}

TEST_CASE("--full and --without-variants contradict each other") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "c.json");
  const Shown shown = show(folder, {"estimate", "c.json", "--full", "--without-variants"});
  CHECK(shown.exit == 2);
  CHECK(shown.err.find("--without-variants") != std::string::npos);
}

TEST_CASE("columns of a profile: those that are named, in that order, with the same text") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "peo-water-training.json", folder / "case.json");
  const auto written = [&](const std::vector<std::string>& more) {
    std::vector<std::string> words{"estimate", "case.json", "--force", "--profile", "jet.csv"};
    words.insert(words.end(), more.begin(), more.end());
    const Shown shown = show(folder, words);
    INFO(shown.err);
    REQUIRE(shown.exit == 0);
    std::ifstream file(folder / "jet.csv");
    std::vector<std::vector<std::string>> rows;
    for (std::string line; std::getline(file, line);) {
      std::vector<std::string>& row = rows.emplace_back();
      std::istringstream cells(line);
      for (std::string cell; std::getline(cells, cell, ',');) row.push_back(cell);
    }
    return rows;
  };
  const auto all = written({});
  const auto some = written({"--profile-columns", "diameter_um, x_mm"});
  REQUIRE(all.size() == some.size());
  REQUIRE(all.size() > 10);
  const auto column = [&](const std::string& name) {
    return static_cast<std::size_t>(std::find(all[0].begin(), all[0].end(), name) - all[0].begin());
  };
  const std::size_t diameter = column("diameter_um");
  const std::size_t x = column("x_mm");
  for (std::size_t i = 0; i < all.size(); ++i)
    CHECK(some[i] == std::vector<std::string>{all[i].at(diameter), all[i].at(x)});
  for (const char* wrong : {"x_mm,y_m", "x_mm,x_mm", "x_mm,"}) {
    const Shown shown = show(folder, {"estimate", "case.json", "--force", "--profile", "jet.csv", "--profile-columns", wrong});
    INFO(wrong);
    CHECK(shown.exit == 2);
    CHECK(shown.err.find("--profile-columns") != std::string::npos);
    CHECK(shown.err.find("solvent_mass_fraction") != std::string::npos);
    const bool twice = std::string_view(wrong) == "x_mm,x_mm";
    CHECK(shown.err.find(twice ? "column \"x_mm\" is asked for twice" : "no column is called \"") != std::string::npos);
    CHECK((shown.err.find("at most once") != std::string::npos) == twice);
  }
  CHECK(show(folder, {"estimate", "case.json", "--profile-columns", "x_mm"}).exit == 2);
}
