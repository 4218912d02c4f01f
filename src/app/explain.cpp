#include "app/explain.hpp"

#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <ostream>
#include <utility>

#include "app/page.hpp"
#include "app/answer.hpp"
#include "app/parallel.hpp"
#include "app/progress.hpp"
#include "app/provenance.hpp"
#include "app/stop_signals.hpp"
#include "app/trial_calibration.hpp"
#include "app/uncertain_inputs.hpp"
#include "app/uncertainty.hpp"
#include "document/from_io.hpp"
#include "io/estimate_json.hpp"
#include "io/keys.hpp"
#include "io/outputs.hpp"
#include "io/unit_text.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kUsualRows = 64;
constexpr std::size_t kLeastRows = 32;
constexpr std::size_t kMostRows = 100'000;
constexpr const char* kBetweenExample = R"("rotation_speed=6000 rpm,12000 rpm")";
constexpr std::array kFirstOutputs{"dry_diameter_um", "orifice_flow_mL_min", "line_speed_m_s", "residual_solvent", "run_time_s"};

// "KEY=FROM,TO": sets both cases.
void apply_between(const std::string& text, const std::string& file, model::CaseInput& from, model::CaseInput& to) {
  const std::string option = "--between";
  const auto equals = text.find('=');
  const auto comma = text.find(',', equals == std::string::npos ? 0 : equals);
  if (equals == std::string::npos || comma == std::string::npos || text.find(',', comma + 1) != std::string::npos)
    throw InputError("", option, '"' + text + '"', std::string("KEY=FROM,TO, for example ") + kBetweenExample);
  const std::string name = std::string(io::trimmed(std::string_view(text).substr(0, equals)));
  const io::Key* key = io::find_key(name);
  if (key == nullptr)
    throw InputError(file, option, "no numeric key \"" + name + '"', "any numeric key of a case; nearest: " + io::nearest_key(name));
  key->set(from, io::parse_value(*key, std::string(io::trimmed(std::string_view(text).substr(equals + 1, comma - equals - 1))), option));
  key->set(to, io::parse_value(*key, std::string(io::trimmed(std::string_view(text).substr(comma + 1))), option));
}

std::vector<std::string> differences(const model::CaseInput& a, const model::CaseInput& b) {
  std::vector<std::string> out;
  for (const io::WordKey& key : io::word_keys()) {
    if (key.path == "purpose") continue;
    const std::string from = key.get(a);
    const std::string to = key.get(b);
    if (from != to) out.push_back(std::string(key.path) + " from " + (from.empty() ? "none" : from) + " to " + (to.empty() ? "none" : to));
  }
  for (const io::Key& key : io::numeric_keys()) {
    const auto from = key.get(a);
    const auto to = key.get(b);
    if (from == to) continue;
    const auto text = [&](const std::optional<double>& value) { return value ? io::value_text(key, *value, 6) : std::string("not given"); };
    out.push_back(std::string(key.path) + " from " + text(from) + " to " + text(to));
  }
  return out;
}

