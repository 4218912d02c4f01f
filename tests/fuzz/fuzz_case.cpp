// The case reader, and the sweep and window blocks behind it. Either InputError, or a case that passes its own checks and has an identity.
#include <cstdint>
#include <nlohmann/json.hpp>
#include <string_view>

#include "app/sweep_spec.hpp"
#include "app/window_spec.hpp"
#include "fuzz/expect.hpp"
#include "io/case_file.hpp"
#include "model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try {
    const auto file = whorl::io::read_case_text(text, "fuzz.json", "/nonexistent");
    whorl::io::validate(file.input, file.name);
    WHORL_EXPECT(file.hash.size() == 64);
    WHORL_EXPECT(!file.canonical_text.empty());
    for (const char* bad : {"= nan", "= -nan", "= inf", "= -inf"}) WHORL_EXPECT(file.canonical_text.find(bad) == std::string::npos);
    if (!file.window_json.empty()) {
      const auto wishes = whorl::app::parse_window_block(nlohmann::ordered_json::parse(file.window_json), file.name);
      (void)whorl::app::window_spec(wishes, whorl::app::WindowWishes{}, file);
    }
    if (file.sweep_json.empty()) return 0;
    const auto spec = whorl::app::parse_sweep_block(nlohmann::ordered_json::parse(file.sweep_json), file.name);
    const auto design = whorl::app::make_design(spec, file.name);
    WHORL_EXPECT(design.size() > 0);
    std::vector<double> values(spec.keys.size());
    design.point(0, values);
    design.point(design.size() - 1, values);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
