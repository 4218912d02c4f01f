// In which form a command answers.
#pragma once
#include <string>

namespace whorl::answer {

/// `--format` and `--fragment` of commands that answer in every form (app/answer.hpp).
struct FormArguments {
  std::string format;  ///< text, json, markdown, latex or html; empty: text
  bool fragment{};     ///< LaTeX without preamble
};

}  // namespace whorl::answer
