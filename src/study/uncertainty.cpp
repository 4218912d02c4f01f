#include "whorl/study/uncertainty.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "whorl/engine/two_levels.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/uncertain_inputs.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;
using engine::KindSet;
using engine::Share;
using engine::UncertainKind;

constexpr KindSet kAll{true, true, true};
constexpr KindSet kKnown{true, true, false};
constexpr KindSet kForm{false, false, true};

// Of the page and of the sweep. "name": how the page calls it.
struct Shown {
  const char* column;
  const char* name;
};
constexpr std::array kShown{Shown{"dry_diameter_um", "dry diameter"}, Shown{"residual_solvent", "residual solvent"},
                            Shown{"polymer_throughput_g_h", "polymer throughput"},
                            Shown{"line_speed_m_s", "line speed"}};
constexpr std::array kClasses{model::FibreClass::no_jet,    model::FibreClass::dripping, model::FibreClass::stalled,
                              model::FibreClass::drops,     model::FibreClass::beaded,   model::FibreClass::wet_landing,
                              model::FibreClass::continuous};

// Plain decimals, no exponent within reason.
std::string plain(double value, int decimals) {
  return std::abs(value) < 1e7 ? fmt::format("{:.{}f}", value, decimals) : fmt::format("{:.{}e}", value, decimals);
}

// "5.24 ± 0.08": three to four digits, the error to the same place.
std::string with_error(double value, double error, int most) {
  const double size = std::max(std::abs(value), 1e-300);
  const int first = static_cast<int>(std::floor(std::log10(size)));
  const int wanted = error > 0.0 ? -static_cast<int>(std::floor(std::log10(error))) : 2 - first;
  const int decimals = std::clamp(std::clamp(wanted, 2 - first, 3 - first), 0, most);
  const double place = std::pow(10.0, -decimals);
  if (error < 0.5 * place)
    return plain(value, decimals) + (error > 0.0 ? " ± <" + plain(place, decimals) : std::string());
  return plain(value, decimals) + " ± " + plain(error, decimals);
}

std::string padded(std::string word, std::size_t width) {
  if (word.size() < width) word.resize(width, ' ');
  return word;
}

Json spreadout_json(const engine::Spreadout& out, const std::vector<const io::Output*>& outputs) {
  Json json{{"samples", out.samples}, {"in_full", out.in_full}, {"not_converged", out.not_converged}};
  if (out.in_full < out.samples) json["no_result"] = share_json(out.no_result);
  if (!out.reasons.empty()) json["reasons"] = out.reasons;
  Json classes = Json::object();
  for (const auto& [fibre_class, share] : out.classes) classes[to_string(fibre_class)] = share_json(share);
  json["classes"] = classes;
  Json landings = Json::object();
  for (const auto& [landing, share] : out.landings) landings[to_string(landing)] = share_json(share);
  json["landings"] = landings;
  Json bands = Json::object();
  for (std::size_t k = 0; k < outputs.size(); ++k)
    if (out.bands[k]) bands[std::string(outputs[k]->column)] = band_json(*out.bands[k]);
  json["bands"] = bands;
  return json;
}

// A sample as the cheap level has it: without tension and well mixed.
model::CaseInput cheaply(model::CaseInput input) {
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  return input;
}

// Two ends of a line are told apart under tension only: without it, the line.
std::function<std::optional<double>(const model::Estimate&)> stand_in(const std::string& column) {
  if (column != "free_end_diameter_um" && column != "held_end_diameter_um") return {};
  const io::Output* line = io::find_output("line_diameter_um");
  return [line](const model::Estimate& e) { return io::output_value(*line, e); };
}

// On two levels where the tier of the case is dear.
engine::Spreadout spread_out(const model::CaseInput& input, const engine::Sampler& sampler, const KindSet& kinds,
                             const std::vector<engine::ResultFunction>& results, const engine::BatchRunner& runner) {
  if (on_two_levels(input, sampler.plan()))
    return engine::spread_out_on_two_levels(input, sampler, kinds, results, runner, cheaply);
  return engine::spread_out(input, sampler, kinds, results, runner);
}

std::vector<const io::Output*> shown_outputs() {
  std::vector<const io::Output*> outputs;
  for (const Shown& shown : kShown) outputs.push_back(io::find_output(shown.column));
  return outputs;
}

}  // namespace

