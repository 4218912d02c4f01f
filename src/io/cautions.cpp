#include "io/cautions.hpp"

namespace whorl::io {

std::vector<std::string> short_cautions(const model::Solvent* solvent) {
  const std::string name = solvent != nullptr ? solvent->name : "solvent";
  return {
      "Caution: " + name + " vapour, gas pressure and a fast rotor can each injure. An estimate is no proof of safety:",
      "work under your local rules and with people trained and licensed for it (`--cautions` for the full text).",
  };
}

std::vector<std::string> full_cautions(const model::Solvent* solvent) {
  std::vector<std::string> text{
      "What this is. The numbers are an engineering estimate for planning trials. They do not replace a risk assessment, "
      "the maker's instructions, the safety data sheets, or the judgement of the people responsible for the laboratory. "
      "Where local rules and this text differ, the local rules hold.",
      "Solvent vapour. Most of the solvent of a charge leaves into the air within seconds and as a cloud round the collector. "
      "Work in a tested fume hood or enclosure with extraction, keep ignition sources away from flammable vapour (the motor "
      "is one unless rated otherwise), wear gloves that the solvent does not pass, and know the exposure limit where you are.",
      "Pressure. A pressurised vessel that turns is a pressure vessel and a rotor at once. Stay below the rated pressure of the "
      "weakest part, use a relief device and a regulator set by someone qualified, depressurise before opening, and never stand "
      "in the plane of rotation.",
      "Rotor. Energy grows with the square of speed. Run balanced, guarded and interlocked, below the speed the maker rates for that "
      "vessel with its charge, and stop at any new noise. Clogged orifices unbalance the vessel during the run.",
      "Fibres. Fine fibres and drops become airborne. Avoid breathing them; let the enclosure clear before opening it.",
  };
  if (solvent != nullptr && !solvent->hazard_note.empty()) {
    text.push_back(solvent->name + ". " + solvent->hazard_note);
  }
  return text;
}

}  // namespace whorl::io
