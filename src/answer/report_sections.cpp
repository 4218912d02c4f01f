#include "answer/report_sections.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <utility>

#include "answer/explanation_text.hpp"
#include "answer/report_blocks.hpp"
#include "document/from_io.hpp"
#include "document/write.hpp"
#include "figures/figure_text.hpp"
#include "figures/thinning.hpp"
#include "run/parallel.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/io/profile_table.hpp"
#include "whorl/io/units.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;
using figures::PageSection;

constexpr const char* kProfileX = "arc_length_mm";
constexpr const char* kProfilePanels[] = {"diameter_um", "speed_m_s", "tension_uN", "temperature_degC",
                                          "solvent_mass_fraction"};

figures::FigureFormat format_named(const std::string& id, double width_mm = figures::kColumnWidthMm) {
  figures::FigureFormat format;
  format.width_mm = width_mm;
  format.id = id;
  return format;
}

}  // namespace

PageSection result_section(const EstimateStatement& said) {
  PageCount count{"result"};
  document::Table answer = said.answer;
  for (auto& row : answer.rows) row[1] = without_options(std::get<std::string>(row[1]));
  PageSection section{"result", "Result", page_table(answer, "answer", "The answer")};
  section.html += page_blocks({said.words.result, said.words.decided}, count);
  const auto& results = std::get<document::Table>(said.numbers.results.blocks.front());
  document::Table table = results;
  table.rows.clear();
  for (const char* column :
       {"dry_diameter_um", "tearing_probability", "thread_diameter_um", "threads_per_orifice", "line_diameter_um",
        "kinematic_bound_um", "run_diameter_mean_um", "run_diameter_min_um", "run_diameter_max_um", "wet_diameter_um",
        "residual_solvent", "line_residual_solvent", "polymer_throughput_g_h", "run_time_s", "polymer_spun_g",
        "line_speed_m_s", "drying_distance_mm", "solidification_distance_mm", "tension_ratio"})
    for (const auto& row : results.rows)
      if (std::get<std::string>(row.front()) == column) table.rows.push_back(row);
  section.html += page_table(table, "key-results", "Key results");
  return section;
}

PageSection warning_section(const EstimateStatement& said) {
  PageCount count{"warnings"};
  const std::string html = page_blocks(said.words.warnings.blocks, count);
  return {"warnings", "Warnings", html.empty() ? figures::html_list({"None."}) : html};
}

PageSection doubt_section(const EstimateStatement& said) {
  PageCount count{"doubts"};
  const EstimateNumbers& n = said.numbers;
  PageSection section{"doubts", "Doubts of the model",
                      page_blocks({said.words.air, n.air, said.words.gas, n.gas}, count)};
  if (section.html.empty())
    section.html = figures::html_paragraph("No jet leaves the vessel, so there is nothing to vary.");
  return section;
}

PageSection input_section(const study::LoadedCase& loaded, const EstimateStatement& said) {
  PageSection section{"inputs", "Inputs and where they come from", {}};
  section.html += figures::html_paragraph(
      "Doubt is one standard deviation, or half the width of a uniform distribution, as the case states it.");
  document::Table inputs{"", {}, {{"", "key"}, {"", "value"}, {"", "doubt"}}, {}};
  for (const auto& key : io::word_keys()) {
    if (key.path == "purpose") continue;
    inputs.rows.push_back({std::string(key.path), key.get(loaded.file.input), std::string()});
  }
  for (const auto& key : io::numeric_keys()) {
    const auto value = key.get(loaded.file.input);
    std::string doubt;
    if (const auto found = loaded.file.uncertainties.find(std::string(key.path));
        found != loaded.file.uncertainties.end()) {
      const double size = std::abs(io::to_display(key, value.value_or(0.0) + found->second.stated) -
                                   io::to_display(key, value.value_or(0.0)));
      doubt = "± " + figures::print_number(size, 3) +
              (key.display_unit == "1" ? "" : " " + figures::plain_unit(key.display_unit)) + ", " +
              to_string(found->second.distribution);
    }
    std::string shown = value ? io::value_text(key, *value) : "not given: " + std::string(key.fallback);
    if (value && key.path == "solution.concentration")
      shown = io::concentration_text(loaded.file.input.solution.concentration);
    inputs.rows.push_back({std::string(key.path), shown, doubt});
  }
  PageCount count{"properties"};
  section.html += page_blocks({said.numbers.properties}, count) + page_table(inputs, "case-inputs", "The case");
  return section;
}

