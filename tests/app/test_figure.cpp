// `whorl figure` on the demo cases: every kind, as a reader would ask for it.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/commands.hpp"
#include "app/commands.hpp"
#include "answer/estimate_statement.hpp"
#include "answer/explanation_text.hpp"
#include "answer/figure_data.hpp"
#include "figures/figure_export.hpp"
#include "app/folder.hpp"
#include "catch.hpp"
#include "io/svg_reader.hpp"
#include "io/table.hpp"
#include "refusal.hpp"
#include "whorl/io/profile_table.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using testing::Folder;
namespace fs = std::filesystem;

namespace {

// To the last digit, missing ones included.
bool same_numbers(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); });
}

std::string read(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void write(const std::string& path, const std::string& text) { std::ofstream(path, std::ios::binary) << text; }

std::string the_case(const std::string& name) { return std::string(WHORL_SOURCE_DIR "/cases/") + name + ".json"; }

bool overlap(const figures::PageBox& a, const figures::PageBox& b) { return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom; }

void check_page(const figures::Figure& figure) {
  for (std::size_t i = 0; i < figure.texts.size(); ++i) {
    const auto& [text, box] = figure.texts[i];
    INFO(text << " at " << box.left << ", " << box.top);
    CHECK((box.left >= 0.0 && box.top >= 0.0 && box.right <= figure.width_pt && box.bottom <= figure.height_pt));
    for (std::size_t k = i + 1; k < figure.texts.size(); ++k) {
      INFO("against " << figure.texts[k].text);
      CHECK_FALSE(overlap(box, figure.texts[k].box));
    }
  }
  (void)svg_reader::parse(figure.svg);
}

const figures::FigureOrigin kOrigin{"whorl 9.9", {"case a.json sha256:0123", "measured µ.csv sha256:4567"}, "--kind path"};

std::string refusal(const app::FigureArguments& arguments) {
  std::ostringstream out, err;
  try {
    (void)app::run_figure(arguments, {out, err});
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

}  // namespace

TEST_CASE("figure: every case with a jet, in both widths") {
  int drawn = 0;
  for (const auto& entry : fs::directory_iterator(fs::path(WHORL_SOURCE_DIR) / "cases")) {
    if (entry.path().extension() != ".json") continue;
    INFO(entry.path().filename().string());
    const study::LoadedCase loaded = study::load_case(entry.path().string());
    engine::EstimateOptions options;
    options.keep_profile = true;
    const model::Estimate estimate = answer::case_estimate(loaded, options);
    REQUIRE(estimate.status == model::Status::done);
    if (estimate.jet.profile.size() < 2) continue;
    const auto written = answer::profile_table(estimate, entry.path().string());
    for (const auto& column : io::profile_columns()) {
      INFO(column.column);
      CHECK(same_numbers(io::profile_numbers(estimate.jet.profile, column.column), written.numbers(column.column)));
    }
    for (const double width : {figures::kColumnWidthMm, figures::kPageWidthMm}) {
      figures::FigureFormat format;
      format.width_mm = width;
      figures::PathFigure path;
      answer::add_jet(path, loaded, estimate, "");
      check_page(figures::draw_path(path, format));
      const auto table = answer::profile_table(estimate, entry.path().string());
      check_page(figures::draw_panels(answer::profile_figure({table}, {""}, "", {}, answer::setting_title(loaded)), format));
      check_page(figures::draw_panels(answer::profile_figure({table, table}, {"one", "another"}, "radius_mm", {}, ""), format));
      figures::DistributionFigure run;
      answer::add_run(run, estimate);
      if (run.diameters_um.size() > 1) check_page(figures::draw_distribution(run, format));
      const auto json = answer::estimate_json(loaded, estimate);
      if (json.contains("line_speed_budget_J_kg")) check_page(figures::draw_split(answer::budget_figure(json.at("line_speed_budget_J_kg"), "demo"), format));
      ++drawn;
    }
  }
  CHECK(drawn >= 12);
}

TEST_CASE("figure: the profile drawn is the profile written") {
  const bool along_threads = GENERATE(false, true);
  CAPTURE(along_threads);
  const Folder folder;
  std::ostringstream out, err;
  app::EstimateArguments estimate;
  estimate.case_file = the_case("pcl-chloroform");
  (along_threads ? estimate.thread_profile : estimate.profile) = folder / "jet.csv";
  REQUIRE(app::run_estimate(estimate, {out, err}) == console::kDone);
  app::FigureArguments arguments;
  arguments.force = true;
  arguments.inputs = {folder / "jet.csv"};
  arguments.output = folder / "jet.svg";
  arguments.caption = true;
  REQUIRE(app::run_figure(arguments, {out, err}) == console::kDone);
  const io::Table table = io::read_table(folder / "jet.csv");
  const auto elements = svg_reader::parse(read(folder / "jet.svg"));
  std::size_t panels = 0;
  for (const auto& element : elements) {
    if (element.get("class") != "series") continue;
    const svg_reader::Element* frame = nullptr;
    for (const std::size_t parent : element.parents)
      if (elements[parent].get("class") == "frame") frame = &elements[parent];
    REQUIRE(frame != nullptr);
    const auto x = table.numbers(frame->get("data-x"));
    const auto y = table.numbers(frame->get("data-y"));
    // Coordinates are rounded to 0.005 pt.
    const double x_step = 0.006 * (frame->number("data-x-high") - frame->number("data-x-low")) / std::abs(frame->number("data-x-end") - frame->number("data-x-start"));
    std::size_t i = 0;
    for (const auto& part : svg_reader::path_points(element.get("d")))
      for (const auto& p : part) {
        REQUIRE(i < x.size());
        const double lower = svg_reader::value_at(*frame, "y", p.y + 0.006);
        const double upper = svg_reader::value_at(*frame, "y", p.y - 0.006);
        CHECK_THAT(svg_reader::value_at(*frame, "x", p.x), WithinAbs(x[i], x_step));
        CHECK((y[i] >= std::min(lower, upper) && y[i] <= std::max(lower, upper)));
        ++i;
      }
    CHECK(i == x.size());
    ++panels;
  }
  CHECK(panels == 5);
  CHECK(read(folder / "jet.txt").find(along_threads ? "Profiles along torn threads: jet.csv." : "Profiles along the jet: jet.csv.") == 0);
  if (along_threads) {
    arguments.kind = "path";
    CHECK(refusal(arguments).find("jet.csv") != std::string::npos);  // threads fly straight: no path
    return;
  }

  // A damaged profile: a radius that is none. Found by fuzzing.
  std::string damaged = read(folder / "jet.csv");
  damaged.replace(damaged.rfind('\n', damaged.size() - 2) + 1, std::string::npos, "1,1,1,1,0,0,1,1,1,1,0.1,0.1,1,1,1,1,1,1,1,1,1,1\n");
  write(folder / "damaged.csv", damaged);
  arguments.inputs = {folder / "damaged.csv"};
  arguments.kind = "path";
  CHECK(refusal(arguments).find("damaged.csv: radius_mm: 0 in row") != std::string::npos);
  write(folder / "empty.csv", damaged.substr(0, damaged.find('\n') + 1) + ",,,,,,,,,,,,,,,,,,,,,\n,,,,,,,,,,,,,,,,,,,,,\n");
  arguments.inputs = {folder / "empty.csv"};
  CHECK(refusal(arguments).find("empty.csv: radius_mm: ") != std::string::npos);
  arguments.kind = "profile";
  CHECK(refusal(arguments).find("empty.csv: arc_length_mm: an empty column") != std::string::npos);
  write(folder / "huge.csv", damaged.substr(0, damaged.rfind('\n', damaged.size() - 2) + 1) + "1,1,1,1,0,1,1e308,1,1,1,0.1,0.1,1,1,1,1,1,1,1,1,1,1\n");
  arguments.inputs = {folder / "huge.csv"};
  CHECK(refusal(arguments).find("huge.csv: speed_m_s: \"1e308\" in row") != std::string::npos);
}

TEST_CASE("figure: map and trend of a sweep are its rows") {
  const Folder folder;
  const std::string csv =
      "point,rotation_speed_rpm,gas_overpressure_MPa,status,reason,class,landing,warnings,dry_diameter_um,dry_diameter_um_p05,dry_diameter_um_p95\n"
      "1,6000,0,done,x,stalled,none,,,,\n2,6000,0.1,done,x,continuous,dry,,5.5,5,6.5\n3,6000,0.2,done,x,continuous,dry,,7,6,8\n"
      "4,8000,0,done,x,continuous,dry,,3.8,3,4\n5,8000,0.1,done,x,continuous,dry,,5.9,5.1,6.9\n6,8000,0.2,not-converged,x,,,,,,\n"
      "7,10000,0,done,x,continuous,dry,,4.2,4,5\n8,10000,0.1,done,x,wet-landing,wet,,6.1,5.5,7\n9,10000,0.2,done,x,wet-landing,wet,,8.4,7,9\n";
  write(folder / "s.csv", csv);
  answer::SweepData sweep;
  sweep.table = io::read_table(folder / "s.csv");
  sweep.about = "demo";
  const figures::MapFigure map = answer::map_figure(sweep, "", "", "");
  CHECK(map.x == std::vector<double>{6000.0, 8000.0, 10000.0});
  CHECK(map.classes == std::vector<std::string>{"stalled", "continuous", "continuous", "continuous", "continuous", "wet-landing", "continuous", "no result", "wet-landing"});
  CHECK(std::isnan(map.z[0]));
  CHECK(map.z[5] == 6.1);
  check_page(figures::draw_map(map, {}));
  const figures::PanelFigure trend = answer::trend_figure(sweep, "", {}, "");
  REQUIRE(trend.panels.size() == 1);
  REQUIRE(trend.panels[0].series.size() == 3);
  CHECK(trend.panels[0].series[1].y == std::vector<double>{5.5, 5.9, 6.1});
  CHECK(trend.panels[0].series[1].low == std::vector<double>{5.0, 5.1, 5.5});
  CHECK(trend.panels[0].series[1].hollow == std::vector<bool>{false, false, true});
  const figures::Figure drawn = figures::draw_panels(trend, {});
  check_page(drawn);
  CHECK(drawn.caption.find("Hollow markers: class not continuous.") != std::string::npos);
  CHECK(drawn.caption.find("Shaded: 5 % to 95 % of all doubts.") != std::string::npos);
  // the band that a row has without samples leaves open which answer holds, and is not that of all doubts
  write(folder / "answer.csv", "point,rotation_speed_rpm,status,reason,class,landing,warnings,dry_diameter_um,diameter_low_um,diameter_high_um\n"
                               "1,6000,done,x,continuous,dry,,0.6,0.15,2.4\n2,8000,done,x,continuous,dry,,0.5,0.12,2\n");
  answer::SweepData plain;
  plain.table = io::read_table(folder / "answer.csv");
  const figures::Figure of_answer = figures::draw_panels(answer::trend_figure(plain, "", {}, ""), {});
  CHECK(of_answer.caption.find("all doubts") == std::string::npos);
  CHECK(of_answer.caption.find("Shaded: 90 % of the sizes in that answer") != std::string::npos);

  // rows of a plain sweep have a band where threads are torn only
  write(folder / "p.csv",
        "point,rotation_speed_rpm,status,class,torn,dry_diameter_um,diameter_low_um,diameter_high_um\n"
        "1,6000,done,continuous,false,4,,\n2,8000,done,continuous,true,0.5,0.1,2\n");
  answer::SweepData torn;
  torn.table = io::read_table(folder / "p.csv");
  CHECK(answer::trend_figure(torn, "", {}, "").band_means == "90 % band of torn threads");

  // settings without a diameter say why; a trend without any is refused, and no band is explained that is not drawn
  const std::string heads = "point,rotation_speed_rpm,status,class,torn,dry_diameter_um,diameter_low_um,diameter_high_um\n";
  write(folder / "d.csv", heads + "1,6000,done,drops,false,,,\n2,8000,done,stalled,false,,,\n3,9000,done,continuous,false,4,,\n"
                                  "4,9500,done,continuous,false,4,,\n");
  answer::SweepData few;
  few.table = io::read_table(folder / "d.csv");
  const figures::PanelFigure some = answer::trend_figure(few, "", {}, "");
  CHECK(some.about.find("no point where drops land (1 of 4 settings), the line floats, not set (1 of 4 settings)") !=
        std::string::npos);
  CHECK(some.band_means.empty());
  write(folder / "n.csv", heads + "1,6000,done,drops,false,,,\n2,8000,done,drops,false,,,\n");
  answer::SweepData none;
  none.table = io::read_table(folder / "n.csv");
  std::string refused;
  try {
    (void)answer::trend_figure(none, "", {}, "");
  } catch (const InputError& error) {
    refused = error.what();
  }
  CHECK(refused.find("no diameter at any setting: drops land (2 of 2 settings)") != std::string::npos);

  // The other axis across, two panels, one line held.
  app::FigureArguments arguments;
  arguments.force = true;
  arguments.inputs = {folder / "s.csv"};
  arguments.kind = "trend";
  arguments.x = "gas_overpressure";
  arguments.where = {"rotation_speed=8000 rpm"};
  arguments.output = folder / "t.svg";
  std::ostringstream out, err;
  arguments.json = true;
  REQUIRE(app::run_figure(arguments, {out, err}) == console::kDone);
  CHECK(nlohmann::json::parse(out.str()).at("kind") == "trend");
  // The user's own points on a trend.
  write(folder / "own.csv", "gas_overpressure_MPa,diameter_um\n0.05,4.5\n0.15,6.5\n");
  write(folder / "bare.csv", "gas_overpressure_MPa,other\n0.05,4.5\n");
  CHECK(refusal([&] { auto a = arguments; a.measured = folder / "bare.csv"; return a; }()).find("diameter_um") != std::string::npos);
  arguments.measured = folder / "own.csv";
  out.str("");
  REQUIRE(app::run_figure(arguments, {out, err}) == console::kDone);
  const auto elements = svg_reader::parse(read(folder / "t.svg"));
  CHECK(std::count_if(elements.begin(), elements.end(), [](const auto& e) { return e.get("class") == "measured"; }) == 2);
  arguments.measured.clear();
  CHECK(refusal([&] { auto a = arguments; a.where = {"rotation_speed=8001 rpm"}; return a; }()).find("--where") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.kind = "map"; return a; }()).find("axes") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.kind = "path"; return a; }()).find("a sweep (CSV)") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.kind = "pie"; return a; }()).find("path, profile") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.y = {"dry_diametre_um"}; return a; }()).find("dry_diameter_um") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.output = "x.gif"; return a; }()).find(".svg, .pdf or .png") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.width = "85 kg"; return a; }()).find("--width") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.inputs = {folder / "none.csv"}; return a; }()).find("cannot be opened") != std::string::npos);
  CHECK(refusal([&] { auto a = arguments; a.output = folder / "no/such/t.svg"; return a; }()).find("cannot be written") != std::string::npos);
}

