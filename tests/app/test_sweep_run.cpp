// First: <signal.h> defines a macro value_si, which the key table uses as a name.
#include "app/sweep_model.hpp"
#include "table/whole_file.hpp"

#include <fcntl.h>
#include <signal.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>

#include "app/commands.hpp"
#include "app/folder.hpp"
#include "table/sweep_file.hpp"
#include "catch.hpp"
#include "whorl/io/csv.hpp"
#include "refusal.hpp"

using namespace whorl::app;
using sweep_test::Model;
using testing::Folder;
using testing::refusal;

namespace {

std::string read(const std::string& path) {
  std::ifstream input(path, std::ios::binary);
  std::ostringstream text;
  text << input.rdbuf();
  return text.str();
}

void write(const std::string& path, const std::string& text) { std::ofstream(path, std::ios::binary) << text; }

bool present(const std::string& path) { return ::access(path.c_str(), F_OK) == 0; }

std::vector<std::vector<std::string>> table(const std::string& text) {
  std::vector<std::vector<std::string>> rows;
  std::istringstream lines(text);
  std::string line;
  while (std::getline(lines, line)) {
    rows.emplace_back();
    REQUIRE(whorl::io::split_csv_line(line, rows.back()));
  }
  return rows;
}

// 6 speeds x 7 pressures: 42 points, of which every kind of failure is a part.
SweepArguments arguments(const std::string& output) {
  SweepArguments a;
  a.spec.vary = {"rotation_speed=4000 rpm..9000 rpm:6", "gas_overpressure=0 MPa..0.6 MPa:7"};
  a.output = output;
  a.quiet = true;
  return a;
}

int run(const SweepArguments& a, const Model& model = {}, const SweepCase& c = sweep_test::make_case(),
        const std::string& version = "0.test") {
  std::ostringstream out;
  std::ostringstream err;
  whorl::table::begin_command();
  return sweep(a, c, version, model, out, err);
}

// Starts a program; standard output goes to `out`, standard error to /dev/null.
pid_t start(const std::vector<std::string>& command, const std::string& out) {
  std::vector<char*> argv;
  for (const auto& word : command) argv.push_back(const_cast<char*>(word.c_str()));
  argv.push_back(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    const int target = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int null = ::open("/dev/null", O_WRONLY);
    ::dup2(target, STDOUT_FILENO);
    ::dup2(null, STDERR_FILENO);
    ::execv(argv[0], argv.data());
    ::_exit(127);
  }
  return child;
}

int finish(pid_t child) {
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 1000 + WTERMSIG(status);
}

// Waits until the file has some rows; false after ten seconds.
bool wait_for_rows(const std::string& path, std::ptrdiff_t rows) {
  for (int i = 0; i < 1000; ++i) {
    const std::string text = read(path);
    if (std::count(text.begin(), text.end(), '\n') > rows) return true;
    ::usleep(10'000);
  }
  return false;
}

}  // namespace

TEST_CASE("every point has its row, also those that fail") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "a.csv")) == 0);
  const auto rows = table(read(folder / "a.csv"));
  REQUIRE(rows.size() == 43);
  const auto& header = rows[0];
  const auto at = [&](const std::string& name) {
    return static_cast<std::size_t>(std::find(header.begin(), header.end(), name) - header.begin());
  };
  CHECK(header[0] == "point");
  CHECK(header[1] == "rotation_speed_rpm");
  CHECK(header[2] == "gas_overpressure_MPa");
  for (std::size_t i = 1; i < rows.size(); ++i) {
    const auto& row = rows[i];
    REQUIRE(row.size() == header.size());
    CHECK(row[0] == std::to_string(i));
    CHECK(row[1] == std::to_string(4000 + 1000 * ((i - 1) / 7)));
    CHECK(row[2] == std::vector<std::string>{"0", "0.1", "0.2", "0.3", "0.4", "0.5", "0.6"}[(i - 1) % 7]);
    const std::string& status = row[at("status")];
    const bool done = (i - 1) % 7 < 5;
    CHECK(status == (done ? "done" : (i - 1) % 7 == 5 ? "not-converged" : "refused"));
    CHECK(row[at("class")] == (done ? "continuous" : ""));
    CHECK(row[at("dry_diameter_um")].empty() != done);
    CHECK(row[at("warnings")] == (done ? "first second" : ""));
    CHECK_FALSE(row[at("reason")].empty());
  }
  CHECK(rows[6][at("reason")] == "no convergence after 20 steps");
  CHECK(rows[7][at("reason")] == "case.json: operation.gas_overpressure: =too much; allowed: less, or \"none\"");
  CHECK(read(folder / "a.csv").find("nan") == std::string::npos);
}

