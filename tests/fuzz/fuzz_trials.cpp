// Tables of trials with measured diameters, as `calibrate` reads them.
#include <cmath>
#include <cstdint>
#include <string>

#include "fuzz/expect.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  try {
    const auto trials = whorl::io::read_trial_text(text, "fuzz.csv", "/nonexistent");
    WHORL_EXPECT(!trials.rows.empty());
    WHORL_EXPECT(trials.digest.size() == 64);
    for (const auto& row : trials.rows) {
      WHORL_EXPECT(row.settings.size() == trials.keys.size());
      for (const auto& [key, value] : row.settings) WHORL_EXPECT(key != nullptr && std::isfinite(value));
      WHORL_EXPECT(row.mean_m >= 0.0 && row.mean_m <= 1e-2);  // 0: a setting to predict
      WHORL_EXPECT(row.covariates.size() == trials.covariates.size());
      WHORL_EXPECT(row.sd_m >= 0.0 && row.sd_m <= 1e-2 && row.count >= 0.0 && row.count <= 1e7);
    }
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