TEST_CASE("figure: the split of a change adds up, whatever changed") {
  study::LoadedCase before = study::load_case(the_case("pcl-chloroform"));
  before.file.input.model.tier = model::Tier::inertial;
  study::LoadedCase after = before;
  after.file.input.operation.rotation_speed_rad_s *= 1.2;
  after.file.input.operation.gas_overpressure_Pa *= 1.5;
  after.file.input.solution.concentration.value *= 1.04;
  after.file.input.model.excess_draw = 1.3;
  after.file.input.solution.measured.density_kg_m3 = 1300.0;  // not that of additive volumes
  const auto a = answer::estimate_json(before, answer::case_estimate(before, {}));
  const auto b = answer::estimate_json(after, answer::case_estimate(after, {}));
  const figures::SplitFigure split = answer::split_figure({a, "a.json"}, {b, "b.json"}, "demo");
  double sum = 0.0;
  for (const auto& part : split.parts) sum += part.value;
  // the mass balance is exact; the drawn total is the ratio of the diameters themselves
  CHECK_THAT(sum, WithinAbs(split.total, 1e-10));
  CHECK_THAT(split.total, WithinAbs(std::log(b.at("results").at("line_diameter_um").get<double>() / a.at("results").at("line_diameter_um").get<double>()), 1e-12));
  CHECK(std::abs(split.total) > 0.01);
  check_page(figures::draw_split(split, {}));
  // a draw makes the line thinner with its solvent, too, and is in the speed at which it is laid
  study::LoadedCase drawn = before;
  drawn.file.input.model.excess_draw = 4.0;
  const model::Estimate e = answer::case_estimate(drawn, {});
  const auto c = answer::estimate_json(drawn, e).at("results");
  CHECK_THAT(c.at("wet_diameter_um").get<double>() / a.at("results").at("wet_diameter_um").get<double>(),
             WithinAbs(0.5, 1e-9));
  const double laid = 100.0 * std::pow(c.at("kinematic_bound_um").get<double>() / c.at("line_diameter_um").get<double>(), 2.0);
  std::istringstream words(answer::estimate_text(drawn, e, true));
  std::string joined;
  for (std::string word; words >> word;) joined += word + ' ';
  CHECK(joined.find("laid at " + io::number_text(laid, 3) + " %") != std::string::npos);
  // what is missing is told of the file that misses it
  auto bare = a;
  bare.at("results").erase("line_speed_m_s");
  CHECK(testing::refusal([&] { (void)answer::split_figure({bare, "a.json"}, {b, "b.json"}, "demo"); }).find("a.json") != std::string::npos);
  CHECK(testing::refusal([&] { (void)answer::split_figure({b, "b.json"}, {bare, "a.json"}, "demo"); }).find("a.json") != std::string::npos);
}