engine::OperatingPoint point_of(const LoadedCase& loaded, const model::CaseInput& input, bool whole, engine::RunCount* run_count) {
  engine::EstimateOptions options;
  options.run_count = run_count;
  options.run_distribution = whole;
  options.air_variants = whole;
  try {
    engine::OperatingPoint point{engine::resolve(input, loaded.library), {}};
    point.estimate = engine::estimate(point.setup, options);
    return point;
  } catch (const InputError& error) {  // the model does not know which file it came from
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
}

struct Place {
  const LoadedCase& loaded;
  const model::CaseInput& input;
};
std::pair<engine::OperatingPoint, engine::OperatingPoint> two_points(const Place& first, const Place& second, Progress& progress) {
  engine::RunShare later(progress.run_count(), 1);
  engine::OperatingPoint at = point_of(first.loaded, first.input, false, progress.run_count());
  later.plan(0);  // from here on the second one expects it itself
  return {std::move(at), point_of(second.loaded, second.input, false, progress.run_count())};
}

Json parts_json(const std::vector<engine::Part>& parts) {
  Json list = Json::array();
  for (const auto& part : parts) list.push_back({{"key", part.key}, {"d_ln_diameter", part.value}, {"from", part.from}, {"to", part.to}});
  return list;
}

Json point_json(const NamedPoint& at) {
  const model::Estimate& e = at.point.estimate;
  Json json{{"name", at.name}, {"status", to_string(e.status)}};
  if (e.status == model::Status::done) {
    json["class"] = to_string(e.fibre_class);
    json["landing"] = to_string(e.landing);
  }
  json["tier"] = e.tier;
  json["results"] = io::results_json(e);
  return json;
}

Json index_json(const engine::Index& index) { return {{"value", index.value}, {"half_width_95", index.half_width}}; }

Json indices_json(const engine::Indices& indices, const std::vector<engine::UncertainInput>& inputs) {
  Json json{{"rows", indices.rows}, {"rows_used", indices.rows_used}, {"made", indices.made}};
  if (!indices.made) {
    json["reason"] = indices.reason;
    return json;
  }
  json["mean"] = indices.mean;
  json["variance"] = indices.variance;
  Json list = Json::array();
  for (std::size_t i = 0; i < inputs.size(); ++i)
    list.push_back({{"key", inputs[i].key}, {"first", index_json(indices.inputs[i].first)}, {"total", index_json(indices.inputs[i].total)},
                    {"difference_ratio", index_json(indices.inputs[i].spread)}});
  json["inputs"] = list;
  return json;
}

Json sensitivity_json(const SensitivityReport& s) {
  Json json{{"rows", s.indices.plan.size()}, {"replicates", s.indices.plan.replicates}, {"seed", s.indices.plan.seed}, {"runs", s.indices.runs},
            {"not_converged", s.indices.not_converged}};
  if (!s.indices.reasons.empty()) json["reasons"] = s.indices.reasons;
  json["inputs"] = inputs_json(s.indices.inputs);
  json["ln_dry_diameter"] = indices_json(s.indices.results[kResultDiameter], s.indices.inputs);
  json["fibre_lands"] = indices_json(s.indices.results[kResultFibre], s.indices.inputs);
  if (s.measure) {
    json["measure"] = s.indices.inputs[*s.measure].key;
    Json band{{"made", s.narrowed.made}, {"runs", s.narrowed.runs}, {"without_fibre", s.narrowed.without_result}};
    if (s.narrowed.made) {
      band["ln_width_before"] = s.narrowed.before;
      band["ln_width_after"] = s.narrowed.after;
      band["ln_width_after_error"] = s.narrowed.after_error;
    }
    json["band_5_to_95"] = band;
  }
  return json;
}

Json head() {
  return {{"program", "whorl"}, {"version", WHORL_VERSION}, {"whorl_explain", 1}};
}

engine::SamplePlan narrower_plan(const engine::SamplePlan& plan) { return {std::max<std::size_t>(plan.points, 32), plan.replicates, plan.seed}; }

engine::SamplePlan rows_plan(const std::string& text, std::uint64_t seed) {
  std::size_t rows = kUsualRows;
  if (!text.empty()) {
    const bool digits = text.find_first_not_of("0123456789") == std::string::npos && text.size() <= 9;
    rows = digits ? std::stoul(text) : 0;
    if (rows < kLeastRows || rows > kMostRows)
      throw InputError("", "--sensitivity", '"' + text + '"',
                       "a number of base samples from " + std::to_string(kLeastRows) + " to " + std::to_string(kMostRows));
  }
  return engine::plan_for(rows, seed);
}

// The indices, then the band with one input free and held.
std::size_t runs_of_sensitivity(const LoadedCase& loaded, const engine::SamplePlan& plan) {
  const std::size_t inputs = uncertain_inputs(loaded.file, loaded.file.input, loaded.library).size();
  return plan.size() * (inputs + 2) + 2 * narrower_plan(plan).size();
}

}  // namespace

