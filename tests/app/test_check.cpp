// `whorl check` refuses what `estimate` and `sweep` would refuse, in the same words.
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <unistd.h>

#include "app/commands.hpp"
#include "app/sweep.hpp"
#include "catch.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using Json = nlohmann::ordered_json;

namespace {

class TemporaryCase {
 public:
  TemporaryCase() : path_(std::filesystem::temp_directory_path() / ("whorl-check-" + std::to_string(::getpid()) + ".json")) {
    std::ifstream stream(std::string(WHORL_SOURCE_DIR "/tests/data/good.json"));
    good_ = Json::parse(stream);
    write(good_);
  }
  ~TemporaryCase() { std::filesystem::remove(path_); }
  TemporaryCase(const TemporaryCase&) = delete;
  TemporaryCase& operator=(const TemporaryCase&) = delete;
  [[nodiscard]] std::string path() const { return path_.string(); }
  [[nodiscard]] const Json& good() const { return good_; }
  void write(const Json& json) const { std::ofstream(path_) << json.dump(); }
  void write_sweep(const char* block) const {
    Json json = good_;
    json["sweep"] = Json::parse(block);
    write(json);
  }

 private:
  std::filesystem::path path_;
  Json good_;
};

struct Outcome {
  int exit{};
  std::string out, err;
};

Outcome check(const std::string& path, bool as_json = false) {
  std::ostringstream out, err;
  app::CheckOptions options;
  options.cases = {path};
  options.json = as_json;
  const int exit = app::run_check(options, {out, err});
  return {exit, out.str(), err.str()};
}

/// What a command throws, as main() prints it.
template <class Command>
std::string refusal(Command&& command) {
  try {
    std::ostringstream out, err;
    command(console::Streams{out, err});
  } catch (const InputError& error) {
    return std::string("whorl: ") + error.what() + '\n';
  }
  return "accepted";
}

}  // namespace

TEST_CASE("check refuses a wrong sweep block in the words of sweep", "[app][check]") {
  const TemporaryCase file;
  for (const char* block : {
           R"({"vry": {}})",
           R"({"vary": []})",
           R"({"vary": {}})",
           R"({"design": "sobol", "points": 8})",
           R"({"vary": {"rotation_sped": ["1 rpm"]}})",
           R"({"vary": {"rotation_speed": "1 rpm"}})",
           R"({"vary": {"rotation_speed": []}})",
           R"({"vary": {"rotation_speed": ["12000 mm"]}})",
           R"({"vary": {"rotation_speed": ["90000 rpm"]}})",
           R"({"vary": {"rotation_speed": {"from": "1 rpm"}}})",
           R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm"}}})",
           R"({"vary": {"rotation_speed": {"from": "0 rpm", "to": "2 rpm", "points": 3, "spacing": "log"}}})",
           R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm", "points": 3, "spacing": "cubic"}}})",
           R"({"vary": {"rotation_speed": ["1 rpm"], "operation.rotation_speed": ["2 rpm"]}})",
           R"({"vary": {"orifice_count": {"from": 6, "to": 24, "points": 5}}})",
           R"({"vary": {"rotation_speed": ["1 rpm"]}, "design": "hypercube"})",
           R"({"vary": {"rotation_speed": {"from": "1 rpm", "to": "2 rpm"}}, "design": "sobol"})",
           R"({"vary": {"rotation_speed": ["1 rpm"]}, "points": -1})",
       }) {
    CAPTURE(block);
    file.write_sweep(block);
    const Outcome outcome = check(file.path());
    CHECK(outcome.exit == console::kBadInput);
    CHECK(outcome.out.empty());
    app::SweepCommand command;
    command.case_file = file.path();
    CHECK(outcome.err == refusal([&](const console::Streams& streams) { return app::run_sweep_command(command, streams); }));
    const Json json = Json::parse(check(file.path(), true).out);
    CHECK(json["cases"][0]["ok"] == false);
  }
}

