#include "whorl/engine/spin_up.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

namespace whorl::engine {
namespace {

constexpr int kSteps = 48;             ///< over the ramps, at least
constexpr std::size_t kMostSteps = 4000;
constexpr double kMostPerStep = 0.03;  ///< of the charge
constexpr double kNextToNothing = 2e-3;  ///< of the charge: no moment of its own
constexpr double kLeastWithGas =
    1e-9;                    ///< the same where gas goes through: threads are thin, so little mass is much length
constexpr int kMoments = 2;  ///< without gas, and as many with it

struct Trace {
  double time{}, volume{};
  double cover{};  ///< layer over the one at which gas goes through, less 1: negative where gas goes through
};

// One stretch of the start with gas, or without. Between two points of the trace the cover is taken as linear.
struct Stretch {
  double from{}, to{};                ///< time
  double volume_from{}, volume_to{};  ///< left in the vessel
  bool gas{};
  [[nodiscard]] double leaving() const { return volume_from - volume_to; }
};

std::vector<Stretch> stretches(const std::vector<Trace>& trace) {
  std::vector<Stretch> out;
  for (std::size_t i = 0; i + 1 < trace.size(); ++i) {
    const Trace& a = trace[i];
    const Trace& b = trace[i + 1];
    const bool gas_a = a.cover < 0.0;
    if (gas_a == (b.cover < 0.0)) {
      out.push_back({a.time, b.time, a.volume, b.volume, gas_a});
      continue;
    }
    const double share = a.cover / (a.cover - b.cover);
    const double time = a.time + share * (b.time - a.time);
    const double volume = a.volume + share * (b.volume - a.volume);
    out.push_back({a.time, time, a.volume, volume, gas_a});
    out.push_back({time, b.time, volume, b.volume, !gas_a});
  }
  return out;
}

double leaving(const std::vector<Stretch>& stretches, bool gas) {
  double sum = 0.0;
  for (const Stretch& s : stretches)
    if (s.gas == gas) sum += s.leaving();
  return sum;
}

std::vector<std::pair<double, double>> course_of(const std::vector<Trace>& trace) {
  std::vector<std::pair<double, double>> out;
  out.reserve(trace.size());
  for (const Trace& point : trace) out.emplace_back(point.time, point.volume);
  return out;
}

// The stretches with gas at the end, none without between them.
StartGas lasting(const std::vector<Stretch>& stretches) {
  StartGas out;
  for (auto s = stretches.rbegin(); s != stretches.rend() && s->gas; ++s)
    if (s->leaving() > 0.0) out = {s->from, s->volume_from, 0.0};
  return out;
}

// Where a volume has left with gas, or without: between two points of the trace.
struct Spot {
  double time{}, volume{};
};
Spot spot(const std::vector<Stretch>& stretches, bool gas, double gone_m3) {
  double before = 0.0;
  Spot last;
  for (const Stretch& s : stretches) {
    if (s.gas != gas || !(s.leaving() > 0.0)) continue;
    const double share = std::min((gone_m3 - before) / s.leaving(), 1.0);
    last = {s.from + share * (s.to - s.from), s.volume_from + share * (s.volume_to - s.volume_from)};
    before += s.leaving();
    if (before >= gone_m3) break;
  }
  return last;
}

// Moments at equal shares of what leaves without gas, and of what leaves with it. `solve`: fills setup and orifice.
std::vector<StartMoment> moments_of(const std::vector<Stretch>& parts, double charge_m3, double left_m3,
                                    const std::function<void(StartMoment&)>& solve) {
  std::vector<StartMoment> moments;
  for (const bool gas : {false, true}) {
    const double share = leaving(parts, gas);
    if (share < (gas ? kLeastWithGas : kNextToNothing) * charge_m3) continue;
    for (int k = 0; k < kMoments; ++k) {
      const Spot where = spot(parts, gas, share * (k + 0.5) / kMoments);
      StartMoment moment;
      moment.time_s = where.time;
      moment.volume_m3 = where.volume;
      moment.leaving_m3 = share / kMoments;
      solve(moment);
      if (moment.orifice.status != model::Status::done || !(moment.orifice.flow.flow_m3_s > 0.0)) continue;
      moments.push_back(std::move(moment));
    }
  }
  std::stable_sort(moments.begin(), moments.end(),
                   [](const StartMoment& a, const StartMoment& b) { return a.time_s < b.time_s; });
  // What the moments stand for adds up to what left, also where one of them could not be solved.
  double counted = 0.0;
  for (const StartMoment& moment : moments) counted += moment.leaving_m3;
  for (StartMoment& moment : moments) moment.leaving_m3 *= left_m3 / counted;
  return moments;
}

}  // namespace

RampState ramp_at(const model::OperationInput& operation, double time_s) {
  const auto share = [](double since, double lasts) {
    return lasts > 0.0 ? std::clamp(since / lasts, 0.0, 1.0) : (since >= 0.0 ? 1.0 : 0.0);
  };
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

namespace {

// The numbers that the ramps move, in a copy made once.
void move_to(const Setup& setup, const RampState& state, Setup& now) {
  now.input.operation.rotation_speed_rad_s = setup.input.operation.rotation_speed_rad_s * state.speed_share;
  now.input.operation.gas_overpressure_Pa = setup.input.operation.gas_overpressure_Pa * state.pressure_share;
  now.air.swirl_speed_rad_s = setup.air.swirl_speed_rad_s * state.speed_share;
}

}  // namespace

Setup at_ramp(const Setup& setup, const RampState& state) {
  Setup now = setup;
  move_to(setup, state, now);
  return now;
}

SpinUp spin_up(const Setup& setup) {
  SpinUp out;
  const auto& operation = setup.input.operation;
  // what an open lid does not hold at full speed goes over it first
  const double charge =
      operation.feed_rate_m3_s
          ? operation.charge_volume_m3
          : model::charge_state(setup.vessel, operation.rotation_speed_rad_s, operation.charge_volume_m3).volume_m3;
  out.full_time_s = ramp_time_s(operation);
  out.volume_left_m3 = charge;
  out.status = model::Status::done;
  out.reason = "started";
  if (!(out.full_time_s > 0.0) || operation.feed_rate_m3_s) return out;

  const double orifices = setup.vessel.orifice_count;
  Setup now = setup;
  NearFlow near;
  const auto flow_at = [&](double time, double volume) {
    move_to(setup, ramp_at(operation, time), now);
    OrificeSolution at = solve_orifice(now, volume, near);
    if (at.near.wall_shear_rate_1_s > 0.0) near = at.near;
    return at;
  };
  const auto wetting = [&] {
    return model::wetting_volume_m3(now.vessel, now.input.operation.rotation_speed_rad_s);
  };
  const auto cover_of = [](const OrificeSolution& at) {
    if (!(at.flow.gas_overpressure_Pa > 0.0) || !(at.flow.critical_layer_m > 0.0)) return 1.0;
    return at.charge.layer_thickness_m / at.flow.critical_layer_m - 1.0;
  };
  const auto stopped = [&](model::Status status, const std::string& reason) {
    out.status = status;
    out.reason = "while the vessel speeds up: " + reason;
    return out;
  };
  const bool watches_gas = setup.input.model.gas_breakthrough == model::GasBreakthrough::on;
  std::vector<Trace> trace;
  double time = 0.0;
  double volume = charge;
  const double longest = out.full_time_s / kSteps;
  while (time < out.full_time_s) {
    if (trace.size() >= kMostSteps) return stopped(model::Status::not_converged, "more steps than are allowed");
    double step = std::min(longest, out.full_time_s - time);
    const OrificeSolution start = flow_at(time, volume);
    if (start.status != model::Status::done) return stopped(start.status, start.reason);
    trace.push_back({time, volume, watches_gas ? cover_of(start) : 1.0});
    double loss = orifices * start.flow.flow_m3_s;
    // What no longer covers the orifices stays, however fast it could leave: it follows the ramp, not steps of its own.
    const auto to_leave = [&] { return volume - wetting() > kNextToNothing * charge; };
    if (to_leave() && loss * step > kMostPerStep * charge) step = kMostPerStep * charge / loss;
    const double room = std::max(volume - wetting(), 0.0);  // the middle is not drier than half of it
    OrificeSolution middle = flow_at(time + 0.5 * step, volume - 0.5 * std::min(step * loss, room));
    // A ramp that outruns the step: halve it until the middle agrees with what it was chosen for.
    const auto outruns = [&] { return orifices * middle.flow.flow_m3_s * step > 2.0 * kMostPerStep * charge; };
    for (int halving = 0; halving < 20 && outruns() && to_leave(); ++halving) {
      step *= 0.5;
      middle = flow_at(time + 0.5 * step, volume - 0.5 * std::min(step * loss, room));
    }
    if (middle.status != model::Status::done) return stopped(middle.status, middle.reason);
    loss = orifices * middle.flow.flow_m3_s;
    const double floor = std::min(wetting(), volume);
    // both by the middle of the step, so that their ratio is no more than was ever passed
    out.gas_mass_kg += orifices * middle.flow.gas_flow_kg_s * step;
    if (middle.flow.gas_flow_kg_s > 0.0) out.gas_time_s += step;
    time += step;
    volume = std::max(volume - loss * step, std::min(floor, volume));
  }
  out.volume_left_m3 = volume;
  trace.push_back({time, volume, watches_gas ? cover_of(flow_at(time, volume)) : 1.0});

  const std::vector<Stretch> parts = stretches(trace);
  const double left = charge - volume;
  out.with_gas_m3 = leaving(parts, true);
  for (const Stretch& s : parts) {
    if (!s.gas || !(s.leaving() > 0.0)) continue;
    out.first_gas = {s.from, s.volume_from, 0.0};
    break;
  }
  out.lasting_gas = lasting(parts);
  for (StartGas* gas : {&out.first_gas, &out.lasting_gas})
    if (gas->goes()) gas->layer_m = flow_at(gas->time_s, gas->volume_m3).flow.critical_layer_m;
  out.course = course_of(trace);
  out.moments = moments_of(parts, charge, left, [&](StartMoment& moment) {
    moment.orifice = flow_at(moment.time_s, moment.volume_m3);
    moment.setup = now;
  });
  return out;
}

StartMoment start_moment(const Setup& setup, const SpinUp& start, double volume_m3) {
  StartMoment out;
  out.time_s = start.full_time_s;
  out.volume_m3 = volume_m3;
  for (std::size_t i = 0; i + 1 < start.course.size(); ++i) {
    const auto& [time, volume] = start.course[i];
    const auto& [later, less] = start.course[i + 1];
    if (volume_m3 < less || !(volume > less)) continue;
    out.time_s = time + (later - time) * std::clamp((volume - volume_m3) / (volume - less), 0.0, 1.0);
    break;
  }
  out.setup = at_ramp(setup, ramp_at(setup.input.operation, out.time_s));
  out.orifice = solve_orifice(out.setup, volume_m3);
  return out;
}

}  // namespace whorl::engine
