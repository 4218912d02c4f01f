// The sentences of an estimate. They quote the tables by name, so that a number has one source, unit and scale.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <utility>

#include "answer/estimate_statement.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;
using namespace document;

constexpr std::size_t kLabels = 19;

// One number of a sentence: "2" significant digits (3 where nothing is said), ".1" places behind the point, "%0" of a
// share in per cent with so many places, "+3" with its sign, "um" a diameter with its unit, "t2" seconds as a duration.
std::string shown(double value, std::string_view form) {
  const int digits = form.empty() || form == "um" ? 3 : form.back() - '0';
  switch (form.empty() ? ' ' : form.front()) {
    case 'u': return micrometres(1e-6 * value, digits);
    case '.': return decimals_text(value, digits);
    case '%': return decimals_text(std::max(0.0, 100.0 * value), digits);
    case 't': return duration_text(value, digits);
    case '+': return (value < 0.0 ? "" : "+") + number_text(value, digits);
    default: return number_text(value, digits);
  }
}

// Along the jet: 829 mm, and 117 m where it winds round the vessel.
std::string length_text(double metres) {
  constexpr double kLong_m = 10.0;
  return metres < kLong_m ? decimals_text(1e3 * metres, 0) + " mm" : number_text(metres, 3) + " m";
}

// Rows of what they are about and what is said. A pattern quotes numbers as {name:form}: a result by its column, all
// others by their path in the JSON of the tables. What has no number there is not said.
class Rows {
 public:
  Rows(const Json& numbers, const Json& own) : numbers_(&numbers), own_(&own) {}

  [[nodiscard]] std::string said(std::string_view pattern) const {
    std::string out;
    for (std::size_t at = 0; at < pattern.size();) {
      const std::size_t open = std::min(pattern.find('{', at), pattern.size());
      out += pattern.substr(at, open - at);
      if (open == pattern.size()) break;
      const std::size_t close = pattern.find('}', open);
      const std::string_view inner = pattern.substr(open + 1, close - open - 1);
      const std::size_t colon = std::min(inner.find(':'), inner.size());
      const auto value = number(inner.substr(0, colon));
      if (!value) return {};
      out += shown(*value, colon < inner.size() ? inner.substr(colon + 1) : std::string_view());
      at = close + 1;
    }
    return out;
  }
  void row(const std::string& label, std::string text) {
    if (!text.empty()) rows_.rows.push_back({"", label, std::move(text)});
  }
  void say(const std::string& label, std::string_view pattern) { row(label, said(pattern)); }
  [[nodiscard]] Quantities take() { return std::exchange(rows_, {{}, kLabels}); }

 private:
  [[nodiscard]] std::optional<double> number(std::string_view name) const {
    if (own_->contains(std::string(name))) return own_->at(std::string(name)).get<double>();
    const bool result = name.find('.') == std::string_view::npos;
    if (result && io::find_output(name) == nullptr) throw std::logic_error("no result " + std::string(name));
    const Json* at = result ? &numbers_->at("results") : numbers_;
    while (!name.empty()) {
      const std::size_t end = std::min(name.find('.'), name.size());
      const auto found = at->find(std::string(name.substr(0, end)));
      if (found == at->end()) return {};
      at = &*found;
      name.remove_prefix(std::min(end + 1, name.size()));
    }
    return at->is_number() ? std::optional(at->get<double>()) : std::nullopt;
  }

  const Json* numbers_;
  const Json* own_;
  Quantities rows_{{}, kLabels};
};

// What sentences say beyond the tables: settings of the case, and how a run ends.
Json own_numbers(const study::LoadedCase& loaded, const model::Estimate& e) {
  const model::CaseInput& input = loaded.file.input;
  Json own{{"orifices", input.vessel.orifice_count},
           {"charge_mL", 1e6 * (input.operation.charge_volume_m3 - e.charge.spilled_volume_m3)},
           {"gas_overpressure_kPa", 1e-3 * e.orifice.gas_overpressure_Pa},
           {"last_flow_share", e.run.last_flow_share},
           {"end_speed_m_s", e.jet.end_speed_m_s},
           {"air_and_solid_J_kg", e.jet.budget.air_drag_J_kg + e.jet.budget.solid_constraint_J_kg},
           {"breakthrough_layer_mm", 1e3 * e.run.breakthrough_layer_m},
           {"air_swirl", input.room.air_swirl},
           {"axial_drag_factor", input.model.axial_drag_factor},
           {"collector_radius_mm", 1e3 * (0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m +
                                          input.operation.collection_distance_m)}};
  for (const model::Group& group : e.groups)
    if (group.key == "speed_ratio") own["groups.speed_percent"] = 100.0 * group.value * e.excess_draw;
  return own;
}

