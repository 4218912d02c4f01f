// Explicit marching of a small system of ordinary differential equations: Dormand-Prince 5(4) of Boost.Odeint under
// our own step control. The only header that includes odeint.
#pragma once
#include <algorithm>
#include <array>
#include <boost/numeric/odeint/algebra/array_algebra.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <type_traits>
#include <utility>

#include "solver/march_types.hpp"

namespace whorl::solver {

namespace detail {
template <std::size_t N>
using Dopri5 = boost::numeric::odeint::runge_kutta_dopri5<std::array<double, N>, double, std::array<double, N>, double,
                                                          boost::numeric::odeint::array_algebra>;
}  // namespace detail

/// One accepted step with its continuous extension (4th order). Valid only during the observer call it is passed to.
template <std::size_t N>
class DenseStep {
 public:
  using State = std::array<double, N>;
  DenseStep(const detail::Dopri5<N>& stepper, const State& y0, const State& k0, const State& y1, const State& k1)
      : stepper_(&stepper), y0_(&y0), k0_(&k0), y1_(&y1), k1_(&k1) {}

  [[nodiscard]] double t0() const noexcept { return t0_; }
  /// End of the usable part: the end of the step, or the terminal event inside it.
  [[nodiscard]] double t1() const noexcept { return t1_; }
  /// State at t in [t0, t1].
  [[nodiscard]] State at(double t) const { return at_fraction((t - t0_) / h_); }
  /// State at the fraction s of the whole step.
  [[nodiscard]] State at_fraction(double s) const {
    State y;
    stepper_->calc_state(s * h_, y, *y0_, *k0_, 0.0, *y1_, *k1_, h_);
    return y;
  }
  void set_range(double t0, double h) noexcept {
    t0_ = t0;
    h_ = h;
    t1_ = t0 + h;
  }
  void set_end(double t1) noexcept { t1_ = t1; }

