// The program itself, killed at any moment, on a full disk, on a disk that may not be written to.
#include <sched.h>
#include <sys/mount.h>
#include <sys/stat.h>

#include <algorithm>
#include <chrono>
#include <functional>
#include <random>
#include <thread>

#include "app/process.hpp"
#include "catch.hpp"

using process::finish;
using process::Folder;
using process::present;
using process::read;
using process::start;
using process::write;

namespace {

// 200 kills of every kind with WHORL_FULL=1; a few, of smaller runs, by default.
bool full() { return std::getenv("WHORL_FULL") != nullptr; }
int kills() { return full() ? 200 : 4; }

// Drying lumped: a few hundred microseconds a point, so that kills fall between rows, within rows and around the metadata.
constexpr const char* kCase = R"({
  "whorl_case": 1,
  "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "280 kg/mol", "concentration": "24 % w/v of solvent"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
  "operation": {"rotation_speed": "9000 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "6 mL", "collection_distance": "170 mm"},
  "model": {"tier": "inertial", "drying": "lumped"}})";

std::vector<std::string> sweep(const Folder& folder, const std::string& output, int points) {
  return {WHORL_BINARY, "sweep", folder / "case.json", "--vary", "rotation_speed=3000 rpm..20000 rpm:" + std::to_string(points / 5),
          "--vary", "gas_overpressure=0 MPa..0.3 MPa:5", "--threads", "2", "-o", output};
}

std::vector<std::string> with(std::vector<std::string> command, std::initializer_list<std::string> more) {
  command.insert(command.end(), more);
  return command;
}

int run(const Folder& folder, const std::vector<std::string>& command) { return finish(start(command, folder / "out", folder / "err")); }

constexpr int kKilled = 1000 + SIGKILL;

// Wall time of an action [s].
double seconds_of(const std::function<void()>& action) {
  const auto begin = std::chrono::steady_clock::now();
  action();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
}

struct Kills {
  int killed = 0;
  int telling = 0;  // starts after which something was there to be looked at
};

// Starts a command again and again and kills it at a random moment, until it was killed as often as wanted; `before()` prepares each start,
// `after(code)` looks at what is left and says whether that told anything: `kKilled`, or the exit code of a run that was faster than the
// kill. The moments reach from the start to a little after the end: `seconds`, what an undisturbed run took, is corrected on the way so
// that about one run in five ends by itself, whatever else the machine did when it was measured and does now.
template <class Before, class After>
Kills kill_at_random_moments(const Folder& folder, const std::vector<std::string>& command, double seconds, const Before& before,
                             const After& after) {
  std::mt19937 random{20};
  std::uniform_real_distribution<double> part(0.0, 1.0);
  Kills kills_so_far;
  auto& [killed, telling] = kills_so_far;
  for (int attempt = 0; (killed < kills() || telling == 0) && attempt < 100 + 20 * kills(); ++attempt) {
    before();
    const pid_t child = start(command, folder / "out", folder / "err");
    std::this_thread::sleep_for(std::chrono::duration<double>(seconds * part(random)));
    ::kill(child, SIGKILL);
    const int code = finish(child);
    if (code == kKilled) ++killed;
    seconds *= code == kKilled ? 1.05 : 0.8;
    if (after(code)) ++telling;
  }
  return kills_so_far;
}