void say_threads(Rows& rows, const model::Estimate& e) {
  rows.say("torn threads",
           "{thread_diameter_um:um} dry, {thread_wet_diameter_um:um} wet; by other laws {thread_diameter_weber_um:um} "
           "and {thread_diameter_cascade_um:um}; probability {tearing_probability:%0} %");
  rows.say("their flight", std::string("{threads_per_orifice} threads per orifice, carried off at "
                                       "{thread_carry_speed_m_s} m/s, ") +
                               (e.threads.solidified ? "solid after {thread_solid_after_ms:2} ms"
                                                     : "not solid in flight") +
                               "; {thread_residual_solvent:%1} wt% solvent at the collector");
  rows.say("their tearing",
           "gas Weber number {gas_weber} on the orifice (tears from {tearing_weber}), {thread_weber} on a wet thread");
}

void say_run(Rows& rows, const study::LoadedCase& loaded, const model::Estimate& e) {
  const bool fed = loaded.file.input.operation.feed_rate_m3_s.has_value();
  rows.say("throughput",
           std::string("{polymer_throughput_g_h} g/h polymer, {wet_throughput_g_h} g/h solution, all {orifices:6} "
                       "orifices, ") +
               (fed ? "from the pump" : "at full settings with the whole charge in; less on average"));
  rows.say("run",
           std::string("{run_time_s:t3}, {emptied_fraction:%0} % of the charge of {charge_mL} mL leaves, "
                       "{polymer_spun_g} g polymer; it ends ") +
               (fed ? "with what the pump has to feed" : "where the flow is {last_flow_share:2} of the first"));
  if (!fed)
    rows.say("90 % of it", "gone after about {time_to_90_percent_s:t2}");
  rows.say("from rest",
           "{full_settings_after_s:2} s to full settings; {share_at_full_settings:%0} % of the mass leaves after that");
  const std::string lines = rows.said("lines {line_population_mean_um:um} (");
  const std::string threads = rows.said(" of the mass), threads {thread_population_mean_um:um}");
  // neither has a size where drops land
  if (e.run.threads.length_share > 0.0 && e.run.lines.length_share > 0.0 && !lines.empty() && !threads.empty())
    rows.row("two populations", lines + percent(e.run.lines.length_share, 2) + " of the length, " +
                                    percent(e.run.lines.mass_share, 2) + threads);
}

Section result_words(Rows rows, const study::LoadedCase& loaded, const model::Estimate& e) {
  const model::FibreClass line = e.as_line.fibre_class;
  rows.row("class", std::string(to_string(e.fibre_class)) +
                        (e.landing != model::Landing::none ? ", lands " + std::string(to_string(e.landing)) : ""));
  if (e.threads.predicted) say_threads(rows, e);
  if (e.line_diameter_m > 0.0 && line != model::FibreClass::drops) {
    const std::string laid = rows.said("; laid at {groups.speed_percent} % of it");
    const std::string beside = rows.said("  (at the collector's speed {kinematic_bound_um:um}" + laid + ")");
    // sized by trials it is no line of the model: what that lays at the collector is no neighbour of it
    rows.say("one line", "{line_diameter_um:um}" + (loaded.trials && !e.torn ? "  (by your trials)" : beside));
    rows.say("over the run",
             "{run_diameter_mean_um:um} mean, {run_diameter_min_um:um} to {run_diameter_max_um:um} (by fibre length)");
    rows.say("line as landed", "{wet_diameter_um:um} with {line_residual_solvent:%1} wt% solvent");
  }
  if (e.orifice.flow_m3_s > 0.0) say_run(rows, loaded, e);
  const bool jet = line != model::FibreClass::no_jet && line != model::FibreClass::dripping;
  if (jet && e.jet.reached_collector && e.jet.dried)
    rows.say("line dry (5 wt%)",
             "after " + length_text(e.jet.drying_distance_m) +
                 " of jet, at radius {drying_radius_mm:.0} mm; collector at {end_radius_mm:.0} mm");
  else if (jet && e.jet.reached_collector)
    rows.say("line dry (5 wt%)", "not before the collector at radius {end_radius_mm:.0} mm");
  return {"Result", "", {rows.take()}};
}

Section warnings_words(const study::LoadedCase& loaded, const model::Estimate& e) {
  List list;
  for (const model::Warning& warning : e.warnings) list.items.emplace_back(warning.text);
  for (const std::string& note : loaded.file.notes) list.items.emplace_back(note);
  if (list.items.empty()) return {};
  return {"Warnings", "", {list}};
}

