// Types shared by the explicit (march.hpp) and the implicit (implicit.hpp) stepper: options, status, events, result.
#pragma once
#include <algorithm>
#include <boost/math/policies/policy.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <exception>
#include <functional>
#include <limits>
#include <span>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace whorl::solver {

/// Why a march ended. Beside each value: the condition that ends it.
enum class MarchStatus {
  reached_end,      ///< t equals the asked end
  event,            ///< a terminal event fired; `event_index`, `t` and `state` describe it
  interrupted,      ///< the observer returned false
  stiff,            ///< explicit stepper only: step limited by stability on 15 accepted steps (see detect_stiffness)
  step_limit,       ///< accepted + rejected steps reached max_steps
  step_too_small,   ///< error control asks for a step below the least one: singular solution, jump, or tolerance too
                    ///< tight
  not_finite,       ///< right-hand side or event not finite (or it refused), and no step above the least one avoids it
  callback_threw,   ///< right-hand side, event or observer threw; `message` holds what()
  singular_matrix,  ///< implicit stepper only: stage matrix singular for every step above the least one
  structure_wrong,  ///< implicit stepper only: the Jacobian has entries outside the stated structure
  bad_options       ///< options, scale or start values invalid; nothing was done
};

/// Sizes of the accepted steps of a march, to take the same ones once more. Two marches by one plan differ smoothly with
/// what they march through; with steps of their own each, they differ by what the tolerance leaves as well.
struct StepPlan {
  std::vector<double> size;  ///< [unit of t], each a whole step, also where an event ended it
  bool stiff{};              ///< the explicit march ended as stiff after them
  double most_error{3.0};    ///< of a step, in tolerances, at which the plan is still kept
};

/// Numerics of a march. Error weight of component i: relative_tolerance*max(|y_i old|, |y_i new|) +
/// absolute_tolerance*scale_i; a step is accepted when the largest |error_i|/weight_i is at most 1.
struct MarchOptions {
  double relative_tolerance{1e-6};
  double absolute_tolerance{0.0};  ///< as a fraction of scale; 0: same number as relative_tolerance
  int max_steps{100000};           ///< accepted + rejected
  double initial_step{0.0};        ///< [unit of t], size; 0: chosen from the equations
  double min_step{0.0};            ///< [unit of t], size; 0: 16 rounding units of t (and 1e-30 of the span)
  double max_step{0.0};            ///< [unit of t], size; 0: the whole span
  double fixed_step{0.0};          ///< [unit of t]; > 0 switches error control off (convergence tests)
  bool detect_stiffness{false};    ///< explicit stepper: end with status `stiff` when stability limits the step
  /// Steps to take as they are, then on by error control. Left for good at a step that fails or misses the tolerance
  /// StepPlan::most_error times over; nullptr: error control alone.
  const StepPlan* plan{};
  bool keep_steps{false};          ///< leave the accepted steps in MarchResult::steps
  int event_checks_per_step{1};    ///< sign checks per step on the dense output; more finds double crossings in a step
};

enum class Crossing { any, rising, falling };

/// A scalar function of the state whose zero crossing is located on the dense output (TOMS 748).
/// Two crossings inside one check interval cancel and are not seen: raise event_checks_per_step or limit max_step.
/// The reported point is on the far side of the crossing (or exactly zero), so a march restarted there with the
/// same events does not fire again.
template <class State>
struct Event {
  std::function<double(const State&, double)> value;
  Crossing crossing{Crossing::any};
  bool terminal{true};
  double zero_tolerance{
      0.0};  ///< |value| at the start at or below this counts as zero; a zero start does not fire by itself
  bool fire_at_start{false};   ///< fire at the start if the value is zero there (crossing is then ignored)
};

template <class State>
struct EventRecord {
  std::size_t index{};
  double t{};
  State state{};
};

struct MarchCounters {
  std::int64_t rhs_calls{};        ///< includes the ones for finite-difference Jacobians
  std::int64_t accepted{};
  std::int64_t rejected{};
  std::int64_t jacobians{};        ///< implicit stepper
  std::int64_t factorisations{};   ///< implicit stepper
};

/// Outcome. `t` and `state` are always the last good point: finite whatever the status (if the start was).
template <class State>
struct MarchResult {
  MarchStatus status{MarchStatus::bad_options};
  std::string message{"not run"};
  std::size_t event_index{static_cast<std::size_t>(-1)};  ///< of the terminal event
  double t{};
  State state{};
  double
      next_step{};  ///< [unit of t], size: what the error control would try next; useful as initial_step of a restart
  MarchCounters counters;
  StepPlan steps;  ///< with MarchOptions::keep_steps
  std::vector<EventRecord<State>> events;  ///< every event that fired, in order, the terminal one last