TEST_CASE("figure: a pump keeps one moment all along, which has the scatter of single fibres") {
  const Folder folder;
  std::ostringstream out, err;
  app::FigureArguments arguments;
  arguments.inputs = {the_case("pcl-chloroform")};
  arguments.kind = "distribution";
  arguments.overlay.settings = {"operation.feed_rate=1 mL/min", "model.tier=inertial"};
  arguments.output = folder / "d.svg";
  REQUIRE(app::run_figure(arguments, {out, err}) == console::kDone);
  double sum = 0.0;
  for (const auto& e : svg_reader::parse(read(folder / "d.svg")))
    if (e.get("class") == "bar") sum += e.number("data-value");
  CHECK_THAT(sum, WithinAbs(0.9876, 1e-3));  // 2.5 standard deviations either side
  study::LoadedCase loaded = study::load_case(the_case("pcl-chloroform"));
  loaded.file.input.model.tier = model::Tier::inertial;
  auto json = answer::estimate_json(loaded, answer::case_estimate(loaded, {}));
  for (auto& point : json.at("run")) point["dry_diameter_um"] = -1.0;
  write(folder / "damaged.json", json.dump());
  arguments.inputs = {folder / "damaged.json"};
  arguments.overlay = {};
  arguments.force = true;
  CHECK(refusal(arguments).find("below zero") != std::string::npos);
}

