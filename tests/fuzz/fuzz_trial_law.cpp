// Files of a law of trials: either InputError, or a law whose predictions are numbers.
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>

#include "whorl/study/trial_calibration.hpp"
#include "fuzz/expect.hpp"
#include "io/json_document.hpp"
#include "whorl/model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  try {
    const auto json = whorl::io::parse_document(text, "fuzz.json");
    if (!json.is_object() || !json.contains("law")) return 0;
    const whorl::study::TrialCalibration calibration(json, "fuzz.json");
    const auto& study = calibration.study();
    WHORL_EXPECT(!study.input().trials.empty());
    WHORL_EXPECT(std::isfinite(calibration.flow_factor()) && calibration.flow_factor() > 0.0);
    const auto& first = study.input().trials.front();
    const auto p = study.predict(first.settings, first.model);
    WHORL_EXPECT(std::isfinite(p.median) && p.low <= p.high);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
