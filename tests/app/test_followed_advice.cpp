// A first user's pages: advice that is followed, chances that add up, numbers beside their units, nothing that means
// nothing where it stands.
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>

#include "answer/estimate_statement.hpp"
#include "app/shown.hpp"
#include "catch.hpp"
#include "whorl/io/prose.hpp"

using Json = nlohmann::ordered_json;
using process::Folder;
using process::show;

namespace {

Json bench(const std::string& polymer, const std::string& solvent, const std::string& molar_mass,
           const std::string& concentration) {
  Json file = Json::parse(R"({"whorl_case": 1, "purpose": "a first user",
    "vessel": {"bore_diameter": "60 mm", "height": "20 mm", "wall_thickness": "1 mm", "orifice_diameter": "0.3 mm", "orifice_count": 20},
    "operation": {"rotation_speed": "10000 rpm", "gas_overpressure": "0 MPa", "charge_volume": "5 mL", "collection_distance": "120 mm"},
    "room": {"temperature": "22 degC", "relative_humidity": "45 %"}})");
  file["solution"] = {{"polymer", polymer}, {"solvent", solvent}, {"molar_mass", molar_mass}, {"concentration", concentration}};
  return file;
}

Json peo() {
  Json file = bench("PEO", "water", "200 kg/mol", "15 wt%");
  file["vessel"]["orifice_diameter"] = "0.4 mm";
  file["operation"]["rotation_speed"] = "6000 rpm";
  file["room"]["relative_humidity"] = "50 %";
  return file;
}

Json fast_fine() {
  Json file = bench("PS", "tetrahydrofuran", "280 kg/mol", "15 wt%");
  file["vessel"]["bore_diameter"] = "30 mm";
  file["vessel"]["orifice_diameter"] = "0.15 mm";
  file["vessel"]["orifice_count"] = 8;
  file["operation"]["rotation_speed"] = "36000 rpm";
  file["operation"]["charge_volume"] = "3 mL";
  file["operation"]["collection_distance"] = "100 mm";
  return file;
}

std::string page(const Folder& folder, const Json& file, std::vector<std::string> words) {
  std::ofstream(folder / "case.json") << file.dump();
  words.insert(words.begin() + 1, "case.json");
  const process::Shown shown = show(folder, words);
  return shown.out + shown.err;
}
std::string joined(const std::string& text) { return std::regex_replace(text, std::regex("\\s+"), " "); }
bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("followed: a line that floats is told what makes it land, and it does") {
  const Folder folder;
  int followed = 0;
  for (const Json& file : {peo(), fast_fine()}) {
    const std::string now = joined(page(folder, file, {"estimate"}));
    INFO(now);
    REQUIRE(has(now, "NEXT the line floats "));
    CHECK_FALSE(has(now, "turn faster"));  // at 40,000 rpm, the most that a case may ask for, it still floats
    const std::string next = now.substr(now.find("NEXT "));
    const std::regex way(R"((with the collector at|or at|it lands at) ([0-9]+) (mm|rpm) \(now )");
    for (std::sregex_iterator it(next.begin(), next.end(), way), end; it != end; ++it, ++followed) {
      const std::string key = (*it)[3] == "mm" ? "collection_distance=" : "rotation_speed=";
      const std::string there =
          joined(page(folder, file, {"estimate", "--set", key + (*it)[2].str() + " " + (*it)[3].str()}));
      INFO(there);
      CHECK_FALSE(has(there, "does not land"));
      CHECK_FALSE(has(there, "SEEN nothing lands"));
    }
  }
  CHECK(followed >= 2);
}

TEST_CASE("followed: a line that floats before it is set has no diameter, and the first line says why") {
  const Folder folder;
  const std::string now = joined(page(folder, peo(), {"estimate"}));
  INFO(now);
  CHECK(has(now, "DIAMETER no fibre: it floats, not set, and does not land; unsplit line"));
  // the report's headline has the reason, too, not only how the liquid left
  std::ofstream(folder / "case.json") << peo().dump();
  (void)show(folder, {"report", "case.json", "-o", "r.html", "--no-map"});
  const std::string html = process::read(folder / "r.html");
  const std::string opening = html.substr(html.find("No fibre at this setting"), 600);
  CHECK(has(opening, "does not reach the collector"));
  // options of a command line mean nothing on a page
  CHECK(has(html, "In full below"));
  CHECK_FALSE(has(html, "All of it: --full"));
  CHECK_FALSE(has(html, "see --cautions"));
}

TEST_CASE("followed: the chances of what is seen add up as they are printed") {
  for (const whorl::model::Outcomes& o :
       {whorl::model::Outcomes{0.417, 0.057, 0.0, 0.526, 0.0}, whorl::model::Outcomes{0.0, 0.545, 0.021, 0.434, 0.0},
        whorl::model::Outcomes{0.335, 0.333, 0.332, 0.0, 0.0}, whorl::model::Outcomes{0.98, 0.015, 0.005, 0.0, 0.0}}) {
    double sum = 0.0;
    double told = 0.0;
    for (const auto& one : whorl::answer::seen_outcomes(o)) {
      if (one.chance < 0.01) continue;
      INFO(one.words << ' ' << one.percent);
      sum += std::stod(one.percent);
      told += one.chance;
      CHECK(std::abs(std::stod(one.percent) - 100.0 * one.chance) < 1.0);
    }
    CHECK(std::abs(sum - 100.0 * told) <= 0.5 + 1e-9);
  }
}

