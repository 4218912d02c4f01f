// What `whorl window` writes: text, JSON, CSV.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>

#include "app/provenance.hpp"
#include "app/published.hpp"
#include "app/uncertainty.hpp"
#include "app/whole_file.hpp"
#include "app/window.hpp"
#include "io/cautions.hpp"
#include "io/csv.hpp"
#include "io/csvw.hpp"
#include "io/keys.hpp"
#include "io/units.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;
using document::Document;
using document::Quantities;
using document::Quantity;
using document::Section;
using document::Sentence;
using engine::UnitPoint;
using engine::WindowConstraint;
using engine::WindowMap;
using engine::WindowProbe;

constexpr double kToGramsPerHour = 3.6e6;
constexpr std::array kLevels{0.05, 0.25, 0.5, 0.75, 0.9, 0.95};

std::string number(double value, int digits = 3) {
  // whole numbers up to seven digits as they are: "10400" rather than 1.04e+04
  if (std::abs(value) >= std::pow(10.0, digits) && std::abs(value) < 1e7) {
    const double place = std::pow(10.0, std::floor(std::log10(std::abs(value))) - digits);  // one digit more than asked for
    return io::number_text(std::round(std::round(value / place) * place), 8);
  }
  return io::number_text(value, digits);
}

std::string micrometres(double metres) { return metres < 1e-6 ? number(1e9 * metres) + " nm" : number(1e6 * metres) + " um"; }

