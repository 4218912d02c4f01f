#include "whorl/study/explain.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstddef>
#include <iterator>

#include "solver/root.hpp"
#include "whorl/model/orifice.hpp"
#include "whorl/model/splitting.hpp"

namespace whorl::study {
namespace {

// Relative tolerances: what is left beside them must be small against the change over a step.
constexpr double kMarchTolerance = 1e-7;
constexpr double kTensionTolerance = 1e-6;
constexpr double kStep = 0.005;       ///< in ln(input)
constexpr double kStepKelvin = 0.25;  ///< temperatures
// Linear: the slopes of the two halves differ by no more than this, and this share of the slope.
constexpr double kStraight = 5e-4, kStraightShare = 0.025;

// What fixes ln Q of a full orifice, each taken from one of two points.
enum Player : unsigned { kPressure, kRheology, kDensity, kBore, kLength, kPlayers };
constexpr unsigned kCoalitions = 1U << kPlayers;

struct FlowInputs {
  double driving_Pa{};
  model::FlowCurve curve;
  double density_kg_m3{};
  model::Vessel vessel;
};

FlowInputs flow_inputs(const OperatingPoint& point) {
  return {point.estimate.orifice.driving_pressure_Pa, point.setup.fluid.flow_curve,
          point.setup.fluid.initial.density_kg_m3, point.setup.vessel};
}

FlowInputs mixed(const FlowInputs& a, const FlowInputs& b, unsigned from_b) {
  FlowInputs out = a;
  const auto taken = [&](Player player) { return ((from_b >> player) & 1U) != 0; };
  if (taken(kPressure)) out.driving_Pa = b.driving_Pa;
  if (taken(kRheology)) out.curve = b.curve;
  if (taken(kDensity)) out.density_kg_m3 = b.density_kg_m3;
  if (taken(kBore)) out.vessel.orifice_radius_m = b.vessel.orifice_radius_m;
  if (taken(kLength)) out.vessel.orifice_length_m = b.vessel.orifice_length_m;
  return out;
}

// ln of the flow of a full orifice, discharge factor 1. False when no root was found.
bool log_flow(const FlowInputs& in, double& out) {
  const double diameter = 2.0 * in.vessel.orifice_radius_m;
  const double guess = std::log(in.driving_Pa * diameter /
                                (4.0 * in.vessel.orifice_length_m * model::shear_viscosity_Pa_s(in.curve, 1.0)));
  const auto mismatch = [&](double log_rate) {
    return std::log(model::orifice_losses(in.vessel, in.curve, in.density_kg_m3, std::exp(log_rate)).total_Pa() /
                    in.driving_Pa);
  };
  const solver::RootResult root =
      solver::find_monotone_root(mismatch, {guess, 0.5, guess - 80.0, guess + 80.0, 2.0}, {1e-15, 1e-13, 200});
  if (!root.found()) return false;
  const auto losses = model::orifice_losses(in.vessel, in.curve, in.density_kg_m3, std::exp(root.x));
  out = std::log(losses.mean_speed_m_s * model::kPi * in.vessel.orifice_radius_m * in.vessel.orifice_radius_m);
  return std::isfinite(out);
}

// Shapley's weight of a coalition of `size` others out of n players: size! (n - size - 1)! / n!
double shapley_weight(int size) {
  constexpr int n = static_cast<int>(kPlayers);
  double weight = 1.0 / n;
  for (int k = 1; k <= size; ++k) weight *= static_cast<double>(k) / static_cast<double>(n - k);
  return weight;
}

bool split_throughput(const OperatingPoint& a, const OperatingPoint& b, std::vector<Part>& parts) {
  const FlowInputs at_a = flow_inputs(a);
  const FlowInputs at_b = flow_inputs(b);
  std::array<double, kCoalitions> value{};
  for (unsigned s = 0; s < kCoalitions; ++s)
    if (!log_flow(mixed(at_a, at_b, s), value[s])) return false;
  std::array<double, kPlayers> share{};
  for (unsigned player = 0; player < kPlayers; ++player) {
    for (unsigned s = 0; s < kCoalitions; ++s) {
      if (((s >> player) & 1U) != 0) continue;
      share[player] += shapley_weight(std::popcount(s)) * (value[s | (1U << player)] - value[s]);
    }
  }
  // The pressure's share over its own four parts, each by its difference over the logarithmic mean of the pressures.
  const double mean = logarithmic_mean(at_a.driving_Pa, at_b.driving_Pa);
  const double ratio = std::log(at_b.driving_Pa / at_a.driving_Pa);
  double slope = 0.0;
  if (std::abs(ratio) > 1e-6) {
    slope = share[kPressure] / ratio;
  } else {  // pressures alike, their parts not: slope at the pressure itself
    constexpr double kNear = 1e-3;
    for (const FlowInputs* in : {&at_a, &at_b}) {
      FlowInputs low = *in;
      FlowInputs high = *in;
      low.driving_Pa *= std::exp(-kNear);
      high.driving_Pa *= std::exp(kNear);
      double low_flow = 0.0;
      double high_flow = 0.0;
      if (!log_flow(low, low_flow) || !log_flow(high, high_flow)) return false;
      slope += 0.5 * (high_flow - low_flow) / (2.0 * kNear);
    }
  }
  const model::OrificeFlow& fa = a.estimate.orifice;
  const model::OrificeFlow& fb = b.estimate.orifice;
  const auto pressure = [&](const char* key, double from, double to) {
    parts.push_back({key, 0.5 * slope * (to - from) / mean, from, to});
  };
  pressure("overpressure", fa.gas_overpressure_Pa, fb.gas_overpressure_Pa);
  pressure("centrifugal-head", fa.centrifugal_head_Pa, fb.centrifugal_head_Pa);
  pressure("hydrostatic-head", fa.hydrostatic_head_Pa, fb.hydrostatic_head_Pa);
  pressure("capillary", -fa.capillary_threshold_Pa, -fb.capillary_threshold_Pa);
  parts.push_back({"rheology", 0.5 * share[kRheology], fa.apparent_viscosity_Pa_s, fb.apparent_viscosity_Pa_s});
  parts.push_back({"inertia", 0.5 * share[kDensity], at_a.density_kg_m3, at_b.density_kg_m3});
  parts.push_back(
      {"orifice-diameter", 0.5 * share[kBore], 2.0 * at_a.vessel.orifice_radius_m, 2.0 * at_b.vessel.orifice_radius_m});
  parts.push_back({"orifice-length", 0.5 * share[kLength], at_a.vessel.orifice_length_m, at_b.vessel.orifice_length_m});
  const double factor_a = std::log(fa.flow_m3_s) - value.front();
  const double factor_b = std::log(fb.flow_m3_s) - value.back();
  parts.push_back({"discharge-and-gas", 0.5 * (factor_b - factor_a), std::exp(factor_a), std::exp(factor_b)});
  return true;
}

struct Energy {
  const char* key;
  double J_kg;
};
std::array<Energy, 10> energies(const OperatingPoint& point) {
  const model::ForceBudget& budget = point.estimate.jet.budget;
  const double end = 0.5 * point.estimate.jet.end_speed_m_s * point.estimate.jet.end_speed_m_s;
  const double start = 0.5 * point.estimate.orifice.mean_speed_m_s * point.estimate.orifice.mean_speed_m_s;
  const double rest = end - start - budget.centrifugal_J_kg - budget.gravity_J_kg - budget.air_drag_J_kg -
                      budget.viscous_J_kg - budget.elastic_J_kg - budget.surface_tension_J_kg -
                      budget.solid_constraint_J_kg - budget.gas_J_kg;
  return {{{"exit-speed", start},
           {"centrifugal", budget.centrifugal_J_kg},
           {"gravity", budget.gravity_J_kg},
           {"air-drag", budget.air_drag_J_kg},
           {"viscous", budget.viscous_J_kg},
           {"elastic", budget.elastic_J_kg},
           {"surface-tension", budget.surface_tension_J_kg},
           {"solid-constraint", budget.solid_constraint_J_kg},
           {"gas", budget.gas_J_kg},
           {"not-closed", rest}}};
}

void split_line_speed(const OperatingPoint& a, const OperatingPoint& b, std::vector<Part>& parts) {
  const double ua = a.estimate.jet.end_speed_m_s;
  const double ub = b.estimate.jet.end_speed_m_s;
  // ln(u_b/u_a) = (u_b^2 - u_a^2)/(2 L) = sum of (E_b - E_a)/L
  const double mean = logarithmic_mean(ua * ua, ub * ub);
  const auto at_a = energies(a);
  const auto at_b = energies(b);
  for (std::size_t k = 0; k < at_a.size(); ++k)
    parts.push_back({at_a[k].key, -0.5 * (at_b[k].J_kg - at_a[k].J_kg) / mean, at_a[k].J_kg, at_b[k].J_kg});
}

// Polymer volume per volume of solution as charged.
double solids(const OperatingPoint& point) {
  return point.setup.fluid.initial.concentration_kg_m3 / point.setup.fluid.polymer_density_kg_m3;
}

// The same ln Q by the balance of the orifice: ln Q = ln p_v + 4 ln d_o - ln eta_a - ln L + const, p_v what is left for
// friction.
void split_orifice(const OperatingPoint& a, const OperatingPoint& b, std::vector<Part>& parts) {
  const model::OrificeFlow& fa = a.estimate.orifice;
  const model::OrificeFlow& fb = b.estimate.orifice;
  const double mean = logarithmic_mean(fa.viscous_loss_Pa, fb.viscous_loss_Pa);
  const auto pressure = [&](const char* key, double from, double to) {
    parts.push_back({key, 0.5 * (to - from) / mean, from, to});
  };
  pressure("overpressure", fa.gas_overpressure_Pa, fb.gas_overpressure_Pa);
  pressure("centrifugal-head", fa.centrifugal_head_Pa, fb.centrifugal_head_Pa);
  pressure("hydrostatic-head", fa.hydrostatic_head_Pa, fb.hydrostatic_head_Pa);
  pressure("capillary", -fa.capillary_threshold_Pa, -fb.capillary_threshold_Pa);
  pressure("entrance", -fa.entrance_loss_Pa, -fb.entrance_loss_Pa);
  // the root of the balance is found to 1e-13 of the pressure: closing by difference keeps the sum exact
  pressure("kinetic", -(fa.driving_pressure_Pa - fa.entrance_loss_Pa - fa.viscous_loss_Pa),
           -(fb.driving_pressure_Pa - fb.entrance_loss_Pa - fb.viscous_loss_Pa));
  const auto logarithm = [&](const char* key, double power, double from, double to) {
    parts.push_back({key, 0.5 * power * std::log(to / from), from, to});
  };
  logarithm("apparent-viscosity", -1.0, fa.apparent_viscosity_Pa_s, fb.apparent_viscosity_Pa_s);
  logarithm("orifice-diameter", 4.0, 2.0 * a.setup.vessel.orifice_radius_m, 2.0 * b.setup.vessel.orifice_radius_m);
  logarithm("orifice-length", -1.0, a.setup.vessel.orifice_length_m, b.setup.vessel.orifice_length_m);
  const auto full = [](const OperatingPoint& point) {  // flow of the full orifice, discharge factor 1
    const model::OrificeFlow& f = point.estimate.orifice;
    const double d = 2.0 * point.setup.vessel.orifice_radius_m;
    return model::kPi * d * d * d * d * f.viscous_loss_Pa /
           (128.0 * f.apparent_viscosity_Pa_s * point.setup.vessel.orifice_length_m);
  };
  logarithm("discharge-and-gas", 1.0, fa.flow_m3_s / full(a), fb.flow_m3_s / full(b));
}

}  // namespace

std::string why_not_explained(const model::Estimate& e) {
  if (e.status != model::Status::done) return "not converged: " + e.reason;
  if (e.as_line.fibre_class == model::FibreClass::no_jet) return "no jet: " + e.reason;
  if (e.as_line.fibre_class == model::FibreClass::dripping) return "the orifices drip";
  if (e.jet.status != model::Status::done) return "jet not converged: " + e.jet.reason;
  if (!e.jet.reached_collector) {
    constexpr std::string_view kStalled = "stalled: ";
    const std::string& reason = e.jet.reason;
    return "the jet does not arrive: " + (reason.starts_with(kStalled) ? reason.substr(kStalled.size()) : reason);
  }
  if (e.as_line.fibre_class == model::FibreClass::drops) return "drops land, not a fibre";
  if (!(e.line_diameter_m > 0.0) || !(e.orifice.flow_m3_s > 0.0) || !(e.jet.end_speed_m_s > 0.0)) return "no diameter";
  return {};
}

double logarithmic_mean(double a, double b) {
  const double x = std::log(b / a);
  if (std::abs(x) < 1e-3) return std::sqrt(a * b) * (1.0 + x * x / 24.0 + x * x * x * x / 1920.0);
  return (b - a) / x;
}

ThreadSplit split_threads(const OperatingPoint& a, const OperatingPoint& b) {
  ThreadSplit split;
  const model::ThreadReport& ta = a.estimate.threads;
  const model::ThreadReport& tb = b.estimate.threads;
  const model::ThreadLaw law = a.setup.input.model.thread_law;
  if (!ta.predicted || !tb.predicted || law != b.setup.input.model.thread_law) return split;
  struct Powers {
    double speed, density, tension, orifice;
  };
  const Powers powers = law == model::ThreadLaw::length  ? Powers{-1.0, -0.5, 0.5, 0.0}
                        : law == model::ThreadLaw::weber ? Powers{-2.0, -1.0, 1.0, 0.0}
                                                         : Powers{-1.2, -0.6, 0.6, 0.4};
  split.total = std::log(tb.dry_diameter_m / ta.dry_diameter_m);
  const auto part = [&](const char* key, double power, double from, double to) {
    split.parts.push_back({key, power * std::log(to / from), from, to});
  };
  part("gas-speed", powers.speed, ta.gas_speed_m_s, tb.gas_speed_m_s);
  part("gas-density", powers.density, ta.gas_density_kg_m3, tb.gas_density_kg_m3);
  part("surface-tension", powers.tension, a.setup.fluid.surface_tension_N_m, b.setup.fluid.surface_tension_N_m);
  part("solids", 0.5, solids(a), solids(b));
  if (powers.orifice != 0.0)
    part("orifice-diameter", powers.orifice, 2.0 * a.setup.vessel.orifice_radius_m,
         2.0 * b.setup.vessel.orifice_radius_m);
  part("humidity", 1.0, ta.humidity_factor, tb.humidity_factor);
  part("thread-size-factor", 1.0, a.setup.input.model.thread_size_factor, b.setup.input.model.thread_size_factor);
  split.made = true;
  return split;
}

ChangeSplit split_change(const OperatingPoint& a, const OperatingPoint& b) {
  ChangeSplit split;
  split.threads = split_threads(a, b);
  for (const auto* point : {&a, &b}) {
    split.reason = why_not_explained(point->estimate);
    if (split.reason.empty()) continue;
    split.reason = (point == &a ? "first point: " : "second point: ") + split.reason;
    return split;
  }
  const model::Estimate& ea = a.estimate;
  const model::Estimate& eb = b.estimate;
  split.total = std::log(eb.line_diameter_m / ea.line_diameter_m);
  const auto part = [&](const char* key, double sign, double from, double to) {
    split.diameter.push_back({key, 0.5 * sign * std::log(to / from), from, to});
  };
  part("throughput", 1.0, ea.orifice.flow_m3_s, eb.orifice.flow_m3_s);
  part("solids", 1.0, solids(a), solids(b));
  part("line-speed", -1.0, ea.jet.end_speed_m_s, eb.jet.end_speed_m_s);
  part("excess-draw", -1.0, ea.excess_draw, eb.excess_draw);
  split_line_speed(a, b, split.line_speed);
  if (!split_throughput(a, b, split.throughput)) {
    ChangeSplit failed;
    failed.threads = split.threads;
    failed.reason = "flow of a mixed orifice: no root found";
    return failed;
  }
  split_orifice(a, b, split.orifice);
  split.made = true;
  return split;
}

Elasticities elasticities(const model::CaseInput& input, const std::vector<Knob>& knobs,
                          const std::vector<Response>& responses, const engine::BatchRunner& runner) {
  const auto runs = [&](const std::vector<engine::Sides>& pairs) {
    std::vector<model::CaseInput> cases;
    for (const engine::Sides& sides : pairs) cases.insert(cases.end(), sides.begin(), sides.end());
    std::vector<model::Estimate> estimates = runner(cases);
    std::vector<std::vector<model::Estimate>> out;
    auto next = std::make_move_iterator(estimates.begin());
    for (const engine::Sides& sides : pairs) {
      const auto end = next + static_cast<std::ptrdiff_t>(sides.size());
      out.emplace_back(next, end);
      next = end;
    }
    return out;
  };
  return elasticities(input, knobs, responses, engine::NeighbourRunner([&](const model::CaseInput&) { return runs; }));
}

Elasticities elasticities(const model::CaseInput& input, const std::vector<Knob>& knobs,
                          const std::vector<Response>& responses, const engine::NeighbourRunner& neighbours) {
  const bool tension = input.model.tier == model::Tier::tension;
  model::CaseInput base = input;
  base.numerics.relative_tolerance =
      std::min(base.numerics.relative_tolerance, tension ? kTensionTolerance : kMarchTolerance);
  Elasticities out;
  const auto moved = [](const Knob& knob, double step) {
    return knob.absolute ? knob.value + step : knob.value * std::exp(step);
  };
  constexpr std::array kShares = {-1.0, 1.0};
  std::vector<engine::Sides> cases = {{base}};
  std::vector<std::size_t> pair;  // index of the two runs of a knob; 0: none
  for (const Knob& knob : knobs) {
    Elasticity row;
    row.key = knob.key;
    row.absolute = knob.absolute;
    row.step = knob.absolute ? kStepKelvin : kStep;
    row.slopes.resize(responses.size());
    if (!knob.absolute && !(knob.value > 0.0)) {
      row.reason = knob.value == 0.0 ? "is zero: no logarithm" : "is negative: no logarithm";
    } else if (moved(knob, -row.step) < knob.lowest || moved(knob, row.step) > knob.highest) {
      row.reason = "at its limit";
    }
    pair.push_back(row.reason.empty() ? cases.size() : 0);
    if (row.reason.empty()) {
      cases.emplace_back();
      for (const double share : kShares) {
        cases.back().push_back(base);
        knob.set(cases.back().back(), moved(knob, share * row.step));
      }
    }
    out.rows.push_back(std::move(row));
  }
  const std::vector<std::vector<model::Estimate>> estimates = neighbours(base)(cases);
  const model::Estimate& middle = estimates.front().front();
  out.reason = why_not_explained(middle);
  if (!out.reason.empty()) {
    out.rows.clear();
    return out;
  }
  const auto value_of = [&](const Response& response, const model::Estimate& e) -> std::optional<double> {
    const auto value = response.get(e);
    if (!value || (response.logarithm && !(*value > 0.0))) return {};
    return response.logarithm ? std::log(*value) : *value;
  };
  for (std::size_t k = 0; k < knobs.size(); ++k) {
    if (pair[k] == 0) continue;
    Elasticity& row = out.rows[k];
    const std::vector<model::Estimate>& at = estimates[pair[k]];
    for (std::size_t i = 0; i < kShares.size() && row.reason.empty(); ++i) {
      row.reason = why_not_explained(at[i]);
      if (row.reason.empty() && at[i].fibre_class != middle.fibre_class)
        row.reason = std::string("becomes ") + to_string(at[i].fibre_class);
      if (row.reason.empty() && at[i].torn != middle.torn) row.reason = "the likelier answer changes";
      if (!row.reason.empty()) row.reason += kShares[i] < 0.0 ? " when it falls" : " when it rises";
    }
    row.made = row.reason.empty();
    if (!row.made) continue;
    for (std::size_t r = 0; r < responses.size(); ++r) {
      Slope& slope = row.slopes[r];
      std::array<double, 2> f{};
      const auto centre = value_of(responses[r], middle);
      slope.known = centre.has_value();
      for (std::size_t i = 0; i < f.size(); ++i) {
        const auto value = value_of(responses[r], at[i]);
        slope.known = slope.known && value.has_value();
        f[i] = value.value_or(0.0);
      }
      if (!slope.known) continue;
      slope.value = (f[1] - f[0]) / (2.0 * row.step);
      slope.bend = (f[1] - 2.0 * *centre + f[0]) / row.step;
      slope.known = std::isfinite(slope.value);
      const double size = std::abs(slope.value);
      slope.linear = std::abs(slope.bend) <= kStraight + kStraightShare * size;
    }
  }
  return out;
}

}  // namespace whorl::study
