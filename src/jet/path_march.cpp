// A path marched: with odeint until it is stiff, then implicitly, with the same events on the way.
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <functional>

#include "jet/path_place.hpp"
#include "solver/implicit.hpp"
#include "solver/march.hpp"
#include "whorl/jet/tension_path.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

// Own choices: what a step is measured against, and where a path is given up.
constexpr double kHeatScale_K = 100.0;
constexpr double kTimeScale = 1e3;        // x length/speed: a result only, its error does not limit the step
constexpr double kResistanceScale = 1e2;  // x mass flow
constexpr double kWorkScale = 10.0;       // x speed^2
constexpr double kRestSpeed_m_s = 0.1;    // a speed to measure against where nothing turns
constexpr double kDeepest_m = 0.3;        // below the orifice, or twice the radius of the collector: fallen
constexpr double kLongest_s = 60.0;
constexpr double kFarthest = 4.0;         // of the way that the fastest thread makes in that time
constexpr int kMostSteps = 20000;
constexpr double kNoWind_m_s = 1e-9;

enum class Speed { given, marched, frozen };
enum class Met { collector, inward, fallen, too_long, cut, solid };

struct Watched {
  Met kind;
  std::function<double(const double*)> value;
  solver::Crossing crossing;
};

struct Leg {
  solver::MarchStatus status{};
  std::size_t event_index{};
  std::string message;
};

class PathMarch {
 public:
  PathMarch(const model::JetContext& context, const SurfaceHistory& surface, const PathOptions& options)
      : context_(context), surface_(surface), options_(options), fluid_(*context.fluid), omega_(context.speed_rad_s) {
    const double length = context.collector_radius_m;
    const double top_speed = context.exit_speed_m_s + omega_ * length + kRestSpeed_m_s;
    lay_scale(length, top_speed);
    floor_ = -std::max(kDeepest_m, 2.0 * length);
    longest_ = omega_ > 0.0 ? std::min(kLongest_s, options.max_turns * 2.0 * model::kPi / omega_) : kLongest_s;
    farthest_ = kFarthest * top_speed * longest_;
    watch_cut_ = options.given_until_m > 0.0;
    watch_solid_ = options.freeze_when_solid;
    how_.relative_tolerance = options.relative_tolerance;
    how_.max_steps = kMostSteps;
    how_.keep_steps = true;
    y_[P::kRadius] = context.outer_radius_m;
    y_[P::kTr] = 1.0;
    y_[P::kSolvent] = fluid_.initial.solvent_ratio;
    y_[P::kTemperature] = fluid_.charge_temperature_K;
  }

  // From the orifice, at a line speed that is given over the radius.
  PathResult along(const SpeedField& speed) {
    speed_ = &speed;
    return run();
  }
  // The solid beyond a thread, at the line speed that it keeps.
  PathResult beyond(const PathResult& thread, double speed_m_s) {
    y_ = thread.at_solid;
    arc_ = thread.solid_m;
    mode_ = Speed::frozen;
    frozen_ = std::log(speed_m_s);
    thread_ended_ = true;
    watch_solid_ = false;
    out_.solid = true;
    out_.solid_m = out_.thread_m = arc_;
    out_.at_solid = out_.at_thread_end = y_;
    return run();
  }

 private:
  [[nodiscard]] double log_speed(const P::Array& s) const {
    if (mode_ == Speed::given) return speed_->log_at(s[P::kRadius]);
    return mode_ == Speed::frozen ? frozen_ : s[P::kLogSpeed];
  }

  void rhs(const P::Array& s, P::Array& rate) const;
  void lay_scale(double length, double top_speed) {
    const double start_ratio = fluid_.initial.solvent_ratio;
    for (std::size_t k : {P::kRadius, P::kZ}) scale_[k] = length;
    for (std::size_t k : {P::kAngle, P::kTr, P::kTa, P::kTz}) scale_[k] = 1.0;
    scale_[P::kSolvent] = start_ratio;
    scale_[P::kTemperature] = kHeatScale_K;
    scale_[P::kTime] = kTimeScale * length / top_speed;
    const double flow = context_.polymer_flow_kg_s * (1.0 + start_ratio);
    scale_[P::kBody] = flow * top_speed * top_speed;
    scale_[P::kDrag] = flow * top_speed;
    scale_[P::kResistance] = kResistanceScale * flow;
    scale_[P::kDragWork] = kWorkScale * top_speed * top_speed;
    scale_[P::kHeatGained] =
        kHeatScale_K * (fluid_.polymer_heat_capacity + start_ratio * fluid_.solvent_heat_capacity);
    scale_[P::kEvaporated] = start_ratio;
    scale_[P::kLogSpeed] = 1.0;
  }

