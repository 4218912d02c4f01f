#include "whorl/engine/estimate.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "model/normal.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/engine/jet_variants.hpp"
#include "whorl/engine/line_band.hpp"
#include "whorl/engine/line_jet.hpp"
#include "whorl/engine/outcomes.hpp"
#include "whorl/engine/run_count.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/engine/spin_up.hpp"

namespace whorl::engine {
namespace {

// The moment that torn threads are reported for: half of the liquid that is left at full settings, or when gas goes
// through later, has gone. Gas that went through while the vessel still sped up and not after: the last moment of the
// start.
struct ThreadMoment {
  Setup setup;
  OrificeSolution orifice;
};

bool pressure_fell(const Setup& setup, const OrificeSolution& at) {
  return at.flow.gas_overpressure_Pa < kAllOfSupply * setup.input.operation.gas_overpressure_Pa;
}

// Where the supply gives out the pressure falls along the run, and with it the size changes: half of what leaves from
// then on that gas goes through for good has gone, also where that is before full settings.
std::optional<ThreadMoment> earlier_moment(const Setup& setup, const SpinUp& start, double heel_m3) {
  if (!start.lasting_gas.goes()) return {};
  const double half = 0.5 * (heel_m3 + start.lasting_gas.volume_m3);
  if (half <= start.volume_left_m3) return {};
  StartMoment moment = start_moment(setup, start, half);
  if (!(moment.orifice.flow.gas_flow_kg_s > 0.0)) return {};
  return ThreadMoment{std::move(moment.setup), std::move(moment.orifice)};
}

ThreadMoment thread_moment(const Setup& setup, const SpinUp& start, const RunDown& down) {
  const double heel = down.summary.heel_volume_m3;
  if (setup.input.operation.feed_rate_m3_s)
    return {setup, solve_orifice(setup, setup.input.operation.charge_volume_m3)};
  if (down.summary.breakthrough) {
    const double from = down.summary.breakthrough_left * start.volume_left_m3;
    OrificeSolution late = solve_orifice(setup, 0.5 * (heel + from));
    if (late.flow.gas_flow_kg_s > 0.0 && pressure_fell(setup, late))
      if (auto earlier = earlier_moment(setup, start, heel)) return std::move(*earlier);
    if (late.flow.gas_flow_kg_s > 0.0) return {setup, std::move(late)};
  }
  for (auto moment = start.moments.rbegin(); moment != start.moments.rend(); ++moment)
    if (moment->orifice.flow.gas_flow_kg_s > 0.0) return {moment->setup, moment->orifice};
  return {setup, {}};
}

void describe(const Setup& setup, model::Estimate& result) {
  const model::Fluid& fluid = setup.fluid;
  result.tier = setup.input.model.tier == model::Tier::tension ? "tension" : "inertial";
  result.drying_model = setup.input.model.drying == model::DryingModel::radial ? "radial" : "lumped";
  result.properties = fluid.properties;
  result.warnings = fluid.warnings;
  result.polymer_mass_fraction = fluid.initial.polymer_mass_fraction;
  result.polymer_volume_fraction = fluid.initial.polymer_volume_fraction;
  result.polymer_concentration_kg_m3 = fluid.initial.concentration_kg_m3;
  result.solution_density_kg_m3 = fluid.initial.density_kg_m3;
  result.entanglement_number = fluid.entanglement_number;
  result.excess_draw = setup.input.model.excess_draw;
}

// Probabilities of the two answers, and which of them is the headline.
void choose_answer(const Setup& setup, const model::TearingChance& chance, model::Estimate& e) {
  const model::ModelInput& m = setup.input.model;
  const bool thicker = e.line_diameter_m > 0.0 && e.threads.dry_diameter_m >= e.line_diameter_m;
  double probability = e.threads.predicted && !thicker ? chance.probability : 0.0;
  if (e.threads.predicted && !thicker && m.tearing == model::Tearing::threads) probability = 1.0;
  if (m.tearing == model::Tearing::line) probability = 0.0;
  e.chance = chance;
  e.chance.probability = probability;
  e.as_threads.probability = probability;
  e.as_line.probability = 1.0 - probability;
  e.torn = probability > m.tearing_quantile;
  e.outcomes = mixed(e.as_threads.outcomes, e.as_line.outcomes, probability);
}

// Jets that an estimate solves besides the first, when its run has so many moments: the run, the airs, the other run
// with gas or without.
std::size_t jets_besides(const EstimateOptions& options, std::size_t moments, bool gas) {
  constexpr std::size_t kAirs = 4;
  constexpr std::size_t kGasVariants = 3;
  const std::size_t run = options.run_distribution ? moments : 0;
  return run + (options.air_variants ? kAirs : 0) + (options.gas_variants && gas ? run + kGasVariants : 0);
}

jet::Effort effort_of(const EstimateOptions& options) {
  switch (options.closeness) {
    case Closeness::sample: return jet::Effort::sample;
    case Closeness::map_point: return jet::Effort::point;
    case Closeness::full: break;
  }
  return jet::Effort::headline;
}

model::Warning without_tension_after_all(const model::Jet& jet) {
  return {"tension-not-converged", "The tension tier did not converge (" + jet.convergence +
                                       "): the line is followed by momentum and air alone; its diameter may jump "
                                       "against neighbouring settings."};
}

Lines lines_of(const EstimateOptions& options, bool torn) {
  if (!torn || options.both_runs) return Lines::all;
  return options.last_digit ? Lines::all_or_none : Lines::where_close;
}

}  // namespace

model::Estimate estimate(const Setup& setup, const EstimateOptions& options) {
  model::Estimate result;
  constexpr std::size_t kUsualStart = 2;  // moments before full settings
  RunShare run_count(options.run_count,
                     1 + jets_besides(options, static_cast<std::size_t>(setup.input.numerics.run_points) + kUsualStart,
                                      setup.input.operation.gas_overpressure_Pa > 0.0));
  describe(setup, result);
  const OrificeSolution first = solve_orifice(setup, setup.input.operation.charge_volume_m3);
  result.charge = first.charge;
  result.orifice = first.flow;
  if (first.status != model::Status::done) {
    result.reason = first.reason;
    return result;
  }
  const auto finish = [&](std::string reason) {
    result.status = model::Status::done;
    result.reason = std::move(reason);
    add_groups(setup, result);
    add_warnings(setup, result);
  };
  if (!(first.flow.flow_m3_s > 0.0)) {
    classify(setup, result);
    choose_answer(setup, {}, result);
    finish(first.reason);
    return result;
  }
  const model::Fluid& fluid = setup.fluid;
  jet::JetOptions jets = jet_options(setup);
  jets.keep_profile = options.keep_profile;
  jets.audit = options.audit;
  jet::TensionMemory near;
  if (options.from) near = *options.from;
  LineJet line = solve_jet(setup, setup.jet_context(first.flow), jets, near, effort_of(options));
  const bool fell_back = line.fell_back;
  result.jet = std::move(line.jet);
  run_count.one_more();
  if (options.leave != nullptr) *options.leave = near;
  result.excess_draw = draw_of(setup, result.jet);
  if (fell_back) result.warnings.push_back(without_tension_after_all(result.jet));
  const double polymer_flow = first.flow.flow_m3_s * fluid.initial.concentration_kg_m3 / fluid.polymer_density_kg_m3;
  result.kinematic_bound_m =
      model::kinematic_bound_m(polymer_flow, setup.input.operation.rotation_speed_rad_s, setup.collector_radius_m());
  // Far below jetting there is no steady jet to march: that is a result, not a failure.
  const bool slow = first.flow.weber < first.flow.critical_weber;
  const PullOff pull = pull_off(setup, first.flow);
  const bool drips = slow && !pull.as_thread;
  const bool jet_done = result.jet.status == model::Status::done;
  // without tension the march knows nothing of the zone in which a thick liquid is drawn out
  if (jet_done && !drips && setup.input.model.tier == model::Tier::inertial)
    result.jet.capillary_gain = std::max(result.jet.capillary_gain, pull.gain);
  if (!jet_done && !drips) {
    result.reason = result.jet.reason;
    return result;
  }
  if (jet_done && ends_as_fibre(result.jet))
    result.line_diameter_m = result.jet.dry_diameter_m / std::sqrt(result.excess_draw);

  // The run, from rest to the heel.
  const SpinUp start = spin_up(setup);
  if (start.status != model::Status::done) {
    result.reason = start.reason;
    return result;
  }
  const OrificeSolution full = solve_orifice(setup, start.volume_left_m3);
  const RunDown down = run_down(setup, full, {static_cast<int>(setup.input.numerics.run_points)});
  if (down.status != model::Status::done) {
    result.reason = down.reason;
    return result;
  }
  compose_run(setup, start, down, result);
  if (setup.input.operation.feed_rate_m3_s) result.spilled_by_feed = 1.0 - down.summary.emptied_fraction;
  result.run.wet_throughput_kg_s = setup.vessel.orifice_count * first.flow.flow_m3_s * fluid.initial.density_kg_m3;
  result.run.polymer_throughput_kg_s =
      setup.vessel.orifice_count * first.flow.flow_m3_s * fluid.initial.concentration_kg_m3;

  // Two answers.
  const ThreadMoment moment = thread_moment(setup, start, down);
  model::TearingChance chance;
  report_threads(moment.setup, moment.orifice, options.keep_profile, result, chance);
  classify(setup, result);
  choose_answer(setup, chance, result);
  take_headline(result);

  EstimateOptions what = options;
  const bool no_line = !jet_done || result.as_line.fibre_class == model::FibreClass::dripping;
  if (no_line) what.air_variants = what.gas_variants = false;
  run_count.plan(no_line ? 0 : jets_besides(what, result.run.points.size(), result.run.breakthrough));
  std::vector<Solved> solved;
  if (what.run_distribution) {
    if (!no_line) solved = follow_run(setup, start, near, lines_of(what, result.torn), run_count, result);
    else mark_threads(setup, start, result);
    summarise_run(result.torn, result);
  }
  if (what.air_variants) vary_air(setup, first.flow, near, run_count, result);
  report_gas(setup, first, near, solved, what, run_count, result);
  finish(result.fibre_class == model::FibreClass::dripping ? "drips"
         : jet_done                                        ? result.jet.reason
                                                           : "gas tears the liquid");
  return result;
}

model::Estimate estimate(const model::CaseInput& input, const model::Library& library, const EstimateOptions& options) {
  RunShare run_count(options.run_count, options.band ? 1 : 0);
  model::Estimate result = estimate(resolve(input, library), options);
  if (!options.band || result.status != model::Status::done || !(result.line_diameter_m > 0.0)) return result;
  const LineBand band = line_band(input, library);
  run_count.one_more();
  if (!band.made) return result;
  result.as_line.low_m = result.line_diameter_m * std::exp(-model::kNormal95 * band.log_sd);
  result.as_line.high_m = result.line_diameter_m * std::exp(model::kNormal95 * band.log_sd);
  for (const BandPart& part : band.parts)
    result.line_doubts.push_back({part.property.empty() ? part.key : part.property, part.log_sd});
  return result;
}

}  // namespace whorl::engine
