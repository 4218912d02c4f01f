#include "engine/tension_path.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <functional>
#include <span>

#include "model/radial.hpp"
#include "solver/implicit.hpp"
#include "solver/march.hpp"

namespace whorl::engine {
namespace {

using P = PathState;

// The jet at a place of the path, as the inertial tier writes it: laboratory axes that stand with the vessel at this
// moment, x outward.
std::array<double, model::JetState::kSize> jet_state(const model::JetContext& context, const P::Array& s, double u,
                                                     double solvent, double temperature) {
  using J = model::JetState;
  const double per = u / std::sqrt(s[P::kTr] * s[P::kTr] + s[P::kTa] * s[P::kTa] + s[P::kTz] * s[P::kTz]);
  std::array<double, J::kSize> state{};
  state[J::kX] = s[P::kRadius];
  state[J::kZ] = s[P::kZ];
  state[J::kVx] = per * s[P::kTr];
  state[J::kVy] = per * s[P::kTa] + context.speed_rad_s * s[P::kRadius];
  state[J::kVz] = per * s[P::kTz];
  state[J::kSolvent] = solvent;
  state[J::kTemperature] = temperature;
  return state;
}

}  // namespace

Curve::Curve(std::vector<double> x, std::vector<double> y) : x_(std::move(x)), y_(std::move(y)), slope_(x_.size(), 0.0) {
  const std::size_t n = x_.size();
  // Fritsch & Butland (1984): weighted harmonic mean of the neighbouring slopes, zero at an extremum
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double ha = x_[i] - x_[i - 1];
    const double hb = x_[i + 1] - x_[i];
    const double da = (y_[i] - y_[i - 1]) / ha;
    const double db = (y_[i + 1] - y_[i]) / hb;
    if (da * db > 0.0) slope_[i] = 3.0 * (ha + hb) / ((2.0 * hb + ha) / da + (hb + 2.0 * ha) / db);
  }
  if (n > 1) {
    slope_[0] = (y_[1] - y_[0]) / (x_[1] - x_[0]);
    slope_[n - 1] = (y_[n - 1] - y_[n - 2]) / (x_[n - 1] - x_[n - 2]);
  }
}

double Curve::at(double s) const {
  const std::size_t n = x_.size();
  if (s <= x_.front()) return y_.front();
  if (s >= x_.back()) return y_.back();
  while (at_ + 1 < n && x_[at_ + 1] < s) ++at_;
  while (at_ > 0 && x_[at_] > s) --at_;
  const double h = x_[at_ + 1] - x_[at_];
  const double x = (s - x_[at_]) / h;
  const double a = y_[at_], b = y_[at_ + 1];
  const double da = h * slope_[at_], db = h * slope_[at_ + 1];
  return a + x * (da + x * (3.0 * (b - a) - 2.0 * da - db + x * (2.0 * (a - b) + da + db)));
}

double SpeedField::log_at(double radius) const {
  // straight on for a while, so that a path that grows longer meets no kink; bounded
  const double beyond = radius - curve_.back();
  return curve_.at(radius) + (beyond > 0.0 ? std::clamp(curve_.last_slope() * beyond, -0.1, 0.1) : 0.0);
}

double SurfaceHistory::dryness(double solvent_ratio) const {
  return std::sqrt(std::max(1.0 - solvent_ratio / start_ratio, 0.0));
}

double SurfaceHistory::share_at(double solvent_ratio) const { return share.empty() ? 1.0 : share.at(dryness(solvent_ratio)); }

PathState::Array PathResult::Step::at(double x) const {
  const double a = x, b = x - 1.0 / 3.0, c = x - 2.0 / 3.0, d = x - 1.0;
  const double w0 = -4.5 * b * c * d, w1 = 13.5 * a * c * d, w2 = -13.5 * a * b * d, w3 = 4.5 * a * b * c;
  P::Array out{};
  for (std::size_t k = 0; k < P::kSize; ++k) out[k] = w0 * state[0][k] + w1 * state[1][k] + w2 * state[2][k] + w3 * state[3][k];
  return out;
}

