#include "app/estimate.hpp"

#include "app/answer.hpp"
#include "app/estimate_answer.hpp"
#include "app/magnitudes.hpp"
#include "app/page.hpp"
#include "app/estimate_document.hpp"

#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>

#include "app/parallel.hpp"
#include "app/progress.hpp"
#include "app/provenance.hpp"
#include "app/stop_signals.hpp"
#include "app/trial_calibration.hpp"
#include "app/uncertainty.hpp"
#include "app/whole_file.hpp"
#include "engine/estimate.hpp"
#include "io/calibration_file.hpp"
#include "io/cautions.hpp"
#include "io/estimate_json.hpp"
#include "io/keys.hpp"
#include "io/materials_file.hpp"
#include "io/outputs.hpp"
#include "io/prose.hpp"
#include "io/profile_table.hpp"
#include "model/error.hpp"
#include "model/run_progress.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

[[gnu::format(printf, 1, 2)]] std::string line(const char* format, ...) {
  char buffer[640];
  va_list arguments;
  va_start(arguments, format);
  std::vsnprintf(buffer, sizeof buffer, format, arguments);
  va_end(arguments);
  return std::string(buffer) + '\n';
}

std::string micrometres(double metres) {
  char buffer[48];
  if (metres < 1e-6) {
    std::snprintf(buffer, sizeof buffer, "%.0f nm", 1e9 * metres);
  } else {
    std::snprintf(buffer, sizeof buffer, "%.3g um", 1e6 * metres);
  }
  return buffer;
}

Json property_json(const model::NamedProperty& named) {
  static constexpr const char* kOrigins[] = {"measured", "library", "estimated", "assumed"};
  return {{"symbol", named.symbol},
          {"value", named.property.value},
          {"unit", named.unit},
          {"relative_sd", named.property.relative_sd},
          {"origin", kOrigins[static_cast<int>(named.property.origin)]},
          {"source", named.property.source}};
}

const char* origin_word(model::Origin origin) {
  switch (origin) {
    case model::Origin::measured: return "measured";
    case model::Origin::library: return "library";
    case model::Origin::estimated: return "estimated";
    case model::Origin::assumed: return "ASSUMED";
  }
  return "?";
}

std::string variant_text(const model::AirVariant& variant, double collector_radius_m) {
  std::string what = "does not converge";
  if (variant.status == model::Status::done) {
    what = variant.reached_collector ? "dry diameter " + micrometres(variant.dry_diameter_m) +
                                           line(", lands with %.1f wt%% solvent", 100.0 * std::max(0.0, variant.residual_solvent))
                                     : line("the jet does not arrive: %.0f mm of %.0f", 1e3 * variant.end_radius_m,
                                            1e3 * collector_radius_m);
  }
  if (what.back() == '\n') what.pop_back();
  return line("  %-36s %s", variant.text.c_str(), what.c_str());
}

}  // namespace

namespace {
std::string& calibration_path() {
  static std::string path;  // one command line, one process
  return path;
}
std::vector<std::string>& settings() {
  static std::vector<std::string> given;
  return given;
}
}  // namespace

void use_calibration(const std::string& path) { calibration_path() = path; }
void use_settings(std::vector<std::string> given) { settings() = std::move(given); }

LoadedCase load_case(const std::string& path) {
  LoadedCase loaded;
  loaded.file = io::read_case_file(path);
  loaded.library = io::built_in_library();
  for (const auto& file : loaded.file.material_files) io::add_materials_file(loaded.library, file);
  io::apply_settings(loaded.file, settings(), "--set");
  if (!calibration_path().empty()) lay_calibration(loaded, calibration_path());
  for (const std::string& text : loaded.file.unusual) note_magnitude(text);
  return loaded;
}

