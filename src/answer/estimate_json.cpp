// An estimate as JSON.
#include <nlohmann/json.hpp>

#include "answer/estimate_answer.hpp"
#include "answer/estimate_page.hpp"
#include "answer/provenance.hpp"
#include "io/estimate_json.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;

Json property_json(const model::NamedProperty& named) {
  static constexpr const char* kOrigins[] = {"measured", "library", "estimated", "assumed"};
  return {{"symbol", named.symbol},
          {"value", named.property.value},
          {"unit", named.unit},
          {"relative_sd", named.property.relative_sd},
          {"origin", kOrigins[static_cast<int>(named.property.origin)]},
          {"source", named.property.source}};
}

// Budget of the line speed, balances and work of the jet.
void put_jet(Json& json, const model::Estimate& e) {
  const auto& b = e.jet.budget;
  json["line_speed_budget_J_kg"] = {{"centrifugal", b.centrifugal_J_kg},
                                    {"gravity", b.gravity_J_kg},
                                    {"air_drag", b.air_drag_J_kg},
                                    {"viscous", b.viscous_J_kg},
                                    {"elastic", b.elastic_J_kg},
                                    {"surface_tension", b.surface_tension_J_kg},
                                    {"solid_constraint", b.solid_constraint_J_kg},
                                    {"gas", b.gas_J_kg},
                                    {"total", b.total_J_kg}};
  if (e.jet.balances_known) {
    const auto& closure = e.jet.balances;
    json["balances_relative"] = {{"polymer", closure.polymer},
                                 {"solvent", closure.solvent},
                                 {"momentum", closure.momentum},
                                 {"energy", closure.energy}};
  }
  const auto& work = e.jet.work;
  json["work"] = {{"rhs_evaluations", work.rhs_evaluations}, {"steps", work.steps},
                  {"rejected", work.rejected},               {"jacobians", work.jacobians},
                  {"newton_iterations", work.newton_iterations}, {"mesh_nodes", work.mesh_nodes}};
}

Json run_json(const study::LoadedCase& loaded, const model::Estimate& e) {
  Json run = Json::array();
  for (const auto& point : e.run.points) {
    Json row{{"time_s", point.time_s},
             {"emptied_fraction", point.emptied_fraction},
             {"orifice_flow_mL_min", 6e7 * point.orifice.flow_m3_s},
             {"driving_pressure_kPa", 1e-3 * point.orifice.driving_pressure_Pa}};
    if (point.jet_status == model::Status::done && point.reached_collector) {
      row["line_speed_m_s"] = point.line_speed_m_s;
    }
    if (point.dry_diameter_m > 0.0) {
      row["dry_diameter_um"] = 1e6 * point.dry_diameter_m;
      row["fibre_length_share"] = point.fibre_length_weight;
      row["torn"] = point.torn;
    }
    if (point.line_diameter_m > 0.0) row["line_diameter_um"] = 1e6 * point.line_diameter_m;
    if (point.thread_diameter_m > 0.0) row["thread_diameter_um"] = 1e6 * point.thread_diameter_m;
    row["mass_share"] = point.volume_m3 / (loaded.file.input.operation.charge_volume_m3 * e.run.emptied_fraction);
    run.push_back(row);
  }
  return run;
}

Json gas_json(const model::Estimate& e) {
  const model::GasReport& g = e.gas;
  Json gas{{"breakthrough_layer_mm", 1e3 * e.run.breakthrough_layer_m},
           {"layer_at_start_mm", 1e3 * e.charge.layer_thickness_m},
           {"charge_left", e.run.breakthrough_left},
           {"choked", g.choked},
           {"pressure_ratio", g.pressure_ratio},
           {"exit_mach", g.exit_mach},
           {"exit_temperature_degC", g.exit_temperature_K - 273.15},
           {"jet_speed_m_s", g.jet_speed_m_s},
           {"moment", {{"layer_mm", 1e3 * g.layer_thickness_m},
                       {"gas_share_of_orifice", g.gas_share},
                       {"liquid_flow_ratio", g.liquid_flow_ratio},
                       {"gas_flow_mg_s", 1e6 * g.gas_flow_kg_s},
                       {"air_weber", g.air_weber}}},
           {"open_orifice_flow_mg_s", 1e6 * g.open_flow_kg_s}};
  Json rows = Json::array();
  for (const auto& variant : g.variants) rows.push_back(io::variant_json(variant));
  gas["variants"] = rows;
  if (g.run_mean_with_m > 0.0) gas["run_mean_with_um"] = 1e6 * g.run_mean_with_m;
  if (g.run_mean_without_m > 0.0) gas["run_mean_without_um"] = 1e6 * g.run_mean_without_m;
  if (g.run_time_with_s > 0.0) gas["run_time_with_s"] = g.run_time_with_s;
  return gas;
}

}  // namespace

nlohmann::ordered_json estimate_json(const study::LoadedCase& loaded, const model::Estimate& e) {
  Json json;
  put_provenance(json, {basis_of(loaded)});
  json["case"] = loaded.file.name;
  json["case_sha256"] = loaded.file.hash;
  json["purpose"] = loaded.file.input.purpose;
  json["status"] = to_string(e.status);
  json["reason"] = e.reason;
  json["tier"] = e.tier;
  if (!e.jet.convergence.empty()) json["convergence"] = e.jet.convergence;
  json["drying"] = e.drying_model;
  if (e.status == model::Status::done) {
    json["class"] = to_string(e.fibre_class);
    json["landing"] = to_string(e.landing);
    json["decided_by"] = e.decided_by;
  }
  if (e.status == model::Status::done) put_answers(json, e);
  json["in_short"] = Json::array();
  for (const AnswerRow& one : answer_rows(loaded, e))
    json["in_short"].push_back({{"label", one.label}, {"text", one.text}});
  json["results"] = io::results_json(e);
  Json groups = Json::array();
  for (const auto& group : e.groups) {
    groups.push_back(
        {{"key", group.key}, {"symbol", group.symbol}, {"definition", group.definition}, {"value", group.value}});
  }
  json["groups"] = groups;
  Json properties = Json::object();
  for (const auto& named : e.properties) properties[named.key] = property_json(named);
  json["properties"] = properties;
  if (e.jet.status == model::Status::done) put_jet(json, e);
  json["run"] = run_json(loaded, e);
  Json variants = Json::array();
  for (const auto& variant : e.air_variants) {
    variants.push_back(io::variant_json(variant));
  }
  json["air_variants"] = variants;
  if (e.gas.predicted) json["gas"] = gas_json(e);
  Json warnings = Json::array();
  for (const auto& warning : e.warnings) warnings.push_back({{"code", warning.code}, {"text", warning.text}});
  json["warnings"] = warnings;
  if (loaded.trials) json["calibrated"] = study::calibrated_json(loaded);
  json["notes"] = loaded.file.notes;
  json["cautions"] = io::short_cautions(loaded.file.input, loaded.library.solvent(loaded.file.input.solution.solvent));
  return json;
}

}  // namespace whorl::answer