  // What the march from here stops at.
  void watch() {
    using solver::Crossing;
    watched_.clear();
    const double length = context_.collector_radius_m;
    const bool along = std::min(y_[P::kRadius] - (1.0 - kTouch) * length, (kTouch - y_[P::kTr]) * length) >=
                       0.0;  // from the beginning
    const bool touches = options_.touches && mode_ == Speed::frozen;
    lies_on_collector_ = touches && along;
    watched_.push_back({Met::collector,
                        [length, touches](const double* s) {
                          const double to = s[P::kRadius] - length;
                          if (!touches) return to;
                          return std::max(to, std::min(to + kTouch * length, (kTouch - s[P::kTr]) * length));
                        },
                        Crossing::rising});
    watched_.push_back({Met::inward, [](const double* s) { return s[P::kTr]; }, Crossing::falling});
    watched_.push_back(
        {Met::fallen, [floor = floor_](const double* s) { return s[P::kZ] - floor; }, Crossing::falling});
    watched_.push_back(
        {Met::too_long, [longest = longest_](const double* s) { return s[P::kTime] - longest; }, Crossing::rising});
    if (watch_cut_) {
      const double until = options_.given_until_m;
      watched_.push_back({Met::cut, [until](const double* s) { return s[P::kRadius] - until; }, Crossing::rising});
    }
    if (watch_solid_) watched_.push_back({Met::solid, solidity(), Crossing::falling});
  }

  [[nodiscard]] std::function<double(const double*)> solidity() const {
    return [&fluid = fluid_, freezing = surface_.freezing_ratio](const double* s) {
      if (freezing != 0.0) return s[P::kSolvent] - freezing;
      const double ratio = std::max(s[P::kSolvent], 0.0);
      return model::solid_margin(fluid, model::polymer_volume_fraction(fluid, ratio), s[P::kTemperature]);
    };
  }

  void record(PathResult::Step s) {
    if (mode_ != Speed::marched) {
      for (auto& state : s.state) state[P::kLogSpeed] = log_speed(state);
    }
    out_.step.push_back(s);
  }

  void end_thread() {
    thread_ended_ = true;
    out_.thread_m = arc_;
    out_.at_thread_end = y_;
  }

  // The steps that this leg is to take, if it is a leg like the one that took them.
  const solver::StepPlan* plan_leg(bool implicit) {
    const std::size_t at = out_.taken.leg.size();
    if (options_.steps == nullptr || at >= options_.steps->leg.size()) return nullptr;
    const PathSteps::Leg& leg = options_.steps->leg[at];
    if (leg.implicit != implicit) return nullptr;
    plan_ = {leg.size, leg.stiff};
    if (!thread_ended_)
      for (double& size : plan_.size) size *= options_.stretch;
    return &plan_;
  }

  template <class Result>
  Leg counted(const Result& r, bool implicit) {
    out_.taken.leg.push_back({implicit, r.steps.stiff, r.steps.size});
    out_.rhs_calls += static_cast<std::size_t>(r.counters.rhs_calls);
    out_.steps += static_cast<std::size_t>(r.counters.accepted);
    out_.rejected += static_cast<std::size_t>(r.counters.rejected);
    arc_ = r.t;
    how_.initial_step = r.next_step;
    return Leg{r.status, r.event_index, r.message};
  }

  template <class State>
  [[nodiscard]] std::vector<solver::Event<State>> events() const {
    std::vector<solver::Event<State>> out;
    for (const Watched& w : watched_)
      out.push_back({[&w](const State& s, double) { return w.value(s.data()); }, w.crossing});
    return out;
  }

