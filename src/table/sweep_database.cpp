#include "table/sweep_database.hpp"

#include "whorl/model/error.hpp"

#ifdef WHORL_WITH_SQLITE
#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <utility>
#include <vector>

#include "io/files_read.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#endif

namespace whorl::table {

bool names_database(std::string_view path) noexcept {
  for (const std::string_view ending : {".sqlite", ".sqlite3", ".db"})
    if (path.size() > ending.size() && path.substr(path.size() - ending.size()) == ending) return true;
  return false;
}

#ifndef WHORL_WITH_SQLITE

namespace {
[[noreturn]] void refuse(const std::string& path) {
  throw InputError(path, "", "a database, but this program was built without SQLite", "a name that ends in .csv");
}
}  // namespace

std::string database_library() { return {}; }
void refuse_beside_database(const std::string&, bool) {}
std::unique_ptr<SweepOutput> open_sweep_database(SweepFileSetup setup) { refuse(setup.path); }
std::string sweep_database_metadata(const std::string& path) { refuse(path); }
void read_sweep_database(const std::string& path, const std::function<void(std::string_view)>&) { refuse(path); }

#else

namespace {

constexpr int kApplication = 0x77686F72;  ///< "whor" in the header of the file
constexpr const char* kName = "the name of a database";
constexpr const char* kOurs = "a database that `whorl sweep` began";
constexpr int kRowsPerCommit = 20'000;
constexpr std::chrono::milliseconds kTimePerCommit{1000};

std::string journal(const std::string& path) { return path + "-journal"; }

// Empty, or with the first bytes of a journal, which are zero when it is over.
bool is_journal(const std::string& path) {
  constexpr std::string_view kMagic("\xd9\xd5\x05\xf9\x20\xa1\x63\xd7", 8);
  std::ifstream file(path, std::ios::binary);
  std::string first(kMagic.size(), '\0');
  file.read(first.data(), static_cast<std::streamsize>(first.size()));
  return file.gcount() == 0 || first == kMagic || first == std::string(kMagic.size(), '\0');
}

class Statement {
 public:
  Statement() = default;
  Statement(sqlite3* database, const std::string& sql) {
    code_ = sqlite3_prepare_v2(database, sql.c_str(), static_cast<int>(sql.size()), &statement_, nullptr);
  }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;
  Statement(Statement&& other) noexcept : statement_(std::exchange(other.statement_, nullptr)), code_(other.code_) {}
  Statement& operator=(Statement&& other) noexcept {
    std::swap(statement_, other.statement_);
    code_ = other.code_;
    return *this;
  }
  ~Statement() { sqlite3_finalize(statement_); }
  [[nodiscard]] int step() { return code_ != SQLITE_OK ? code_ : sqlite3_step(statement_); }
  void reset() { sqlite3_reset(statement_); }
  void bind(int at, std::string_view text) {
    sqlite3_bind_text(statement_, at, text.data(), static_cast<int>(text.size()), SQLITE_TRANSIENT);
  }
  [[nodiscard]] sqlite3_stmt* get() const noexcept { return statement_; }
  [[nodiscard]] std::string text(int column) const {
    const auto* bytes = sqlite3_column_text(statement_, column);
    return bytes == nullptr ? std::string()
                            : std::string(reinterpret_cast<const char*>(bytes),
                                          static_cast<std::size_t>(sqlite3_column_bytes(statement_, column)));
  }

