// `whorl window`: options and block, exit codes, the files it writes.
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <regex>

#include "app/commands.hpp"
#include "app/folder.hpp"
#include "app/commands.hpp"
#include "answer/window_report.hpp"
#include "catch.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/uncertainty.hpp"
#include "whorl/study/window_runner.hpp"
#include "whorl/study/window_search.hpp"
#include "refusal.hpp"

using namespace whorl;
using testing::Folder;
using Json = nlohmann::ordered_json;
namespace fs = std::filesystem;

namespace {

Json good_case() {
  return Json::parse(R"({"whorl_case": 1,
    "solution": {"polymer": "PCL", "solvent": "chloroform", "molar_mass": "80 kg/mol", "concentration": "18 % w/v of solvent"},
    "vessel": {"bore_diameter": "60 mm", "height": "20 mm", "wall_thickness": "1.5 mm", "orifice_diameter": "0.3 mm", "orifice_count": 20},
    "operation": {"rotation_speed": "10000 rpm ± 40 rpm", "gas_overpressure": "0.1 MPa", "charge_volume": "5 mL", "collection_distance": "120 mm"},
    "model": {"drying": "lumped", "tier": "inertial"}})");
}

struct Ran {
  int exit{};
  std::string out, err;
};
Ran run(const app::WindowArguments& arguments) {
  std::ostringstream out, err;
  const int exit = app::run_window(arguments, {out, err});
  return {exit, out.str(), err.str()};
}

app::WindowArguments arguments_for(const Folder& folder, const Json& json) {
  std::ofstream(folder / "case.json") << json.dump();
  app::WindowArguments arguments;
  arguments.case_file = folder / "case.json";
  arguments.over = {"rotation_speed=4000 rpm..14000 rpm", "gas_overpressure=0 MPa..0.2 MPa"};
  arguments.diameter = "4 um..6 um";
  arguments.quiet = true;
  return arguments;
}

std::string refusal(const app::WindowArguments& arguments) {
  return testing::refusal([&] { return run(arguments); });
}

std::string read(const std::string& path) {
  std::ifstream input(path, std::ios::binary);
  std::ostringstream text;
  text << input.rdbuf();
  return text.str();
}

