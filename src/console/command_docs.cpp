#include "console/command_docs.hpp"

#include <algorithm>
#include <cctype>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "console/streams.hpp"

namespace whorl::console {

namespace {

bool word_character(char c) {
  return std::islower(static_cast<unsigned char>(c)) != 0 || std::isdigit(static_cast<unsigned char>(c)) != 0 ||
         c == '-';
}

std::string upper(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
  return text;
}

/// Text that roff prints as it stands: hyphens that can be copied, no accidental request or escape.
std::string roff(const std::string& text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '\\': out += "\\e"; break;
      case '-': out += "\\-"; break;
      case '^': out += "\\(ha"; break;
      case '~': out += "\\(ti"; break;
      case '`': out += "\\(ga"; break;
      case '\'': out += "\\(aq"; break;
      case '\n': out += ' '; break;
      default: out += c;
    }
  }
  if (!out.empty() && out.front() == '.') out.insert(0, "\\&");
  return out;
}

/// Running text of a page in source lines of at most 79 bytes; a line never begins with what roff takes for a request.
std::string wrapped(const std::string& text) {
  std::string out;
  std::size_t width = 0;
  std::istringstream in(roff(text));
  for (std::string word; in >> word;) {
    const bool opens = width == 0 || width + 1 + word.size() > 79;
    if (width > 0) out += opens ? '\n' : ' ';
    if (opens && width > 0 && word.front() == '.') word.insert(0, "\\&");
    width = opens ? word.size() : width + 1 + word.size();
    out += word;
  }
  return out;
}

std::string sentence(const std::string& text) {
  return text.empty() || text.back() == '.' ? text : text + ".";
}

std::string joined(const std::vector<std::string>& parts, const std::string& between) {
  std::string out;
  for (const auto& part : parts) out += (out.empty() ? "" : between) + part;
  return out;
}

/// Examples of a footer: its indented lines.
std::vector<std::string> examples(const std::string& footer) {
  std::vector<std::string> lines;
  std::istringstream in(footer);
  for (std::string line; std::getline(in, line);)
    if (line.rfind("  ", 0) == 0) lines.push_back(line.substr(line.find_first_not_of(' ')));
  return lines;
}

std::string option_heading(const OptionText& option) {
  if (option.positional) return "\\fI" + roff(option.names.front()) + "\\fR" + (option.many ? " ..." : "");
  std::string out;
  for (const auto& name : option.names) out += (out.empty() ? "\\fB" : ", \\fB") + roff(name) + "\\fR";
  if (option.value.empty()) return out;
  const std::string value = "\\fI" + roff(option.value) + "\\fR";
  return out + ' ' + (option.optional_value && option.value.front() != '[' ? "[" + value + "]" : value);
}

void option_list(std::ostream& out, const std::string& section, const CommandText& command, bool positional) {
  bool any = false;
  for (const auto& option : command.options) {
    if (option.positional != positional) continue;
    if (!any) out << ".SH " << section << '\n';
    any = true;
    out << ".TP\n"
        << option_heading(option) << '\n'
        << wrapped(sentence(option.purpose) + (option.required && !positional   ? " Required."
                                               : positional && !option.required ? " May be left out."
                                                                                : ""));
    out << '\n';
  }
}

void synopsis(std::ostream& out, const std::string& command_line, const CommandText& command) {
  out << ".SH SYNOPSIS\n.B " << roff(command_line) << '\n';
  out << "[\\fIoptions\\fR]\n";
  for (const auto& option : command.options)
    if (option.required && !option.positional)
      out << "\\fB" << roff(option.names.back()) << "\\fR \\fI" << roff(option.value) << "\\fR\n";
  for (const auto& option : command.options) {
    if (!option.positional) continue;
    const std::string name = "\\fI" + roff(option.names.front()) + "\\fR" + (option.many ? " ..." : "");
    out << (option.required ? name : "[" + name + "]") << '\n';
  }
}

void exit_status(std::ostream& out) {
  out << ".SH EXIT STATUS\n";
  for (const auto& exit : exit_meanings())
    out << ".TP\n.B " << exit.code << '\n' << wrapped(sentence(exit.meaning)) << '\n';
}

void example_lines(std::ostream& out, const std::string& footer) {
  const auto lines = examples(footer);
  if (lines.empty()) return;
  out << ".SH EXAMPLES\n";
  for (const auto& line : lines)
    out << (&line == &lines.front() ? "" : ".PP\n") << ".nf\n.RS 4\n" << roff(line) << "\n.RE\n.fi\n";
}

/// Every spelling of an option, dashes included; positionals have none.
std::vector<std::string> spellings(const CommandText& command) {
  std::vector<std::string> out;
  for (const auto& option : command.options)
    if (!option.positional) out.insert(out.end(), option.names.begin(), option.names.end());
  return out;
}

bool takes_folder(const OptionText& option) { return option.value == "DIR"; }