  Leg explicit_leg() {
    const auto observer = [&](const solver::DenseStep<P::kSize>& d) {
      const double h = d.t1() - d.t0();
      record({d.t0(), d.t1(), {d.at(d.t0()), d.at(d.t0() + h / 3.0), d.at(d.t0() + 2.0 * h / 3.0), d.at(d.t1())}});
    };
    how_.detect_stiffness = true;
    how_.plan = plan_leg(false);
    const auto r = solver::march<P::kSize>([&](const P::Array& s, P::Array& rate, double) { rhs(s, rate); }, y_, scale_,
                                           arc_, farthest_, how_, events<P::Array>(), observer);
    y_ = r.state;
    return counted(r, false);
  }

  // A thin fibre follows the air within a length far below its way: stiff.
  Leg implicit_leg();
  // A crossing on the way. False: the path ends there.
  bool goes_on(Met kind) {
    if (kind == Met::solid) return frozen_from_here();
    if (kind == Met::cut) {
      if (!thread_ended_) {
        out_.cut = true;
        end_thread();
      }
      if (!options_.go_on) {
        out_.end = PathEnd::cut;
        return false;
      }
      watch_cut_ = false;
      if (mode_ == Speed::given) {
        y_[P::kLogSpeed] = log_speed(y_);
        mode_ = Speed::marched;
      }
      watch();
      return true;
    }
    out_.end = kind == Met::collector ? PathEnd::collector
               : kind == Met::inward  ? PathEnd::inward
               : kind == Met::fallen  ? PathEnd::fallen
                                      : PathEnd::too_long;
    return false;
  }

  bool frozen_from_here() {
    watch_solid_ = false;
    frozen_ = log_speed(y_);
    out_.solid_m = arc_;
    out_.at_solid = y_;
    if (thread_ended_) {
      out_.later_solid = true;
    } else {
      out_.solid = true;
      end_thread();
      if (options_.stop_at_solid) {
        out_.end = PathEnd::solid;
        return false;
      }
    }
    mode_ = Speed::frozen;
    watch();
    if (lies_on_collector_) out_.end = PathEnd::collector;
    return !lies_on_collector_;
  }

  PathResult run() {
    watch();
    if (lies_on_collector_) {  // one that comes to lie there before it is solid touches it where it solidifies
      out_.end = PathEnd::collector;
      y_[P::kLogSpeed] = frozen_;
      out_.length_m = arc_;
      out_.at_end = y_;
      return std::move(out_);
    }
    for (bool stiff = false;;) {
      const Leg r = stiff ? implicit_leg() : explicit_leg();
      if (r.status == solver::MarchStatus::stiff) {
        stiff = true;
        continue;
      }
      if (r.status == solver::MarchStatus::event) {
        if (goes_on(watched_[r.event_index].kind)) continue;
      } else if (r.status == solver::MarchStatus::reached_end) {
        out_.end = PathEnd::too_long;
      } else {
        out_.message = r.message;
      }
      break;
    }
    if (mode_ != Speed::marched) y_[P::kLogSpeed] = log_speed(y_);
    out_.length_m = arc_;
    out_.at_end = y_;
    if (!thread_ended_) end_thread();
    if (out_.step.empty()) out_.end = PathEnd::failed;
    return std::move(out_);
  }

  const model::JetContext& context_;
  const SurfaceHistory& surface_;
  const PathOptions& options_;
  const model::Fluid& fluid_;
  const double omega_;
  const SpeedField* speed_{};
  Speed mode_{Speed::given};
  double frozen_{};  ///< ln u of the solid
  PathResult out_;
  P::Array y_{}, scale_{};
  double arc_{}, floor_{}, longest_{}, farthest_{};
  bool thread_ended_{}, watch_cut_{}, watch_solid_{}, lies_on_collector_{};
  std::vector<Watched> watched_;
  solver::MarchOptions how_;
  solver::StepPlan plan_;
};

