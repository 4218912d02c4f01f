#include "table/sweep_file.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <system_error>
#include <utility>

#include "io/json_document.hpp"
#include "table/sweep_database.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

namespace whorl::table {
namespace {

std::string system_text(int error) { return std::generic_category().message(error); }

[[noreturn]] void cannot_open(const std::string& path, int error) { cannot_write(path, "", error); }

}  // namespace

std::string aside_path(const std::string& path) { return path + ".before-force"; }

std::unique_ptr<SweepOutput> open_sweep_output(SweepFileSetup setup) {
  if (names_database(setup.path)) return open_sweep_database(std::move(setup));
  return std::make_unique<SweepFile>(std::move(setup));
}

SweepFile::SweepFile(SweepFileSetup setup) : setup_(std::move(setup)), metadata_path_(io::csvw_file(setup_.path)) {
  if (setup_.path.empty()) {
    descriptor_ = STDOUT_FILENO;
    append(setup_.header);
    return;
  }
  refuse_special(setup_.path, "the name of a new file, or no output option for standard output");
  refuse_input_as_output(setup_.path, "-o");
  refuse_input_as_output(metadata_path_, "-o");
  const bool table = exists(setup_.path);
  const bool metadata = exists(metadata_path_);
  try {
    if (setup_.resume && (table || metadata)) {
      resume();
      return;
    }
    if (table || metadata) {
      if (!setup_.force)
        throw InputError(table ? setup_.path : metadata_path_, "", "already exists",
                         "--resume to go on with it, --force to start again, or another name");
      set_aside();
    }
    begin();
  } catch (...) {
    if (descriptor_ >= 0) ::close(descriptor_);
    throw;
  }
}

SweepFile::~SweepFile() {
  if (descriptor_ >= 0 && !setup_.path.empty()) ::close(descriptor_);
}

void SweepFile::lock() {
  // Two programs that append to one file would spoil it, for example a requeued job beside one that still runs.
  if (::flock(descriptor_, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
    throw InputError(setup_.path, "", "another program is writing to it", "one sweep per file");
}

void SweepFile::begin() {
  bool created = false;
  bool described = false;
  try {
    // The empty table first: whoever makes it owns the name, metadata included. A kill in between leaves what --resume
    // takes for begun.
    descriptor_ = ::open(setup_.path.c_str(), O_RDWR | O_APPEND | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    if (descriptor_ < 0 && errno == EEXIST)
      throw InputError(setup_.path, "", "another program is writing to it", "one sweep per file");
    if (descriptor_ < 0) cannot_open(setup_.path, errno);
    lock();  // fails when another program has opened the new file in between: it is that program's file now
    created = true;
    write_metadata();
    described = true;
    append(setup_.header);
    sync_folder(setup_.path);
  } catch (...) {
    if (created) ::unlink(setup_.path.c_str());
    if (described) ::unlink(metadata_path_.c_str());
    aside_.restore();
    throw;
  }
}

void SweepFile::write_metadata() {
  write_whole_file(metadata_path_, "", setup_.metadata, Existing::replace);
}

void SweepFile::set_aside() {
  // Held while the file is moved, so that no other program begins to write to it in between.
  const int descriptor = ::open(setup_.path.c_str(), O_RDONLY | O_CLOEXEC);
  const bool busy = descriptor >= 0 && ::flock(descriptor, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
  int failed = 0;
  if (!busy && !(aside_.take(setup_.path) && aside_.take(metadata_path_))) failed = errno;
  if (descriptor >= 0) ::close(descriptor);
  if (busy) throw InputError(setup_.path, "", "another program is writing to it", "one sweep per file");
  if (failed == 0) return;
  aside_.restore();
  cannot_open(setup_.path, failed);
}

bool SetAside::take(const std::string& path) {
  if (!exists(path)) return true;
  for (int number = 1; number < 1000; ++number) {
    const std::string to = aside_path(path) + (number == 1 ? "" : "-" + std::to_string(number));
    if (put_in_place(path, to, Existing::keep)) {
      moved_.emplace_back(path, to);
      return true;
    }
    if (errno != EEXIST) return false;
  }
  return false;
}

void SetAside::restore() noexcept {
  for (const auto& [from, to] : moved_) (void)put_in_place(to, from, Existing::keep);
  moved_.clear();
}

void SetAside::drop() noexcept {
  for (const auto& moved : moved_) ::unlink(moved.second.c_str());
  moved_.clear();
}

void SweepFile::resume() {
  const bool table = exists(setup_.path);
  if (table) {
    descriptor_ = ::open(setup_.path.c_str(), O_RDWR | O_APPEND | O_CLOEXEC);
    if (descriptor_ < 0) cannot_open(setup_.path, errno);
    lock();  // before anything is looked at: another program may be at work on it
  }
  const bool metadata = exists(metadata_path_);
  if (metadata) {
    const std::string difference =
        setup_.compare(io::read_text_file(metadata_path_, io::Named::earlier_output), metadata_path_);
    if (!difference.empty())
      throw InputError(setup_.path, "--resume", difference,
                       "the case, options and program version that began the file, or --force to start again");
  }
  if (!table) {
    begin();
    return;
  }

  // Whole rows are kept; what stands after the last line feed is the row at which an earlier run was killed.
  std::array<char, 1 << 16> buffer{};
  std::string line;
  std::int64_t whole = 0;
  bool header_seen = false;
  const auto refuse = [&](const std::string& what) {
    return InputError(setup_.path, "--resume", what, "a file that this sweep began, or --force to start again");
  };
  for (;;) {
    const auto count = ::read(descriptor_, buffer.data(), buffer.size());
    if (count < 0 && errno == EINTR) continue;
    if (count < 0) throw InputError(setup_.path, "", "cannot be read: " + system_text(errno), "a readable file");
    if (count == 0) break;
    std::string_view chunk(buffer.data(), static_cast<std::size_t>(count));
    while (!chunk.empty()) {
      const auto end = chunk.find('\n');
      line.append(chunk.substr(0, end));
      if (end == std::string_view::npos) break;
      chunk.remove_prefix(end + 1);
      whole += static_cast<std::int64_t>(line.size()) + 1;
      if (!header_seen) {
        if (line + '\n' != setup_.header) throw refuse("the header is not that of this sweep");
        header_seen = true;
      } else {
        const std::string complaint = setup_.check_row(kept_rows_, line);
        if (!complaint.empty()) throw refuse("line " + std::to_string(kept_rows_ + 2) + ": " + complaint);
        ++kept_rows_;
      }
      line.clear();
    }
    // A row is short; a megabyte without a line feed is some other file.
    if (line.size() > (std::size_t{1} << 20)) throw refuse("not a table of a sweep");
  }
  if (!header_seen && setup_.header.compare(0, line.size(), line) != 0)
    throw refuse("the header is not that of this sweep");
  if (!metadata) {
    if (header_seen || !line.empty())
      throw refuse("no metadata file beside it, so it cannot be told which case it is from");
    write_metadata();
  }
  if (::ftruncate(descriptor_, whole) != 0) cannot_open(setup_.path, errno);
  length_ = whole;
  if (!header_seen) append(setup_.header);
}

void SweepFile::append(std::string_view rows) {
  if (write_all(descriptor_, rows)) {
    length_ += static_cast<std::int64_t>(rows.size());
    return;
  }
  const int error = errno;
  if (setup_.path.empty()) throw OutputError("standard output: cannot be written: " + system_text(error));
  // Even when this fails too, a torn row is dropped on --resume.
  const bool cut = ::ftruncate(descriptor_, length_) == 0;
  std::string text = setup_.path + ": cannot be written: " + system_text(error) + "; the rows before are whole";
  if (!cut) text += " but the last one, which --resume drops";
  if (length_ > 0) text += "; go on later with --resume";
  if (!aside_.first().empty() && length_ > 0) text += "; the earlier file is " + aside_.first();
  throw OutputError(text);
}

void SweepFile::close(bool complete) {
  if (setup_.path.empty() || descriptor_ < 0) return;
  int error = ::fsync(descriptor_) != 0 && errno != EINVAL && errno != EROFS ? errno : 0;
  if (::close(descriptor_) != 0 && error == 0) error = errno;
  descriptor_ = -1;
  if (error != 0)
    throw OutputError(setup_.path + ": cannot be written: " + system_text(error) + "; check it with --resume");
  if (!complete) return;
  aside_.drop();
}

}  // namespace whorl::table