/// Text inside single quotes of a shell: ends the quotes, adds an escaped one, begins again.
std::string shell_quoted(const std::string& text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

/// fish knows \' and \\ inside single quotes.
std::string fish_quoted(const std::string& text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' || c == '\\' ? std::string("\\") + c : std::string(1, c);
  return out + "'";
}

/// Inside a description of zsh's _arguments: brackets and colons end it.
std::string zsh_text(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '[' || c == ']' || c == ':' || c == '\\') out += '\\';
    out += c;
  }
  return out;
}

void bash_case(std::ostream& out, const CommandText& command) {
  const auto options = joined(spellings(command), " ");
  std::ostringstream values;
  for (const auto& option : command.options) {
    if (option.positional || option.value.empty()) continue;
    const auto words = value_words(option.purpose);
    values << "        " << joined(option.names, "|") << ") ";
    if (takes_folder(option)) values << "compopt -o dirnames";
    else if (words.empty()) values << "compopt -o default";
    else values << "COMPREPLY=($(compgen -W '" << joined(words, " ") << "' -- \"$word\"))";
    values << (option.optional_value ? ";;\n" : "; return;;\n");
  }
  out << "    " << command.name << ")\n";
  if (!values.str().empty()) out << "      case $before in\n" << values.str() << "      esac\n";
  out << "      options='" << options << "'\n      ;;\n";
}

std::string zsh_option(const OptionText& option) {
  const std::string purpose = zsh_text(option.purpose);
  std::string value;
  if (!option.value.empty()) {
    const auto words = value_words(option.purpose);
    const std::string action = takes_folder(option) ? "_files -/"
                               : words.empty()      ? "_files"
                                                    : "(" + joined(words, " ") + ")";
    value = std::string(option.optional_value ? "::" : ":") + zsh_text(option.value) + ":" + action;
  }
  if (option.positional)
    return shell_quoted((option.many       ? "*:"
                         : option.required ? ":"
                                           : "::") +
                        zsh_text(option.names.front() + ", " + option.purpose) + ":_files");
  std::string lines;
  for (const auto& name : option.names)
    lines += (lines.empty() ? "" : " ") + shell_quoted("*" + name + "[" + purpose + "]" + value);
  return lines;
}

void write_file(const std::filesystem::path& path, const std::string& text) {
  std::filesystem::create_directories(path.parent_path());
  std::ofstream out(path, std::ios::binary);
  out << text;
  out.close();
  if (!out) throw std::runtime_error("cannot write " + path.string());
}

}  // namespace

const std::vector<ExitMeaning>& exit_meanings() {
  static const std::vector<ExitMeaning> meanings{{Exit::kDone, "done"},
                                                 {Exit::kNotMet, "not met or not converged"},
                                                 {Exit::kBadInput, "bad input"},
                                                 {Exit::kInterrupted, "interrupted"}};
  return meanings;
}

std::string exit_code_line() {
  std::string line = "Exit codes:";
  for (const auto& exit : exit_meanings())
    line += (line.back() == ':' ? " " : ", ") + std::to_string(exit.code) + ' ' + exit.meaning;
  return line + '.';
}

std::vector<std::string> value_words(const std::string& purpose) {
  std::vector<std::string> words;
  std::size_t at = 0;
  while (true) {
    const std::size_t begin = at;
    while (at < purpose.size() && word_character(purpose[at])) ++at;
    if (at == begin || purpose[begin] == '-') return {};
    words.push_back(purpose.substr(begin, at - begin));
    if (words.size() > 1 && purpose.compare(begin - 4, 4, " or ") == 0) {
      const bool ends = at == purpose.size() || purpose.compare(at, 2, " (") == 0 || purpose[at] == ',' ||
                        purpose[at] == ';' || purpose[at] == '.';
      return ends ? words : std::vector<std::string>{};
    }
    if (purpose.compare(at, 2, ", ") == 0) at += 2;
    else if (purpose.compare(at, 4, " or ") == 0) at += 4;
    else return {};
  }
}

std::string man_page(const ProgramText& text, const CommandText* command) {
  const std::string& program = text.program.name;
  const std::string page = command ? program + "-" + command->name : program;
  const std::string command_line = command ? program + " " + command->name : program;
  const CommandText& entry = command ? *command : text.program;
  std::string purpose = entry.purpose;
  const std::string prefix = program + ": ";
  if (purpose.rfind(prefix, 0) == 0) purpose.erase(0, prefix.size());
  std::ostringstream out;
  // No date: the same source gives the same bytes.
  out << ".TH " << roff(upper(page)) << " 1 \"\" \"" << program << ' ' << text.version << "\" \"User Commands\"\n"
      << ".SH NAME\n" << wrapped(page + " - " + purpose) << '\n';
  if (command) {
    synopsis(out, command_line, entry);
  } else {
    out << ".SH SYNOPSIS\n.B " << roff(program) << "\n\\fIcommand\\fR [\\fIoptions\\fR] ...\n";
    out << ".SH COMMANDS\n";
    for (const auto& each : text.commands)
      out << ".TP\n.B " << roff(each.name) << '\n' << wrapped(sentence(each.purpose)) << '\n';
  }
  option_list(out, "ARGUMENTS", entry, true);
  option_list(out, "OPTIONS", entry, false);
  if (command) out << ".PP\nResults go to standard output, diagnostics to standard error.\n";
  exit_status(out);
  example_lines(out, entry.footer);
  out << ".SH CAUTION\nSolvent vapour, gas pressure and a fast rotor can each injure.\n"
      << "An estimate is no proof of safety: work under your local rules\nand with people trained and licensed for "
         "it.\n";
  out << ".SH SEE ALSO\n";
  std::vector<std::string> others;
  if (command) others.push_back(program);
  for (const auto& each : text.commands)
    if (&each != command) others.push_back(program + "-" + each.name);
  for (std::size_t i = 0; i < others.size(); ++i)
    out << ".BR " << roff(others[i]) << " (1)" << (i + 1 < others.size() ? " ,\n" : "\n");
  return out.str();
}

