// The program run in a folder, as a user at a shell would run it.
#pragma once
#include <string>
#include <vector>

#include "app/process.hpp"

namespace process {

struct Shown {
  int exit{};
  std::string out, err;
};

/// `before`: settings of the environment, "COLUMNS=60".
inline Shown show(const Folder& folder, const std::vector<std::string>& words, const std::string& before = {}) {
  std::string line = "cd '" + folder.path() + "' && " + before + " exec '" WHORL_BINARY "'";
  for (const auto& word : words) line += " '" + word + "'";
  const int exit = finish(start({"/bin/sh", "-c", line}, folder / "out", folder / "err"));
  return {exit, read(folder / "out"), read(folder / "err")};
}

}  // namespace process
