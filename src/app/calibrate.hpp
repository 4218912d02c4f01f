// What both ways of calibrating share: fitting parameters of the model (--fit), and learning from trials.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "app/estimate.hpp"
#include "engine/calibrate.hpp"
#include "io/keys.hpp"

namespace whorl::app {

/// The two ways of run_calibrate().
int fit_parameters(const CalibrateArguments& arguments, const Streams& streams);
int learn_from_trials(const CalibrateArguments& arguments, const Streams& streams);

[[nodiscard]] double share_of_text(const std::string& text, const char* option);
[[nodiscard]] std::vector<std::string> parted(const std::vector<std::string>& texts);
[[nodiscard]] engine::DiameterLimits wanted_diameter(const LoadedCase& loaded, const std::string& option);
void said_on_failure(const Streams& streams, int& exit, const std::function<void()>& write);
[[nodiscard]] std::vector<model::CaseInput> candidates_of(const LoadedCase& loaded, const std::vector<std::string>& over,
                                                          std::vector<const io::Key*>& keys);

}  // namespace whorl::app
