// What people read: every command in text form over several cases fits 80 columns and holds no number that is none; so do the documents.
#include <pty.h>

#include <filesystem>
#include <map>
#include <set>
#include <sstream>

#include "app/shown.hpp"
#include "run/progress.hpp"
#include "app/shown_text.hpp"
#include "console/slip.hpp"
#include "catch.hpp"
#include "whorl/io/fit_text.hpp"

using process::Folder;
using process::show;
using process::Shown;
using process::read;
using process::write;

namespace {

const std::string kCases = WHORL_SOURCE_DIR "/cases/";

// Faults of a text, one a line.
std::string faults(const std::string& text, std::size_t columns = 80) {
  std::string found;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    if (testing::columns_of(line) > columns && !testing::one_long_word(line)) found += std::to_string(testing::columns_of(line)) + " columns: " + line + '\n';
    for (const std::string& word : testing::bad_words(line)) found += '"' + word + "\" in: " + line + '\n';
  }
  return found;
}

bool has(const std::string& text, const std::string& part) {
  INFO(text.substr(0, 4000));
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("the gate itself: what it refuses and what it lets through") {
  using testing::bad_words;
  for (const char* bad : {"change +inf", "-inf", "nan um", "NaN", "1.2345678", "12345678 points", "0.12345678", "1234567", "(nan)", "x=-inf,", "1.2345678e-5",
                          "123.45678um"}) {
    INFO(bad);
    CHECK(bad_words(bad).size() == 1);
  }
  for (const char* good : {"information", "nanometres", "infinite_shear_viscosity", "101.325 kPa", "1000000 points", "1e-300", "5705d1ec0ec89f3f",
                           "0.000123456", "10.1016/j.polymer.2020.122794", "12.5 um", "2.06e+04"}) {
    INFO(good);
    CHECK(bad_words(good).empty());
  }
}

TEST_CASE("folding: at blanks, under what stands behind a label, words whole") {
  using whorl::io::fitted;
  CHECK(fitted("short\n  line\n", 20) == "short\n  line\n");
  CHECK(fitted("  label   one two three four\n", 20) == "  label   one two\n          three four\n");
  CHECK(fitted("one two three four five", 12) == "one two\nthree four\nfive");
  CHECK(fitted("/a/very/long/file/name.json is here", 10) == "/a/very/long/file/name.json\nis here");
  CHECK(fitted("± ± ± ± ±", 9) == "± ± ± ± ±");  // characters, not bytes
  CHECK(fitted("", 10).empty());
}

TEST_CASE("every command in text form, over several cases, fits 80 columns and prints no inf, no nan and no long number") {
  const Folder folder;
  const std::vector<std::string> cases{"pcl-chloroform", "pmma-acetone-dry", "pva-water-wet", "slow-dripping", "pvp-ethanol-measured", "thin-jet-stalled"};
  for (const auto& name : cases) std::filesystem::copy_file(kCases + name + ".json", folder / (name + ".json"));
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-trials.csv", folder / "trials.csv");
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-diameters.csv", folder / "list.csv");
  const std::vector<std::string> quick{"--set", "model.tier=inertial", "--set", "model.drying=lumped"};
  const auto with = [&](std::vector<std::string> words, bool fast) {
    if (fast) words.insert(words.end(), quick.begin(), quick.end());
    return words;
  };
  const auto clean = [&](const std::vector<std::string>& words, int worst = 1) {
    const Shown shown = show(folder, words);
    std::string line;
    for (const auto& word : words) line += word + ' ';
    INFO(line << "\n" << shown.err.substr(0, 500));
    CHECK(shown.exit <= worst);
    CHECK(shown.out.size() + shown.err.size() > 0);
    CHECK(faults(shown.out) == "");
    return shown.out;
  };
  for (const auto& name : cases) {
    const std::string file = name + ".json";
    clean({"estimate", file});
    clean({"estimate", file, "--cautions"});
    clean({"estimate", file, "--full"});
    clean(with({"estimate", file, "--uncertainty", "16"}, true));
    clean({"recipe", file});
    clean({"check", file});
    clean(with({"explain", file}, true));
    clean(with({"explain", file, "--between", "rotation_speed=6000 rpm,9000 rpm"}, true));
    clean(with({"diameters", "list.csv", "--case", file}, true));
    clean(with({"window", file, "--diameter", "2 um..4 um", "--over", "rotation_speed=4000 rpm..9000 rpm", "--over", "gas_overpressure=0 MPa..0.1 MPa"}, true));
  }
  clean(with({"explain", "pcl-chloroform.json", "pmma-acetone-dry.json"}, true));
  // works that all but cancel: a split of the change into them held +inf %
  CHECK(has(clean(with({"explain", "pmma-acetone-dry.json", "--between", "gas_overpressure=0 MPa,0.3 MPa", "--set", "charge_volume=0.01 mL", "--set",
                        "orifice_diameter=0.3 mm"}, true)), "thousandfold"));
  clean(with({"explain", "pcl-chloroform.json", "--sensitivity", "32"}, true));
  clean(with({"window", "pcl-chloroform.json", "--diameter", "40 um..41 um", "--over", "rotation_speed=4000 rpm..9000 rpm", "--over",
              "gas_overpressure=0 MPa..0.1 MPa", "--uncertainty", "16"}, true));
  clean(with({"calibrate", "pcl-chloroform.json", "trials.csv", "--next-trials", "3"}, true));
  clean(with({"calibrate", "pcl-chloroform.json", "trials.csv", "--fit", "model.excess_draw", "--next-trials", "2"}, true));
  clean({"calibrate", "trials.csv", "--next-trials", "2"});
  clean({"diameters", "list.csv"});
  clean({"materials"});
  for (const char* name : {"PMMA", "PCL", "PLA", "PDLLA", "PEO", "PVP", "PS", "PVA", "chloroform", "water", "ethanol", "toluene", "methanol", "2-butanone", "dimethyl-sulfoxide"}) clean({"materials", name});
  clean({"materials", "PS", "toluene"});
  clean({"materials", "PVP", "ethanol"});
  clean({"--help"});
  clean({"--version"});
  for (const char* command : {"estimate", "sweep", "window", "merge", "explain", "figure", "calibrate", "diameters", "recipe", "report", "page", "check", "materials"})
    clean({command, "--help"});
  for (const auto& words : {std::vector<std::string>{"sweep", "pcl-chloroform.json", "--vary", "rotation_speed=6000 rpm, 7000 rpm", "-o", "a.csv"},
                            {"merge", "a.csv", "-o", "b.csv"}, {"figure", "a.csv", "--kind", "trend", "-o", "a.svg"}}) {
    const Shown shown = show(folder, with(words, words.front() == "sweep"));
    INFO(words.front() << ": " << shown.err);
    CHECK(shown.exit == 0);
    CHECK(faults(shown.out + shown.err) == "");
  }
}

TEST_CASE("documents for people hold no inf, no nan and no long number outside of blocks that show files") {
  std::size_t files = 0;
  std::string found;
  const auto scan = [&](const std::filesystem::path& path) {
    ++files;
    std::istringstream lines(read(path.string()));
    bool inside = false;
    bool shown_file = false;
    for (std::string line; std::getline(lines, line);) {
      if (line.rfind("```", line.find_first_not_of(' ')) == line.find_first_not_of(' ') && line.find("```") != std::string::npos) {
        inside = !inside;
        const std::string language = line.substr(line.find("```") + 3);
        shown_file = inside && language.rfind("console", 0) != 0 && language.rfind("text", 0) != 0;
        continue;
      }
      if (inside && shown_file) continue;
      std::string prose;
      bool code = false;  // between back ticks: names and formats
      for (const char c : line) {
        if (c == '`' && !inside) code = !code;
        else if (!code) prose += c;
      }
      for (const std::string& word : testing::bad_words(prose)) found += path.filename().string() + ": \"" + word + "\" in: " + line.substr(0, 160) + '\n';
    }
  };
  for (const char* name : {"README.md", "DEVELOPERS.md", "CHANGELOG.md"}) scan(std::filesystem::path(WHORL_SOURCE_DIR) / name);
  for (const auto& entry : std::filesystem::recursive_directory_iterator(WHORL_SOURCE_DIR "/docs"))
    if (entry.path().extension() == ".md") scan(entry.path());
  CHECK(files > 30);
  CHECK(found == "");
}

TEST_CASE("a mistyped command or option names the nearest one") {
  const Folder folder;
  const auto says = [&](const std::vector<std::string>& words, const std::string& part) {
    const Shown shown = show(folder, words);
    INFO(shown.err);
    CHECK(shown.exit == 2);
    CHECK(has(shown.err, part));
    CHECK(shown.out.empty());
  };
  says({"esitmate", "a.json"}, "no command \"esitmate\"; did you mean \"estimate\"?");
  says({"--set", "model.tier=inertial", "windw", "a.json"}, "no command \"windw\"; did you mean \"window\"?");
  says({"xyzzyxyzzy"}, "no command \"xyzzyxyzzy\"\n");
  says({"calib", "a.json"}, "did you mean \"calibrate\"?");
  says({"fig", "a.json"}, "did you mean \"figure\"?");
  says({"validate", "a.json"}, "did you mean \"check\"?");
  says({"help"}, "did you mean \"--help\"?");
  says({"a.json", "--full"}, "no command \"a.json\"; did you mean \"estimate a.json\"?");
  says({"--progress-every", "5", "windw", "a.json"}, "did you mean \"window\"?");
  says({"estimate", "a.json", "--ful"}, "estimate: no option \"--ful\"; did you mean \"--full\"?");
  says({"sweep", "a.json", "--varry", "x=1, 2"}, "sweep: no option \"--varry\"; did you mean \"--vary\"?");
  says({"estimate", "a.json", "--calibraton", "x.json"}, "did you mean \"--calibration\"?");
  says({"recipe", "a.json", "--boundary=x"}, "no option \"--boundary\", it is one of window");
  says({"estimate"}, "CASE");  // nothing mistyped: what is missing
  // hostile words stay one line and do not fill the screen
  const std::string slip = whorl::console::slip_text({std::string(5000, 'x')}, {}, {{"estimate", {}}});
  CHECK(slip.size() < 120);
  CHECK(whorl::console::slip_text({"esti\nmate"}, {}, {{"estimate", {}}}).find('\n') == std::string::npos);
}

TEST_CASE("progress: how far, how much longer, no time before there is one") {
  using whorl::run::duration_text;
  using whorl::run::progress_text;
  CHECK(progress_text(50, 200, false, 10.0, "points") == "50 of 200 points (25 %), 30 s left");
  CHECK(progress_text(0, 200, false, 10.0, "points") == "0 of 200 points (0 %)");
  CHECK(progress_text(90, 450, true, 3.0, "model runs") == "90 of about 450 model runs (20 %), about 12 s left");
  CHECK(progress_text(500, 450, true, 3.0, "model runs") == "500 model runs, 3 s so far");
  CHECK(progress_text(5, 0, false, 3.0, "model runs") == "5 model runs, 3 s so far");
  CHECK(duration_text(0.2) == "under a second");
  CHECK(duration_text(125.0) == "2 min 5 s");
  CHECK(duration_text(7300.0) == "2 h 1 min");
  CHECK(duration_text(1e300) == "years");
  // asked for, it is said where there is no terminal; not asked for, it is not
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  const std::vector<std::string> words{"sweep", "a.json", "--vary", "rotation_speed=6000 rpm..12000 rpm:400", "--set", "model.tier=inertial", "--threads", "1", "-o", "a.csv", "--force"};
  auto asked = words;
  asked.insert(asked.end(), {"--progress", "--progress-every", "0"});
  const Shown shown = show(folder, asked);
  REQUIRE(shown.exit == 0);
  CHECK(has(shown.err, " of 400 points"));
  CHECK(shown.err.find('\r') == std::string::npos);
  const std::string bytes = read(folder / "a.csv");
  const Shown quiet = show(folder, words);
  CHECK(quiet.err.find(" left") == std::string::npos);
  CHECK(read(folder / "a.csv") == bytes);  // the option changes no byte
}

TEST_CASE("sweep --columns short: the few columns in the order one reads; resumed and merged as any sweep, and not mixed with another") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  const std::vector<std::string> base{"sweep", "a.json", "--vary", "rotation_speed=6000 rpm..9000 rpm:4", "--set", "model.tier=inertial", "--set", "model.drying=lumped"};
  const auto with = [&](std::initializer_list<std::string> more) {
    auto words = base;
    words.insert(words.end(), more);
    return words;
  };
  REQUIRE(show(folder, with({"--columns", "short", "-o", "whole.csv"})).exit == 0);
  const std::string whole = read(folder / "whole.csv");
  CHECK(whole.substr(0, whole.find('\n')) ==
        "point,rotation_speed_rpm,status,class,landing,dry_diameter_um,diameter_low_um,diameter_high_um,tearing_probability,thread_diameter_um,"
        "line_diameter_um,residual_solvent,polymer_throughput_g_h,run_time_s,emptied_fraction,warnings,reason");
  // every cell is that of the full table
  REQUIRE(show(folder, with({"-o", "full.csv"})).exit == 0);
  const auto cells = [](const std::string& text, std::size_t row) {
    std::map<std::string, std::string> out;
    std::istringstream lines(text);
    std::string head, line;
    std::getline(lines, head);
    for (std::size_t i = 0; i <= row; ++i) std::getline(lines, line);
    std::istringstream names(head), values(line);
    for (std::string name, value; std::getline(names, name, ',');) {
      std::getline(values, value, ',');
      out[name] = value;
    }
    return out;
  };
  const std::string full = read(folder / "full.csv");
  for (std::size_t row = 0; row < 4; ++row) {
    const auto few = cells(whole, row);
    const auto all = cells(full, row);
    CHECK(few.size() == 17);
    for (const auto& [name, value] : few) {
      INFO(name);
      REQUIRE(all.count(name) == 1);
      CHECK(all.at(name) == value);
    }
  }
  // shares join to the same bytes; a cut file is resumed to them
  REQUIRE(show(folder, with({"--columns", "short", "--part", "1/2", "-o", "s1.csv"})).exit == 0);
  REQUIRE(show(folder, with({"--columns", "short", "--part", "2/2", "-o", "s2.csv"})).exit == 0);
  REQUIRE(show(folder, {"merge", "s2.csv", "s1.csv", "-o", "joined.csv"}).exit == 0);
  CHECK(read(folder / "joined.csv") == whole);
  write(folder / "whole.csv", whole.substr(0, whole.size() * 2 / 3));
  REQUIRE(show(folder, with({"--columns", "short", "-o", "whole.csv", "--resume"})).exit == 0);
  CHECK(read(folder / "whole.csv") == whole);
  const Shown mixed = show(folder, with({"-o", "whole.csv", "--resume"}));
  CHECK(mixed.exit == 2);
  CHECK(has(mixed.err, "other columns (--columns)"));
  CHECK(read(folder / "whole.csv") == whole);
  CHECK(show(folder, with({"--columns", "few"})).exit == 2);
  // drawn by the names of its columns
  CHECK(show(folder, {"figure", "whole.csv", "--kind", "trend", "-o", "a.svg"}).exit == 0);
}

