// Settings of the command line ("--set KEY=VALUE", one a line) laid over a case. Either InputError, or a case that passes its own checks, whose
// digest says that something changed, and over which every setting alone changes nothing the second time.
#include <cstdint>
#include <sstream>
#include <string>
#include <vector>

#include "fuzz/expect.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"

namespace {

constexpr const char* kCase = R"({
  "whorl_case": 1,
  "solution": {"polymer": "PCL", "solvent": "chloroform", "molar_mass": "80 kg/mol", "concentration": "18 % w/v of solvent"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
  "operation": {"rotation_speed": "10000 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "5 mL", "collection_distance": "120 mm"}
})";

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const whorl::io::CaseFile base = whorl::io::read_case_text(kCase, "fuzz.json", "/nonexistent");
  const std::vector<std::string> settings = lines_of(std::string(reinterpret_cast<const char*>(data), size));
  try {
    whorl::io::CaseFile file = base;
    whorl::io::apply_settings(file, settings, "--set");
    whorl::io::validate(file.input, file.name);
    WHORL_EXPECT(file.hash.size() == 64);
    const bool changed = whorl::io::canonical_text(file.input) != whorl::io::canonical_text(base.input);
    WHORL_EXPECT(!changed || file.hash != base.hash);
    if (settings.size() != 1) return 0;
    const std::string hash = file.hash;
    const std::size_t notes = file.notes.size();
    whorl::io::apply_settings(file, settings, "--set");
    WHORL_EXPECT(file.hash == hash && file.notes.size() == notes);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
    WHORL_EXPECT(!error.key().empty());
  }
  return 0;
}