PageSection number_section(const EstimateStatement& said) {
  PageCount count{"numbers"};
  document::Section results = said.numbers.results;
  std::get<document::Table>(results.blocks.front()).columns.front().label = "column";
  return {"numbers", "All numbers", page_blocks({said.numbers.groups, results, said.numbers.run}, count)};
}

PageSection figure_section(const study::LoadedCase& loaded, const model::Estimate& e,
                           const EstimateStatement& said) {
  PageSection section{"figures", "Figures", {}};
  std::string figures;
  if (e.jet.profile.size() >= 2) {
    figures::PathFigure path;
    add_jet(path, loaded, e, "");
    path.about = setting_title(loaded);
    figures += figures::html_figure(figures::draw_path(path, format_named("path-")));
    figures += figures::html_figure(
        figures::draw_panels(profile_figure({profile_table(e, loaded.file.name)}, {""}, "", {}, setting_title(loaded)),
                             format_named("profile-")));
  }
  figures::DistributionFigure run;
  add_run(run, e);
  run.about = setting_title(loaded);
  if (!run.diameters_um.empty())
    figures += figures::html_figure(figures::draw_distribution(run, format_named("run-")));
  const Json json = document::json_of({{}, {said.numbers.budget}});
  if (e.jet.profile.size() >= 2 && json.contains("line_speed_budget_J_kg"))
    figures += figures::html_figure(figures::draw_split(
        budget_figure(json.at("line_speed_budget_J_kg"), setting_title(loaded)), format_named("budget-")));
  section.html = figures.empty() ? figures::html_paragraph("No jet leaves the vessel, so there is nothing to draw.")
                                 : "<div class=\"figures\">\n" + figures + "</div>\n";
  return section;
}

namespace {

Json numbers_json(const std::vector<double>& values, const std::vector<std::size_t>& kept) {
  Json out = Json::array();
  for (const std::size_t i : kept) {
    if (std::isfinite(values[i])) {
      out.push_back(io::tidy(values[i], 5));
    } else {
      out.push_back(nullptr);
    }
  }
  return out;
}

// The stations of a jet, few enough for a page: a path within a tenth of a millimetre, profiles within half a per cent
// of their range.
Json jet_json(const model::Estimate& e) {
  const auto along = io::profile_numbers(e.jet.profile, kProfileX);
  const auto x = io::profile_numbers(e.jet.profile, "x_mm");
  const auto y = io::profile_numbers(e.jet.profile, "y_mm");
  const auto path = figures::thinned({x, y}, {0.1, 0.1}, along);
  std::vector<std::vector<double>> channels;
  std::vector<double> tolerances;
  for (const char* name : kProfilePanels) {
    auto values = io::profile_numbers(e.jet.profile, name);
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    if (*low > 0.0) {
      for (double& v : values) v = std::log(v);
      tolerances.push_back(0.01);
    } else {
      tolerances.push_back(0.005 * std::max(*high - *low, 1e-9));
    }
    channels.push_back(std::move(values));
  }
  const auto kept = figures::thinned(channels, tolerances, along);
  Json profile = Json::object();
  profile[kProfileX] = numbers_json(along, kept);
  for (const char* name : kProfilePanels) profile[name] = numbers_json(io::profile_numbers(e.jet.profile, name), kept);
  return Json{{"reason", e.jet.reason},
              {"path_x", numbers_json(x, path)},
              {"path_y", numbers_json(y, path)},
              {"profile", profile}};
}

bool draws_jet(const model::Estimate& e) { return e.status == model::Status::done && e.jet.profile.size() >= 2; }

Json axis_json(const figures::Quantified& quantity, const std::string& column, const std::vector<double>& values) {
  return Json{{"name", quantity.name},
              {"column", column},
              {"unit", quantity.unit.empty() ? std::string() : figures::plain_unit(quantity.unit)},
              {"values", values}};
}

}  // namespace