  /// Came to a planned end: the asked end or a terminal event.
  [[nodiscard]] bool converged() const noexcept {
    return status == MarchStatus::reached_end || status == MarchStatus::event;
  }
};

namespace detail {

/// Goes through a plan, a step at a time.
class PlannedSteps {
 public:
  explicit PlannedSteps(const StepPlan* plan) : plan_(plan) {}
  /// The next step is one of the plan: of this size.
  [[nodiscard]] bool holds() const noexcept { return plan_ != nullptr && at_ < plan_->size.size(); }
  [[nodiscard]] double size() const { return plan_->size[at_]; }
  [[nodiscard]] bool acceptable(double error) const noexcept { return error <= plan_->most_error; }
  /// The step is taken. Returns the size to go on with after the last one: the same again, else `next`.
  double advance(double next) noexcept {
    ++at_;
    return at_ == plan_->size.size() ? plan_->size.back() : next;
  }
  /// All steps are taken, and the march that left them ended as stiff.
  [[nodiscard]] bool ends_stiff() const noexcept {
    return plan_ != nullptr && plan_->stiff && at_ == plan_->size.size();
  }
  void leave() noexcept { plan_ = nullptr; }

 private:
  const StepPlan* plan_;
  std::size_t at_{};
};

/// Boost.Math policy: errors come back as values, never as exceptions.
using QuietPolicy = boost::math::policies::policy<
    boost::math::policies::domain_error<boost::math::policies::ignore_error>,
    boost::math::policies::pole_error<boost::math::policies::ignore_error>,
    boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
    boost::math::policies::evaluation_error<boost::math::policies::ignore_error>,
    boost::math::policies::rounding_error<boost::math::policies::ignore_error>>;

inline int sign_of(double value) noexcept { return (value > 0.0) - (value < 0.0); }

/// Follows the signs of all events along a march. Dense output is a callable State(double s), s in [0,1].
template <class State>
class EventTracker {
 public:
  explicit EventTracker(std::span<const Event<State>> events) : events_(events), track_(events.size()) {}

  [[nodiscard]] bool empty() const noexcept { return events_.empty(); }

  /// First values. Returns false if one is not finite.
  bool start(const State& state, double t) {
    for (std::size_t i = 0; i < events_.size(); ++i) {
      const double g = events_[i].value(state, t);
      if (!std::isfinite(g)) {
        failed_ = i;
        return false;
      }
      const bool zero = std::abs(g) <= events_[i].zero_tolerance;
      track_[i] = {zero ? 0.0 : g, g};
    }
    return true;
  }

  /// Index of an event that fires at the start, or -1.
  [[nodiscard]] std::ptrdiff_t fires_at_start(bool terminal, std::size_t from) const {
    for (std::size_t i = from; i < events_.size(); ++i) {
      if (events_[i].fire_at_start && track_[i].old == 0.0 && events_[i].terminal == terminal) {
        return static_cast<std::ptrdiff_t>(i);
      }
    }
    return -1;
  }

  /// Values at the end of a trial step. Returns false if one is not finite.
  bool evaluate_end(const State& state, double t) {
    for (std::size_t i = 0; i < events_.size(); ++i) {
      const double g = events_[i].value(state, t);
      if (!std::isfinite(g)) {
        failed_ = i;
        return false;
      }
      track_[i].now = g;
    }
    return true;
  }

  /// Finds what fires inside the accepted step [t0, t0 + h]; fills found() in order of time. Returns false if an
  /// event is not finite inside the step.
  template <class Dense>
  bool scan(const Dense& dense, double t0, double h, int checks) {
    found_.clear();
    for (std::size_t i = 0; i < events_.size(); ++i) {
      double g_left = track_[i].old;
      double s_left = 0.0;
      for (int j = 1; j <= checks; ++j) {
        const bool last = j == checks;
        const double s_right = last ? 1.0 : static_cast<double>(j) / static_cast<double>(checks);
        const double g_right = last ? track_[i].now : events_[i].value(dense(s_right), t0 + s_right * h);
        if (!std::isfinite(g_right)) {
          failed_ = i;
          return false;
        }
        const int left = sign_of(g_left);
        const int right = sign_of(g_right);
        const bool rises = left < 0 && right >= 0;
        const bool falls = left > 0 && right <= 0;
        const Crossing want = events_[i].crossing;
        if ((rises && want != Crossing::falling) || (falls && want != Crossing::rising)) {
          double s = s_right;
          if (right != 0 && !locate(i, dense, t0, h, {s_left, g_left}, {s_right, g_right}, s)) return false;
          insert({s, i});
        }
        g_left = g_right;
        s_left = s_right;
      }
    }
    return true;
  }