// As it stands, or as it reads, wherever its lines are folded.
bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos || std::regex_replace(text, std::regex("\\s+"), " ").find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("window: JSON, CSV and text agree, from any number of threads; the block says the same as the options") {
  const Folder folder;
  app::WindowArguments arguments = arguments_for(folder, good_case());
  arguments.json = true;
  arguments.threads = 1;
  arguments.output = folder / "points.csv";
  arguments.boundary = folder / "boundary.csv";
  const Ran one = run(arguments);
  REQUIRE(one.exit == 0);
  const Json json = Json::parse(one.out);
  CHECK(json["whorl_window"] == 1);
  CHECK(json["met"] == true);
  CHECK(json["axes"][0]["column"] == "rotation_speed_rpm");
  CHECK(json["axes"][0]["setting_error"] == 40.0);
  CHECK(json["axes"][0]["setting_error_source"] == "± of the case");
  CHECK(json["axes"][1]["setting_error"] == 0.005);
  CHECK(json["target"]["least_dry_diameter_um"].get<double>() == Approx(4.0));
  const auto& slice = json["slices"][0];
  CHECK(slice["points"].size() == json["runs"].get<std::size_t>());
  CHECK(json["runs"] < 10201 / 5);
  double area = 0.0;
  for (const auto& ring : slice["rings"]) {
    CHECK(ring["points"].size() == ring["by"].size());
    const auto n = ring["points"].size();
    for (std::size_t k = 0; k < n; ++k) {
      const auto& p = ring["points"][k];
      const auto& q = ring["points"][(k + 1) % n];
      area += 0.5 * (p[0].get<double>() * q[1].get<double>() - q[0].get<double>() * p[1].get<double>()) / (10000.0 * 0.2);
    }
  }
  CHECK(area == Approx(json["share"].get<double>()).epsilon(1e-6));
  // what is called met is met, in its own numbers
  for (const auto& point : slice["points"]) {
    if (!point["met"].get<bool>()) {
      CHECK_FALSE(point["missed"].empty());
      continue;
    }
    CHECK(point["class"] == "continuous");
    CHECK(point["landing"] == "dry");
    CHECK(point["dry_diameter_um"].get<double>() >= 4.0);
    CHECK(point["dry_diameter_um"].get<double>() <= 6.0);
  }
  const auto& best = json["most_tolerant"];
  CHECK(best["met"] == true);
  CHECK(best["tolerance"] > 1.0);
  for (const auto& trial : json["trials"]) CHECK(trial["met"] == true);

  // CSV: as many rows as runs, every row a point of the JSON
  std::istringstream csv(read(folder / "points.csv"));
  std::vector<std::string> header, row;
  REQUIRE(io::read_csv_record(csv, header, "points.csv"));
  std::size_t rows = 0;
  while (io::read_csv_record(csv, row, "points.csv")) {
    REQUIRE(row.size() == header.size());
    CHECK(std::stod(row[0]) == Approx(slice["points"][rows]["at"][0].get<double>()));
    CHECK((row[2] == "true") == slice["points"][rows]["met"].get<bool>());
    ++rows;
  }
  CHECK(rows == json["runs"].get<std::size_t>());
  const auto metadata = Json::parse(read(folder / "points.csv-metadata.json"));
  REQUIRE(metadata["tableSchema"]["columns"].size() == header.size());
  for (std::size_t i = 0; i < header.size(); ++i) CHECK(metadata["tableSchema"]["columns"][i]["name"] == header[i]);
  CHECK(read(folder / "boundary.csv").rfind("ring,rotation_speed_rpm,gas_overpressure_MPa,by\n", 0) == 0);
  CHECK(has(refusal(arguments), "already exists"));

  // threads
  arguments.threads = 3;
  arguments.output.clear();
  arguments.boundary.clear();
  CHECK(run(arguments).out == one.out);

  // block
  Json stated = good_case();
  stated["window"] = Json::parse(R"({"diameter": "4 um..6 um", "class": ["continuous"], "landing": "dry",
    "over": {"rotation_speed": {"from": "4000 rpm", "to": "14000 rpm"}, "gas_overpressure": {"from": "0 MPa", "to": "0.2 MPa"}}})");
  app::WindowArguments from_block = arguments_for(folder, stated);
  from_block.over.clear();
  from_block.diameter.reset();
  from_block.json = true;
  CHECK(Json::parse(run(from_block).out)["slices"] == json["slices"]);
}

TEST_CASE("window: nothing meets it: exit code 1, the nearest miss and what is in the way") {
  const Folder folder;
  app::WindowArguments arguments = arguments_for(folder, good_case());
  arguments.diameter = "..0.1 um";  // finer than gas of 0.2 MPa tears
  arguments.json = true;
  const Ran none = run(arguments);
  CHECK(none.exit == 1);
  const Json json = Json::parse(none.out);
  CHECK(json["met"] == false);
  CHECK(json["share"] == 0.0);
  CHECK(json["trials"].empty());
  CHECK_FALSE(json.contains("most_tolerant"));
  const auto& miss = json["nearest_miss"];
  CHECK(miss["binding"] == Json::array({"diameter-most"}));
  REQUIRE(miss["unmet"].size() == 1);
  CHECK(miss["unmet"][0]["missed_by_ratio"].get<double>() == Approx(miss["dry_diameter_um"].get<double>() / 0.1).epsilon(1e-9));
  // the nearest miss is the finest fibre of the right kind among all points that were run
  for (const auto& point : json["slices"][0]["points"])
    if (point["missed"] == Json::array({"diameter-most"})) CHECK(point["dry_diameter_um"] >= miss["dry_diameter_um"]);
  arguments.json = false;
  const std::string page = run(arguments).out;
  CHECK(has(page, "NOTHING MEETS IT"));
  CHECK(has(page, "in the way     dry diameter at most 100 nm"));

  // as one line per orifice 1 um is out of reach already
  Json line = good_case();
  line["model"]["splitting"] = "off";
  app::WindowArguments lines = arguments_for(folder, line);
  lines.diameter = "..1 um";
  const Ran coarse = run(lines);
  CHECK(coarse.exit == 1);
  CHECK(has(coarse.out, "in the way     dry diameter at most 1 um"));
  std::ofstream(folder / "case.json") << good_case().dump();

  // two conditions at once: wet fibre cannot be asked for where all lands dry, and far too much throughput
  arguments.landing = "wet";
  arguments.least_throughput = "100 kg/h";
  const Ran both = run(arguments);
  CHECK(both.exit == 1);
  CHECK(has(both.out, "no single condition"));
}