TEST_CASE("a point that throws, and a number that is not finite") {
  const Folder folder;
  SweepArguments a = arguments(folder / "a.csv");
  a.spec.vary = {"gas_overpressure=0.43 MPa, 0.52 MPa"};
  REQUIRE(run(a) == 0);
  const auto rows = table(read(folder / "a.csv"));
  const auto turns = static_cast<std::size_t>(std::find(rows[0].begin(), rows[0].end(), "turns") - rows[0].begin());
  CHECK(rows[1][2] == "done");
  CHECK(rows[1][turns].empty());
  CHECK(rows[2][2] == "failed");
  CHECK(rows[2][3] == "lost, in two lines");
  a.output = folder / "b.csv";
  a.spec.vary = {"gas_overpressure=0.5 MPa, 0.52 MPa"};
  CHECK(run(a) == 1);  // not a single point converged
}

TEST_CASE("the same bytes whatever the number of threads, for every design") {
  const Folder folder;
  for (const char* design : {"grid", "latin-hypercube", "sobol"}) {
    std::string first;
    for (const int threads : {1, 2, 4, 16}) {
      SweepArguments a = arguments(folder / (std::string(design) + std::to_string(threads)));
      if (std::string(design) != "grid") {
        a.spec.vary = {"rotation_speed=4000 rpm..9000 rpm", "gas_overpressure=0 MPa..0.6 MPa"};
        a.spec.design = design;
        a.spec.points = 42;
      }
      a.threads = threads;
      Model model;
      model.delay = std::chrono::microseconds(500);
      REQUIRE(run(a, model) == 0);
      const std::string bytes = read(a.output);
      if (threads == 1) first = bytes;
      CHECK(bytes == first);
    }
  }
}

TEST_CASE("a file torn at any byte is completed to the same bytes, without computing a whole row again") {
  const Folder folder;
  const std::string path = folder / "a.csv";
  REQUIRE(run(arguments(path)) == 0);
  const std::string whole = read(path);
  const std::string metadata = read(path + "-metadata.json");
  const auto header = static_cast<std::size_t>(whole.find('\n')) + 1;
  std::vector<std::size_t> cuts{0, 1, header / 2, header - 1, header, header + 1, whole.size() - 1, whole.size()};
  for (std::size_t i = 1; i <= 5; ++i) {  // around line ends
    const auto end = whole.find('\n', i * whole.size() / 6);
    for (const std::size_t cut : {end - 1, end, end + 1, end + 2}) cuts.push_back(cut);
  }
  for (std::size_t cut = 17; cut < whole.size(); cut += 211) cuts.push_back(cut);
  SweepArguments a = arguments(path);
  a.resume = true;
  for (const std::size_t cut : cuts) {
    INFO("cut at " << cut);
    write(path, whole.substr(0, cut));
    std::atomic<std::uint64_t> calls{0};
    Model model;
    model.calls = &calls;
    REQUIRE(run(a, model) == 0);
    REQUIRE(read(path) == whole);
    const auto lines = std::count(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(cut), '\n');
    REQUIRE(calls == 42 - static_cast<std::uint64_t>(std::max<std::ptrdiff_t>(lines - 1, 0)));
  }
  CHECK(read(path + "-metadata.json") == metadata);

  SECTION("killed between metadata and table, or before anything was written") {
    ::unlink(path.c_str());
    REQUIRE(run(a) == 0);
    CHECK(read(path) == whole);
    ::unlink(path.c_str());
    ::unlink((path + "-metadata.json").c_str());
    REQUIRE(run(a) == 0);
    CHECK(read(path) == whole);
    CHECK(read(path + "-metadata.json") == metadata);
  }
}

