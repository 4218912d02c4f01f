// The cautions name what of the case can injure, for every solvent of the library, and call nothing harmless.
#include <regex>
#include <string>

#include "catch.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/materials_file.hpp"

using namespace whorl;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + ' ';
  return text;
}

}  // namespace

TEST_CASE("cautions name vapour or spray, pressure, rotor and heat as the case has them", "[io][cautions]") {
  // Words that would play a hazard down ("no proof of safety" must pass).
  const std::regex soothing("harmless|non-?toxic|innocuous|(is|are|be) safe|safe to|no (hazard|danger|risk)",
                            std::regex::icase);
  for (const model::Solvent& solvent : io::built_in_library().solvents) {
    CAPTURE(solvent.name);
    for (const double pressure : {0.0, 1e5})
      for (const double speed : {0.0, 1000.0})
        for (const double temperature : {295.0, 350.0}) {
          CAPTURE(pressure, speed, temperature);
          model::CaseInput input;
          input.operation.gas_overpressure_Pa = pressure;
          input.operation.rotation_speed_rad_s = speed;
          input.solution.temperature_K = temperature;
          const auto lines = io::short_cautions(input, &solvent);
          REQUIRE(lines.size() == 2);
          for (const auto& line : lines) CHECK(line.size() <= 150);  // longest name and all hazards on one line of a wide window
          CHECK(has(lines[0], "can"));
          CHECK(has(lines[0], solvent.id == "water" ? "flying drops" : solvent.name + " vapour"));
          CHECK(has(lines[0], "vapour") == (solvent.id != "water"));
          CHECK(has(lines[0], "gas pressure") == (pressure > 0.0));
          CHECK(has(lines[0], "rotor") == (speed > 0.0));
          CHECK(has(lines[0], "hot charge") == (temperature > 330.0));
          CHECK(has(lines[1], "local rules"));
          const std::string full = joined(io::full_cautions(input, &solvent));
          CHECK(has(full, "Pressure. ") == (pressure > 0.0));
          CHECK(has(full, "Rotor. ") == (speed > 0.0));
          CHECK(has(full, "Heat. ") == (temperature > 330.0));
          CHECK(has(full, "Solvent vapour. ") == (solvent.id != "water"));
          CHECK(has(full, solvent.hazard_note));
          CHECK_FALSE(solvent.hazard_note.empty());
          CHECK_FALSE(std::regex_search(joined(lines) + full, soothing));
        }
  }
}

TEST_CASE("cautions for a solvent nobody described still warn of its vapour", "[io][cautions]") {
  model::CaseInput input;
  CHECK(has(io::short_cautions(input, nullptr)[0], "solvent vapour can injure"));
  CHECK(has(joined(io::full_cautions(input, nullptr)), "Solvent vapour. "));
}
