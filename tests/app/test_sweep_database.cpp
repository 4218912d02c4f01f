// Sweeps and joined shares as SQLite databases: the same rows as the CSV file, read back with the library itself.
#include <sys/stat.h>

#include <algorithm>
#include <cstdlib>
#include <functional>
#include <map>
#include <memory>
#include <sstream>

#include "app/commands.hpp"
#include "app/process.hpp"
#include "table/sweep_database.hpp"
#include "app/sweep_model.hpp"
#include "table/whole_file.hpp"
#include "catch.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"
#include "refusal.hpp"

#ifdef WHORL_WITH_SQLITE
#include <sqlite3.h>
#endif

using process::Folder;
using process::present;
using process::read;
using process::write;
using testing::refusal;
using whorl::app::SweepArguments;
using whorl::app::SweepCase;

namespace {

SweepArguments arguments(const std::string& output, const std::string& design = "grid") {
  SweepArguments a;
  a.spec.vary = {"rotation_speed=4000 rpm..9000 rpm:6", "gas_overpressure=0 MPa..0.6 MPa:7"};
  if (design != "grid") {
    a.spec.vary = {"rotation_speed=4000 rpm..9000 rpm", "gas_overpressure=0 MPa..0.6 MPa"};
    a.spec.design = design;
    a.spec.points = 42;
  }
  a.output = output;
  a.quiet = true;
  return a;
}

int run(const SweepArguments& a, const SweepCase& c = sweep_test::make_case(), const std::string& version = "0.test", const sweep_test::Model& model = {}) {
  std::ostringstream out;
  std::ostringstream err;
  whorl::table::begin_command();
  return whorl::app::sweep(a, c, version, model, out, err);
}

int merge(const std::vector<std::string>& shares, const std::string& output, bool force = false) {
  std::ostringstream out;
  std::ostringstream err;
  return whorl::app::run_merge({shares, output, force, false, true}, {out, err});
}

bool says(const std::string& text, const std::string& part) {
  INFO(text);
  return text.find(part) != std::string::npos;
}

}  // namespace

#ifndef WHORL_WITH_SQLITE

TEST_CASE("without the library a database is refused by name") {
  const Folder folder;
  CHECK(says(refusal([&] { (void)run(arguments(folder / "a.sqlite")); }), "built without SQLite"));
}

#else

