// The case reader, and the sweep and window blocks behind it. Either InputError, or a case that passes its own checks and has an identity.
#include <cstdint>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <string_view>

#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/window_spec.hpp"
#include "fuzz/expect.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"

namespace {

// Materials may be called anything, "nan" too.
bool numbers_are_finite(const std::string& canonical) {
  std::istringstream lines(canonical);
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("solution.polymer", 0) == 0 || line.rfind("solution.solvent", 0) == 0) continue;
    std::istringstream words(line);
    for (std::string word; words >> word;)
      if (word == "nan" || word == "-nan" || word == "inf" || word == "-inf") return false;
  }
  return true;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try {
    const auto file = whorl::io::read_case_text(text, "fuzz.json", "/nonexistent");
    whorl::io::validate(file.input, file.name);
    WHORL_EXPECT(file.hash.size() == 64);
    WHORL_EXPECT(!file.canonical_text.empty());
    WHORL_EXPECT(numbers_are_finite(file.canonical_text));
    if (!file.window_json.empty()) {
      const auto wishes = whorl::study::parse_window_block(nlohmann::ordered_json::parse(file.window_json), file.name);
      (void)whorl::study::window_spec(wishes, whorl::study::WindowWishes{}, file);
    }
    if (file.sweep_json.empty()) return 0;
    const auto spec = whorl::study::parse_sweep_block(nlohmann::ordered_json::parse(file.sweep_json), file.name);
    const auto design = whorl::study::make_design(spec, file.name);
    WHORL_EXPECT(design.size() > 0);
    std::vector<double> values(spec.keys.size());
    design.point(0, values);
    design.point(design.size() - 1, values);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
