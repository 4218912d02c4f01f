// What `whorl window` writes: text, JSON, CSV.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <nlohmann/json.hpp>
#include <utility>

#include "answer/provenance.hpp"
#include "answer/window_report.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/study/published.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;
using namespace document;
using study::UnitPoint;
using study::WindowConstraint;
using study::WindowMap;
using study::WindowProbe;

constexpr std::array kLevels{0.05, 0.25, 0.5, 0.75, 0.9, 0.95};

std::string number(double value, int digits = 3) {
  // whole numbers up to seven digits as they are: "10400" rather than 1.04e+04
  if (std::abs(value) >= std::pow(10.0, digits) && std::abs(value) < 1e7) {
    const double place =
        std::pow(10.0, std::floor(std::log10(std::abs(value))) - digits);  // one digit more than asked for
    return io::number_text(std::round(std::round(value / place) * place), 8);
  }
  return io::number_text(value, digits);
}

std::string name_of(const io::Key& key) {
  std::string name(key.path.substr(key.path.rfind('.') + 1));
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

std::string with_unit(const io::Key& key, double value, int digits = 3) {
  return number(value, digits) + (key.display_unit == "1" ? "" : " " + std::string(key.display_unit));
}

template <class List>
std::string joined(const List& list, const char* between) {
  std::string text;
  for (const auto& entry : list) text += (text.empty() ? "" : between) + std::string(to_string(entry));
  return text;
}

}  // namespace

std::string wording(const WindowConstraint& constraint, const study::WindowTarget& target) {
  if (constraint.key == "class") return "class " + joined(target.classes, " or ");
  if (constraint.key == "landing")
    return target.landings.empty() ? "any landing" : "lands " + joined(target.landings, " or ");
  if (constraint.key == "diameter-least") return "dry diameter at least " + micrometres(*target.least_diameter_m);
  if (constraint.key == "diameter-most") return "dry diameter at most " + micrometres(*target.most_diameter_m);
  if (constraint.key == "throughput")
    return "at least " + number(kToGramsPerHour * *target.least_throughput_kg_s) + " g/h of polymer";
  return "a result that converges";
}

