// Settings among which the next trials are chosen, and the diameter that they are for.
#pragma once
#include <string>
#include <vector>

#include "whorl/io/keys.hpp"
#include "whorl/study/calibrate.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// What is wanted: said here, else in the window block of the case.
/// Error: InputError
[[nodiscard]] DiameterLimits wanted_diameter(const LoadedCase& loaded, const std::string& option);
/// What `over` names (as --vary of sweep), else speed and pressure about the case. `keys`: what varies.
/// Error: InputError
[[nodiscard]] std::vector<model::CaseInput> candidates_of(const LoadedCase& loaded,
                                                          const std::vector<std::string>& over,
                                                          std::vector<const io::Key*>& keys);

}  // namespace whorl::study
