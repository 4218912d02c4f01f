#include "app/whole_file.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <filesystem>
#include <system_error>
#include <utility>

#include "io/csvw.hpp"
#include "io/json_document.hpp"
#include "model/error.hpp"

namespace whorl::app {

void cannot_write(const std::string& path, const std::string& option, int error) {
  const std::string text = std::generic_category().message(error);
  if (error == ENOSPC || error == EDQUOT || error == EFBIG || error == EIO)
    throw OutputError(path + ": cannot be written: " + text + "; nothing was changed");
  throw InputError(path, option, "cannot be written: " + text, "a file in a folder that exists and may be written to");
}

bool write_all(int descriptor, std::string_view bytes) noexcept {
  while (!bytes.empty()) {
    const auto written = ::write(descriptor, bytes.data(), bytes.size());
    if (written < 0) {
      if (errno == EINTR) continue;
      return false;
    }
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return true;
}

void sync_folder(const std::string& path) noexcept {
  const auto slash = path.rfind('/');
  // No std::string that could throw: the folder is opened by the front part of the path.
  char folder[4096] = ".";
  if (slash != std::string::npos) {
    const std::size_t length = slash == 0 ? 1 : slash;
    if (length >= sizeof folder) return;
    path.copy(folder, length);
    folder[length] = '\0';
  }
  const int descriptor = ::open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return;
  (void)::fsync(descriptor);
  ::close(descriptor);
}

void check_target(const std::string& path, const std::string& option) {
  struct stat info {};
  std::string target = path;
  if (::stat(path.c_str(), &info) == 0) {
    if (S_ISDIR(info.st_mode)) throw InputError(path, option, "is a folder", "the name of a file");
    if (::access(path.c_str(), W_OK) != 0) cannot_write(path, option, errno);
    if (!S_ISREG(info.st_mode)) return;
    std::error_code error;
    if (const auto real = std::filesystem::canonical(path, error); !error) target = real.string();
  }
  const auto slash = target.rfind('/');
  const std::string folder = slash == std::string::npos ? "." : slash == 0 ? "/" : target.substr(0, slash);
  if (::access(folder.c_str(), W_OK | X_OK) != 0) cannot_write(path, option, errno);
}

void check_table_target(const std::string& path, const std::string& option, bool force, const std::string& metadata) {
  struct stat info {};
  const std::string about = io::csvw_file(path);
  const bool table = ::lstat(path.c_str(), &info) == 0;
  if (table && ::stat(path.c_str(), &info) == 0 && !S_ISREG(info.st_mode))
    throw InputError(path, option, "not a regular file", "the name of a new file");
  const bool description = ::lstat(about.c_str(), &info) == 0;
  if (!force && (table || (description && (metadata.empty() || io::read_text_file(about, io::Named::in_a_file) != metadata))))
    throw InputError(table ? path : about, "", "already exists", "--force to replace it, or another name");
  if (table) {
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (descriptor >= 0) {
      const bool busy = ::flock(descriptor, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
      ::close(descriptor);
      if (busy) throw InputError(path, "", "another program is writing to it", "another name, or wait for it");
    }
  }
  check_target(path, option);
}

DraftFile::DraftFile(std::string path, std::string option) : path_(std::move(path)), option_(std::move(option)), target_(path_) {
  struct stat info {};
  const bool exists = ::stat(path_.c_str(), &info) == 0;
  if (exists && S_ISDIR(info.st_mode)) throw InputError(path_, option_, "is a folder", "the name of a file");
  if (exists && !S_ISREG(info.st_mode)) {
    descriptor_ = ::open(path_.c_str(), O_WRONLY | O_CLOEXEC);
    if (descriptor_ < 0) cannot_write(path_, option_, errno);
    return;
  }
  if (exists) {
    // A rename would replace a file that was made read-only.
    if (::access(path_.c_str(), W_OK) != 0) cannot_write(path_, option_, errno);
    std::error_code error;
    const auto real = std::filesystem::canonical(path_, error);
    if (!error) target_ = real.string();
  }
  draft_ = target_ + ".tmp";
  descriptor_ = ::open(draft_.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
  if (descriptor_ < 0) {
    draft_.clear();
    cannot_write(path_, option_, errno);
  }
  if (exists) (void)::fchmod(descriptor_, info.st_mode & 07777U);
}

DraftFile::~DraftFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
  if (!draft_.empty()) ::unlink(draft_.c_str());
}

void DraftFile::fail(int error) {
  if (descriptor_ >= 0) ::close(std::exchange(descriptor_, -1));
  if (!draft_.empty()) ::unlink(std::exchange(draft_, std::string()).c_str());
  cannot_write(path_, option_, error);
}

void DraftFile::append(std::string_view bytes) {
  if (!write_all(descriptor_, bytes)) fail(errno);
}

void DraftFile::flush() {
  if (descriptor_ < 0) return;
  if (::fsync(descriptor_) != 0 && errno != EINVAL && errno != EROFS) fail(errno);
  const int descriptor = std::exchange(descriptor_, -1);
  if (::close(descriptor) != 0) fail(errno);
}

void DraftFile::commit() {
  flush();
  if (draft_.empty()) return;
  if (std::rename(draft_.c_str(), target_.c_str()) != 0) fail(errno);
  draft_.clear();
  sync_folder(target_);
}

void write_whole_file(const std::string& path, const std::string& option, std::string_view content) {
  DraftFile file(path, option);
  file.append(content);
  file.commit();
}

void write_whole_table(const std::string& path, const std::string& option, const std::string& metadata, std::string_view content) {
  struct stat info {};
  if (::stat(path.c_str(), &info) == 0 && !S_ISREG(info.st_mode) && !S_ISDIR(info.st_mode)) {  // a pipe or a terminal has nothing beside it
    write_whole_file(path, option, content);
    return;
  }
  DraftFile description(io::csvw_file(path), option);
  description.append(metadata);
  DraftFile file(path, option);
  file.append(content);
  description.flush();
  file.flush();
  description.commit();
  file.commit();
}

}  // namespace whorl::app