TEST_CASE("figure: the split of an explanation, from its file") {
  const Folder folder;
  std::ostringstream out, err;
  const auto explained = [&](std::vector<std::string> cases, std::vector<std::string> between, const std::string& name) {
    std::ostringstream json;
    app::ExplainArguments arguments;
    arguments.cases = std::move(cases);
    arguments.between = std::move(between);
    arguments.json = true;
    const int code = app::run_explain(arguments, {json, err});
    write(folder / name, json.str());
    return code;
  };
  const auto drawn = [&](const std::string& name, const std::string& width) {
    app::FigureArguments arguments;
    arguments.force = true;
    arguments.inputs = {folder / name};
    arguments.kind = "split";
    arguments.width = width;
    arguments.output = folder / "split.svg";
    REQUIRE(app::run_figure(arguments, {out, err}) == console::kDone);
    return svg_reader::parse(read(folder / "split.svg"));
  };
  REQUIRE(explained({the_case("pvp-ethanol-measured"), the_case("pcl-chloroform")}, {}, "pair.json") == console::kDone);
  REQUIRE(explained({the_case("pcl-chloroform")}, {"rotation_speed=10000 rpm,13000 rpm"}, "speed.json") == console::kDone);
  for (const char* name : {"pair.json", "speed.json"}) {
    const auto json = nlohmann::json::parse(read(folder / name));
    const auto value_of = [&](const char* list, const std::string& key) {
      for (const auto& part : json.at("split").at(list))
        if (part.at("key") == key) return part.at("d_ln_diameter").get<double>();
      FAIL("no part " << key);
      return 0.0;
    };
    const figures::SplitFigure split = answer::split_figure(json, name);
    check_page(figures::draw_split(split, {}));
    CHECK(split.total == json.at("split").at("d_ln_diameter").get<double>());
    double outer = 0.0;
    for (std::size_t i = 0; i < split.parts.size(); ++i) {
      if (split.parts[i].inner) continue;
      outer += split.parts[i].value;
      double inner = 0.0;
      double largest = 0.0;
      std::size_t k = i + 1;
      for (; k < split.parts.size() && split.parts[k].inner; ++k) {
        inner += split.parts[k].value;
        largest = std::max(largest, std::abs(split.parts[k].value));
      }
      if (k > i + 1) CHECK_THAT(inner, WithinAbs(split.parts[i].value, 0.005 * largest));  // all else below that is no bar
    }
    CHECK_THAT(outer, WithinAbs(split.total, 1e-10));
    for (const auto& part : split.parts)
      if (part.name == "all else") CHECK(std::abs(part.value) > 1e-4);
    // the bars of the file that is written, read back
    for (const char* width : {"column", "page"}) {
      std::size_t bars = 0;
      for (const auto& element : drawn(name, width)) {
        if (element.get("class") != "bar") continue;
        ++bars;
        const std::string of = element.get("data-name");
        const double value = element.number("data-value");
        if (of == "throughput" || of == "line speed") CHECK_THAT(value, WithinAbs(value_of("diameter", of == "throughput" ? of : "line-speed"), 1e-9));
        if (of == "air drag") CHECK_THAT(value, WithinAbs(value_of("line_speed", "air-drag"), 1e-9));
        if (of == "centrifugal head") CHECK_THAT(value, WithinAbs(value_of("throughput", "centrifugal-head"), 1e-9));
      }
      CHECK(bars == split.parts.size() + 1);
    }
  }
  // what is no split says what it is
  const auto refused = [&](const std::string& name) {
    app::FigureArguments arguments;
    arguments.force = true;
    arguments.inputs = {folder / name};
    arguments.kind = "split";
    arguments.output = folder / "no.svg";
    return refusal(arguments);
  };
  REQUIRE(explained({the_case("pcl-chloroform"), the_case("slow-dripping")}, {}, "drips.json") == console::kNotMet);
  CHECK(refused("drips.json").find("no split: second point: the orifices drip") != std::string::npos);
  auto damaged = nlohmann::json::parse(read(folder / "speed.json"));
  damaged["split"]["diameter"][0].erase("d_ln_diameter");
  write(folder / "damaged.json", damaged.dump());
  CHECK(refused("damaged.json").find("a damaged explanation") != std::string::npos);
  CHECK_FALSE(fs::exists(folder / "no.svg"));
}

