// Lists of measured diameters. The first byte chooses whether unit and column come from options.
#include <cmath>
#include <cstdint>
#include <string_view>

#include "fuzz/expect.hpp"
#include "whorl/io/diameters.hpp"
#include "whorl/model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string_view text(reinterpret_cast<const char*>(data) + 1, size - 1);
  whorl::io::DiameterListOptions options;
  if ((data[0] & 1U) != 0) options.unit = "um";
  if ((data[0] & 2U) != 0) options.column = "2";
  try {
    const auto list = whorl::io::read_diameter_text(text, "fuzz.txt", options);
    WHORL_EXPECT(!list.values_m.empty());
    for (const double value : list.values_m) WHORL_EXPECT(std::isfinite(value) && value > 0.0 && value < 0.0101);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
