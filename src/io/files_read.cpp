#include "io/files_read.hpp"

#include <sys/stat.h>

#include <map>
#include <mutex>
#include <utility>

namespace whorl::io {
namespace {

struct FilesRead {
  std::mutex mutex;
  std::map<std::pair<unsigned long long, unsigned long long>, std::string> names;
};

FilesRead& files_read() {
  static FilesRead all;  // one command line, one process
  return all;
}

}  // namespace

void note_file_read(const std::string& path) {
  struct stat info {};
  if (::stat(path.c_str(), &info) != 0) return;
  FilesRead& all = files_read();
  const std::lock_guard<std::mutex> lock(all.mutex);
  all.names.try_emplace({info.st_dev, info.st_ino}, path);
}

std::string name_of_file_read(unsigned long long device, unsigned long long inode) {
  FilesRead& all = files_read();
  const std::lock_guard<std::mutex> lock(all.mutex);
  const auto found = all.names.find({device, inode});
  return found == all.names.end() ? std::string() : found->second;
}

void forget_files_read() noexcept {
  FilesRead& all = files_read();
  const std::lock_guard<std::mutex> lock(all.mutex);
  all.names.clear();
}

}  // namespace whorl::io
