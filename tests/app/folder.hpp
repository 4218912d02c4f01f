// A folder of one's own for a test, removed at the end.
#pragma once
#include <stdlib.h>
#include <sys/stat.h>

#include <filesystem>
#include <stdexcept>
#include <string>
#include <system_error>

namespace testing {

class Folder {
 public:
  Folder() : path_((std::filesystem::temp_directory_path() / "whorl-test-XXXXXX").string()) {
    if (::mkdtemp(path_.data()) == nullptr) throw std::runtime_error("no folder for tests");
  }
  ~Folder() {
    ::chmod(path_.c_str(), 0700);  // a test may have made it read-only
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] std::string operator/(const std::string& name) const { return path_ + '/' + name; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  std::string path_;
};

}  // namespace testing
