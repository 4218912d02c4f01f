#include "console/slip.hpp"

#include <algorithm>
#include <map>
#include <span>

#include "whorl/io/keys.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::console {
namespace {

constexpr std::size_t kLongest = 60;  // of a word that is repeated

std::string quoted(const std::string& word) {
  return '"' + printable(word.size() > kLongest ? word.substr(0, kLongest) + "..." : word, Lines::joined) + '"';
}

std::string meant(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string_view> views(known.begin(), known.end());
  return io::nearest_word(word, std::span<const std::string_view>(views));
}

bool holds(const std::vector<std::string>& list, const std::string& word) {
  return std::find(list.begin(), list.end(), word) != list.end();
}

// What somebody who writes this most likely wants: the word that other programs use, a beginning of one of ours, a case
// without a command, or the nearest in spelling.
std::string command_meant(const std::string& word, const std::vector<KnownCommand>& commands) {
  constexpr std::size_t kLeastBeginning = 3;
  static const std::map<std::string, std::string> kOtherWords{
      {"help", "--help"},  {"version", "--version"}, {"validate", "check"},   {"plot", "figure"},
      {"run", "estimate"}, {"compare", "explain"},   {"library", "materials"}};
  std::vector<std::string> names;
  for (const KnownCommand& command : commands) names.push_back(command.name);
  if (holds(names, word)) return {};
  if (const auto other = kOtherWords.find(word); other != kOtherWords.end()) return other->second;
  if (word.size() >= kLeastBeginning)
    for (const std::string& name : names)
      if (name.compare(0, word.size(), word) == 0) return name;
  if (word.size() > 5 && word.size() <= kLongest && word.ends_with(".json") && holds(names, "estimate"))
    return "estimate " + printable(word, Lines::joined);
  return meant(word, names);
}

}  // namespace

std::string slip_text(const std::vector<std::string>& words, const std::vector<std::string>& program,
                      const std::vector<KnownCommand>& commands) {
  const KnownCommand* chosen = nullptr;
  for (const std::string& word : words) {
    const auto found =
        std::find_if(commands.begin(), commands.end(), [&](const KnownCommand& c) { return c.name == word; });
    if (found == commands.end()) continue;
    chosen = &*found;
    break;
  }
  if (chosen == nullptr) {
    bool value = false;  // of the option before
    for (const std::string& word : words) {
      const bool option = word.size() > 1 && word.front() == '-';
      if (!option && !value) {
        const std::string near = command_meant(word, commands);
        return "no command " + quoted(word) + (near.empty() ? "" : "; did you mean \"" + near + "\"?");
      }
      value = option && (word == "--set" || word == "--calibration" || word == "--progress-every");
    }
  }
  for (const std::string& word : words) {
    if (word == "--") break;
    if (word.size() < 3 || word.compare(0, 2, "--") != 0) continue;
    const std::string name = word.substr(0, word.find('='));
    if (holds(program, name) || (chosen != nullptr && holds(chosen->options, name))) continue;
    std::vector<std::string> known = program;
    if (chosen != nullptr) known.insert(known.end(), chosen->options.begin(), chosen->options.end());
    const std::string near = meant(name, known);
    const std::string text = (chosen != nullptr ? chosen->name + ": " : std::string()) + "no option " + quoted(name);
    for (const KnownCommand& other : commands)
      if (holds(other.options, name)) return text + ", it is one of " + other.name;
    return near.empty() ? text : text + "; did you mean \"" + near + "\"?";
  }
  return {};
}

}  // namespace whorl::console