TEST_CASE("sweep --columns answers: every cell is that of the full table, with trials laid over and without") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  std::filesystem::copy_file(kCases + "measured/pcl-five-trials.csv", folder / "trials.csv");
  REQUIRE(show(folder, {"calibrate", "a.json", "trials.csv", "-o", "law.json"}).exit == 0);
  const auto table = [](const std::string& text) {
    std::vector<std::map<std::string, std::string>> rows;
    std::istringstream lines(text);
    std::string head, line;
    std::getline(lines, head);
    while (std::getline(lines, line)) {
      std::istringstream names(head), values(line);
      rows.emplace_back();
      for (std::string name, value; std::getline(names, name, ',');) {
        std::getline(values, value, ',');
        rows.back()[name] = value;
      }
    }
    return rows;
  };
  for (const bool trials : {false, true}) {
    std::vector<std::string> words{"sweep", "a.json", "--vary", "rotation_speed=4000 rpm..14000 rpm:3", "--vary", "gas_overpressure=0 MPa, 0.01 MPa, 0.2 MPa", "--set", "model.tier=inertial", "--quiet", "--force"};
    if (trials) words.insert(words.end(), {"--calibration", "law.json"});
    const auto rows_of = [&](std::initializer_list<std::string> more) {
      auto all = words;
      all.insert(all.end(), more);
      REQUIRE(show(folder, all).exit == 0);
      return table(read(folder / "out.csv"));
    };
    const auto answers = rows_of({"--columns", "answers", "-o", "out.csv"});
    const auto whole = rows_of({"-o", "out.csv"});
    REQUIRE(answers.size() == 9);
    REQUIRE(whole.size() == 9);
    std::set<std::string> torn;
    for (std::size_t row = 0; row < answers.size(); ++row) {
      CHECK(answers[row].size() == 18);
      torn.insert(answers[row].at("torn"));
      for (const auto& [name, value] : answers[row]) {
        INFO(name << " of row " << row + 1 << (trials ? " with trials" : ""));
        CHECK(whole[row].at(name) == value);
      }
    }
    CHECK(torn.size() == 2);
  }
}