TEST_CASE("a file from another sweep is refused and left alone") {
  const Folder folder;
  const std::string path = folder / "a.csv";
  REQUIRE(run(arguments(path)) == 0);
  const std::string whole = read(path);
  const std::string part = whole.substr(0, whole.size() / 2);
  write(path, part);
  SweepArguments a = arguments(path);
  a.resume = true;
  const auto has = [](const std::string& text, const std::string& what) {
    INFO(text);
    return text.find(what) != std::string::npos;
  };

  SweepCase other = sweep_test::make_case();
  other.sha256 = std::string(64, 'c');
  CHECK(has(refusal([&] { (void)run(a, {}, other); }), "another case"));
  other = sweep_test::make_case();
  other.library_sha256 = std::string(64, 'c');
  CHECK(has(refusal([&] { (void)run(a, {}, other); }), "another property library"));
  CHECK(has(refusal([&] { (void)run(a, {}, sweep_test::make_case(), "0.other"); }), "version 0.test"));
  SweepArguments changed = a;
  changed.spec.vary[0] = "rotation_speed=4000 rpm..9000 rpm:11";
  CHECK(has(refusal([&] { (void)run(changed); }), "another design"));
  changed = a;
  std::swap(changed.spec.vary[0], changed.spec.vary[1]);
  CHECK(has(refusal([&] { (void)run(changed); }), "another design"));
  changed = a;
  changed.part = "1/2";
  CHECK(has(refusal([&] { (void)run(changed); }), "another share"));
  changed = a;
  changed.resume = false;
  CHECK(has(refusal([&] { (void)run(changed); }), "already exists"));
  CHECK(read(path) == part);

  // Damage inside the file, not at its end.
  const auto damaged = [&](const std::string& text, const std::string& what) {
    write(path, text);
    CHECK(has(refusal([&] { (void)run(a); }), what));
    CHECK(read(path) == text);
  };
  const auto header = whole.find('\n') + 1;
  damaged("Point" + part.substr(5), "header");
  damaged("something else", "header");
  damaged("something else\n", "header");
  damaged(whole.substr(0, header) + whole.substr(whole.find('\n', header) + 1), "line 2: not point 1");
  damaged(whole + "43,\n", "more rows");
  std::string wrong = whole;
  wrong.replace(wrong.find(",done,"), 6, ",gone,");
  damaged(wrong, "line 2: not a row");
  wrong = whole;
  wrong.erase(wrong.find('\n', header) - 1, 1);
  damaged(wrong, "line 2: not a row");

  write(path, part);
  write(path + "-metadata.json", "{}");
  CHECK(has(refusal([&] { (void)run(a); }), "not a metadata file"));
  ::unlink((path + "-metadata.json").c_str());
  CHECK(has(refusal([&] { (void)run(a); }), "no metadata file"));
  CHECK(read(path) == part);
}

TEST_CASE("shares of a sweep join to the bytes of the whole") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "whole.csv")) == 0);
  std::string joined;
  for (int k = 1; k <= 5; ++k) {
    SweepArguments a = arguments(folder / ("part" + std::to_string(k)));
    a.part = std::to_string(k) + "/5";
    REQUIRE(run(a) == 0);
    const std::string text = read(a.output);
    joined += k == 1 ? text : text.substr(text.find('\n') + 1);
    const auto metadata = nlohmann::json::parse(read(a.output + "-metadata.json"));
    CHECK(metadata["schema:identifier"] == nlohmann::json::parse(read(folder / "whole.csv-metadata.json"))["schema:identifier"]);
  }
  CHECK(joined == read(folder / "whole.csv"));
  for (const char* bad : {"0/5", "6/5", "1/0", "x/2", "1/", "/2", "1", "-1/2", "1/43", "1/2/3"}) {
    INFO(bad);
    CHECK_THROWS_AS(part_range(bad, 42), whorl::InputError);
  }
}