TEST_CASE("window: further axes give one plane each; a probability map with its two shares") {
  const Folder folder;
  app::WindowArguments arguments = arguments_for(folder, good_case());
  arguments.over.push_back("collection_distance=80 mm, 160 mm");
  arguments.json = true;
  arguments.uncertainty.samples = "16";
  const Ran ran = run(arguments);
  REQUIRE(ran.exit == 0);
  const Json json = Json::parse(ran.out);
  REQUIRE(json["slices"].size() == 2);
  CHECK(json["slices"][1]["levels"] == Json::array({160.0}));
  CHECK(json["most_tolerant"]["settings"].contains("collection_distance_mm"));
  std::size_t points = 0;
  for (const auto& slice : json["slices"]) {
    points += slice["points"].size();
    const auto& map = slice["probability"];
    CHECK(map["nodes"].size() == map["columns"].get<std::size_t>() * map["rows"].get<std::size_t>());
    for (const auto& node : map["nodes"]) {
      CHECK(node["probability"] >= 0.0);
      CHECK(node["probability"] <= 1.0);
      CHECK(node["low"] <= node["probability"]);
      CHECK(node["high"] >= node["probability"]);
      CHECK(node["error"] > 0.0);  // 16 samples know no probability exactly, also where all of them agree
      CHECK(node["known_error"] > 0.0);
      CHECK(node["known_high"].get<double>() - node["known_low"].get<double>() > 0.19);  // Wilson, none or all of 16
    }
  }
  CHECK(points == json["runs"].get<std::size_t>());
  CHECK(json["uncertainty"]["likeliest"]["probability"] > 0.2);
  // how likely the point is that is named first, beside the likeliest
  arguments.json = false;
  const Ran told = run(arguments);
  const auto& tolerant = json["most_tolerant"]["at"];
  const auto& first_plane = json["slices"][json["trials"][0]["slice"].get<std::size_t>()];
  double nearest = 1e9, probability = 0.0;
  for (const auto& node : first_plane["probability"]["nodes"]) {
    const double away = std::hypot((node["at"][0].get<double>() - tolerant[0].get<double>()) / 10000.0,
                                   (node["at"][1].get<double>() - tolerant[1].get<double>()) / 0.2);
    if (away < nearest) {
      nearest = away;
      probability = node["probability"];
    }
  }
  std::smatch found;
  const std::string flat = std::regex_replace(told.out, std::regex("\\s+"), " ");
  CHECK_FALSE(has(flat, "± 0 %"));
  REQUIRE(std::regex_search(flat, found, std::regex(R"(first to try near [^:]*: (\S+) ± )")));
  CHECK(std::abs(std::stod(found[1]) - 100.0 * probability) < 0.6);
  CHECK(json["uncertainty"]["runs"] >= 2 * 2 * 81 * 16);
}

TEST_CASE("window: samples without tension draw the doubts that they have, not those of the tier that is left out") {
  const Folder folder;
  // moved by every sample: extensibility, which only tension knows, and a factor that every tier knows
  using Drawn = std::vector<std::pair<double, double>>;
  const auto drawn = [&](const char* tier) {
    Json json = good_case();
    if (tier != nullptr) json["model"]["tier"] = tier;
    else json["model"].erase("tier");
    std::ofstream(folder / "case.json") << json.dump();
    const study::LoadedCase loaded = study::load_case(folder / "case.json");
    const study::WindowWishes wishes;
    const study::WindowSpec spec = study::window_spec(
        wishes, study::parse_window_options({"1 um..2 um", {}, {}, {}, {}, {}}), loaded.file);
    Drawn all;
    const auto nothing = engine::serial_runner([](const model::CaseInput&) { return model::Estimate{}; });
    const auto recorded = engine::serial_runner([&](const model::CaseInput& c) {
      all.emplace_back(c.solution.factors.extensibility, c.model.axial_drag_factor);
      return model::Estimate{};
    });
    const auto plan = study::sample_plan("16", 1);
    (void)study::find_window(loaded, spec, {nothing, {}, recorded, study::samples_without_tension(loaded)}, plan);
    return all;
  };
  const auto moved = [](const Drawn& all) {
    return std::any_of(all.begin(), all.end(), [](const auto& one) { return one.first != 1.0; });
  };
  const Drawn usual = drawn(nullptr), without = drawn("inertial"), with = drawn("tension");
  REQUIRE(usual.size() > 1000);
  CHECK(usual == without);
  CHECK_FALSE(moved(usual));
  CHECK(moved(with));
}

