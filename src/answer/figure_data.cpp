#include "answer/figure_data.hpp"

#include "whorl/study/case_runner.hpp"
#include "whorl/study/published.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "figures/figure_text.hpp"
#include "io/names.hpp"
#include "run/parallel.hpp"
#include "run/sweep_run.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/io/diameters.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/io/profile_table.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "whorl/study/usual_plane.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;

double vessel_radius_mm(const model::CaseInput& input) {
  return 1e3 * (0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m);
}

const io::Key& key_of(const char* path) { return *io::find_key(path); }

std::string display(const model::CaseInput& input, const char* path) {
  const io::Key& key = key_of(path);
  return figures::print_number(io::to_display(key, key.get(input).value_or(0.0)), 4) + ' ' +
         std::string(key.display_unit);
}

std::vector<double> distinct(std::vector<double> values) {
  values.erase(std::remove_if(values.begin(), values.end(), [](double v) { return !std::isfinite(v); }), values.end());
  std::sort(values.begin(), values.end());
  values.erase(std::unique(values.begin(), values.end()), values.end());
  return values;
}

// Even ratios rather than even steps.
bool looks_logarithmic(const std::vector<double>& values) {
  if (values.size() < 3 || values.front() <= 0.0 || values.back() / values.front() < 5.0) return false;
  double ratio_spread = 0.0;
  double step_spread = 0.0;
  const double ratio = std::log(values.back() / values.front()) / static_cast<double>(values.size() - 1);
  const double step = (values.back() - values.front()) / static_cast<double>(values.size() - 1);
  for (std::size_t i = 1; i < values.size(); ++i) {
    ratio_spread = std::max(ratio_spread, std::abs(std::log(values[i] / values[i - 1]) / ratio - 1.0));
    step_spread = std::max(step_spread, std::abs((values[i] - values[i - 1]) / step - 1.0));
  }
  return ratio_spread < step_spread;
}

// "gas_overpressure" or "gas_overpressure_MPa" -> the column of the table.
std::string column_name(const io::Table& table, const std::string& name) {
  if (table.has(name)) return name;
  if (const io::Key* key = io::find_key(name); key != nullptr && table.has(key->column))
    return std::string(key->column);
  (void)table.column(name);  // throws with the columns there are
  return name;
}

std::vector<std::string> varied_columns(const io::Table& sweep) {
  const std::size_t status = sweep.column("status");
  std::vector<std::string> out;
  for (std::size_t i = 0; i < status; ++i)
    if (sweep.columns[i] != "point") out.push_back(sweep.columns[i]);
  return out;
}

std::string listed(const std::vector<std::string>& names) {
  std::string out;
  for (const auto& name : names) out += (out.empty() ? "" : ", ") + name;
  return out.empty() ? "none" : out;
}

bool is_done(const io::Table& sweep, std::size_t row) { return sweep.rows[row][*sweep.find("status")] == "done"; }

}  // namespace