TEST_CASE("figure: a machine without librsvg, or with another library of its name, is told so") {
  if (!figures::can_export()) return;  // built without
  CHECK(figures::no_export("librsvg-of-no-machine.so").find("is not there or too old") != std::string::npos);
  CHECK(figures::no_export("libc.so.6").find("libc.so.6 has no cairo_") != std::string::npos);
}

TEST_CASE("figure: PDF and PNG have the size as printed") {
  const figures::Figure figure = [] {
    figures::SplitFigure split;
    split.parts = {{"one", 1.0, false}, {"two", -0.4, false}};
    split.total = 0.6;
    split.total_name = "sum";
    split.title = "Sizes";
    return figures::draw_split(split, {});
  }();
  if (!figures::can_export()) {
    WARN("built without librsvg: PDF and PNG not tested");
    CHECK_THROWS_AS(figures::figure_file_type("a.pdf"), InputError);
    return;
  }
  const std::string png = figures::exported(figure, figures::FigureFile::png, 300.0, kOrigin);
  REQUIRE(png.size() > 1000);
  CHECK(png.substr(1, 3) == "PNG");
  const auto number = [&](std::size_t at) {
    std::size_t out = 0;
    for (std::size_t i = 0; i < 4; ++i) out = 256 * out + static_cast<unsigned char>(png[at + i]);
    return out;
  };
  CHECK(number(16) == 1004);  // 85 mm at 300 dots per inch
  CHECK(png.substr(37, 4) == "pHYs");
  CHECK(number(41) == 11811);  // dots per metre
  const std::string pdf = figures::exported(figure, figures::FigureFile::pdf, 300.0, kOrigin);
  CHECK(pdf.substr(0, 5) == "%PDF-");
  CHECK(pdf.find("/Image") == std::string::npos);  // vectors, not a picture
  CHECK_THROWS_AS(figures::exported(figure, figures::FigureFile::png, 10000.0, kOrigin), InputError);
}

