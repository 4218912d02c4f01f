#include "answer/report_sections.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "answer/estimate_answer.hpp"
#include "answer/estimate_page.hpp"
#include "answer/explanation_text.hpp"
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
using figures::PageCell;
using figures::PageSection;
using figures::PageTable;

constexpr const char* kProfileX = "arc_length_mm";
constexpr const char* kProfilePanels[] = {"diameter_um", "speed_m_s", "tension_uN", "temperature_degC",
                                          "solvent_mass_fraction"};

PageCell text_cell(std::string text) { return {std::move(text), {}, false, {}}; }
PageCell number_cell(double value, int digits = 4) {
  return {figures::print_number(value, digits), io::number_text(value, 12), true, {}};
}
PageCell symbol_cell(std::string_view symbol) {
  return {std::string(symbol), std::string(symbol), false, figures::rich_symbol(symbol)};
}
PageCell unit_cell(std::string_view unit) {
  if (unit == "1") return text_cell("");
  return {std::string(unit), std::string(unit), false, figures::rich_unit(unit)};
}

const char* origin_word(model::Origin origin) {
  switch (origin) {
    case model::Origin::measured: return "measured";
    case model::Origin::library: return "library";
    case model::Origin::estimated: return "estimated";
    case model::Origin::assumed: return "assumed";
  }
  return "?";
}

figures::FigureFormat format_named(const std::string& id, double width_mm = figures::kColumnWidthMm) {
  figures::FigureFormat format;
  format.width_mm = width_mm;
  format.id = id;
  return format;
}

}  // namespace

PageSection result_section(const study::LoadedCase& loaded, const model::Estimate& e) {
  PageSection section{"result", "Result", {}};
  PageTable answer{"answer", "The answer", {"About", "What is expected"}, {}};
  for (const AnswerRow& row : answer_rows(loaded, e))
    answer.rows.push_back({text_cell(row.label), text_cell(row.text)});
  section.html += figures::html_table(answer);
  std::string sentence = "Class " + std::string(to_string(e.fibre_class));
  if (e.landing != model::Landing::none) sentence += ", lands " + std::string(to_string(e.landing));
  sentence += '.';
  for (const auto& reason : e.decided_by) sentence += ' ' + reason;
  section.html += figures::html_paragraph(sentence);
  PageTable table{"key-results", "Key results", {"Quantity", "Symbol", "Value", "Unit"}, {}};
  for (const char* column :
       {"dry_diameter_um", "tearing_probability", "thread_diameter_um", "threads_per_orifice", "line_diameter_um",
        "kinematic_bound_um", "run_diameter_mean_um", "run_diameter_min_um", "run_diameter_max_um", "wet_diameter_um",
        "residual_solvent", "polymer_throughput_g_h", "run_time_s", "polymer_spun_g", "line_speed_m_s",
        "drying_distance_mm", "solidification_distance_mm", "tension_ratio"}) {
    const io::Output* output = io::find_output(column);
    const auto value = output == nullptr ? std::nullopt : io::output_value(*output, e);
    if (!value) continue;
    std::string name(output->description);
    table.rows.push_back({text_cell(name), symbol_cell(output->symbol), number_cell(*value), unit_cell(output->unit)});
  }
  section.html += figures::html_table(table);
  if (e.orifice.flow_m3_s > 0.0) {
    const auto& o = e.orifice;
    PageTable pressure{
        "pressures", "Pressure at the orifice, and what it is spent on", {"Part", "Pressure", "Unit"}, {}};
    const auto row = [&](const char* name, double value) {
      pressure.rows.push_back({text_cell(name), number_cell(1e-3 * value), text_cell("kPa")});
    };
    row("gas overpressure", o.gas_overpressure_Pa);
    row("centrifugal head", o.centrifugal_head_Pa);
    row("liquid height", o.hydrostatic_head_Pa);
    row("held back by surface tension", -o.capillary_threshold_Pa);
    row("together: drives the flow", o.driving_pressure_Pa);
    row("spent on friction", o.viscous_loss_Pa);
    row("spent at the entrance", o.entrance_loss_Pa);
    row("becomes speed of the liquid", o.kinetic_loss_Pa);
    section.html += figures::html_table(pressure);
  }
  return section;
}

