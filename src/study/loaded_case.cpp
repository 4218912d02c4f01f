#include "whorl/study/loaded_case.hpp"

#include "whorl/io/materials_file.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {
namespace {
std::string& calibration_path() {
  static std::string path;  // one command line, one process
  return path;
}
std::vector<std::string>& settings() {
  static std::vector<std::string> given;
  return given;
}
}  // namespace

void use_calibration(const std::string& path) { calibration_path() = path; }
void use_settings(std::vector<std::string> given) { settings() = std::move(given); }

LoadedCase load_case(const std::string& path) {
  LoadedCase loaded;
  loaded.file = io::read_case_file(path);
  loaded.library = io::built_in_library();
  for (const auto& file : loaded.file.material_files) io::add_materials_file(loaded.library, file);
  io::apply_settings(loaded.file, settings(), "--set");
  if (!calibration_path().empty()) lay_calibration(loaded, calibration_path());
  for (const std::string& text : loaded.file.unusual) note_magnitude(text);
  return loaded;
}

}  // namespace whorl::study
