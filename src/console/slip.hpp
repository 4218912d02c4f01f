// What a refused command line most likely meant: the command or option nearest in spelling.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace whorl::console {

/// A command with the spellings of its options ("--output", "-o").
struct KnownCommand {
  std::string name;
  std::vector<std::string> options;
};

/// `words`: the command line without the program's name. `program`: options that stand with every command,
/// `commands[i]`: the others. One sentence without an end, "no command "esitmate"; did you mean "estimate"?"; empty
/// when every command and option is known.
[[nodiscard]] std::string slip_text(const std::vector<std::string>& words, const std::vector<std::string>& program,
                                    const std::vector<KnownCommand>& commands);

}  // namespace whorl::console
