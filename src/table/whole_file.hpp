// Output files: the one place that says what an output may do to what stands under its name.
// The rule for every output of every command:
// - never onto an input of the same command (same device and inode, so also through links),
//   nor onto another output of it;
// - onto an existing file only with --force, and then that file stays whole under its name until the new
//   one is complete;
// - what is written before that is a draft beside the target, made exclusively under a name that cannot be foreseen.
#pragma once
#include <stdexcept>
#include <string>
#include <string_view>

namespace whorl::table {

/// The output could not be written (full disk, failing disk). What stood there before is untouched, or whole up to what
/// the text says.
class OutputError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// What may happen to a file that stands under the name of an output: --force says `replace`.
enum class Existing { keep, replace };
[[nodiscard]] constexpr Existing existing_if(bool force) noexcept { return force ? Existing::replace : Existing::keep; }

/// First thing in every command: what was read and written before, in the same process, belongs to another one.
void begin_command();

/// Trouble with the name or the rights of a file is bad input; a full or failing disk is not. `option` may be empty.
/// Error: always: InputError or OutputError; "nothing was changed" is part of the text.
[[noreturn]] void cannot_write(const std::string& path, const std::string& option, int error);

/// Also of a link that leads nowhere.
[[nodiscard]] bool exists(const std::string& path);

/// Folders, devices and pipes take no table that is read again. Error: InputError, with what is `allowed`.
void refuse_special(const std::string& path, const std::string& allowed);

/// Writes all of it, whatever the system does by the piece. False with errno set when it fails.
[[nodiscard]] bool write_all(int descriptor, std::string_view bytes) noexcept;

/// A new or renamed entry of the folder of `path` survives a power cut after this. Best effort: not every file system
/// can.
void sync_folder(const std::string& path) noexcept;

/// The rule's first half, for outputs that are not written by DraftFile (tables of sweep): `path` leads to no input of
/// this command. Error: InputError.
void refuse_input_as_output(const std::string& path, const std::string& option);

/// Says before a long computation what would stand in the way of writing to `path` after it: an input or another output
/// of the command, a file that is there, a folder, a missing folder, missing rights. Error: InputError, naming
/// `option`.
void check_target(const std::string& path, const std::string& option, Existing existing);

/// The same for a table and its metadata file; also refuses what another program is writing to. Pipes and devices take
/// the table alone. `metadata`: an existing metadata file without table is no obstacle when it holds this already (what
/// a kill between two renames leaves). Error: InputError.
void check_table_target(const std::string& path, const std::string& option, Existing existing,
                        const std::string& metadata = {});

/// A file that is written by the piece and appears under its name only when it is complete.
class DraftFile {
 public:
  /// Links are followed, so that the file they lead to is replaced. Pipes, terminals and open descriptors (/dev/stdout)
  /// are written to directly. Error: InputError, naming `option`, for what check_target() refuses; OutputError.
  DraftFile(std::string path, std::string option, Existing existing);
  DraftFile(const DraftFile&) = delete;
  DraftFile& operator=(const DraftFile&) = delete;
  ~DraftFile();  ///< without commit(): the draft is removed and nothing has changed

  /// Error: OutputError (or InputError when the reason is one of rights).
  void append(std::string_view bytes);
  /// Flushes and closes the draft: after this only the renaming can fail.
  void flush();
  /// flush(), then the rename. A file that has appeared since the start stays when it is to be kept, unless it has the
  /// very same bytes. Error: InputError, OutputError.
  void commit();

  [[nodiscard]] bool direct() const noexcept { return direct_; }

 private:
  [[noreturn]] void fail(int error);
  void open_draft(unsigned mode, bool exists);

  std::string path_;  ///< as given, for messages
  std::string option_;
  Existing existing_;
  std::string target_;  ///< with links followed
  std::string draft_;   ///< empty: written to directly, or gone
  bool direct_{};
  int descriptor_{-1};
};

/// The whole of a file at once.
void write_whole_file(const std::string& path, const std::string& option, std::string_view content, Existing existing);

/// Puts both in place, so that of two programs which do this at one time one wins with both files.
/// Error: InputError, OutputError; the table has not changed then.
void commit_table(DraftFile& description, DraftFile& table, const std::string& path);

/// What may happen to a metadata file: one that holds `metadata` already may be written again, whatever the rule for
/// the table.
[[nodiscard]] Existing existing_description(const std::string& table, const std::string& metadata, Existing existing);

/// A table and its metadata: both are drafts until both are complete. To a pipe or a terminal goes the table alone.
/// Error: InputError, OutputError; neither file has changed then.
void write_whole_table(const std::string& path, const std::string& option, const std::string& metadata,
                       std::string_view content, Existing existing);

/// Moves `draft` to `target`: over what is there, or (keep) only when nothing is. Error: false with errno set.
[[nodiscard]] bool put_in_place(const std::string& draft, const std::string& target, Existing existing) noexcept;

/// A new folder beside `path` that nobody else can enter, for drafts that a library writes (databases).
/// Error: InputError, OutputError, as for writing `path`.
[[nodiscard]] std::string private_folder_beside(const std::string& path, const std::string& option);

}  // namespace whorl::table
