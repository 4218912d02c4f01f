// Calibrated parameters of a rig, to be laid over its cases. JSON; see docs/formats/calibration.md.
#pragma once
#include <string>
#include <vector>

#include "whorl/io/case_file.hpp"

namespace whorl::io {

struct CalibratedValue {
  std::string key;                ///< numeric key of the case file
  double value{};                 ///< SI
  double low{}, high{};           ///< 90 % interval [SI]
};

/// Settings of the trials: a case outside them is calibrated by extrapolation.
struct CalibratedRange {
  std::string key;
  double low{}, high{};           ///< SI
};

struct CalibrationFile {
  std::string name;               ///< file
  std::string polymer, solvent;   ///< of the case it was made with
  std::string case_hash, data_digest, version;
  std::vector<CalibratedValue> values;
  std::vector<CalibratedRange> range;
  std::string digest;             ///< SHA-256 of the file
};

/// Error: InputError with file, key, what was found and what is allowed.
[[nodiscard]] CalibrationFile read_calibration_text(const std::string& text, const std::string& name);
[[nodiscard]] CalibrationFile read_calibration_file(const std::string& path);

/// Sets the calibrated values in a case, their intervals as its uncertainties (a normal standard deviation;
/// correlations are not carried), and says so in its notes; also which of its settings lie outside those of the trials.
/// The digest becomes part of the hash of the case.
/// Error: InputError for another polymer or solvent than it was calibrated with.
void apply_calibration(CaseFile& file, const CalibrationFile& calibration);

}  // namespace whorl::io
