// The light answer of `estimate`: nothing of what it keeps is another number.
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>

#include "app/shown.hpp"
#include "catch.hpp"

using process::Folder;
using process::show;
using process::Shown;
using Json = nlohmann::ordered_json;

namespace {

const std::string kCases = WHORL_SOURCE_DIR "/cases/";

Json estimate(const Folder& folder, const std::string& name, const std::vector<std::string>& settings, bool light) {
  std::vector<std::string> words{"estimate", name + ".json", "--json"};
  if (light) words.emplace_back("--without-variants");
  for (const std::string& setting : settings) words.insert(words.end(), {"--set", setting});
  const Shown shown = show(folder, words);
  INFO(shown.err);
  REQUIRE(shown.exit == 0);
  Json json = Json::parse(shown.out);
  // of lines that the light answer does not follow
  Json& warnings = json["warnings"];
  for (std::size_t i = warnings.size(); i-- > 0;)
    if (warnings[i]["code"] == "run-point-not-converged") warnings.erase(i);
  return json;
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

TEST_CASE("--full and --without-variants contradict each other") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "c.json");
  const Shown shown = show(folder, {"estimate", "c.json", "--full", "--without-variants"});
  CHECK(shown.exit == 2);
  CHECK(shown.err.find("--without-variants") != std::string::npos);
}