TEST_CASE("window: what is refused, and how it is said") {
  const Folder folder;
  const auto with = [&](auto change) {
    app::WindowArguments arguments = arguments_for(folder, good_case());
    change(arguments);
    return refusal(arguments);
  };
  using A = app::WindowArguments;
  CHECK(has(with([](A& a) { a.diameter = "3"; }), "has no unit"));
  CHECK(has(with([](A& a) { a.diameter = "3 um..1 um"; }), "the smaller first"));
  CHECK(has(with([](A& a) { a.diameter = "1 um"; }), "is no range"));
  CHECK(has(with([](A& a) { a.diameter = "-1 um..2 um"; }), "above zero"));
  CHECK(has(with([](A& a) { a.fibre_class = "continous"; }), "any of continuous"));
  CHECK(has(with([](A& a) { a.landing = "moist"; }), "dry, firm, tacky, wet"));
  CHECK(has(with([](A& a) { a.least_throughput = "3 m"; }), "does not fit"));
  CHECK(has(with([](A& a) { a.least_throughput = "0 g/h"; }), "more than zero"));
  CHECK(has(with([](A& a) { a.over = {"rotation_speed=4000 rpm..4000 rpm"}; }), "ends are equal"));
  CHECK(has(with([](A& a) { a.over = {"gas_overpressure=0 MPa..0.2 MPa log"}; }), "logarithmic range from 0"));
  CHECK(has(with([](A& a) { a.over = {"orifice_count=4..8"}; }), "whole numbers"));
  CHECK(has(with([](A& a) { a.over.push_back("collection_distance=80 mm..160 mm"); }), "two of them span the plane"));
  CHECK(has(with([](A& a) { a.over.push_back("rotation_speed=5000 rpm..6000 rpm"); }), "named twice"));
  CHECK(has(with([](A& a) { a.over.push_back("collection_distance=80 mm..160 mm:1"); }), "two points or more"));
  CHECK(has(with([](A& a) { a.over.push_back("collection_distance=80 mm..160 mm:65"); }), "64 planes"));
  CHECK(has(with([](A& a) { a.over.push_back("rotation_sped=1 rpm..2 rpm"); }), "rotation_speed"));
  CHECK(has(with([](A& a) { a.setting_error = {"rotation_speed=0 rpm"}; }), "more than zero"));
  CHECK(has(with([](A& a) { a.setting_error = {"rotation_speed"}; }), "no \"=\""));
  CHECK(has(with([](A& a) { a.setting_error = {"collection_distance=1 mm"}; }), "does not span the plane"));
  CHECK(has(with([](A& a) { a.setting_error = {"rotation_speed=1 mm"}; }), "does not fit"));
  CHECK(has(with([](A& a) { a.uncertainty.samples = "3"; }), "16 to 1000000"));
  CHECK(has(with([](A& a) { a.threads = -1; }), "--threads"));

  // the same in the block, in the words of `check`
  for (const auto& [block, part] : std::vector<std::pair<const char*, const char*>>{
           {R"({"diametre": "1 um..2 um"})", "unknown key"},
           {R"({"diameter": 3})", "window.diameter"},
           {R"({"diameter": "2 um..1 um"})", "window.diameter"},
           {R"({"class": "foo"})", "window.class"},
           {R"({"landing": []})", "window.landing"},
           {R"({"least_throughput": "1 m"})", "window.least_throughput"},
           {R"({"over": ["a"]})", "window.over"},
           {R"({"over": {"rotation_speed": {"from": "1 rpm"}}})", "no \"to\""},
           {R"({"setting_error": {"rotation_speed": "1 mm"}})", "window.setting_error"},
           {R"({"setting_error": {"nothing": "1 mm"}})", "no numeric key"}}) {
    INFO(block);
    Json json = good_case();
    json["window"] = Json::parse(block);
    app::WindowArguments arguments = arguments_for(folder, json);
    arguments.over.clear();
    arguments.diameter.reset();
    const std::string said = refusal(arguments);
    CHECK(has(said, part));
    std::ostringstream out, err;
    app::CheckOptions options;
    options.cases = {arguments.case_file};
    CHECK(app::run_check(options, {out, err}) == 2);
    CHECK(has(err.str(), part));
  }
}