std::string name_of(const io::Key& key) {
  std::string name(key.path.substr(key.path.rfind('.') + 1));
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

std::string with_unit(const io::Key& key, double value, int digits = 3) {
  return number(value, digits) + (key.display_unit == "1" ? "" : " " + std::string(key.display_unit));
}

double value_at(const PlaneAxis& axis, double unit) {
  return engine::WindowAxis{axis.from, axis.to, axis.logarithmic, {}}.value(unit);
}

template <class List>
std::string joined(const List& list, const char* between) {
  std::string text;
  for (const auto& entry : list) text += (text.empty() ? "" : between) + std::string(to_string(entry));
  return text;
}

// What a constraint asks for: "dry diameter at most 3 um".
std::string wording(const WindowConstraint& constraint, const engine::WindowTarget& target) {
  if (constraint.key == "class") return "class " + joined(target.classes, " or ");
  if (constraint.key == "landing") return target.landings.empty() ? "any landing" : "lands " + joined(target.landings, " or ");
  if (constraint.key == "diameter-least") return "dry diameter at least " + micrometres(*target.least_diameter_m);
  if (constraint.key == "diameter-most") return "dry diameter at most " + micrometres(*target.most_diameter_m);
  if (constraint.key == "throughput") return "at least " + number(kToGramsPerHour * *target.least_throughput_kg_s) + " g/h of polymer";
  return "a result that converges";
}

std::string by_text(int by, const WindowResult& result) {
  if (by < 0) return "edge of the range";
  return wording(result.slices.front().map.constraints[static_cast<std::size_t>(by)], result.spec.target);
}

Json by_json(int by, const WindowMap& map) {
  return by < 0 ? Json("range") : Json(map.constraints[static_cast<std::size_t>(by)].key);
}

std::vector<int> unmet_of(const WindowProbe& probe) {
  std::vector<int> list;
  for (std::size_t k = 0; k < probe.margins.size(); ++k)
    if (!probe.margins[k] || *probe.margins[k] < 0.0) list.push_back(static_cast<int>(k));
  return list;
}

Json point_json(const WindowSpec& spec, const UnitPoint& at) {
  return Json::array({io::tidy(value_at(spec.plane[0], at.x)), io::tidy(value_at(spec.plane[1], at.y))});
}

Json settings_json(const WindowResult& result, std::size_t slice, const UnitPoint& at) {
  Json json = Json::object();
  json[std::string(result.spec.plane[0].key->column)] = io::tidy(value_at(result.spec.plane[0], at.x));
  json[std::string(result.spec.plane[1].key->column)] = io::tidy(value_at(result.spec.plane[1], at.y));
  for (std::size_t k = 0; k < result.spec.slices.size(); ++k)
    json[std::string(result.spec.slices[k].key->column)] = result.slices[slice].levels[k];
  return json;
}

Json probe_json(const WindowProbe& probe, const WindowMap& map) {
  Json json{{"met", probe.met()}, {"status", probe.converged ? "done" : "not-converged"}};
  if (!probe.converged) json["reason"] = probe.reason;
  if (probe.converged) {
    json["class"] = to_string(probe.fibre_class);
    json["landing"] = to_string(probe.landing);
  }
  if (probe.diameter_m) json["dry_diameter_um"] = 1e6 * *probe.diameter_m;
  if (probe.diameter_m) {
    json["torn"] = probe.torn;
    json["tearing_probability"] = probe.tearing_probability;
    if (probe.other_diameter_m) json["other_diameter_um"] = 1e6 * *probe.other_diameter_m;
  }
  if (probe.residual_solvent) json["residual_solvent"] = *probe.residual_solvent;
  if (probe.throughput_kg_s) json["polymer_throughput_g_h"] = kToGramsPerHour * *probe.throughput_kg_s;
  Json missed = Json::array();
  for (const int k : unmet_of(probe)) missed.push_back(map.constraints[static_cast<std::size_t>(k)].key);
  json["missed"] = missed;
  return json;
}

std::string settings_text(const WindowResult& result, std::size_t slice, const UnitPoint& at) {
  const auto& plane = result.spec.plane;
  std::string text;
  for (std::size_t k = 0; k < result.spec.slices.size(); ++k)
    text += name_of(*result.spec.slices[k].key) + ' ' + with_unit(*result.spec.slices[k].key, result.slices[slice].levels[k]) + ", ";
  return text + with_unit(*plane[0].key, value_at(plane[0], at.x)) + ", " + with_unit(*plane[1].key, value_at(plane[1], at.y));
}

std::string probe_text(const WindowProbe& probe) {
  if (!probe.converged) return "not converged: " + probe.reason;
  std::string text = std::string(to_string(probe.fibre_class));
  if (probe.landing != model::Landing::none) text += std::string(", lands ") + to_string(probe.landing);
  if (probe.diameter_m) text += ", " + micrometres(*probe.diameter_m);
  if (probe.diameter_m && probe.other_diameter_m && probe.tearing_probability > 0.0) {
    const double first = probe.torn ? probe.tearing_probability : 1.0 - probe.tearing_probability;
    text += std::string(probe.torn ? " torn threads" : " unsplit line") + " (" + number(100.0 * first, 2) + " %; else " + micrometres(*probe.other_diameter_m) + ")";
  }
  if (probe.throughput_kg_s) text += ", " + number(kToGramsPerHour * *probe.throughput_kg_s) + " g/h";
  return text;
}

// How far a point misses one constraint.
std::string miss_text(const WindowProbe& probe, int k, const WindowResult& result) {
  const auto& constraint = result.slices.front().map.constraints[static_cast<std::size_t>(k)];
  std::string text = wording(constraint, result.spec.target);
  const auto& margin = probe.margins[static_cast<std::size_t>(k)];
  if (constraint.continuous && margin) return text + " (missed by " + number(100.0 * std::expm1(-*margin), 2) + " %)";
  if (constraint.continuous) return text + " (there is no such number)";
  if (constraint.key == "class" && probe.converged) return text + " (it is " + to_string(probe.fibre_class) + ")";
  if (constraint.key == "landing" && probe.converged) return text + " (it is " + to_string(probe.landing) + ")";
  return text;
}

// Length of the boundary by constraint, in the unit square.
std::map<int, double> boundary_lengths(const WindowResult& result) {
  std::map<int, double> lengths;
  for (const auto& slice : result.slices)
    for (const auto& ring : slice.map.rings)
      for (std::size_t k = 0; k < ring.points.size(); ++k) {
        const UnitPoint& p = ring.points[k];
        const UnitPoint& q = ring.points[(k + 1) % ring.points.size()];
        lengths[ring.by[k]] += std::hypot(p.x - q.x, p.y - q.y);
      }
  return lengths;
}

std::string metadata_of(const LoadedCase& loaded, const WindowResult& result, const std::string& path, const char* title,
                        std::vector<io::TableColumn> columns) {
  io::TableMetadata table = table_metadata(loaded, title, path);
  for (const auto& constraint : result.slices.front().map.constraints)
    if (constraint.key != "result") table.facts.emplace_back("wanted", wording(constraint, result.spec.target));
  for (const PlaneAxis& axis : result.spec.plane)
    table.facts.emplace_back("range", std::string(axis.key->column) + ": " + io::format_number(axis.from) + " to " + io::format_number(axis.to));
  table.columns = std::move(columns);
  return finish_metadata(std::move(table));
}

std::vector<io::TableColumn> setting_columns(const WindowSpec& spec) {
  std::vector<io::TableColumn> columns;
  const auto add = [&](const io::Key& key) {
    columns.push_back({std::string(key.column), "double", key.display_unit == "1" ? "" : std::string(key.display_unit), "",
                       std::string(key.path) + ", " + std::string(key.description), true});
  };
  for (const SweptKey& slice : spec.slices) add(*slice.key);
  for (const PlaneAxis& axis : spec.plane) add(*axis.key);
  return columns;
}

void append_settings(std::string& row, const WindowSpec& spec, const WindowSlice& slice, const UnitPoint& at) {
  for (const double level : slice.levels) {
    io::append_number(row, level);
    row.push_back(',');
  }
  io::append_number(row, io::tidy(value_at(spec.plane[0], at.x)));
  row.push_back(',');
  io::append_number(row, io::tidy(value_at(spec.plane[1], at.y)));
}

void write_table(const std::string& path, const char* option, bool force, const std::string& metadata, const std::vector<io::TableColumn>& columns,
                 const std::string& rows) {
  std::string text;
  for (const auto& column : columns) text += (text.empty() ? "" : ",") + column.name;
  write_whole_table(path, option, metadata, text + '\n' + rows, existing_if(force));
}

}  // namespace