TEST_CASE("followed: a number of the first lines stands beside its unit") {
  const Folder folder;
  Json slow = bench("PLA", "chloroform", "150 kg/mol", "12 % w/v of solution");
  slow["vessel"]["orifice_diameter"] = "1 mm";
  slow["vessel"]["orifice_count"] = 6;
  slow["operation"]["rotation_speed"] = "2000 rpm";
  slow["operation"]["gas_overpressure"] = "0.3 MPa";
  const std::string text = page(folder, slow, {"estimate"});
  INFO(text);
  CHECK_FALSE(std::regex_search(text, std::regex("[0-9]\n +(g/h|um|%|mm|rpm|MPa|s|min)[ ,;.\n]")));
}

TEST_CASE("followed: a sentence in a table goes on below its own beginning, or below its row") {
  using namespace whorl::io;
  const auto lines_of = [](std::size_t label) {
    ProseTable table{"Doubts.", {"input", "one sd", "where the doubt comes from"},
                     {{std::string(label, 'x'), "84 %", "published lines are laid at 5 to 50 % of the speed of the collector"},
                      {"short", "9 %", "a second sentence that is long enough to be folded in any column at all"}}, true};
    Prose prose{"", {table}};
    std::vector<std::string> lines;
    std::istringstream text(write_prose(prose, ProseFormat::text));
    for (std::string line; std::getline(text, line);) lines.push_back(line);
    return lines;
  };
  for (const std::size_t label : {20U, 48U, 54U}) {  // a column at 34, 62 and 68
    for (const std::string& line : lines_of(label)) {
      INFO(line);
      CHECK(line.size() <= kTextColumns);
      const std::size_t begins = line.find_first_not_of(' ');
      if (begins == std::string::npos) continue;
      CHECK((begins <= 2 || begins == 6 || begins == label + 12));
    }
  }
}

TEST_CASE("followed: a thick liquid that is fast already is not said to let waves grow by nothing") {
  const Folder folder;
  Json fed = bench("PVA", "water", "145 kg/mol", "12 wt%");
  fed["solution"]["measured"] = {{"zero_shear_viscosity", "0.1 Pa s"}, {"shear_model", "newtonian"}};
  fed["vessel"]["orifice_diameter"] = "0.2 mm";
  fed["vessel"]["orifice_count"] = 1;
  fed["operation"]["rotation_speed"] = "200 rpm";
  fed["operation"]["gas_overpressure"] = "0.02 MPa";
  fed["operation"]["feed_rate"] = "3 mL/min";
  fed["model"] = {{"tier", "inertial"}};
  const std::string full = joined(page(folder, fed, {"estimate", "--full"}));
  INFO(full);
  CHECK_FALSE(has(full, "grow by 0 e-folds"));
  CHECK(has(full, "too fast for waves to grow while rotation draws it out as a thread"));
}

TEST_CASE("followed: a size by trials stands alone, not beside what the model alone lays") {
  const Folder folder;
  Json file = bench("PCL", "chloroform", "80 kg/mol", "15 % w/v of solvent");
  file["model"] = {{"tier", "inertial"}, {"drying", "lumped"}};
  std::ofstream(folder / "trials.csv") << "rotation_speed_rpm,gas_overpressure_MPa,diameter_um\n"
                                          "8000,0,19\n10000,0,20\n12000,0,21\n";  // made up
  (void)page(folder, file, {"calibrate", "trials.csv", "-o", "rig.json"});
  const std::string own = joined(page(folder, file, {"estimate", "--full"}));
  REQUIRE(has(own, "(at the collector's speed "));
  const std::string by_trials = joined(page(folder, file, {"estimate", "--full", "--calibration", "rig.json"}));
  INFO(by_trials);
  CHECK(has(by_trials, "um (by your trials)"));
  CHECK_FALSE(has(by_trials, "(at the collector's speed "));
}

TEST_CASE("followed: a list of what is known names nothing twice") {
  const Folder folder;
  std::ofstream(folder / "own.json") << show(folder, {"materials", "PCL", "chloroform", "--record"}).out;
  Json file = bench("PBAT", "chloroform", "50 kg/mol", "15 wt%");
  file["materials"] = {"own.json"};
  const std::string refused = page(folder, file, {"check"});
  INFO(refused);
  REQUIRE(has(refused, "'PBAT' is not in the property library; allowed: "));
  const std::size_t first = refused.find(" PCL,");
  REQUIRE(first != std::string::npos);
  CHECK(refused.find(" PCL,", first + 1) == std::string::npos);
}
