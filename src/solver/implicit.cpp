#include "solver/implicit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <exception>
#include <limits>
#include <optional>
#include <string>

#include "solver/bordered.hpp"
#include "solver/dense_stage.hpp"

namespace whorl::solver::detail {
namespace {

using Eigen::Index;
using Eigen::VectorXd;
using Tableau = ImplicitTableau;

constexpr double kEps = std::numeric_limits<double>::epsilon();
constexpr int kMaxIterations = 10;       // beyond, a shorter step is cheaper
constexpr int kMaxIterationsFixed = 60;  // fixed steps cannot be shortened
constexpr double kNewtonGoal = 0.005;      // of the error weight; the last stage multiplies it by up to 31 (a/gamma)
constexpr double kSlowContraction = 0.1;  // a slower iteration asks for a new Jacobian
constexpr double kHardlyMoved = 30.0;     // times a difference: an unknown beyond it is hardly moved
constexpr double kShareOfItself = 0.01, kLeastShare = 1e-11;  // a smaller one is moved by; of its scale at least
constexpr double kLeastMemory = 1e-2;       // a contraction seen before is trusted down to this: it may have been luck

bool all_finite(const VectorXd& v) { return (v.array() * 0.0).sum() == 0.0; }  // 0 * (infinity or NaN) is NaN

enum class Solved { yes, diverged, not_finite, singular };

// Everything a step needs, allocated once.
class Stepper {
 public:
  Stepper(const ImplicitRhs& rhs, const VectorXd& scale, const MarchOptions& o, const JacobianStructure& structure,
          MarchCounters& counters)
      : rhs_(rhs), scale_(scale), counters_(counters), n_(scale.size()) {
    if (structure.kind == JacobianStructure::Kind::bordered_tridiagonal && n_ - structure.border >= 3) {
      bordered_.emplace(n_, structure.border, structure.unread);
    } else {
      dense_.emplace(n_, structure.unread);
    }
    rtol_ = o.relative_tolerance;
    max_iterations_ = o.fixed_step > 0.0 ? kMaxIterationsFixed : kMaxIterations;
    floor_ = (o.absolute_tolerance > 0.0 ? o.absolute_tolerance : rtol_) * scale;
    for (VectorXd* v :
         {&y, &y_new, &k0, &k1, &error, &inside, &weight_, &base_, &z_, &stage_, &rate_, &residual_, &probe_, &delta_})
      v->setZero(n_);
    for (VectorXd& k : k_) k.setZero(n_);
  }

  // State and rate at both ends of the step; error estimate; state inside the step.
  VectorXd y, y_new, k0, k1, error, inside;

  bool evaluate(const VectorXd& state, VectorXd& rate, double t) {
    ++counters_.rhs_calls;
    return rhs_(state, rate, t) && all_finite(rate);
  }

  double norm(const VectorXd& v) const { return (v.array().abs() / weight_.array()).maxCoeff(); }
  void weigh(const VectorXd& a, const VectorXd& b) {
    weight_.array() = floor_.array() + rtol_ * a.array().abs().max(b.array().abs());
  }

  void forget_jacobian() { jacobian_known_ = false; }
  [[nodiscard]] bool jacobian_fresh() const { return jacobian_fresh_; }
  [[nodiscard]] double contraction() const { return slowest_; }

  // One trial step; y_new, k1, error on success.
  Solved step(double t, double h) {
    if (!jacobian_known_ && !difference(t)) return Solved::not_finite;
    if (!factor(h)) return Solved::singular;
    weigh(y, y);
    slowest_ = 0.0;
    const double hg = h * Tableau::kGamma;
    for (std::size_t i = 0; i < Tableau::kStages; ++i) {
      base_ = y;
      for (std::size_t j = 0; j < i; ++j) base_ += (h * kImplicitTableau.a[i][j]) * k_[j];
      predict(i);
      z_ = hg * rate_;
      const Solved solved = iterate(t + kImplicitTableau.c[i] * h, hg);
      if (solved != Solved::yes) return solved;
      k_[i] = z_ / hg;
    }
    y_new = stage_;  // stiffly accurate: the last stage is the solution
    k1 = k_[Tableau::kStages - 1];
    residual_.setZero();
    for (std::size_t i = 0; i < Tableau::kStages; ++i) {
      residual_ += (h * (kImplicitTableau.a[Tableau::kStages - 1][i] - kImplicitTableau.embedded[i])) * k_[i];
    }
    solve(residual_, error);  // keeps the estimate bounded on stiff components
    return all_finite(y_new) && all_finite(k1) && all_finite(error) ? Solved::yes : Solved::not_finite;
  }