PathResult::Place PathResult::at_radius(double radius) const {
  auto it = std::lower_bound(step.begin(), step.end(), radius, [](const Step& s, double v) { return s.state[3][P::kRadius] < v; });
  if (it == step.end()) it = step.end() - 1;
  double low = 0.0, high = 1.0;
  const double ra = it->state[0][P::kRadius], rb = it->state[3][P::kRadius];
  double x = rb > ra ? std::clamp((radius - ra) / (rb - ra), 0.0, 1.0) : 1.0;
  Place place;
  for (int k = 0; k < 60; ++k) {
    place.state = it->at(x);
    const double r = place.state[P::kRadius];
    if (std::abs(r - radius) <= 1e-14 * radius) break;
    (r < radius ? low : high) = x;
    const double climb = place.state[P::kTr];
    double next = climb > 0.0 ? x + (radius - r) / (climb * (it->to - it->from)) : 0.5 * (low + high);
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (std::abs(next - x) < 1e-15) break;
    x = next;
  }
  place.arc_m = it->from + x * (it->to - it->from);
  auto& t = place.state;
  const double size = std::sqrt(t[P::kTr] * t[P::kTr] + t[P::kTa] * t[P::kTa] + t[P::kTz] * t[P::kTz]);
  for (std::size_t k : {P::kTr, P::kTa, P::kTz}) t[k] /= size;
  return place;
}

double pull_of_solid(const PathResult& solid) {
  const P::Array& from = solid.at_solid;
  double most = 0.0;
  for (const PathResult::Step& s : solid.step) {
    const P::Array& q = s.state[3];
    most = std::max(most, (q[P::kBody] - from[P::kBody]) * std::exp(-q[P::kLogSpeed]) + q[P::kDrag] - from[P::kDrag]);
  }
  return most;
}

