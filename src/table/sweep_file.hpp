// The output file of a sweep: begun, continued and ended so that it is a whole number of rows at every moment that
// counts.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "whorl/io/csvw.hpp"

namespace whorl::table {

struct SweepFileSetup {
  std::string path;        ///< empty: standard output
  std::string metadata;    ///< text of the metadata document
  std::string header;      ///< first line with its line feed
  std::vector<io::TableColumn> columns{};  ///< the same with types, for a database
  bool resume{};
  bool force{};
  /// Compares an existing metadata document with the sweep at hand; empty text when they agree, else what differs.
  std::function<std::string(const std::string& text, const std::string& file)> compare;
  /// Checks row `number` (from 0) of an existing file, without its line feed; empty when it is the right one.
  std::function<std::string(std::uint64_t number, std::string_view row)> check_row;
};

/// Where rows go.
class SweepOutput {
 public:
  SweepOutput() = default;
  SweepOutput(const SweepOutput&) = delete;
  SweepOutput& operator=(const SweepOutput&) = delete;
  virtual ~SweepOutput() = default;

  /// Rows that were there already.
  [[nodiscard]] virtual std::uint64_t kept_rows() const noexcept = 0;
  /// Appends whole rows, as lines of CSV. Error: OutputError.
  virtual void append(std::string_view rows) = 0;
  /// Flushes to the disk; when `complete`, drops the earlier file that force had set aside. Error: OutputError.
  virtual void close(bool complete) = 0;
};

/// A CSV file, or a database when the name ends in .sqlite, .sqlite3 or .db.
/// Error: InputError when the file may not be used, OutputError when it cannot be written.
[[nodiscard]] std::unique_ptr<SweepOutput> open_sweep_output(SweepFileSetup setup);

/// Earlier files that --force moved out of the way, beside where they stood (aside_path), until the new ones are
/// complete. Files that stand under such a name already are another's, or of an earlier --force that did not end: they
/// stay.
class SetAside {
 public:
  /// Moves a file; what is not there is no failure. False with errno set.
  [[nodiscard]] bool take(const std::string& path);
  /// Moves all of them back, as far as nothing stands there now.
  void restore() noexcept;
  /// Removes them: the new ones are complete.
  void drop() noexcept;
  /// Where the first of them is now; empty: there is none.
  [[nodiscard]] std::string first() const { return moved_.empty() ? std::string() : moved_.front().second; }

 private:
  std::vector<std::pair<std::string, std::string>> moved_;  ///< from, to
};

class SweepFile final : public SweepOutput {
 public:
  /// Begins or continues the file. Metadata stands before the first row, and under its own name only when it is
  /// complete.
  /// Error: InputError when the file may not be used, OutputError when it cannot be written.
  explicit SweepFile(SweepFileSetup setup);
  SweepFile(const SweepFile&) = delete;
  SweepFile& operator=(const SweepFile&) = delete;
  ~SweepFile() override;

  [[nodiscard]] std::uint64_t kept_rows() const noexcept override { return kept_rows_; }
  /// Hands the rows to the system. After a failure the file is cut back to its last whole row.
  void append(std::string_view rows) override;
  void close(bool complete) override;

 private:
  void begin();
  void resume();
  void set_aside();
  void write_metadata();
  void lock();

  SweepFileSetup setup_;
  std::string metadata_path_;
  int descriptor_{-1};
  std::int64_t length_{};
  std::uint64_t kept_rows_{};
  SetAside aside_;
};

/// Where force keeps the earlier file until the new one is complete, when that name is free; else a number is added.
[[nodiscard]] std::string aside_path(const std::string& path);

}  // namespace whorl::table