  double error_norm() {
    weigh(y, y_new);
    return norm(error);
  }

  // Cubic Hermite interpolant at the fraction s.
  const VectorXd& at_fraction(double s, double h) {
    const double u = 1.0 - s;
    inside = (u * u * (1.0 + 2.0 * s)) * y + (s * s * (1.0 + 2.0 * u)) * y_new + (h * s * u) * (u * k0 - s * k1);
    return inside;
  }

  void accept() {
    y.swap(y_new);
    k0.swap(k1);
    jacobian_fresh_ = false;
    if (slowest_ > kSlowContraction) jacobian_known_ = false;
  }

 private:
  // Rates extrapolated from the stages before, as the start of the iteration: into rate_.
  void predict(std::size_t i) {
    switch (i) {
      case 0: rate_ = k0; break;
      case 1: rate_ = k_[0]; break;
      case 2: rate_ = 0.4 * k_[0] + 0.6 * k_[1]; break;
      case 3: rate_ = (1.0 / 12.0) * k_[0] - 0.125 * k_[1] + (25.0 / 24.0) * k_[2]; break;
      default: rate_ = k_[0] + 3.0 * (k_[1] - k_[3]); break;
    }
  }

  // Solves z = hg f(base + z).
  Solved iterate(double t, double hg) {
    const bool patient = max_iterations_ > kMaxIterations;
    double before = 0.0;
    double eta = std::pow(std::max(last_eta_, kLeastMemory), 0.8);
    for (int iteration = 0; iteration < max_iterations_; ++iteration) {
      stage_ = base_ + z_;
      if (!all_finite(stage_)) return Solved::diverged;
      if (!evaluate(stage_, rate_, t))
        return before * rtol_ > 1.0 ? Solved::diverged : Solved::not_finite;  // thrown far off by the iteration
      residual_ = hg * rate_ - z_;
      solve(residual_, delta_);
      const double size = norm(delta_);
      if (!std::isfinite(size)) return Solved::diverged;
      z_ += delta_;
      const bool rounding = size <= 16.0 * kEps / rtol_;  // the correction is lost in the state
      if (iteration > 0 && before > 0.0) {
        const double theta = size / before;
        if (!rounding) slowest_ = std::max(slowest_, theta);
        if (!patient && theta >= 1.0 && !rounding && size > kNewtonGoal) return Solved::diverged;
        // The slowest contraction of the step counts: with an inexact Jacobian fast and slow corrections alternate.
        const double lasting = std::max(theta, std::min(slowest_, 0.9));
        eta = lasting < 1.0 ? lasting / (1.0 - lasting) : 1.0;
        const double left = max_iterations_ - 1 - iteration;
        if (!patient && !rounding && theta < 1.0 && std::pow(theta, left) * eta * size > kNewtonGoal)
          return Solved::diverged;
      }
      before = size;
      if (rounding || eta * size <= kNewtonGoal) {
        last_eta_ = eta;
        stage_ = base_ + z_;
        return Solved::yes;
      }
    }
    return Solved::diverged;
  }

  // Stage matrix 1 - h gamma J, factorised anew only when it changed.
  bool factor(double h) {
    if (h == factored_step_) return true;
    factored_step_ = 0.0;
    ++counters_.factorisations;
    if (bordered_) {
      if (!bordered_->factor(h * Tableau::kGamma)) return false;
    } else {
      if (!dense_->factor(h * Tableau::kGamma)) return false;
    }
    factored_step_ = h;
    return true;
  }

  void solve(const VectorXd& right, VectorXd& x) const {
    if (bordered_) {
      bordered_->solve(right, x);
    } else {
      dense_->solve(right, x);
    }
  }

  double increment(Index j) const {
    const double relative =
        std::max(std::abs(y[j]) / scale_[j], 0.1);  // of one size: entries outside the structure alias by its ratio
    // Longer than for the least error, sqrt(eps): the Jacobian only steers the iteration, to 1e-5 is plenty, but its
    // rounding noise reaches the result through what the iteration leaves, and 1e-8 of it showed there as 1e-8 of a
    // small solvent content.
    const double d = 1e-5 * relative * scale_[j];
    return k0[j] < 0.0 ? -d : d;  // the way the solution goes
  }

  // Rate with the columns first, first + stride, ... moved; tries the other side when that cannot be evaluated.
  bool moved(Index first, Index stride, double t, double& side) {
    for (const double s : {1.0, -1.0}) {
      probe_ = y;
      for (Index j = first; j < n_; j += stride) probe_[j] += s * increment(j);
      side = s;
      if (evaluate(probe_, rate_, t)) return true;
    }
    return false;
  }

