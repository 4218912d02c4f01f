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
[[nodiscard]] LoadedCase load_case(const std::string& path);

/// Calibration file that load_case() lays over every case it reads; empty: none.
void use_calibration(const std::string& path);
/// "KEY=VALUE" texts that load_case() lays over every case it reads, before the calibration.
void use_settings(std::vector<std::string> settings);

}  // namespace whorl::study
