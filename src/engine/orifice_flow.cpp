#include "whorl/engine/orifice_flow.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "solver/quadrature.hpp"
#include "solver/root.hpp"
#include "whorl/model/orifice_slope.hpp"
#include "whorl/model/splitting.hpp"
#include "whorl/model/steady_jet.hpp"

namespace whorl::engine {
namespace {

// The run is over when the flow has fallen to this share of its start; the rest would take for ever.
constexpr double kEndOfFlow = 1e-3;
// With gas in the orifices the flow ends in a long tail, (h/h_c)^(5/2): the run is over at this share.
constexpr double kEndOfFlowWithGas = 1e-2;

double zero_shear(const model::FlowCurve& curve) { return model::shear_viscosity_Pa_s(curve, 1.0); }

double orifice_area_m2(const model::Vessel& vessel) {
  return model::kPi * vessel.orifice_radius_m * vessel.orifice_radius_m;
}

// The layer at which gas goes through, by the closure that the case names.
void set_critical_layer(const Setup& setup, model::OrificeFlow& flow) {
  const auto& fluid = setup.fluid;
  const double speed = setup.input.operation.rotation_speed_rad_s;
  const double submergence = model::breakthrough_layer_m(setup.vessel, speed, flow.full_flow_m3_s);
  flow.critical_layer_m = submergence;
  if (setup.input.model.layer_supply == model::LayerSupply::drainage) {
    const double drainage =
        model::drainage_layer_m(setup.vessel, speed, fluid.initial.density_kg_m3,
                                fluid.solvent_viscosity_Pa_s + fluid.polymer_viscosity_Pa_s, flow.full_flow_m3_s);
    flow.critical_layer_m = model::gas_layer_m(submergence, drainage);
    const double part = drainage / flow.critical_layer_m, part2 = part * part;
    flow.drained_share = part2 * part2;
  }
  flow.critical_layer_m *= setup.input.model.critical_layer_factor;
}

// The orifice passes this share of its full flow, gas the rest.
void let_gas_through(const Setup& setup, double ratio, model::OrificeFlow& flow) {
  const double density = setup.fluid.initial.density_kg_m3;
  flow.gas_share = model::gas_area_share(ratio);
  flow.gas_flow_kg_s = model::gas_exit(flow.gas_overpressure_Pa, setup.air).mass_flux_kg_m2_s *
                       orifice_area_m2(setup.vessel) * flow.gas_share;
  flow.flow_m3_s *= ratio;
  flow.mean_speed_m_s *= ratio / (1.0 - flow.gas_share);
  flow.weber = density * flow.mean_speed_m_s * flow.mean_speed_m_s * 2.0 * setup.vessel.orifice_radius_m /
               setup.fluid.surface_tension_N_m;
}

// Where the losses use up the driving pressure.
struct Settled {
  double rate_1_s{}, slope{};
  model::OrificeLosses losses;
};

// By Newton's iteration from a guess of ln of the wall shear rate; none where that does not settle within a few steps.
std::optional<Settled> settled_rate(const Setup& setup, double driving_Pa, double log_rate) {
  constexpr int kMostSteps = 10;
  constexpr double kMoved = 1e-6, kFarthest = 3.0;  // of one step; the error is then below its square
  const double density = setup.fluid.initial.density_kg_m3;
  for (int i = 0; i < kMostSteps; ++i) {
    const auto at =
        model::orifice_losses_and_slope(setup.vessel, setup.fluid.flow_curve, density, std::exp(log_rate));
    const double move = -std::log(at.losses.total_Pa() / driving_Pa) / at.slope;
    if (!(std::abs(move) < kFarthest)) return {};
    log_rate += move;
    if (std::abs(move) < kMoved)
      return Settled{std::exp(log_rate), at.slope, model::losses_beside(setup.vessel, density, at, move)};
  }
  return {};
}

// Losses rise monotonically with the wall shear rate; a search in its logarithm from the Hagen-Poiseuille guess, or
// from a flow that is near: the first step of Newton's iteration from there needs no losses.
std::optional<Settled> find_rate(const Setup& setup, double driving_Pa, const NearFlow& near, std::string& trouble) {
  constexpr double kFarthest = 3.0, kRange = 80.0;
  const auto& vessel = setup.vessel;
  const auto& curve = setup.fluid.flow_curve;
  const double density = setup.fluid.initial.density_kg_m3;
  const double middle = std::log(driving_Pa * 2.0 * vessel.orifice_radius_m /
                                 (4.0 * vessel.orifice_length_m * zero_shear(curve)));
  const bool known = near.wall_shear_rate_1_s > 0.0;
  const double lowest = middle - kRange, highest = middle + kRange;
  const double guess = known ? std::clamp(std::log(near.wall_shear_rate_1_s), lowest, highest) : middle;
  const double ahead = near.slope > 0.0 ? std::log(driving_Pa / near.driving_Pa) / near.slope : 0.0;
  if (std::abs(ahead) < kFarthest) {
    if (auto found = settled_rate(setup, driving_Pa, guess + ahead)) return found;
  }
  const auto mismatch = [&](double log_rate) {
    return std::log(model::orifice_losses(vessel, curve, density, std::exp(log_rate)).total_Pa() / driving_Pa);
  };
  const solver::MonotoneSearch search{guess, known ? 0.05 : 0.5, lowest, highest, 2.0};
  const solver::RootResult root = solver::find_monotone_root(mismatch, search, {1e-15, 1e-13, 200});
  if (!root.found()) {
    trouble = "orifice flow: " + root.message;
    return {};
  }
  const double rate = std::exp(root.x);
  const auto at = model::orifice_losses_and_slope(vessel, curve, density, rate);
  return Settled{rate, at.slope, at.losses};
}

OrificeSolution solve_at_pressure(const Setup& setup, double volume_m3, const NearFlow& near, double overpressure_Pa) {
  OrificeSolution out;
  const auto& operation = setup.input.operation;
  const auto& fluid = setup.fluid;
  const auto& vessel = setup.vessel;
  const double density = fluid.initial.density_kg_m3;
  const double sigma = fluid.surface_tension_N_m;
  const double diameter = 2.0 * vessel.orifice_radius_m;

  out.charge = model::charge_state(vessel, operation.rotation_speed_rad_s, volume_m3);
  out.flow = model::driving_pressure(vessel, operation.rotation_speed_rad_s, overpressure_Pa, density,
                                     sigma, out.charge);
  const double field = std::max(
      operation.rotation_speed_rad_s * operation.rotation_speed_rad_s * vessel.outer_radius_m,
      vessel.gravity_m_s2);
  const double bond = density * field * vessel.orifice_radius_m * vessel.orifice_radius_m / sigma;
  out.flow.critical_weber =
      model::jet_weber(model::critical_weber(density, sigma, diameter, field), setup.ohnesorge(), bond);
  if (!out.charge.orifice_wet) {
    out.status = model::Status::done;
    out.reason = "the orifices are dry";
    return out;
  }
  const double driving = out.flow.driving_pressure_Pa;
  if (driving <= 0.0) {
    out.status = model::Status::done;
    out.reason = "driving pressure below the capillary threshold";
    return out;
  }

  const std::optional<Settled> settled = find_rate(setup, driving, near, out.reason);
  if (!settled) return out;
  const double rate = settled->rate_1_s;
  const model::OrificeLosses& losses = settled->losses;
  out.near = {rate, driving, settled->slope};
  model::OrificeFlow& flow = out.flow;
  flow.viscous_loss_Pa = losses.viscous_Pa;
  flow.entrance_loss_Pa = losses.entrance_Pa;
  flow.kinetic_loss_Pa = losses.kinetic_Pa;
  flow.mean_speed_m_s = losses.mean_speed_m_s * setup.input.model.discharge_factor;
  flow.flow_m3_s = flow.mean_speed_m_s * model::kPi * vessel.orifice_radius_m * vessel.orifice_radius_m;
  flow.wall_stress_Pa = losses.wall_stress_Pa;
  flow.wall_shear_rate_1_s = rate;
  flow.apparent_viscosity_Pa_s = losses.wall_stress_Pa * diameter / (8.0 * losses.mean_speed_m_s);
  flow.reynolds = losses.reynolds;
  flow.weber = density * flow.mean_speed_m_s * flow.mean_speed_m_s * diameter / sigma;
  flow.turbulent = losses.turbulent;
  flow.full_flow_m3_s = flow.flow_m3_s;
  set_critical_layer(setup, flow);
  const double layer = out.charge.layer_thickness_m;
  if (setup.input.model.gas_breakthrough == model::GasBreakthrough::on && overpressure_Pa > 0.0 &&
      layer < flow.critical_layer_m) {
    const double ratio = setup.input.model.layer_supply == model::LayerSupply::drainage
                             ? model::drained_flow_ratio(layer, flow.critical_layer_m, flow.drained_share)
                             : model::liquid_flow_ratio(layer, flow.critical_layer_m);
    let_gas_through(setup, ratio, flow);
  }
  out.status = model::Status::done;
  out.reason = "flows";
  return out;
}

// A pump keeps the layer where the orifices pass what it feeds. What goes over an open lid meanwhile is of the feed,
// not of a charge: see Estimate::spilled_by_feed.
OrificeSolution solve_fed(const Setup& setup, const NearFlow& near, double overpressure_Pa) {
  const auto& vessel = setup.vessel;
  const double omega = setup.input.operation.rotation_speed_rad_s;
  const double wanted = *setup.input.operation.feed_rate_m3_s / vessel.orifice_count;
  const double full = model::kPi * vessel.bore_radius_m * vessel.bore_radius_m * vessel.height_m;
  const double dry = model::wetting_volume_m3(vessel, omega);
  const auto at = [&](double volume) {
    OrificeSolution found = solve_at_pressure(setup, volume, near, overpressure_Pa);
    found.charge.spilled_volume_m3 = 0.0;
    return found;
  };
  const double least = dry + 1e-6 * (full - dry);
  OrificeSolution out = at(full);
  if (out.status != model::Status::done || out.flow.flow_m3_s <= wanted) return out;  // the rest spills
  OrificeSolution low = at(least);
  if (low.status != model::Status::done) return low;
  if (low.flow.flow_m3_s >= wanted) {
    // Less than the orifices draw from a bare film: each runs partly filled.
    const double ratio = wanted / low.flow.full_flow_m3_s;
    low.flow.flow_m3_s = low.flow.full_flow_m3_s;
    if (low.flow.gas_share > 0.0) low.flow.mean_speed_m_s = low.flow.full_flow_m3_s / orifice_area_m2(vessel);
    let_gas_through(setup, ratio, low.flow);
    return low;
  }
  // a bare film may not push anything out: the pump fills the vessel until the layer does
  constexpr double kNone = 1e-9;  // of the feed
  const auto excess = [&](double share) {
    return std::log(std::max(at(dry + std::exp(share) * (full - dry)).flow.flow_m3_s / wanted, kNone));
  };
  const auto root = solver::find_root(excess, std::log(1e-6), 0.0, {1e-12, 0.0, 200});
  if (!root.found()) {
    out.status = model::Status::not_converged;
    out.reason = "layer that the feed keeps: " + root.message;
    return out;
  }
  out = at(dry + std::exp(root.x) * (full - dry));
  out.flow.flow_m3_s = wanted;
  return out;
}

}  // namespace

double normal_gas_flow_m3_s(const Setup& setup, const model::OrificeFlow& flow) {
  return model::normal_flow_m3_s(setup.vessel.orifice_count * flow.gas_flow_kg_s, setup.air.molar_mass_kg_mol);
}

OrificeSolution solve_orifice(const Setup& setup, double volume_m3, const NearFlow& near) {
  const auto& operation = setup.input.operation;
  const auto at_pressure = [&](double overpressure_Pa) {
    return operation.feed_rate_m3_s ? solve_fed(setup, near, overpressure_Pa)
                                    : solve_at_pressure(setup, volume_m3, near, overpressure_Pa);
  };
  OrificeSolution out = at_pressure(operation.gas_overpressure_Pa);
  if (!operation.gas_supply_m3_s || !(out.flow.gas_flow_kg_s > 0.0)) return out;
  // The supply gives what it holds: the pressure falls until the open orifices pass no more.
  const double most = *operation.gas_supply_m3_s;
  if (normal_gas_flow_m3_s(setup, out.flow) <= most) return out;
  const auto excess = [&](double pressure) {
    return normal_gas_flow_m3_s(setup, at_pressure(pressure).flow) / most - 1.0;
  };
  const auto root = solver::find_root(excess, 0.0, operation.gas_overpressure_Pa, {1e-10, 0.0, 200});
  if (!root.found()) {
    out.status = model::Status::not_converged;
    out.reason = "pressure that the gas supply holds: " + root.message;
    return out;
  }
  return at_pressure(root.x);
}

namespace {

// Time that the vessel takes from one volume to a smaller one: the integral of dV/(N Q).
class RunClock {
 public:
  using Flow = std::function<double(double volume)>;
  /// `gas_from`: gas goes through below this volume.
  RunClock(Flow flow, double orifices, double full, double end, double dry, double gas_from)
      : flow_(std::move(flow)), n_(orifices), full_(full), end_(end), dry_(dry), gas_from_(gas_from) {}