TEST_CASE("force replaces a file, and gives the earlier one back when the new one cannot begin") {
  const Folder folder;
  const std::string path = folder / "a.csv";
  write(path, "precious\n");
  SweepArguments a = arguments(path);
  CHECK_THROWS_AS(run(a), whorl::InputError);
  CHECK(read(path) == "precious\n");
  a.force = true;

  SECTION("new file complete") {
    REQUIRE(run(a) == 0);
    CHECK(table(read(path)).size() == 43);
    CHECK_FALSE(present(whorl::table::aside_path(path)));
    REQUIRE(run(a) == 0);  // and again, now with metadata
    CHECK_FALSE(present(whorl::table::aside_path(path + "-metadata.json")));
  }
  SECTION("no room for the metadata") {
    // A limit on file size stands for a full disk: write() fails half-way with an error code in the same manner.
    const pid_t child = fork();
    if (child == 0) {
      ::signal(SIGXFSZ, SIG_IGN);
      const rlimit limit{2000, 2000};
      ::setrlimit(RLIMIT_FSIZE, &limit);
      int code = 9;
      try {
        code = run(a);
      } catch (const whorl::table::OutputError&) {
        code = 77;
      } catch (...) {
        code = 8;
      }
      ::_exit(code);
    }
    CHECK(finish(child) == 77);
    CHECK(read(path) == "precious\n");
    CHECK_FALSE(present(path + "-metadata.json"));
    CHECK_FALSE(present(path + "-metadata.json.tmp"));
    CHECK_FALSE(present(whorl::table::aside_path(path)));
  }
}

TEST_CASE("a disk that fills up ends the sweep with whole rows, and resume completes them") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "whole.csv")) == 0);
  const std::string whole = read(folder / "whole.csv");
  const auto metadata = read(folder / "whole.csv-metadata.json").size();
  SweepArguments a = arguments(folder / "a.csv");
  a.spec.vary[0] = "rotation_speed=4000 rpm..9000 rpm:201";  // longer than the metadata
  const pid_t child = fork();
  if (child == 0) {
    ::signal(SIGXFSZ, SIG_IGN);
    const rlim_t room = metadata + 10'000;
    const rlimit limit{room, room};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    int code = 9;
    try {
      code = run(a);
    } catch (const whorl::table::OutputError& error) {
      code = std::string(error.what()).find("--resume") != std::string::npos ? 77 : 78;
    } catch (...) {
      code = 8;
    }
    ::_exit(code);
  }
  CHECK(finish(child) == 77);
  const std::string torn = read(a.output);
  REQUIRE_FALSE(torn.empty());
  CHECK(torn.back() == '\n');
  a.resume = true;
  REQUIRE(run(a) == 0);
  a.resume = false;
  a.output = folder / "b.csv";
  REQUIRE(run(a) == 0);
  CHECK(read(folder / "a.csv") == read(folder / "b.csv"));
  CHECK(read(folder / "a.csv").compare(0, torn.size(), torn) == 0);
}

TEST_CASE("outputs that cannot be used are refused") {
  const Folder folder;
  CHECK_THROWS_AS(run(arguments(folder.path())), whorl::InputError);
  CHECK_THROWS_AS(run(arguments(folder / "none/a.csv")), whorl::InputError);
  CHECK_THROWS_AS(run(arguments("/dev/null")), whorl::InputError);
  if (::geteuid() != 0) {  // the administrator may write anywhere
    ::chmod(folder.path().c_str(), 0500);
    CHECK_THROWS_AS(run(arguments(folder / "a.csv")), whorl::InputError);
    ::chmod(folder.path().c_str(), 0700);
  }
  SweepArguments a = arguments("");
  a.resume = true;
  CHECK_THROWS_AS(run(a), whorl::InputError);
  a = arguments(folder / "a.csv");
  a.resume = a.force = true;
  CHECK_THROWS_AS(run(a), whorl::InputError);
  a = arguments(folder / "a.csv");
  a.threads = -1;
  CHECK_THROWS_AS(run(a), whorl::InputError);
}

TEST_CASE("two programs do not write to one file") {
  const Folder folder;
  const std::string path = folder / "a.csv";
  REQUIRE(run(arguments(path)) == 0);
  const std::string whole = read(path);
  const int descriptor = ::open(path.c_str(), O_RDONLY);
  REQUIRE(::flock(descriptor, LOCK_EX) == 0);
  SweepArguments a = arguments(path);
  a.resume = true;
  CHECK(refusal([&] { (void)run(a); }).find("another program") != std::string::npos);
  a.resume = false;
  a.force = true;
  CHECK(refusal([&] { (void)run(a); }).find("another program") != std::string::npos);
  ::close(descriptor);
  CHECK(read(path) == whole);
}