void PathMarch::rhs(const P::Array& s, P::Array& rate) const {
  const double u = std::exp(log_speed(s));
  const double r = s[P::kRadius];
  const double ratio = std::max(s[P::kSolvent], 0.0);
  const model::JetPlace at = jet_place(context_, s, u, ratio, s[P::kTemperature]);
  const double t[3] = {at.tx, at.ty, at.tz};
  const model::JetLocal local =
      model::jet_local(context_, at, surface_.share_at(ratio) * ratio, false, axes_at(s, omega_));
  std::array<double, 3> a = local.acceleration;
  a[0] += omega_ * (omega_ * r + 2.0 * u * t[1]);
  a[1] -= 2.0 * omega_ * u * t[0];
  const double along = a[0] * t[0] + a[1] * t[1] + a[2] * t[2];
  const double per = 1.0 / (u * u);
  rate[P::kRadius] = t[0];
  rate[P::kAngle] = t[1] / r;
  rate[P::kZ] = t[2];
  rate[P::kTr] = (a[0] - along * t[0]) * per + t[1] * t[1] / r;
  rate[P::kTa] = (a[1] - along * t[1]) * per - t[0] * t[1] / r;
  rate[P::kTz] = (a[2] - along * t[2]) * per;
  rate[P::kLogSpeed] = mode_ == Speed::marched ? along * per : 0.0;
  rate[P::kSolvent] = local.solvent_rate_1_s / u;
  rate[P::kTemperature] = local.temperature_rate_K_s / u;
  rate[P::kTime] = 1.0 / u;
  const double flow = context_.polymer_flow_kg_s * (1.0 + ratio);
  rate[P::kBody] = flow * (omega_ * omega_ * r * t[0] - context_.gravity_m_s2 * t[2]);
  rate[P::kDrag] = local.drag_along_m_s2 * local.linear_mass_kg_m;
  const double wind = local.wind_along_m_s;
  rate[P::kResistance] = std::abs(wind) > kNoWind_m_s ? rate[P::kDrag] / wind : 0.0;
  rate[P::kDragWork] = local.drag_along_m_s2;
  const double perimeter = model::kPi * local.diameter_m / context_.polymer_flow_kg_s;
  rate[P::kHeatGained] = perimeter * local.exchange.heat_W_m2 +
                         rate[P::kSolvent] * (local.latent_heat_J_kg +
                                              fluid_.solvent_heat_capacity *
                                                  (s[P::kTemperature] - fluid_.charge_temperature_K));
  rate[P::kEvaporated] = -rate[P::kSolvent];
}

Leg PathMarch::implicit_leg() {
  using Wide = Eigen::VectorXd;
  P::Array state{}, rate{}, last = y_, last_rate{};
  rhs(last, last_rate);
  double from = arc_;
  const auto observer = [&](const Wide& s, double to) {
    if (to <= from) return;
    std::copy_n(s.data(), std::size_t{P::kSize}, state.begin());
    rhs(state, rate);
    PathResult::Step step{from, to, {last, last, state, state}};
    const double h = to - from;
    for (int k : {1, 2}) {
      const double q = k / 3.0, p = 1.0 - q;
      for (std::size_t i = 0; i < P::kSize; ++i) {
        step.state[static_cast<std::size_t>(k)][i] = p * p * (1.0 + 2.0 * q) * last[i] +
                                                     q * q * (1.0 + 2.0 * p) * state[i] +
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
  const Wide start = Eigen::Map<const Wide>(y_.data(), static_cast<Eigen::Index>(P::kSize));
  const Wide wide_scale = Eigen::Map<const Wide>(scale_.data(), static_cast<Eigen::Index>(P::kSize));
  how_.plan = plan_leg(true);
  // Nothing depends on the integrals; on height, azimuth and time only where gas blows past, on a speed that is given
  // nowhere.
  solver::JacobianStructure structure{
      solver::JacobianStructure::Kind::dense, 0,
      {P::kBody, P::kDrag, P::kResistance, P::kDragWork, P::kHeatGained, P::kEvaporated}};
  if (!context_.gas.blows()) structure.unread.insert(structure.unread.end(), {P::kAngle, P::kZ, P::kTime});
  if (mode_ != Speed::marched) structure.unread.push_back(P::kLogSpeed);
  const auto r = solver::march_implicit(wide_rhs, start, wide_scale, arc_, farthest_, how_,
                                        events<Wide>(), observer, structure);
  std::copy_n(r.state.data(), std::size_t{P::kSize}, y_.begin());
  return counted(r, true);
}

}  // namespace

PathResult march_path(const model::JetContext& context, const SpeedField& speed, const SurfaceHistory& surface,
                      const PathOptions& options) {
  return PathMarch(context, surface, options).along(speed);
}

PathResult march_solid(const model::JetContext& context, const PathResult& thread, double speed_m_s,
                       const SurfaceHistory& surface, const PathOptions& options) {
  return PathMarch(context, surface, options).beyond(thread, speed_m_s);
}

}  // namespace whorl::jet
