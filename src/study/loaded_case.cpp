#include "whorl/study/loaded_case.hpp"

#include "whorl/engine/setup.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {
LoadedCase load_case(const std::string& path, const CaseOverlay& over) {
  LoadedCase loaded;
  loaded.file = io::read_case_file(path);
  loaded.library = io::built_in_library();
  for (const auto& file : loaded.file.material_files) io::add_materials_file(loaded.library, file);
  io::apply_settings(loaded.file, over.settings, "--set");
  if (!over.calibration.empty()) lay_calibration(loaded, over.calibration);
  for (const std::string& text : loaded.file.unusual) note_magnitude(text);
  return loaded;
}

void check_resolves(const LoadedCase& loaded) {
  try {
    (void)engine::resolve(loaded.file.input, loaded.library);
  } catch (const InputError& error) {  // the model does not know the file
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
}

}  // namespace whorl::study
