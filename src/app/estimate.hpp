// `whorl estimate CASE`: what fibre, how much, dry or wet, at this operating point.
#pragma once
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "app/commands.hpp"
#include "io/case_file.hpp"
#include "model/materials.hpp"
#include "model/result.hpp"

namespace whorl::app {

class TrialCalibration;

/// A case with the library it is to be resolved against (built in plus the files it names).
struct LoadedCase {
  io::CaseFile file;
  model::Library library;
  std::shared_ptr<const TrialCalibration> trials;  ///< laid over every estimate (calibrated_estimate); null: none
};
[[nodiscard]] LoadedCase load_case(const std::string& path);

/// The estimate as JSON: keys carry their unit; numbers that are not results are absent.
[[nodiscard]] nlohmann::ordered_json estimate_json(const LoadedCase& loaded, const model::Estimate& estimate);

/// The page for people. `doubt`: a paragraph on uncertainty to stand behind the results; may be empty.
[[nodiscard]] std::string estimate_text(const LoadedCase& loaded, const model::Estimate& estimate, const std::string& doubt = {});

}  // namespace whorl::app
