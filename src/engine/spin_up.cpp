#include "engine/spin_up.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::engine {
namespace {

constexpr int kSteps = 48;             ///< over the ramps, at least
constexpr double kMostPerStep = 0.03;  ///< of the charge
constexpr double kNextToNothing = 2e-3;  ///< of the charge: no moment of its own
constexpr int kMoments = 2;

struct Trace {
  double time{}, volume{};
};

}  // namespace

RampState ramp_at(const model::OperationInput& operation, double time_s) {
  const auto share = [](double since, double lasts) { return lasts > 0.0 ? std::clamp(since / lasts, 0.0, 1.0) : (since >= 0.0 ? 1.0 : 0.0); };
  const double spin = operation.spin_up_time_s;
  const double rise = operation.pressure_rise_time_s;
  switch (operation.start_order) {
    case model::StartOrder::speed_first: return {share(time_s, spin), share(time_s - spin, rise)};
    case model::StartOrder::gas_first: return {share(time_s - rise, spin), share(time_s, rise)};
    case model::StartOrder::together: break;
  }
  return {share(time_s, spin), share(time_s, rise)};
}

double ramp_time_s(const model::OperationInput& operation) {
  const double spin = operation.spin_up_time_s;
  const double rise = operation.gas_overpressure_Pa > 0.0 ? operation.pressure_rise_time_s : 0.0;
  return operation.start_order == model::StartOrder::together ? std::max(spin, rise) : spin + rise;
}

Setup at_ramp(const Setup& setup, const RampState& state) {
  Setup now = setup;
  now.input.operation.rotation_speed_rad_s *= state.speed_share;
  now.input.operation.gas_overpressure_Pa *= state.pressure_share;
  now.air.swirl_speed_rad_s *= state.speed_share;
  return now;
}

SpinUp spin_up(const Setup& setup) {
  SpinUp out;
  const auto& operation = setup.input.operation;
  // what an open lid does not hold at full speed goes over it first
  const double charge = operation.feed_rate_m3_s ? operation.charge_volume_m3
                                                 : model::charge_state(setup.vessel, operation.rotation_speed_rad_s, operation.charge_volume_m3).volume_m3;
  out.full_time_s = ramp_time_s(operation);
  out.volume_left_m3 = charge;
  out.status = model::Status::done;
  out.reason = "started";
  if (!(out.full_time_s > 0.0) || operation.feed_rate_m3_s) return out;

  const double orifices = setup.vessel.orifice_count;
  Setup now = setup;
  double near_rate = 0.0;
  const auto flow_at = [&](double time, double volume) {
    now = at_ramp(setup, ramp_at(operation, time));
    OrificeSolution at = solve_orifice(now, volume, near_rate);
    if (at.flow.wall_shear_rate_1_s > 0.0) near_rate = at.flow.wall_shear_rate_1_s;
    return at;
  };
  std::vector<Trace> trace{{0.0, charge}};
  double time = 0.0;
  double volume = charge;
  const double longest = out.full_time_s / kSteps;
  while (time < out.full_time_s) {
    double step = std::min(longest, out.full_time_s - time);
    const OrificeSolution start = flow_at(time, volume);
    if (start.status != model::Status::done) {
      out.status = start.status;
      out.reason = "while the vessel speeds up: " + start.reason;
      return out;
    }
    double loss = orifices * start.flow.flow_m3_s;
    if (loss * step > kMostPerStep * charge) step = kMostPerStep * charge / loss;
    OrificeSolution middle = flow_at(time + 0.5 * step, volume - 0.5 * step * loss);
    // A ramp that outruns the step: halve it until the middle agrees with what it was chosen for.
    for (int halving = 0; halving < 20 && orifices * middle.flow.flow_m3_s * step > 2.0 * kMostPerStep * charge; ++halving) {
      step *= 0.5;
      middle = flow_at(time + 0.5 * step, volume - 0.5 * step * loss);
    }
    if (middle.status != model::Status::done) {
      out.status = middle.status;
      out.reason = "while the vessel speeds up: " + middle.reason;
      return out;
    }
    loss = orifices * middle.flow.flow_m3_s;
    const double floor = std::min(model::wetting_volume_m3(now.vessel, now.input.operation.rotation_speed_rad_s), volume);
    const double next = std::max(volume - loss * step, std::min(floor, volume));
    if (middle.flow.gas_flow_kg_s > 0.0) {
      if (out.first_gas_s < 0.0) out.first_gas_s = time;
      out.gas_mass_kg += orifices * middle.flow.gas_flow_kg_s * step;
      out.gas_time_s += step;
      out.with_gas_m3 += volume - next;
    }
    time += step;
    volume = next;
    trace.push_back({time, volume});
    if (trace.size() > 4000) break;
  }
  out.volume_left_m3 = volume;
  const double left = charge - volume;
  if (left < kNextToNothing * charge) return out;
  std::size_t at = 0;
  for (int k = 0; k < kMoments; ++k) {
    const double wanted = charge - left * (k + 0.5) / kMoments;
    while (at + 1 < trace.size() && trace[at + 1].volume > wanted) ++at;
    const Trace& a = trace[at];
    const Trace& b = trace[std::min(at + 1, trace.size() - 1)];
    const double share = a.volume > b.volume ? (a.volume - wanted) / (a.volume - b.volume) : 0.0;
    StartMoment moment;
    moment.time_s = a.time + share * (b.time - a.time);
    moment.volume_m3 = wanted;
    moment.leaving_m3 = left / kMoments;
    moment.orifice = flow_at(moment.time_s, wanted);
    moment.setup = now;
    if (moment.orifice.status != model::Status::done || !(moment.orifice.flow.flow_m3_s > 0.0)) continue;
    out.moments.push_back(std::move(moment));
  }
  // What the moments stand for adds up to what left, also where one of them could not be solved.
  for (StartMoment& moment : out.moments) moment.leaving_m3 = left / static_cast<double>(out.moments.size());
  return out;
}

}  // namespace whorl::engine
