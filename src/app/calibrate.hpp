// What both ways of calibrating share: fitting parameters of the model (--fit), and learning from trials.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/study/calibrate.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::app {

/// The two ways of run_calibrate().
int fit_parameters(const CalibrateArguments& arguments, const console::Streams& streams);
int learn_from_trials(const CalibrateArguments& arguments, const console::Streams& streams);

[[nodiscard]] double share_of_text(const std::string& text, const char* option);
[[nodiscard]] std::vector<std::string> parted(const std::vector<std::string>& texts);
void said_on_failure(const console::Streams& streams, int& exit, const std::function<void()>& write);

}  // namespace whorl::app