bool on_two_levels(const model::CaseInput& input, const engine::SamplePlan& plan) {
  const engine::Levels levels = engine::levels_of(plan);
  return input.model.tier == model::Tier::tension && !plan.all_in_full && levels.full < levels.points;
}

std::string levels_text(const engine::SamplePlan& plan) {
  if (plan.all_in_full) return "; every one in full";
  const engine::Levels levels = engine::levels_of(plan);
  return "; with tension " + std::to_string(levels.full) + " of the " + std::to_string(levels.points) +
         " points of each set in full";
}

std::size_t sample_runs(const model::CaseInput& input, const engine::SamplePlan& plan) {
  return plan.size() + (on_two_levels(input, plan) ? engine::levels_of(plan).in_full() : 0);
}

engine::SamplePlan sample_plan(const std::string& samples, std::uint64_t seed, bool all_in_full) {
  std::size_t count = kUsualSamples;
  if (!samples.empty()) {
    const auto [end, error] = std::from_chars(samples.data(), samples.data() + samples.size(), count);
    if (error != std::errc() || end != samples.data() + samples.size() || count < kLeastSamples || count > kMostSamples)
      throw InputError(
          "", "--uncertainty", '"' + samples + '"',
          "a number of samples from " + std::to_string(kLeastSamples) + " to " + std::to_string(kMostSamples));
  }
  engine::SamplePlan plan = engine::plan_for(count, seed);
  plan.all_in_full = all_in_full;
  return plan;
}

std::vector<engine::ResultFunction> result_functions(const std::vector<const io::Output*>& outputs) {
  std::vector<engine::ResultFunction> functions;
  for (const io::Output* output : outputs)
    functions.push_back({std::string(output->column),
                         [output](const model::Estimate& e) { return io::output_value(*output, e); },
                         stand_in(std::string(output->column)), output->column.ends_with("residual_solvent")});
  return functions;
}

UncertaintyReport uncertainty(const LoadedCase& loaded, const model::CaseInput& input, const engine::SamplePlan& plan,
                              const engine::BatchRunner& runner) {
  UncertaintyReport report;
  report.inputs = uncertain_inputs(loaded.file, input, loaded.library);
  report.plan = plan;
  for (const io::Output& output : io::outputs())
    if (output.kind == io::OutputKind::number) report.outputs.push_back(&output);
  const auto results = result_functions(report.outputs);
  const engine::Sampler sampler(report.inputs, plan);
  report.all = spread_out(input, sampler, kAll, results, runner);
  report.known = spread_out(input, sampler, kKnown, results, runner);
  report.form = spread_out(input, sampler, kForm, results, runner);
  return report;
}

Json band_json(const engine::Band& band) {
  return {{"samples", band.count},
          {"in_full", band.in_full},
          {"median", band.median},
          {"p05", band.low},
          {"p95", band.high},
          {"median_error", band.median_error},
          {"p05_error", band.low_error},
          {"p95_error", band.high_error}};
}

Json share_json(const Share& share) {
  return {{"samples", share.count},
          {"share", share.value},
          {"error", share.error},
          {"low", share.low},
          {"high", share.high}};
}

bool one_sided(const Share& share) noexcept {
  constexpr double kRounding = 1e-9;
  return share.value < share.error - kRounding || share.value + share.error > 1.0 + kRounding;
}

std::string share_text(const Share& share) {
  if (one_sided(share)) {
    const bool under = share.value < 0.5;
    const double open = 100.0 * (under ? share.high : 1.0 - share.low);  // rounded to where nothing is promised
    const int decimals = open < 1.0 ? 1 : 0;
    const double place = open < 1.0 ? 0.1 : 1.0;
    const double end = std::min(100.0, place * std::ceil(open / place));
    return (under ? "under " + plain(end, decimals) : "over " + plain(100.0 - end, decimals)) + " %";
  }
  const double error = 100.0 * share.error;
  const int decimals = error < 1.0 ? 1 : 0;
  return plain(100.0 * share.value, decimals) + " ± " + plain(std::max(error, 0.1), decimals) + " %";
}