nlohmann::ordered_json estimate_json(const LoadedCase& loaded, const model::Estimate& e) {
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
  for (const AnswerRow& one : answer_rows(loaded, e)) json["in_short"].push_back({{"label", one.label}, {"text", one.text}});
  json["results"] = io::results_json(e);
  Json groups = Json::array();
  for (const auto& group : e.groups) {
    groups.push_back({{"key", group.key}, {"symbol", group.symbol}, {"definition", group.definition}, {"value", group.value}});
  }
  json["groups"] = groups;
  Json properties = Json::object();
  for (const auto& named : e.properties) properties[named.key] = property_json(named);
  json["properties"] = properties;
  if (e.jet.status == model::Status::done) {
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
  json["run"] = run;
  Json variants = Json::array();
  for (const auto& variant : e.air_variants) {
    variants.push_back(io::variant_json(variant));
  }
  json["air_variants"] = variants;
  if (e.gas.predicted) {
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
    json["gas"] = gas;
  }
  Json warnings = Json::array();
  for (const auto& warning : e.warnings) warnings.push_back({{"code", warning.code}, {"text", warning.text}});
  json["warnings"] = warnings;
  if (loaded.trials) json["calibrated"] = calibrated_json(loaded);
  json["notes"] = loaded.file.notes;
  json["cautions"] = io::short_cautions(loaded.file.input, loaded.library.solvent(loaded.file.input.solution.solvent));
  return json;
}

// The diameter that fibre laid at the speed of the collector would have, and how fast this one is laid: a jet may be slower or faster.
std::string at_collector_speed(const model::Estimate& e) {
  if (!(e.kinematic_bound_m > 0.0)) return {};
  std::string text = "  (at the collector's speed " + micrometres(e.kinematic_bound_m);
  for (const auto& group : e.groups)
    if (group.key == "speed_ratio") text += "; laid at " + io::number_text(100.0 * group.value, 3) + " % of it";
  return text + ")";
}

// Behind the result, before the reasons.
static std::string warnings_text(const LoadedCase& loaded, const model::Estimate& e) {
  if (e.warnings.empty() && loaded.file.notes.empty()) return {};
  std::string out = "\nWARNINGS\n";
  for (const auto& warning : e.warnings) out += io::folded("  - " + warning.text, 4);
  for (const auto& note : loaded.file.notes) out += io::folded("  - " + note, 4);
  return out;
}

std::string estimate_text(const LoadedCase& loaded, const model::Estimate& e, const std::string& doubt) {
  std::string out;
  const auto& input = loaded.file.input;
  out += input.purpose.empty() ? loaded.file.name + '\n' : io::folded(input.purpose, 0);
  out += line("%s, %.0f kg/mol, %s in %s; %.0f rpm, %.3g MPa overpressure, %.3g mL charge",
              input.solution.polymer.c_str(), input.solution.molar_mass_kg_mol,
              io::concentration_text(input.solution.concentration).c_str(), input.solution.solvent.c_str(),
              input.operation.rotation_speed_rad_s * 60.0 / (2.0 * 3.14159265358979323846),
              1e-6 * input.operation.gas_overpressure_Pa, 1e6 * input.operation.charge_volume_m3);
  out += '\n';
  if (e.status != model::Status::done) {
    out += "NOT CONVERGED: " + e.reason + "\nNo numbers are reported for this point.\n" + warnings_text(loaded, e);
    return out + provenance_line({basis_of(loaded)});
  }
  const auto& jet = e.jet;
  const model::FibreClass line_class = e.as_line.fibre_class;
  const bool lands = line_class != model::FibreClass::no_jet && line_class != model::FibreClass::dripping && jet.reached_collector;
  const bool fibre = e.line_diameter_m > 0.0 && line_class != model::FibreClass::drops;

  out += "RESULT\n";
  out += line("  class                %s%s", to_string(e.fibre_class),
              e.landing != model::Landing::none ? (std::string(", lands ") + to_string(e.landing)).c_str() : "");
  if (e.threads.predicted) {
    const model::ThreadReport& t = e.threads;
    out += line("  torn threads         %s dry, %s wet; by other laws %s and %s; probability %.0f %%", micrometres(t.dry_diameter_m).c_str(),
                micrometres(t.wet_diameter_m).c_str(), micrometres(t.weber_law_m).c_str(), micrometres(t.cascade_law_m).c_str(),
                100.0 * e.as_threads.probability);
    out += line("                       %.3g threads per orifice, carried off at %.3g m/s, %s; %.1f wt%% solvent at the collector", t.threads,
                t.carry_speed_m_s, t.solidified ? ("solid after " + io::number_text(1e3 * t.solidification_time_s, 2) + " ms").c_str() : "not solid in flight",
                100.0 * t.residual_solvent);
    out += line("                       gas Weber number %.3g on the orifice (tears from %.3g), %.3g on a wet thread", t.gas_weber,
                e.chance.critical_weber, t.thread_weber);
  }
  if (fibre) {
    out += line("  one line             %s%s", micrometres(e.line_diameter_m).c_str(), at_collector_speed(e).c_str());
    if (e.run.dry_diameter_mean_m > 0.0) {
      out += line("  over the run         %s mean, %s to %s (by fibre length)", micrometres(e.run.dry_diameter_mean_m).c_str(),
                  micrometres(e.run.dry_diameter_min_m).c_str(), micrometres(e.run.dry_diameter_max_m).c_str());
    }
    out += line("  diameter as landed   %s with %.1f wt%% solvent", micrometres(jet.wet_diameter_m).c_str(),
                100.0 * jet.residual_solvent);
  }
  if (e.orifice.flow_m3_s > 0.0) {
    out += line("  throughput           %.3g g/h polymer, %.3g g/h solution, all %.0f orifices at the start",
                3.6e6 * e.run.polymer_throughput_kg_s, 3.6e6 * e.run.wet_throughput_kg_s, input.vessel.orifice_count);
    out += line("  run                  %.3g s, %.0f %% of the charge leaves, %.3g mg polymer; it ends where the flow is %.2g of the first", e.run.run_time_s,
                100.0 * e.run.emptied_fraction, 1e6 * e.run.polymer_mass_kg, e.run.last_flow_share);
    if (!input.operation.feed_rate_m3_s && e.run.run_time_s > 0.0)
      out += line("  90 %% of it           gone after about %.2g s", model::time_when_left_s(e.run, 0.9));
    out += line("  from rest            %.2g s to full settings; %.0f %% of the mass leaves after that", e.run.full_settings_time_s,
                100.0 * e.run.share_at_full_settings);
    if (e.run.threads.length_share > 0.0 && e.run.lines.length_share > 0.0) {
      out += line("  two populations      lines %s (%.2g %% of the length, %.2g %% of the mass), threads %s", micrometres(e.run.lines.mean_m).c_str(),
                  100.0 * e.run.lines.length_share, 100.0 * e.run.lines.mass_share, micrometres(e.run.threads.mean_m).c_str());
    }
  }
  if (lands) {
    if (jet.dried) {
      out += line("  dry (5 wt%%) after    %.0f mm of jet, at radius %.0f mm; collector at %.0f mm", 1e3 * jet.drying_distance_m,
                  1e3 * jet.drying_radius_m, 1e3 * jet.end_radius_m);
    } else {
      out += line("  dry (5 wt%%)          not before the collector at radius %.0f mm", 1e3 * jet.end_radius_m);
    }
  }

  out += warnings_text(loaded, e);
  out += "\nHOW IT WAS DECIDED\n";
  for (const auto& sentence : e.threads_why) out += io::folded("  " + sentence, 2);
  for (const auto& sentence : e.line_why) out += io::folded("  " + sentence, 2);
  const auto& o = e.orifice;
  out += line("  pressure at orifice  %.3g kPa = gas %.3g + centrifugal %.3g + liquid height %.2g - capillary %.2g",
              1e-3 * o.driving_pressure_Pa, 1e-3 * o.gas_overpressure_Pa, 1e-3 * o.centrifugal_head_Pa,
              1e-3 * o.hydrostatic_head_Pa, 1e-3 * o.capillary_threshold_Pa);
  if (o.flow_m3_s > 0.0) {
    out += line("  spent on             friction %.3g kPa, entrance %.2g kPa, speed of the liquid %.2g kPa", 1e-3 * o.viscous_loss_Pa,
                1e-3 * o.entrance_loss_Pa, 1e-3 * o.kinetic_loss_Pa);
    out += line("  orifice              %.3g mL/min each at %.3g m/s; wall shear rate %.2g 1/s, Re %.2g, We %.2g",
                6e7 * o.flow_m3_s, o.mean_speed_m_s, o.wall_shear_rate_1_s, o.reynolds, o.weber);
    out += line("  liquid layer         %.2f mm over the orifices%s", 1e3 * e.charge.layer_thickness_m,
                e.run.breakthrough ? line("; gas breaks through at %.2f mm, after %.2g s", 1e3 * e.run.breakthrough_layer_m,
                                          e.run.breakthrough_time_s).substr(0, 200).c_str() : "");
    if (out.size() > 1 && out[out.size() - 1] == '\n' && out[out.size() - 2] == '\n') out.pop_back();
  }
  if (jet.status == model::Status::done && o.flow_m3_s > 0.0 && line_class != model::FibreClass::dripping) {
    out += line("  jet                  %.0f mm long, %.2f turns, %.3g ms; %s", 1e3 * jet.path_length_m, jet.turns,
                1e3 * jet.flight_time_s, jet.reason.c_str());
    const auto& b = jet.budget;
    out += line("  speed at the end     %.3g m/s; u^2/2 = centrifugal %+.3g, air %+.3g, gravity %+.2g, solid %+.3g J/kg",
                jet.end_speed_m_s, b.centrifugal_J_kg, b.air_drag_J_kg, b.gravity_J_kg, b.solid_constraint_J_kg);
    if (b.gas_J_kg != 0.0) out += line("                       gas of the orifice %+.3g J/kg", b.gas_J_kg);
    if (e.tier == "tension") {
      out += line("                       pull of the liquid: viscous %+.3g, elastic %+.3g, surface %+.3g J/kg", b.viscous_J_kg,
                  b.elastic_J_kg, b.surface_tension_J_kg);
      if (!jet.convergence.empty()) out += io::folded("  converged            " + jet.convergence, 23);
    }
    out += line("  temperature          down to %.0f degC, %.0f degC at the end", jet.lowest_temperature_K - 273.15,
                jet.end_temperature_K - 273.15);
    if (jet.solidified) {
      out += line("  solid                after %.0f mm of jet (%s); draw is frozen from there", 1e3 * jet.solidification_distance_m,
                  jet.solidification_kind.c_str());
    }
    out += line("  tension              up to %.2g of the momentum flux (%s)", jet.tension_ratio,
                e.tier == "inertial" ? "left out of the inertial tier" : "part of the solution");
  }

  const double collector =
      0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m + input.operation.collection_distance_m;
  if (!e.air_variants.empty() && e.fibre_class != model::FibreClass::dripping) {
    out += "\nIF THE AIR IS NOT AS ASSUMED (a doubt of the model; no measurement of the charge removes it)\n";
    out += line("  assumed              air turns at %.2g of the wall's speed there, axial drag x %.3g", input.room.air_swirl,
                input.model.axial_drag_factor);
    for (const auto& variant : e.air_variants) out += variant_text(variant, collector);
  }
  if (e.gas.predicted && e.fibre_class != model::FibreClass::dripping) {
    const model::GasReport& g = e.gas;
    out += "\nWHEN GAS BREAKS THROUGH (one line at that moment; our own closures)\n";
    out += line("  from a layer of      %.2f mm, when %.0f %% of the charge is left; %.2f mm at the start", 1e3 * e.run.breakthrough_layer_m,
                100.0 * e.run.breakthrough_left, 1e3 * e.charge.layer_thickness_m);
    out += line("  gas leaves           %s, Mach %.2f at %.0f degC; %.0f m/s expanded to the room; an open orifice blows %.2g mg/s",
                g.choked ? "choked" : "below the speed of sound", g.exit_mach, g.exit_temperature_K - 273.15, g.jet_speed_m_s,
                1e6 * g.open_flow_kg_s);
    out += line("  half of that gone    layer %.2f mm, gas fills %.0f %% of an orifice (%.2g mg/s), liquid flow x %.2g",
                1e3 * g.layer_thickness_m, 100.0 * g.gas_share, 1e6 * g.gas_flow_kg_s, g.liquid_flow_ratio);
    out += line("  gas over the liquid  Weber number %.3g where they leave%s", g.air_weber,
                g.air_weber > 13.0 ? ": more than thin liquid withstands" : "");
    for (const auto& variant : g.variants) out += variant_text(variant, collector);
    if (g.run_mean_with_m > 0.0 && g.run_mean_without_m > 0.0) {
      out += line("  over the run         %s mean with gas, %s without (by fibre length)", micrometres(g.run_mean_with_m).c_str(),
                  micrometres(g.run_mean_without_m).c_str());
    }
  }

  if (!doubt.empty()) out += '\n' + doubt;
  out += "\nWHAT IT RESTS ON (one standard deviation; library values in --json)\n";
  for (const auto& named : e.properties) {
    if (named.property.origin == model::Origin::library) continue;  // `--json` has them all
    out += io::folded("  " + named.key + " " + io::number_text(named.property.value, 4) + (named.unit == "1" ? "" : " " + named.unit) + ", " +
                      origin_word(named.property.origin) + " +-" + io::number_text(100.0 * named.property.relative_sd, 2) +
                      " %: " + named.property.source, 6);
  }
  out += '\n';
  for (const auto& caution : io::short_cautions(input, loaded.library.solvent(input.solution.solvent))) out += caution + (caution.back() == ':' ? ' ' : '\n');
  return out + provenance_line({basis_of(loaded)});
}

// What stands in the metadata file beside the stations along the jet.
std::string profile_metadata(const LoadedCase& loaded, const std::string& path) {
  io::TableMetadata table = table_metadata(loaded, "Stations along the first jet", path);
  for (const io::ProfileColumn& column : io::profile_columns())
    table.columns.push_back({std::string(column.column), "double", column.unit == "1" ? "" : std::string(column.unit), std::string(column.symbol),
                             std::string(column.description), true});
  return finish_metadata(std::move(table));
}

int run_estimate(const EstimateArguments& arguments, const Streams& streams) {
  begin_command();
  const document::Format format = answer_format(arguments.json, arguments.form);
  const bool text = format == document::Format::text;
  const LoadedCase loaded = load_case(arguments.case_file);
  const auto answer = [&](const document::Document& document) {
    write_answer(document, format, arguments.form.fragment, {basis_of(loaded)}, streams.out);
  };
  engine::EstimateOptions options;
  options.keep_profile = !arguments.profile.empty();
  options.audit = arguments.audit;
  options.air_variants = arguments.full || format == document::Format::json;
  options.band = true;
  options.both_runs = options.air_variants;
  if (arguments.cautions && !text && format != document::Format::json) {
    answer(cautions_document(loaded));
    return kDone;
  }
  if (arguments.cautions) {
    for (const auto& paragraph : io::full_cautions(loaded.file.input, loaded.library.solvent(loaded.file.input.solution.solvent))) {
      Page(streams.out).out() << io::folded(paragraph, 0) << '\n';
    }
    return kDone;
  }
  const Existing existing = existing_if(arguments.force);
  const std::string metadata = options.keep_profile ? profile_metadata(loaded, arguments.profile) : std::string();
  if (options.keep_profile) check_table_target(arguments.profile, "--profile", existing, metadata);
  std::optional<engine::SamplePlan> plan;
  if (arguments.uncertainty.samples) {
    check_threads(arguments.uncertainty.threads);
    plan = sample_plan(*arguments.uncertainty.samples, arguments.uncertainty.seed);
  }
  model::Estimate estimate;
  Progress progress(progress_stream(streams.err));
  options.run_count = progress.run_count();
  if (plan) progress.run_count()->expect(3 * plan->replicates * plan->points);  // every doubt, measurements alone, relations alone
  try {
    estimate = calibrated_estimate(loaded, loaded.file.input, options);
  } catch (const InputError& error) {
    // the model does not know which file it came from
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
  if (options.keep_profile) {
    write_whole_table(arguments.profile, "--profile", metadata, io::profile_csv(estimate.jet.profile), existing);
  }
  std::optional<UncertaintyReport> doubt;
  if (plan) {
    engine::EstimateOptions one;
    one.run_distribution = false;
    one.sample = true;
    const ParallelOptions parallel{arguments.uncertainty.threads, progress.run_count(), true};
    const StopSignals signals;
    try {
      // Samples show the doubts of the model itself: laid over them, a law of trials would hold every sample to its mean.
      LoadedCase untaught = loaded;
      untaught.trials = nullptr;
      doubt = uncertainty(untaught, untaught.file.input, *plan, parallel_runner(case_runner(untaught, one), parallel));
    } catch (const engine::Interrupted&) {
      progress.stop();
      streams.err << "whorl: interrupted\n";
      return kInterrupted;
    }
  }
  progress.stop();
  if (format == document::Format::json) {
    Json json = estimate_json(loaded, estimate);
    if (doubt) {
      json["uncertainty"] = uncertainty_json(*doubt);
      if (loaded.trials) json["uncertainty"]["trials"] = "not in the samples: the band of the answer has them";
    }
    streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
  } else if (!text) {
    answer(estimate_document(loaded, estimate, doubt ? &*doubt : nullptr));
  } else {
    Page page(streams.out);
    page.out() << estimate_answer(loaded, estimate, arguments.full);
    if (arguments.full) {
      page.out() << '\n' << estimate_text(loaded, estimate, doubt ? uncertainty_text(*doubt) : std::string());
    } else {
      if (doubt && loaded.trials) page.out() << "\nThe samples below are of the model before the trials; the answer above has the trials in it.\n";
      if (doubt) page.out() << '\n' << uncertainty_text(*doubt);
    }
  }
  return estimate.status == model::Status::done ? kDone : kNotMet;
}

}  // namespace whorl::app