  // The last of the chain, where a boundary acts on it, once it is less than it was moved by: by a share of itself, and
  // alone. What leaves a surface goes with the square of what is left there, and the secant over all of it misleads.
  bool difference_at_end(double t, BorderedMatrix& matrix) {
    const Index j = n_ - 1, m = matrix.border(), k = j - m;
    if (std::abs(y[j]) > kHardlyMoved * std::abs(increment(j))) return true;
    probe_ = y;
    probe_[j] += std::max(kShareOfItself * std::abs(y[j]), kLeastShare * scale_[j]);
    const double d = probe_[j] - y[j];
    if (!evaluate(probe_, rate_, t)) return true;  // the secant has to do
    matrix.above[k - 1] = (rate_[j - 1] - residual_[j - 1]) / d;
    matrix.diagonal[k] = (rate_[j] - residual_[j]) / d;
    for (Index i = 0; i < m; ++i) matrix.tail(i, 2) = (rate_[i] - residual_[i]) / d;
    return true;
  }

  bool difference(double t) {
    ++counters_.jacobians;
    factored_step_ = 0.0;
    // k0 of later steps comes from the stage equations, to the tolerance of the iteration: too rough for differences.
    if (!evaluate(y, residual_, t)) return false;
    double side = 1.0;
    if (!bordered_) {
      Index column = 0;
      for (const Index j : dense_->active()) {
        if (!moved(j, n_, t, side)) return false;
        dense_->columns.col(column++) = (rate_ - residual_) / (probe_[j] - y[j]);
      }
    } else {
      BorderedMatrix& matrix = *bordered_;
      const Index m = matrix.border();
      Index column = 0;
      for (const Index j : matrix.active()) {
        if (!moved(j, n_, t, side)) return false;
        matrix.columns.col(column++) = (rate_ - residual_) / (probe_[j] - y[j]);
      }
      for (Index group = 0; group < 3; ++group) {
        if (!moved(m + group, 3, t, side)) return false;
        Index last = m + group;
        for (Index j = m + group; j < n_; j += 3) {
          const double d = probe_[j] - y[j];
          const Index k = j - m;
          if (k > 0) matrix.above[k - 1] = (rate_[j - 1] - residual_[j - 1]) / d;
          matrix.diagonal[k] = (rate_[j] - residual_[j]) / d;
          if (j + 1 < n_) matrix.below[k + 1] = (rate_[j + 1] - residual_[j + 1]) / d;
          last = j;
        }
        const double d = probe_[last] - y[last];
        for (Index i = 0; i < m; ++i) matrix.tail(i, last - (n_ - 3)) = (rate_[i] - residual_[i]) / d;
      }
      if (!difference_at_end(t, matrix)) return false;
    }
    jacobian_known_ = jacobian_fresh_ = true;
    return true;
  }