TEST_CASE("figure: windows and calibrations, and what is damaged of them") {
  using Json = nlohmann::ordered_json;
  Folder folder;
  const auto draw = [&](const std::string& kind) {
    app::FigureArguments arguments;
    arguments.force = true;
    arguments.inputs = {folder / "in.json"};
    arguments.kind = kind;
    arguments.output = folder / "out.svg";
    std::ostringstream out, err;
    return app::run_figure(arguments, {out, err});
  };
  const Json window = {
      {"whorl_window", 1}, {"program", "whorl"}, {"case", "demo.json"}, {"further_axes", Json::array()},
      {"axes", {{{"column", "rotation_speed_rpm"}, {"from", 4000}, {"to", 12000}, {"spacing", "linear"}}, {{"column", "gas_overpressure_MPa"}, {"from", 0}, {"to", 0.2}, {"spacing", "linear"}}}},
      {"constraints", {{{"key", "diameter-most"}, {"text", "dry diameter at most 8 um"}}}},
      {"trials", Json::array()},
      {"slices", {{{"levels", Json::array()}, {"share", 0.5}, {"rings", Json::array()}, {"points", Json::array()},
                   {"probability", {{"columns", 2}, {"rows", 2}, {"nodes", {{{"at", {4000, 0}}, {"probability", 0.1}}, {{"at", {12000, 0}}, {"probability", 0.5}},
                                                                          {{"at", {4000, 0.2}}, {"probability", 0.6}}, {{"at", {12000, 0.2}}, {"probability", 0.9}}}}}}}}}};
  write(folder / "in.json", window.dump());
  CHECK(draw("") == console::kDone);
  CHECK(read(folder / "out.svg").find("\u00b5m") != std::string::npos);
  CHECK(draw("map") == console::kDone);
  CHECK(read(folder / "out.svg").find("iso-line") != std::string::npos);
  const Json fit = {{"whorl_calibration", 1}, {"program", "whorl"}, {"converged", true}, {"case", "demo.json"}, {"data", "trials.csv"},
                    {"trials", {{{"name", "a"}, {"measured_um", 4.0}, {"before_um", 5.0}, {"after_um", 4.1}, {"log_sd", 0.05}}}}};
  write(folder / "in.json", fit.dump());
  CHECK(draw("") == console::kDone);
  CHECK_THROWS_AS(draw("window"), InputError);
  // Each key taken away, or made something else, is one message with the file.
  for (const Json& whole : {window, fit}) {
    for (const auto& [key, value] : whole.items()) {
      if (key == "program" || key.rfind("whorl_", 0) == 0) continue;
      for (const bool gone : {true, false}) {
        Json damaged = whole;
        if (gone) {
          damaged.erase(key);
        } else {
          damaged[key] = value.is_string() ? Json(7) : Json("x");
        }
        INFO(key << (gone ? " gone" : " of another type"));
        write(folder / "in.json", damaged.dump());
        try {
          (void)draw(whole.contains("slices") ? "window" : "fit");
          FAIL_CHECK("drawn");
        } catch (const InputError& error) {
          CHECK(error.file().find("in.json") != std::string::npos);
        }
      }
    }
  }
  Json damaged = window;
  damaged["slices"][0]["probability"]["columns"] = 3;
  write(folder / "in.json", damaged.dump());
  CHECK_THROWS_AS(draw("map"), InputError);
  damaged = fit;
  damaged["trials"][0]["log_sd"] = 0.0;
  write(folder / "in.json", damaged.dump());
  CHECK_THROWS_AS(draw("fit"), InputError);
}
