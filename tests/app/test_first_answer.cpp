// The first answer at settings that nobody chose for it: twelve lines, and what is unusual is said.
#include <algorithm>
#include <filesystem>
#include <regex>
#include <set>
#include <sstream>

#include "app/shown.hpp"
#include "catch.hpp"

using process::Folder;
using process::show;
using process::Shown;

namespace {

const std::string kCases = WHORL_SOURCE_DIR "/cases/";
using Words = std::vector<std::string>;

bool has(const std::string& text, const std::string& part) {
  INFO(text.substr(0, 2000));
  return text.find(part) != std::string::npos;
}

const Words kSettings{"rotation_speed=3000 rpm",         "rotation_speed=25000 rpm",      "gas_overpressure=0 MPa",
                      "gas_overpressure=0.0001 MPa",     "gas_overpressure=0.55 MPa",     "pressure_rise_time=5 min",
                      "spin_up_time=100 s",              "charge_volume=0.05 mL",         "concentration=3 %",
                      "concentration=30 %",              "molar_mass=12 kg/mol",          "molar_mass=300 kg/mol",
                      "relaxation_time=3 s",             "zero_shear_viscosity=20 mPa s", "zero_shear_viscosity=90 Pa s",
                      "collection_distance=1.5 m",       "collection_distance=6 mm",      "relative_humidity=94 %",
                      "gas_supply=2 L/min",              "feed_rate=3 mL/min",            "orifice_diameter=0.05 mm",
                      "orifice_diameter=2 mm",           "orifice_count=1000",            "room.temperature=-9 degC"};

}  // namespace

TEST_CASE("the first answer is of twelve lines at the most, at settings of every kind; --full leaves nothing out") {
  const Folder folder;
  for (const std::string name : {"pcl-chloroform", "pvp-ethanol-measured", "thin-jet-stalled"}) {
    std::filesystem::copy_file(kCases + name + ".json", folder / (name + ".json"));
    for (const std::string& setting : kSettings) {
      INFO(name << ' ' << setting);
      const Words words{"estimate", name + ".json", "--set", setting, "--set", "model.tier=inertial", "--set", "model.drying=lumped"};
      const Shown answer = show(folder, words);
      INFO(answer.out);
      CHECK((answer.exit == 0 || answer.exit == 1));
      CHECK(std::count(answer.out.begin(), answer.out.end(), '\n') <= 12);
      CHECK(has(answer.out, "CASE "));
      CHECK(has(answer.out, "CAUTION "));
    }
  }
  const Shown full = show(folder, {"estimate", "pcl-chloroform.json", "--set", "pressure_rise_time=5 min", "--full"});
  CHECK(has(full.out, "PUBLISHED "));
}

TEST_CASE("--full gives the result, then the warnings, why, and the doubts") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  const Shown full = show(folder, {"estimate", "a.json", "--full", "--uncertainty", "16", "--set", "model.tier=inertial", "--set", "model.drying=lumped"});
  std::size_t before = 0;
  for (const std::string part : {"\nCAUTION", "\nRESULT\n", "\nWARNINGS\n", "\nHOW IT WAS DECIDED\n", "\nIF THE AIR IS NOT AS ASSUMED", "\nHOW FAR IT CAN BE TRUSTED", "\nWHAT IT RESTS ON"}) {
    INFO(part);
    const std::size_t at = full.out.find(part);
    REQUIRE(at != std::string::npos);
    CHECK(at > before);
    before = at;
  }
}

TEST_CASE("every form of an estimate has the sentences of --full, and no row is lost where gas breaks through") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  const Words quick{"estimate", "a.json", "--set", "model.tier=inertial", "--set", "model.drying=lumped"};
  const auto with = [&](Words words, const Words& more) {
    words.insert(words.end(), more.begin(), more.end());
    return show(folder, words).out;
  };
  const std::string full = std::regex_replace(with(quick, {"--full"}), std::regex("\\s+"), " ");
  std::set<std::string> labels;
  std::istringstream lines(with(quick, {"--format", "markdown"}));
  for (std::string line; std::getline(lines, line) && line != "## Results";) {
    std::smatch row;
    if (!std::regex_match(line, row, std::regex("\\| ([a-z9][^|]*) \\| ([^|]*) \\|")) || row[1] == "about") continue;
    labels.insert(row[1]);
    const std::string text = std::regex_replace(row[2].str(), std::regex("\\\\(.)|\\s+"), "$1");
    INFO(row[1] << ": " << text);
    CHECK(std::regex_replace(full, std::regex(" "), "").find(text) != std::string::npos);
  }
  for (const std::string label : {"class", "torn threads", "their flight", "their tearing", "one line", "over the run", "line as landed", "throughput", "run",
                                  "90 % of it", "from rest", "two populations", "dry (5 wt%) after", "pressure at orifice", "spent on", "orifice", "liquid layer",
                                  "jet", "speed at the end", "temperature", "tension", "assumed", "from a layer of", "gas leaves", "half of that gone", "gas over the liquid"}) {
    INFO(label);
    CHECK(labels.contains(label));
  }
}

TEST_CASE("a value far from what is in use is said by every command on standard error, once, with the slip that is likely") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-trials.csv", folder / "trials.csv");
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-diameters.csv", folder / "list.csv");
  const Words quick{"--set", "model.tier=inertial", "--set", "model.drying=lumped"};
  const auto said = [&](Words words, const Words& more) {
    words.insert(words.end(), more.begin(), more.end());
    words.insert(words.end(), quick.begin(), quick.end());
    const std::string err = show(folder, words).err;
    INFO(err);
    const std::string what = "\"0.1 MPa\" meant?";
    const std::size_t first = err.find(what);
    return first != std::string::npos && err.find(what, first + 1) == std::string::npos;
  };
  const Words slip{"--set", "gas_overpressure=0.1 mPa"};
  CHECK(said({"estimate", "a.json"}, slip));
  CHECK(said({"recipe", "a.json"}, slip));
  CHECK(said({"explain", "a.json", "--between", "rotation_speed=8000 rpm, 9000 rpm"}, slip));
  CHECK(said({"report", "a.json", "--no-map", "-o", "a.html"}, slip));
  CHECK(said({"figure", "a.json", "--kind", "path", "-o", "a.svg"}, slip));
  CHECK(said({"diameters", "list.csv", "--case", "a.json"}, slip));
  CHECK(said({"calibrate", "a.json", "trials.csv"}, slip));
  CHECK(said({"sweep", "a.json", "--vary", "rotation_speed=8000 rpm, 9000 rpm"}, slip));
  CHECK(said({"sweep", "a.json", "--vary", "gas_overpressure=0.1 mPa, 0.1 MPa"}, {}));
  CHECK(said({"window", "a.json", "--diameter", "3 um..5 um", "--over", "gas_overpressure=0.1 mPa..0.1 MPa", "--over", "rotation_speed=8000 rpm..9000 rpm"}, {}));
  CHECK(has(show(folder, {"window", "a.json", "--diameter", "3 nm..5 nm"}).err, "was it meant in um?"));
  // nothing is said of what is usual
  CHECK(show(folder, {"estimate", "a.json"}).err.empty());
}