 private:
  sqlite3_stmt* statement_{};
  int code_{SQLITE_OK};
};

// One connection; every error becomes a message of ours.
class Connection {
 public:
  Connection(std::string path, int flags) : path_(std::move(path)) {
    const int code = sqlite3_open_v2(path_.c_str(), &database_, flags, nullptr);
    if (code != SQLITE_OK) {
      const int error = database_ != nullptr ? sqlite3_system_errno(database_) : 0;
      sqlite3_close(database_);
      database_ = nullptr;
      if (error != 0 && (flags & SQLITE_OPEN_READONLY) != 0)
        throw InputError(path_, "", "cannot be opened (" + std::generic_category().message(error) + ")",
                         std::string(kOurs) + ", that exists and may be read");
      if (error != 0) cannot_write(path_, "", error);
      throw InputError(path_, "", std::string("cannot be opened: ") + sqlite3_errstr(code), kOurs);
    }
    // A file from elsewhere may not run anything: no triggers, no views, no functions in its schema.
    sqlite3_extended_result_codes(database_, 1);
    sqlite3_db_config(database_, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(database_, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(database_, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
    sqlite3_db_config(database_, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
    sqlite3_limit(database_, SQLITE_LIMIT_LENGTH, 1 << 20);
  }
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;
  ~Connection() { sqlite3_close(database_); }  // what is not committed is rolled back

  [[nodiscard]] sqlite3* get() const noexcept { return database_; }
  [[nodiscard]] Statement statement(const std::string& sql) const { return Statement(database_, sql); }
  [[nodiscard]] bool in_transaction() const noexcept { return sqlite3_get_autocommit(database_) == 0; }

  void run(const std::string& sql) {
    if (const int code = sqlite3_exec(database_, sql.c_str(), nullptr, nullptr, nullptr); code != SQLITE_OK) fail(code);
  }

  [[noreturn]] void fail(int code) const {
    const int kind = code & 0xFF;
    const int error = sqlite3_system_errno(database_);
    const std::string text = sqlite3_errstr(code);
    if (kind == SQLITE_FULL || kind == SQLITE_IOERR || kind == SQLITE_NOMEM)
      throw OutputError(path_ + ": cannot be written: " + (kind == SQLITE_FULL ? "No space left on device" : text) +
                        "; the rows before are whole; go on later with --resume");
    if (kind == SQLITE_BUSY || kind == SQLITE_LOCKED)
      throw InputError(path_, "", "another program is writing to it", "one sweep per file");
    if (kind == SQLITE_READONLY || kind == SQLITE_CANTOPEN || kind == SQLITE_PERM || kind == SQLITE_AUTH)
      throw InputError(path_, "",
                       "cannot be written: " + text +
                           (error != 0 ? " (" + std::generic_category().message(error) + ")" : std::string()),
                       "a file in a folder that exists and may be written to");
    throw InputError(path_, "", text, kOurs);
  }

 private:
  std::string path_;
  sqlite3* database_{};
};

std::string sql_identifier(const std::string& name) {
  std::string out = "\"";
  for (const char c : name) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + '"';
}

std::string points_sql(const std::vector<io::TableColumn>& columns) {
  std::string sql = "CREATE TABLE points(";
  for (const auto& column : columns) {
    if (column.name == "point") {
      sql += "\"point\" INTEGER PRIMARY KEY";
      continue;
    }
    const bool whole = column.datatype == "integer" || column.datatype == "boolean";
    sql += ", " + sql_identifier(column.name) + (whole ? " INTEGER" : column.datatype == "double" ? " REAL" : " TEXT");
    if (column.required) sql += " NOT NULL";
  }
  return sql + ")";
}

constexpr const char* kColumnsSql =
    "CREATE TABLE columns(position INTEGER PRIMARY KEY, name TEXT NOT NULL, datatype TEXT NOT NULL, unit TEXT, symbol "
    "TEXT, description TEXT)";
constexpr const char* kMetadataSql = "CREATE TABLE metadata(name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID";

// The schema, one entry a line; empty for a database that holds nothing.
std::string schema_of(const Connection& connection) {
  Statement all = connection.statement("SELECT type, name, sql FROM sqlite_master ORDER BY name");
  std::string text;
  int code = 0;
  while ((code = all.step()) == SQLITE_ROW) {
    if (sqlite3_column_type(all.get(), 2) == SQLITE_NULL) continue;  // indexes that SQLite makes itself
    text += all.text(0) + ' ' + all.text(1) + ' ' + all.text(2) + '\n';
    if (text.size() > (std::size_t{1} << 20)) break;
  }
  if (code != SQLITE_DONE) connection.fail(code);
  return text;
}

std::string schema_text(const std::vector<io::TableColumn>& columns) {
  return std::string("table columns ") + kColumnsSql + "\ntable metadata " + kMetadataSql + "\ntable points " +
         points_sql(columns) + '\n';
}

// The columns that the database describes; then its schema must be the one that follows from them, and nothing else.
std::vector<io::TableColumn> checked_columns(const Connection& connection, const std::string& path) {
  const std::string schema = schema_of(connection);
  std::vector<io::TableColumn> columns;
  if (schema.find(kColumnsSql) != std::string::npos) {
    Statement all =
        connection.statement("SELECT name, datatype, unit, symbol, description FROM columns ORDER BY position");
    int code = 0;
    while ((code = all.step()) == SQLITE_ROW && columns.size() <= 2000) {
      io::TableColumn column;
      column.name = all.text(0);
      column.datatype = all.text(1);
      // Whether a cell may be empty is said by the table itself.
      column.required = schema.find(sql_identifier(column.name) + (column.datatype == "double" ? " REAL NOT NULL"
                                                                   : column.datatype == "string"
                                                                       ? " TEXT NOT NULL"
                                                                       : " INTEGER NOT NULL")) != std::string::npos;
      columns.push_back(column);
    }
    if (code != SQLITE_DONE) connection.fail(code == SQLITE_ROW ? SQLITE_CORRUPT : code);
  }
  if (columns.empty() || columns.front().name != "point" || schema != schema_text(columns))
    throw InputError(path, "", "not a database of a sweep", kOurs);
  return columns;
}

std::string metadata_of(const Connection& connection, const std::string& path) {
  Statement one = connection.statement("SELECT value FROM metadata WHERE name = 'document'");
  const int code = one.step();
  if (code == SQLITE_DONE) throw InputError(path, "", "no metadata document", kOurs);
  if (code != SQLITE_ROW) connection.fail(code);
  return one.text(0);
}

std::string header_of(const std::vector<io::TableColumn>& columns) {
  std::string line;
  for (const auto& column : columns) line += (line.empty() ? "" : ",") + column.name;
  return line;
}

// The line of the CSV file that a stored row stands for.
void append_stored(std::string& line, const Statement& row, const std::vector<io::TableColumn>& columns) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const int at = static_cast<int>(i);
    if (i > 0) line.push_back(',');
    if (sqlite3_column_type(row.get(), at) == SQLITE_NULL) continue;
    if (i == 0) line += std::to_string(sqlite3_column_int64(row.get(), at));
    else if (columns[i].datatype == "boolean") line += sqlite3_column_int(row.get(), at) != 0 ? "true" : "false";
    else if (columns[i].datatype == "string") io::append_text(line, row.text(at));
    else io::append_number(line, sqlite3_column_double(row.get(), at));
  }
}

template <class Take>
void each_row(const Connection& connection, const std::vector<io::TableColumn>& columns, Take take) {
  Statement all = connection.statement("SELECT * FROM points ORDER BY point");
  std::string line;
  int code = 0;
  while ((code = all.step()) == SQLITE_ROW) {
    line.clear();
    append_stored(line, all, columns);
    take(line);
  }
  if (code != SQLITE_DONE) connection.fail(code);
}

class SweepDatabase final : public SweepOutput {
 public:
  explicit SweepDatabase(SweepFileSetup setup) : setup_(std::move(setup)) {
    refuse_special(setup_.path, kName);
    refuse_input_as_output(setup_.path, "-o");
    check_target(setup_.path, "-o", Existing::replace);
    if (exists(setup_.path)) {
      if (setup_.resume) {
        refuse_beside_database(setup_.path, true);
        resume();
        return;
      }
      if (!setup_.force)
        throw InputError(setup_.path, "", "already exists",
                         "--resume to go on with it, --force to start again, or another name");
      refuse_beside_database(setup_.path, true);
      set_aside();
    } else {
      refuse_beside_database(setup_.path, false);
    }
    begin();
  }
  ~SweepDatabase() override = default;
  SweepDatabase(const SweepDatabase&) = delete;
  SweepDatabase& operator=(const SweepDatabase&) = delete;

  [[nodiscard]] std::uint64_t kept_rows() const noexcept override { return kept_rows_; }

  void append(std::string_view rows) override {
    if (!connection_->in_transaction()) {
      connection_->run("BEGIN IMMEDIATE");
      begun_ = Clock::now();
      pending_ = 0;
    }
    while (!rows.empty()) {
      const auto end = rows.find('\n');
      insert(rows.substr(0, end));
      if (end == std::string_view::npos) break;
      rows.remove_prefix(end + 1);
    }
    if (pending_ >= kRowsPerCommit || Clock::now() - begun_ >= kTimePerCommit) commit();
  }

  void close(bool complete) override {
    if (connection_ == nullptr) return;
    if (complete) {
      if (!connection_->in_transaction()) connection_->run("BEGIN IMMEDIATE");
      connection_->run("UPDATE metadata SET value = 'yes' WHERE name = 'complete' AND value <> 'yes'");
    }
    if (connection_->in_transaction()) commit();
    insert_ = Statement();
    connection_.reset();
    sync_folder(setup_.path);
    if (complete) aside_.drop();
  }

 private:
  using Clock = std::chrono::steady_clock;

  // Of two programs that come at one moment the one that made the file waits longer than the other one, which looks and
  // goes.
  static constexpr int kMakerWaits_ms = 5000, kVisitorWaits_ms = 1000;

  void open(int flags, int waits_ms) {
    connection_ = std::make_unique<Connection>(setup_.path, flags);
    sqlite3_busy_timeout(connection_->get(), waits_ms);
    // Held until the end: two programs do not write to one file. FULL: what is committed survives a power cut.
    connection_->run("PRAGMA locking_mode = EXCLUSIVE; PRAGMA synchronous = FULL; PRAGMA cell_size_check = ON");
  }

  void begin() {
    // Made here, so that only a file of our own is removed when it cannot be begun. An empty file is an empty database.
    const int descriptor = ::open(setup_.path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
    if (descriptor < 0) {
      const int error = errno;
      aside_.restore();
      if (error == EEXIST) throw InputError(setup_.path, "", "another program is writing to it", "one sweep per file");
      cannot_write(setup_.path, "-o", error);
    }
    ::close(descriptor);
    try {
      open(SQLITE_OPEN_READWRITE, kMakerWaits_ms);
      create();
    } catch (...) {
      connection_.reset();
      if (!locked()) {  // else another program was faster: it is its file now
        ::unlink(setup_.path.c_str());
        ::unlink(journal(setup_.path).c_str());
        aside_.restore();
      }
      throw;
    }
    prepare();
  }

  void create() {
    connection_->run("BEGIN EXCLUSIVE; PRAGMA application_id = " + std::to_string(kApplication) +
                     "; PRAGMA user_version = 1; " + points_sql(setup_.columns) + "; " + kColumnsSql + "; " +
                     kMetadataSql);
    Statement column = connection_->statement(
        "INSERT INTO columns(name, datatype, unit, symbol, description) VALUES(?1, ?2, ?3, ?4, ?5)");
    for (const auto& each : setup_.columns) {
      int at = 0;
      for (const std::string& text : {each.name, each.datatype, each.unit, each.symbol, each.description})
        column.bind(++at, text);
      done(column);
    }
    Statement fact = connection_->statement("INSERT INTO metadata(name, value) VALUES(?1, ?2)");
    const io::TableIdentity identity = io::read_csvw_identity(setup_.metadata, setup_.path);
    std::vector<std::pair<std::string, std::string>> facts{{"document", setup_.metadata},
                                                           {"identity", identity.identity},
                                                           {"version", identity.program_version},
                                                           {"case_sha256", identity.case_sha256},
                                                           {"complete", "no"}};
    for (const auto& [name, value] : identity.facts) {
      // a fact that is given more than once ("varied") becomes one of several lines
      bool joined = false;
      for (auto& [known, text] : facts)
        if (known == name) {
          text += '\n' + value;
          joined = true;
        }
      if (!joined) facts.emplace_back(name, value);
    }
    for (const auto& [name, value] : facts) {
      fact.bind(1, name);
      fact.bind(2, value);
      done(fact);
    }
    connection_->run("COMMIT");
  }

  void prepare() {
    std::string sql = "INSERT INTO points VALUES(";
    for (std::size_t i = 0; i < setup_.columns.size(); ++i) sql += i == 0 ? "?" : ",?";
    insert_ = connection_->statement(sql + ")");
  }

  void done(Statement& statement) const {
    if (const int code = statement.step(); code != SQLITE_DONE) connection_->fail(code);
    statement.reset();
  }

  void resume() {
    open(SQLITE_OPEN_READWRITE, kVisitorWaits_ms);
    // A run that was killed in a transaction left a journal: this first reading rolls it back.
    if (schema_of(*connection_).empty()) {
      create();
      prepare();
      return;
    }
    const auto columns = checked_columns(*connection_, setup_.path);
    const std::string difference = setup_.compare(metadata_of(*connection_, setup_.path), setup_.path);
    if (!difference.empty())
      throw InputError(setup_.path, "--resume", difference,
                       "the case, options and program version that began the file, or --force to start again");
    if (schema_text(columns) != schema_text(setup_.columns))
      throw InputError(setup_.path, "--resume", "the columns are not those of this sweep", kOurs);
    each_row(*connection_, columns, [&](const std::string& line) {
      const std::string complaint = setup_.check_row(kept_rows_, line);
      if (!complaint.empty())
        throw InputError(setup_.path, "--resume", complaint, "a file that this sweep began, or --force to start again");
      ++kept_rows_;
    });
    prepare();
  }

  void set_aside() {
    try {
      Connection old(setup_.path, SQLITE_OPEN_READWRITE);
      old.run("BEGIN EXCLUSIVE; COMMIT");  // rolls back what a kill left, so that no journal stays behind; refuses when
                                           // another program writes
    } catch (const InputError&) {
      if (locked()) throw;
    } catch (const OutputError&) {
      // no database: replaced as any file
    }
    if (!aside_.take(setup_.path)) cannot_write(setup_.path, "", errno);
    ::unlink(journal(setup_.path).c_str());
  }

  [[nodiscard]] bool locked() const {
    sqlite3* database = nullptr;
    sqlite3_open_v2(setup_.path.c_str(), &database, SQLITE_OPEN_READWRITE, nullptr);
    const int code = sqlite3_exec(database, "BEGIN EXCLUSIVE; COMMIT", nullptr, nullptr, nullptr);
    sqlite3_close(database);
    return (code & 0xFF) == SQLITE_BUSY;
  }

  void insert(std::string_view line) {
    if (!io::split_csv_line(line, cells_) || cells_.size() != setup_.columns.size())
      throw OutputError(setup_.path + ": a row that is none");
    for (std::size_t i = 0; i < cells_.size(); ++i)
      bind(static_cast<int>(i) + 1, setup_.columns[i].datatype, cells_[i]);
    done(insert_);
    ++pending_;
  }

  void bind(int at, const std::string& datatype, const std::string& cell) {
    if (cell.empty()) {
      sqlite3_bind_null(insert_.get(), at);
    } else if (datatype == "boolean") {
      sqlite3_bind_int(insert_.get(), at, cell == "true" ? 1 : 0);
    } else if (datatype == "string") {
      insert_.bind(at, cell);
    } else {
      double value = 0.0;
      const auto [stop, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
      if (error != std::errc() || stop != cell.data() + cell.size()) insert_.bind(at, cell);
      else if (datatype == "integer" && value == std::floor(value) && std::abs(value) < 9e15)
        sqlite3_bind_int64(insert_.get(), at, static_cast<sqlite3_int64>(value));
      else sqlite3_bind_double(insert_.get(), at, value);
    }
  }

  void commit() {
    connection_->run("COMMIT");
    pending_ = 0;
  }

  SweepFileSetup setup_;
  std::unique_ptr<Connection> connection_;
  Statement insert_;  // before the connection goes, this goes: declared later
  std::vector<std::string> cells_;
  std::uint64_t kept_rows_{};
  int pending_{};
  Clock::time_point begun_{};
  SetAside aside_;
};

}  // namespace

void refuse_beside_database(const std::string& path, bool begun) {
  for (const char* ending : {"-journal", "-wal", "-shm"}) {
    const std::string beside = path + ending;
    if (!exists(beside)) continue;
    refuse_input_as_output(beside, "-o");
    if (!begun && exists(path)) return;  // another program has just begun it: said when it is made
    if (begun && (beside != journal(path) || is_journal(beside))) continue;
    throw InputError(path, "", "a file " + beside + " stands beside it, which the database would take for its own",
                     "another name, or that file moved away");
  }
}

std::string database_library() { return sqlite3_libversion(); }

std::unique_ptr<SweepOutput> open_sweep_database(SweepFileSetup setup) {
  return std::make_unique<SweepDatabase>(std::move(setup));
}

std::string sweep_database_metadata(const std::string& path) {
  refuse_special(path, kName);
  io::note_file_read(path);
  const Connection connection(path, SQLITE_OPEN_READONLY);
  (void)checked_columns(connection, path);
  return metadata_of(connection, path);
}

void read_sweep_database(const std::string& path, const std::function<void(std::string_view)>& take) {
  refuse_special(path, kName);
  io::note_file_read(path);
  const Connection connection(path, SQLITE_OPEN_READONLY);
  const auto columns = checked_columns(connection, path);
  take(header_of(columns));
  each_row(connection, columns, [&](const std::string& line) { take(line); });
}

#endif

}  // namespace whorl::table