Json inputs_json(const std::vector<engine::UncertainInput>& inputs) {
  Json list = Json::array();
  for (const auto& input : inputs) {
    Json row{{"key", input.key}};
    if (!input.property.empty()) row["property"] = input.property;
    row["kind"] = to_string(input.kind);
    row["distribution"] = to_string(input.spread.kind);
    row["value_SI"] = input.spread.value;
    row["sd_SI"] = input.spread.sd;
    row["source"] = input.source;
    list.push_back(row);
  }
  return list;
}

Json uncertainty_json(const UncertaintyReport& report) {
  Json json;
  json["method"] =
      "quasi-Monte Carlo: Owen-scrambled Sobol points; errors are standard errors from independent replicates";
  const bool two = report.all.in_full < report.all.samples;
  json["how_run"] = two ? "every sample without tension and well mixed; those counted as in_full also as the case "
                          "says, with tension, and what the two differ by corrects the others"
                        : "every sample as the case says";
  const std::size_t sets = 3;  // of doubts
  json["runs_in_full"] = sets * report.all.in_full;
  json["runs_without_tension"] = two ? sets * report.all.samples : 0;
  json["replicates"] = report.plan.replicates;
  json["points_per_replicate"] = report.plan.points;
  json["seed"] = report.plan.seed;
  json["inputs"] = inputs_json(report.inputs);
  json["all"] = spreadout_json(report.all, report.outputs);
  json["measurement_and_property"] = spreadout_json(report.known, report.outputs);
  json["model_form"] = spreadout_json(report.form, report.outputs);
  return json;
}

std::string uncertainty_text(const UncertaintyReport& report) {
  std::size_t counts[3] = {0, 0, 0};
  for (const auto& input : report.inputs) ++counts[static_cast<std::size_t>(input.kind)];
  std::string out =
      "HOW FAR IT CAN BE TRUSTED (median, and 5 % to 95 %, each ± its own sampling error; over, under: at 95 %)\n";
  out += "  samples              " + std::to_string(report.all.samples) + " of each kind, in " +
         std::to_string(report.plan.replicates) + " scrambled Sobol sets; " + std::to_string(counts[0]) +
         " measured values, " + std::to_string(counts[1]) + " properties, " + std::to_string(counts[2]) +
         " relations\n";
  if (report.all.in_full < report.all.samples)
    out += "  of those in full     " + std::to_string(report.all.in_full) +
           " of each kind, with tension; they correct the others, which are run without it (--all-in-full: every "
           "one)\n";
  struct Row {
    const char* name;
    const engine::Spreadout* out;
  };
  const std::array rows{Row{"all doubts", &report.all}, Row{"measured, library", &report.known},
                        Row{"relations only", &report.form}};
  for (const Shown& shown : kShown) {
    const io::Output* output = io::find_output(shown.column);
    const auto found = std::find(report.outputs.begin(), report.outputs.end(), output);
    const auto k = static_cast<std::size_t>(found - report.outputs.begin());
    if (std::all_of(rows.begin(), rows.end(), [&](const Row& row) { return !row.out->bands[k]; })) continue;
    const bool is_share = output->unit == "1";
    const double scale = is_share ? 100.0 : 1.0;
    const auto shown_value = [&](double value, double error) {
      return with_error(scale * value, scale * error, is_share ? 2 : 4);
    };
    out += "  " + std::string(shown.name) + " [" + (is_share ? "wt%" : std::string(output->unit)) + "]\n";
    for (const Row& row : rows) {
      out += "    " + padded(row.name, 19);
      const auto& band = row.out->bands[k];
      if (!band) {
        out += "none has one\n";
        continue;
      }
      out += shown_value(band->median, band->median_error) + ", " + shown_value(band->low, band->low_error) + " to " +
             shown_value(band->high, band->high_error);
      if (band->count < row.out->samples)
        out += (row.out->in_full < row.out->samples ? " (about " : " (") + std::to_string(band->count) + " of " +
               std::to_string(row.out->samples) + " samples have one)";
      out += '\n';
    }
  }
  out += "  class\n";
  for (const Row& row : rows) {
    std::string list;
    for (auto it = kClasses.rbegin(); it != kClasses.rend(); ++it)
      if (const auto found = row.out->classes.find(*it); found != row.out->classes.end())
        list += (list.empty() ? "" : ", ") + std::string(to_string(*it)) + ' ' + share_text(found->second);
    out += "    " + padded(row.name, 19) + (list.empty() ? "none" : list) + '\n';
  }
  if (!report.all.landings.empty() || !report.known.landings.empty() || !report.form.landings.empty())
    out += "  lands\n";
  for (const Row& row : rows) {
    if (row.out->landings.empty()) continue;
    std::string list;
    for (const auto& [landing, share] : row.out->landings)
      list += (list.empty() ? "" : ", ") + std::string(to_string(landing)) + ' ' + share_text(share);
    out += "    " + padded(row.name, 19) + (list.empty() ? "none" : list) + '\n';
  }
  for (const Row& row : rows) {
    if (row.out->not_converged == 0) continue;
    const auto worst = std::max_element(row.out->reasons.begin(), row.out->reasons.end(),
                                        [](const auto& a, const auto& b) { return a.second < b.second; });
    const bool two = row.out->in_full < row.out->samples;
    out += "  no result            " + std::to_string(row.out->not_converged) + " of " +
           std::to_string(row.out->in_full) + (two ? " in full (" : " (") + row.name +
           "), most often: " + worst->first + '\n';
  }
  out +=
      "  not in it            whether the collector catches, neighbouring jets, tension on the tier inertial; "
      "docs/theory/09-uncertainty.md\n";
  return out;
}

