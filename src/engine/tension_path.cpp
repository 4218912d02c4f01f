#include "engine/tension_path.hpp"

#include <algorithm>
#include <cmath>

#include "solver/march.hpp"

namespace whorl::engine {
namespace {

using P = PathState;

double interpolate(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (at <= x.front()) return y.front();
  if (at >= x.back()) return y.back();
  const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
  return y[i - 1] + (at - x[i - 1]) / (x[i] - x[i - 1]) * (y[i] - y[i - 1]);
}

}  // namespace

SpeedField::SpeedField(std::vector<double> radius, std::vector<double> log_speed)
    : at_radius_(std::move(radius)), log_(std::move(log_speed)), slope_(at_radius_.size(), 0.0) {
  const std::size_t n = at_radius_.size();
  // Fritsch & Butland (1984): weighted harmonic mean of the neighbouring slopes, zero at an extremum
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double ha = at_radius_[i] - at_radius_[i - 1];
    const double hb = at_radius_[i + 1] - at_radius_[i];
    const double da = (log_[i] - log_[i - 1]) / ha;
    const double db = (log_[i + 1] - log_[i]) / hb;
    if (da * db > 0.0) slope_[i] = 3.0 * (ha + hb) / ((2.0 * hb + ha) / da + (hb + 2.0 * ha) / db);
  }
  if (n > 1) {
    slope_[0] = (log_[1] - log_[0]) / (at_radius_[1] - at_radius_[0]);
    slope_[n - 1] = (log_[n - 1] - log_[n - 2]) / (at_radius_[n - 1] - at_radius_[n - 2]);
  }
}

double SpeedField::log_at(double s) const {
  const std::size_t n = at_radius_.size();
  if (s <= at_radius_.front()) return log_.front();
  if (s >= at_radius_.back()) {
    // straight on for a while, so that a path that grows longer meets no kink; bounded
    return log_.back() + std::clamp(slope_.back() * (s - at_radius_.back()), -0.1, 0.1);
  }
  while (at_ + 1 < n && at_radius_[at_ + 1] < s) ++at_;
  while (at_ > 0 && at_radius_[at_] > s) --at_;
  const double h = at_radius_[at_ + 1] - at_radius_[at_];
  const double x = (s - at_radius_[at_]) / h;
  const double a = log_[at_], b = log_[at_ + 1];
  const double da = h * slope_[at_], db = h * slope_[at_ + 1];
  return a + x * (da + x * (3.0 * (b - a) - 2.0 * da - db + x * (2.0 * (a - b) + da + db)));
}

double SurfaceHistory::share_at(double solvent_ratio) const {
  if (dryness.size() < 2) return 1.0;
  return interpolate(dryness, share, -solvent_ratio);
}

PathResult::Place PathResult::at_radius(double radius) const {
  const auto r_of = [](const P::Array& y) { return std::hypot(y[P::kX], y[P::kY]); };
  auto it = std::lower_bound(step.begin(), step.end(), radius,
                             [&](const Step& s, double v) { return r_of(s.state[3]) < v; });
  if (it == step.end()) it = step.end() - 1;
  // cubic through the four knots of the step
  const auto mix = [&](double x) {
    const double a = x, b = x - 1.0 / 3.0, c = x - 2.0 / 3.0, d = x - 1.0;
    const double w0 = -4.5 * b * c * d, w1 = 13.5 * a * c * d, w2 = -13.5 * a * b * d, w3 = 4.5 * a * b * c;
    P::Array out{};
    for (std::size_t k = 0; k < P::kSize; ++k) {
      out[k] = w0 * it->state[0][k] + w1 * it->state[1][k] + w2 * it->state[2][k] + w3 * it->state[3][k];
    }
    return out;
  };
  double low = 0.0, high = 1.0;
  const double ra = r_of(it->state[0]), rb = r_of(it->state[3]);
  double x = rb > ra ? std::clamp((radius - ra) / (rb - ra), 0.0, 1.0) : 1.0;
  Place place;
  for (int k = 0; k < 60; ++k) {
    place.state = mix(x);
    const double r = r_of(place.state);
    if (std::abs(r - radius) <= 1e-14 * radius) break;
    (r < radius ? low : high) = x;
    const double climb = (place.state[P::kX] * place.state[P::kTx] + place.state[P::kY] * place.state[P::kTy]) / r;
    double next = climb > 0.0 ? x + (radius - r) / (climb * (it->to - it->from)) : 0.5 * (low + high);
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (std::abs(next - x) < 1e-15) break;
    x = next;
  }
  place.arc_m = it->from + x * (it->to - it->from);
  auto& t = place.state;
  const double size = std::sqrt(t[P::kTx] * t[P::kTx] + t[P::kTy] * t[P::kTy] + t[P::kTz] * t[P::kTz]);
  for (std::size_t k : {P::kTx, P::kTy, P::kTz}) t[k] /= size;
  return place;
}