namespace {

struct Database {
  sqlite3* handle{};
  explicit Database(const std::string& path) { REQUIRE(sqlite3_open_v2(path.c_str(), &handle, SQLITE_OPEN_READWRITE, nullptr) == SQLITE_OK); }
  ~Database() { sqlite3_close(handle); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  void run(const std::string& sql) const { REQUIRE(sqlite3_exec(handle, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK); }
  // Rows of cells as the library gives them: type and text.
  [[nodiscard]] std::vector<std::vector<std::pair<int, std::string>>> rows(const std::string& sql) const {
    sqlite3_stmt* statement = nullptr;
    REQUIRE(sqlite3_prepare_v2(handle, sql.c_str(), -1, &statement, nullptr) == SQLITE_OK);
    std::vector<std::vector<std::pair<int, std::string>>> all;
    while (sqlite3_step(statement) == SQLITE_ROW) {
      all.emplace_back();
      for (int i = 0; i < sqlite3_column_count(statement); ++i) {
        const int type = sqlite3_column_type(statement, i);
        std::string text;
        if (type == SQLITE_FLOAT) whorl::io::append_number(text, sqlite3_column_double(statement, i));
        else if (const auto* bytes = sqlite3_column_text(statement, i); bytes != nullptr) text = reinterpret_cast<const char*>(bytes);
        all.back().emplace_back(type, text);
      }
    }
    sqlite3_finalize(statement);
    return all;
  }
  [[nodiscard]] std::string one(const std::string& sql) const {
    const auto all = rows(sql);
    return all.empty() ? std::string("none") : all[0][0].second;
  }
};

}  // namespace

TEST_CASE("a database holds the rows of the CSV file with their types, and says what they are") {
  const Folder folder;
  const std::string design = GENERATE("grid", "latin-hypercube", "sobol");
  INFO(design);
  REQUIRE(run(arguments(folder / "whole.csv", design)) == 0);
  auto a = arguments(folder / "a.sqlite", design);
  a.threads = GENERATE(1, 3);
  REQUIRE(run(a) == 0);
  CHECK_FALSE(present(folder / "a.sqlite-metadata.json"));
  CHECK_FALSE(present(folder / "a.sqlite-journal"));
  const Database database(folder / "a.sqlite");
  CHECK(database.one("PRAGMA integrity_check") == "ok");
  CHECK(database.one("PRAGMA user_version") == "1");
  CHECK(database.one("SELECT value FROM metadata WHERE name = 'complete'") == "yes");
  CHECK(database.one("SELECT value FROM metadata WHERE name = 'points'") == "42");
  CHECK(database.one("SELECT value FROM metadata WHERE name = 'case_sha256'") == std::string(64, 'a'));
  CHECK(database.one("SELECT value FROM metadata WHERE name = 'version'") == "0.test");

  const auto described = whorl::io::read_csvw_columns(read(folder / "whole.csv-metadata.json"), "whole");
  std::vector<std::string> cells;
  std::istringstream lines(read(folder / "whole.csv"));
  std::string line;
  REQUIRE(std::getline(lines, line));
  REQUIRE(whorl::io::split_csv_line(line, cells));
  const auto names = database.rows("SELECT name, datatype, unit, description FROM columns ORDER BY position");
  REQUIRE(names.size() == cells.size());
  REQUIRE(described.size() == cells.size());
  for (std::size_t i = 0; i < cells.size(); ++i) {
    CHECK(names[i][0].second == cells[i]);
    CHECK(names[i][1].second == described[i].datatype);
    CHECK(names[i][2].second == described[i].unit);
    CHECK(names[i][3].second == described[i].description);
  }
  const auto rows = database.rows("SELECT * FROM points ORDER BY point");
  REQUIRE(rows.size() == 42);
  std::map<int, int> kinds;
  for (const auto& row : rows) {
    REQUIRE(std::getline(lines, line));
    REQUIRE(whorl::io::split_csv_line(line, cells));
    REQUIRE(row.size() == cells.size());
    for (std::size_t i = 0; i < cells.size(); ++i) {
      INFO(described[i].name << ": " << cells[i]);
      ++kinds[row[i].first];
      if (cells[i].empty()) CHECK(row[i].first == SQLITE_NULL);
      else if (described[i].datatype == "boolean") CHECK(row[i].second == (cells[i] == "true" ? "1" : "0"));
      else if (described[i].datatype == "string") CHECK(row[i] == std::pair<int, std::string>(SQLITE_TEXT, cells[i]));
      else if (described[i].datatype == "integer") CHECK((row[i].first == SQLITE_INTEGER && std::stod(row[i].second) == std::stod(cells[i])));
      else CHECK(row[i] == std::pair<int, std::string>(SQLITE_FLOAT, cells[i]));  // the same shortest text: the same double
    }
  }
  for (const int kind : {SQLITE_NULL, SQLITE_TEXT, SQLITE_INTEGER, SQLITE_FLOAT}) CHECK(kinds[kind] > 0);

  // and back: the bytes of the CSV file and of its metadata
  ::mkdir((folder / "back").c_str(), 0700);
  REQUIRE(merge({folder / "a.sqlite"}, folder / "back/whole.csv") == 0);
  CHECK(read(folder / "back/whole.csv") == read(folder / "whole.csv"));
  CHECK(read(folder / "back/whole.csv-metadata.json") == read(folder / "whole.csv-metadata.json"));
}

TEST_CASE("shares join to a database, from databases and CSV files alike; what does not fit is refused") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "whole.csv")) == 0);
  const auto share = [&](const std::string& name, const char* part, const std::string& version = "0.test", const SweepCase& c = sweep_test::make_case()) {
    auto a = arguments(folder / name);
    a.part = part;
    REQUIRE(run(a, c, version) <= 1);
    return a.output;
  };
  const std::vector<std::string> shares{share("3.db", "3/3"), share("1.csv", "1/3"), share("2.sqlite3", "2/3")};
  const std::string out = folder / "joined.sqlite";
  const auto why = [&](const std::vector<std::string>& some) {
    const std::string text = refusal([&] { (void)merge(some, out); });
    CHECK_FALSE(present(out));
    CHECK_FALSE(present(out + ".tmp"));
    return text;
  };
  SweepCase other = sweep_test::make_case();
  other.sha256 = std::string(64, 'c');
  CHECK(says(why({shares[0], shares[1]}), "rows 15 to 28 are missing"));
  CHECK(says(why({shares[0], shares[1], shares[2], shares[2]}), "rows 15 to 28 are also in"));
  CHECK(says(why({shares[0], shares[1], share("v.sqlite", "2/3", "1.other")}), "version 1.other"));
  CHECK(says(why({shares[0], shares[1], share("c.sqlite", "2/3", "0.test", other)}), "another case"));
  REQUIRE(merge(shares, out) == 0);
  CHECK_FALSE(present(out + ".tmp"));
  ::mkdir((folder / "back").c_str(), 0700);
  REQUIRE(merge({out}, folder / "back/whole.csv") == 0);
  CHECK(read(folder / "back/whole.csv") == read(folder / "whole.csv"));
  CHECK(read(folder / "back/whole.csv-metadata.json") == read(folder / "whole.csv-metadata.json"));
  CHECK(says(refusal([&] { (void)merge(shares, out); }), "already exists"));
  REQUIRE(merge(shares, out, true) == 0);
  // a row that is gone
  {
    const Database database(shares[0]);
    database.run("DELETE FROM points WHERE point = 33");
  }
  CHECK(says(refusal([&] { (void)merge(shares, folder / "new.db"); }), "point 34 where point 33 belongs"));
  CHECK_FALSE(present(folder / "new.db"));
}

