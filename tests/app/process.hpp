// Running programs from tests: a folder of one's own, files in it, and processes that can be killed.
#pragma once
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "app/folder.hpp"

namespace process {

using testing::Folder;

inline std::string read(const std::string& path) {
  std::ifstream input(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(input), std::istreambuf_iterator<char>()};
}

inline void write(const std::string& path, const std::string& text) { std::ofstream(path, std::ios::binary) << text; }

inline bool present(const std::string& path) { return ::access(path.c_str(), F_OK) == 0; }

/// Starts a program with its two output streams in files.
inline pid_t start(const std::vector<std::string>& command, const std::string& out, const std::string& err) {
  std::vector<char*> argv;
  for (const auto& word : command) argv.push_back(const_cast<char*>(word.c_str()));
  argv.push_back(nullptr);
  const pid_t child = ::fork();
  if (child != 0) return child;
  ::dup2(::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600), STDOUT_FILENO);
  ::dup2(::open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600), STDERR_FILENO);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

/// Its exit code, or 1000 and the number of the signal that ended it.
inline int finish(pid_t child) {
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 1000 + WTERMSIG(status);
}

}  // namespace process
