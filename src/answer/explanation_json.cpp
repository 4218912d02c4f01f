// An explanation as JSON.
#include <nlohmann/json.hpp>

#include "answer/estimate_statement.hpp"
#include "answer/explanation_text.hpp"
#include "document/write.hpp"
#include "whorl/study/uncertainty.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;

Json parts_json(const std::vector<study::Part>& parts) {
  Json list = Json::array();
  for (const auto& part : parts)
    list.push_back({{"key", part.key}, {"d_ln_diameter", part.value}, {"from", part.from}, {"to", part.to}});
  return list;
}

Json point_json(const study::NamedPoint& at) {
  const model::Estimate& e = at.point.estimate;
  Json json{{"name", at.name}, {"status", to_string(e.status)}};
  if (e.status == model::Status::done) {
    json["class"] = to_string(e.fibre_class);
    json["landing"] = to_string(e.landing);
  }
  json["tier"] = e.tier;
  json.update(document::json_of({{}, {results_table(e)}}));
  return json;
}

Json index_json(const study::Index& index) { return {{"value", index.value}, {"half_width_95", index.half_width}}; }

Json indices_json(const study::Indices& indices, const std::vector<engine::UncertainInput>& inputs) {
  Json json{{"rows", indices.rows}, {"rows_used", indices.rows_used}, {"made", indices.made}};
  if (!indices.made) {
    json["reason"] = indices.reason;
    return json;
  }
  json["mean"] = indices.mean;
  json["variance"] = indices.variance;
  Json list = Json::array();
  for (std::size_t i = 0; i < inputs.size(); ++i)
    list.push_back({{"key", inputs[i].key},
                    {"first", index_json(indices.inputs[i].first)},
                    {"total", index_json(indices.inputs[i].total)},
                    {"difference_ratio", index_json(indices.inputs[i].spread)}});
  json["inputs"] = list;
  return json;
}

Json sensitivity_json(const study::SensitivityReport& s) {
  Json json{{"rows", s.indices.plan.size()},
            {"replicates", s.indices.plan.replicates},
            {"seed", s.indices.plan.seed},
            {"runs", s.indices.runs},
            {"not_converged", s.indices.not_converged}};
  if (!s.indices.reasons.empty()) json["reasons"] = s.indices.reasons;
  json["inputs"] = study::inputs_json(s.indices.inputs);
  json["ln_dry_diameter"] = indices_json(s.indices.results[study::kResultDiameter], s.indices.inputs);
  json["fibre_lands"] = indices_json(s.indices.results[study::kResultFibre], s.indices.inputs);
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

}  // namespace

Json explain_json(const study::PointReport& report) {
  Json json = head();
  json["point"] = point_json(report.at);
  const model::Estimate& e = report.at.point.estimate;
  const std::string why_not = study::why_not_explained(e);
  json["explained"] = why_not.empty();
  if (!why_not.empty()) {
    json["reason"] = why_not;
    return json;
  }
  Json groups = Json::array();
  for (const auto& group : e.groups)
    groups.push_back(
        {{"key", group.key}, {"symbol", group.symbol}, {"definition", group.definition}, {"value", group.value}});
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
      const study::Slope& slope = row.slopes[k];
      if (!slope.known) continue;
      outputs[report.responses[k].key] = {{"of", report.responses[k].logarithm ? "ln" : "value"},
                                          {"value", slope.value},
                                          {"bend", slope.bend},
                                          {"linear", slope.linear}};
    }
    one["outputs"] = outputs;
    rows.push_back(one);
  }
  elasticities["inputs"] = rows;
  json["elasticities"] = elasticities;
  json["uncertain_inputs"] = study::inputs_json(report.doubts);
  if (report.sensitivity) json["sensitivity"] = sensitivity_json(*report.sensitivity);
  Json warnings = Json::array();
  for (const auto& warning : e.warnings) warnings.push_back({{"code", warning.code}, {"text", warning.text}});
  json["warnings"] = warnings;
  return json;
}

Json explain_json(const study::ChangeReport& report) {
  Json json = head();
  json["from"] = point_json(report.from);
  json["to"] = point_json(report.to);
  json["changed"] = report.inputs;
  const study::ChangeSplit& split = report.split;
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

}  // namespace whorl::answer