void say_orifice(Rows& rows, const model::Estimate& e, bool fed) {
  rows.say("pressure at orifice",
           "{driving_pressure_kPa} kPa = gas {gas_overpressure_kPa} + centrifugal {centrifugal_head_kPa} + liquid "
           "height {hydrostatic_head_kPa:2} - capillary {capillary_threshold_kPa:2}");
  if (!(e.orifice.flow_m3_s > 0.0)) return;
  rows.say("spent on",
           "friction {viscous_loss_kPa} kPa, entrance {entrance_loss_kPa:2} kPa, speed of the liquid "
           "{kinetic_loss_kPa:2} kPa");
  rows.say("orifice",
           "{orifice_flow_mL_min} mL/min each at {orifice_speed_m_s} m/s; wall shear rate {wall_shear_rate_1_s:2} 1/s, "
           "Re {orifice_reynolds:2}, We {orifice_weber:2}");
  rows.say("liquid layer",
           std::string("{layer_thickness_mm:.2} mm over the orifices") +
               (!e.run.breakthrough ? ""
                : fed               ? ", kept by the pump; gas goes through below {breakthrough_layer_mm:.2} mm"
                                    : "; gas breaks through at {breakthrough_layer_mm:.2} mm, after "
                                      "{breakthrough_time_s:2} s"));
}

void say_jet(Rows& rows, const model::Estimate& e) {
  const bool inertial = e.tier == "inertial";
  rows.row("jet", length_text(e.jet.path_length_m) + rows.said(" long, {turns:.2} turns, {flight_time_ms} ms; ") +
                      e.jet.reason);
  // A solid fibre that air drags round and the collector holds: two large works that all but cancel say nothing apart.
  const model::ForceBudget& b = e.jet.budget;
  constexpr double kLarge = 5.0;
  const double large = kLarge * 0.5 * e.jet.end_speed_m_s * e.jet.end_speed_m_s;
  const bool cancel = b.air_drag_J_kg * b.solid_constraint_J_kg < 0.0 &&
                      std::min(std::abs(b.air_drag_J_kg), std::abs(b.solid_constraint_J_kg)) > large;
  rows.say("speed at the end",
           std::string("{end_speed_m_s} m/s; u^2/2 = centrifugal {line_speed_budget_J_kg.centrifugal:+3}, ") +
               (cancel ? "air and the solid that is held against it {air_and_solid_J_kg:+3}, gravity "
                         "{line_speed_budget_J_kg.gravity:+2} J/kg"
                       : "air {line_speed_budget_J_kg.air_drag:+3}, gravity {line_speed_budget_J_kg.gravity:+2}, solid "
                         "{line_speed_budget_J_kg.solid_constraint:+3} J/kg"));
  if (e.jet.budget.gas_J_kg != 0.0) rows.say("gas of the orifice", "{line_speed_budget_J_kg.gas:+3} J/kg of it");
  if (e.tier == "tension") {
    rows.say("work of tension",
             "viscous {line_speed_budget_J_kg.viscous:+3}, elastic {line_speed_budget_J_kg.elastic:+3}, surface "
             "{line_speed_budget_J_kg.surface_tension:+3} J/kg");
    rows.row("converged", e.jet.convergence);
  }
  rows.say("temperature", "down to {lowest_temperature_degC:.0} degC, {end_temperature_degC:.0} degC at the end");
  if (e.jet.solidified)
    rows.row("solid", "after " + length_text(e.jet.solidification_distance_m) + " of jet (" +
                          e.jet.solidification_kind + "); draw is frozen from there");
  rows.say("tension", std::string("up to {tension_ratio:2} times the momentum flux (") +
                          (inertial ? "left out of the inertial tier)" : "part of the solution)"));
}

Section decided_words(Rows rows, const model::Estimate& e, bool fed) {
  Section out{"How it was decided"};
  for (const auto* why : {&e.threads_why, &e.line_why})
    for (const std::string& sentence : *why) out.blocks.emplace_back(Sentence{sentence});
  say_orifice(rows, e, fed);
  const bool drips = e.as_line.fibre_class == model::FibreClass::dripping;
  if (e.jet.status == model::Status::done && e.orifice.flow_m3_s > 0.0 && !drips) say_jet(rows, e);
  out.blocks.emplace_back(rows.take());
  return out;
}