  [[nodiscard]] double between(double low, double high, int points) const {
    if (low >= gas_from_) return full_time(low, high, points);
    if (high <= gas_from_) return gas_time(low, high);
    return gas_time(low, gas_from_) + full_time(gas_from_, high, points);
  }

 private:
  // By Gauss-Legendre in s with V = end + (V0 - end) s^2. Where the driving pressure ends in zero, Q falls like sqrt(V
  // - end) in a thin liquid: in V that end costs several per cent, in s it is smooth.
  [[nodiscard]] double full_time(double low, double high, int points) const {
    const double span = full_ - end_;
    const auto slowness = [&](double s) { return 2.0 * span * s / (n_ * flow_(end_ + span * s * s)); };
    const auto place = [&](double v) { return std::sqrt(std::clamp((v - end_) / span, 0.0, 1.0)); };
    return solver::integrate_gauss(slowness, place(low), place(high), points);
  }
  // With gas, Q falls like (V - dry)^(5/2): the logarithm of V - dry, cut to pieces of a factor 2.
  [[nodiscard]] double gas_time(double low, double high) const {
    const double from = std::log(low - dry_);
    const double to = std::log(high - dry_);
    const auto slowness = [&](double x) { return std::exp(x) / (n_ * flow_(dry_ + std::exp(x))); };
    const int pieces = std::clamp(static_cast<int>(std::ceil((to - from) / std::log(2.0))), 1, 40);
    double sum = 0.0;
    for (int i = 0; i < pieces; ++i) {
      sum +=
          solver::integrate_gauss(slowness, from + (to - from) * i / pieces, from + (to - from) * (i + 1) / pieces, 4);
    }
    return sum;
  }