namespace {

std::string by_text(int by, const study::WindowResult& result) {
  if (by < 0) return "edge of the range";
  return wording(result.slices.front().map.constraints[static_cast<std::size_t>(by)], result.spec.target);
}

Json by_json(int by, const WindowMap& map) {
  return by < 0 ? Json("range") : Json(map.constraints[static_cast<std::size_t>(by)].key);
}

Json point_json(const study::WindowSpec& spec, const UnitPoint& at) {
  return Json::array({io::tidy(study::value_at(spec.plane[0], at.x)), io::tidy(study::value_at(spec.plane[1], at.y))});
}

Json settings_json(const study::WindowResult& result, std::size_t slice, const UnitPoint& at) {
  Json json = Json::object();
  json[std::string(result.spec.plane[0].key->column)] = io::tidy(study::value_at(result.spec.plane[0], at.x));
  json[std::string(result.spec.plane[1].key->column)] = io::tidy(study::value_at(result.spec.plane[1], at.y));
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
  for (const int k : study::unmet_of(probe)) missed.push_back(map.constraints[static_cast<std::size_t>(k)].key);
  json["missed"] = missed;
  return json;
}

std::string settings_text(const study::WindowResult& result, std::size_t slice, const UnitPoint& at) {
  const auto& plane = result.spec.plane;
  std::string text;
  for (std::size_t k = 0; k < result.spec.slices.size(); ++k)
    text += name_of(*result.spec.slices[k].key) + ' ' +
            with_unit(*result.spec.slices[k].key, result.slices[slice].levels[k]) + ", ";
  return text + with_unit(*plane[0].key, study::value_at(plane[0], at.x)) + ", " +
         with_unit(*plane[1].key, study::value_at(plane[1], at.y));
}

std::string probe_text(const WindowProbe& probe) {
  if (!probe.converged) return "not converged: " + probe.reason;
  std::string text = std::string(to_string(probe.fibre_class));
  if (probe.landing != model::Landing::none) text += std::string(", lands ") + to_string(probe.landing);
  if (probe.diameter_m) text += ", " + micrometres(*probe.diameter_m);
  const bool open = probe.tearing_probability > 0.0 && probe.tearing_probability < 1.0;
  if (open && probe.diameter_m && probe.other_diameter_m) {
    const double first = probe.torn ? probe.tearing_probability : 1.0 - probe.tearing_probability;
    text += std::string(probe.torn ? " torn threads" : " unsplit line") + " (" + number(100.0 * first, 2) +
            " %; else " + micrometres(*probe.other_diameter_m) + ")";
  }
  if (probe.throughput_kg_s) text += ", " + number(kToGramsPerHour * *probe.throughput_kg_s) + " g/h at first";
  return text;
}

// How far a point misses one constraint.
std::string miss_text(const WindowProbe& probe, int k, const study::WindowResult& result) {
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
std::map<int, double> boundary_lengths(const study::WindowResult& result) {
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

Json target_json(const study::WindowTarget& wanted) {
  Json target;
  if (wanted.least_diameter_m) target["least_dry_diameter_um"] = 1e6 * *wanted.least_diameter_m;
  if (wanted.most_diameter_m) target["most_dry_diameter_um"] = 1e6 * *wanted.most_diameter_m;
  Json classes = Json::array();
  for (const auto c : wanted.classes) classes.push_back(to_string(c));
  target["class"] = classes;
  Json landings = Json::array();
  for (const auto l : wanted.landings) landings.push_back(to_string(l));
  target["landing"] = landings;
  if (wanted.least_throughput_kg_s)
    target["least_polymer_throughput_g_h"] = kToGramsPerHour * *wanted.least_throughput_kg_s;
  return target;
}

void put_axes(Json& json, const study::WindowSpec& spec) {
  Json axes = Json::array();
  for (const study::PlaneAxis& axis : spec.plane)
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
  for (const study::SweptKey& slice : spec.slices)
    further.push_back({{"key", slice.key->path}, {"column", slice.key->column}, {"unit", slice.key->display_unit}});
  json["further_axes"] = further;
}

Json probability_json(const study::WindowSpec& spec, const study::ProbabilityMap& map) {
  Json nodes = Json::array();
  for (const auto& node : map.nodes) {
    Json row{{"at", point_json(spec, node.at)},  {"probability", node.all.value}, {"error", node.all.error},
             {"low", node.all.low},              {"high", node.all.high},         {"known", node.known.value},
             {"known_error", node.known.error}, {"known_low", node.known.low},   {"known_high", node.known.high}};
    if (node.interpolated) row["interpolated"] = true;
    nodes.push_back(row);
  }
  Json contours = Json::array();
  for (const double level : kLevels) {
    Json lines = Json::array();
    for (const auto& line : study::probability_contour(map, level)) {
      Json points_of_line = Json::array();
      for (const auto& point : line) points_of_line.push_back(point_json(spec, point));
      lines.push_back(points_of_line);
    }
    contours.push_back({{"probability", level}, {"lines", lines}});
  }
  return {{"columns", map.cells + 1}, {"rows", map.cells + 1}, {"nodes", nodes}, {"contours", contours}};
}

Json slice_json(const study::WindowSpec& spec, const study::WindowSlice& slice) {
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
    cells.push_back({{"low", point_json(spec, cell.low)},
                     {"high", point_json(spec, cell.high)},
                     {"state", kStates[static_cast<int>(cell.state)]}});
  one["cells"] = cells;
  Json points = Json::array();
  for (const auto& node : slice.map.nodes) {
    Json point{{"at", point_json(spec, node.at)}};
    point.update(probe_json(node.probe, slice.map));
    points.push_back(point);
  }
  one["points"] = points;
  if (slice.probability) one["probability"] = probability_json(spec, *slice.probability);
  return one;
}

Json miss_json(const study::WindowResult& result) {
  const study::WindowSlice& slice = result.slices[*result.nearest];
  Json row{{"slice", *result.nearest},
           {"at", point_json(result.spec, slice.miss->node.at)},
           {"settings", settings_json(result, *result.nearest, slice.miss->node.at)}};
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
  return row;
}

// The case at the far end of every axis: what can injure anywhere in the range is warned of.
model::CaseInput at_most(const model::CaseInput& input, const study::WindowResult& result) {
  model::CaseInput out = input;
  for (const study::PlaneAxis& axis : result.spec.plane)
    axis.key->set(out, io::from_display(*axis.key, std::max(axis.from, axis.to)));
  for (std::size_t k = 0; k < result.spec.slices.size(); ++k) {
    double most = result.slices.front().levels[k];
    for (const study::WindowSlice& slice : result.slices) most = std::max(most, slice.levels[k]);
    const io::Key& key = *result.spec.slices[k].key;
    key.set(out, io::from_display(key, most));
  }
  return out;
}

// What is told first: the trials, or the nearest miss where there are none.
bool tells_of_threads(const study::WindowResult& result) {
  if (!result.trials.empty())
    return std::any_of(result.trials.begin(), result.trials.end(),
                       [](const study::WindowTrial& t) { return t.probe.torn; });
  return result.nearest && result.slices[*result.nearest].miss->node.probe.torn;
}

}  // namespace

Json window_json(const study::LoadedCase& loaded, const study::WindowResult& result) {
  const study::WindowSpec& spec = result.spec;
  Json json;
  json["whorl_window"] = 1;
  put_provenance(json, {basis_of(loaded)});
  json["case"] = loaded.file.name;
  json["case_sha256"] = loaded.file.hash;
  json["purpose"] = loaded.file.input.purpose;
  json["tier"] = loaded.file.input.model.tier == model::Tier::tension ? "tension" : "inertial";
  json["target"] = target_json(spec.target);
  put_axes(json, spec);
  json["met"] = result.met();
  json["share"] = result.share;
  json["runs"] = result.runs;
  json["not_converged"] = result.not_converged;

  Json constraints = Json::array();
  for (const auto& constraint : result.slices.front().map.constraints)
    constraints.push_back({{"key", constraint.key}, {"text", wording(constraint, spec.target)}});
  json["constraints"] = constraints;

  Json slices = Json::array();
  for (const study::WindowSlice& slice : result.slices) slices.push_back(slice_json(spec, slice));
  json["slices"] = slices;

  Json trials = Json::array();
  for (const study::WindowTrial& trial : result.trials) {
    const WindowMap& map = result.slices[trial.slice].map;
    Json row{{"why", trial.why},
             {"slice", trial.slice},
             {"at", point_json(spec, trial.at)},
             {"settings", settings_json(result, trial.slice, trial.at)},
             {"tolerance", trial.tolerance},
             {"nearest_boundary", by_json(trial.by, map)}};
    row.update(probe_json(trial.probe, map));
    trials.push_back(row);
  }
  if (!result.trials.empty()) json["most_tolerant"] = trials.front();
  json["trials"] = trials;
  if (result.nearest && !result.met()) json["nearest_miss"] = miss_json(result);
  if (result.samples) {
    Json doubt{{"samples_per_point", result.samples->size()},
               {"replicates", result.samples->replicates},
               {"seed", result.samples->seed},
               {"runs", result.probability_runs},
               {"not_converged", result.probability_not_converged}};
    if (const auto best = likeliest(result)) {
      const auto& node = result.slices[best->first].probability->nodes[best->second];
      doubt["likeliest"] = {{"slice", best->first},
                            {"at", point_json(spec, node.at)},
                            {"settings", settings_json(result, best->first, node.at)},
                            {"probability", node.all.value},
                            {"error", node.all.error},
                            {"low", node.all.low},
                            {"high", node.all.high},
                            {"known", node.known.value},
                            {"known_error", node.known.error},
                            {"known_low", node.known.low},
                            {"known_high", node.known.high}};
    }
    json["uncertainty"] = doubt;
  }
  json["notes"] = loaded.file.notes;
  for (const auto& note : result.notes) json["notes"].push_back(note);
  json["cautions"] = io::short_cautions(at_most(loaded.file.input, result),
                                       loaded.library.solvent(loaded.file.input.solution.solvent));
  return json;
}

namespace {

Quantity row(document::Text label, std::string text) { return {"", std::move(label), std::move(text)}; }

std::string percent(double share) { return whorl::percent(share, 2); }

Section wanted_section(const study::WindowResult& result) {
  const study::WindowSpec& spec = result.spec;
  std::string wanted;
  for (const auto& constraint : result.slices.front().map.constraints)
    if (constraint.key != "result") wanted += (wanted.empty() ? "" : ", ") + wording(constraint, spec.target);
  Quantities rows;
  for (const study::PlaneAxis& axis : spec.plane) {
    rows.rows.push_back(
        row(name_of(*axis.key), number(axis.from) + " to " + with_unit(*axis.key, axis.to) +
                                    (axis.usual_range ? " (no range stated: about the value of the case)" : "") +
                                    "; setting error " + with_unit(*axis.key, axis.setting_error) + " (" +
                                    axis.error_source + ")"));
  }
  for (const study::SweptKey& slice : spec.slices)
    rows.rows.push_back(row(name_of(*slice.key), study::axis_text(slice, engine::DesignKind::grid)));
  return {"Wanted", "", {Sentence{wanted}, rows}};
}

// What bounds the region, the longest first.
std::string edges_text(const study::WindowResult& result) {
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

void add_nearest(const study::WindowResult& result, Quantities& rows) {
  const study::WindowSlice& slice = result.slices[*result.nearest];
  rows.rows.push_back(row("nearest miss", settings_text(result, *result.nearest, slice.miss->node.at) + ": " +
                                              probe_text(slice.miss->node.probe)));
  for (const int k : slice.miss->unmet)
    rows.rows.push_back(row("not met there", miss_text(slice.miss->node.probe, k, result)));
  std::vector<int> alone;
  for (const study::WindowSlice& other : result.slices)
    for (const int k : other.miss->alone)
      if (std::find(alone.begin(), alone.end(), k) == alone.end()) alone.push_back(k);
  if (alone.empty())
    rows.rows.push_back(row("in the way", "no single condition of the target: at every point at least two fail"));
  for (const int k : alone)
    rows.rows.push_back(row("in the way", by_text(k, result) + ": without it there are settings that meet the rest"));
  if (result.other) {
    const study::OtherSolution& other = *result.other;
    rows.rows.push_back(row("would do it", "the concentration alone: " + other.concentration + " instead of " +
                                               other.stated + ", at " + settings_text(result, other.slice, other.at) +
                                               ": " + probe_text(other.probe)));
  }
}

Section result_section(const study::WindowResult& result) {
  const study::WindowSpec& spec = result.spec;
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
    for (const study::WindowSlice& slice : result.slices) {
      std::string at;
      for (std::size_t k = 0; k < slice.levels.size(); ++k)
        at += (at.empty() ? "" : ", ") + name_of(*spec.slices[k].key) + ' ' +
              with_unit(*spec.slices[k].key, slice.levels[k]);
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

Section trials_section(const study::WindowResult& result) {
  Section section{"Try first"};
  for (const study::WindowTrial& trial : result.trials) {
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

const study::ProbabilityNode& nearest_node(const study::ProbabilityMap& map, const UnitPoint& at) {
  const auto away = [&](const study::ProbabilityNode& node) {
    return std::hypot(node.at.x - at.x, node.at.y - at.y);
  };
  return *std::min_element(map.nodes.begin(), map.nodes.end(),
                           [&](const auto& a, const auto& b) { return away(a) < away(b); });
}

Section probability_section(const study::WindowResult& result) {
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
  const auto share = [](const engine::Share& s) { return study::share_text(s); };
  const std::string interval = study::one_sided(node.all) ? " at 95 %"
                                                          : " (95 % interval " + number(100.0 * node.all.low, 2) +
                                                                " to " + percent(node.all.high) + ")";
  Quantities rows{
      {row("likeliest", settings_text(result, best->first, node.at) + ": " + share(node.all) + interval),
       row("without the relations", share(node.known) + ", with measurements and properties in doubt only")}};
  if (!result.trials.empty()) {
    const study::WindowTrial& first = result.trials.front();
    const study::ProbabilityNode& near = nearest_node(*result.slices[first.slice].probability, first.at);
    rows.rows.push_back(row("first to try", "near " + settings_text(result, first.slice, near.at) + ": " +
                                                share(near.all) + "; without the relations " + share(near.known)));
  }
  for (const double level : {0.5, 0.75, 0.9}) {
    std::size_t above = 0;
    std::size_t all = 0;
    for (const study::WindowSlice& slice : result.slices)
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

Document window_document(const study::LoadedCase& loaded, const study::WindowResult& result) {
  const model::CaseInput& input = loaded.file.input;
  Document document{input.purpose.empty() ? loaded.file.name : input.purpose, {}};
  auto& blocks = document.blocks;
  blocks.emplace_back(document::Data{window_json(loaded, result).dump(-1, ' ', false, Json::error_handler_t::replace)});
  blocks.emplace_back(wanted_section(result));
  blocks.emplace_back(result_section(result));
  if (result.met()) blocks.emplace_back(trials_section(result));
  const std::array<std::string_view, 2> axes{result.spec.plane[0].key->path, result.spec.plane[1].key->path};
  if (const std::string published = study::published_sentence(axes, tells_of_threads(result)); !published.empty())
    blocks.emplace_back(Section{"Published", "", {Sentence{published}}});
  if (result.samples) blocks.emplace_back(probability_section(result));
  Section remember{"To bear in mind"};
  for (const auto& note : result.notes) remember.blocks.emplace_back(Sentence{"Note: " + note});
  remember.blocks.emplace_back(Sentence{
      "The range above is arithmetic, not permission: stay below what the maker rates for rotor, vessel and charge."});
  std::string before;
  const model::CaseInput most = at_most(input, result);
  for (const auto& caution : io::short_cautions(most, loaded.library.solvent(input.solution.solvent))) {
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

}  // namespace whorl::answer