TEST_CASE("metadata describe every column, and the summary adds up") {
  const Folder folder;
  SweepArguments a = arguments(folder / "a.csv");
  a.json = true;
  std::ostringstream out;
  std::ostringstream err;
  REQUIRE(sweep(a, sweep_test::make_case(), "0.test", Model{}, out, err) == 0);
  const auto summary = nlohmann::json::parse(out.str());
  CHECK(summary["points"] == 42);
  CHECK(summary["done"] == 30);
  CHECK(summary["not_converged"] == 6);
  CHECK(summary["refused"] == 6);
  CHECK(summary["failed"] == 0);
  CHECK(summary["interrupted"] == false);
  CHECK(err.str().empty());
  const auto metadata = nlohmann::json::parse(read(folder / "a.csv-metadata.json"));
  CHECK(metadata["url"] == "a.csv");
  CHECK(metadata["dc:title"] == "Sweep of trial.json");
  const auto header = table(read(folder / "a.csv"))[0];
  const auto& columns = metadata["tableSchema"]["columns"];
  REQUIRE(columns.size() == header.size());
  for (std::size_t i = 0; i < header.size(); ++i) CHECK(columns[i]["name"] == header[i]);
  CHECK(columns[1]["schema:unitText"] == "rpm");
  CHECK(read(folder / "a.csv-metadata.json").find("seconds") == std::string::npos);
}

TEST_CASE("Ctrl-C leaves whole rows and exit code 130; resume completes the file") {
  const Folder folder;
  for (const int signal : {SIGINT, SIGTERM}) {
    const std::string path = folder / ("a" + std::to_string(signal) + ".csv");
    std::vector<std::string> command{SWEEP_STANDIN, "--vary", "rotation_speed=4000 rpm..9000 rpm", "--vary",
                                     "gas_overpressure=0 MPa..0.6 MPa", "--design", "latin-hypercube", "--points", "2000",
                                     "--threads", "4", "-o", path};
    auto slow = command;
    slow.insert(slow.end(), {"--delay-us", "4000"});
    const pid_t child = start(slow, folder / "out");
    REQUIRE(wait_for_rows(path, 20));
    ::kill(child, signal);
    CHECK(finish(child) == 130);
    const std::string text = read(path);
    REQUIRE(text.back() == '\n');
    const auto lines = std::count(text.begin(), text.end(), '\n');
    CHECK(lines > 20);
    CHECK(lines < 2001);
    auto again = command;
    again.push_back("--resume");
    CHECK(finish(start(again, folder / "out")) == 0);
    command.back() = folder / "whole.csv";
    if (!present(folder / "whole.csv")) CHECK(finish(start(command, folder / "out")) == 0);
    CHECK(read(path) == read(folder / "whole.csv"));
  }
}

TEST_CASE("the program itself: Ctrl-C, resume, and the same bytes from one thread and from four") {
  const Folder folder;
  write(folder / "case.json", R"({
    "whorl_case": 1,
    "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "280 kg/mol", "concentration": "24 % w/v of solvent"},
    "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
    "operation": {"rotation_speed": "9000 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "6 mL", "collection_distance": "170 mm"},
    "model": {"drying": "lumped"},
    "sweep": {"vary": {"operation.rotation_speed": {"from": "3000 rpm", "to": "20000 rpm"},
                       "operation.gas_overpressure": {"from": "0 MPa", "to": "0.3 MPa"}}, "design": "sobol", "points": 256}})");
  const std::string path = folder / "a.csv";
  const std::vector<std::string> base{WHORL_BINARY, "sweep", folder / "case.json", "-o"};
  const auto with = [&](std::initializer_list<std::string> more) {
    auto command = base;
    command.insert(command.end(), more);
    return command;
  };
  const pid_t child = start(with({path, "--threads", "4", "--points", "1000000"}), folder / "out");
  REQUIRE(wait_for_rows(path, 5));
  ::kill(child, SIGINT);
  CHECK(finish(child) == 130);
  const std::string text = read(path);
  CHECK(text.back() == '\n');
  CHECK(finish(start(with({path, "--resume"}), folder / "out")) == 2);  // 256 points, not a million
  CHECK(read(path) == text);

  const std::string one = folder / "one.csv";
  const std::string four = folder / "four.csv";
  CHECK(finish(start(with({one, "--threads", "1"}), folder / "out")) == 0);
  const std::string whole = read(one);
  CHECK(std::count(whole.begin(), whole.end(), '\n') == 257);
  write(four, whole.substr(0, whole.size() / 3));
  write(four + "-metadata.json", read(one + "-metadata.json"));
  CHECK(finish(start(with({four, "--threads", "4", "--resume"}), folder / "out")) == 0);
  CHECK(read(four) == whole);
}

