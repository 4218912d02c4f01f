// Every command that computes says how much of it is done and how long the rest takes, and says it elsewhere than where its answer goes.
#include <chrono>
#include <filesystem>
#include <regex>
#include <sstream>
#include <thread>

#include "app/shown.hpp"
#include "run/progress.hpp"
#include "catch.hpp"

using process::Folder;
using process::show;
using process::Shown;
using process::write;

namespace {

const std::string kCases = WHORL_SOURCE_DIR "/cases/";
using Words = std::vector<std::string>;

// Share done and time left, on a line of its own.
bool says_how_far(const std::string& err) {
  static const std::regex line(R"((^|\n)[0-9]+ of (about )?[0-9]+ [a-z ]+(\([0-9]+ %\), |, [0-9.]+ points/s, )(about )?[a-z0-9 ]+ left(\n|$))");
  return std::regex_search(err, line);
}

void prepare(const Folder& folder) {
  std::filesystem::copy_file(kCases + "pcl-chloroform.json", folder / "a.json");
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-trials.csv", folder / "trials.csv");
  std::filesystem::copy_file(kCases + "measured/pcl-chloroform-diameters.csv", folder / "list.csv");
}

const Words kQuick{"--set", "model.tier=inertial", "--set", "model.drying=lumped", "--force"};

}  // namespace

TEST_CASE("progress: every command that computes says how far it is and how long it still takes") {
  const Folder folder;
  prepare(folder);
  const auto hold = [&](const Words& words, const Words& how = {"--set", "model.tier=inertial", "--set", "model.drying=lumped"}) {
    std::string all;
    for (const auto& word : words) all += word + ' ';
    INFO(all);
    Words command = words;
    command.insert(command.end(), how.begin(), how.end());
    const Shown plain = show(folder, command);
    command.insert(command.end(), {"--progress-every", "0"});
    const Shown told = show(folder, command);
    INFO(told.err);
    CHECK((told.exit == 0 || told.exit == 1));
    CHECK(told.exit == plain.exit);
    CHECK(says_how_far(told.err));
    CHECK_FALSE(says_how_far(plain.err));
    CHECK(told.out == plain.out);
  };
  hold({"estimate", "a.json"}, {});
  hold({"estimate", "a.json", "--full"}, {});
  hold({"estimate", "a.json", "--uncertainty", "32"});
  hold({"recipe", "a.json"}, {});
  hold({"diameters", "list.csv", "--case", "a.json"}, {});
  hold({"report", "a.json", "--resolution", "2x2", "-o", "page.html"}, kQuick);
  hold({"figure", "a.json", "--kind", "path", "-o", "path.svg"}, kQuick);
  hold({"figure", "a.json", "--kind", "profile", "-o", "profile.svg"}, kQuick);
  hold({"figure", "a.json", "--kind", "distribution", "-o", "run.svg"}, kQuick);
  hold({"figure", "a.json", "--kind", "trend", "--vary", "rotation_speed=6000 rpm..9000 rpm:3", "-o", "trend.svg"}, kQuick);
  hold({"explain", "a.json"});
  hold({"explain", "a.json", "--between", "rotation_speed=8000 rpm, 9000 rpm"});
  hold({"explain", "a.json", "--sensitivity", "32"});
  hold({"window", "a.json", "--diameter", "3 um..5 um"});
  hold({"window", "a.json", "--diameter", "3 um..5 um", "--uncertainty", "16"});
  hold({"sweep", "a.json", "--vary", "rotation_speed=6000 rpm..9000 rpm:20", "-o", "sweep.csv"}, kQuick);
  hold({"merge", "sweep.csv", "-o", "joined.csv"}, {"--force"});
  hold({"calibrate", "a.json", "trials.csv"});
  hold({"calibrate", "a.json", "trials.csv", "--next-trials", "2"});
  hold({"calibrate", "a.json", "trials.csv", "--fit", "model.excess_draw", "--next-trials", "2"});
}

TEST_CASE("progress: said while one run takes long, and not after it is over") {
  using namespace std::chrono_literals;
  whorl::run::use_progress_every(0.05);
  std::ostringstream err;
  {
    whorl::run::Progress progress(&err);
    progress.run_count()->expect(10);
    progress.run_count()->add(3);
    std::this_thread::sleep_for(300ms);
    progress.stop();
    const std::string said = err.str();
    CHECK(said.find("3 of about 10 model runs (30 %), about ") != std::string::npos);
    progress.run_count()->add(1);
    std::this_thread::sleep_for(100ms);
    CHECK(err.str() == said);
  }
  std::ostringstream silent;
  whorl::run::Progress none(nullptr);
  none.run_count()->add(1);
  CHECK(silent.str().empty());
  whorl::run::use_progress(false);
}

TEST_CASE("progress: what is expected of a piece of work and not made is taken back") {
  whorl::engine::RunCount run_count;
  {
    whorl::engine::RunShare share(&run_count, 5);
    share.one_more();
    share.plan(2);
    CHECK(run_count.expected() == 3);
    share.one_more();
    share.one_more();
    share.one_more();  // more than was planned
    CHECK(run_count.expected() == 4);
    share.plan(7);
  }
  CHECK(run_count.done() == 4);
  CHECK(run_count.expected() == 4);
  whorl::engine::RunShare nobody(nullptr, 3);
  nobody.one_more();
}