PageSection warning_section(const study::LoadedCase& loaded, const model::Estimate& e) {
  std::vector<std::string> items;
  for (const auto& warning : e.warnings) items.push_back(warning.text);
  for (const auto& note : loaded.file.notes) items.push_back(note);
  if (items.empty()) items.emplace_back("None.");
  return {"warnings", "Warnings", figures::html_list(items)};
}

namespace {

std::vector<PageCell> variant_row(const model::AirVariant& v) {
  const bool lands = v.status == model::Status::done && v.reached_collector;
  const std::string what = v.status != model::Status::done ? "does not converge"
                           : lands                         ? "arrives"
                                                           : "does not arrive";
  return {text_cell(v.text), text_cell(what), lands ? number_cell(1e6 * v.dry_diameter_m) : text_cell(""),
          lands ? number_cell(100.0 * std::max(0.0, v.residual_solvent), 3) : text_cell(""),
          lands ? number_cell(v.line_speed_m_s) : text_cell("")};
}

}  // namespace

PageSection doubt_section(const model::Estimate& e) {
  PageSection section{"doubts", "Doubts of the model", {}};
  const std::vector<std::string> header{"Changed", "Jet", "Dry diameter / µm", "Solvent / wt%", "Line speed / (m/s)"};
  if (!e.air_variants.empty() && e.fibre_class != model::FibreClass::dripping) {
    section.html +=
        figures::html_paragraph("The first jet again in other air. No measurement of the charge removes this doubt.");
    PageTable table{"air", "If the air is not as assumed", header, {}};
    for (const auto& v : e.air_variants) table.rows.push_back(variant_row(v));
    section.html += figures::html_table(table);
  }
  if (e.gas.predicted && !e.gas.variants.empty() && e.fibre_class != model::FibreClass::dripping) {
    section.html += figures::html_paragraph("Gas breaks through the thinning layer after " +
                                            figures::print_number(e.run.breakthrough_time_s, 3) + " s, with " +
                                            figures::print_number(100.0 * e.run.breakthrough_left, 2) +
                                            " % of the charge left. The rows show the moment when half of that has "
                                            "gone. Closures of our own that no experiment has tested.");
    PageTable table{"gas", "When gas breaks through", header, {}};
    for (const auto& v : e.gas.variants) table.rows.push_back(variant_row(v));
    section.html += figures::html_table(table);
  }
  if (section.html.empty())
    section.html = figures::html_paragraph("No jet leaves the vessel, so there is nothing to vary.");
  return section;
}

PageSection input_section(const study::LoadedCase& loaded, const model::Estimate& e) {
  PageSection section{"inputs", "Inputs and where they come from", {}};
  section.html += figures::html_paragraph(
      "Doubt is one standard deviation, or half the width of a uniform distribution, as the case states it.");
  PageTable inputs{"case-inputs", "The case", {"Key", "Value", "Doubt"}, {}};
  for (const auto& key : io::word_keys()) {
    if (key.path == "purpose") continue;
    inputs.rows.push_back({text_cell(std::string(key.path)), text_cell(key.get(loaded.file.input)), text_cell("")});
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
    inputs.rows.push_back({text_cell(std::string(key.path)), text_cell(shown), text_cell(doubt)});
  }
  PageTable properties{
      "properties", "Properties", {"Property", "Symbol", "Value", "Unit", "Doubt / %", "Origin", "Source"}, {}};
  for (const auto& named : e.properties) {
    properties.rows.push_back({text_cell(named.key), symbol_cell(named.symbol), number_cell(named.property.value),
                               unit_cell(named.unit), number_cell(100.0 * named.property.relative_sd, 2),
                               text_cell(origin_word(named.property.origin)), text_cell(named.property.source)});
  }
  section.html += figures::html_table(properties) + figures::html_table(inputs);
  return section;
}