std::string bash_completion(const ProgramText& text) {
  const std::string& program = text.program.name;
  std::vector<std::string> names;
  for (const auto& command : text.commands) names.push_back(command.name);
  std::ostringstream out;
  out << "# bash completion of " << program << ", written from the same source as its --help\n"
      << "_" << program << "() {\n"
      << "  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} options=\n"
      << "  COMPREPLY=()\n"
      << "  if ((COMP_CWORD == 1)); then\n"
      << "    COMPREPLY=($(compgen -W '" << joined(names, " ") << ' ' << joined(spellings(text.program), " ")
      << "' -- \"$word\"))\n"
      << "    return\n  fi\n"
      << "  case ${COMP_WORDS[1]} in\n";
  for (const auto& command : text.commands) bash_case(out, command);
  out << "    *) return;;\n  esac\n"
      << "  if [[ $word == -* ]]; then\n"
      << "    COMPREPLY=($(compgen -W \"$options\" -- \"$word\"))\n"
      << "  else\n    compopt -o default\n  fi\n}\n"
      << "complete -F _" << program << ' ' << program << '\n';
  return out.str();
}

std::string zsh_completion(const ProgramText& text) {
  const std::string& program = text.program.name;
  std::ostringstream out;
  out << "#compdef " << program << "\n# zsh completion of " << program
      << ", written from the same source as its --help\n"
      << "_" << program << "() {\n"
      << "  local -a commands=(\n";
  for (const auto& command : text.commands)
    out << "    " << shell_quoted(command.name + ":" + zsh_text(command.purpose)) << '\n';
  out << "  )\n"
      << "  if ((CURRENT == 2)); then\n    if [[ $words[2] == -* ]]; then\n      _arguments";
  for (const auto& option : text.program.options)
    if (!option.positional) out << ' ' << zsh_option(option);
  out << "\n    else\n      _describe command commands\n    fi\n    return\n  fi\n"
      << "  local command=$words[2]\n"
      << "  shift words\n  ((CURRENT--))\n"
      << "  case $command in\n";
  for (const auto& command : text.commands) {
    out << "    " << command.name << ")\n      _arguments";
    for (const auto& option : command.options) out << " \\\n        " << zsh_option(option);
    out << "\n      ;;\n";
  }
  out << "  esac\n}\n_" << program << " \"$@\"\n";
  return out.str();
}

std::string fish_completion(const ProgramText& text) {
  const std::string& program = text.program.name;
  std::ostringstream out;
  out << "# fish completion of " << program << ", written from the same source as its --help\n";
  const auto option_line = [&](const std::string& condition, const OptionText& option) {
    if (option.positional) return;
    out << "complete -c " << program << " -n " << shell_quoted(condition);
    for (const auto& name : option.names)
      out << (name.rfind("--", 0) == 0 ? " -l " + name.substr(2) : " -s " + name.substr(1));
    if (!option.value.empty() && !option.optional_value) {
      const auto words = value_words(option.purpose);
      out << (words.empty() ? " -r" : " -x -a " + fish_quoted(joined(words, " ")));
    }
    out << " -d " << fish_quoted(option.purpose) << '\n';
  };
  for (const auto& command : text.commands)
    out << "complete -c " << program << " -n __fish_use_subcommand -f -a " << command.name << " -d "
        << fish_quoted(command.purpose) << '\n';
  for (const auto& option : text.program.options) option_line("__fish_use_subcommand", option);
  for (const auto& command : text.commands)
    for (const auto& option : command.options) option_line("__fish_seen_subcommand_from " + command.name, option);
  return out.str();
}

void write_command_docs(const ProgramText& text, const std::string& folder) {
  const std::filesystem::path base(folder);
  const std::string& program = text.program.name;
  write_file(base / "man1" / (program + ".1"), man_page(text, nullptr));
  for (const auto& command : text.commands)
    write_file(base / "man1" / (program + "-" + command.name + ".1"), man_page(text, &command));
  write_file(base / "bash" / program, bash_completion(text));
  write_file(base / "zsh" / ("_" + program), zsh_completion(text));
  write_file(base / "fish" / (program + ".fish"), fish_completion(text));
}

}  // namespace whorl::console