PathResult march_path(const model::JetContext& context, const SpeedField& speed, const SurfaceHistory& surface,
                      const PathOptions& options) {
  using J = model::JetState;
  PathResult out;
  const model::Fluid& fluid = *context.fluid;
  const double omega = context.speed_rad_s;
  P::Array y{};
  y[P::kX] = context.outer_radius_m;
  y[P::kTx] = 1.0;
  y[P::kSolvent] = fluid.initial.solvent_ratio;
  y[P::kTemperature] = fluid.charge_temperature_K;

  bool solid = false;
  double frozen = 0.0;
  const auto rhs = [&](const P::Array& s, P::Array& rate, double) {
    const double u = std::exp(solid ? frozen : speed.log_at(std::hypot(s[P::kX], s[P::kY])));
    const double size = std::sqrt(s[P::kTx] * s[P::kTx] + s[P::kTy] * s[P::kTy] + s[P::kTz] * s[P::kTz]);
    const double t[3] = {s[P::kTx] / size, s[P::kTy] / size, s[P::kTz] / size};
    // laboratory axes that stand with the vessel at this moment
    std::array<double, J::kSize> state{};
    for (std::size_t k = 0; k < 3; ++k) {
      state[k] = s[k];
      state[J::kVx + k] = u * t[k];
    }
    state[J::kVx] -= omega * s[P::kY];
    state[J::kVy] += omega * s[P::kX];
    state[J::kSolvent] = std::max(s[P::kSolvent], 0.0);
    state[J::kTemperature] = s[P::kTemperature];
    const double at_surface = surface.share_at(state[J::kSolvent]) * state[J::kSolvent];
    const model::JetLocal local = model::jet_local(context, state.data(), at_surface, false);
    std::array<double, 3> a = local.acceleration;
    a[0] += omega * (omega * s[P::kX] + 2.0 * u * t[1]);
    a[1] += omega * (omega * s[P::kY] - 2.0 * u * t[0]);
    const double along = a[0] * t[0] + a[1] * t[1] + a[2] * t[2];
    for (std::size_t k = 0; k < 3; ++k) {
      rate[k] = t[k];
      rate[P::kTx + k] = (a[k] - along * t[k]) / (u * u);
    }
    rate[P::kSolvent] = local.solvent_rate_1_s / u;
    rate[P::kTemperature] = local.temperature_rate_K_s / u;
    rate[P::kTime] = 1.0 / u;
    const double flow = context.polymer_flow_kg_s * (1.0 + state[J::kSolvent]);
    rate[P::kBody] = flow * (omega * omega * (s[P::kX] * t[0] + s[P::kY] * t[1]) - context.gravity_m_s2 * t[2]);
    rate[P::kDrag] = local.drag_along_m_s2 * local.linear_mass_kg_m;
    const double wind = local.wind_along_m_s;
    rate[P::kResistance] = std::abs(wind) > 1e-9 ? rate[P::kDrag] / wind : 0.0;
    rate[P::kDragWork] = local.drag_along_m_s2;
    const double perimeter = model::kPi * local.diameter_m / context.polymer_flow_kg_s;
    rate[P::kHeatGained] = perimeter * local.exchange.heat_W_m2 +
                           rate[P::kSolvent] * (model::latent_heat(fluid, s[P::kTemperature]) +
                                                fluid.solvent_heat_capacity *
                                                    (s[P::kTemperature] - fluid.charge_temperature_K));
    rate[P::kEvaporated] = -rate[P::kSolvent];
  };

  const double length = context.collector_radius_m;
  const double top_speed = context.exit_speed_m_s + omega * length + 0.1;
  P::Array scale{};
  for (std::size_t k : {P::kX, P::kY, P::kZ}) scale[k] = length;
  for (std::size_t k : {P::kTx, P::kTy, P::kTz}) scale[k] = 1.0;
  scale[P::kSolvent] = fluid.initial.solvent_ratio;
  scale[P::kTemperature] = 100.0;
  scale[P::kTime] = 1e3 * length / top_speed;  // result only: its error does not limit the step
  const double flow = context.polymer_flow_kg_s * (1.0 + fluid.initial.solvent_ratio);
  scale[P::kBody] = flow * top_speed * top_speed;
  scale[P::kDrag] = flow * top_speed;
  scale[P::kResistance] = 1e2 * flow;
  scale[P::kDragWork] = 10.0 * top_speed * top_speed;
  scale[P::kHeatGained] = 100.0 * (fluid.polymer_heat_capacity + fluid.initial.solvent_ratio * fluid.solvent_heat_capacity);
  scale[P::kEvaporated] = fluid.initial.solvent_ratio;

  const double r2 = length * length;
  using Event = solver::Event<P::Array>;
  std::vector<Event> events(4);
  events[0] = {[r2](const P::Array& s, double) { return s[0] * s[0] + s[1] * s[1] - r2; }, solver::Crossing::rising};
  events[1] = {[](const P::Array& s, double) { return s[P::kX] * s[P::kTx] + s[P::kY] * s[P::kTy]; },
               solver::Crossing::falling};
  const double floor = -std::max(0.3, 2.0 * length);
  events[2] = {[floor](const P::Array& s, double) { return s[P::kZ] - floor; }, solver::Crossing::falling};
  const double longest = omega > 0.0 ? std::min(60.0, options.max_turns * 2.0 * model::kPi / omega) : 60.0;
  events[3] = {[longest](const P::Array& s, double) { return s[P::kTime] - longest; }, solver::Crossing::rising};
  if (options.freeze_when_solid) {
    const double freezing = surface.freezing_ratio;
    events.push_back({[&fluid, freezing](const P::Array& s, double) {
                        if (freezing != 0.0) return s[P::kSolvent] - freezing;
                        const double ratio = std::max(s[P::kSolvent], 0.0);
                        return model::solid_margin(fluid, model::polymer_volume_fraction(fluid, ratio), s[P::kTemperature]);
                      },
                      solver::Crossing::falling});
  }
  const auto observer = [&](const solver::DenseStep<P::kSize>& d) {
    PathResult::Step s;
    s.from = d.t0();
    s.to = d.t1();
    const double h = s.to - s.from;
    s.state = {d.at(s.from), d.at(s.from + h / 3.0), d.at(s.from + 2.0 * h / 3.0), d.at(s.to)};
    out.step.push_back(s);
  };
  solver::MarchOptions march_options;
  march_options.relative_tolerance = options.relative_tolerance;
  march_options.max_steps = 20000;
  double arc = 0.0;
  const double farthest = 4.0 * top_speed * longest;
  for (;;) {
    const auto r = solver::march<P::kSize>(rhs, y, scale, arc, farthest, march_options, events, observer);
    out.rhs_calls += static_cast<std::size_t>(r.counters.rhs_calls);
    out.steps += static_cast<std::size_t>(r.counters.accepted);
    out.rejected += static_cast<std::size_t>(r.counters.rejected);
    y = r.state;
    arc = r.t;
    if (r.status == solver::MarchStatus::event && r.event_index == 4) {
      solid = true;
      out.solid = true;
      frozen = speed.log_at(std::hypot(y[P::kX], y[P::kY]));
      out.solid_log_speed = frozen;
      out.liquid_m = arc;
      out.at_liquid_end = y;
      events.pop_back();
      march_options.initial_step = r.next_step;
      continue;
    }
    out.length_m = arc;
    out.at_end = y;
    if (!solid) {
      out.liquid_m = arc;
      out.at_liquid_end = y;
    }
    if (r.status == solver::MarchStatus::event) {
      out.end = r.event_index == 0 ? PathEnd::collector
                                   : (r.event_index == 1 ? PathEnd::inward
                                                         : (r.event_index == 2 ? PathEnd::fallen : PathEnd::too_long));
    } else if (r.status == solver::MarchStatus::reached_end) {
      out.end = PathEnd::too_long;
    } else {
      out.message = r.message;
    }
    break;
  }
  if (out.step.empty()) out.end = PathEnd::failed;
  return out;
}

}  // namespace whorl::engine
