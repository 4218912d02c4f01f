#include "whorl/io/cautions.hpp"

#include <algorithm>
#include <cctype>
#include <cstddef>

namespace whorl::io {
namespace {

constexpr double kHot_K = 273.15 + 50.0;  // metal this hot burns skin on a firm grip: common practice, no source

// Water carries no vapour hazard of its own; what flies and what is dissolved in it still does.
bool is_water(const model::Solvent* solvent) { return solvent != nullptr && solvent->cas == "7732-18-5"; }

double hottest_K(const model::CaseInput& input) {
  return std::max(input.room.temperature_K, input.solution.temperature_K.value_or(input.room.temperature_K));
}

std::string listed(const std::vector<std::string>& parts) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i)
    text += (i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ") + parts[i];
  return text;
}

}  // namespace

namespace {

// What of this case can injure, as a sentence.
std::string injures(const model::CaseInput& input, const model::Solvent* solvent) {
  std::vector<std::string> hazards;
  if (is_water(solvent))
    hazards.emplace_back("flying drops or fibre");
  else
    hazards.push_back((solvent != nullptr ? solvent->name : "solvent") + " vapour");
  if (hottest_K(input) >= kHot_K) hazards.emplace_back("a hot charge");
  if (input.operation.gas_overpressure_Pa > 0.0) hazards.emplace_back("gas pressure");
  if (input.operation.rotation_speed_rad_s > 0.0) hazards.emplace_back("a fast rotor");
  return listed(hazards) + (hazards.size() > 1 ? " can each injure." : " can injure.");
}

}  // namespace

std::string one_caution(const model::CaseInput& input, const model::Solvent* solvent) {
  std::string text = injures(input, solvent);
  // the second name of the solvent stands in the full text
  if (const auto open = text.find(" ("), close = text.find(')');
      open != std::string::npos && close != std::string::npos && open < close)
    text.erase(open, close + 1 - open);
  return text + " Local rules and licensed people decide: see --cautions.";
}

std::vector<std::string> short_cautions(const model::CaseInput& input, const model::Solvent* solvent) {
  return {
      "Caution: " + injures(input, solvent) + " An estimate is no proof of safety:",
      "work under your local rules and with people trained and licensed for it (`--cautions` for the full text).",
  };
}

std::string caution(const model::CaseInput& input, const model::Solvent* solvent) {
  std::string text = injures(input, solvent);
  text.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(text.front())));
  return text + " An estimate is no proof of safety: work under your local rules and with people trained and licensed "
                "for it.";
}

std::vector<std::string> full_cautions(const model::CaseInput& input, const model::Solvent* solvent) {
  std::vector<std::string> text{
      "What this is. The numbers are an engineering estimate for planning trials. They do not replace a risk "
      "assessment, "
      "the maker's instructions, the safety data sheets, or the judgement of the people responsible for the "
      "laboratory. "
      "Where local rules and this text differ, the local rules hold."};
  if (is_water(solvent)) {
    text.emplace_back(
        "Spray. Most of the charge leaves the vessel within seconds as jets, and where they break, as drops; both fly "
        "beyond the "
        "collector. What the drops carry (polymer, residues, additives, germs) is breathed in and settles on surfaces. "
        "Enclose "
        "the collector, extract the air, keep liquid away from electrics and off the floor, and protect eyes and "
        "skin.");
  } else {
    text.emplace_back(
        "Solvent vapour. Most of the solvent of a charge leaves into the air within seconds and as a cloud round the "
        "collector. "
        "Work in a tested fume hood or enclosure with extraction, keep ignition sources away from flammable vapour "
        "(the motor "
        "is one unless rated otherwise), wear gloves that the solvent does not pass, and know the exposure limit where "
        "you are.");
  }
  if (hottest_K(input) >= kHot_K)
    text.emplace_back(
        "Heat. Charge and vessel are hot enough to burn skin, hot liquid thrown off sticks, and warm solvent gives off "
        "far more "
        "vapour than cold. Let everything cool before opening it.");
  if (input.operation.gas_overpressure_Pa > 0.0)
    text.emplace_back(
        "Pressure. A pressurised vessel that turns is a pressure vessel and a rotor at once. Stay below the rated "
        "pressure of the "
        "weakest part, use a relief device and a regulator set by someone qualified, depressurise before opening, and "
        "never "
        "stand in the plane of rotation.");
  if (input.operation.rotation_speed_rad_s > 0.0)
    text.emplace_back(
        "Rotor. Energy grows with the square of speed. Run balanced, guarded and interlocked, below the speed the "
        "maker rates for "
        "that vessel with its charge, and stop at any new noise. Clogged orifices unbalance the vessel during the run. "
        "Never "
        "stand in the plane of rotation.");
  text.emplace_back(
      "Fibres. Fine fibres and drops become airborne. Avoid breathing them; let the enclosure clear before opening "
      "it.");
  if (solvent != nullptr && !solvent->hazard_note.empty()) text.push_back(solvent->name + ". " + solvent->hazard_note);
  return text;
}

}  // namespace whorl::io
