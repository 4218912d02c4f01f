// Estimates a case with the installed library and prints the dry diameter as the program does in --json.
#include <cstdio>

#include "whorl/engine/estimate.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/error.hpp"

int main() {
  try {
    const whorl::io::CaseFile file = whorl::io::read_case_file(CASES_DIR "/pcl-chloroform.json");
    whorl::model::Library library = whorl::io::built_in_library();
    // The installed data are materials files like a user's own: reading them again changes nothing.
    for (const char* name : {"solvents", "polymers", "pairs"})
      whorl::io::add_materials_file(library, std::string(DATA_DIR) + "/" + name + ".json");
    const whorl::model::Estimate estimate = whorl::engine::estimate(file.input, library);
    if (estimate.status != whorl::model::Status::done) {
      std::printf("not converged: %s\n", estimate.reason.c_str());
      return 1;
    }
    const auto diameter =
        whorl::io::output_value(*whorl::io::find_output("dry_diameter_um"), estimate);
    std::printf("%s %.12g\n", whorl::model::to_string(estimate.fibre_class), diameter.value());
    return 0;
  } catch (const whorl::InputError& error) {
    std::printf("%s\n", error.what());
    return 2;
  }
}
