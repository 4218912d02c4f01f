// Files that mean harm: the program ends at once with one message, reads nothing that has no end, writes nothing that runs elsewhere.
#include <sys/stat.h>

#include <algorithm>
#include <chrono>
#include <thread>

#include "app/process.hpp"
#include "catch.hpp"
#include "io/table.hpp"
#include "refusal.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"

using process::Folder;
using process::read;
using process::write;
using testing::refusal;

namespace {

bool contains(const std::string& text, const std::string& part) {
  INFO(text.substr(0, 2000));
  return text.find(part) != std::string::npos;
}

// Exit code of the program, or -1 when it has not ended after 20 seconds.
int run(const Folder& folder, std::vector<std::string> arguments, const std::string& in_folder = {}) {
  arguments.insert(arguments.begin(), WHORL_BINARY);
  if (!in_folder.empty()) {
    std::string line = "cd '" + in_folder + "' && exec";
    for (const auto& word : arguments) line += " '" + word + "'";
    arguments = {"/bin/sh", "-c", line};
  }
  const pid_t child = process::start(arguments, folder / "out", folder / "err");
  for (int i = 0; i < 2000; ++i) {
    int status = 0;
    if (::waitpid(child, &status, WNOHANG) == child) return WIFEXITED(status) ? WEXITSTATUS(status) : 1000 + WTERMSIG(status);
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  ::kill(child, SIGKILL);
  (void)process::finish(child);
  return -1;
}

// A good case with further members.
std::string case_with(const std::string& more, const std::string& speed = "9000 rpm") {
  return R"({"whorl_case": 1,
  "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "280 kg/mol", "concentration": "24 % w/v of solvent"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
  "operation": {"rotation_speed": ")" + speed + R"(", "gas_overpressure": "0.1 MPa", "charge_volume": "6 mL", "collection_distance": "170 mm"},
  "model": {"tier": "inertial", "drying": "lumped"})" + (more.empty() ? "" : ", " + more) + "}";
}

std::string nested(std::size_t levels) { return std::string(levels, '[') + std::string(levels, ']'); }

}  // namespace

