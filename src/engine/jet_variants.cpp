#include "whorl/engine/jet_variants.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/jet_end.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::engine {

double draw_of(const Setup& setup, const model::Jet& jet) {
  return model::excess_draw(setup.input.model.excess_draw, setup.input.model.flapping_draw, jet.air_weber);
}

namespace {

// The collector holds this line all the way, and would if its end flew twice as fast without being held.
bool surely_caught(const model::JetContext& context, const model::Jet& jet) {
  constexpr double kMargin = 2.0;
  const double flight = model::free_flight_speed(context.exit_speed_m_s, context.speed_rad_s, context.outer_radius_m,
                                                 context.collector_radius_m);
  return jet.collector_hold == 1.0 && jet.free_end_speed_m_s > 0.0 &&
         kMargin * jet.free_end_speed_m_s < kCaught * flight;
}

struct OneVariant {
  model::AirVariant said;
  model::Jet jet;
  jet::TensionMemory left;
};

// `near`: solution of a jet close to this one, by value: each variant starts from the same.
OneVariant solved_variant(const Setup& setup, const char* key, const char* text, const model::JetContext& context,
                          jet::TensionMemory near) {
  model::Jet jet = solve_jet(setup, context, jet_options(setup), near, jet::Effort::companion).jet;
  model::AirVariant variant;
  variant.key = key;
  variant.text = text;
  variant.status = jet.status;
  variant.reached_collector = jet.reached_collector;
  variant.end_radius_m = jet.end_radius_m;
  variant.turns = jet.turns;
  if (jet.reached_collector) {
    const double draw = draw_of(setup, jet);
    variant.dry_diameter_m = jet.dry_diameter_m / std::sqrt(draw);
    variant.line_speed_m_s = jet.end_speed_m_s * draw;
    variant.residual_solvent = jet.residual_solvent;
  }
  return {std::move(variant), std::move(jet), std::move(near)};
}

model::AirVariant variant_of(const Setup& setup, const char* key, const char* text, const model::JetContext& context,
                             const jet::TensionMemory& near) {
  return solved_variant(setup, key, text, context, near).said;
}

}  // namespace

void vary_air(const Setup& setup, const model::OrificeFlow& flow, const jet::TensionMemory& first, RunShare& run_count,
              model::Estimate& estimate) {
  struct Change {
    const char* key;
    const char* text;
    double swirl;        // negative: as in the case
    double axial_factor;
  };
  static constexpr Change kChanges[] = {{"still-air", "air still right up to the vessel", 0.0, 1.0},
                                        {"carried-air", "air carried along by the vessel wall", 1.0, 1.0},
                                        {"half-axial-drag", "half the drag along the jet", -1.0, 0.5},
                                        {"double-axial-drag", "twice the drag along the jet", -1.0, 2.0}};
  for (const Change& change : kChanges) {
    model::Air air = setup.air;
    if (change.swirl >= 0.0) air.swirl_speed_rad_s = change.swirl * setup.input.operation.rotation_speed_rad_s;
    air.axial_drag_factor *= change.axial_factor;
    model::JetContext context = setup.jet_context(flow);
    context.air = &air;
    estimate.air_variants.push_back(variant_of(setup, change.key, change.text, context, first));
    run_count.one_more();
  }
}

