// The tables of an estimate: names, units and values of every number, for machines and for people.
#include <algorithm>
#include <initializer_list>
#include <utility>

#include "answer/estimate_statement.hpp"
#include "io/names.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/published_trends.hpp"

namespace whorl::answer {
namespace {

using namespace document;

Value when(bool known, double value) { return known ? Value(value) : Value(); }
Value whole(std::size_t count) { return static_cast<std::int64_t>(count); }
Value words(std::string_view text) { return std::string(text); }

Value shown_unit(std::string_view unit) { return words(unit == "1" ? std::string_view() : unit); }

Quantities facts(std::initializer_list<std::pair<const char*, Value>> list) {
  Quantities out;
  for (const auto& [key, value] : list) out.rows.push_back(document::fact(key, value));
  return out;
}

Section titled(const char* title, Table table) {
  return {table.rows.empty() ? document::Text() : title, "", {std::move(table)}};
}

Section machines(std::string key, std::vector<document::Block> blocks) {
  return {{}, std::move(key), std::move(blocks), false, true};
}

Section answer_section(const char* name, const model::Answer& a) {
  Quantities rows = facts({
      {"answer", words(name)}, {"probability", a.probability}, {"class", words(to_string(a.fibre_class))},
      {"landing", words(to_string(a.landing))}});
  if (a.diameter_m > 0.0) rows.rows.push_back(document::fact("diameter_um", 1e6 * a.diameter_m));
  if (a.low_m > 0.0) {
    rows.rows.push_back(document::fact("diameter_low_um", 1e6 * a.low_m));
    rows.rows.push_back(document::fact("diameter_high_um", 1e6 * a.high_m));
  }
  const model::Outcomes& o = a.outcomes;
  const Quantities outcomes = facts(
      {{"even", o.even}, {"beaded", o.beaded}, {"drops", o.drops}, {"wet", o.wet}, {"nothing", o.none}});
  return machines("", {rows, machines("outcomes", {outcomes})});
}

Section answers_section(const model::Estimate& e) {
  Section answers{{}, "answers", {answer_section("one line per orifice", e.as_line)}, true, true};
  if (e.threads.predicted)
    answers.blocks.insert(e.torn ? answers.blocks.begin() : answers.blocks.end(),
                          answer_section("torn threads", e.as_threads));
  Section out = machines("", {answers});
  if (e.threads.predicted) {
    const model::TearingChance& c = e.chance;
    const Quantities rows = facts({
        {"probability", c.probability}, {"by_share", c.by_share}, {"by_weber", c.by_weber},
        {"by_supply", c.by_supply}, {"share_with_gas", c.share_with_gas}, {"gas_weber", c.gas_weber},
        {"critical_weber", c.critical_weber}, {"ohnesorge", c.ohnesorge}, {"mass_closure", e.threads.mass_closure},
        {"momentum_closure", e.threads.momentum_closure}, {"energy_closure", e.threads.energy_closure}});
    out.blocks.emplace_back(machines("tearing", {rows}));
  }
  Table doubts{"line_doubts", {}, {{"key", {}}, {"log_sd", {}}}, {}};
  for (const model::Doubt& doubt : e.line_doubts) doubts.rows.push_back({doubt.key, doubt.log_sd});
  Table trends{"published_trends", {}, {
      {"key", {}}, {"published", {}}, {"exponent", {}}, {"sd", {}}, {"how_sure", {}}, {"source", {}}}, {}};
  for (const model::PublishedTrend& t : model::published_trends())
    if (t.with_gas == e.torn)
      trends.rows.push_back({words(t.key), words(t.words), t.exponent, t.sd, words(t.how_sure), words(t.source)});
  out.blocks.emplace_back(doubts);
  out.blocks.emplace_back(trends);
  return out;
}

Section groups_section(const model::Estimate& e) {
  Table table{"groups", {}, {
      {"key", "group"}, {"symbol", "symbol"}, {"definition", "definition"}, {"value", "value"}}, {}};
  for (const model::Group& group : e.groups)
    table.rows.push_back({group.key, group.symbol, group.definition, group.value});
  return titled("Dimensionless groups", table);
}

Section properties_section(const model::Estimate& e) {
  static constexpr const char* kOrigins[] = {"measured", "library", "estimated", "assumed"};
  Table table{"properties", {}, {
      {"property", "property"}, {"symbol", "symbol"}, {"value", "value"}, {"unit", {}}, {"", "unit"},
      {"relative_sd", {}}, {"", "doubt", "%", 2}, {"origin", "origin"}, {"source", "source"}}, {}};
  table.named = true;
  for (const model::NamedProperty& named : e.properties) {
    const model::Property& p = named.property;
    table.rows.push_back({named.key, named.symbol, p.value, named.unit, shown_unit(named.unit), p.relative_sd,
                          100.0 * p.relative_sd, words(kOrigins[static_cast<int>(p.origin)]), p.source});
  }
  return titled("Properties of the solution", table);
}

// Budget of the line speed, balances and work of the jet.
Section budget_section(const model::Estimate& e) {
  const auto& b = e.jet.budget;
  Quantities budget;
  const auto share = [&](std::string key, double value) {
    std::string part = key;
    std::replace(part.begin(), part.end(), '_', '-');
    const io::PartName* name = io::part_name(part);
    budget.rows.push_back({std::move(key), name == nullptr ? "together" : name->words, value, "J/kg"});
  };
  share("centrifugal", b.centrifugal_J_kg);
  share("gravity", b.gravity_J_kg);
  share("air_drag", b.air_drag_J_kg);
  share("viscous", b.viscous_J_kg);
  share("elastic", b.elastic_J_kg);
  share("surface_tension", b.surface_tension_J_kg);
  share("solid_constraint", b.solid_constraint_J_kg);
  share("gas", b.gas_J_kg);
  share("total", b.total_J_kg);
  Section out{"What makes the line speed, as half its square", "", {Section{{}, "line_speed_budget_J_kg", {budget}}}};
  out.for_machines = e.as_line.fibre_class == model::FibreClass::dripping;
  if (e.jet.balances_known) {
    const auto& c = e.jet.balances;
    const Quantities closure = facts(
        {{"polymer", c.polymer}, {"solvent", c.solvent}, {"momentum", c.momentum}, {"energy", c.energy}});
    out.blocks.emplace_back(machines("balances_relative", {closure}));
  }
  const auto& w = e.jet.work;
  const Quantities work = facts({
      {"rhs_evaluations", whole(w.rhs_evaluations)}, {"steps", whole(w.steps)}, {"rejected", whole(w.rejected)},
      {"jacobians", whole(w.jacobians)}, {"newton_iterations", whole(w.newton_iterations)},
      {"mesh_nodes", whole(w.mesh_nodes)}});
  out.blocks.emplace_back(machines("work", {work}));
  return out;
}

Section run_section(const study::LoadedCase& loaded, const model::Estimate& e) {
  Table table{"run", {}, {
      {"time_s", "time", "s"}, {"emptied_fraction", {}}, {"", "emptied", "%", 3},
      {"orifice_flow_mL_min", "flow of one orifice", "mL/min"}, {"driving_pressure_kPa", {}}, {"line_speed_m_s", {}},
      {"dry_diameter_um", "dry diameter", "um"}, {"fibre_length_share", {}}, {"", "share of fibre length", "%", 3},
      {"torn", {}}, {"line_diameter_um", {}}, {"thread_diameter_um", {}}, {"mass_share", {}}}, {}};
  table.sparse = true;
  const double leaves =
      (loaded.file.input.operation.charge_volume_m3 - e.charge.spilled_volume_m3) * e.run.emptied_fraction;
  for (const auto& point : e.run.points) {
    const bool fibre = point.dry_diameter_m > 0.0;
    table.rows.push_back(
        {point.time_s, point.emptied_fraction, 100.0 * point.emptied_fraction, 6e7 * point.orifice.flow_m3_s,
         1e-3 * point.orifice.driving_pressure_Pa,
         when(point.jet_status == model::Status::done && point.reached_collector, point.line_speed_m_s),
         when(fibre, 1e6 * point.dry_diameter_m), when(fibre, point.fibre_length_weight),
         when(fibre, 100.0 * point.fibre_length_weight), fibre ? Value(point.torn) : Value(),
         when(point.line_diameter_m > 0.0, 1e6 * point.line_diameter_m),
         when(point.thread_diameter_m > 0.0, 1e6 * point.thread_diameter_m),
         point.volume_m3 / leaves});
  }
  return titled("The run", table);
}

Table variants_table(const char* key, const std::vector<model::AirVariant>& variants) {
  Table table{key, {}, {
      {"key", {}}, {"change", "changed"}, {"status", {}}, {"reached_collector", "arrives"},
      {"dry_diameter_um", "dry diameter", "um"}, {"residual_solvent", {}}, {"", "solvent", "wt%", 3},
      {"line_speed_m_s", "line speed", "m/s"}, {"end_radius_mm", {}}, {"turns", {}}}, {}};
  table.sparse = true;
  for (const model::AirVariant& v : variants) {
    const bool done = v.status == model::Status::done;
    table.rows.push_back({v.key, v.text, words(to_string(v.status)), v.reached_collector,
                          when(v.reached_collector, 1e6 * v.dry_diameter_m),
                          when(v.reached_collector, v.residual_solvent),
                          when(v.reached_collector, 100.0 * std::max(0.0, v.residual_solvent)),
                          when(v.reached_collector, v.line_speed_m_s), when(done, 1e3 * v.end_radius_m),
                          when(v.reached_collector, v.turns)});
  }
  return table;
}

Section gas_section(const model::Estimate& e) {
  const model::GasReport& g = e.gas;
  const Quantities state = facts({
      {"breakthrough_layer_mm", 1e3 * e.run.breakthrough_layer_m},
      {"layer_at_start_mm", 1e3 * e.charge.layer_thickness_m}, {"charge_left", e.run.breakthrough_left},
      {"choked", g.choked}, {"pressure_ratio", g.pressure_ratio}, {"exit_mach", g.exit_mach},
      {"exit_temperature_degC", g.exit_temperature_K - 273.15}, {"jet_speed_m_s", g.jet_speed_m_s}});
  Quantities moment = facts({{"layer_mm", 1e3 * g.layer_thickness_m}, {"gas_share_of_orifice", g.gas_share}});
  if (g.liquid_flow_ratio > 0.0) moment.rows.push_back(document::fact("liquid_flow_ratio", g.liquid_flow_ratio));
  moment.rows.push_back(document::fact("gas_flow_mg_s", 1e6 * g.gas_flow_kg_s));
  moment.rows.push_back(document::fact("air_weber", g.air_weber));
  Quantities run;
  const auto run_fact = [&](const char* key, double value, double scale) {
    if (value > 0.0) run.rows.push_back(document::fact(key, scale * value));
  };
  run_fact("run_mean_with_um", g.run_mean_with_m, 1e6);
  run_fact("run_mean_without_um", g.run_mean_without_m, 1e6);
  run_fact("run_time_with_s", g.run_time_with_s, 1.0);
  const Section variants = titled("One line when half of the liquid left at break-through has gone",
                                  variants_table("variants", g.variants));
  const Quantities open = facts({{"open_orifice_flow_mg_s", 1e6 * g.open_flow_kg_s}});
  return {{}, "gas", {state, machines("moment", {moment}), open, variants, run}};
}

}  // namespace

document::Table results_table(const model::Estimate& e) {
  Table table{"results", {}, {
      {"column", {}}, {"", "quantity"}, {"", "symbol"}, {"value", "value"}, {"", "unit"}}, {}};
  table.named = true;
  for (const io::Output& output : io::outputs()) {
    const auto value = io::output_value(output, e);
    if (!value) continue;
    table.rows.push_back({words(output.column), words(output.description), words(output.symbol),
                          output.kind == io::OutputKind::boolean ? Value(*value != 0.0) : Value(*value),
                          shown_unit(output.unit)});
  }
  return table;
}

EstimateNumbers estimate_numbers(const study::LoadedCase& loaded, const model::Estimate& e) {
  EstimateNumbers out;
  const bool done = e.status == model::Status::done;
  if (done) out.answers = answers_section(e);
  out.results = titled("Results", results_table(e));
  out.groups = groups_section(e);
  out.properties = properties_section(e);
  if (e.jet.status == model::Status::done) out.budget = budget_section(e);
  out.run = run_section(loaded, e);
  out.air = titled("One line in other air", variants_table("air_variants", e.air_variants));
  if (e.gas.predicted) out.gas = gas_section(e);
  out.air.for_machines = out.gas.for_machines = e.fibre_class == model::FibreClass::dripping;
  return out;
}

}  // namespace whorl::answer
