#include "whorl/study/explanation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "whorl/io/keys.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/uncertain_inputs.hpp"

namespace whorl::study {
namespace {

constexpr std::array kFirstOutputs{"dry_diameter_um", "orifice_flow_mL_min", "line_speed_m_s", "residual_solvent",
                                   "run_time_s"};

std::vector<std::string> differences(const model::CaseInput& a, const model::CaseInput& b) {
  std::vector<std::string> out;
  for (const io::WordKey& key : io::word_keys()) {
    if (key.path == "purpose") continue;
    const std::string from = key.get(a);
    const std::string to = key.get(b);
    if (from != to)
      out.push_back(std::string(key.path) + " from " + (from.empty() ? "none" : from) + " to " +
                    (to.empty() ? "none" : to));
  }
  for (const io::Key& key : io::numeric_keys()) {
    const auto from = key.get(a);
    const auto to = key.get(b);
    if (from == to) continue;
    const auto text = [&](const std::optional<double>& value) {
      return value ? io::value_text(key, *value, 6) : std::string("not given");
    };
    out.push_back(std::string(key.path) + " from " + text(from) + " to " + text(to));
  }
  return out;
}

engine::SamplePlan narrower_plan(const engine::SamplePlan& plan) {
  return {std::max<std::size_t>(plan.points, 32), plan.replicates, plan.seed};
}

}  // namespace

OperatingPoint point_of(const LoadedCase& loaded, const model::CaseInput& input, bool whole,
                        engine::RunCount* run_count) {
  engine::EstimateOptions options;
  options.run_count = run_count;
  options.run_distribution = whole;
  options.air_variants = whole;
  try {
    OperatingPoint point{engine::resolve(input, loaded.library), {}};
    point.estimate = engine::estimate(point.setup, options);
    return point;
  } catch (const InputError& error) {  // the model does not know which file it came from
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
}

std::size_t runs_of_sensitivity(const LoadedCase& loaded, const engine::SamplePlan& plan) {
  const std::size_t inputs = uncertain_inputs(loaded.file, loaded.file.input, loaded.library).size();
  return plan.size() * (inputs + 2) + 2 * narrower_plan(plan).size();
}

std::vector<Knob> knobs_of(const model::CaseInput& input) {
  std::vector<Knob> knobs;
  for (const io::Key& key : io::numeric_keys()) {
    const auto value = key.get(input);
    if (!value || key.whole || key.path.rfind("numerics.", 0) == 0 || key.path == "model.breakup_threshold") continue;
    Knob knob;
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

std::vector<Response> responses_for_explain() {
  std::vector<const io::Output*> list;
  for (const char* column : kFirstOutputs)
    if (const io::Output* output = io::find_output(column)) list.push_back(output);
  for (const io::Output& output : io::outputs())
    if (output.kind == io::OutputKind::number && std::find(list.begin(), list.end(), &output) == list.end())
      list.push_back(&output);
  std::vector<Response> responses;
  for (const io::Output* output : list) {
    // shares and temperatures may pass through 0: their own change
    const bool logarithm =
        output->offset == 0.0 && output->column != "residual_solvent" && output->column != "surface_residual_solvent";
    responses.push_back({std::string(output->column), logarithm,
                         [output](const model::Estimate& e) { return io::output_value(*output, e); }});
  }
  return responses;
}

std::size_t runs_of_point(const model::CaseInput& input) {
  constexpr std::size_t kEachKnob = 2;  // either side
  const auto knobs = knobs_of(input);
  return 1 + kEachKnob * static_cast<std::size_t>(std::count_if(knobs.begin(), knobs.end(), [](const Knob& knob) {
               return knob.absolute || knob.value > 0.0;
             }));
}

PointReport report_point(const LoadedCase& loaded, const std::string& name, const engine::NeighbourRunner& neighbours,
                         engine::RunCount* run_count) {
  return report_point(loaded, {name, point_of(loaded, loaded.file.input, true, run_count)}, neighbours);
}

PointReport report_point(const LoadedCase& loaded, NamedPoint at, const engine::NeighbourRunner& neighbours) {
  PointReport report;
  report.at = std::move(at);
  report.responses = responses_for_explain();
  report.elasticities.reason = why_not_explained(report.at.point.estimate);
  if (!report.elasticities.reason.empty()) return report;
  report.elasticities = elasticities(loaded.file.input, knobs_of(loaded.file.input), report.responses, neighbours);
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
      {"ln_dry_diameter",
       [diameter](const model::Estimate& e) -> std::optional<double> {
         const auto d = diameter(e);
         return d ? std::optional(std::log(1e6 * *d)) : std::nullopt;
       }},
      {"fibre_lands",
       [diameter](const model::Estimate& e) -> std::optional<double> { return diameter(e) ? 1.0 : 0.0; }},
  }};
  out.indices = case_sensitivity(input, inputs, plan, results, runner);
  const Indices& d = out.indices.results[kResultDiameter];
  if (!d.made) return out;
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    if (inputs[i].kind == engine::UncertainKind::model_form) continue;  // no measurement of the charge removes it
    const Index& first = d.inputs[i].first;
    if (first.value <= first.half_width) continue;                      // not told from nothing
    if (!out.measure || first.value > d.inputs[*out.measure].first.value) out.measure = i;
  }
  if (out.measure) out.narrowed = narrowed_band(input, inputs, *out.measure, narrower_plan(plan),
                                                        {"dry_diameter", diameter}, runner);
  return out;
}

ChangeReport report_change(NamedPoint from, NamedPoint to) {
  ChangeReport report;
  report.inputs = differences(from.point.setup.input, to.point.setup.input);
  report.split = split_change(from.point, to.point);
  report.from = std::move(from);
  report.to = std::move(to);
  return report;
}

}  // namespace whorl::study