TEST_CASE("nesting without end is refused, not followed") {
  for (const std::size_t levels : {std::size_t{33}, std::size_t{1000}, std::size_t{400'000}}) {
    CHECK(contains(refusal([&] { (void)whorl::io::read_case_text(case_with("\"sweep\": {\"vary\": " + nested(levels) + "}"), "a.json"); }), "nested deeper"));
    whorl::model::Library library;
    CHECK(contains(refusal([&] { whorl::io::add_materials_text(library, "{\"whorl_materials\": 1, \"x\": " + nested(levels) + "}", "a.json"); }), "nested deeper"));
    CHECK(contains(refusal([&] { (void)whorl::io::read_csvw_identity("{\"x\": " + nested(levels) + "}", "a"); }), "nested deeper"));
    CHECK(contains(refusal([&] { (void)whorl::io::csvw_of_whole("{\"x\": " + nested(levels) + "}", "a", "b", {"rows", "1"}); }), "nested deeper"));
  }
}

TEST_CASE("numbers that no double holds, and texts without end") {
  for (const std::string& speed : {std::string("1e999 rpm"), "1" + std::string(400, '0') + " rpm", std::string("nan rpm"), std::string("inf rpm"),
                                   std::string("-1e-999 rpm"), std::string("0x1p10 rpm"), std::string("1e5") + std::string(100'000, 'm')}) {
    const std::string text = refusal([&] { (void)whorl::io::read_case_text(case_with("", speed), "a.json"); });
    CHECK(contains(text, "operation.rotation_speed"));
    CHECK(text.size() < 2000);  // the message does not repeat a book
  }
  CHECK(contains(refusal([&] { (void)whorl::io::read_case_text(case_with("\"numerics\": {\"max_turns\": 1e999}"), "a.json"); }), "a.json"));
  CHECK(refusal([&] { (void)whorl::io::parse_table(std::string(3000, ','), "a.csv"); }) != "accepted");
  std::string many;
  for (int i = 0; i < 3000; ++i) many += "c" + std::to_string(i) + ",";
  CHECK(contains(refusal([&] { (void)whorl::io::parse_table(many, "a.csv"); }), "at most 2000"));
}

TEST_CASE("devices, pipes and folders in place of files") {
  const Folder folder;
  write(folder / "case.json", case_with(""));
  REQUIRE(::mkfifo((folder / "pipe").c_str(), 0600) == 0);
  const auto err = [&] { return read(folder / "err"); };
  for (const char* device : {"/dev/zero", "/dev/urandom", "/dev/null"}) {
    INFO(device);
    CHECK(run(folder, {"estimate", device}) == 2);
    CHECK(contains(err(), "device"));
    CHECK(run(folder, {"check", device}) == 2);
    CHECK(run(folder, {"materials", "--add", device}) == 2);
    CHECK(run(folder, {"figure", device, "-o", folder / "a.svg"}) == 2);
    write(folder / "bad.json", case_with("\"materials\": [\"" + std::string(device) + "\"]"));
    CHECK(run(folder, {"estimate", folder / "bad.json"}) == 2);
    CHECK(contains(err(), "device"));
  }
  // Named inside a file, a pipe would be waited for without end.
  write(folder / "bad.json", case_with("\"materials\": [\"pipe\"]"));
  CHECK(run(folder, {"estimate", folder / "bad.json"}) == 2);
  CHECK(contains(err(), "pipe"));
  write(folder / "bad.json", case_with("\"materials\": [\".\"]"));
  CHECK(run(folder, {"estimate", folder / "bad.json"}) == 2);
  CHECK(contains(err(), "folder"));
  // Named by the user, a pipe is read.
  const pid_t shell = process::start({"/bin/sh", "-c", "cat '" + (folder / "case.json") + "' | '" WHORL_BINARY "' check /dev/stdin"}, folder / "out", folder / "err");
  CHECK(process::finish(shell) == 0);
  // Shares and their metadata are read twice.
  for (const char* bad : {"/dev/zero", "pipe"}) {
    const std::string share = *bad == '/' ? std::string(bad) : folder / bad;
    REQUIRE(run(folder, {"sweep", folder / "case.json", "--vary", "rotation_speed=3000 rpm, 4000 rpm", "-o", folder / "a.csv", "--force"}) == 0);
    ::unlink((folder / "b.csv").c_str());
    ::unlink((folder / "b.csv-metadata.json").c_str());
    REQUIRE(::symlink(share.c_str(), (folder / "b.csv").c_str()) == 0);
    write(folder / "b.csv-metadata.json", read(folder / "a.csv-metadata.json"));
    CHECK(run(folder, {"merge", folder / "b.csv", "-o", folder / "joined.csv"}) == 2);
    CHECK(contains(err(), "not a regular file"));
    ::unlink((folder / "b.csv").c_str());
    ::unlink((folder / "b.csv-metadata.json").c_str());
    write(folder / "b.csv", read(folder / "a.csv"));
    REQUIRE(::symlink(share.c_str(), (folder / "b.csv-metadata.json").c_str()) == 0);
    CHECK(run(folder, {"merge", folder / "b.csv", "-o", folder / "joined.csv"}) == 2);
    CHECK(run(folder, {"sweep", folder / "case.json", "--vary", "rotation_speed=3000 rpm, 4000 rpm", "-o", folder / "b.csv", "--resume"}) == 2);
    CHECK(read(folder / "b.csv") == read(folder / "a.csv"));
  }
  // A file of one endless line does not fill the memory.
  write(folder / "b.csv", std::string(5 << 20, 'x'));
  ::unlink((folder / "b.csv-metadata.json").c_str());
  write(folder / "b.csv-metadata.json", read(folder / "a.csv-metadata.json"));
  CHECK(run(folder, {"merge", folder / "b.csv", "-o", folder / "joined.csv"}) == 2);
  CHECK(contains(err(), "longer than any row"));
  CHECK_FALSE(process::present(folder / "joined.csv"));
}

TEST_CASE("a case may name other files, but what they hold is not repeated") {
  const Folder folder;
  write(folder / "secret", "root:secret-word:0:0\n");
  ::mkdir((folder / "cases").c_str(), 0700);
  write(folder / "cases/a.json", case_with("\"materials\": [\"../secret\"]"));
  CHECK(run(folder, {"estimate", folder / "cases/a.json", "--json"}) == 2);
  CHECK_FALSE(contains(read(folder / "err") + read(folder / "out"), "secret-word"));
}

TEST_CASE("no control characters from a file reach the terminal") {
  const Folder folder;
  // ESC ] 0 ; sets the title of a terminal, ESC [ 2 J clears it.
  write(folder / "a.json", case_with(R"("\u001b]0;owned\u0007": 1)"));
  CHECK(run(folder, {"check", folder / "a.json"}) == 2);
  CHECK(read(folder / "err").find('\x1b') == std::string::npos);
  CHECK(read(folder / "out").find('\x1b') == std::string::npos);
  write(folder / "a.json", case_with("", R"(\u001b[2J rpm)"));
  CHECK(run(folder, {"estimate", folder / "a.json"}) == 2);
  CHECK(read(folder / "err").find('\x1b') == std::string::npos);
  write(folder / "a.json", case_with(R"("purpose": "a \u001b[2J b")"));
  CHECK(run(folder, {"estimate", folder / "a.json"}) == 2);
  CHECK(contains(read(folder / "err"), "control character"));
  CHECK(read(folder / "out").find('\x1b') == std::string::npos);
  CHECK(read(folder / "err").find('\x1b') == std::string::npos);
}

TEST_CASE("nothing that comes from a file, a heading, a label, a name or the command line steers the terminal, on either stream") {
  const Folder folder;
  // Title, C1, bidirectional controls, separators, DEL, carriage return, bytes that are no UTF-8.
  const std::string evil = "\x1b]2 owned\x07 \xc2\x9b" "2J \xe2\x80\xae" "abc\xe2\x81\xa6 \x7f \rover \xe2\x80\xa8 \xff\xc3";
  const auto shows = [&](std::vector<std::string> words, int code) {
    INFO(words[0]);
    CHECK(run(folder, words, folder / ".") == code);
    for (const char* stream : {"out", "err"}) {
      const std::string text = read(folder / stream);
      INFO(words[0] << ", " << stream << ": " << text.substr(0, 300));
      for (const char* bad : {"\x1b", "\x07", "\xc2\x9b", "\xe2\x80\xae", "\xe2\x81\xa6", "\x7f", "\r", "\xe2\x80\xa8", "\xff", "\xc3 "})
        CHECK(text.find(bad) == std::string::npos);
      CHECK(text.find("internal error") == std::string::npos);
      CHECK(text.find("\nwhorl: done") == std::string::npos);  // a name must not look like a message
    }
  };
  write(folder / "a.json", case_with(""));
  std::string heading = evil;
  heading.erase(heading.find('\r'), 1);  // the line end of old instruments
  write(folder / "list.csv", "x;Diameter " + heading + "\n1;5\n1;6\n1;7\n1;8\n1;9\n1;10\n1;11\n1;12\n");
  shows({"diameters", "list.csv", "--unit", "um"}, 0);
  shows({"diameters", "list.csv", "--column", evil}, 2);
  write(folder / "trials.csv", "label,rotation_speed_rpm,diameter_mean_um\n\"" + evil + "\nwhorl: done\",6000,9\nb,9000,6\nc,12000,4.5\n");
  shows({"calibrate", "a.json", "trials.csv"}, 0);
  write(folder / "t.csv", "point," + evil + "\n1,2\n");
  shows({"figure", "t.csv", "-o", "a.svg"}, 2);
  const std::string name = "n" + evil + "\nwhorl: done.json";
  write(folder / name, case_with(""));
  for (const char* json : {"", "--json"}) {
    for (const char* command : {"check", "estimate", "recipe", "explain"}) {
      std::vector<std::string> words{command, name};
      if (*json != '\0') words.emplace_back(json);
      shows(words, 0);
    }
    shows({"check", "no" + name}, 2);
  }
  shows({"sweep", name, "--vary", "operation.charge_volume=1 mL, 900 mL"}, 0);
  for (const std::vector<std::string>& words :
       {std::vector<std::string>{evil}, {"estimate", "a.json", "--" + evil}, {"estimate", "a.json", "--set", evil + "=1"},
        {"estimate", "a.json", "--set", "rotation_speed=1 " + evil}, {"materials", evil}, {"sweep", "a.json", "--vary", evil + "=1, 2"},
        {"report", "a.json", "-o", "no/" + evil}, {"window", "a.json", "--diameter", evil}})
    shows(words, 2);
}

TEST_CASE("markup in titles stays text in pages and figures") {
  const Folder folder;
  const std::string evil = R"(</title><script>alert(1)</script><img src=x onerror=alert(2)> \" ' & ]]>)";
  write(folder / "a.json", case_with("\"purpose\": \"" + evil + "\""));
  const auto harmless = [&](const std::string& file) {
    const std::string text = read(folder / file);
    INFO(file);
    CHECK_FALSE(text.empty());
    CHECK(text.find("<script>alert") == std::string::npos);
    CHECK(text.find("<img src=x") == std::string::npos);
    CHECK(text.find("alert(1)</script>") == std::string::npos);
  };
  REQUIRE(run(folder, {"recipe", folder / "a.json", "--page", folder / "page.html"}) == 0);
  harmless("page.html");
  CHECK(contains(read(folder / "page.html"), "&lt;script&gt;alert(1)"));
  for (const char* kind : {"path", "profile", "budget"}) {
    REQUIRE(run(folder, {"figure", folder / "a.json", "--kind", kind, "--force", "-o", folder / "a.svg"}) == 0);
    harmless("a.svg");
  }
  // A case whose name is markup.
  write(folder / "<script>alert(1)<script>.json", case_with(""));
  REQUIRE(run(folder, {"figure", "<script>alert(1)<script>.json", "-o", folder / "b.svg"}, folder / ".") == 0);
  harmless("b.svg");
}

TEST_CASE("markup and commands in purposes, names and sources of a user's materials stay text in every document") {
  const Folder folder;
  const std::string evil = R"(</title><script>alert(1)</script><img src=x onerror=alert(2)> \" ' & ]]> \\input{/etc/passwd} $x$)";
  std::string materials = read(WHORL_SOURCE_DIR "/tests/data/materials.json");
  std::size_t replaced = 0;
  for (const std::string text : {"copied for the tests", "test polymer", "test solvent"})
    for (std::size_t at = 0; (at = materials.find(text, at)) != std::string::npos; at += evil.size(), ++replaced) materials.replace(at, text.size(), evil);
  REQUIRE(replaced > 10);
  write(folder / "m.json", materials);
  std::string text = case_with("\"materials\": [\"m.json\"], \"purpose\": \"" + evil + "\"");
  text.replace(text.find("PS"), 2, "TESTPOL");
  text.replace(text.find("toluene"), 7, "testsolvent");
  text.replace(text.find("280 kg/mol"), 10, "120 kg/mol");
  const std::string file = "<script>alert(1)<script>\\input{x}.json";
  write(folder / file, text);
  const auto run_here = [&](std::vector<std::string> words) { return run(folder, std::move(words), folder / "."); };
  const auto harmless = [&](const std::string& document) {
    INFO(document.substr(0, 300));
    CHECK(contains(document, "alert(1)"));
    CHECK(document.find("<script>alert") == std::string::npos);
    CHECK(document.find("<img src=x") == std::string::npos);
    CHECK(document.find("alert(1)</script>") == std::string::npos);
  };
  REQUIRE(run_here({"report", file, "--resolution", "2x2", "-o", "r.html"}) <= 1);
  const std::string page = read(folder / "r.html");
  harmless(page);
  // The page's own script and data only, and a policy that lets no other run.
  std::size_t scripts = 0;
  for (std::size_t at = 0; (at = page.find("<script", at)) != std::string::npos; ++at) ++scripts;
  CHECK(scripts == 2);
  CHECK(contains(page, "default-src 'none'"));
  REQUIRE(run_here({"recipe", file, "--page", "p.html"}) <= 1);
  harmless(read(folder / "p.html"));
  REQUIRE(run_here({"figure", file, "--kind", "path", "-o", "a.svg"}) == 0);
  harmless(read(folder / "a.svg"));
  REQUIRE(run_here({"explain", file, "--format", "markdown"}) <= 1);
  // Markdown takes a backslash in front of < for "as it stands" (CommonMark 2.4).
  std::string markdown = read(folder / "out");
  for (std::size_t at = 0; (at = markdown.find("\\<", at)) != std::string::npos;) markdown.replace(at, 2, "&lt;");
  harmless(markdown);
  REQUIRE(run_here({"explain", file, "--format", "latex"}) <= 1);
  const std::string latex = read(folder / "out");
  CHECK(contains(latex, "\\textbackslash{}input\\{"));
  CHECK(latex.find("\\input{") == std::string::npos);
}

TEST_CASE("a trial's label and its list of diameters stay what they are") {
  const Folder folder;
  write(folder / "secret", "secret-word\n");
  ::mkdir((folder / "data").c_str(), 0700);
  REQUIRE(::mkfifo((folder / "data/pipe").c_str(), 0600) == 0);
  write(folder / "case.json", case_with(""));
  const auto calibrate = [&](const std::string& table, std::vector<std::string> more = {}) {
    write(folder / "data/trials.csv", table);
    std::vector<std::string> words{"calibrate", folder / "case.json", folder / "data/trials.csv", "--fit", "model.excess_draw"};
    words.insert(words.end(), more.begin(), more.end());
    return run(folder, words);
  };
  for (const std::string& list : {std::string("../secret"), folder / "secret", std::string("a/../../secret")}) {
    CHECK(calibrate("rotation_speed_rpm,diameter_list\n6000," + list + "\n") == 2);
    CHECK(contains(read(folder / "err"), "in the folder of the table"));
    CHECK_FALSE(contains(read(folder / "err") + read(folder / "out"), "secret-word"));
  }
  CHECK(calibrate("rotation_speed_rpm,diameter_list\n6000,pipe\n") == 2);
  CHECK(contains(read(folder / "err"), "pipe"));
  for (const char* device : {"/dev/zero", "/dev/null"}) {
    CHECK(run(folder, {"calibrate", folder / "case.json", device}) == 2);
    CHECK(run(folder, {"diameters", device}) == 2);
    CHECK(run(folder, {"estimate", folder / "case.json", "--calibration", device}) == 2);
    CHECK(contains(read(folder / "err"), "device"));
  }
  // a label that a spreadsheet would run
  const std::string table = "label,rotation_speed_rpm,diameter_mean_um\n\"=HYPERLINK(\"\"x\"\")\",6000,9\n@SUM(A1),9000,6\n+1,12000,4.5\n";
  REQUIRE(calibrate(table, {"--residuals", folder / "r.csv", "-o", folder / "c.json"}) == 0);
  const std::string residuals = read(folder / "r.csv");
  std::vector<std::string> cells;
  for (std::size_t from = residuals.find('\n') + 1; from < residuals.size();) {
    const auto end = residuals.find('\n', from);
    REQUIRE(whorl::io::split_csv_line(residuals.substr(from, end - from), cells));
    CHECK(cells.front().front() == '\'');
    from = end + 1;
  }
  // a calibration file that was tampered with
  const std::string good = read(folder / "c.json");
  const auto with_value = [&](const std::string& value) {
    std::string text = good;
    const auto at = text.find("\"value_si\": ") + 12;
    text.replace(at, text.find(',', at) - at, value);
    write(folder / "bad.json", text);
    return run(folder, {"estimate", folder / "case.json", "--calibration", folder / "bad.json"});
  };
  for (const char* value : {"1e999", "-1", "1e300", "\"x\"", "[]", "null", "nan"}) {
    INFO(value);
    CHECK(with_value(value) == 2);
    CHECK_FALSE(contains(read(folder / "err"), "internal error"));
  }
  write(folder / "bad.json", "{\"whorl_calibration\": 1, \"parameters\": " + nested(400'000) + "}");
  CHECK(run(folder, {"estimate", folder / "case.json", "--calibration", folder / "bad.json"}) == 2);
  CHECK(contains(read(folder / "err"), "nested deeper"));
}

TEST_CASE("results that were tampered with are refused by figure, not drawn and not followed") {
  const Folder folder;
  for (const std::string& text : {"{\"program\": " + nested(400'000) + "}", std::string(R"({"program": "whorl", "results": 1, "run": 3})"),
                                  std::string(R"({"program": 1, "case": [], "results": {"dry_diameter_um": "x"}, "run": [{"dry_diameter_um": "x", "fibre_length_share": 1}]})"),
                                  std::string(R"({"program": "whorl", "results": {"dry_diameter_um": -1}, "line_speed_budget_J_kg": []})")}) {
    write(folder / "e.json", text);
    for (const char* kind : {"distribution", "budget", "split"}) {
      INFO(text.substr(0, 100) << " as " << kind);
      std::vector<std::string> words{"figure", folder / "e.json", "--kind", kind, "-o", folder / "a.svg"};
      if (std::string(kind) == "split") words.insert(words.begin() + 2, folder / "e.json");
      CHECK(run(folder, words) == 2);
      CHECK_FALSE(contains(read(folder / "err"), "internal error"));
      CHECK_FALSE(process::present(folder / "a.svg"));
    }
  }
}

TEST_CASE("a spreadsheet finds no formula in a table") {
  const Folder folder;
  // The text of a refused row begins with the name of the case file.
  const std::string name = "=HYPERLINK(1).json";
  write(folder / name, case_with(R"("purpose": "=1+1")"));
  CHECK(run(folder, {"sweep", name, "--vary", "operation.charge_volume=1 mL, 4 mL, 900 mL", "-o", "a.csv"}, folder / ".") <= 1);
  const std::string text = read(folder / "a.csv");
  const std::string file = process::present(folder / "a.csv") ? "a.csv" : "none";
  REQUIRE(file == "a.csv");
  std::vector<std::string> cells;
  std::size_t rows = 0;
  std::size_t guarded = 0;
  for (std::size_t from = 0; from < text.size();) {
    const auto end = text.find('\n', from);
    REQUIRE(whorl::io::split_csv_line(text.substr(from, end - from), cells));
    ++rows;
    for (const auto& cell : cells) {
      if (cell.empty()) continue;
      const bool number = cell.find_first_not_of("0123456789.e+-") == std::string::npos;
      CHECK((number || std::string("=+-@\t\r").find(cell.front()) == std::string::npos));
      if (cell.rfind("'=HYPERLINK", 0) == 0) ++guarded;
    }
    from = end + 1;
  }
  CHECK(rows == 4);
  CHECK(guarded == 1);
}

TEST_CASE("the version says what the program was built with") {
  const Folder folder;
  REQUIRE(run(folder, {"--version"}) == 0);
  std::string text = read(folder / "out");
  std::replace(text.begin(), text.end(), '\n', ' ');  // folded at the width of the terminal
  for (const char* part : {"whorl ", "compiler: ", "build type ", "Boost ", "Eigen ", "nlohmann_json ", "oneTBB ", "CLI11 ", "sanitizers ",
                           "property library: sha256:"})
    CHECK(contains(text, part));
}
