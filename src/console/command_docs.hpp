// Man pages and shell completion from the command line itself: main.cpp fills these values from the same parser that
// prints --help.
#pragma once
#include <string>
#include <vector>

namespace whorl::console {

/// What an exit code of the program means; the list behind --help and the man pages.
struct ExitMeaning {
  int code;
  const char* meaning;
};
const std::vector<ExitMeaning>& exit_meanings();
/// "Exit codes: 0 done, 1 ..." in one line, without a line end.
std::string exit_code_line();

/// One option or positional argument.
struct OptionText {
  std::vector<std::string> names;  ///< with their dashes; for a positional the one name
  std::string value;               ///< name of the value, such as "TEXT" or "FILE"; empty for flags
  std::string purpose;
  bool positional{};
  bool required{};
  bool many{};                     ///< takes any number of values
  bool optional_value{};           ///< works with and without a value
};

/// One command, or the program itself.
struct CommandText {
  std::string name;
  std::string purpose;
  std::string footer;              ///< printed below the options: the example
  std::vector<OptionText> options;
};

/// The program with its commands.
struct ProgramText {
  CommandText program;
  std::vector<CommandText> commands;
  std::string version;
};

/// Words that a value can be, where the purpose begins with the list of them ("grid, latin-hypercube or sobol"); else
/// none.
std::vector<std::string> value_words(const std::string& purpose);

/// Manual page in roff (man macros) of one command; of the program when `command` is null.
std::string man_page(const ProgramText& text, const CommandText* command);
std::string bash_completion(const ProgramText& text);
std::string zsh_completion(const ProgramText& text);
std::string fish_completion(const ProgramText& text);

/// Writes all of it below `folder`: man1/*.1, bash/PROGRAM, zsh/_PROGRAM, fish/PROGRAM.fish.
/// Error: std::runtime_error when a file cannot be written.
void write_command_docs(const ProgramText& text, const std::string& folder);

}  // namespace whorl::console
