// A case with what it is resolved against: the property library, its own materials, settings and calibration laid over
// it.
#pragma once
#include <memory>
#include <string>
#include <vector>

#include "whorl/io/case_file.hpp"
#include "whorl/model/materials.hpp"

namespace whorl::study {

class TrialCalibration;

/// A case with the library it is to be resolved against (built in plus the files it names).
struct LoadedCase {
  io::CaseFile file;
  model::Library library;
  std::shared_ptr<const TrialCalibration> trials;  ///< laid over every estimate (calibrated_estimate); null: none
};

/// What is laid over a case as it is read: first the settings, then the calibration.
struct CaseOverlay {
  std::vector<std::string> settings;  ///< "KEY=VALUE"
  std::string calibration;            ///< file; empty: none
};
/// Error: InputError.
[[nodiscard]] LoadedCase load_case(const std::string& path, const CaseOverlay& over = {});

/// A case that cannot be resolved is refused before anything is computed, by the name of its file.
/// Error: InputError.
void check_resolves(const LoadedCase& loaded);

}  // namespace whorl::study
