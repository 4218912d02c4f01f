// Output files that are either the earlier one or the new one, whole: a draft beside the target, flushed to the disk, then renamed.
#pragma once
#include <stdexcept>
#include <string>
#include <string_view>

namespace whorl::app {

/// The output could not be written (full disk, failing disk). What stood there before is untouched, or whole up to what the text says.
class OutputError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Trouble with the name or the rights of a file is bad input; a full or failing disk is not. `option` may be empty.
/// Error: always: InputError or OutputError; "nothing was changed" is part of the text.
[[noreturn]] void cannot_write(const std::string& path, const std::string& option, int error);

/// Writes all of it, whatever the system does by the piece. False with errno set when it fails.
[[nodiscard]] bool write_all(int descriptor, std::string_view bytes) noexcept;

/// A new or renamed entry of the folder of `path` survives a power cut after this. Best effort: not every file system can.
void sync_folder(const std::string& path) noexcept;

/// Says before a long computation what would stand in the way of writing to `path` after it: a folder, a missing folder, missing rights.
/// Error: InputError, naming `option`.
void check_target(const std::string& path, const std::string& option);

/// The same for a table and its metadata file, which are kept unless `force`; also refuses what another program is writing to.
/// `metadata`: an existing metadata file without table is no obstacle when it holds this already (what a kill between two renames leaves).
/// Error: InputError.
void check_table_target(const std::string& path, const std::string& option, bool force, const std::string& metadata = {});

/// A file that is written by the piece and appears under its name only when it is complete.
class DraftFile {
 public:
  /// Links are followed, so that the file they lead to is replaced. Pipes and terminals are written to directly.
  /// Error: InputError, naming `option`, for a folder, a missing folder, missing rights, or a file made read-only; OutputError.
  explicit DraftFile(std::string path, std::string option = {});
  DraftFile(const DraftFile&) = delete;
  DraftFile& operator=(const DraftFile&) = delete;
  ~DraftFile();  ///< without commit(): the draft is removed and nothing has changed

  /// Error: OutputError (or InputError when the reason is one of rights).
  void append(std::string_view bytes);
  /// Flushes and closes the draft: after this only the renaming can fail.
  void flush();
  /// flush(), then the rename.
  void commit();

 private:
  [[noreturn]] void fail(int error);

  std::string path_;    ///< as given, for messages
  std::string option_;
  std::string target_;  ///< with links followed
  std::string draft_;   ///< empty: written to directly
  int descriptor_{-1};
};

/// The whole of a file at once.
void write_whole_file(const std::string& path, const std::string& option, std::string_view content);

/// A table and its metadata: both are drafts until both are complete. To a pipe or a terminal goes the table alone.
/// Error: InputError, OutputError; neither file has changed then.
void write_whole_table(const std::string& path, const std::string& option, const std::string& metadata, std::string_view content);

}  // namespace whorl::app