namespace {

// The map, the path and the profiles with what the script of the page reads.
std::string explorer_html(const study::LoadedCase& loaded, const model::Estimate& first, bool own_jet,
                          figures::MapFigure& map, figures::PanelFigure profile, const Json& data) {
  figures::PathFigure path;
  add_jet(path, loaded, first, "the case");
  path.jets.push_back(path.jets.front());
  path.jets.back().name = "picked";
  for (auto& jet : path.jets) jet.solid_from = jet.dry_from = std::nullopt;
  if (!own_jet) path.jets.front().name = profile.names.front() = "first point with a jet";
  figures::PageExplorer explorer;
  explorer.intro =
      "Every cell of the map is a computed point. Pick one with the mouse, or move with the arrow keys and press "
      "Enter: its jet is drawn dashed over that of the "
      "case. Everything else stays as in the case. Path and speed of a point agree to 0.01 %, those of an estimate to "
      "0.0001 %: the fourth digit may differ. Away from the inputs of the case no one has looked at the warnings: "
      "estimate a point before using it.";
  explorer.map = figures::draw_map(map, format_named("map-", 110.0));
  path.about = "picked point against the case";
  explorer.path = figures::draw_path(path, format_named("xpath-"));
  profile.about = "picked point against the case";
  explorer.profile = figures::draw_panels(profile, format_named("xprofile-"));
  explorer.data_json = data.dump(-1, ' ', false, Json::error_handler_t::replace);
  return figures::html_explorer(explorer);
}

}  // namespace

PageSection explorer_section(const study::LoadedCase& loaded, const model::Estimate& own, const SweepData& sweep) {
  PageSection section{"explore", "Explore speed and pressure", {}};
  figures::MapFigure map = map_figure(sweep, "", "", "");
  const io::Table& table = sweep.table;
  const auto xs = table.numbers(map.x_column);
  const auto ys = table.numbers(map.y_column);
  // Estimates in the order of the map's crossings.
  std::vector<const model::Estimate*> at(map.z.size(), nullptr);
  for (std::size_t r = 0; r < table.rows.size(); ++r) {
    const auto column = static_cast<std::size_t>(std::lower_bound(map.x.begin(), map.x.end(), xs[r]) - map.x.begin());
    const auto row = static_cast<std::size_t>(std::lower_bound(map.y.begin(), map.y.end(), ys[r]) - map.y.begin());
    at[row * map.x.size() + column] = &sweep.estimates[r];
  }
  const model::Estimate* first = draws_jet(own) ? &own : nullptr;
  for (const auto* e : at)
    if (first == nullptr && e != nullptr && draws_jet(*e)) first = e;
  if (first == nullptr) {
    section.html = figures::html_figure(figures::draw_map(map, format_named("map-", 120.0))) +
                   figures::html_paragraph("No point of the map has a jet.");
    return section;
  }

  Json data;
  data["x"] = axis_json(map.x_quantity, map.x_column, map.x);
  data["y"] = axis_json(map.y_quantity, map.y_column, map.y);
  std::vector<const io::Output*> outputs;
  Json results = Json::array();
  for (const char* name : {"dry_diameter_um", "residual_solvent", "line_speed_m_s", "orifice_flow_mL_min",
                           "polymer_throughput_g_h", "run_time_s", "drying_distance_mm", "turns"}) {
    const io::Output* output = io::find_output(name);
    if (output == nullptr) continue;
    outputs.push_back(output);
    const auto quantity = figures::quantified(name);
    results.push_back(Json{{"name", quantity.name},
                           {"unit", quantity.unit.empty() ? std::string() : figures::plain_unit(quantity.unit)}});
  }
  data["results"] = results;
  data["profile_x"] = kProfileX;
  figures::PanelFigure profile =
      profile_figure({profile_table(*first, loaded.file.name), profile_table(*first, loaded.file.name)},
                     {"the case", "picked"}, kProfileX, {std::begin(kProfilePanels), std::end(kProfilePanels)}, "");
  Json points = Json::array();
  double nearest_distance = INFINITY;
  std::size_t nearest = 0;
  for (std::size_t i = 0; i < at.size(); ++i) {
    const double x = map.x[i % map.x.size()];
    const double y = map.y[i / map.x.size()];
    Json point{{"x", x},
               {"y", y},
               {"class", map.classes[i]},
               {"reason", at[i] == nullptr        ? "not computed"
                          : at[i]->reason.empty() ? map.classes[i]
                                                  : at[i]->reason}};
    Json values = Json::array();
    for (const auto* output : outputs) {
      const auto value = at[i] == nullptr ? std::nullopt : io::output_value(*output, *at[i]);
      if (value) {
        values.push_back(io::tidy(*value, 4));
      } else {
        values.push_back(nullptr);
      }
    }
    point["results"] = values;
    if (at[i] != nullptr && draws_jet(*at[i])) {
      point["jet"] = jet_json(*at[i]);
      // Axes that hold every jet, so that two picks can be compared.
      for (auto& panel : profile.panels) {
        const auto numbers = io::profile_numbers(at[i]->jet.profile, panel.column);
        const auto [low, high] = std::minmax_element(numbers.begin(), numbers.end());
        panel.reach.push_back(*low);
        panel.reach.push_back(*high);
      }
      profile.x_reach.push_back(io::profile_numbers(at[i]->jet.profile, kProfileX).back());
    } else {
      point["jet"] = nullptr;
    }
    points.push_back(std::move(point));
    if (map.marked) {
      const double distance = std::hypot((x - map.marked->x) / (map.x.back() - map.x.front()),
                                         (y - map.marked->y) / (map.y.back() - map.y.front()));
      if (distance < nearest_distance) {
        nearest_distance = distance;
        nearest = i;
      }
    }
  }
  data["points"] = points;
  data["nearest"] = nearest;

  const bool own_jet = draws_jet(own);
  section.html = explorer_html(loaded, *first, own_jet, map, std::move(profile), data);
  return section;
}