Json window_json(const LoadedCase& loaded, const WindowResult& result) {
  const WindowSpec& spec = result.spec;
  Json json;
  json["whorl_window"] = 1;
  put_provenance(json, {basis_of(loaded)});
  json["case"] = loaded.file.name;
  json["case_sha256"] = loaded.file.hash;
  json["purpose"] = loaded.file.input.purpose;
  Json target;
  if (spec.target.least_diameter_m) target["least_dry_diameter_um"] = 1e6 * *spec.target.least_diameter_m;
  if (spec.target.most_diameter_m) target["most_dry_diameter_um"] = 1e6 * *spec.target.most_diameter_m;
  Json classes = Json::array();
  for (const auto c : spec.target.classes) classes.push_back(to_string(c));
  target["class"] = classes;
  Json landings = Json::array();
  for (const auto l : spec.target.landings) landings.push_back(to_string(l));
  target["landing"] = landings;
  if (spec.target.least_throughput_kg_s) target["least_polymer_throughput_g_h"] = kToGramsPerHour * *spec.target.least_throughput_kg_s;
  json["target"] = target;
  Json axes = Json::array();
  for (const PlaneAxis& axis : spec.plane)
    axes.push_back({{"key", axis.key->path},
                    {"column", axis.key->column},
                    {"unit", axis.key->display_unit},
                    {"from", axis.from},
                    {"to", axis.to},
                    {"spacing", axis.logarithmic ? "log" : "linear"},
                    {"setting_error", axis.setting_error},
                    {"setting_error_source", axis.error_source}});
  json["axes"] = axes;
  Json further = Json::array();
  for (const SweptKey& slice : spec.slices)
    further.push_back({{"key", slice.key->path}, {"column", slice.key->column}, {"unit", slice.key->display_unit}});
  json["further_axes"] = further;
  json["met"] = result.met();
  json["share"] = result.share;
  json["runs"] = result.runs;
  json["not_converged"] = result.not_converged;

  Json constraints = Json::array();
  for (const auto& constraint : result.slices.front().map.constraints)
    constraints.push_back({{"key", constraint.key}, {"text", wording(constraint, spec.target)}});
  json["constraints"] = constraints;

  Json slices = Json::array();
  for (const WindowSlice& slice : result.slices) {
    Json one;
    one["levels"] = slice.levels;
    one["share"] = slice.map.share;
    Json rings = Json::array();
    for (const auto& ring : slice.map.rings) {
      Json points = Json::array();
      Json by = Json::array();
      for (std::size_t k = 0; k < ring.points.size(); ++k) {
        points.push_back(point_json(spec, ring.points[k]));
        by.push_back(by_json(ring.by[k], slice.map));
      }
      rings.push_back({{"points", points}, {"by", by}});
    }
    one["rings"] = rings;
    static constexpr const char* kStates[] = {"met", "missed", "boundary"};
    Json cells = Json::array();
    for (const auto& cell : slice.map.cells)
      cells.push_back({{"low", point_json(spec, cell.low)}, {"high", point_json(spec, cell.high)}, {"state", kStates[static_cast<int>(cell.state)]}});
    one["cells"] = cells;
    Json points = Json::array();
    for (const auto& node : slice.map.nodes) {
      Json point{{"at", point_json(spec, node.at)}};
      point.update(probe_json(node.probe, slice.map));
      points.push_back(point);
    }
    one["points"] = points;
    if (slice.probability) {
      const auto& map = *slice.probability;
      Json nodes = Json::array();
      for (const auto& node : map.nodes) {
        Json row{{"at", point_json(spec, node.at)},  {"probability", node.all.value}, {"error", node.all.error},
                 {"low", node.low},                  {"high", node.high},             {"known", node.known.value},
                 {"known_error", node.known.error}};
        if (node.interpolated) row["interpolated"] = true;
        nodes.push_back(row);
      }
      Json contours = Json::array();
      for (const double level : kLevels) {
        Json lines = Json::array();
        for (const auto& line : engine::probability_contour(map, level)) {
          Json points_of_line = Json::array();
          for (const auto& point : line) points_of_line.push_back(point_json(spec, point));
          lines.push_back(points_of_line);
        }
        contours.push_back({{"probability", level}, {"lines", lines}});
      }
      one["probability"] = {{"columns", map.cells + 1}, {"rows", map.cells + 1}, {"nodes", nodes}, {"contours", contours}};
    }
    slices.push_back(one);
  }
  json["slices"] = slices;

  Json trials = Json::array();
  for (const WindowTrial& trial : result.trials) {
    const WindowMap& map = result.slices[trial.slice].map;
    Json row{{"why", trial.why}, {"slice", trial.slice}, {"at", point_json(spec, trial.at)}, {"settings", settings_json(result, trial.slice, trial.at)},
             {"tolerance", trial.tolerance}, {"nearest_boundary", by_json(trial.by, map)}};
    row.update(probe_json(trial.probe, map));
    trials.push_back(row);
  }
  if (!result.trials.empty()) json["most_tolerant"] = trials.front();
  json["trials"] = trials;
  if (result.nearest && !result.met()) {
    const WindowSlice& slice = result.slices[*result.nearest];
    Json row{{"slice", *result.nearest}, {"at", point_json(spec, slice.miss->node.at)}, {"settings", settings_json(result, *result.nearest, slice.miss->node.at)}};
    row.update(probe_json(slice.miss->node.probe, slice.map));
    Json unmet = Json::array();
    for (const int k : slice.miss->unmet) {
      const auto& constraint = slice.map.constraints[static_cast<std::size_t>(k)];
      Json one{{"key", constraint.key}, {"text", miss_text(slice.miss->node.probe, k, result)}};
      const auto& margin = slice.miss->node.probe.margins[static_cast<std::size_t>(k)];
      if (constraint.continuous && margin) one["missed_by_ratio"] = std::exp(-*margin);
      unmet.push_back(one);
    }
    row["unmet"] = unmet;
    Json alone = Json::array();
    for (const int k : slice.miss->alone) alone.push_back(slice.map.constraints[static_cast<std::size_t>(k)].key);
    row["binding"] = alone;
    if (result.other)
      row["other_concentration"] = {{"concentration", result.other->concentration},
                                    {"slice", result.other->slice},
                                    {"settings", settings_text(result, result.other->slice, result.other->at)}};
    json["nearest_miss"] = row;
  }
  if (result.samples) {
    Json doubt{{"samples_per_point", result.samples->size()}, {"replicates", result.samples->replicates}, {"seed", result.samples->seed},
               {"runs", result.probability_runs}, {"not_converged", result.probability_not_converged}};
    if (const auto best = likeliest(result)) {
      const auto& node = result.slices[best->first].probability->nodes[best->second];
      doubt["likeliest"] = {{"slice", best->first}, {"at", point_json(spec, node.at)}, {"settings", settings_json(result, best->first, node.at)},
                            {"probability", node.all.value}, {"error", node.all.error}, {"low", node.low}, {"high", node.high},
                            {"known", node.known.value}, {"known_error", node.known.error}};
    }
    json["uncertainty"] = doubt;
  }
  json["notes"] = loaded.file.notes;
  for (const auto& note : result.notes) json["notes"].push_back(note);
  json["cautions"] = io::short_cautions(loaded.file.input, loaded.library.solvent(loaded.file.input.solution.solvent));
  return json;
}