TEST_CASE("on a terminal text and messages fit its width, and a long run says how far it is") {
  const Folder folder;
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  const auto on_terminal = [&](unsigned short columns, const std::vector<std::string>& words) {
    std::vector<std::string> command{WHORL_BINARY};
    command.insert(command.end(), words.begin(), words.end());
    std::vector<char*> argv;
    for (const auto& word : command) argv.push_back(const_cast<char*>(word.c_str()));
    argv.push_back(nullptr);
    winsize size{};
    size.ws_row = 24;
    size.ws_col = columns;
    int terminal = -1;
    const pid_t child = ::forkpty(&terminal, nullptr, nullptr, &size);
    REQUIRE(child >= 0);
    if (child == 0) {
      if (::chdir(folder.path().c_str()) == 0) ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    std::string text;
    char buffer[4096];
    for (ssize_t got = 0; (got = ::read(terminal, buffer, sizeof buffer)) > 0;) text.append(buffer, static_cast<std::size_t>(got));
    ::close(terminal);
    (void)process::finish(child);
    text.erase(std::remove(text.begin(), text.end(), '\r'), text.end());
    // what was drawn and wiped away again is a line of its own
    for (std::size_t at = 0; (at = text.find("\x1b[K", at)) != std::string::npos;) text.replace(at, 3, "\n");
    return text;
  };
  for (const unsigned short columns : std::initializer_list<unsigned short>{50, 80, 200}) {
    INFO(columns);
    const std::size_t width = std::min<std::size_t>(columns, 80);
    CHECK(faults(on_terminal(columns, {"estimate", "a.json"}), width) == "");
    CHECK(faults(on_terminal(columns, {"recipe", "a.json", "--set", "model.tier=inertial"}), width) == "");
    CHECK(faults(on_terminal(columns, {"--help"}), width) == "");
    const std::string refused = on_terminal(columns, {"estimate", "a.json", "--set", "rotation_speed=1000000 rpm"});
    CHECK(has(refused, "limit"));
    CHECK(faults(refused, width) == "");
  }
  const std::string long_run = on_terminal(50, {"explain", "a.json", "--set", "model.drying=lumped", "--threads", "1"});
  CHECK(has(long_run, " model runs ("));
  CHECK(faults(long_run, 50) == "");
}

TEST_CASE("pages and figures hold no inf, no nan and no long number where people read") {
  const Folder folder;
  // Text between tags, without scripts and styles (a report carries its data in a script).
  const auto read_by_people = [](std::string page) {
    for (const char* name : {"script", "style"})
      for (std::size_t at = page.find(std::string("<") + name); at != std::string::npos; at = page.find(std::string("<") + name)) {
        const std::string end = std::string("</") + name + ">";
        const std::size_t stop = page.find(end, at);
        page.erase(at, stop == std::string::npos ? std::string::npos : stop + end.size() - at);
      }
    std::string text;
    bool tag = false;
    for (const char c : page) {
      if (c == '<') tag = true;
      if (!tag) text += c;
      if (c == '>') {
        tag = false;
        text += ' ';
      }
    }
    return text;
  };
  const std::vector<std::string> quick{"--force", "--set", "model.tier=inertial", "--set", "model.drying=lumped"};
  for (const char* name : {"pcl-chloroform", "thin-jet-stalled", "slow-dripping"}) {
    const std::string file = kCases + name + ".json";
    for (std::vector<std::string> words : {std::vector<std::string>{"report", file, "--resolution", "2x2", "-o", "page"}, {"recipe", file, "--page", "page"},
                                           {"figure", file, "--kind", "path", "-o", "page.svg"}}) {
      INFO(name << ", " << words.front());
      words.insert(words.end(), quick.begin(), quick.end());
      const Shown shown = show(folder, words);
      if (words.front() == "figure" && shown.exit != 0) continue;  // no jet to draw
      CHECK(shown.exit <= 1);
      const std::string text = read_by_people(read(folder / words[words.front() == "report" ? 5 : words.front() == "recipe" ? 3 : 5]));
      CHECK(text.size() > 100);
      CHECK(faults(text, static_cast<std::size_t>(-1)) == "");
    }
  }
}