// What `explain` says of this case, and of a tenth more speed (at rest or at the limit: a tenth more pressure).
PageSection explanation_section(const study::LoadedCase& loaded, const model::Estimate& solved, int threads,
                                engine::RunCount* run_count) {
  const run::ParallelOptions parallel{threads, run_count, true};
  engine::EstimateOptions one;
  one.run_distribution = false;
  // what is explained is what the equations say, without trials
  study::OperatingPoint point = loaded.trials
                                    ? study::point_of(loaded, loaded.file.input, true, run_count)
                                    : study::OperatingPoint{engine::resolve(loaded.file.input, loaded.library), solved};
  const study::PointReport report = study::report_point(loaded, {case_title(loaded), std::move(point)},
                                                        run::parallel_neighbours(loaded, one, parallel));
  PageCount count{"why"};
  PageSection section{"why", "Why the fibre is what it is",
                      page_blocks(document::document_of(explain_point(report)).blocks, count)};
  if (!study::why_not_explained(report.at.point.estimate).empty()) return section;
  for (const char* name : {"operation.rotation_speed", "operation.gas_overpressure"}) {
    const io::Key* key = io::find_key(name);
    const double own = key->get(loaded.file.input).value_or(0.0);
    if (!(own > 0.0) || 1.1 * own > key->maximum) continue;
    model::CaseInput more = loaded.file.input;
    key->set(more, 1.1 * own);
    const auto named = [&](const model::CaseInput& input, study::OperatingPoint at) {
      return study::NamedPoint{io::value_text(*key, key->get(input).value_or(0.0), 6), std::move(at)};
    };
    study::OperatingPoint at_more{engine::resolve(more, loaded.library), {}};
    at_more.estimate = engine::estimate(at_more.setup, one);
    run_count->add(1);
    const study::ChangeReport change =
        study::report_change(named(loaded.file.input, report.at.point), named(more, std::move(at_more)));
    const bool speed = std::string_view(name) == "operation.rotation_speed";
    section.html += figures::html_heading(std::string("What 10 % more ") +
                                          (speed ? "rotation speed" : "gas overpressure") + " changes");
    PageCount below{"change", 0, count.equations};
    section.html += page_blocks(document::document_of(explain_change(change)).blocks, below, 4);
    if (change.split.made)
      section.html += "<div class=\"figures\">\n" +
                      figures::html_figure(figures::draw_split(split_figure(explain_json(change), loaded.file.name),
                                                               format_named("tenth-"))) +
                      "</div>\n";
    break;
  }
  return section;
}

}  // namespace whorl::answer