TEST_CASE("window: measured properties that would change with the solution are noted") {
  const Folder folder;
  Json json = good_case();
  json["solution"]["measured"] = {{"zero_shear_viscosity", "5 Pa s"}};
  app::WindowArguments arguments = arguments_for(folder, json);
  arguments.over = {"concentration=16 %..20 %", "gas_overpressure=0 MPa..0.2 MPa"};
  CHECK(has(run(arguments).out, "measured on one solution"));
  CHECK_FALSE(has(run(arguments_for(folder, json)).out, "measured on one solution"));
}

TEST_CASE("window: has tension as estimate has it; samples do without unless the case states its tier, and it is said") {
  const Folder folder;
  Json json = good_case();
  json["model"].erase("tier");
  app::WindowArguments arguments = arguments_for(folder, json);
  arguments.over = {"rotation_speed=9000 rpm..11000 rpm", "gas_overpressure=0.08 MPa..0.12 MPa"};
  arguments.diameter = "0.1 um..20 um";
  const Ran with = run(arguments);
  CHECK(with.out.find("tension tier") != std::string::npos);
  CHECK_FALSE(has(with.out, "sampled without tension"));
  arguments.uncertainty.samples = "16";
  const Ran sampled = run(arguments);
  CHECK(has(sampled.out, "sampled without tension"));
  CHECK(has(sampled.out, " without, "));
  json["model"]["tier"] = "inertial";
  arguments.case_file = arguments_for(folder, json).case_file;
  CHECK_FALSE(has(run(arguments).out, "sampled without tension"));
}

TEST_CASE("window: lines are followed with tension where they may be the answer, and nothing else is another number") {
  const Folder folder;
  Json json = good_case();
  json["model"].erase("tier");
  const study::LoadedCase loaded = study::load_case(arguments_for(folder, json).case_file);
  // torn at high pressure, lines at low
  const study::WindowSpec spec = study::window_spec(
      {},
      study::parse_window_options({"0.4 um..6 um", {}, "any", {},
                                   {"rotation_speed=9000 rpm..14000 rpm", "gas_overpressure=0.02 MPa..0.1 MPa"}, {}}),
      loaded.file);
  const auto map = [&](const engine::CaseRunner& one) {
    return study::find_window(loaded, spec, engine::serial_runner(one), {});
  };
  engine::EstimateOptions whole;
  whole.run_distribution = false;
  std::size_t torn = 0, lines = 0;
  const auto point = study::window_runner(loaded);
  const study::WindowResult a = map([&](const model::CaseInput& input) {
    model::Estimate e = point(input);
    ++(e.torn && e.as_line.diameter_m == 0.0 ? torn : lines);
    return e;
  });
  CHECK(torn > 20);
  CHECK(lines > 5);
  const study::WindowResult b = map(study::case_runner(loaded, whole));
  REQUIRE(a.slices.front().map.nodes.size() == b.slices.front().map.nodes.size());
  CHECK(a.share == Approx(b.share).margin(1e-4));
  for (std::size_t i = 0; i < a.slices.front().map.nodes.size(); ++i) {
    const study::WindowProbe& x = a.slices.front().map.nodes[i].probe;
    const study::WindowProbe& y = b.slices.front().map.nodes[i].probe;
    CHECK(x.met() == y.met());
    CHECK(x.fibre_class == y.fibre_class);
    CHECK(x.landing == y.landing);
    CHECK(x.torn == y.torn);
    if (x.torn) CHECK(x.diameter_m == y.diameter_m);
    else CHECK(x.diameter_m.value_or(0.0) == Approx(y.diameter_m.value_or(0.0)).epsilon(1e-3));
  }
}