namespace {

Quantity row(document::Text label, std::string text) { return {"", std::move(label), std::move(text)}; }

std::string percent(double share, int digits = 2) { return number(100.0 * share, digits) + " %"; }

Section wanted_section(const WindowResult& result) {
  const WindowSpec& spec = result.spec;
  std::string wanted;
  for (const auto& constraint : result.slices.front().map.constraints)
    if (constraint.key != "result") wanted += (wanted.empty() ? "" : ", ") + wording(constraint, spec.target);
  Quantities rows;
  for (const PlaneAxis& axis : spec.plane) {
    rows.rows.push_back(
        row(name_of(*axis.key), number(axis.from) + " to " + with_unit(*axis.key, axis.to) +
                                    (axis.usual_range ? " (no range stated: about the value of the case)" : "") +
                                    "; setting error " + with_unit(*axis.key, axis.setting_error) + " (" +
                                    axis.error_source + ")"));
  }
  for (const SweptKey& slice : spec.slices)
    rows.rows.push_back(row(name_of(*slice.key), axis_text(slice, engine::DesignKind::grid)));
  return {"Wanted", "", {Sentence{wanted}, rows}};
}

// What bounds the region, the longest first.
std::string edges_text(const WindowResult& result) {
  double total = 0.0;
  const auto lengths = boundary_lengths(result);
  for (const auto& [by, length] : lengths) total += length;
  std::vector<std::pair<int, double>> order(lengths.begin(), lengths.end());
  std::sort(order.begin(), order.end(), [](const auto& a, const auto& b) { return a.second > b.second; });
  std::string edges;
  for (const auto& [by, length] : order)
    if (length > 0.0) edges += (edges.empty() ? "" : "; ") + by_text(by, result) + ' ' + percent(length / total);
  return edges;
}

void add_nearest(const WindowResult& result, Quantities& rows) {
  const WindowSlice& slice = result.slices[*result.nearest];
  rows.rows.push_back(row("nearest miss", settings_text(result, *result.nearest, slice.miss->node.at) + ": " +
                                              probe_text(slice.miss->node.probe)));
  for (const int k : slice.miss->unmet)
    rows.rows.push_back(row("not met there", miss_text(slice.miss->node.probe, k, result)));
  std::vector<int> alone;
  for (const WindowSlice& other : result.slices)
    for (const int k : other.miss->alone)
      if (std::find(alone.begin(), alone.end(), k) == alone.end()) alone.push_back(k);
  if (alone.empty()) rows.rows.push_back(row("in the way", "no single condition of the target: at every point at least two fail"));
  for (const int k : alone)
    rows.rows.push_back(row("in the way", by_text(k, result) + ": without it there are settings that meet the rest"));
  if (result.other) {
    const OtherSolution& other = *result.other;
    rows.rows.push_back(row("would do it", "the concentration alone: " + other.concentration + " instead of " + other.stated + ", at " +
                                               settings_text(result, other.slice, other.at) + ": " + probe_text(other.probe)));
  }
}

Section result_section(const WindowResult& result) {
  const WindowSpec& spec = result.spec;
  Section section{"Result"};
  Quantities rows;
  if (result.met()) {
    rows.rows.push_back(row("met in", percent(result.share) + " of that range"));
    if (const std::string edges = edges_text(result); !edges.empty())
      rows.rows.push_back(row("bounded by", edges + " (of the length of the boundary)"));
  } else {
    section.blocks.emplace_back(Sentence{"NOTHING MEETS IT in that range."});
  }
  if (!spec.slices.empty())
    for (const WindowSlice& slice : result.slices) {
      std::string at;
      for (std::size_t k = 0; k < slice.levels.size(); ++k)
        at += (at.empty() ? "" : ", ") + name_of(*spec.slices[k].key) + ' ' + with_unit(*spec.slices[k].key, slice.levels[k]);
      rows.rows.push_back(
          row("at " + at,
              percent(slice.map.share) +
                  (slice.tolerant ? ", room " + number(slice.tolerant->tolerance, 2) + " setting errors" : "")));
    }
  std::string runs =
      std::to_string(result.runs) + " (a grid of 1 % steps takes " + std::to_string(10201 * result.slices.size()) + ")";
  if (result.not_converged > 0)
    runs += ", " + std::to_string(result.not_converged) + " not converged: counted as missed";
  rows.rows.push_back(row("model runs", runs));
  if (!result.met() && result.nearest) add_nearest(result, rows);
  section.blocks.emplace_back(rows);
  return section;
}

Section trials_section(const WindowResult& result) {
  Section section{"Try first"};
  for (const WindowTrial& trial : result.trials) {
    section.blocks.emplace_back(Sentence{
        trial.why + ": " + settings_text(result, trial.slice, trial.at) + ": " + probe_text(trial.probe) + "; " +
        number(trial.tolerance, 2) + " setting errors from the nearest boundary (" + by_text(trial.by, result) + ")"});
  }
  if (result.trials.front().tolerance < 2.0)
    section.blocks.emplace_back(
        Sentence{"Fewer than two setting errors of room: one trial in several will miss the window even if the model "
                 "were right."});
  return section;
}

Section probability_section(const WindowResult& result) {
  Section section{"How likely"};
  section.blocks.emplace_back(
      Sentence{std::to_string(result.samples->size()) + " samples of every doubt at each point, " +
               std::to_string(result.probability_runs) + " model runs" +
               (result.probability_not_converged > 0
                    ? ", " + std::to_string(result.probability_not_converged) + " not converged: counted as missed"
                    : "")});
  const auto best = likeliest(result);
  if (!best) return section;
  const auto& node = result.slices[best->first].probability->nodes[best->second];
  const auto share = [](const auto& s) {
    return number(100.0 * s.value, 2) + " ± " + number(100.0 * s.error, 2) + " %";
  };
  Quantities rows{
      {row("likeliest", settings_text(result, best->first, node.at) + ": " + share(node.all) + " (95 % interval " +
                            number(100.0 * node.low, 2) + " to " + percent(node.high) + ")"),
       row("without the relations", share(node.known) + ", with measurements and properties in doubt only")}};
  for (const double level : {0.5, 0.75, 0.9}) {
    std::size_t above = 0;
    std::size_t all = 0;
    for (const WindowSlice& slice : result.slices)
      for (const auto& other : slice.probability->nodes) {
        ++all;
        above += other.all.value >= level ? 1 : 0;
      }
    rows.rows.push_back(
        row("at least " + percent(level),
            "at " + percent(static_cast<double>(above) / static_cast<double>(all)) + " of the points of the map"));
  }
  section.blocks.emplace_back(rows);
  return section;
}

}  // namespace