std::vector<engine::Knob> knobs_of(const model::CaseInput& input) {
  std::vector<engine::Knob> knobs;
  for (const io::Key& key : io::numeric_keys()) {
    const auto value = key.get(input);
    if (!value || key.whole || key.path.rfind("numerics.", 0) == 0 || key.path == "model.breakup_threshold") continue;
    engine::Knob knob;
    knob.key = std::string(key.path);
    knob.value = *value;
    knob.absolute = key.display_offset != 0.0;
    knob.lowest = key.minimum;
    knob.highest = key.maximum;
    knob.set = [&key](model::CaseInput& c, double x) { key.set(c, x); };
    knobs.push_back(std::move(knob));
  }
  return knobs;
}

std::vector<engine::Response> responses_for_explain() {
  std::vector<const io::Output*> list;
  for (const char* column : kFirstOutputs)
    if (const io::Output* output = io::find_output(column)) list.push_back(output);
  for (const io::Output& output : io::outputs())
    if (output.kind == io::OutputKind::number && std::find(list.begin(), list.end(), &output) == list.end()) list.push_back(&output);
  std::vector<engine::Response> responses;
  for (const io::Output* output : list) {
    // shares and temperatures may pass through 0: their own change
    const bool logarithm = output->offset == 0.0 && output->column != "residual_solvent" && output->column != "surface_residual_solvent";
    responses.push_back({std::string(output->column), logarithm, [output](const model::Estimate& e) { return io::output_value(*output, e); }});
  }
  return responses;
}

std::size_t runs_of_point(const model::CaseInput& input) {
  constexpr std::size_t kEachKnob = 4;  // two steps, both sides
  const auto knobs = knobs_of(input);
  return 1 + kEachKnob * static_cast<std::size_t>(std::count_if(knobs.begin(), knobs.end(), [](const engine::Knob& knob) { return knob.absolute || knob.value > 0.0; }));
}

PointReport report_point(const LoadedCase& loaded, const std::string& name, const engine::NeighbourRunner& neighbours,
                         engine::RunCount* run_count) {
  PointReport report;
  report.at = {name, point_of(loaded, loaded.file.input, true, run_count)};
  report.responses = responses_for_explain();
  report.elasticities.reason = engine::why_not_explained(report.at.point.estimate);
  if (!report.elasticities.reason.empty()) return report;
  report.elasticities = engine::elasticities(loaded.file.input, knobs_of(loaded.file.input), report.responses, neighbours);
  report.doubts = uncertain_inputs(loaded.file, loaded.file.input, loaded.library);
  return report;
}

SensitivityReport report_sensitivity(const model::CaseInput& input, const std::vector<engine::UncertainInput>& inputs,
                                     const engine::SamplePlan& plan, const engine::BatchRunner& runner) {
  SensitivityReport out;
  const auto diameter = [](const model::Estimate& e) -> std::optional<double> {
    if (!(e.dry_diameter_m > 0.0) || e.status != model::Status::done) return {};
    return e.dry_diameter_m;
  };
  const std::array<engine::ResultFunction, 2> results = {{
      {"ln_dry_diameter", [diameter](const model::Estimate& e) -> std::optional<double> {
         const auto d = diameter(e);
         return d ? std::optional(std::log(1e6 * *d)) : std::nullopt;
       }},
      {"fibre_lands", [diameter](const model::Estimate& e) -> std::optional<double> { return diameter(e) ? 1.0 : 0.0; }},
  }};
  out.indices = engine::case_sensitivity(input, inputs, plan, results, runner);
  const engine::Indices& d = out.indices.results[kResultDiameter];
  if (!d.made) return out;
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    if (inputs[i].kind == engine::UncertainKind::model_form) continue;  // no measurement of the charge removes it
    const engine::Index& first = d.inputs[i].first;
    if (first.value <= first.half_width) continue;                      // not told from nothing
    if (!out.measure || first.value > d.inputs[*out.measure].first.value) out.measure = i;
  }
  if (out.measure) out.narrowed = engine::narrowed_band(input, inputs, *out.measure, narrower_plan(plan),
                                                        {"dry_diameter", diameter}, runner);
  return out;
}