Section variant_rows(const Json& variants, const Json& own) {
  Rows out(own, own);
  for (const Json& variant : variants) {
    const Json numbers{{"results", variant}};
    const Rows rows(numbers, own);
    std::string what = "does not converge";
    if (variant.at("status") == to_string(model::Status::done))
      what = variant.at("reached_collector").get<bool>()
                 ? rows.said("dry diameter {dry_diameter_um:um}, lands with {residual_solvent:%1} wt% solvent")
                 : rows.said("the jet does not arrive: {end_radius_mm:.0} mm of {collector_radius_mm:.0}");
    out.row(variant.at("change").get<std::string>(), what);
  }
  return {{}, "", {out.take()}};
}

Section air_words(Rows rows) {
  rows.say("assumed", "air turns at {air_swirl:2} of the wall's speed there, axial drag x {axial_drag_factor}");
  return {"If the air is not as assumed",
          "",
          {Sentence{"An uncertainty of the model; no measurement on the solution removes it."}, rows.take()}};
}

Section gas_words(Rows rows, const model::GasReport& g, bool fed) {
  rows.say("from a layer of",
           std::string("{gas.breakthrough_layer_mm:.2} mm") +
               (fed ? "; the pump keeps {gas.moment.layer_mm:.2} mm"
                    : ", when {gas.charge_left:%0} % of the charge is left; {gas.layer_at_start_mm:.2} mm at the "
                      "start"));
  rows.say("gas leaves", std::string(g.choked ? "choked" : "below the speed of sound") +
                             ", Mach {gas.exit_mach:.2} at {gas.exit_temperature_degC:.0} degC; "
                             "{gas.jet_speed_m_s:.0} m/s expanded to the room; an open orifice blows "
                             "{gas.open_orifice_flow_mg_s:2} mg/s");
  constexpr const char* kFills =
      "gas fills {gas.moment.gas_share_of_orifice:%0} % of an orifice ({gas.moment.gas_flow_mg_s:2} mg/s)";
  if (fed) rows.say("fed", kFills);
  else
    rows.say("half of that gone", std::string("layer {gas.moment.layer_mm:.2} mm, ") + kFills +
                                      ", liquid flow x {gas.moment.liquid_flow_ratio:2}");
  rows.say("gas over the liquid", std::string("Weber number {gas.moment.air_weber} where they leave") +
                                      (g.air_weber > engine::kWindBreakup ? ": more than thin liquid withstands" : ""));
  rows.say("over the run",
           "{gas.run_mean_with_um:um} mean with gas, {gas.run_mean_without_um:um} without (by fibre length)");
  return {"When gas breaks through",
          "",
          {Sentence{"One line at that moment; our own closures."}, rows.take()}};
}

Section rests_words(const model::Estimate& e) {
  static constexpr const char* kOrigins[] = {"measured", "library", "estimated", "ASSUMED"};
  List list;
  for (const model::NamedProperty& named : e.properties) {
    const model::Property& p = named.property;
    if (p.origin == model::Origin::library) continue;
    list.items.emplace_back(named.key + " " + number_text(p.value, 4) + (named.unit == "1" ? "" : " " + named.unit) +
                            ", " + kOrigins[static_cast<int>(p.origin)] + " +-" + percent(p.relative_sd, 2) + ": " +
                            p.source);
  }
  return {"What it rests on", "", {Sentence{"One standard deviation; library values in --json."}, list}};
}

}  // namespace

EstimateWords estimate_words(const study::LoadedCase& loaded, const model::Estimate& e, const Json& numbers) {
  EstimateWords out;
  const model::CaseInput& input = loaded.file.input;
  out.cautions = {"Caution", "", {Sentence{io::caution(input, loaded.library.solvent(input.solution.solvent))}}};
  out.warnings = warnings_words(loaded, e);
  if (e.status != model::Status::done) return out;
  const bool fed = input.operation.feed_rate_m3_s.has_value();
  const Json own = own_numbers(loaded, e);
  const Rows rows(numbers, own);
  out.result = result_words(rows, loaded, e);
  out.decided = decided_words(rows, e, fed);
  const bool drips = e.fibre_class == model::FibreClass::dripping;
  if (!e.air_variants.empty() && !drips) {
    out.air = air_words(rows);
    out.air_rows = variant_rows(numbers.at("air_variants"), own);
  }
  if (e.gas.predicted && !drips) {
    out.gas = gas_words(rows, e.gas, fed);
    out.gas_rows = variant_rows(numbers.at("gas").at("variants"), own);
  }
  out.rests = rests_words(e);
  return out;
}

}  // namespace whorl::answer