Document window_document(const LoadedCase& loaded, const WindowResult& result) {
  const model::CaseInput& input = loaded.file.input;
  Document document{input.purpose.empty() ? loaded.file.name : input.purpose, {}};
  auto& blocks = document.blocks;
  blocks.emplace_back(document::Data{window_json(loaded, result).dump(-1, ' ', false, Json::error_handler_t::replace)});
  blocks.emplace_back(wanted_section(result));
  blocks.emplace_back(result_section(result));
  if (result.met()) blocks.emplace_back(trials_section(result));
  const auto torn =
      std::count_if(result.trials.begin(), result.trials.end(), [](const WindowTrial& t) { return t.probe.torn; });
  const std::array<std::string_view, 2> axes{result.spec.plane[0].key->path, result.spec.plane[1].key->path};
  if (const std::string published = published_sentence(axes, torn > 0); !published.empty())
    blocks.emplace_back(Section{"Published", "", {Sentence{published}}});
  if (result.samples) blocks.emplace_back(probability_section(result));
  Section remember{"To bear in mind"};
  for (const auto& note : result.notes) remember.blocks.emplace_back(Sentence{"Note: " + note});
  remember.blocks.emplace_back(Sentence{
      "The range above is arithmetic, not permission: stay below what the maker rates for rotor, vessel and charge."});
  std::string before;
  for (const auto& caution : io::short_cautions(input, loaded.library.solvent(input.solution.solvent))) {
    before += caution;
    if (caution.back() == ':')
      before += ' ';
    else
      remember.blocks.emplace_back(Sentence{std::exchange(before, {})});
  }
  if (!before.empty()) remember.blocks.emplace_back(Sentence{before});
  blocks.emplace_back(remember);
  return document;
}