TEST_CASE("check shows what a good sweep block varies", "[app][check]") {
  const TemporaryCase file;
  file.write_sweep(R"({"vary": {"rotation_speed": {"from": "4000 rpm", "to": "12000 rpm", "points": 9},
                                "gas_overpressure": ["0 MPa", "0.1 MPa"]}})");
  const Outcome outcome = check(file.path());
  CHECK(outcome.exit == console::kDone);
  std::string page;  // folded lines joined
  std::istringstream words(outcome.out);
  for (std::string word; words >> word;) page += word + ' ';
  CHECK(page.find("grid, 18 points") != std::string::npos);
  CHECK(page.find("rotation_speed_rpm: 4000 to 12000 in 9 points, linear") != std::string::npos);
  const Json json = Json::parse(check(file.path(), true).out)["cases"][0];
  CHECK(json["ok"] == true);
  CHECK(json["sweep"]["points"] == 18);
  CHECK(json["sweep"]["vary"].size() == 2);
}

TEST_CASE("check refuses a case that estimate cannot start, in its words", "[app][check]") {
  const TemporaryCase file;
  for (const char* key : {"polymer", "solvent"}) {
    Json json = file.good();
    json["solution"][key] = "unobtainium";
    file.write(json);
    const Outcome outcome = check(file.path());
    CHECK(outcome.exit == console::kBadInput);
    app::EstimateArguments arguments;
    arguments.case_file = file.path();
    CHECK(outcome.err == refusal([&](const console::Streams& streams) { return app::run_estimate(arguments, streams); }));
    CHECK(outcome.err.find("unobtainium") != std::string::npos);
  }
  file.write(file.good());
  CHECK(check(file.path()).exit == console::kDone);
}

TEST_CASE("what is laid over one case is not laid over the next", "[app][check]") {
  const TemporaryCase file;
  const double stated = study::load_case(file.path()).file.input.operation.rotation_speed_rad_s;
  const study::CaseOverlay overlay{{"rotation_speed=1234 rpm"}, {}};
  const double laid = study::load_case(file.path(), overlay).file.input.operation.rotation_speed_rad_s;
  CHECK(std::abs(laid / (1234.0 * 2.0 * 3.14159265358979 / 60.0) - 1.0) < 1e-12);
  CHECK(study::load_case(file.path()).file.input.operation.rotation_speed_rad_s == stated);
  app::CheckOptions options;
  options.cases = {file.path()};
  options.overlay = {{"rotation_speed=12 m"}, {}};
  std::ostringstream out;
  std::ostringstream err;
  CHECK(app::run_check(options, {out, err}) == console::kBadInput);
  options.overlay = {};
  CHECK(app::run_check(options, {out, err}) == console::kDone);
}

TEST_CASE("check --schema and --key-table have one form, and refuse what they would set aside", "[app][check]") {
  const TemporaryCase file;
  const auto said = [](const app::CheckOptions& options) {
    std::string out;
    const std::string refused = refusal([&](const console::Streams&) {
      std::ostringstream to, err;
      const int exit = app::run_check(options, {to, err});
      REQUIRE(exit == console::kDone);
      out = to.str();
    });
    return refused == "accepted" ? out : refused;
  };
  app::CheckOptions schema;
  schema.schema = true;
  app::CheckOptions table;
  table.key_table = true;
  const std::string as_schema = said(schema), as_table = said(table);
  CHECK(Json::parse(as_schema).is_object());
  CHECK(as_table.starts_with("###"));
  schema.json = true;  // it is JSON
  CHECK(said(schema) == as_schema);
  table.form.format = "markdown";
  CHECK(said(table) == as_table);
  schema.json = false;
  schema.form.format = "latex";
  CHECK(said(schema) == "whorl: --schema: together with --format latex; allowed: --schema alone (it prints JSON)\n");
  table.form.format.clear();
  table.json = true;
  CHECK(said(table) == "whorl: --key-table: together with --json; allowed: --key-table alone (it prints Markdown)\n");
  table.json = false;
  table.cases = {file.path()};
  CHECK(said(table).find("--key-table: together with " + file.path() + "; allowed: --key-table alone") != std::string::npos);
  table.cases.clear();
  table.schema = true;
  CHECK(said(table).find("together with --key-table; allowed: one of the two") != std::string::npos);
}
