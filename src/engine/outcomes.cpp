#include "whorl/engine/outcomes.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/engine/classify.hpp"
#include "whorl/engine/jet_variants.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/engine/thread_flight.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::engine {
namespace {

using model::FibreClass;
using model::Landing;

double normal_share(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

std::string gain_text(const Flown& f) {
  // the gain is a logarithm
  const std::string grow =
      f.gain < 0.05 ? std::string("waves do not grow") : "waves grow by " + number_text(f.gain, 2) + " e-folds";
  return grow + " before " + (f.solidified ? "it is solid" : "it lands") + ", " + number_text(f.threshold, 3) +
         " would cut it";
}

std::string landing_text(const Flown& f) {
  switch (landing_of(f)) {
    case Landing::dry: return "lands dry";
    case Landing::firm: return "lands firm, with " + whole_percent(f.residual_solvent) + " solvent by mass inside";
    case Landing::tacky: return "lands tacky, with " + whole_percent(f.residual_solvent) + " solvent by mass";
    case Landing::wet: return "lands wet, with " + whole_percent(f.residual_solvent) + " solvent by mass";
    case Landing::none: break;
  }
  return "does not land";
}

Flown flown_line(const Setup& setup, const model::Estimate& e) {
  const model::Jet& jet = e.jet;
  Flown f;
  f.gain = jet.capillary_gain;
  f.threshold = setup.input.model.breakup_threshold;
  f.entanglement_number = e.entanglement_number;
  f.solidified = jet.solidified;
  f.solid_throughout = jet.solidified && jet.solid_throughout;
  f.residual_solvent = jet.residual_solvent;
  f.levelling_over_drying =
      jet.remaining_drying_time_s > 0.0 ? jet.levelling_time_s / jet.remaining_drying_time_s : 1e9;
  f.arrives = jet.reached_collector;
  if (!f.arrives) {
    f.radius_share = jet.end_radius_m / setup.collector_radius_m();
    f.solidified = ends_as_fibre(jet);
  }
  return f;
}

}  // namespace

model::Outcomes chances(const Flown& f) {
  model::Outcomes out;
  const double lands = f.arrives            ? 1.0
                       : f.radius_share > 0.0 ? normal_share(std::log(std::min(f.radius_share, 1.0)) / kFloatLogSd)
                                              : 0.0;
  out.none = 1.0 - lands;
  const double doubt = std::hypot(kThresholdSd, kGainRelativeSd * f.gain);
  const double broken = normal_share((f.gain - f.threshold) / doubt);
  const double held = normal_share(std::log(std::max(f.entanglement_number, 1e-9) / kFirstFibres) / kEntanglementLogSd);
  const double flows =
      f.solidified
          ? 0.0
          : 1.0 - normal_share(std::log(std::max(f.levelling_over_drying, 1e-12) / kWetRatio) / kLevellingLogSd);
  // a string of beads flows together like an even line; drops lie apart
  const double strung = 1.0 - broken * (1.0 - held);
  out.drops = lands * (1.0 - strung);
  out.wet = lands * strung * flows;
  out.beaded = lands * broken * held * (1.0 - flows);
  out.even = lands * (1.0 - broken) * (1.0 - flows);
  return out;
}

Landing landing_of(const Flown& f) {
  if (!f.arrives) return Landing::none;
  const bool keeps = f.solid_throughout || f.levelling_over_drying > kDryRatio;
  if (keeps) return f.residual_solvent <= jet::kDrySolventFraction ? Landing::dry : Landing::firm;
  return f.solidified || f.levelling_over_drying > kWetRatio ? Landing::tacky : Landing::wet;
}

model::Outcomes mixed(const model::Outcomes& threads, const model::Outcomes& line, double probability) {
  model::Outcomes both;
  for (const auto member : {&model::Outcomes::even, &model::Outcomes::beaded, &model::Outcomes::drops,
                            &model::Outcomes::wet, &model::Outcomes::none})
    both.*member = probability * threads.*member + (1.0 - probability) * line.*member;
  return both;
}

FibreClass likeliest(const model::Outcomes& o) {
  struct Row {
    double chance;
    FibreClass fibre_class;
  };
  // the earlier one where two are equal
  const Row rows[] = {{o.even, FibreClass::continuous}, {o.beaded, FibreClass::beaded}, {o.drops, FibreClass::drops},
                      {o.wet, FibreClass::wet_landing}, {o.none, FibreClass::stalled}};
  const Row* best = rows;
  for (const Row& row : rows)
    if (row.chance > best->chance) best = &row;
  return best->fibre_class;
}

model::Answer judge_line(const Setup& setup, const model::Estimate& e, std::vector<std::string>& why) {
  model::Answer answer;
  const Flown f = flown_line(setup, e);
  answer.outcomes = chances(f);
  answer.landing = landing_of(f);
  answer.fibre_class = likeliest(answer.outcomes);
  answer.diameter_m = e.line_diameter_m;
  if (!f.arrives) {
    static const std::string kStalled = "stalled: ";
    const std::string& reason = e.jet.reason;
    why.push_back("The jet does not reach the collector: " +
                  (reason.starts_with(kStalled) ? reason.substr(kStalled.size()) : reason) + ".");
    return answer;
  }
  why.push_back("One line per orifice: " + gain_text(f) + "; entanglement number " +
                number_text(f.entanglement_number, 3) + "; " + landing_text(f) + ".");
  return answer;
}

model::Answer judge_threads(const Setup& setup, const model::Estimate& e, std::vector<std::string>& why) {
  const model::ThreadReport& t = e.threads;
  Flown f;
  f.gain = t.capillary_gain;
  f.threshold = setup.input.model.breakup_threshold;
  f.entanglement_number = e.entanglement_number;
  f.solidified = f.solid_throughout = t.solidified;
  f.residual_solvent = t.residual_solvent;
  f.levelling_over_drying = t.remaining_drying_time_s > 0.0 ? t.levelling_time_s / t.remaining_drying_time_s : 1e9;
  model::Answer answer;
  answer.outcomes = chances(f);
  answer.landing = landing_of(f);
  answer.fibre_class = likeliest(answer.outcomes);
  answer.diameter_m = t.dry_diameter_m;
  answer.low_m = t.dry_diameter_m / kThreadBand;
  answer.high_m = t.dry_diameter_m * kThreadBand;
  why.push_back("Torn threads: " + gain_text(f) + "; entanglement number " + number_text(f.entanglement_number, 3) +
                "; " + landing_text(f) + ".");
  return answer;
}

void report_threads(const Setup& setup, const OrificeSolution& moment, bool keep_profile, model::Estimate& e,
                    model::TearingChance& chance) {
  const model::OrificeFlow& flow = moment.flow;
  const auto& fluid = setup.fluid;
  if (setup.input.model.splitting == model::Splitting::off || !(flow.gas_flow_kg_s > 0.0) || !(flow.flow_m3_s > 0.0))
    return;
  model::ThreadReport& t = e.threads;
  ThreadStart start;
  start.overpressure_Pa = flow.gas_overpressure_Pa;
  start.gas_kg_s = flow.gas_flow_kg_s;
  start.liquid_m3_s = flow.flow_m3_s;
  start.liquid_speed_m_s = flow.mean_speed_m_s;
  start.dry_diameter_m = thread_diameter_m(setup, flow);
  if (!(start.dry_diameter_m > 0.0)) return;
  t.predicted = true;
  t.humidity_factor = humidity_factor(setup, start);
  start.dry_diameter_m *= t.humidity_factor;
  t.dry_diameter_m = start.dry_diameter_m;
  const auto by = [&](model::ThreadLaw law) {
    Setup other = setup;
    other.input.model.thread_law = law;
    return thread_diameter_m(other, flow) * t.humidity_factor;
  };
  t.weber_law_m = by(model::ThreadLaw::weber);
  t.cascade_law_m = by(model::ThreadLaw::cascade);
  fly_threads(setup, start, t, kFlightSteps, keep_profile);

  const model::GasExit exit = model::gas_exit(flow.gas_overpressure_Pa, setup.air);
  t.gas_speed_m_s = exit.jet_speed_m_s;
  t.gas_density_kg_m3 = model::expanded_gas_density_kg_m3(exit, setup.air);
  const double pressure = t.gas_density_kg_m3 * t.gas_speed_m_s * t.gas_speed_m_s;
  const double d_o = 2.0 * setup.vessel.orifice_radius_m;
  const double sigma = fluid.surface_tension_N_m;
  t.gas_weber = pressure * d_o / sigma;
  t.thread_weber = pressure * t.wet_diameter_m / sigma;
  t.ohnesorge = (fluid.solvent_viscosity_Pa_s + fluid.polymer_viscosity_Pa_s) /
                std::sqrt(fluid.initial.density_kg_m3 * sigma * d_o);
  const double polymer = flow.flow_m3_s * fluid.initial.concentration_kg_m3 / fluid.polymer_density_kg_m3;
  t.threads = model::threads_per_orifice(polymer, t.dry_diameter_m, t.carry_speed_m_s);

  chance.gas_weber = t.gas_weber;
  chance.ohnesorge = t.ohnesorge;
  chance.critical_weber = model::tearing_weber(t.ohnesorge);
  chance.share_with_gas = e.run.share_with_gas;
  chance.supply_flow_m3_s = e.run.gas_supply_mean_m3_s;
  model::judge_tearing(chance, setup.input.operation.gas_supply_m3_s.has_value());
}

}  // namespace whorl::engine