namespace {

PathResult march(const model::JetContext& context, const SpeedField* speed, const PathResult* thread, double solid_speed_m_s,
                 const SurfaceHistory& surface, const PathOptions& options) {
  PathResult out;
  const model::Fluid& fluid = *context.fluid;
  const double omega = context.speed_rad_s;
  P::Array y{};
  y[P::kRadius] = context.outer_radius_m;
  y[P::kTr] = 1.0;
  y[P::kSolvent] = fluid.initial.solvent_ratio;
  y[P::kTemperature] = fluid.charge_temperature_K;

  enum class Speed { given, marched, frozen } mode = Speed::given;
  double frozen = 0.0;
  double arc = 0.0;
  bool thread_ended = false;
  if (thread != nullptr) {
    y = thread->at_solid;
    arc = thread->solid_m;
    mode = Speed::frozen;
    frozen = std::log(solid_speed_m_s);
    thread_ended = true;
    out.solid = true;
    out.solid_m = out.thread_m = arc;
    out.at_solid = out.at_thread_end = y;
  }
  const auto log_speed = [&](const P::Array& s) {
    return mode == Speed::given ? speed->log_at(s[P::kRadius]) : (mode == Speed::frozen ? frozen : s[P::kLogSpeed]);
  };
  const auto rhs = [&](const P::Array& s, P::Array& rate) {
    const double u = std::exp(log_speed(s));
    const double r = s[P::kRadius];
    const double size = std::sqrt(s[P::kTr] * s[P::kTr] + s[P::kTa] * s[P::kTa] + s[P::kTz] * s[P::kTz]);
    const double t[3] = {s[P::kTr] / size, s[P::kTa] / size, s[P::kTz] / size};
    const double ratio = std::max(s[P::kSolvent], 0.0);
    const auto state = jet_state(context, s, u, ratio, s[P::kTemperature]);
    const model::JetLocal local = model::jet_local(context, state.data(), surface.share_at(ratio) * ratio, false, axes_at(s, omega));
    std::array<double, 3> a = local.acceleration;
    a[0] += omega * (omega * r + 2.0 * u * t[1]);
    a[1] -= 2.0 * omega * u * t[0];
    const double along = a[0] * t[0] + a[1] * t[1] + a[2] * t[2];
    const double per = 1.0 / (u * u);
    rate[P::kRadius] = t[0];
    rate[P::kAngle] = t[1] / r;
    rate[P::kZ] = t[2];
    rate[P::kTr] = (a[0] - along * t[0]) * per + t[1] * t[1] / r;
    rate[P::kTa] = (a[1] - along * t[1]) * per - t[0] * t[1] / r;
    rate[P::kTz] = (a[2] - along * t[2]) * per;
    rate[P::kLogSpeed] = mode == Speed::marched ? along * per : 0.0;
    rate[P::kSolvent] = local.solvent_rate_1_s / u;
    rate[P::kTemperature] = local.temperature_rate_K_s / u;
    rate[P::kTime] = 1.0 / u;
    const double flow = context.polymer_flow_kg_s * (1.0 + ratio);
    rate[P::kBody] = flow * (omega * omega * r * t[0] - context.gravity_m_s2 * t[2]);
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
  for (std::size_t k : {P::kRadius, P::kZ}) scale[k] = length;
  for (std::size_t k : {P::kAngle, P::kTr, P::kTa, P::kTz}) scale[k] = 1.0;
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
  scale[P::kLogSpeed] = 1.0;

  enum Kind { kCollector, kInward, kFallen, kTooLong, kCut, kSolid };
  const double floor = -std::max(0.3, 2.0 * length);
  const double longest = omega > 0.0 ? std::min(60.0, options.max_turns * 2.0 * model::kPi / omega) : 60.0;
  bool watch_cut = options.given_until_m > 0.0;
  bool watch_solid = options.freeze_when_solid && thread == nullptr;
  struct Watched {
    Kind kind;
    std::function<double(const double*)> value;
    solver::Crossing crossing;
  };
  std::vector<Watched> watched;
  const auto watch = [&] {
    using solver::Crossing;
    watched.clear();
    const bool along = std::min(y[P::kRadius] - (1.0 - kTouch) * length, (kTouch - y[P::kTr]) * length) >= 0.0;  // from the beginning
    const bool touches = options.touches && mode == Speed::frozen && !along;
    watched.push_back({kCollector,
                       [length, touches](const double* s) {
                         const double to = s[P::kRadius] - length;
                         return touches ? std::max(to, std::min(to + kTouch * length, (kTouch - s[P::kTr]) * length)) : to;
                       },
                       Crossing::rising});
    watched.push_back({kInward, [](const double* s) { return s[P::kTr]; }, Crossing::falling});
    watched.push_back({kFallen, [floor](const double* s) { return s[P::kZ] - floor; }, Crossing::falling});
    watched.push_back({kTooLong, [longest](const double* s) { return s[P::kTime] - longest; }, Crossing::rising});
    if (watch_cut) {
      const double until = options.given_until_m;
      watched.push_back({kCut, [until](const double* s) { return s[P::kRadius] - until; }, Crossing::rising});
    }
    if (watch_solid) {
      const double freezing = surface.freezing_ratio;
      watched.push_back({kSolid,
                         [&fluid, freezing](const double* s) {
                           if (freezing != 0.0) return s[P::kSolvent] - freezing;
                           const double ratio = std::max(s[P::kSolvent], 0.0);
                           return model::solid_margin(fluid, model::polymer_volume_fraction(fluid, ratio), s[P::kTemperature]);
                         },
                         Crossing::falling});
    }
  };
  const auto record = [&](PathResult::Step s) {
    if (mode != Speed::marched) {
      for (auto& state : s.state) state[P::kLogSpeed] = log_speed(state);
    }
    out.step.push_back(s);
  };
  solver::MarchOptions march_options;
  march_options.relative_tolerance = options.relative_tolerance;
  march_options.max_steps = 20000;
  const auto end_thread = [&] {
    thread_ended = true;
    out.thread_m = arc;
    out.at_thread_end = y;
  };
  const double farthest = 4.0 * top_speed * longest;
  bool stiff = false;
  struct Leg {
    solver::MarchStatus status{};
    std::size_t event_index{};
    std::string message;
  };
  const auto counted = [&](const auto& r) {
    out.rhs_calls += static_cast<std::size_t>(r.counters.rhs_calls);
    out.steps += static_cast<std::size_t>(r.counters.accepted);
    out.rejected += static_cast<std::size_t>(r.counters.rejected);
    arc = r.t;
    march_options.initial_step = r.next_step;
    return Leg{r.status, r.event_index, r.message};
  };
  const auto explicit_leg = [&] {
    std::vector<solver::Event<P::Array>> events;
    for (const Watched& w : watched) {
      events.push_back({[&w](const P::Array& s, double) { return w.value(s.data()); }, w.crossing});
    }
    const auto observer = [&](const solver::DenseStep<P::kSize>& d) {
      const double h = d.t1() - d.t0();
      record({d.t0(), d.t1(), {d.at(d.t0()), d.at(d.t0() + h / 3.0), d.at(d.t0() + 2.0 * h / 3.0), d.at(d.t1())}});
    };
    march_options.detect_stiffness = true;
    const auto r = solver::march<P::kSize>([&](const P::Array& s, P::Array& rate, double) { rhs(s, rate); }, y, scale, arc, farthest,
                                           march_options, events, observer);
    y = r.state;
    return counted(r);
  };
  // A thin fibre follows the air within a length far below its way: stiff.
  const auto implicit_leg = [&] {
    using Wide = Eigen::VectorXd;
    std::vector<solver::Event<Wide>> events;
    for (const Watched& w : watched) {
      events.push_back({[&w](const Wide& s, double) { return w.value(s.data()); }, w.crossing});
    }
    P::Array state{}, rate{}, last = y, last_rate{};
    rhs(last, last_rate);
    double from = arc;
    const auto observer = [&](const Wide& s, double to) {
      if (to <= from) return;
      std::copy_n(s.data(), std::size_t{P::kSize}, state.begin());
      rhs(state, rate);
      PathResult::Step step{from, to, {last, last, state, state}};
      const double h = to - from;
      for (int k : {1, 2}) {
        const double q = k / 3.0, p = 1.0 - q;
        for (std::size_t i = 0; i < P::kSize; ++i) {
          step.state[static_cast<std::size_t>(k)][i] = p * p * (1.0 + 2.0 * q) * last[i] + q * q * (1.0 + 2.0 * p) * state[i] +
                                                       h * q * p * (p * last_rate[i] - q * rate[i]);
        }
      }
      record(step);
      last = state;
      last_rate = rate;
      from = to;
    };
    const auto wide_rhs = [&](const Wide& s, Wide& out_rate, double) {
      std::copy_n(s.data(), std::size_t{P::kSize}, state.begin());
      rhs(state, rate);
      std::copy_n(rate.begin(), std::size_t{P::kSize}, out_rate.data());
      return std::isfinite(rate[P::kTr] + rate[P::kSolvent]);
    };
    const Wide start = Eigen::Map<const Wide>(y.data(), static_cast<Eigen::Index>(P::kSize));
    const Wide wide_scale = Eigen::Map<const Wide>(scale.data(), static_cast<Eigen::Index>(P::kSize));
    const auto r = solver::march_implicit(wide_rhs, start, wide_scale, arc, farthest, march_options, events, observer);
    std::copy_n(r.state.data(), std::size_t{P::kSize}, y.begin());
    return counted(r);
  };
  watch();
  for (;;) {
    const Leg r = stiff ? implicit_leg() : explicit_leg();
    if (r.status == solver::MarchStatus::stiff) {
      stiff = true;
      continue;
    }
    const bool stopped = r.status == solver::MarchStatus::event;
    const Kind kind = stopped ? watched[r.event_index].kind : kCollector;
    if (stopped && kind == kSolid) {
      watch_solid = false;
      frozen = log_speed(y);
      out.solid_m = arc;
      out.at_solid = y;
      if (thread_ended) {
        out.later_solid = true;
      } else {
        out.solid = true;
        end_thread();
        if (options.stop_at_solid) {
          out.end = PathEnd::solid;
          break;
        }
      }
      mode = Speed::frozen;
      watch();
      continue;
    }
    if (stopped && kind == kCut) {
      if (!thread_ended) {
        out.cut = true;
        end_thread();
      }
      if (options.go_on) {
        watch_cut = false;
        if (mode == Speed::given) {
          y[P::kLogSpeed] = log_speed(y);
          mode = Speed::marched;
        }
        watch();
        continue;
      }
      out.end = PathEnd::cut;
    } else if (stopped) {
      out.end = kind == kCollector ? PathEnd::collector
                                   : (kind == kInward ? PathEnd::inward
                                                      : (kind == kFallen ? PathEnd::fallen : PathEnd::too_long));
    } else if (r.status == solver::MarchStatus::reached_end) {
      out.end = PathEnd::too_long;
    } else {
      out.message = r.message;
    }
    break;
  }
  if (mode != Speed::marched) y[P::kLogSpeed] = log_speed(y);
  out.length_m = arc;
  out.at_end = y;
  if (!thread_ended) end_thread();
  if (out.step.empty()) out.end = PathEnd::failed;
  return out;
}

}  // namespace

PathResult march_path(const model::JetContext& context, const SpeedField& speed, const SurfaceHistory& surface,
                      const PathOptions& options) {
  return march(context, &speed, nullptr, 0.0, surface, options);
}

PathResult march_solid(const model::JetContext& context, const PathResult& thread, double speed_m_s, const SurfaceHistory& surface,
                       const PathOptions& options) {
  return march(context, nullptr, &thread, speed_m_s, surface, options);
}

DryingResult march_drying(const model::JetContext& context, const PathResult& path, const SpeedField& speed,
                          const PathOptions& path_options, const DryingOptions& options) {
  using Wide = Eigen::VectorXd;
  DryingResult out;
  const model::Fluid& fluid = *context.fluid;
  const std::size_t cells = options.cells;
  const model::RadialGrid grid = model::make_radial_grid(cells);
  const double to_volume = fluid.polymer_density_kg_m3 / fluid.solvent_density_kg_m3;  // X to v
  const double start_ratio = fluid.initial.solvent_ratio;

  std::size_t at = 0;
  const auto place = [&](double arc) {
    while (at + 1 < path.step.size() && path.step[at].to < arc) ++at;
    while (at > 0 && path.step[at].from > arc) --at;
    const auto& step = path.step[at];
    P::Array p = step.at((arc - step.from) / (step.to - step.from));
    const bool given = !(path.solid && arc > path.thread_m) && !(path_options.given_until_m > 0.0 && arc > path.thread_m);
    if (given) p[P::kLogSpeed] = speed.log_at(p[P::kRadius]);
    return p;
  };
  model::ColumnMobility mobility(fluid, cells);
  const auto column = [&](const Wide& y) { return std::span<const double>(y.data() + 1, cells); };
  const auto mean_of = [&](const Wide& y) {
    double sum = 0.0;
    for (std::size_t i = 0; i < cells; ++i) sum += grid.width[i] * y.data()[1 + i];
    return sum / to_volume;
  };
  const auto surface_of = [&](const Wide& y) {
    return model::surface_value(grid, y.data()[cells], y.data()[cells - 1]) / to_volume;
  };
  const auto rhs = [&](const Wide& y, Wide& rate, double arc) {
    const auto v = column(y);
    if (*std::min_element(v.begin(), v.end()) < -0.5) return false;
    const double temperature = y[0];
    const P::Array p = place(arc);
    const double u = std::exp(p[P::kLogSpeed]);
    const auto state = jet_state(context, p, u, mean_of(y), temperature);
    const model::JetLocal local = model::jet_local(context, state.data(), surface_of(y), false, axes_at(p, context.speed_rad_s));
    rate[0] = local.temperature_rate_K_s / u;
    // rates along the path: areas and flux over u
    model::radial_rates(grid, model::dry_area_m2(context, u) * u, v, -local.solvent_rate_1_s / u * to_volume, mobility.at(temperature, v),
                        std::span<double>(rate.data() + 1, cells));
    return true;
  };

  Wide y(static_cast<Eigen::Index>(1 + cells)), scale(static_cast<Eigen::Index>(1 + cells));
  y.setConstant(start_ratio * to_volume);
  scale = y;
  y[0] = fluid.charge_temperature_K;
  scale[0] = 100.0;

  out.surface.start_ratio = start_ratio;
  out.surface.freezing_ratio = options.freeze_when_solid ? -1.0 : 0.0;
  std::vector<double> dryness{0.0}, share{1.0};
  const auto observer = [&](const Wide& state, double arc) {
    const double mean = mean_of(state);
    const P::Array p = place(arc);
    out.off = std::max({out.off, std::abs(mean - p[P::kSolvent]) / start_ratio, std::abs(state[0] - p[P::kTemperature]) / 100.0});
    const double q = out.surface.dryness(mean);
    if (q <= dryness.back() + 1e-9 || !(mean > 1e-9)) return;
    dryness.push_back(q);
    share.push_back(std::clamp(surface_of(state) / mean, 0.0, 2.0));
  };
  using Event = solver::Event<Wide>;
  std::vector<Event> events;
  if (options.freeze_when_solid) {
    events.push_back({[&](const Wide& state, double) {
                        const double v = model::value_inside(grid, column(state), 1.0 - model::kFreezingShare);
                        return model::solid_margin(fluid, 1.0 / (1.0 + v), state[0]);
                      },
                      solver::Crossing::falling});
  }
  solver::MarchOptions march_options;
  march_options.relative_tolerance = options.relative_tolerance;
  march_options.max_steps = 20000;
  const solver::JacobianStructure structure{solver::JacobianStructure::Kind::bordered_tridiagonal, 1};
  double arc = 0.0;
  for (;;) {
    const auto r = solver::march_implicit(rhs, y, scale, arc, path.length_m, march_options, events, observer, structure);
    out.rhs_calls += static_cast<std::size_t>(r.counters.rhs_calls);
    out.steps += static_cast<std::size_t>(r.counters.accepted);
    out.rejected += static_cast<std::size_t>(r.counters.rejected);
    out.jacobians += static_cast<std::size_t>(r.counters.jacobians);
    out.factorisations += static_cast<std::size_t>(r.counters.factorisations);
    y = r.state;
    arc = r.t;
    if (r.status == solver::MarchStatus::event) {
      out.solid = true;
      out.solid_m = arc;
      out.surface.freezing_ratio = std::max(mean_of(y), 1e-12);
      events.clear();
      march_options.initial_step = r.next_step;
      if (arc < path.length_m) continue;
    } else if (r.status != solver::MarchStatus::reached_end) {
      out.message = r.message;
      return out;
    }
    break;
  }
  if (dryness.size() > 1) out.surface.share = Curve(std::move(dryness), std::move(share));
  out.end_solvent_ratio = mean_of(y);
  out.end_temperature_K = y[0];
  out.ok = std::isfinite(out.end_solvent_ratio + out.end_temperature_K);
  return out;
}

}  // namespace whorl::engine