TEST_CASE("killed at random moments, the file is completed to the same bytes") {
  // 200 kills with WHORL_TEST_KILLS=200; a few by default.
  const char* wanted = std::getenv("WHORL_TEST_KILLS");
  const int kills = wanted != nullptr ? std::atoi(wanted) : 12;
  const Folder folder;
  std::vector<std::string> command{SWEEP_STANDIN, "--vary", "rotation_speed=4000 rpm..9000 rpm:20", "--vary",
                                   "gas_overpressure=0 MPa..0.6 MPa:25", "--threads", "2", "-o", folder / "whole.csv"};
  REQUIRE(finish(start(command, folder / "out")) == 0);
  const std::string whole = read(folder / "whole.csv");
  const std::string metadata = read(folder / "whole.csv-metadata.json");
  command.back() = folder / "a.csv";
  command.insert(command.end(), {"--resume", "--delay-us", "100"});
  std::mt19937 random(4);
  int killed = 0;
  for (int attempt = 0; killed < kills && attempt < 20 * kills; ++attempt) {
    const pid_t child = start(command, folder / "out");
    ::usleep(static_cast<useconds_t>(random() % 25'000));
    ::kill(child, SIGKILL);
    const int code = finish(child);
    REQUIRE((code == 1000 + SIGKILL || code == 0));
    if (code != 0) {
      ++killed;
      const std::string text = read(folder / "a.csv");
      REQUIRE(whole.compare(0, text.size(), text) == 0);
      continue;
    }
    REQUIRE(read(folder / "a.csv") == whole);  // finished before the kill: start over
    ::unlink((folder / "a.csv").c_str());
    ::unlink((folder / "a.csv-metadata.json").c_str());
  }
  CHECK(killed == kills);
  REQUIRE(finish(start(command, folder / "out")) == 0);
  CHECK(read(folder / "a.csv") == whole);
  CHECK(nlohmann::json::parse(read(folder / "a.csv-metadata.json"))["tableSchema"] == nlohmann::json::parse(metadata)["tableSchema"]);
}

namespace {

int merge(const MergeArguments& arguments, std::string* summary = nullptr) {
  std::ostringstream out;
  std::ostringstream err;
  const int code = run_merge(arguments, {out, err});
  if (summary != nullptr) *summary = out.str() + err.str();
  return code;
}

// The 42 points in n shares, computed and named in order.
std::vector<std::string> shares_of(const Folder& folder, int n, const std::string& version = "0.test") {
  std::vector<std::string> paths;
  for (int k = 1; k <= n; ++k) {
    SweepArguments a = arguments(folder / ("share" + std::to_string(k) + "of" + std::to_string(n) + version + ".csv"));
    a.part = std::to_string(k) + "/" + std::to_string(n);
    REQUIRE(run(a, {}, sweep_test::make_case(), version) <= whorl::console::Exit::kNotMet);  // a share may be all failures
    paths.push_back(a.output);
  }
  return paths;
}

}  // namespace

TEST_CASE("merged shares are the bytes of one run") {
  const Folder folder;
  REQUIRE(run(arguments(folder / "one.csv")) == 0);
  const std::string whole = read(folder / "one.csv");
  const std::string metadata = read(folder / "one.csv-metadata.json");
  const int n = GENERATE(1, 2, 5, 42);
  auto shares = shares_of(folder, n);
  std::shuffle(shares.begin(), shares.end(), std::mt19937(7));
  // Same name in another folder: the metadata name the file.
  REQUIRE(::mkdir((folder / "joined").c_str(), 0700) == 0);
  std::string summary;
  REQUIRE(merge({shares, folder / "joined/one.csv", false, true, false}, &summary) == 0);
  CHECK(read(folder / "joined/one.csv") == whole);
  CHECK(read(folder / "joined/one.csv-metadata.json") == metadata);
  CHECK(nlohmann::json::parse(summary)["points"] == 42);
  // The joined file is one that the sweep itself takes as its own and finds complete.
  std::atomic<std::uint64_t> calls{0};
  Model model;
  model.calls = &calls;
  SweepArguments again = arguments(folder / "joined/one.csv");
  again.resume = true;
  REQUIRE(run(again, model) == 0);
  CHECK(calls == 0);
  CHECK(read(folder / "joined/one.csv") == whole);
}

TEST_CASE("for every design: shares join to the bytes of one run; other cases, versions, seeds, gaps and overlaps are refused") {
  const Folder folder;
  const std::string design = GENERATE("grid", "latin-hypercube", "sobol");
  INFO(design);
  const auto make = [&](const std::string& name, const std::string& part, const SweepCase& c = sweep_test::make_case(), const std::string& version = "0.test",
                        std::uint64_t seed = 1) {
    SweepArguments a = arguments(folder / name);
    if (design != "grid") {
      a.spec.vary = {"rotation_speed=4000 rpm..9000 rpm", "gas_overpressure=0 MPa..0.6 MPa"};
      a.spec.design = design;
      a.spec.points = 42;
      a.spec.seed = seed;
    }
    if (!part.empty()) a.part = part;
    REQUIRE(run(a, {}, c, version) <= whorl::console::Exit::kNotMet);
    return a.output;
  };
  const auto refused = [&](const std::vector<std::string>& shares) {
    const std::string text = refusal([&] { merge({shares, folder / "joined.csv", false, false, true}); });
    CHECK_FALSE(present(folder / "joined.csv"));
    CHECK_FALSE(present(folder / "joined.csv-metadata.json"));
    return text;
  };
  const auto says = [](const std::string& text, const std::string& part) {
    INFO(text);
    return text.find(part) != std::string::npos;
  };
  const std::string whole = read(make("whole.csv", ""));
  const std::vector<std::string> shares{make("1.csv", "1/3"), make("2.csv", "2/3"), make("3.csv", "3/3")};
  SweepCase other = sweep_test::make_case();
  other.sha256 = std::string(64, 'c');
  CHECK(says(refused({shares[0], make("case.csv", "2/3", other), shares[2]}), "another case"));
  CHECK(says(refused({shares[0], make("version.csv", "2/3", sweep_test::make_case(), "1.other"), shares[2]}), "version 1.other"));
  CHECK(says(refused({shares[0], shares[2]}), "rows 15 to 28 are missing"));
  CHECK(says(refused({shares[0], shares[1]}), "rows 29 to 42 are missing"));
  CHECK(says(refused({shares[0], make("half.csv", "1/2"), shares[1], shares[2]}), "rows 1 to 14 are also in"));
  CHECK(says(refused({shares[0], shares[0], shares[1], shares[2]}), "are also in"));
  // the other designs' seeds choose other points
  if (design != "grid") CHECK(says(refused({shares[0], make("seed.csv", "2/3", sweep_test::make_case(), "0.test", 2), shares[2]}), "another design"));
  REQUIRE(merge({{shares[2], shares[0], shares[1]}, folder / "joined.csv", false, true, true}) == 0);
  CHECK(read(folder / "joined.csv") == whole);
}

TEST_CASE("merge refuses shares that do not make a sweep, and writes nothing then") {
  const Folder folder;
  const auto shares = shares_of(folder, 3);
  const std::string out = folder / "joined.csv";
  const auto why = [&](const std::vector<std::string>& paths, const std::string& output) {
    const std::string text = refusal([&] { merge({paths, output, false, false, true}); });
    CHECK_FALSE(present(out));
    CHECK_FALSE(present(out + "-metadata.json"));
    return text;
  };
  const auto says = [](const std::string& text, const std::string& part) {
    INFO(text);
    return text.find(part) != std::string::npos;
  };
  CHECK(says(why({shares[0], shares[2]}, out), "rows 15 to 28 are missing"));
  CHECK(says(why({shares[0], shares[1]}, out), "rows 29 to 42 are missing"));
  CHECK(says(why({shares[1], shares[2]}, out), "rows 1 to 14 are missing"));
  CHECK(says(why({shares[0], shares[1], shares[1], shares[2]}, out), "rows 15 to 28 are also in"));
  CHECK(says(why({shares[0], shares_of(folder, 2)[1]}, out), "rows 15 to 21 are missing"));
  CHECK(says(why({shares[0], shares_of(folder, 3, "1.other")[1], shares[2]}, out), "version 1.other"));
  CHECK(says(why(shares, shares[1]), "an input of this command"));
  CHECK(says(why({folder / "none.csv"}, out), "no metadata file"));
  CHECK(says(why({}, out), "none given"));

  SweepCase other = sweep_test::make_case();
  other.sha256 = std::string(64, 'c');
  SweepArguments a = arguments(folder / "other.csv");
  a.part = "2/3";
  REQUIRE(run(a, {}, other) == 0);
  CHECK(says(why({shares[0], folder / "other.csv", shares[2]}, out), "another case"));
  SweepArguments fewer = arguments(folder / "fewer.csv");
  fewer.spec.vary[1] = "gas_overpressure=0 MPa..0.5 MPa:7";
  fewer.part = "2/3";
  REQUIRE(run(fewer) == 0);
  CHECK(says(why({shares[0], folder / "fewer.csv", shares[2]}, out), "other varied values"));

  // damage to a share
  const std::string good = read(shares[1]);
  const auto damaged = [&](const std::string& text) {
    write(shares[1], text);
    const std::string found = why(shares, out);
    write(shares[1], good);
    return found;
  };
  CHECK(says(damaged(good.substr(0, good.size() - 5)), "torn"));
  CHECK(says(damaged(good.substr(0, good.rfind('\n', good.size() - 2) + 1)), "row 28 are not there yet"));
  CHECK(says(damaged(good + good.substr(good.find('\n') + 1)), "where the share ends"));
  CHECK(says(damaged("x" + good), "not the header"));
  CHECK(says(damaged(""), "no header"));
  std::string swapped = good;
  swapped.replace(swapped.find("\n16,"), 4, "\n17,");
  CHECK(says(damaged(swapped), "point 17 where point 16 belongs"));
  const std::string about = read(shares[1] + "-metadata.json");
  for (const std::string& text : {std::string("{"), std::string("[]"), std::string()}) {
    write(shares[1] + "-metadata.json", text);
    CHECK(says(why(shares, out), "not a metadata file"));
  }
  write(shares[1] + "-metadata.json", about);

  // an existing file stays unless it is to be replaced
  REQUIRE(merge({shares, out, false, false, true}) == 0);
  const std::string joined = read(out);
  write(out, "mine\n");
  CHECK(says(refusal([&] { merge({shares, out, false, false, true}); }), "already exists"));
  CHECK(read(out) == "mine\n");
  REQUIRE(merge({shares, out, true, false, true}) == 0);
  CHECK(read(out) == joined);
}

TEST_CASE("memory does not grow with the number of points") {
  const Folder folder;
  const auto peak_kB = [&](const char* points) {
    const std::vector<std::string> command{SWEEP_STANDIN, "--vary", "rotation_speed=4000 rpm..9000 rpm", "--vary",
                                           "gas_overpressure=0 MPa..0.6 MPa", "--design", "sobol", "--points", points,
                                           "--threads", "4", "--memory", "-o", folder / (std::string("m") + points)};
    REQUIRE(finish(start(command, folder / "out")) == 0);
    return std::stol(read(folder / "out"));
  };
  const long small = peak_kB("2000");
  const long large = peak_kB("200000");
  INFO(small << " kB and " << large << " kB");
  // 198,000 more rows of 200 bytes would be 40 MB if they were kept, 1.5 MB if only their indices were; an allocator's
  // slack between runs is below 1 MB.
  CHECK(large - small < 1500);
}