ChangeReport report_change(NamedPoint from, NamedPoint to) {
  ChangeReport report;
  report.inputs = differences(from.point.setup.input, to.point.setup.input);
  report.split = engine::split_change(from.point, to.point);
  report.from = std::move(from);
  report.to = std::move(to);
  return report;
}

Json explain_json(const PointReport& report) {
  Json json = head();
  json["point"] = point_json(report.at);
  const model::Estimate& e = report.at.point.estimate;
  const std::string why_not = engine::why_not_explained(e);
  json["explained"] = why_not.empty();
  if (!why_not.empty()) {
    json["reason"] = why_not;
    return json;
  }
  Json groups = Json::array();
  for (const auto& group : e.groups)
    groups.push_back({{"key", group.key}, {"symbol", group.symbol}, {"definition", group.definition}, {"value", group.value}});
  json["groups"] = groups;
  Json elasticities = Json::object();
  if (!report.elasticities.reason.empty()) elasticities["reason"] = report.elasticities.reason;
  Json rows = Json::array();
  for (const auto& row : report.elasticities.rows) {
    Json one{{"key", row.key}, {"per", row.absolute ? "K" : "ln"}, {"made", row.made}};
    if (!row.made) {
      one["reason"] = row.reason;
      rows.push_back(one);
      continue;
    }
    one["step"] = row.step;
    Json outputs = Json::object();
    for (std::size_t k = 0; k < report.responses.size(); ++k) {
      const engine::Slope& slope = row.slopes[k];
      if (!slope.known) continue;
      outputs[report.responses[k].key] = {{"of", report.responses[k].logarithm ? "ln" : "value"}, {"value", slope.value}, {"spread", slope.spread},
                                          {"bend", slope.halves}, {"linear", slope.linear}};
    }
    one["outputs"] = outputs;
    rows.push_back(one);
  }
  elasticities["inputs"] = rows;
  json["elasticities"] = elasticities;
  json["uncertain_inputs"] = inputs_json(report.doubts);
  if (report.sensitivity) json["sensitivity"] = sensitivity_json(*report.sensitivity);
  Json warnings = Json::array();
  for (const auto& warning : e.warnings) warnings.push_back({{"code", warning.code}, {"text", warning.text}});
  json["warnings"] = warnings;
  return json;
}

Json explain_json(const ChangeReport& report) {
  Json json = head();
  json["from"] = point_json(report.from);
  json["to"] = point_json(report.to);
  json["changed"] = report.inputs;
  const engine::ChangeSplit& split = report.split;
  if (split.threads.made) {
    json["threads"] = {{"d_ln_diameter", split.threads.total}, {"parts", parts_json(split.threads.parts)}};
  }
  json["headline"] = {{"from", report.from.point.estimate.torn ? "torn threads" : "one line per orifice"},
                      {"to", report.to.point.estimate.torn ? "torn threads" : "one line per orifice"}};
  Json out{{"made", split.made}};
  if (!split.made) {
    out["reason"] = split.reason;
  } else {
    out["d_ln_diameter"] = split.total;
    out["diameter"] = parts_json(split.diameter);
    out["throughput"] = parts_json(split.throughput);
    out["orifice_balance"] = parts_json(split.orifice);
    out["line_speed"] = parts_json(split.line_speed);
  }
  json["split"] = out;
  return json;
}