PageSection number_section(const model::Estimate& e) {
  PageSection section{"numbers", "All numbers", {}};
  PageTable groups{"groups", "Dimensionless groups", {"Group", "Symbol", "Definition", "Value"}, {}};
  for (const auto& group : e.groups)
    groups.rows.push_back(
        {text_cell(group.key), symbol_cell(group.symbol), text_cell(group.definition), number_cell(group.value)});
  PageTable results{"all-results", "Results", {"Column", "Symbol", "Value", "Unit", "Meaning"}, {}};
  for (const auto& output : io::outputs()) {
    const auto value = io::output_value(output, e);
    if (!value) continue;
    PageCell cell =
        output.kind == io::OutputKind::boolean ? text_cell(*value != 0.0 ? "true" : "false") : number_cell(*value);
    results.rows.push_back({text_cell(std::string(output.column)), symbol_cell(output.symbol), cell,
                            unit_cell(output.unit), text_cell(std::string(output.description))});
  }
  section.html += figures::html_table(groups) + figures::html_table(results);
  if (!e.run.points.empty()) {
    PageTable run{
        "run",
        "The run",
        {"Time / s", "Emptied / %", "Flow of one orifice / (mL/min)", "Dry diameter / µm", "Share of fibre length / %"},
        {}};
    for (const auto& point : e.run.points) {
      const bool lands = point.fibre_length_weight > 0.0 && point.dry_diameter_m > 0.0;
      run.rows.push_back({number_cell(point.time_s), number_cell(100.0 * point.emptied_fraction, 3),
                          number_cell(6e7 * point.orifice.flow_m3_s),
                          lands ? number_cell(1e6 * point.dry_diameter_m) : text_cell(""),
                          lands ? number_cell(100.0 * point.fibre_length_weight, 3) : text_cell("")});
    }
    section.html += figures::html_table(run);
  }
  return section;
}