void write_window_points(const LoadedCase& loaded, const WindowResult& result, const std::string& path, bool force) {
  auto columns = setting_columns(result.spec);
  columns.push_back({"met", "boolean", "", "", "whether the point meets the target", true});
  columns.push_back({"missed", "string", "", "", "conditions that are not met, separated by blanks", false});
  columns.push_back({"status", "string", "", "", "done, or not-converged: then there are no results", true, {"done", "not-converged"}});
  columns.push_back({"class", "string", "", "", "what lands on the collector", false});
  columns.push_back({"landing", "string", "", "", "state of what lands", false});
  columns.push_back({"dry_diameter_um", "double", "um", "d_f", "diameter of the dry fibre laid at the start of the run", false});
  columns.push_back({"residual_solvent", "double", "", "w_s", "mass fraction of solvent at landing", false});
  columns.push_back({"polymer_throughput_g_h", "double", "g/h", "m_p", "polymer through all orifices at the start", false});
  std::string rows;
  for (const WindowSlice& slice : result.slices)
    for (const auto& node : slice.map.nodes) {
      append_settings(rows, result.spec, slice, node.at);
      rows += node.probe.met() ? ",true," : ",false,";
      std::string missed;
      for (const int k : unmet_of(node.probe)) missed += (missed.empty() ? "" : " ") + slice.map.constraints[static_cast<std::size_t>(k)].key;
      io::append_text(rows, missed);
      rows += node.probe.converged ? ",done," : ",not-converged,";
      if (node.probe.converged) io::append_text(rows, to_string(node.probe.fibre_class));
      rows.push_back(',');
      if (node.probe.converged) io::append_text(rows, to_string(node.probe.landing));
      const auto cell = [&](const std::optional<double>& value, double by) {
        rows.push_back(',');
        if (value) io::append_number(rows, by * *value);
      };
      cell(node.probe.diameter_m, 1e6);
      cell(node.probe.residual_solvent, 1.0);
      cell(node.probe.throughput_kg_s, kToGramsPerHour);
      rows.push_back('\n');
    }
  write_table(path, "-o", force, metadata_of(loaded, result, path, "Points of the window", columns), columns, rows);
}

void write_window_boundary(const LoadedCase& loaded, const WindowResult& result, const std::string& path, bool force) {
  auto columns = setting_columns(result.spec);
  columns.insert(columns.begin(), {"ring", "integer", "", "", "number of the closed line, from 1; the region is on its left", true});
  columns.push_back({"by", "string", "", "", "condition that fails beyond the piece from this point to the next of the ring; range: edge of the range", true});
  std::string rows;
  std::size_t number_of_ring = 0;
  for (const WindowSlice& slice : result.slices)
    for (const auto& ring : slice.map.rings) {
      ++number_of_ring;
      for (std::size_t k = 0; k < ring.points.size(); ++k) {
        rows += std::to_string(number_of_ring) + ',';
        append_settings(rows, result.spec, slice, ring.points[k]);
        rows.push_back(',');
        io::append_text(rows, ring.by[k] < 0 ? "range" : slice.map.constraints[static_cast<std::size_t>(ring.by[k])].key);
        rows.push_back('\n');
      }
    }
  write_table(path, "--boundary", force, metadata_of(loaded, result, path, "Boundary of the window", columns), columns, rows);
}

}  // namespace whorl::app