model::Estimate case_estimate(const study::LoadedCase& loaded, const engine::EstimateOptions& options) {
  try {
    return study::calibrated_estimate(loaded, loaded.file.input, options);
  } catch (const InputError& error) {
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
}

std::string case_title(const study::LoadedCase& loaded) {
  std::string name = loaded.file.name.substr(loaded.file.name.rfind('/') + 1);
  if (name.size() > 5 && name.ends_with(".json")) name.erase(name.size() - 5);
  return name;
}

std::string setting_title(const study::LoadedCase& loaded) {
  return case_title(loaded) + ", " + display(loaded.file.input, "operation.rotation_speed") + ", " +
         display(loaded.file.input, "operation.gas_overpressure");
}

void add_jet(figures::PathFigure& figure, const study::LoadedCase& loaded, const model::Estimate& estimate,
             const std::string& name) {
  const auto& input = loaded.file.input;
  const double wall = vessel_radius_mm(input);
  figure.vessel_radius_mm = std::max(figure.vessel_radius_mm, wall);
  figure.bore_radius_mm = std::max(figure.bore_radius_mm, 500.0 * input.vessel.bore_diameter_m);
  figure.collector_radius_mm = std::max(figure.collector_radius_mm, wall + 1e3 * input.operation.collection_distance_m);
  figures::JetPath jet;
  jet.name = name;
  const auto& stations = estimate.jet.profile;
  if (stations.size() < 2)
    throw InputError(loaded.file.name, "",
                     "no jet leaves the vessel (class " + std::string(to_string(estimate.fibre_class)) + ')',
                     "a case with a jet");
  for (std::size_t i = 0; i < stations.size(); ++i) {
    jet.x_mm.push_back(1e3 * stations[i].x_m);
    jet.y_mm.push_back(1e3 * stations[i].y_m);
    if (!jet.solid_from && stations[i].solid) jet.solid_from = i;
    if (!jet.dry_from && estimate.jet.dried && stations[i].arc_length_m >= estimate.jet.drying_distance_m)
      jet.dry_from = i;
  }
  figure.jets.push_back(std::move(jet));
}

void add_jet(figures::PathFigure& figure, const io::Table& profile, const std::string& name) {
  figures::JetPath jet;
  jet.name = name;
  jet.x_mm = profile.numbers("x_mm");
  jet.y_mm = profile.numbers("y_mm");
  const auto radius = profile.numbers("radius_mm");
  if (radius.size() < 2) throw InputError(profile.file, "", std::to_string(radius.size()) + " stations", "two or more");
  for (std::size_t i = 0; i < radius.size(); ++i)
    if (!(radius[i] > 0.0))
      throw InputError(profile.file, "radius_mm", io::number_text(radius[i]) + " in row " + std::to_string(i + 1),
                       "above zero");
  figure.vessel_radius_mm = std::max(figure.vessel_radius_mm, radius.front());
  figure.bore_radius_mm = figure.vessel_radius_mm;  // the table does not know the wall's thickness
  figure.collector_radius_mm = std::max(figure.collector_radius_mm, radius.back());
  const auto solid = profile.numbers("solid");
  const auto solvent = profile.numbers("solvent_mass_fraction");
  for (std::size_t i = 0; i < radius.size(); ++i) {
    if (!jet.solid_from && solid[i] == 1.0) jet.solid_from = i;
    if (!jet.dry_from && solvent[i] <= jet::kDrySolventFraction) jet.dry_from = i;
  }
  figure.jets.push_back(std::move(jet));
}

io::Table profile_table(const model::Estimate& estimate, const std::string& file) {
  if (estimate.jet.profile.size() < 2)
    throw InputError(file, "", "no jet leaves the vessel (class " + std::string(to_string(estimate.fibre_class)) + ')',
                     "a case with a jet");
  return io::parse_table(io::profile_csv(estimate.jet.profile), file);
}

figures::PanelFigure profile_figure(const std::vector<io::Table>& profiles, const std::vector<std::string>& names,
                                    const std::string& x, const std::vector<std::string>& columns,
                                    const std::string& about) {
  figures::PanelFigure figure;
  figure.x_column = x.empty() ? "arc_length_mm" : column_name(profiles.front(), x);
  figure.x_quantity = figures::quantified(figure.x_column);
  for (const auto& table : profiles) {
    const std::vector<double> along = table.numbers(figure.x_column);
    if (std::none_of(along.begin(), along.end(), [](double at) { return std::isfinite(at); }))
      throw InputError(table.file, figure.x_column, "an empty column", "a number for each station");
  }
  figure.names = names;
  const bool along_threads = !profiles.front().has("radius_mm");
  if (along_threads && figure.x_column == "arc_length_mm") figure.x_quantity.name = "Distance flown";
  figure.title = along_threads ? "Profiles along torn threads" : "Profiles along the jet";
  figure.about = about;
  std::vector<std::string> wanted = columns;
  if (wanted.empty()) {
    wanted = {"diameter_um", "speed_m_s", "tension_uN", "temperature_degC", "solvent_mass_fraction"};
    if (along_threads) wanted[2] = "gas_vapour_fraction";
  }
  for (const auto& name : wanted) {
    figures::Panel panel;
    panel.column = column_name(profiles.front(), name);
    panel.quantity = figures::quantified(panel.column);
    if (panel.column.find("fraction") != std::string::npos) panel.logarithmic = false;
    for (const auto& table : profiles) {
      figures::Series series;
      series.x = table.numbers(figure.x_column);
      series.y = table.numbers(panel.column);
      panel.series.push_back(std::move(series));
    }
    figure.panels.push_back(std::move(panel));
  }
  if (profiles.size() == 1) {
    const auto& table = profiles.front();
    const auto position = table.numbers(figure.x_column);
    const auto solid = table.numbers("solid");
    const auto solvent = table.numbers("solvent_mass_fraction");
    const auto first = [&](const char* label, auto holds) {
      for (std::size_t i = 1; i < position.size(); ++i)
        if (holds(i)) {
          figure.marks.push_back({position[i], label});
          return;
        }
    };
    first("solid", [&](std::size_t i) { return solid[i] == 1.0; });
    first("dry", [&](std::size_t i) { return solvent[i] <= jet::kDrySolventFraction; });
  }
  return figure;
}

std::vector<std::string> free_axes(const io::Table& sweep) {
  std::vector<std::string> out;
  for (const auto& name : varied_columns(sweep))
    if (distinct(sweep.numbers(name)).size() > 1) out.push_back(name);
  return out;
}

SweepData computed_sweep(const study::LoadedCase& loaded, const GridOptions& options) {
  run::check_threads(options.threads);
  const auto& vary = options.vary;
  const auto& input = loaded.file.input;
  std::optional<study::SweepSpec> block;
  study::SpecOverrides overrides;
  overrides.vary = vary;
  if (vary.empty() && !options.ignore_block && !loaded.file.sweep_json.empty())
    block = study::parse_sweep_block(Json::parse(loaded.file.sweep_json), loaded.file.name);
  if (vary.empty() && !block) {
    const auto [speed, pressure] = study::usual_plane(input);
    const auto range = [](const study::UsualRange& usual, int points) {
      const auto end = [&](double shown) { return io::value_text(*usual.key, io::from_display(*usual.key, shown), 5); };
      return std::string(usual.key->path) + '=' + end(usual.from) + ".." + end(usual.to) + ':' + std::to_string(points);
    };
    overrides.vary.push_back(range(speed, options.speeds));
    if (!options.one_axis) overrides.vary.push_back(range(pressure, options.pressures));
  }
  const study::SweepSpec spec = study::combine(block, overrides, loaded.file.name);
  engine::Design design = study::make_design(spec, loaded.file.name);
  constexpr std::uint64_t kMostPoints = 20000;
  if (design.size() > kMostPoints)
    throw InputError(loaded.file.name, "--vary", std::to_string(design.size()) + " points",
                     "up to 20000 for a figure; larger sweeps by whorl sweep");
  const std::uint64_t size = design.size();
  run::SweepPlan plan{input, spec.keys, std::move(design), case_title(loaded), {}, {}, {}, 0, size};
  std::vector<std::vector<double>> values(size, std::vector<double>(plan.keys.size()));
  std::vector<model::CaseInput> inputs(size, input);
  for (std::uint64_t i = 0; i < size; ++i) {
    plan.design.point(i, values[i]);
    for (std::size_t k = 0; k < plan.keys.size(); ++k)
      plan.keys[k].key->set(inputs[i], io::from_display(*plan.keys[k].key, values[i][k]));
  }
  engine::EstimateOptions estimate_options;
  estimate_options.keep_profile = options.keep_estimates;
  estimate_options.run_distribution = options.run;
  estimate_options.closeness = options.closeness;
  const std::size_t jets = 1 + (options.run ? static_cast<std::size_t>(input.numerics.run_points) : 0);
  const engine::BatchRunner run = run::parallel_runner(study::case_runner(loaded, estimate_options),
                                                       {options.threads, options.run_count, options.announced, jets});
  std::vector<model::Estimate> estimates = run(inputs);
  std::string text = run::sweep_header(plan);
  for (std::uint64_t i = 0; i < size; ++i) {
    const model::Estimate& estimate = estimates[i];
    const char* status = estimate.status == model::Status::done   ? "done"
                         : estimate.reason.starts_with("refused") ? "refused"
                                                                  : "not-converged";
    run::append_sweep_row(text, plan, i, values[i], {status, estimate.reason, &estimate});
  }
  SweepData data;
  data.table = io::parse_table(text, loaded.file.name);
  data.about = case_title(loaded);
  if (options.keep_estimates) data.estimates = std::move(estimates);
  for (const auto& swept : plan.keys)
    if (const auto own = swept.key->get(input))
      data.base.emplace_back(std::string(swept.key->column), io::to_display(*swept.key, *own));
  return data;
}

// What is published of the knobs behind these columns, for the answer that most rows have.
std::string published_of(const io::Table& table, const std::vector<std::string>& columns) {
  std::vector<std::string_view> keys;
  for (const auto& column : columns)
    for (const io::Key& key : io::numeric_keys())
      if (key.column == column) keys.push_back(key.path);
  std::size_t torn = 0;
  if (table.has("torn"))
    for (const auto& word : table.texts("torn")) torn += word == "true" || word == "1" ? 1U : 0U;
  return study::published_sentence(keys, 2 * torn > table.rows.size());
}

figures::MapFigure map_figure(const SweepData& sweep, const std::string& x, const std::string& y,
                              const std::string& z) {
  const io::Table& table = sweep.table;
  const std::vector<std::string> axes = free_axes(table);
  if (axes.size() != 2)
    throw InputError(table.file, "--kind map",
                     std::to_string(axes.size()) + " axes with more than one value (" + listed(axes) + ')',
                     axes.size() > 2 ? "two; hold the others with --where \"KEY=VALUE\"" : "a sweep over two keys");
  figures::MapFigure figure;
  figure.x_column = x.empty() ? axes[0] : column_name(table, x);
  figure.y_column = y.empty() ? (figure.x_column == axes[0] ? axes[1] : axes[0]) : column_name(table, y);
  if (x.empty() && !y.empty() && figure.x_column == figure.y_column)
    figure.x_column = figure.y_column == axes[0] ? axes[1] : axes[0];
  for (const auto& name : {figure.x_column, figure.y_column})
    if (std::find(axes.begin(), axes.end(), name) == axes.end())
      throw InputError(table.file, "--x and --y", name, "the varied columns " + listed(axes));
  if (figure.x_column == figure.y_column)
    throw InputError(table.file, "--x and --y", "twice " + figure.x_column, listed(axes));
  figure.z_column = z.empty() ? "dry_diameter_um" : column_name(table, z);
  figure.x_quantity = figures::quantified(figure.x_column);
  figure.y_quantity = figures::quantified(figure.y_column);
  figure.z_quantity = figures::quantified(figure.z_column);
  const auto xs = table.numbers(figure.x_column);
  const auto ys = table.numbers(figure.y_column);
  const auto zs = table.numbers(figure.z_column);
  const auto classes = table.texts("class");
  figure.x = distinct(xs);
  figure.y = distinct(ys);
  const std::size_t cells = figure.x.size() * figure.y.size();
  if (cells > 4 * table.rows.size())
    throw InputError(table.file, "--kind map", "points that are not on a grid", "a sweep with --design grid");
  figure.x_logarithmic = looks_logarithmic(figure.x);
  figure.y_logarithmic = looks_logarithmic(figure.y);
  figure.z.assign(cells, NAN);
  figure.classes.assign(cells, "no result");
  for (std::size_t r = 0; r < table.rows.size(); ++r) {
    const auto column =
        static_cast<std::size_t>(std::lower_bound(figure.x.begin(), figure.x.end(), xs[r]) - figure.x.begin());
    const auto row =
        static_cast<std::size_t>(std::lower_bound(figure.y.begin(), figure.y.end(), ys[r]) - figure.y.begin());
    const std::size_t i = row * figure.x.size() + column;
    figure.z[i] = zs[r];
    if (is_done(table, r)) figure.classes[i] = classes[r];
  }
  double own_x = NAN;
  double own_y = NAN;
  for (const auto& [name, value] : sweep.base) {
    if (name == figure.x_column) own_x = value;
    if (name == figure.y_column) own_y = value;
  }
  if (std::isfinite(own_x) && std::isfinite(own_y)) figure.marked = figures::MapFigure::Point{own_x, own_y, NAN, {}};
  figure.about = sweep.about;
  if (figure.z_column.find("diameter") != std::string::npos)
    figure.published = published_of(table, {figure.x_column, figure.y_column});
  return figure;
}

namespace {

// What the band of a plain row is of.
std::string row_band_words(const io::Table& table, const std::vector<double>& lows) {
  bool line = !table.has("torn");
  if (!line) {
    const auto torn = table.texts("torn");
    for (std::size_t r = 0; r < lows.size(); ++r)
      line = line || (std::isfinite(lows[r]) && torn[r] != "true" && torn[r] != "1");
  }
  return line ? "90 % of the sizes in that answer, where a row has them" : "90 % band of torn threads";
}

// Why rows have no diameter: "drops land (4 of 5 settings), it drips (1 of 5 settings)". Empty where all have.
std::string rows_without(const io::Table& table, const std::vector<double>& ys) {
  struct Reason {
    const char* of_class;
    const char* words;
    std::size_t rows{};
  };
  std::array reasons{Reason{"drops", "drops land"}, Reason{"dripping", "it drips"}, Reason{"no-jet", "nothing leaves"},
                     Reason{"stalled", "the line floats, not set"}, Reason{"", "there is no result"}};
  const auto classes = table.texts("class");
  for (std::size_t r = 0; r < table.rows.size(); ++r) {
    if (std::isfinite(ys[r])) continue;
    const auto known = std::find_if(reasons.begin(), reasons.end() - 1, [&](const Reason& reason) {
      return (!table.has("status") || is_done(table, r)) && classes[r] == reason.of_class;
    });
    ++known->rows;
  }
  std::string text;
  for (const Reason& reason : reasons)
    if (reason.rows > 0)
      text += (text.empty() ? "" : ", ") + std::string(reason.words) + " (" + std::to_string(reason.rows) + " of " +
              std::to_string(table.rows.size()) + " settings)";
  return text;
}

bool any(const std::vector<double>& values) {
  return std::any_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

// What a trend of a diameter has no points for. Error: InputError where no row has one.
std::string told_missing(const io::Table& table, const std::string& column, const std::vector<double>& ys) {
  if (column.find("diameter") == std::string::npos) return {};
  const std::string missing = rows_without(table, ys);
  if (!any(ys))
    throw InputError(table.file, "--kind trend", "no diameter at any setting: " + missing,
                     "a sweep with fibre at two settings or more, or another --y");
  return missing.empty() ? missing : "no point where " + missing;
}

}  // namespace

figures::PanelFigure trend_figure(const SweepData& sweep, const std::string& x, const std::vector<std::string>& columns,
                                  const std::string& series) {
  const io::Table& table = sweep.table;
  const std::vector<std::string> axes = free_axes(table);
  if (axes.empty())
    throw InputError(table.file, "--kind trend", "no column with more than one value", "a sweep over one key or two");
  figures::PanelFigure figure;
  figure.x_column = x.empty() ? axes.front() : column_name(table, x);
  std::string series_column = series.empty() ? std::string() : column_name(table, series);
  for (const auto& name : axes) {
    if (name == figure.x_column || name == series_column) continue;
    if (!series_column.empty())
      throw InputError(table.file, "--kind trend", "more than two axes with several values (" + listed(axes) + ')',
                       "one for x and one for --series; hold the others with --where \"KEY=VALUE\"");
    series_column = name;
  }
  if (series_column == figure.x_column) throw InputError(table.file, "--series", "the x axis", "another column");
  figure.x_quantity = figures::quantified(figure.x_column);
  figure.title = "Trends over " + figures::caption_label(figure.x_quantity);
  figure.about = sweep.about;
  figure.markers = true;
  const auto xs = table.numbers(figure.x_column);
  figure.x_logarithmic = looks_logarithmic(distinct(xs));
  const auto classes = table.texts("class");
  std::vector<double> groups{NAN};
  std::vector<double> group_of(table.rows.size(), NAN);
  if (!series_column.empty()) {
    group_of = table.numbers(series_column);
    groups = distinct(group_of);
    if (groups.size() > 7)
      throw InputError(table.file, "--series " + series_column, std::to_string(groups.size()) + " values",
                       "up to 7 lines in one figure; choose with --where, or make it the x axis");
  }
  const figures::Quantified group_quantity = figures::quantified(series_column);
  for (const double value : groups) {
    if (!std::isfinite(value)) {
      figure.names.emplace_back();
      continue;
    }
    figure.names.push_back(figures::print_number(value, 4));
  }
  if (!series_column.empty()) {
    figure.names_heading =
        group_quantity.symbol.empty() ? figures::rich_label(group_quantity) : figures::rich_quotient(group_quantity);
    figure.names_heading.push_back({":", false, 0});
  }
  const std::vector<std::string> wanted = columns.empty() ? std::vector<std::string>{"dry_diameter_um"} : columns;
  for (const auto& requested : wanted) {
    figures::Panel panel;
    panel.column = column_name(table, requested);
    panel.quantity = figures::quantified(panel.column);
    const auto ys = table.numbers(panel.column);
    std::vector<double> lows;
    std::vector<double> highs;
    // bands of `sweep --uncertainty`, or of a table of one's own
    for (const auto& [low, high] : {std::pair{"_p05", "_p95"}, std::pair{"_low", "_high"}}) {
      if (!lows.empty() || !table.has(panel.column + low) || !table.has(panel.column + high)) continue;
      lows = table.numbers(panel.column + low);
      highs = table.numbers(panel.column + high);
    }
    if (any(lows)) figure.band_means = "5 % to 95 % of all doubts";
    // the band that rows of a sweep carry; without trials those of torn threads only
    if (lows.empty() && panel.column == "dry_diameter_um" && table.has("diameter_low_um") &&
        table.has("diameter_high_um")) {
      lows = table.numbers("diameter_low_um");
      highs = table.numbers("diameter_high_um");
      if (figure.band_means.empty() && any(lows)) figure.band_means = row_band_words(table, lows);
    }
    if (const std::string missing = told_missing(table, panel.column, ys); !missing.empty())
      figure.about += (figure.about.empty() ? "" : "; ") + missing;
    for (const double group : groups) {
      std::vector<std::size_t> order;
      for (std::size_t r = 0; r < table.rows.size(); ++r)
        if (std::isfinite(xs[r]) && (series_column.empty() || group_of[r] == group)) order.push_back(r);
      std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return xs[a] < xs[b]; });
      figures::Series line;
      for (const std::size_t r : order) {
        line.x.push_back(xs[r]);
        line.y.push_back(ys[r]);
        line.hollow.push_back(classes[r] != "continuous");
        if (!lows.empty()) {
          line.low.push_back(lows[r]);
          line.high.push_back(highs[r]);
        }
      }
      panel.series.push_back(std::move(line));
    }
    figure.panels.push_back(std::move(panel));
  }
  if (!series_column.empty())
    figure.about +=
        (figure.about.empty() ? "" : "; ") + std::string("one line for each ") + figures::caption_label(group_quantity);
  figure.hollow_means = "class not continuous";
  return figure;
}

void add_run(figures::DistributionFigure& figure, const model::Estimate& estimate) {
  figure.scatter_log_sd = engine::kSingleFibreSd;
  for (const auto& point : estimate.run.points) {
    if (!(point.fibre_length_weight > 0.0) || !(point.dry_diameter_m > 0.0)) continue;  // nothing lands at that moment
    figure.diameters_um.push_back(1e6 * point.dry_diameter_m);
    figure.shares.push_back(point.fibre_length_weight);
  }
}

std::vector<double> measured_diameters(const std::string& path) {
  std::vector<double> out = io::read_diameter_file(path).values_m;
  for (double& d : out) d *= 1e6;
  return out;
}

}  // namespace whorl::answer