TEST_CASE("a database is continued only by its own sweep, and a strange one is neither run nor changed") {
  const Folder folder;
  const std::string path = folder / "a.sqlite";
  auto part = arguments(path);
  part.part = "1/1";
  REQUIRE(run(part) == 0);
  const std::string good = read(path);
  auto again = arguments(path);
  CHECK(says(refusal([&] { (void)run(again); }), "already exists"));
  again.resume = true;
  {
    const Database database(path);
    database.run("DELETE FROM points WHERE point > 20; UPDATE metadata SET value = 'no' WHERE name = 'complete'");
  }
  std::atomic<std::uint64_t> calls{0};
  sweep_test::Model model;
  model.calls = &calls;
  REQUIRE(run(again, sweep_test::make_case(), "0.test", model) == 0);
  CHECK(calls == 22);
  REQUIRE(run(arguments(folder / "whole.csv")) == 0);
  REQUIRE(merge({path}, folder / "back.csv") == 0);
  CHECK(read(folder / "back.csv") == read(folder / "whole.csv"));

  const auto refused = [&](const std::function<void()>& change) {
    write(path, good);
    change();
    const std::string before = read(path);
    const std::string text = refusal([&] { (void)run(again); });
    CHECK(read(path) == before);
    CHECK(says(refusal([&] { (void)merge({path}, folder / "never.csv"); }), "a.sqlite"));
    CHECK_FALSE(present(folder / "never.csv"));
    return text;
  };
  const auto sql = [&](const std::string& text) {
    return [&path, text] { Database(path).run(text); };
  };
  CHECK(says(refused([&] { write(path, "point,rotation_speed_rpm\n1,2\n"); }), "not a database"));
  CHECK(says(refused([&] { write(path, std::string(100'000, '\0')); }), "not a database"));
  CHECK(says(refused([&] { write(path, good.substr(0, good.size() / 2)); }), "a.sqlite"));
  CHECK(says(refused(sql("CREATE TRIGGER evil AFTER INSERT ON points BEGIN DELETE FROM points; END")), "not a database of a sweep"));
  CHECK(says(refused(sql("CREATE VIEW v AS SELECT * FROM points")), "not a database of a sweep"));
  CHECK(says(refused(sql("DROP TABLE points; CREATE VIEW points AS SELECT * FROM columns")), "not a database of a sweep"));
  CHECK(says(refused(sql("ALTER TABLE points ADD COLUMN more REAL")), "not a database of a sweep"));
  CHECK(says(refused(sql("DELETE FROM columns WHERE position = 3")), "not a database of a sweep"));
  CHECK(says(refused(sql("DELETE FROM metadata WHERE name = 'document'")), "no metadata document"));
  CHECK(says(refused(sql("UPDATE metadata SET value = '[]' WHERE name = 'document'")), "not a metadata"));
  CHECK(says(refused(sql("UPDATE points SET rotation_speed_rpm = 4001 WHERE point = 1; DELETE FROM points WHERE point = 2")), "a.sqlite"));
  // a cell that fills the memory
  CHECK(says(refused(sql("UPDATE points SET reason = zeroblob(50000000) WHERE point = 3")), "a.sqlite"));

  write(path, good);
  SweepCase other = sweep_test::make_case();
  other.sha256 = std::string(64, 'c');
  CHECK(says(refusal([&] { (void)run(again, other); }), "another case"));
  CHECK(says(refusal([&] { (void)run(again, sweep_test::make_case(), "1.other"); }), "version 0.test"));
  CHECK(read(path) == good);
  {
    const Database writer(path);
    writer.run("BEGIN EXCLUSIVE");
    CHECK(says(refusal([&] { (void)run(again); }), "another program is writing"));
    auto force = arguments(path);
    force.force = true;
    CHECK(says(refusal([&] { (void)run(force); }), "another program is writing"));
  }
  CHECK(read(path) == good);
  // force: the earlier one stands aside until the new one is complete
  auto force = arguments(path);
  force.force = true;
  REQUIRE(run(force) == 0);
  CHECK_FALSE(present(path + ".before-force"));
  for (const std::string& device : {std::string("/dev/null"), folder / "."}) {
    ::unlink((folder / "link.db").c_str());
    REQUIRE(::symlink(device.c_str(), (folder / "link.db").c_str()) == 0);
    CHECK(says(refusal([&] { (void)run(arguments(folder / "link.db")); }), "not a regular file"));
  }
  CHECK(says(refusal([&] { (void)run(arguments(folder / "none/a.db")); }), "No such file"));
}

TEST_CASE("memory does not grow with the rows of a database") {
  const Folder folder;
  const auto peak_kB = [&](const char* points) {
    const std::string path = folder / (std::string("m") + points + ".sqlite");
    REQUIRE(process::finish(process::start({SWEEP_STANDIN, "--vary", "rotation_speed=4000 rpm..9000 rpm", "--vary", "gas_overpressure=0 MPa..0.6 MPa", "--design",
                                            "sobol", "--points", points, "--threads", "4", "--memory", "-o", path},
                                           folder / "out", folder / "err")) == 0);
    return std::stol(read(folder / "out"));
  };
  const long small = peak_kB("20000");
  const long large = peak_kB("80000");
  INFO(small << " kB and " << large << " kB");
  // 60,000 more rows of 100 bytes would be 6 MB if they were kept; SQLite's page cache is bounded (2 MB by default) and full at 20,000 rows.
  CHECK(large - small < 3000);
}

TEST_CASE("a figure of a database is the figure of the CSV file that stands for it") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "a.csv")) == 0);
  REQUIRE(run(arguments(folder / "a.sqlite")) == 0);
  std::vector<std::string> drawn;
  for (const std::string name : {"a.csv", "a.sqlite"}) {
    whorl::app::FigureArguments figure;
    figure.inputs = {folder / name};
    figure.output = folder / (name + ".svg");
    figure.kind = "map";
    std::ostringstream out;
    std::ostringstream err;
    REQUIRE(whorl::app::run_figure(figure, {out, err}) == 0);
    std::string text = read(folder / (name + ".svg"));
    for (std::size_t at = 0; (at = text.find(name, at)) != std::string::npos;) text.replace(at, name.size(), "INPUT");
    drawn.push_back(text);
  }
  CHECK(drawn[0] == drawn[1]);  // with the digest of the rows in it
  whorl::app::FigureArguments figure;
  figure.inputs = {folder / "none.sqlite"};
  figure.output = folder / "none.svg";
  std::ostringstream out;
  std::ostringstream err;
  CHECK(says(refusal([&] { (void)whorl::app::run_figure(figure, {out, err}); }), "cannot be opened"));
}

TEST_CASE("what another left under the names that a database takes for its own stays, input or not") {
  for (const std::string ending : {"-journal", "-wal", "-shm"}) {
    INFO(ending);
    const Folder folder;
    const std::string theirs = "a case of somebody, not a journal";
    write(folder / ("a.sqlite" + ending), theirs);
    CHECK(says(refusal([&] { (void)run(arguments(folder / "a.sqlite")); }), "a.sqlite" + ending + " stands beside it"));
    CHECK(read(folder / ("a.sqlite" + ending)) == theirs);
    CHECK_FALSE(present(folder / "a.sqlite"));
  }
  const Folder folder;
  REQUIRE(run(arguments(folder / "a.sqlite")) == 0);
  write(folder / "a.sqlite-journal", "theirs");
  for (const bool force : {false, true}) {
    SweepArguments again = arguments(folder / "a.sqlite");
    again.force = force;
    again.resume = !force;
    CHECK(says(refusal([&] { (void)run(again); }), "stands beside it"));
    CHECK(read(folder / "a.sqlite-journal") == "theirs");
  }
  write(folder / "b.sqlite-journal", "theirs");
  ::unlink((folder / "a.sqlite-journal").c_str());
  CHECK(says(refusal([&] { (void)merge({folder / "a.sqlite"}, folder / "b.sqlite"); }), "stands beside it"));
  CHECK(read(folder / "b.sqlite-journal") == "theirs");
  // a journal that a run left is its own
  write(folder / "a.sqlite-journal", std::string(512, '\0'));
  SweepArguments again = arguments(folder / "a.sqlite");
  again.resume = true;
  CHECK(run(again) == 0);
}

#endif
