#include "whorl/study/next_candidates.hpp"

#include <nlohmann/json.hpp>

#include "whorl/engine/design.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/usual_plane.hpp"
#include "whorl/study/window_spec.hpp"

namespace whorl::study {

// What is wanted: said here, else in the window block of the case.
DiameterLimits wanted_diameter(const LoadedCase& loaded, const std::string& option) {
  std::string text = option, file, where = "--diameter";
  if (text.empty() && !loaded.file.window_json.empty()) {
    const WindowWishes block =
        parse_window_block(nlohmann::ordered_json::parse(loaded.file.window_json), loaded.file.name);
    if (block.diameter) text = *block.diameter;
    file = loaded.file.name;
    where = "window.diameter";
  }
  if (text.empty())
    throw InputError("", "--diameter", "missing",
                     "the wanted diameter, e.g. \"3 um..5 um\", here or as diameter in the case's window block");
  const auto [least, most] = parse_diameter_range(text, file, where);
  return {least, most};
}

// Where to look: what the user names, else speed and pressure about the case.
std::vector<model::CaseInput> candidates_of(const LoadedCase& loaded, const std::vector<std::string>& over,
                                            std::vector<const io::Key*>& keys) {
  std::vector<model::CaseInput> out;
  if (!over.empty()) {
    SpecOverrides overrides;
    overrides.vary = over;
    const SweepSpec sweep = combine({}, overrides, loaded.file.name);
    const engine::Design design = make_design(sweep, loaded.file.name);
    if (design.size() > 2000)
      throw InputError("", "--over", std::to_string(design.size()) + " candidates", "at most 2000");
    for (const SweptKey& key : sweep.keys) keys.push_back(key.key);
    for (model::CaseInput& c : cases_of(sweep, design, loaded.file.input)) {
      io::validate(c, loaded.file.name);
      out.push_back(std::move(c));
    }
    return out;
  }
  const auto [speed, pressure] = usual_plane(loaded.file.input);
  keys = {speed.key, pressure.key};
  for (int i = 0; i < 7; ++i) {
    for (int j = 0; j < 5; ++j) {
      model::CaseInput c = loaded.file.input;
      speed.key->set(c, io::from_display(*speed.key, speed.from + (speed.to - speed.from) * i / 6.0));
      pressure.key->set(c, io::from_display(*pressure.key, pressure.from + (pressure.to - pressure.from) * j / 4.0));
      try {
        io::validate(c, loaded.file.name);
        out.push_back(c);
      } catch (const InputError&) {
        // outside the documented limits: no candidate
      }
    }
  }
  return out;
}

}  // namespace whorl::study