PageSection figure_section(const study::LoadedCase& loaded, const model::Estimate& e) {
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
  if (run.diameters_um.size() >= 2)
    figures += figures::html_figure(figures::draw_distribution(run, format_named("run-")));
  const Json json = estimate_json(loaded, e);
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
  const io::Table table = io::parse_table(io::profile_csv(e.jet.profile), "profile");
  const auto x = table.numbers("x_mm");
  const auto y = table.numbers("y_mm");
  const auto path = figures::thinned({x, y}, {0.1, 0.1}, table.numbers(kProfileX));
  std::vector<std::vector<double>> channels;
  std::vector<double> tolerances;
  for (const char* name : kProfilePanels) {
    auto values = table.numbers(name);
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    if (*low > 0.0) {
      for (double& v : values) v = std::log(v);
      tolerances.push_back(0.01);
    } else {
      tolerances.push_back(0.005 * std::max(*high - *low, 1e-9));
    }
    channels.push_back(std::move(values));
  }
  const auto kept = figures::thinned(channels, tolerances, table.numbers(kProfileX));
  Json profile = Json::object();
  profile[kProfileX] = numbers_json(table.numbers(kProfileX), kept);
  for (const char* name : kProfilePanels) profile[name] = numbers_json(table.numbers(name), kept);
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
      "case. Everything else stays as in the case. Away from the inputs of the case no one has looked at the warnings: "
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
        values.push_back(io::tidy(*value, 5));
      } else {
        values.push_back(nullptr);
      }
    }
    point["results"] = values;
    if (at[i] != nullptr && draws_jet(*at[i])) {
      point["jet"] = jet_json(*at[i]);
      // Axes that hold every jet, so that two picks can be compared.
      const io::Table stations = io::parse_table(io::profile_csv(at[i]->jet.profile), "profile");
      for (auto& panel : profile.panels) {
        const auto numbers = stations.numbers(panel.column);
        const auto [low, high] = std::minmax_element(numbers.begin(), numbers.end());
        panel.reach.push_back(*low);
        panel.reach.push_back(*high);
      }
      profile.x_reach.push_back(stations.numbers(kProfileX).back());
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

namespace {

// Paragraphs, equations and tables of a text as elements.
// `equations`: number of the last one on the page before.
std::string html_prose(const io::Prose& prose, const std::string& id, int& equations) {
  std::string html;
  int tables = 0;
  for (const io::Block& block : prose.blocks) {
    if (const auto* heading = std::get_if<io::Heading>(&block)) {
      html += figures::html_heading(io::prose_plain(heading->text));
    } else if (const auto* paragraph = std::get_if<io::Paragraph>(&block)) {
      html += figures::html_paragraph(io::prose_plain(paragraph->text));
    } else if (const auto* equation = std::get_if<io::Equation>(&block)) {
      html += figures::html_paragraph(equation->plain + "    (" + std::to_string(++equations) + ')');
    } else if (const auto* written = std::get_if<io::ProseTable>(&block)) {
      PageTable table{id + '-' + std::to_string(++tables), io::prose_plain(written->caption), {}, {}};
      for (const auto& name : written->header) table.header.push_back(io::prose_plain(name));
      for (const auto& row : written->rows) {
        std::vector<PageCell> cells;
        for (const auto& cell : row) {
          cells.push_back(text_cell(io::prose_plain(cell)));
          const std::string& text = cells.back().text;
          const auto digit = text.find_first_not_of("+-");
          cells.back().number = cells.size() > 1 && digit <= 1 && text[digit] >= '0' && text[digit] <= '9';
        }
        table.rows.push_back(std::move(cells));
      }
      html += figures::html_table(table);
    }
  }
  return html;
}

}  // namespace

// What `explain` says of this case, and of a tenth more speed (at rest or at the limit: a tenth more pressure).
PageSection explanation_section(const study::LoadedCase& loaded, int threads, engine::RunCount* run_count) {
  const run::ParallelOptions parallel{threads, run_count, true};
  engine::EstimateOptions one;
  one.run_distribution = false;
  const study::PointReport report =
      study::report_point(loaded, case_title(loaded), run::parallel_neighbours(loaded, one, parallel), run_count);
  int equations = 0;
  PageSection section{"why", "Why the fibre is what it is", html_prose(explain_point(report), "why", equations)};
  if (!study::why_not_explained(report.at.point.estimate).empty()) return section;
  for (const char* name : {"operation.rotation_speed", "operation.gas_overpressure"}) {
    const io::Key* key = io::find_key(name);
    const double own = key->get(loaded.file.input).value_or(0.0);
    if (!(own > 0.0) || 1.1 * own > key->maximum) continue;
    model::CaseInput more = loaded.file.input;
    key->set(more, 1.1 * own);
    const auto named = [&](const model::CaseInput& input) {
      study::NamedPoint at{io::value_text(*key, key->get(input).value_or(0.0), 6),
                           {engine::resolve(input, loaded.library), {}}};
      at.point.estimate = engine::estimate(at.point.setup, one);
      run_count->add(1);
      return at;
    };
    const study::ChangeReport change = study::report_change(named(loaded.file.input), named(more));
    const bool speed = std::string_view(name) == "operation.rotation_speed";
    section.html += figures::html_heading(std::string("What 10 % more ") +
                                          (speed ? "rotation speed" : "gas overpressure") + " changes");
    std::string below = html_prose(explain_change(change), "change", equations);
    for (std::size_t at = 0; (at = below.find("<h3>", at)) != std::string::npos;) below.replace(at, 4, "<h4>");
    for (std::size_t at = 0; (at = below.find("</h3>", at)) != std::string::npos;) below.replace(at, 5, "</h4>");
    section.html += below;
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