void report_gas(const Setup& setup, const OrificeSolution& start, const jet::TensionMemory& near,
                const std::vector<Solved>& solved, const EstimateOptions& options, RunShare& run_count,
                model::Estimate& estimate) {
  const model::RunSummary& run = estimate.run;
  if (!run.breakthrough) return;
  model::GasReport& gas = estimate.gas;
  gas.predicted = true;
  Setup with = setup;
  with.input.model.gas_breakthrough = model::GasBreakthrough::on;
  Setup without = setup;
  without.input.model.gas_breakthrough = model::GasBreakthrough::off;
  const double dry = std::min(model::wetting_volume_m3(setup.vessel, setup.input.operation.rotation_speed_rad_s),
                              start.charge.volume_m3);
  const double volume = 0.5 * (dry + run.breakthrough_left * start.charge.volume_m3);
  const OrificeSolution blown = solve_orifice(with, volume, start.near);
  const OrificeSolution full = solve_orifice(without, volume, start.near);
  const bool solved_both = blown.status == model::Status::done && full.status == model::Status::done;
  // what is set, or what a supply that gives out leaves of it
  const double overpressure =
      solved_both ? blown.flow.gas_overpressure_Pa : setup.input.operation.gas_overpressure_Pa;
  const model::GasExit exit = model::gas_exit(overpressure, setup.air);
  gas.choked = exit.choked;
  gas.pressure_ratio = exit.pressure_ratio;
  gas.exit_mach = exit.mach;
  gas.exit_temperature_K = exit.temperature_K;
  gas.jet_speed_m_s = exit.jet_speed_m_s;
  gas.open_flow_kg_s =
      exit.mass_flux_kg_m2_s * model::kPi * setup.vessel.orifice_radius_m * setup.vessel.orifice_radius_m;
  if (!solved_both || !(blown.flow.flow_m3_s > 0.0)) return;
  gas.layer_thickness_m = blown.charge.layer_thickness_m;
  gas.gas_share = blown.flow.gas_share;
  gas.gas_flow_kg_s = blown.flow.gas_flow_kg_s;
  const double liquid_diameter = 2.0 * setup.vessel.orifice_radius_m * std::sqrt(1.0 - blown.flow.gas_share);
  gas.air_weber = setup.air.density_kg_m3 * exit.jet_speed_m_s * exit.jet_speed_m_s * liquid_diameter /
                  setup.fluid.surface_tension_N_m;
  // a pump that gives less than the orifices draw from a bare film never fills them
  const bool may_be_full = !(full.flow.gas_share > 0.0);
  if (!setup.input.operation.feed_rate_m3_s) gas.liquid_flow_ratio = blown.flow.flow_m3_s / full.flow.flow_m3_s;
  if (!options.gas_variants) return;

  const bool is_on = setup.input.model.gas_breakthrough == model::GasBreakthrough::on;
  std::vector<Solved> solved_other;
  if (options.run_distribution) {
    Setup other = is_on ? without : with;
    other.input.model.splitting = model::Splitting::off;
    const SpinUp start_of_other = spin_up(other);
    const OrificeSolution first = solve_orifice(other, start_of_other.volume_left_m3);
    const RunDown down = run_down(other, first, {static_cast<int>(setup.input.numerics.run_points)});
    model::Estimate scratch;
    scratch.charge = estimate.charge;
    if (down.status == model::Status::done) {
      compose_run(other, start_of_other, down, scratch);
      solved_other = follow_run(other, start_of_other, near, Lines::all, run_count, scratch);
    }
    gas.run_mean_with_m = is_on ? estimate.line_run_mean_m : scratch.line_run_mean_m;
    if (may_be_full) gas.run_mean_without_m = is_on ? scratch.line_run_mean_m : estimate.line_run_mean_m;
    gas.run_time_with_s = is_on ? run.run_time_s : scratch.run.run_time_s;
  }
  const std::vector<Solved>& on = is_on ? solved : solved_other;
  const std::vector<Solved>& off = is_on ? solved_other : solved;
  const jet::TensionMemory& near_full = nearest(off, full.flow.flow_m3_s, near);
  const jet::TensionMemory& near_blown = nearest(on, blown.flow.flow_m3_s, near);
  model::JetContext less_liquid = with.jet_context(blown.flow);
  less_liquid.gas = {};
  if (may_be_full)
    gas.variants.push_back(
        variant_of(without, "orifices-full", "orifices full of liquid", without.jet_context(full.flow), near_full));
  run_count.one_more();
  OneVariant calm = solved_variant(with, "less-liquid", "less liquid, no wind of the gas", less_liquid, near_blown);
  gas.variants.push_back(std::move(calm.said));
  run_count.one_more();
  // a line that the collector holds in any case is held with the wind of the gas, too: its free end is not sought again
  gas.variants.push_back(variant_of(with, "gas-along-jet", "less liquid, gas along the jet",
                                    with.jet_context(blown.flow),
                                    surely_caught(less_liquid, calm.jet) ? calm.left : near_blown));
  run_count.one_more();
}

}  // namespace whorl::engine
