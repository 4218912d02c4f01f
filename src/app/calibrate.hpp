// What both ways of calibrating share: fitting parameters of the model (--fit), and learning from trials.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::app {

/// The two ways of run_calibrate().
int fit_parameters(const CalibrateArguments& arguments, const console::Streams& streams);
int learn_from_trials(const CalibrateArguments& arguments, const console::Streams& streams);

[[nodiscard]] double share_of_text(const std::string& text, const char* option);

/// Before anything is computed. Error: InputError for a file that may not be written.
void check_targets(const CalibrateArguments& arguments);

/// -o and --residuals, where they are asked for. What cannot be written for want of room is said and makes `exit`
/// console::kNotMet.
void write_calibration(const CalibrateArguments& arguments, const nlohmann::ordered_json& json,
                       const console::Streams& streams, int& exit);
/// How the columns of a table of residuals are described.
struct ResidualWords {
  std::string before, after, log_sd;
};
void write_residuals(const CalibrateArguments& arguments, const study::LoadedCase& loaded, const io::TrialData& data,
                     const ResidualWords& words, const std::string& rows, const console::Streams& streams, int& exit);

}  // namespace whorl::app
