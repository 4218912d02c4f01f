// What the program was built with, for `--version`: the first question when two machines give different digits.
#pragma once
#include <string>

namespace whorl::app {

/// "whorl 0.1.0" on the first line; then compiler, build type, libraries and options, one line each.
/// `command_line_library` is named by the caller, the only file that includes it.
[[nodiscard]] std::string version_text(const std::string& command_line_library);

}  // namespace whorl::app