std::vector<io::TableColumn> uncertainty_columns() {
  std::vector<io::TableColumn> columns;
  for (const io::Output* output : shown_outputs()) {
    const auto add = [&](const char* ending, const char* what) {
      columns.push_back({std::string(output->column) + ending, "double", std::string(output->unit),
                         std::string(output->symbol), std::string(output->description) + ": " + what, false});
    };
    add("_median", "median of the samples, all doubts");
    add("_p05", "5 % quantile, all doubts");
    add("_p95", "95 % quantile, all doubts");
    add("_median_error", "standard error of the median");
    add("_known_p05", "5 % quantile, measurements and properties only");
    add("_known_p95", "95 % quantile, measurements and properties only");
  }
  for (const auto fibre_class : kClasses) {
    std::string name = std::string("share_") + to_string(fibre_class);
    std::replace(name.begin(), name.end(), '-', '_');
    columns.push_back(
        {name, "double", "1", "", "share of all samples that end " + std::string(to_string(fibre_class)), false});
  }
  columns.push_back({"share_dry", "double", "1", "", "share of all samples that land dry", false});
  columns.push_back(
      {"share_no_result", "double", "1", "", "share of all samples that did not converge or were refused", false});
  return columns;
}

std::vector<std::optional<double>> uncertainty_cells(const LoadedCase& loaded, const model::CaseInput& input,
                                                     const engine::SamplePlan& plan,
                                                     const engine::BatchRunner& runner) {
  const auto results = result_functions(shown_outputs());
  const engine::Sampler sampler(uncertain_inputs(loaded.file, input, loaded.library), plan);
  const engine::Spreadout all = spread_out(input, sampler, kAll, results, runner);
  const engine::Spreadout known = spread_out(input, sampler, kKnown, results, runner);
  std::vector<std::optional<double>> cells;
  for (std::size_t k = 0; k < results.size(); ++k) {
    const auto& a = all.bands[k];
    const auto& b = known.bands[k];
    cells.push_back(a ? std::optional(a->median) : std::nullopt);
    cells.push_back(a ? std::optional(a->low) : std::nullopt);
    cells.push_back(a ? std::optional(a->high) : std::nullopt);
    cells.push_back(a ? std::optional(a->median_error) : std::nullopt);
    cells.push_back(b ? std::optional(b->low) : std::nullopt);
    cells.push_back(b ? std::optional(b->high) : std::nullopt);
  }
  for (const auto fibre_class : kClasses) {
    const auto found = all.classes.find(fibre_class);
    cells.emplace_back(found == all.classes.end() ? 0.0 : found->second.value);
  }
  const auto dry = all.landings.find(model::Landing::dry);
  cells.emplace_back(dry == all.landings.end() ? 0.0 : dry->second.value);
  cells.emplace_back(all.no_result.value);
  return cells;
}

}  // namespace whorl::study