bool contains(const std::string& text, const std::string& part) {
  INFO(text);
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("the program killed at random moments of a sweep and resumed ends with the bytes of the undisturbed run") {
  const Folder folder;
  write(folder / "case.json", kCase);
  const double seconds = seconds_of([&] { REQUIRE(run(folder, sweep(folder, folder / "whole.csv", 250)) == 0); });
  const std::string whole = read(folder / "whole.csv");
  REQUIRE(std::count(whole.begin(), whole.end(), '\n') == 251);
  // The metadata name the file: the same name in another folder is the reference.
  REQUIRE(::mkdir((folder / "b").c_str(), 0700) == 0);
  const std::string path = folder / "b/whole.csv";
  const auto command = with(sweep(folder, path, 250), {"--resume"});
  int ends = 0;
  const auto [killed, inside] = kill_at_random_moments(folder, command, seconds, [] {}, [&](int code) {
    REQUIRE((code == kKilled || code == 0));
    const std::string text = read(path);
    REQUIRE(whole.compare(0, text.size(), text) == 0);
    if (code == 0) REQUIRE(text == whole);
    if (text.size() == whole.size()) {  // begin again
      ++ends;
      ::unlink(path.c_str());
      ::unlink((path + "-metadata.json").c_str());
    }
    return code == kKilled && !text.empty() && text.size() < whole.size();
  });
  CHECK(killed >= kills());
  CHECK(inside > 0);  // else the test would say nothing about torn files
  REQUIRE(run(folder, command) == 0);
  CHECK(read(path) == whole);
  CHECK(read(path + "-metadata.json") == read(folder / "whole.csv-metadata.json"));
  CHECK_FALSE(present(path + "-metadata.json.tmp"));
  WARN(killed << " kills, " << inside << " of them with a part of the rows written; " << ends << " files completed and begun again");
}

TEST_CASE("a database killed at random moments of its sweep and resumed holds the rows of the undisturbed run") {
  const Folder folder;
  write(folder / "case.json", kCase);
  if (run(folder, sweep(folder, folder / "probe.sqlite", 10)) == 2) {
    WARN("not tested here: built without SQLite");
    return;
  }
  const int points = full() ? 2000 : 500;
  REQUIRE(run(folder, sweep(folder, folder / "whole.csv", points)) == 0);
  const std::string whole = read(folder / "whole.csv");
  const std::string path = folder / "a.sqlite";
  const auto command = with(sweep(folder, path, points), {"--resume"});
  const double seconds = seconds_of([&] { REQUIRE(run(folder, command) == 0); });
  ::unlink(path.c_str());
  const auto joined = [&] {
    REQUIRE(run(folder, {WHORL_BINARY, "merge", path, "-o", folder / "back.csv", "--force"}) == 0);
    return read(folder / "back.csv");
  };
  int ends = 0;
  int starts = 0;
  const auto [killed, journals] = kill_at_random_moments(folder, command, seconds, [] {}, [&](int code) {
    REQUIRE((code == kKilled || code == 0));
    const bool journal = present(path + "-journal");
    if (code == 0 || ++starts % 10 == 9) {
      REQUIRE(run(folder, command) == 0);
      REQUIRE(joined() == whole);
      ++ends;
      ::unlink(path.c_str());
    }
    return journal;
  });
  CHECK(killed >= kills());
  CHECK(journals > 0);  // else no kill fell into a transaction
  REQUIRE(run(folder, command) == 0);
  CHECK(joined() == whole);
  CHECK_FALSE(present(path + "-journal"));
  WARN(killed << " kills, " << journals << " of them inside a transaction; " << ends << " databases completed and begun again");
}

TEST_CASE("merge killed at random moments leaves the earlier file or the new one, and is simply run again") {
  const Folder folder;
  // No jet at all at 300 rpm and no overpressure: 40 microseconds a point.
  std::string quiet = kCase;
  quiet.replace(quiet.find("9000 rpm"), 8, "300 rpm");
  quiet.replace(quiet.find("0.1 MPa"), 7, "0 MPa");
  write(folder / "case.json", quiet);
  const int rows = full() ? 6000 : 3000;
  std::vector<std::string> merge{WHORL_BINARY, "merge"};
  for (int k = 1; k <= 3; ++k) {
    const std::string share = folder / ("share" + std::to_string(k) + ".csv");
    REQUIRE(run(folder, {WHORL_BINARY, "sweep", folder / "case.json", "--vary", "room.relative_humidity=10 %..80 %:" + std::to_string(rows), "--part",
                         std::to_string(k) + "/3", "-o", share}) == 0);
    merge.push_back(share);
  }
  const std::string out = folder / "joined.csv";
  merge.insert(merge.end(), {"-o", out});
  const double seconds = seconds_of([&] { REQUIRE(run(folder, merge) == 0); });
  const std::string whole = read(out);
  const std::string metadata = read(out + "-metadata.json");
  REQUIRE(std::count(whole.begin(), whole.end(), '\n') == rows + 1);

  const bool force = GENERATE(false, true);
  INFO((force ? "over an earlier file" : "no earlier file"));
  const std::string earlier = force ? "earlier\n" : "";
  const auto command = force ? with(merge, {"--force"}) : merge;
  const auto begin_again = [&] {
    ::unlink(out.c_str());
    ::unlink((out + "-metadata.json").c_str());
    if (force) write(out, earlier);
  };
  const auto [killed, unfinished] = kill_at_random_moments(folder, command, seconds, begin_again, [&](int code) {
    REQUIRE((code == kKilled || code == 0));
    const std::string text = read(out);
    REQUIRE((text == whole || text == earlier));
    if (text == earlier) {
      REQUIRE(run(folder, command) == 0);
      REQUIRE(read(out) == whole);
    }
    REQUIRE(read(out + "-metadata.json") == metadata);
    return text == earlier;
  });
  CHECK(killed >= kills());
  CHECK(unfinished > 0);
  CHECK_FALSE(present(out + ".tmp"));
}

TEST_CASE("files that are written at once are the earlier one or the new one, whenever the program is killed") {
  const Folder folder;
  write(folder / "case.json", kCase);
  struct Way {
    std::vector<std::string> command;
    std::vector<std::string> files;
  };
  const std::string out = folder / "new";
  const std::vector<Way> ways{
      {{WHORL_BINARY, "window", folder / "case.json", "--diameter", "1 um..50 um", "--over", "rotation_speed=6000 rpm..12000 rpm", "--over",
        "gas_overpressure=0 MPa..0.2 MPa", "--force", "--quiet", "-o", out, "--boundary", out + "-boundary"},
       {out, out + "-metadata.json", out + "-boundary", out + "-boundary-metadata.json"}},
      {{WHORL_BINARY, "report", folder / "case.json", "--resolution", "3x3", "--force", "-o", out}, {out}},
      {{WHORL_BINARY, "figure", folder / "case.json", "--kind", "path", "--caption", "--force", "-o", out + ".svg"}, {out + ".svg", out + ".txt"}},
      {{WHORL_BINARY, "estimate", folder / "case.json", "--force", "--profile", out}, {out, out + "-metadata.json"}}};
  for (const Way& way : ways) {
    INFO(way.command[1]);
    const double seconds = seconds_of([&] { REQUIRE(run(folder, way.command) <= 1); });
    std::vector<std::string> whole;
    for (const auto& file : way.files) whole.push_back(read(file));
    const auto lay_earlier = [&] {
      for (const auto& file : way.files) write(file, "earlier\n");
    };
    const auto [killed, before] = kill_at_random_moments(folder, way.command, seconds, lay_earlier, [&](int code) {
      REQUIRE((code == kKilled || code <= 1));
      bool untouched = false;
      for (std::size_t i = 0; i < way.files.size(); ++i) {
        const std::string text = read(way.files[i]);
        REQUIRE((text == whole[i] || text == "earlier\n"));
        if (text != whole[i]) untouched = true;
      }
      return untouched;
    });
    CHECK(killed >= kills());
    CHECK(before > 0);
    WARN(way.command[1] << ": " << killed << " kills, " << before << " of them with an earlier file still there");
    REQUIRE(run(folder, way.command) <= 1);
    for (std::size_t i = 0; i < way.files.size(); ++i) {
      CHECK(read(way.files[i]) == whole[i]);
      CHECK_FALSE(present(way.files[i] + ".tmp"));
    }
  }
}

namespace {

// Runs `action` in a process whose file system has a disk of its own at `disk`: `kilobytes` large, read-only when `earlier` files have
// been laid on it and `locked` is set. The result of `action` is text for the test; "skipped" when the system does not allow it.
std::string on_small_disk(const Folder& folder, int kilobytes, const std::function<std::string(const std::string& disk)>& action) {
  const std::string disk = folder / "disk";
  ::mkdir(disk.c_str(), 0700);
  const pid_t child = ::fork();
  if (child == 0) {
    const auto give = [&](const std::string& text) {
      write(folder / "said", text);
      ::_exit(0);
    };
    // As root a mount namespace is enough; others first become root in a user namespace, where that is allowed.
    if (::unshare(CLONE_NEWNS) != 0 && ::unshare(CLONE_NEWUSER | CLONE_NEWNS) != 0) give("skipped: unshare is not allowed");
    if (::mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0) give("skipped: mount is not allowed");
    const std::string size = "size=" + std::to_string(kilobytes) + "k";
    if (::mount("tmpfs", disk.c_str(), "tmpfs", 0, size.c_str()) != 0) give("skipped: mount is not allowed");
    std::string text;
    try {
      text = action(disk);
    } catch (const std::exception& error) {
      text = error.what();
    }
    give(text);
  }
  (void)finish(child);
  return read(folder / "said");
}

std::string expect(bool good, const std::string& what) { return good ? std::string() : what + '\n'; }

bool skipped(const std::string& said) {
  if (said.rfind("skipped", 0) != 0) return false;
  WARN("not tested here: " << said);
  return true;
}

}  // namespace

TEST_CASE("a full disk ends with a clear message, whole rows and the earlier file intact; resume completes the sweep") {
  const Folder folder;
  write(folder / "case.json", kCase);
  REQUIRE(run(folder, sweep(folder, folder / "whole.csv", 250)) == 0);
  const std::string whole = read(folder / "whole.csv");
  for (int k = 1; k <= 2; ++k)
    REQUIRE(run(folder, with(sweep(folder, folder / ("share" + std::to_string(k)), 250), {"--part", std::to_string(k) + "/2"})) == 0);
  const std::string said = on_small_disk(folder, 100, [&](const std::string& disk) {
    std::string bad;
    const std::string table = disk + "/whole.csv";
    const auto err = [&] { return read(folder / "err"); };
    const auto check = [&](bool good, const std::string& what) { bad += expect(good, what + ": " + err()); };
    write(disk + "/jet.csv", "earlier\n");
    // A sweep that does not fit.
    check(run(folder, sweep(folder, table, 250)) == 1, "sweep: exit code 1");
    check(err().find("No space left") != std::string::npos, "sweep: the reason");
    check(err().find("--resume") != std::string::npos, "sweep: what to do");
    const std::string part = read(table);
    check(!part.empty() && part.back() == '\n' && part.size() < whole.size() && whole.compare(0, part.size(), part) == 0, "sweep: whole rows");
    // Still full: resume neither helps nor harms.
    check(run(folder, with(sweep(folder, table, 250), {"--resume"})) == 1 && read(table) == part, "resume on a full disk");
    // Over an earlier file: what was there before is still there, aside. Ballast fills the disk again.
    ::unlink(table.c_str());
    ::unlink((table + "-metadata.json").c_str());
    write(table, "earlier\n");
    check(run(folder, with(sweep(folder, table, 250), {"--force"})) == 1, "sweep --force: exit code 1");
    check(read(table + ".before-force") == "earlier\n", "sweep --force: the earlier file");
    check(err().find("the earlier file is") != std::string::npos, "sweep --force: says where it is");
    // merge, and the files that are written at once
    check(run(folder, {WHORL_BINARY, "merge", folder / "share1", folder / "share2", "-o", disk + "/joined.csv"}) == 1, "merge: exit code 1");
    check(err().find("No space left") != std::string::npos && err().find("nothing was changed") != std::string::npos, "merge: message");
    check(!present(disk + "/joined.csv") && !present(disk + "/joined.csv.tmp") && !present(disk + "/joined.csv-metadata.json"), "merge: nothing left");
    write(disk + "/ballast", std::string(200'000, 'x'));
    check(run(folder, {WHORL_BINARY, "estimate", folder / "case.json", "--force", "--profile", disk + "/jet.csv"}) == 1, "profile: exit code 1");
    check(err().find("No space left") != std::string::npos, "profile: message");
    check(read(disk + "/jet.csv") == "earlier\n" && !present(disk + "/jet.csv.tmp"), "profile: the earlier file");
    check(run(folder, {WHORL_BINARY, "recipe", folder / "case.json", "--page", disk + "/page.html"}) == 1 && !present(disk + "/page.html"), "recipe page");
    check(run(folder, {WHORL_BINARY, "report", folder / "case.json", "--no-map", "--force", "-o", disk + "/jet.csv"}) == 1, "report: exit code 1");
    check(err().find("No space left") != std::string::npos && read(disk + "/jet.csv") == "earlier\n", "report: the earlier file");
    check(run(folder, {WHORL_BINARY, "figure", folder / "case.json", "--kind", "path", "-o", disk + "/a.svg"}) == 1 && !present(disk + "/a.svg") &&
              !present(disk + "/a.svg.tmp"), "figure");
    write(folder / "trials.csv", "rotation_speed_rpm,diameter_mean_um,diameter_sd_um,diameter_count\n6000,9,2,50\n9000,6,1,50\n12000,4.5,1,50\n");
    check(run(folder, {WHORL_BINARY, "calibrate", folder / "case.json", folder / "trials.csv", "--fit", "model.excess_draw", "--force", "-o", disk + "/jet.csv"}) == 1,
          "calibrate: exit code 1");
    check(err().find("No space left") != std::string::npos && read(disk + "/jet.csv") == "earlier\n", "calibrate: the earlier file");
    check(read(folder / "out").size() > 100, "calibrate: the result is still on the screen");
    check(run(folder, {WHORL_BINARY, "window", folder / "case.json", "--diameter", "1 um..50 um", "--over", "rotation_speed=6000 rpm..12000 rpm", "--over",
                       "gas_overpressure=0 MPa..0.2 MPa", "--quiet", "-o", disk + "/window.csv"}) == 1, "window: exit code 1");
    check(err().find("No space left") != std::string::npos && !present(disk + "/window.csv") && !present(disk + "/window.csv-metadata.json"), "window: nothing left");
    // A database that does not fit.
    const std::string database = disk + "/a.sqlite";
    const bool with_database = run(folder, sweep(folder, folder / "probe.sqlite", 10)) == 0;
    for (const char* name : {"/ballast", "/whole.csv.before-force"}) ::unlink((disk + name).c_str());
    if (with_database) {
      ::unlink(table.c_str());
      ::unlink((table + "-metadata.json").c_str());
      check(run(folder, sweep(folder, database, 1000)) == 1, "database: exit code 1");
      check(err().find("No space left") != std::string::npos && err().find("--resume") != std::string::npos, "database: message");
      check(read(disk + "/jet.csv") == "earlier\n", "database: the earlier file");
    }
    // Room again.
    for (const char* name : {"/ballast", "/whole.csv.before-force"}) ::unlink((disk + name).c_str());
    (void)::mount("none", disk.c_str(), nullptr, MS_REMOUNT, "size=2000k");
    check(run(folder, with(sweep(folder, table, 250), {"--resume"})) == 0 && read(table) == whole, "resume with room");
    if (with_database) {
      check(run(folder, with(sweep(folder, database, 1000), {"--resume"})) == 0, "database: resume with room");
      check(run(folder, sweep(folder, folder / "1000.csv", 1000)) == 0 &&
                run(folder, {WHORL_BINARY, "merge", database, "-o", folder / "1000-back.csv"}) == 0 && read(folder / "1000.csv") == read(folder / "1000-back.csv"),
            "database: the rows of the CSV file");
    }
    return bad.empty() ? "good" : bad;
  });
  if (!skipped(said)) CHECK(said == "good");
}

TEST_CASE("a disk that may not be written to ends with a clear message and the earlier file intact") {
  const Folder folder;
  write(folder / "case.json", kCase);
  const std::string said = on_small_disk(folder, 1000, [&](const std::string& disk) {
    std::string bad;
    const auto check = [&](bool good, const std::string& what) { bad += expect(good, what + ": " + read(folder / "err")); };
    write(disk + "/a.csv", "earlier\n");
    write(disk + "/jet.csv", "earlier\n");
    write(folder / "trials.csv", "rotation_speed_rpm,diameter_mean_um\n6000,9\n9000,6\n12000,4.5\n");
    if (::mount("none", disk.c_str(), nullptr, MS_REMOUNT | MS_RDONLY, nullptr) != 0) return std::string("skipped: remount is not allowed");
    for (const char* how : {"", "--force", "--resume"}) {
      auto command = sweep(folder, disk + "/a.csv", 10);
      if (*how != '\0') command.push_back(how);
      check(run(folder, command) == 2, std::string("sweep ") + how);
      check(read(disk + "/a.csv") == "earlier\n" && !present(disk + "/a.csv.before-force"), "the earlier file");
    }
    check(run(folder, sweep(folder, disk + "/new.sqlite", 10)) == 2 && !present(disk + "/new.sqlite"), "new database");
    check(run(folder, sweep(folder, disk + "/new.csv", 10)) == 2 && read(folder / "err").find("Read-only") != std::string::npos, "new file");
    check(run(folder, {WHORL_BINARY, "estimate", folder / "case.json", "--profile", disk + "/jet.csv"}) == 2 &&
              read(folder / "err").find("Read-only") != std::string::npos, "profile");
    check(read(disk + "/jet.csv") == "earlier\n", "the earlier profile");
    for (const std::vector<std::string>& words :
         {std::vector<std::string>{"report", folder / "case.json", "-o"}, {"figure", folder / "case.json", "--kind", "path", "-o"},
          {"recipe", folder / "case.json", "--page"}, {"calibrate", folder / "case.json", folder / "trials.csv", "-o"},
          {"window", folder / "case.json", "--diameter", "1 um..5 um", "--force", "--boundary"}}) {
      for (const char* name : {"/jet.csv", "/new.csv"}) {
        const bool figure = words[0] == "figure";
        std::vector<std::string> command{WHORL_BINARY};
        command.insert(command.end(), words.begin(), words.end());
        command.push_back(disk + name + (figure ? ".svg" : ""));
        check(run(folder, command) == 2 && read(folder / "err").find("Read-only") != std::string::npos, words[0] + name);
      }
      check(read(disk + "/jet.csv") == "earlier\n", "the earlier file after " + words[0]);
    }
    return bad.empty() ? std::string("good") : bad;
  });
  if (!skipped(said)) CHECK(said == "good");
}

TEST_CASE("a device that is always full in place of standard output") {
  if (::access("/dev/full", W_OK) != 0) {
    WARN("not tested here: no /dev/full");
    return;
  }
  const Folder folder;
  write(folder / "case.json", kCase);
  for (const std::vector<std::string>& command :
       {std::vector<std::string>{WHORL_BINARY, "estimate", folder / "case.json"}, {WHORL_BINARY, "estimate", folder / "case.json", "--json"},
        {WHORL_BINARY, "sweep", folder / "case.json", "--vary", "rotation_speed=3000 rpm, 4000 rpm"}, {WHORL_BINARY, "materials", "--json"}}) {
    INFO(command[1]);
    CHECK(finish(start(command, "/dev/full", folder / "err")) == 1);
    CHECK(contains(read(folder / "err"), "whorl: "));
    CHECK(contains(read(folder / "err"), "cannot"));
  }
  CHECK(run(folder, {WHORL_BINARY, "estimate", folder / "case.json", "--profile", "/dev/full"}) == 1);
  CHECK(contains(read(folder / "err"), "No space left"));
}