int run_explain(const ExplainArguments& arguments, const Streams& streams) {
  const document::Format format = answer_format(arguments.json, arguments.form);
  const bool two = arguments.cases.size() == 2;
  if (arguments.cases.empty() || arguments.cases.size() > 2)
    throw InputError("", "CASE", std::to_string(arguments.cases.size()) + " cases", "one case, or two to compare");
  if (two && !arguments.between.empty()) throw InputError("", "--between", "two cases", "one case when --between is given");
  const bool change = two || !arguments.between.empty();
  if (change && arguments.sensitivity.samples) throw InputError("", "--sensitivity", "a change between two points", "one case, without --between");
  check_threads(arguments.sensitivity.threads);
  std::vector<Basis> bases;
  const LoadedCase loaded = load_case(arguments.cases.front());
  const auto write = [&](Json json, io::Prose prose) {
    if (loaded.trials) {
      json["calibrated"] = calibrated_json(loaded);
      prose.blocks.push_back(io::Paragraph{measured_directions(loaded)});
    }
    if (format == document::Format::json) {
      put_provenance(json, bases);
      streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
    } else {
      prose.blocks.push_back(io::Paragraph{"Made by " + provenance_text(bases) + "."});
      switch (format) {
        case document::Format::markdown: streams.out << io::write_prose(prose, io::ProseFormat::markdown); break;
        case document::Format::latex: streams.out << io::write_prose(prose, io::ProseFormat::latex, arguments.form.fragment); break;
        case document::Format::html: streams.out << document::write_html(document::document_of(prose)); break;
        default: Page(streams.out).out() << io::write_prose(prose, io::ProseFormat::text);
      }
    }
  };
  bases.push_back(basis_of(loaded));
  Progress progress(progress_stream(streams.err));
  if (change) {
    model::CaseInput from = loaded.file.input;
    ChangeReport report;
    if (two) {
      const LoadedCase other = load_case(arguments.cases.back());
      bases.push_back(basis_of(other));
      const auto [first, second] = two_points({loaded, from}, {other, other.file.input}, progress);
      report = report_change({loaded.file.name, first}, {other.file.name, second});
    } else {
      model::CaseInput to = from;
      for (const auto& text : arguments.between) apply_between(text, loaded.file.name, from, to);
      const auto name = [&](bool first) {
        std::string out;
        for (const auto& text : arguments.between) {
          const auto equals = text.find('=');
          const auto comma = text.find(',', equals);
          out += (out.empty() ? "" : ", ") + std::string(io::trimmed(std::string_view(text).substr(0, equals))) + ' ' +
                 std::string(io::trimmed(first ? std::string_view(text).substr(equals + 1, comma - equals - 1) : std::string_view(text).substr(comma + 1)));
        }
        return out;
      };
      const auto [first, second] = two_points({loaded, from}, {loaded, to}, progress);
      report = report_change({name(true), first}, {name(false), second});
    }
    progress.stop();
    write(explain_json(report), explain_change(report));
    return report.split.made ? kDone : kNotMet;
  }
  ParallelOptions parallel;
  parallel.threads = arguments.sensitivity.threads;
  parallel.run_count = progress.run_count();
  parallel.announced = true;
  std::optional<engine::SamplePlan> rows;
  if (arguments.sensitivity.samples) rows = rows_plan(*arguments.sensitivity.samples, arguments.sensitivity.seed);
  progress.run_count()->expect(runs_of_point(loaded.file.input) + (rows ? runs_of_sensitivity(loaded, *rows) : 0));
  engine::EstimateOptions one;
  one.run_distribution = false;
  const StopSignals signals;
  try {
    const engine::BatchRunner runner = parallel_runner(case_runner(loaded, one), parallel);
    PointReport report = report_point(loaded, loaded.file.name, parallel_neighbours(loaded, one, parallel), progress.run_count());
    const bool made = engine::why_not_explained(report.at.point.estimate).empty();
    if (made && rows) report.sensitivity = report_sensitivity(loaded.file.input, report.doubts, *rows, runner);
    progress.stop();
    write(explain_json(report), explain_point(report));
    return made ? kDone : kNotMet;
  } catch (const engine::Interrupted&) {
    progress.stop();
    streams.err << "whorl: interrupted\n";
    return kInterrupted;
  }
}

}  // namespace whorl::app