  /// The step is taken: its end values become the start values of the next.
  void advance() noexcept {
    for (auto& v : track_) v.old = v.now;
  }

  struct Found {
    double s{};
    std::size_t index{};
  };
  [[nodiscard]] const std::vector<Found>& found() const noexcept { return found_; }
  [[nodiscard]] const Event<State>& operator[](std::size_t i) const { return events_[i]; }
  [[nodiscard]] std::size_t failed() const noexcept { return failed_; }

 private:
  struct Values {
    double old{};
    double now{};
  };
  struct Point {
    double s{};
    double g{};
  };

  void insert(Found f) {
    auto it = found_.end();
    while (it != found_.begin() && (it - 1)->s > f.s) --it;
    found_.insert(it, f);
  }

  template <class Dense>
  bool locate(std::size_t i, const Dense& dense, double t0, double h, Point left, Point right, double& s_event) {
    bool finite = true;
    const auto g = [&](double s) {
      const double v = events_[i].value(dense(s), t0 + s * h);
      if (!std::isfinite(v)) {
        finite = false;
        return right.g;
      }
      return v;
    };
    std::uintmax_t iterations = 200;
    const auto close = [](double a, double b) {
      return std::abs(b - a) <= 4.0 * std::numeric_limits<double>::epsilon();
    };
    const auto bracket =
        boost::math::tools::toms748_solve(g, left.s, right.s, left.g, right.g, close, iterations, QuietPolicy());
    if (!finite) {
      failed_ = i;
      return false;
    }
    // Of the two ends of the bracket take the one beyond the crossing.
    s_event = bracket.second;
    const int first = sign_of(g(bracket.first));
    if (first == 0 || first == sign_of(right.g)) s_event = bracket.first;
    return true;
  }

  std::span<const Event<State>> events_;
  std::vector<Values> track_;
  std::vector<Found> found_;
  std::size_t failed_{};
};

/// Calls the observer; true to go on. An observer may return nothing.
template <class Observer, class State>
bool notify(Observer& observer, const State& state, double t) {
  if constexpr (std::is_same_v<std::invoke_result_t<Observer&, const State&, double>, void>) {
    observer(state, t);
    return true;
  } else {
    return static_cast<bool>(observer(state, t));
  }
}

/// The same for an observer of whole steps.
template <class Observer, class Step>
bool notify_dense(Observer& observer, const Step& step) {
  if constexpr (std::is_same_v<std::invoke_result_t<Observer&, const Step&>, void>) {
    observer(step);
    return true;
  } else {
    return static_cast<bool>(observer(step));
  }
}

/// What is wrong with the options, or an empty text.
inline std::string check_options(const MarchOptions& o, double t0, double t_end) {
  const auto step_ok = [](double h) { return std::isfinite(h) && h >= 0.0; };
  if (!(o.relative_tolerance >= 1e-14 && o.relative_tolerance <= 0.5))
    return "relative_tolerance must be in [1e-14, 0.5]";
  if (!(o.absolute_tolerance >= 0.0 && std::isfinite(o.absolute_tolerance)))
    return "absolute_tolerance must be finite and not negative";
  if (o.max_steps < 1) return "max_steps must be at least 1";
  if (o.event_checks_per_step < 1) return "event_checks_per_step must be at least 1";
  if (!step_ok(o.initial_step) || !step_ok(o.min_step) || !step_ok(o.max_step) || !step_ok(o.fixed_step)) {
    return "steps must be finite and not negative";
  }
  if (!std::isfinite(t0) || !std::isfinite(t_end)) return "start and end must be finite";
  return {};
}

/// Least step that still moves t and that the options allow.
inline double least_step(const MarchOptions& o, double t, double span) noexcept {
  const double rounding = 16.0 * std::numeric_limits<double>::epsilon() * std::abs(t);
  return std::max({o.min_step, rounding, 1e-30 * std::abs(span)});
}

/// A ratio of two steps, without dimension, rounded down to six binary digits. The last bits of a right-hand side
/// differ from one C library to the next and, scaled up by the error estimate, from one unit of t to another; they
/// would enter every later step. Rounded, they are forgotten, unless the ratio sits within them of the next notch.
inline double round_ratio(double ratio) noexcept {
  if (!(ratio > 0.0) || !std::isfinite(ratio)) return ratio;
  int exponent = 0;
  const double mantissa = std::frexp(ratio, &exponent);  // in [0.5, 1)
  return std::ldexp(std::floor(mantissa * 64.0 * (1.0 + 1e-12)), exponent - 6);
}

/// "..., at t = 1.25"
[[nodiscard]] std::string at_point(std::string text, double t);

struct NoObserver {
  template <class State>
  void operator()(const State&, double) const noexcept {}
};

}  // namespace detail
}  // namespace whorl::solver
