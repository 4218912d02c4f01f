#include "table/whole_file.hpp"

#include <fcntl.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <charconv>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <map>
#include <mutex>
#include <system_error>
#include <utility>

#include "io/files_read.hpp"
#include "io/json_document.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::table {
namespace {

constexpr const char* kForceOrAnother = "--force to replace it, or another name";

std::string folder_of(const std::string& path) {
  const auto slash = path.rfind('/');
  return slash == std::string::npos ? "." : slash == 0 ? "/" : path.substr(0, slash);
}

bool at(const std::string& path) {
  struct stat info {};
  return ::lstat(path.c_str(), &info) == 0;
}

// The open descriptor of this program that a path stands for ("/dev/stdout"); -1: none. What it leads to is written to,
// never replaced.
int named_descriptor(const std::string& path) {
  if (path == "/dev/stdout") return STDOUT_FILENO;
  if (path == "/dev/stderr") return STDERR_FILENO;
  for (const std::string_view folder : {"/dev/fd/", "/proc/self/fd/"}) {
    if (path.compare(0, folder.size(), folder) != 0) continue;
    int number = -1;
    const auto [stop, error] = std::from_chars(path.data() + folder.size(), path.data() + path.size(), number);
    if (error == std::errc() && stop == path.data() + path.size() && number >= 0) return number;
  }
  return -1;
}

[[noreturn]] void already_exists(const std::string& path) {
  throw InputError(path, "", "already exists", kForceOrAnother);
}

void refuse_input(const struct stat& info, const std::string& path, const std::string& option) {
  const std::string name = io::name_of_file_read(info.st_dev, info.st_ino);
  if (name.empty()) return;
  throw InputError(
      path, option,
      name == path ? "is an input of this command" : "is the same file as " + name + ", an input of this command",
      "another name for the output");
}

struct OutputNames {
  std::mutex mutex;
  std::map<std::string, std::string> options;  // file -> option that named it
};

OutputNames& output_names() {
  static OutputNames names;  // one command line, one process
  return names;
}

// Two outputs of one command would replace each other.
void refuse_second_output(const std::string& target, const std::string& path, const std::string& option) {
  std::error_code error;
  const auto whole = std::filesystem::weakly_canonical(std::filesystem::absolute(target, error), error);
  OutputNames& names = output_names();
  const std::lock_guard<std::mutex> lock(names.mutex);
  const auto [found, first] = names.options.try_emplace(error ? target : whole.string(), option);
  if (!first && !option.empty() && !found->second.empty() && found->second != option)
    throw InputError(path, option, "is the output of " + found->second + " too", "a file of its own for each");
}

struct Place {
  std::string target;  ///< with links followed
  bool exists{};       ///< an ordinary file that may be replaced
  unsigned mode{};     ///< its rights
  bool direct{};       ///< a pipe, a device or a descriptor
  int descriptor{-1};  ///< of this program
};

// Where an output goes, after everything that could be against it.
Place place_of(const std::string& path, const std::string& option, Existing existing) {
  Place place{path};
  struct stat info {};
  place.descriptor = named_descriptor(path);
  if (place.descriptor >= 0) {
    if (::fstat(place.descriptor, &info) != 0) cannot_write(path, option, errno);
    refuse_input(info, path, option);
    place.direct = true;
    return place;
  }
  if (::stat(path.c_str(), &info) == 0) {
    if (S_ISDIR(info.st_mode)) throw InputError(path, option, "is a folder", "the name of a file");
    refuse_input(info, path, option);
    // A rename would replace a file that was made read-only.
    if (::access(path.c_str(), W_OK) != 0) cannot_write(path, option, errno);
    place.direct = !S_ISREG(info.st_mode);
    if (place.direct) return place;
    if (existing == Existing::keep) already_exists(path);
    place.exists = true;
    place.mode = info.st_mode & 07777U;
    std::error_code error;
    if (const auto real = std::filesystem::canonical(path, error); !error) place.target = real.string();
  } else if (existing == Existing::keep && at(path)) {
    already_exists(path);  // a link that leads nowhere
  }
  refuse_second_output(place.target, path, option);
  return place;
}

// Letters and digits that nobody can foresee: 60 bits.
std::string unforeseeable() {
  std::uint64_t number = 0;
  if (::getentropy(&number, sizeof number) != 0)
    number = static_cast<std::uint64_t>(::getpid()) * 0x9E3779B97F4A7C15U;  // O_EXCL still guards
  std::string text;
  for (int i = 0; i < 12; ++i, number >>= 5U) text += "abcdefghijklmnopqrstuvwxyz234567"[number & 31U];
  return text;
}

std::string draft_name(const std::string& target) {
  const std::string name = target.substr(target.rfind('/') + 1);  // npos + 1 is 0
  return target.substr(0, target.size() - name.size()) + '.' + name.substr(0, 200) + ".draft-" + unforeseeable();
}

bool same_bytes(const std::string& a, const std::string& b) noexcept {
  const int first = ::open(a.c_str(), O_RDONLY | O_CLOEXEC);
  const int second = ::open(b.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  struct stat one {};
  struct stat two {};
  bool same = first >= 0 && second >= 0 && ::fstat(first, &one) == 0 && ::fstat(second, &two) == 0 &&
              S_ISREG(two.st_mode) && one.st_size == two.st_size;
  std::array<char, 1 << 14> left{};
  std::array<char, 1 << 14> right{};
  while (same) {
    const auto read = ::read(first, left.data(), left.size());
    if (read <= 0) {
      same = read == 0;
      break;
    }
    for (ssize_t have = 0; same && have < read;) {
      const auto more = ::read(second, right.data(), static_cast<std::size_t>(read - have));
      same = more > 0 && std::string_view(left.data() + have, static_cast<std::size_t>(more)) ==
                             std::string_view(right.data(), static_cast<std::size_t>(more));
      have += more;
    }
  }
  if (first >= 0) ::close(first);
  if (second >= 0) ::close(second);
  return same;
}

// Held while a table and its metadata are put in place. Advisory, among programs like this one; where a file system has
// no locks, nothing.
class FolderLock {
 public:
  explicit FolderLock(const std::string& path)
      : descriptor_(::open(folder_of(path).c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
    if (descriptor_ >= 0) (void)::flock(descriptor_, LOCK_EX);
  }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  ~FolderLock() {
    if (descriptor_ >= 0) ::close(descriptor_);
  }

 private:
  int descriptor_;
};

}  // namespace

bool exists(const std::string& path) {
  struct stat info {};
  return ::lstat(path.c_str(), &info) == 0;
}

void refuse_special(const std::string& path, const std::string& allowed) {
  struct stat info {};
  if (::stat(path.c_str(), &info) == 0 && !S_ISREG(info.st_mode))
    throw InputError(path, "", "not a regular file", allowed);
}

void begin_command() {
  io::forget_files_read();
  OutputNames& names = output_names();
  const std::lock_guard<std::mutex> lock(names.mutex);
  names.options.clear();
}

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

void refuse_input_as_output(const std::string& path, const std::string& option) {
  struct stat info {};
  if (::stat(path.c_str(), &info) == 0) refuse_input(info, path, option);
}

void check_target(const std::string& path, const std::string& option, Existing existing) {
  const Place place = place_of(path, option, existing);
  if (!place.direct && ::access(folder_of(place.target).c_str(), W_OK | X_OK) != 0) cannot_write(path, option, errno);
}

void check_table_target(const std::string& path, const std::string& option, Existing existing,
                        const std::string& metadata) {
  // A folder, an input and rights come first; then what is there.
  const Place place = place_of(path, option, Existing::replace);
  if (place.direct) return;
  const std::string about = io::csvw_file(path);
  (void)place_of(about, option, Existing::replace);
  const bool table = at(path);
  if (existing == Existing::keep &&
      (table || (at(about) && existing_description(path, metadata, existing) == Existing::keep)))
    already_exists(table ? path : about);
  if (table) {
    const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (descriptor >= 0) {
      const bool busy = ::flock(descriptor, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
      ::close(descriptor);
      if (busy) throw InputError(path, "", "another program is writing to it", "another name, or wait for it");
    }
  }
  if (::access(folder_of(place.target).c_str(), W_OK | X_OK) != 0) cannot_write(path, option, errno);
}

bool put_in_place(const std::string& draft, const std::string& target, Existing existing) noexcept {
  if (existing == Existing::replace) return std::rename(draft.c_str(), target.c_str()) == 0;
#ifdef RENAME_NOREPLACE
  if (::renameat2(AT_FDCWD, draft.c_str(), AT_FDCWD, target.c_str(), RENAME_NOREPLACE) == 0) return true;
  if (errno != ENOSYS && errno != EINVAL) return false;
#endif
  // File systems that cannot rename so: a second name for the draft, which never replaces anything.
  if (::link(draft.c_str(), target.c_str()) == 0) return ::unlink(draft.c_str()) == 0;
  if (errno != EPERM && errno != EOPNOTSUPP && errno != ENOSYS && errno != EMLINK) return false;
  struct stat info {};
  if (::lstat(target.c_str(), &info) == 0) {
    errno = EEXIST;
    return false;
  }
  return std::rename(draft.c_str(), target.c_str()) == 0;
}

std::string private_folder_beside(const std::string& path, const std::string& option) {
  const auto slash = path.rfind('/');
  std::string name = (slash == std::string::npos ? std::string() : path.substr(0, slash + 1)) + ".draft-XXXXXX";
  if (::mkdtemp(name.data()) == nullptr) cannot_write(path, option, errno);
  return name;
}

DraftFile::DraftFile(std::string path, std::string option, Existing existing)
    : path_(std::move(path)), option_(std::move(option)), existing_(existing), target_(path_) {
  const Place place = place_of(path_, option_, existing_);
  target_ = place.target;
  direct_ = place.direct;
  if (!direct_) {
    open_draft(place.mode, place.exists);
    return;
  }
  descriptor_ = place.descriptor >= 0 ? ::fcntl(place.descriptor, F_DUPFD_CLOEXEC, 3)
                                      : ::open(path_.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY);
  if (descriptor_ < 0) cannot_write(path_, option_, errno);
}

void DraftFile::open_draft(unsigned mode, bool exists) {
  for (int attempt = 0; attempt < 100; ++attempt) {
    draft_ = draft_name(target_);
    descriptor_ = ::open(draft_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, exists ? 0600 : 0666);
    if (descriptor_ >= 0 || errno != EEXIST) break;
  }
  if (descriptor_ < 0) {
    draft_.clear();
    cannot_write(path_, option_, errno);
  }
  if (exists) (void)::fchmod(descriptor_, mode);
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
  // A terminal is shown what may be shown; files and pipes get what was written.
  const bool seen = direct_ && ::isatty(descriptor_) == 1;
  if (!(seen ? write_all(descriptor_, printable(bytes)) : write_all(descriptor_, bytes))) fail(errno);
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
  if (!put_in_place(draft_, target_, existing_)) {
    if (errno != EEXIST) fail(errno);
    // Another program was faster. When it made the same file, all is well.
    const bool same = same_bytes(draft_, target_);
    ::unlink(std::exchange(draft_, std::string()).c_str());
    if (!same) throw InputError(path_, option_, "has appeared while this command ran; it was kept", kForceOrAnother);
    return;
  }
  draft_.clear();
  sync_folder(target_);
}

void write_whole_file(const std::string& path, const std::string& option, std::string_view content, Existing existing) {
  DraftFile file(path, option, existing);
  file.append(content);
  file.commit();
}

void commit_table(DraftFile& description, DraftFile& table, const std::string& path) {
  description.flush();
  table.flush();
  const FolderLock lock(path);
  description.commit();
  table.commit();
}

Existing existing_description(const std::string& table, const std::string& metadata, Existing existing) {
  const std::string about = io::csvw_file(table);
  struct stat info {};
  if (metadata.empty() || ::lstat(about.c_str(), &info) != 0 || !S_ISREG(info.st_mode)) return existing;
  return io::read_text_file(about, io::Named::earlier_output) == metadata ? Existing::replace : existing;
}

void write_whole_table(const std::string& path, const std::string& option, const std::string& metadata,
                       std::string_view content, Existing existing) {
  DraftFile file(path, option, existing);
  file.append(content);
  if (file.direct()) {  // a pipe or a terminal has nothing beside it
    file.commit();
    return;
  }
  DraftFile description(io::csvw_file(path), option, existing_description(path, metadata, existing));
  description.append(metadata);
  commit_table(description, file, path);
}

}  // namespace whorl::table