 private:
  const detail::Dopri5<N>* stepper_;
  const State *y0_, *k0_, *y1_, *k1_;
  double t0_{}, h_{}, t1_{};
};

/// March y' = rhs(y, t) from t0 to t_end (forward or backward).
///
/// rhs: void or bool (const State&, State& dydt, double t). It may refuse a point by returning false or by a
/// non-finite derivative: the step is then shortened, and below the least step the march ends with not_finite.
/// observer: void or bool (const State&, double t), called at the start, after every accepted step and at every event
/// in order of t; false ends the march (interrupted). Instead it may take (const DenseStep<N>&): called once per
/// accepted step.
/// scale: typical size of each component, all positive; it sets the absolute tolerance (see MarchOptions).
/// Error: never throws; never returns a state that is not finite; every failure is a status with a message.
/// Accuracy: order 5 with local extrapolation, dense output order 4. Step control: proportional-integral,
/// exponents 0.2 - 0.75*0.04 and 0.04, safety 0.9, change limited to [0.2, 10], rounded (detail::round_ratio).
/// Source: Dormand & Prince, J. Comput. Appl. Math. 6 (1980) 19; step control, first step and the stiffness test
/// (h*|lambda| estimate above 3.25 on 15 steps without 6 in a row below) after Hairer, Norsett & Wanner, Solving
/// Ordinary Differential Equations I, 2nd ed., II.4, and Hairer & Wanner II, IV.2 (from memory); or above 2.5 on 200
/// steps in a row.
// Long: the loop of a step, with its rejections, events and stiffness test, shares a dozen numbers that live on from
// step to step.
template <std::size_t N, class Rhs, class Observer = detail::NoObserver>
[[nodiscard]] MarchResult<std::array<double, N>> march(
    Rhs&& rhs, const std::array<double, N>& start, const std::type_identity_t<std::array<double, N>>& scale, double t0,
    double t_end, const MarchOptions& options = {},
    std::type_identity_t<std::span<const Event<std::array<double, N>>>> events = {}, Observer&& observer = {}) {
  using State = std::array<double, N>;
  constexpr bool kDenseObserver = std::is_invocable_v<Observer&, const DenseStep<N>&>;

  MarchResult<State> result;
  result.t = t0;
  result.state = start;

  double t = t0;
  State y = start;
  const double span = t_end - t0;
  const double direction = span < 0.0 ? -1.0 : 1.0;
  const auto finish = [&](MarchStatus status, std::string message) {
    result.status = status;
    result.message = std::move(message);
  };

  if (std::string wrong = detail::check_options(options, t0, t_end); !wrong.empty()) {
    finish(MarchStatus::bad_options, std::move(wrong));
    return result;
  }
  for (std::size_t i = 0; i < N; ++i) {
    if (!(scale[i] > 0.0) || !std::isfinite(scale[i]) || !std::isfinite(start[i])) {
      finish(MarchStatus::bad_options,
             "start must be finite and scale finite and positive, component " + std::to_string(i));
      return result;
    }
  }

  // The stepper calls this. It counts, notes a refusal, and remembers where the last but one stage lives.
  bool refused = false;
  const State* stage_state = nullptr;
  const State* stage_rate = nullptr;
  const State* last_state = nullptr;
  const State* last_rate = nullptr;
  const auto system = [&](const State& at_state, State& dydt, double at) {
    stage_state = last_state;
    stage_rate = last_rate;
    last_state = &at_state;
    last_rate = &dydt;
    if (refused) {
      dydt.fill(0.0);
      return;
    }
    ++result.counters.rhs_calls;
    if constexpr (std::is_same_v<std::invoke_result_t<Rhs&, const State&, State&, double>, void>) {
      rhs(at_state, dydt, at);
    } else if (!rhs(at_state, dydt, at)) {
      refused = true;
      dydt.fill(0.0);
    }
  };
  const auto system_ref = std::cref(system);
  const auto all_finite = [](const State& a) {
    double sum = 0.0;
    for (std::size_t i = 0; i < N; ++i) sum += a[i] * 0.0;  // 0 * (infinity or NaN) is NaN
    return sum == 0.0;
  };

  try {
    detail::EventTracker<State> tracker(events);
    State k0;
    system(y, k0, t);
    if (refused || !all_finite(k0)) {
      finish(MarchStatus::not_finite, detail::at_point("the right-hand side is not finite at the start", t));
      return result;
    }
    if (!tracker.start(y, t)) {
      finish(MarchStatus::not_finite,
             detail::at_point("event " + std::to_string(tracker.failed()) + " is not finite at the start", t));
      return result;
    }
    if constexpr (!kDenseObserver) {
      if (!detail::notify(observer, y, t)) {
        finish(MarchStatus::interrupted, "interrupted");
        return result;
      }
    }
    for (std::ptrdiff_t i = tracker.fires_at_start(false, 0); i >= 0;
         i = tracker.fires_at_start(false, static_cast<std::size_t>(i) + 1)) {
      result.events.push_back({static_cast<std::size_t>(i), t, y});
    }
    if (const std::ptrdiff_t i = tracker.fires_at_start(true, 0); i >= 0) {
      result.events.push_back({static_cast<std::size_t>(i), t, y});
      result.event_index = static_cast<std::size_t>(i);
      finish(MarchStatus::event, "event at start");
      return result;
    }
    if (span == 0.0) {
      finish(MarchStatus::reached_end, "reached end");
      return result;
    }

    const double rtol = options.relative_tolerance;
    const double atol = options.absolute_tolerance > 0.0 ? options.absolute_tolerance : rtol;
    State floor_weight;
    for (std::size_t i = 0; i < N; ++i) floor_weight[i] = atol * scale[i];
    const bool fixed = options.fixed_step > 0.0;
    const double longest = options.max_step > 0.0 ? std::min(options.max_step, std::abs(span)) : std::abs(span);

    double h = options.initial_step;
    if (fixed) {
      h = options.fixed_step;
    } else if (h <= 0.0) {
      // First step: sizes of y, y' and a difference estimate of y'' in the error norm, per span of t: any unit of t
      // will do.
      double d0 = 0.0, d1 = 0.0;
      for (std::size_t i = 0; i < N; ++i) {
        const double w = floor_weight[i] + rtol * std::abs(y[i]);
        d0 = std::max(d0, std::abs(y[i]) / w);
        d1 = std::max(d1, std::abs(k0[i]) / w);
      }
      double h0 = (d0 < 1e-5 || d1 < 1e-5) ? 1e-6 * std::abs(span) : 0.01 * d0 / d1;
      h0 = std::min(h0, longest);
      State probe, k_probe;
      for (std::size_t i = 0; i < N; ++i) probe[i] = y[i] + direction * h0 * k0[i];
      system(probe, k_probe, t + direction * h0);
      if (refused || !all_finite(k_probe)) {
        refused = false;
        h = 0.1 * h0;
      } else {
        double d2 = 0.0;
        for (std::size_t i = 0; i < N; ++i) {
          d2 = std::max(d2, std::abs(k_probe[i] - k0[i]) / (floor_weight[i] + rtol * std::abs(y[i])));
        }
        d2 /= h0;
        const double d = std::max(d1, d2 * std::abs(span)) * std::abs(span);
        const double h1 =
            d <= 1e-15 ? std::max(1e-6 * std::abs(span), h0 * 1e-3) : std::abs(span) * std::pow(0.01 / d, 0.2);
        h = std::min(100.0 * h0, h1);
      }
      h = std::abs(span) * detail::round_ratio(h / std::abs(span));
    }
    if (!fixed) h = std::min(h, longest);
    if (!(h > 0.0)) h = detail::least_step(options, t, span);

    detail::Dopri5<N> stepper;
    State y_new, k_new, error;
    DenseStep<N> dense(stepper, y, k0, y_new, k_new);
    constexpr double kBeta = 0.04;
    constexpr double kAlpha = 0.2 - 0.75 * kBeta;
    double previous_error_power = std::pow(1e-4, kBeta);
    bool last_rejected = false;
    int stiff_steps = 0;
    // The step control can hold the step just inside the limit, for ever: own choices.
    constexpr double kNearStability = 2.5;
    constexpr int kNearFor = 200;
    int near_steps = 0;
    int easy_steps = 0;
    detail::PlannedSteps plan(options.plan);

    for (;;) {
      if (result.counters.accepted + result.counters.rejected >= options.max_steps) {
        finish(MarchStatus::step_limit,
               detail::at_point("step limit (" + std::to_string(options.max_steps) + ") reached", t));
        break;
      }
      if (plan.ends_stiff()) {
        finish(MarchStatus::stiff, detail::at_point("stability, not accuracy, limits the step", t));
        break;
      }
      const bool planned = plan.holds();
      if (planned) h = plan.size();
      const bool free = !fixed && !planned;
      const double remaining = std::abs(t_end - t);
      const bool to_end = h * (1.0 + 1e-9) >= remaining;
      // Two last steps of equal size rather than one and a sliver.
      const double size =
          to_end ? remaining : (free && 2.0 * h > remaining && 1.1 * h > 0.5 * remaining ? 0.5 * remaining : h);
      const double step = direction * size;
      refused = false;
      stepper.do_step(system_ref, y, k0, t, y_new, k_new, step, error);

      const double t_new = to_end ? t_end : t + step;
      double err = 0.0;
      double guard = 0.0;
      for (std::size_t i = 0; i < N; ++i) {
        const double w = floor_weight[i] + rtol * std::max(std::abs(y[i]), std::abs(y_new[i]));
        const double e = std::abs(error[i]) / w;
        err = e > err ? e : err;
        guard += (y_new[i] + k_new[i] + error[i]) * 0.0;
      }
      bool evaluable = !refused && guard == 0.0;
      bool event_bad = false;
      const bool exact = fixed || err <= 1.0 || (planned && plan.acceptable(err));
      if (evaluable && exact && !tracker.empty()) {
        dense.set_range(t, step);
        const auto continuous = [&](double s) { return dense.at_fraction(s); };
        event_bad =
            !tracker.evaluate_end(y_new, t_new) || !tracker.scan(continuous, t, step, options.event_checks_per_step);
        evaluable = !event_bad;
      }

      if (!evaluable || !exact) {
        ++result.counters.rejected;
        last_rejected = true;
        plan.leave();
        const double factor = evaluable ? std::max(0.2, 0.9 * std::pow(err, -kAlpha)) : 0.25;
        const double smaller = size * detail::round_ratio(std::min(factor, 0.9));
        if (fixed || smaller < detail::least_step(options, t, span)) {
          if (evaluable) {
            finish(MarchStatus::step_too_small,
                   detail::at_point("the step fell below the least one (singular solution or jump)", t));
          } else if (event_bad) {
            finish(
                MarchStatus::not_finite,
                detail::at_point("event " + std::to_string(tracker.failed()) + " is not finite beyond this point", t));
          } else {
            finish(MarchStatus::not_finite,
                   detail::at_point("the right-hand side cannot be evaluated beyond this point", t));
          }
          break;
        }
        h = smaller;
        continue;
      }

      // Accepted.
      ++result.counters.accepted;
      if (options.keep_steps) result.steps.size.push_back(size);
      bool go_on = true;
      bool ended = false;
      if (!tracker.empty()) {
        for (const auto& f : tracker.found()) {
          const State at_event = f.s == 1.0 ? y_new : dense.at_fraction(f.s);
          const double t_event = f.s == 1.0 ? t_new : t + f.s * step;
          if (!all_finite(at_event)) {
            finish(MarchStatus::not_finite, detail::at_point("the dense output is not finite at an event", t));
            ended = true;
            break;
          }
          result.events.push_back({f.index, t_event, at_event});
          const bool terminal = tracker[f.index].terminal;
          if (terminal) {
            result.event_index = f.index;
            finish(MarchStatus::event, "event");
            ended = true;
            dense.set_end(t_event);
            if constexpr (kDenseObserver) static_cast<void>(detail::notify_dense(observer, dense));
          }
          if constexpr (!kDenseObserver) go_on = detail::notify(observer, at_event, t_event) && go_on;
          if (terminal) {
            t = t_event;
            y = at_event;
            result.next_step = h;
            break;
          }
          if (!go_on) {
            t = t_event;
            y = at_event;
            break;
          }
        }
        if (ended) break;
      }

      bool stiff = false;
      if (options.detect_stiffness && !planned && stage_state != nullptr) {
        // |f(y_new) - f(stage 6)| / |y_new - stage 6| estimates the dominant |lambda|: both are at t + h.
        double top = 0.0, bottom = 0.0;
        for (std::size_t i = 0; i < N; ++i) {
          const double inverse = 1.0 / scale[i];
          const double a = (k_new[i] - (*stage_rate)[i]) * inverse;
          const double b = (y_new[i] - (*stage_state)[i]) * inverse;
          top += a * a;
          bottom += b * b;
        }
        const double reach2 = bottom > 0.0 ? size * size * top / bottom : 0.0;  // (h*|lambda|)^2
        if (reach2 > 3.25 * 3.25) {
          easy_steps = 0;
          stiff = ++stiff_steps >= 15;
        } else if (++easy_steps >= 6) {
          stiff_steps = 0;
        }
        near_steps = reach2 > kNearStability * kNearStability ? near_steps + 1 : 0;
        stiff = stiff || near_steps >= kNearFor;
      }

      if (go_on) {
        if constexpr (kDenseObserver) {
          dense.set_range(t, t_new - t);
          go_on = detail::notify_dense(observer, dense);
        } else {
          go_on = detail::notify(observer, y_new, t_new);
        }
        y = y_new;
        k0 = k_new;
        t = t_new;
        tracker.advance();
      }

      if (!fixed) {
        const double e = std::max(err, 1e-10);
        const double factor = std::clamp(0.9 * std::pow(e, -kAlpha) * previous_error_power, 0.2, 10.0);
        previous_error_power = std::pow(std::max(e, 1e-4), kBeta);
        // A step shortened only to meet the end says nothing about the next size.
        const double next = size * detail::round_ratio(last_rejected ? std::min(factor, 1.0) : factor);
        h = std::min(size < h ? std::max(h, next) : next, longest);
      }
      if (planned) h = plan.advance(h);
      last_rejected = false;
      result.next_step = h;
      if (!go_on) {
        finish(MarchStatus::interrupted, "interrupted");
        break;
      }
      if (to_end) {
        finish(MarchStatus::reached_end, "reached end");
        break;
      }
      if (stiff) {
        finish(MarchStatus::stiff, detail::at_point("stability, not accuracy, limits the step", t));
        break;
      }
    }
  } catch (const std::exception& e) {
    finish(MarchStatus::callback_threw, e.what());
  } catch (...) {
    finish(MarchStatus::callback_threw, "a callback threw something that is not an exception");
  }
  result.steps.stiff = result.status == MarchStatus::stiff;
  result.t = t;
  result.state = y;
  return result;
}

}  // namespace whorl::solver
