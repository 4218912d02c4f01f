// Calibration files, and laying them over a case: either InputError, or a case that still passes its own checks under another identity.
#include <cmath>
#include <cstdint>
#include <string>

#include "fuzz/expect.hpp"
#include "whorl/io/calibration_file.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"

namespace {

constexpr const char* kCase = R"({"whorl_case": 1,
  "solution": {"polymer": "PCL", "solvent": "chloroform", "molar_mass": "80 kg/mol", "concentration": "12 % w/w"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
  "operation": {"rotation_speed": "9000 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "6 mL", "collection_distance": "170 mm"}})";

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const whorl::io::CaseFile good = whorl::io::read_case_text(kCase, "case.json", "/nonexistent");
  const std::string text(reinterpret_cast<const char*>(data), size);
  try {
    const auto calibration = whorl::io::read_calibration_text(text, "fuzz.json");
    WHORL_EXPECT(!calibration.values.empty());
    for (const auto& value : calibration.values)
      WHORL_EXPECT(std::isfinite(value.value) && std::isfinite(value.low) && std::isfinite(value.high) && value.low <= value.value && value.value <= value.high);
    auto file = good;
    whorl::io::apply_calibration(file, calibration);
    whorl::io::validate(file.input, file.name);
    WHORL_EXPECT(file.hash != good.hash);
    for (const char* bad : {"= nan", "= -nan", "= inf", "= -inf"}) WHORL_EXPECT(file.canonical_text.find(bad) == std::string::npos);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