  Flow flow_;
  double n_, full_, end_, dry_, gas_from_;
};

// Steady: the pump's syringe or reservoir holds the charge.
RunDown fed_run(const Setup& setup, const OrificeSolution& start) {
  RunDown out;
  model::RunSummary& run = out.summary;
  const double n = setup.vessel.orifice_count;
  const double q0 = start.flow.flow_m3_s;
  const double feed = *setup.input.operation.feed_rate_m3_s;
  const double passed = std::min(1.0, n * q0 / feed);
  const double volume = setup.input.operation.charge_volume_m3 * passed;
  run.run_time_s = setup.input.operation.charge_volume_m3 / feed;
  run.emptied_fraction = passed;
  run.polymer_mass_kg = volume * setup.fluid.initial.concentration_kg_m3;
  run.wet_throughput_kg_s = n * q0 * setup.fluid.initial.density_kg_m3;
  run.polymer_throughput_kg_s = n * q0 * setup.fluid.initial.concentration_kg_m3;
  run.heel_volume_m3 = setup.input.operation.charge_volume_m3 - volume;
  run.last_flow_share = 1.0;
  // gas that leaves, or that would where the case keeps the orifices full
  const bool thin = start.charge.layer_thickness_m < start.flow.critical_layer_m;
  if (start.flow.gas_flow_kg_s > 0.0 || (thin && start.flow.gas_overpressure_Pa > 0.0)) {
    run.breakthrough = true;
    run.breakthrough_layer_m = start.flow.critical_layer_m;
    run.breakthrough_left = 1.0;
  }
  run.gas_supply_most_m3_s = normal_gas_flow_m3_s(setup, start.flow);
  model::RunPoint point;
  point.time_s = 0.5 * run.run_time_s;
  point.charge_volume_m3 = start.charge.volume_m3;
  point.orifice = start.flow;
  run.points.push_back(point);
  out.volume_weights.push_back(volume);
  out.status = model::Status::done;
  out.reason = "fed";
  return out;
}

// Gas break-through: the layer is thinner than the critical submergence at that flow. The volume where it begins; below
// 0: never.
double find_breakthrough(const Setup& setup, const std::function<OrificeSolution(double)>& at_volume, double v0,
                         double end, model::RunSummary& run) {
  const auto submergence = [&](double volume) {
    const OrificeSolution at = at_volume(volume);
    return at.charge.layer_thickness_m - at.flow.critical_layer_m;
  };
  const bool pressurised = setup.input.operation.gas_overpressure_Pa > 0.0;
  double breakthrough_volume = -1.0;
  if (pressurised) {
    if (submergence(v0) <= 0.0) {
      breakthrough_volume = v0;
    } else if (submergence(end) < 0.0) {
      const auto root = solver::find_root(submergence, end, v0, {1e-8, 0.0, 100});
      if (root.found()) breakthrough_volume = root.x;
    }
    if (breakthrough_volume >= 0.0) {
      run.breakthrough = true;
      run.breakthrough_layer_m = at_volume(breakthrough_volume).flow.critical_layer_m;
      run.breakthrough_left = breakthrough_volume / v0;
    }
  }
  return breakthrough_volume;
}

// Where the flow has fallen to `share` of `q0`, not below `least_m3`.
std::optional<double> last_volume(const std::function<double(double)>& flow_at, double least_m3, double most_m3,
                                  double q0, double share, std::string& trouble) {
  if (!(flow_at(least_m3) < share * q0)) return least_m3;
  const auto root =
      solver::find_root([&](double v) { return flow_at(v) / q0 - share; }, least_m3, most_m3, {1e-10, 0.0, 100});
  if (root.found()) return root.x;
  trouble = "end of the run: " + root.message;
  return {};
}

}  // namespace

RunDown run_down(const Setup& setup, const OrificeSolution& start, const RunOptions& options) {
  RunDown out;
  model::RunSummary& run = out.summary;
  const double v0 = start.charge.volume_m3;
  const double omega = setup.input.operation.rotation_speed_rad_s;
  const double n = setup.vessel.orifice_count;
  if (!(start.flow.flow_m3_s > 0.0)) {
    out.status = model::Status::done;
    out.reason = "no flow";
    run.heel_volume_m3 = v0;
    return out;
  }
  const double q0 = start.flow.flow_m3_s;
  // Volumes come in neighbouring order more often than not: start each search where the last one ended.
  NearFlow near = start.near;
  const auto at_volume = [&](double volume) {
    const OrificeSolution at = solve_orifice(setup, volume, near);
    if (at.near.wall_shear_rate_1_s > 0.0) near = at.near;
    return at;
  };
  const auto flow_at = [&](double volume) { return at_volume(volume).flow.flow_m3_s; };

  if (setup.input.operation.feed_rate_m3_s) return fed_run(setup, start);

  // Where it ends: orifices run dry, or the flow dies away above that.
  const double dry = std::min(model::wetting_volume_m3(setup.vessel, omega), v0);
  const double floor_volume = dry + 1e-9 * (v0 - dry);
  const bool with_gas = setup.input.model.gas_breakthrough == model::GasBreakthrough::on &&
                        setup.input.operation.gas_overpressure_Pa > 0.0;
  const double last_flow = with_gas ? kEndOfFlowWithGas : kEndOfFlow;
  const std::optional<double> last = last_volume(flow_at, floor_volume, v0, q0, last_flow, out.reason);
  if (!last) return out;
  const double end = *last;
  run.heel_volume_m3 = end;
  run.last_flow_share = last_flow;
  if (!(v0 > end)) {  // all of it has left before
    out.status = model::Status::done;
    out.reason = "emptied";
    return out;
  }
  run.emptied_fraction = (v0 - end) / v0;
  run.polymer_mass_kg = (v0 - end) * setup.fluid.initial.concentration_kg_m3;
  run.wet_throughput_kg_s = n * q0 * setup.fluid.initial.density_kg_m3;
  run.polymer_throughput_kg_s = n * q0 * setup.fluid.initial.concentration_kg_m3;

  const double breakthrough_volume = find_breakthrough(setup, at_volume, v0, end, run);
  // Gas goes through below this volume.
  const double gas_from = with_gas && run.breakthrough ? std::max(breakthrough_volume, end) : end;
  const RunClock clock(flow_at, n, v0, end, dry, gas_from);
  double time = 0.0;
  double previous = v0;
  // From full to empty; a run in two parts, without and with gas, has a rule for each.
  struct Part {
    double low, high;
    int points;
  };
  std::vector<Part> parts;
  const int points = std::clamp(options.points, 2, 10);
  if (gas_from > end && gas_from < v0) {
    const int late = std::max(2, static_cast<int>(std::lround(points * (gas_from - end) / (v0 - end))));
    parts = {{gas_from, v0, std::max(2, points - late)}, {end, gas_from, late}};
  } else {
    parts = {{end, v0, points}};
  }
  for (const Part& part : parts) {
    const double middle = 0.5 * (part.high + part.low);
    const double half = 0.5 * (part.high - part.low);
    const auto nodes = solver::gauss_legendre(part.points);
    for (std::size_t i = nodes.size(); i-- > 0;) {
      const double volume = middle + half * nodes[i].x;
      const OrificeSolution at = at_volume(volume);
      if (at.status != model::Status::done || !(at.flow.flow_m3_s > 0.0)) {
        out.reason = "flow during the run: " + at.reason;
        return out;
      }
      model::RunPoint point;
      time += clock.between(volume, previous, 3);
      previous = volume;
      point.time_s = time;
      point.charge_volume_m3 = volume;
      point.emptied_fraction = (v0 - volume) / v0;
      point.orifice = at.flow;
      run.points.push_back(point);
      out.volume_weights.push_back(half * nodes[i].weight);
    }
  }
  run.run_time_s = time + clock.between(end, previous, 8);
  run.gas_supply_most_m3_s = normal_gas_flow_m3_s(setup, at_volume(end).flow);  // where the layer is thinnest
  if (run.breakthrough && breakthrough_volume < v0)
    run.breakthrough_time_s = clock.between(breakthrough_volume, v0, 8);
  if (!std::isfinite(run.run_time_s) || !std::isfinite(run.breakthrough_time_s)) {
    out.reason = "time of the run: the flow is not known at some of its moments";
    return out;
  }
  out.status = model::Status::done;
  out.reason = "emptied";
  return out;
}

}  // namespace whorl::engine