  const ImplicitRhs& rhs_;
  const VectorXd& scale_;
    MarchCounters& counters_;
  Index n_;
  double rtol_{};
  int max_iterations_{kMaxIterations};
  VectorXd floor_;
  VectorXd weight_, base_, z_, stage_, rate_, residual_, probe_, delta_;
  std::array<VectorXd, Tableau::kStages> k_;
  std::optional<DenseStage> dense_;
  std::optional<BorderedMatrix> bordered_;  ///< instead of it
  double factored_step_{0.0};
  double last_eta_{1.0};
  double slowest_{};
  bool jacobian_known_{false};
  bool jacobian_fresh_{false};
};

double first_step(Stepper& s, const MarchOptions& options, double t, double direction, double longest, double span) {
  s.weigh(s.y, s.y);
  const double d0 = s.norm(s.y);
  const double d1 = s.norm(s.k0);
  double h0 = (d0 < 1e-5 || d1 < 1e-5) ? 1e-6 * std::abs(span) : 0.01 * d0 / d1;
  h0 = std::min(h0, longest);
  s.y_new = s.y + (direction * h0) * s.k0;
  if (!s.evaluate(s.y_new, s.k1, t + direction * h0)) return std::max(0.1 * h0, least_step(options, t, span));
  s.error = s.k1 - s.k0;
  // y' and y'' per span of t: any unit of t will do
  const double d = std::max(d1, s.norm(s.error) / h0 * std::abs(span)) * std::abs(span);
  const double h1 = d <= 1e-15 ? std::max(1e-6 * std::abs(span), h0 * 1e-3) : std::abs(span) * std::pow(0.01 / d, 0.25);
  const double h = std::min(std::abs(span) * round_ratio(std::min(100.0 * h0, h1) / std::abs(span)), longest);
  return h > 0.0 ? h : least_step(options, t, span);
}

// The first point: looked at by the observer and the events. True: the march ends there.
bool ends_at_start(Stepper& s, ImplicitResult& result, double t, EventTracker<VectorXd>& tracker,
                   const ImplicitObserver& observer) {
  const auto stop = [&](MarchStatus status, std::string message) {
    result.status = status;
    result.message = std::move(message);
    return true;
  };
  if (!s.evaluate(s.y, s.k0, t))
    return stop(MarchStatus::not_finite, at_point("the right-hand side is not finite at the start", t));
  if (!tracker.start(s.y, t))
    return stop(MarchStatus::not_finite,
                at_point("event " + std::to_string(tracker.failed()) + " is not finite at the start", t));
  if (!observer(s.y, t)) return stop(MarchStatus::interrupted, "interrupted");
  for (std::ptrdiff_t i = tracker.fires_at_start(false, 0); i >= 0;
       i = tracker.fires_at_start(false, static_cast<std::size_t>(i) + 1)) {
    result.events.push_back({static_cast<std::size_t>(i), t, s.y});
  }
  if (const std::ptrdiff_t i = tracker.fires_at_start(true, 0); i >= 0) {
    result.events.push_back({static_cast<std::size_t>(i), t, s.y});
    result.event_index = static_cast<std::size_t>(i);
    return stop(MarchStatus::event, "event at start");
  }
  return false;
}

// The march proper; leaves the last good point in s.y and t.
// Long: as in march(), rejections, events and the next size share what lives on from step to step.
void run(Stepper& s, ImplicitResult& result, double& t, double t_end, const MarchOptions& options,
         std::span<const Event<VectorXd>> events, const ImplicitObserver& observer) {
  const auto finish = [&](MarchStatus status, std::string message) {
    result.status = status;
    result.message = std::move(message);
  };
  const double span = t_end - t;
  const double direction = span < 0.0 ? -1.0 : 1.0;
  EventTracker<VectorXd> tracker(events);
  if (ends_at_start(s, result, t, tracker, observer)) return;
  if (span == 0.0) return finish(MarchStatus::reached_end, "reached end");

  const bool fixed = options.fixed_step > 0.0;
  const double longest = options.max_step > 0.0 ? std::min(options.max_step, std::abs(span)) : std::abs(span);
  double h = fixed                        ? options.fixed_step
             : options.initial_step > 0.0 ? std::min(options.initial_step, longest)
                                          : first_step(s, options, t, direction, longest, span);
  bool last_rejected = false;
  PlannedSteps plan(options.plan);
  for (;;) {
    if (result.counters.accepted + result.counters.rejected >= options.max_steps)
      return finish(MarchStatus::step_limit,
                    at_point("step limit (" + std::to_string(options.max_steps) + ") reached", t));
    const bool planned = plan.holds();
    if (planned) h = plan.size();
    const bool free = !fixed && !planned;
    const double remaining = std::abs(t_end - t);
    const bool to_end = h * (1.0 + 1e-9) >= remaining;
    const double size =
        to_end ? remaining : (free && 2.0 * h > remaining && 1.1 * h > 0.5 * remaining ? 0.5 * remaining : h);
    if (!fixed && !to_end && size < least_step(options, t, span))  // steps may shrink without a rejection
      return finish(MarchStatus::step_too_small,
                    at_point("the step fell below the least one (singular solution or jump)", t));
    const double step = direction * size;
    const double t_new = to_end ? t_end : t + step;

    const Solved solved = s.step(t, step);
    const double err = solved == Solved::yes ? s.error_norm() : 0.0;
    const bool exact = fixed || err <= 1.0 || (planned && plan.acceptable(err));
    bool event_bad = false;
    if (solved == Solved::yes && exact && !tracker.empty()) {
      const auto continuous = [&](double x) -> const VectorXd& { return s.at_fraction(x, step); };
      event_bad =
          !tracker.evaluate_end(s.y_new, t_new) || !tracker.scan(continuous, t, step, options.event_checks_per_step);
    }

    if (solved != Solved::yes || event_bad || !exact) {
      ++result.counters.rejected;
      last_rejected = true;
      if (solved == Solved::diverged && !s.jacobian_fresh()) {  // same step again with a Jacobian of this point
        s.forget_jacobian();
        continue;
      }
      plan.leave();
      const bool by_error = solved == Solved::yes && !event_bad;
      const double factor = by_error                     ? std::clamp(0.9 * std::pow(err, -0.25), 0.1, 0.9)
                            : solved == Solved::diverged ? 0.5
                                                         : 0.25;
      h = size * round_ratio(factor);
      if (fixed || h < least_step(options, t, span)) {
        if (event_bad)
          return finish(MarchStatus::not_finite,
                        at_point("event " + std::to_string(tracker.failed()) + " is not finite beyond this point", t));
        if (solved == Solved::not_finite)
          return finish(MarchStatus::not_finite,
                        at_point("the right-hand side cannot be evaluated beyond this point", t));
        if (solved == Solved::singular)
          return finish(MarchStatus::singular_matrix, at_point("the stage matrix is singular", t));
        return finish(MarchStatus::step_too_small,
                      at_point("the step fell below the least one (singular solution or jump)", t));
      }
      continue;
    }

    ++result.counters.accepted;
    if (options.keep_steps) result.steps.size.push_back(size);
    if (!fixed) {
      // A slightly longer step is not worth a new factorisation; a slow iteration is no reason to lengthen the step.
      double factor = std::clamp(0.9 * std::pow(std::max(err, 1e-10), -0.25), 0.2, 6.0);
      if (last_rejected || s.contraction() > 0.5) factor = std::min(factor, 1.0);
      if (factor >= 1.0 && factor <= 1.2) factor = 1.0;
      const double next = size * round_ratio(factor);
      h = std::min(size < h ? std::max(h, next) : next, longest);
    }
    if (planned) h = plan.advance(h);
    last_rejected = false;
    result.next_step = h;

    for (const auto& f : tracker.found()) {
      const VectorXd at_event = f.s == 1.0 ? s.y_new : s.at_fraction(f.s, step);
      const double t_event = f.s == 1.0 ? t_new : t + f.s * step;
      result.events.push_back({f.index, t_event, at_event});
      const bool go_on = observer(at_event, t_event);
      if (tracker[f.index].terminal || !go_on) {
        t = t_event;
        s.y = at_event;
        if (!tracker[f.index].terminal) return finish(MarchStatus::interrupted, "interrupted");
        result.event_index = f.index;
        return finish(MarchStatus::event, "event");
      }
    }
    s.accept();
    t = t_new;
    tracker.advance();
    if (!observer(s.y, t)) return finish(MarchStatus::interrupted, "interrupted");
    if (to_end) return finish(MarchStatus::reached_end, "reached end");
  }
}

}  // namespace

ImplicitResult march_implicit_erased(const ImplicitRhs& rhs, const VectorXd& start, const VectorXd& scale, double t0,
                                     double t_end, const MarchOptions& options, std::span<const Event<VectorXd>> events,
                                     const ImplicitObserver& observer, const JacobianStructure& structure) {
  ImplicitResult result;
  result.t = t0;
  result.state = start;
  std::string wrong = check_options(options, t0, t_end);
  if (wrong.empty() && (start.size() < 1 || scale.size() != start.size()))
    wrong = "start and scale must have the same size, at least 1";
  if (wrong.empty() && !(all_finite(start) && all_finite(scale) && (scale.array() > 0.0).all()))
    wrong = "start must be finite and scale finite and positive";
  if (wrong.empty() && structure.kind == JacobianStructure::Kind::bordered_tridiagonal &&
      (structure.border < 0 || structure.border > start.size()))
    wrong = "border must be between 0 and the number of unknowns";
  const Index unread_below =
      structure.kind == JacobianStructure::Kind::bordered_tridiagonal ? structure.border : start.size();
  if (wrong.empty() && std::any_of(structure.unread.begin(), structure.unread.end(),
                                   [&](Index j) { return j < 0 || j >= unread_below; }))
    wrong = "unread unknowns must be of the border, or without one of the system";
  if (!wrong.empty()) {
    result.message = std::move(wrong);
    return result;
  }
  Stepper stepper(rhs, scale, options, structure, result.counters);
  stepper.y = start;
  double t = t0;
  try {
    run(stepper, result, t, t_end, options, events, observer);
  } catch (const std::exception& e) {
    result.status = MarchStatus::callback_threw;
    result.message = e.what();
  } catch (...) {
    result.status = MarchStatus::callback_threw;
    result.message = "a callback threw something that is not an exception";
  }
  result.t = t;
  result.state = stepper.y;
  return result;
}

}  // namespace whorl::solver::detail
