#include "engine/tension.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <string>
#include <vector>

#include "engine/jet_report.hpp"
#include "engine/tension_line.hpp"
#include "engine/tension_path.hpp"
#include "engine/tension_smooth.hpp"
#include "solver/anderson.hpp"
#include "solver/banded.hpp"
#include "solver/collocation.hpp"

namespace whorl::engine {
namespace {

using P = PathState;

constexpr double kDrawnTurn = 0.3;  // [rad] in three stations

double interpolate(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (at <= x.front()) return y.front();
  if (at >= x.back()) return y.back();
  const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
  return y[i - 1] + (at - x[i - 1]) / (x[i] - x[i - 1]) * (y[i] - y[i - 1]);
}

class TensionJet {
 public:
  TensionJet(const model::JetContext& context, const TensionOptions& options) : context_(context), options_(options) {
    law_.model = options.polymer;
    law_.mobility = options.mobility;
    law_.extensibility = context.fluid->extensibility;
  }

  model::Jet run(const model::Jet& start, const TensionMemory* memory) {
    jet_.work = start.work;
    if (options_.rule == ThreadRule::automatic && run_smooth(start, memory)) return report_smooth();
    if (memory != nullptr) {
      remember(*memory);
    } else if (!begin(start)) {
      return fail("the inertial start has too few stations");
    }
    bool any = false;
    for (std::size_t cells = options_.cells;; cells *= 2) {
      if (any) remesh(cells);
      // a finer mesh that finds its solution takes a few times the work so far; one that does not is not tried to the end
      if (any) spend_until_ = spent_ + 6 * std::max(spent_, 20 * cells);
      const double before = any ? state_.log_speed.back() : 0.0;
      const bool last = cells * 2 > options_.most_cells || options_.mesh_tolerance <= 0.0;
      // a first mesh only leads to the next one
      if (!settle_drying(any || last ? options_.tolerance : std::max(options_.tolerance, 1e-4), options_.confirm_drying && (any || last))) {
        if (!any) return fail("on the mesh of " + std::to_string(cells) + " cells: " + trouble_);
        remark_ = "; the mesh of " + std::to_string(cells) + " cells failed (" + trouble_ + ")";
        restore();
        break;
      }
      keep();
      if (any) {
        // the finer mesh is off by a third of the change in second order, by all of it in first
        mesh_error_ = std::abs(state_.log_speed.back() - before) / (first_order_only_ ? 1.0 : 3.0);
        if (mesh_error_ < options_.mesh_tolerance || exhausted()) break;
      }
      any = true;
      if (last) break;
    }
    if (path_.end == PathEnd::cut && !dry_beyond()) return fail(trouble_);
    return report();
  }

  void leave(TensionMemory& memory) const {
    memory.exit_speed_m_s = context_.exit_speed_m_s;
    memory.end_radius_m = end_radius_;
    memory.cut_m = cut_;
    memory.reached_collector = path_.end == PathEnd::collector;
    memory.pull_N = pull_N_;
    memory.pull_slope = pull_slope_;
    memory.taken_up = options_.end == model::JetEnd::taken_up;
    const double turning = context_.speed_rad_s * context_.collector_radius_m;
    memory.take_up_share = options_.take_up_speed_m_s > 0.0 ? options_.take_up_speed_m_s / turning : 1.0;
    memory.smooth = smooth_;
    memory.share = sigma_;
    memory.log_speed = state_.log_speed;
    memory.pull = state_.pull;
    memory.waist = state_.waist;
    memory.surface = surface_;
  }
  [[nodiscard]] const std::string& trouble() const { return trouble_; }

 private:
  model::Jet fail(const std::string& why) const {
    model::Jet failed;
    failed.work = jet_.work;
    failed.reason = "tension: " + why;
    return failed;
  }

  bool begin(const model::Jet& start) {
    double farthest = 0.0;
    for (const model::JetStation& s : start.profile) farthest = std::max(farthest, s.radius_m);
    if (!start.reached_collector) cut_ = context_.outer_radius_m + options_.stalled_share * (farthest - context_.outer_radius_m);
    std::vector<double> radius, log_u, phi, arc;
    for (const model::JetStation& s : start.profile) {
      if (s.solid && radius.size() >= 2) break;
      if (cut_ > 0.0 && s.radius_m > cut_ && radius.size() >= 2) break;
      if (!radius.empty() && s.radius_m <= radius.back() * (1.0 + 1e-13)) continue;
      arc.push_back(s.arc_length_m);
      radius.push_back(radius.empty() ? context_.outer_radius_m : s.radius_m);
      log_u.push_back(std::log(s.speed_m_s));
      phi.push_back(s.polymer_volume_fraction);
    }
    if (arc.size() < 2) return false;
    surface_.start_ratio = context_.fluid->initial.solvent_ratio;
    if (options_.radial) follow_surface(start);
    log_u[0] = std::log(context_.exit_speed_m_s);
    end_radius_ = cut_ > 0.0 ? std::min(radius.back(), cut_) : radius.back();
    std::vector<double> monitor(arc.size(), 0.0);
    for (std::size_t i = 1; i < arc.size(); ++i) {
      monitor[i] = std::abs(log_u[i] - log_u[i - 1]) + 2.0 * std::abs(phi[i] - phi[i - 1]) + (arc[i] - arc[i - 1]) / arc.back();
    }
    lay_mesh(radius, monitor, options_.cells);
    state_.log_speed.resize(sigma_.size());
    for (std::size_t i = 0; i < sigma_.size(); ++i) state_.log_speed[i] = interpolate(radius, log_u, radius_of(i));
    state_.pull.assign(sigma_.size(), 0.0);
    state_.waist.assign(sigma_.size(), 0.0);
    return true;
  }

  // The solution of a similar jet, with this one's speed at the orifice: in free flight the square of the speed shifts.
  void remember(const TensionMemory& memory) {
    sigma_ = memory.share;
    state_ = {memory.log_speed, memory.pull, memory.waist};
    const double u0 = context_.exit_speed_m_s;
    const double shift = u0 * u0 - memory.exit_speed_m_s * memory.exit_speed_m_s;
    for (double& y : state_.log_speed) y = 0.5 * std::log(std::max(std::exp(2.0 * y) + shift, 0.25 * u0 * u0));
    state_.log_speed[0] = std::log(u0);
    end_radius_ = memory.end_radius_m;
    cut_ = memory.cut_m;
    pull_N_ = memory.pull_N;
    pull_slope_ = memory.pull_slope;
    surface_ = memory.surface;
    drying_known_ = true;
    if (sigma_.size() != options_.cells + 1) {
      const std::vector<double> radius = radii();
      std::vector<double> change(radius.size(), 0.0);
      for (std::size_t i = 1; i < radius.size(); ++i) change[i] = 4.0 / static_cast<double>(radius.size());  // where the nodes were
      resample(radius, change, options_.cells);
    }
  }

  void follow_surface(const model::Jet& start) {
    surface_.freezing_ratio = -1.0;
    std::vector<double> dryness{0.0}, share{1.0};
    for (const model::JetStation& s : start.profile) {
      if (s.solid && surface_.freezing_ratio < 0.0) surface_.freezing_ratio = std::max(s.solvent_ratio, 1e-12);
      const double q = surface_.dryness(s.solvent_ratio);
      if (q <= dryness.back() + 1e-9) continue;
      const double x = s.surface_solvent_fraction;
      dryness.push_back(q);
      share.push_back(x < 1.0 && s.solvent_ratio > 1e-9 ? std::clamp(x / (1.0 - x) / s.solvent_ratio, 0.0, 2.0) : 1.0);
    }
    if (dryness.size() > 1) surface_.share = Curve(std::move(dryness), std::move(share));
  }

  // Nodes share out evenly: changes of the solution (`change` per piece of `arc`), length, and nearness to both ends.
  void lay_mesh(const std::vector<double>& radius, const std::vector<double>& change, std::size_t cells) {
    constexpr std::size_t kFine = 600;
    std::vector<double> arc = radius;
    for (double& r : arc) r -= context_.outer_radius_m;
    const double length = arc.back();
    std::vector<double> x, density;
    double total = 0.0;
    for (double c : change) total += c;
    total = std::max(total, 1.0);
    // places: a fine grading towards both ends, plus the knots of the solution
    for (std::size_t i = 0; i <= kFine; ++i) {
      const double q = static_cast<double>(i) / kFine;
      x.push_back(length * q);
      x.push_back(length * 1e-7 * std::pow(1e7, q));
      x.push_back(length * (1.0 - 1e-5 * std::pow(1e5, q)));
    }
    x.insert(x.end(), arc.begin(), arc.end());
    std::sort(x.begin(), x.end());
    x.erase(std::unique(x.begin(), x.end(), [&](double a, double b) { return b - a < 1e-9 * length && b - a < 1e-3 * a; }), x.end());
    x.front() = 0.0;
    x.back() = length;
    std::size_t k = 1;
    for (double s : x) {
      while (k + 1 < arc.size() && arc[k] < s) ++k;
      const double slope = change[k] / (arc[k] - arc[k - 1]);
      double d = slope + 0.5 * total / length;
      d += total * (0.02 / (s + 1e-6 * length) + 0.01 / (length - s + 1e-4 * length));
      density.push_back(d);
    }
    const std::vector<double> node = solver::equidistribute(x, density, cells + 1);
    sigma_.resize(node.size());
    for (std::size_t i = 0; i < node.size(); ++i) sigma_[i] = node[i] / length;
  }

  void remesh(std::size_t cells) {
    const std::vector<double> old = radii();
    std::vector<double> change(old.size(), 0.0);
    for (std::size_t i = 1; i < old.size(); ++i) {
      const auto& a = problem_.station[i - 1];
      const auto& b = problem_.station[i];
      change[i] = std::abs(state_.log_speed[i] - state_.log_speed[i - 1]) +
                  0.25 * std::abs(state_.pull[i] - state_.pull[i - 1]) +
                  0.25 * std::abs(std::log(b.modulus_Pa / a.modulus_Pa)) +
                  (b.arc_m - a.arc_m) / problem_.station.back().arc_m;
    }
    resample(old, change, cells);
  }

  void resample(const std::vector<double>& old, const std::vector<double>& change, std::size_t cells) {
    lay_mesh(old, change, cells);
    ThreadState next;
    for (std::size_t i = 0; i < sigma_.size(); ++i) {
      next.log_speed.push_back(interpolate(old, state_.log_speed, radius_of(i)));
      next.pull.push_back(interpolate(old, state_.pull, radius_of(i)));
      next.waist.push_back(interpolate(old, state_.waist, radius_of(i)));
    }
    state_ = next;
  }

  [[nodiscard]] SpeedField speed_field() const {
    if (smooth_) return {thread_.radius, thread_.log_speed, thread_.log_speed_slope};
    return {radii(), state_.log_speed};
  }
  [[nodiscard]] double radius_of(std::size_t i) const {
    return context_.outer_radius_m + sigma_[i] * (end_radius_ - context_.outer_radius_m);
  }
  [[nodiscard]] std::vector<double> radii() const {
    std::vector<double> r(sigma_.size());
    for (std::size_t i = 0; i < r.size(); ++i) r[i] = radius_of(i);
    return r;
  }

  // One round: path at the present speed, then speed on that path. False: see trouble_.
  bool round(double tolerance) {
    within_ = tolerance;
    const std::vector<double> before = radii();
    SpeedField field(before, state_.log_speed);
    PathOptions how = path_options(false);
    how.stop_at_solid = true;
    path_ = march_path(context_, field, surface_, how);
    count(path_);
    if (path_.end == PathEnd::failed) {
      trouble_ = "path: " + path_.message;
      return false;
    }
    end_radius_ = path_.at_thread_end[P::kRadius];
    const std::size_t n = sigma_.size() - 1;
    const model::Fluid& fluid = *context_.fluid;
    problem_.air = context_.air;
    problem_.law = law_;
    problem_.start_speed_m_s = context_.exit_speed_m_s;
    problem_.station.resize(n + 1);
    if (!(end_radius_ > context_.outer_radius_m)) {
      trouble_ = "path: no way outward";
      return false;
    }
    for (std::size_t i = 0; i <= n; ++i) {
      const PathResult::Place place = i == n ? PathResult::Place{path_.thread_m, path_.at_thread_end}
                                             : (i == 0 ? PathResult::Place{0.0, path_.step.front().state[0]}
                                                       : path_.at_radius(radius_of(i)));
      const P::Array& p = place.state;
      model::ThreadStation& at = problem_.station[i];
      const double ratio = std::max(p[P::kSolvent], 0.0);
      const double temperature = p[P::kTemperature];
      const double phi = model::polymer_volume_fraction(fluid, ratio);
      const double eta_p = model::polymer_viscosity(fluid, phi, temperature);
      const double omega = context_.speed_rad_s;
      at.arc_m = place.arc_m;
      at.flow_kg_s = context_.polymer_flow_kg_s * (1.0 + ratio);
      at.density_kg_m3 = model::mixture_density(fluid, ratio);
      at.relaxation_s = std::max(model::relaxation_time(fluid, phi, temperature, eta_p), 1e-30);
      at.modulus_Pa = eta_p / at.relaxation_s;
      at.viscosity_Pa_s = model::solvent_viscosity(fluid, temperature);
      at.surface_tension_N_m = model::surface_tension(fluid, temperature);
      at.push_m_s2 = omega * omega * p[P::kRadius] * p[P::kTr] - context_.gravity_m_s2 * p[P::kTz];
      // the wind that the vessel sees: air less the turning frame; axes at this station, outward and round
      const double u = i == 0 ? context_.exit_speed_m_s : std::exp(field.log_at(radius_of(i)));
      const double turning = omega * p[P::kRadius];
      const model::AirVelocity air =
          model::air_velocity(context_, {p[P::kRadius], 0.0, p[P::kZ]}, {u * p[P::kTr], u * p[P::kTa] + turning, u * p[P::kTz]},
                              at.flow_kg_s, axes_at(p, omega));
      const double across_round = air.y - turning;
      at.wind_along_m_s = air.x * p[P::kTr] + across_round * p[P::kTa];
      const double across2 = air.x * air.x + across_round * across_round - at.wind_along_m_s * at.wind_along_m_s;
      at.wind_across_m_s = std::sqrt(std::max(across2, 1e-10));
    }
    model::ThreadEnd& end = problem_.end;
    end = {};
    end.taken_up = options_.end == model::JetEnd::taken_up && !path_.cut;  // a solid fibre is wound up, too
    end.take_up_speed_m_s = options_.take_up_speed_m_s > 0.0 ? options_.take_up_speed_m_s
                                                             : context_.speed_rad_s * context_.collector_radius_m;
    ThreadState guess;
    for (std::size_t i = 0; i <= n; ++i) {
      const double s = radius_of(i);
      guess.log_speed.push_back(i == 0 ? std::log(context_.exit_speed_m_s) : field.log_at(s));
      guess.pull.push_back(i == 0 ? 0.0 : interpolate(before, state_.pull, s));
      guess.waist.push_back(i == 0 ? 0.0 : interpolate(before, state_.waist, s));
    }
    if (end.taken_up) {
      // a start that does not meet the collector's speed is drawn evenly
      const double gap = std::log(end.take_up_speed_m_s) - guess.log_speed[n];
      const double length = problem_.station[n].arc_m;
      for (std::size_t i = 1; i <= n; ++i) guess.log_speed[i] += gap * problem_.station[i].arc_m / length;
    }
    if (!(path_.solid && !end.taken_up ? solve_with_solid(guess, tolerance) : solve_thread(guess))) return false;
    state_ = guess;
    return true;
  }

  // Speed on the present path together with the pull of the solid beyond. That pull answers strongly to the speed it is flown at,
  // the other way, and by a jump where the fibre just drifts outward or just does not: bracketed.
  bool solve_with_solid(ThreadState& guess, double tolerance) {
    const double flow = problem_.station.back().flow_kg_s;
    PathOptions how = path_options(false);
    how.max_turns = std::min(how.max_turns, path_.at_solid[P::kTime] * context_.speed_rad_s / (2.0 * model::kPi) + model::kPullTurns);
    bool failed = false;
    // what is missing in the pull
    const auto missing = [&](double pull) {
      problem_.end.pull_N = pull;
      if (!solve_thread(guess)) {
        failed = true;
        return 0.0;
      }
      const double u = std::exp(guess.log_speed.back());
      const PathResult solid = march_solid(context_, path_, u, surface_, how);
      count(solid);
      if (solid.end == PathEnd::failed) {
        trouble_ = "path of the solid: " + solid.message;
        failed = true;
        return 0.0;
      }
      return std::min(pull_of_solid(solid), flow * u) - pull;
    };
    const double flux = flow * std::exp(guess.log_speed.back());
    const double within = 0.1 * tolerance * flux;
    double a = pull_N_;
    double fa = missing(a);
    if (failed && a > 0.0) {  // the old pull does not fit the new path
      failed = false;
      a = 0.0;
      fa = missing(a);
    }
    if (failed) return false;
    pull_N_ = a;
    if (std::abs(fa) <= within) return true;
    // the slope found on the last path leads close
    double b = std::max(pull_slope_ < 0.0 ? a - fa / pull_slope_ : a + fa, 0.0);
    double fb = missing(b);
    const auto slope = [&] {
      const double found = (fb - fa) / (b - a);
      if (!failed && found < 0.0 && std::isfinite(found)) pull_slope_ = found;
    };
    slope();
    for (int k = 0; k < 14 && !failed && fa * fb > 0.0 && std::abs(fb) > within; ++k) {
      a = b;
      fa = fb;
      if (k < 2 && pull_slope_ < 0.0) {
        b = std::max(b - 1.5 * fb / pull_slope_, 0.0);
      } else {
        b = fb > 0.0 ? b + std::max(2.0 * fb, 0.02 * flux) : std::max(b + 2.0 * fb, 0.0);
      }
      if (a == 0.0 && b == 0.0) break;
      fb = missing(b);
      slope();
    }
    int side = 0;
    for (int k = 0; k < 60 && !failed; ++k) {
      pull_N_ = b;
      if (std::abs(fb) <= within || std::abs(b - a) <= within || fa * fb > 0.0) return true;
      // false position with halving (Illinois); halves of the bracket where that is slow
      double next = k % 4 == 3 ? 0.5 * (a + b) : (a * fb - b * fa) / (fb - fa);
      if (!(next > std::min(a, b) && next < std::max(a, b))) next = 0.5 * (a + b);
      const double f = missing(next);
      if (f * fb < 0.0) {
        a = b;
        fa = fb;
        side = 0;
      } else {
        if (side == 1) fa *= 0.5;
        side = 1;
      }
      b = next;
      fb = f;
    }
    return !failed;
  }

  ThreadOutcome attempt(ThreadState& guess, bool second_order, double smoothing) {
    problem_.second_order = second_order;
    problem_.smoothing = smoothing;
    Thread thread(problem_);
    thread.set_weights(guess);
    ThreadOptions how;
    how.residual_tolerance = std::clamp(1e-4 * within_, 1e-10, 1e-6);
    const ThreadOutcome outcome = thread.solve(guess, how);
    weights_ = thread.weights();
    jet_.work.newton_iterations += static_cast<std::size_t>(outcome.iterations);
    jet_.work.jacobians += static_cast<std::size_t>(outcome.iterations);
    jet_.work.factorizations += static_cast<std::size_t>(outcome.iterations);
    spent_ += static_cast<std::size_t>(outcome.iterations) * (sigma_.size() - 1);
    return outcome;
  }

  // Speed and stress on the present path, by what it takes: directly; with smoothing that is taken away step by step;
  // to first order where second order finds no solution.
  bool solve_thread(ThreadState& guess) {
    const ThreadState start = guess;
    const bool second = !first_order_only_;
    if (attempt(guess, second, 0.0).converged) return true;
    if (!problem_.end.taken_up && !jumps_) {
      // a pull far above the momentum flux holds the thread back: from a thread that is hardly stretched
      for (const double share : {0.5, 0.1}) {
        guess = start;
        for (std::size_t i = 1; i < guess.log_speed.size(); ++i) {
          guess.log_speed[i] = guess.log_speed[0] + share * (start.log_speed[i] - start.log_speed[0]);
          guess.pull[i] = guess.waist[i] = 0.0;
        }
        if (attempt(guess, second, 0.0).converged) return true;
      }
    }
    guess = start;
    ThreadOutcome outcome = sharpen(guess, second);
    if (!outcome.converged && second) {
      first_order_only_ = true;
      guess = start;
      outcome = attempt(guess, false, 0.0);
      if (!outcome.converged) {
        guess = start;
        outcome = sharpen(guess, false);
      }
    }
    if (outcome.converged) {
      jumps_ = true;
      return true;
    }
    char text[200];
    std::snprintf(text, sizeof text, "speed on the path: %s left a balance of %.1e; smoothing came down to %.2g", outcome.reason.c_str(),
                  outcome.residual, smoothing_reached_);
    trouble_ = text;
    return false;
  }

  // A jump of the speed (thread faster than its elastic waves before, slower behind) cannot be moved by Newton's method
  // from cell to cell: it is found wide, and made narrow.
  [[nodiscard]] bool exhausted() const {
    return spent_ > std::min(options_.most_newton * options_.cells, spend_until_) || jet_.work.rhs_evaluations > options_.most_rates;
  }

  ThreadOutcome sharpen(ThreadState& guess, bool second_order) {
    constexpr double kLeast = 0.02;
    double smoothing = rounds_ > 0 ? 0.3 : 10.0;  // later rounds start close
    double factor = 3.0;
    smoothing_reached_ = 1e9;
    ThreadState good = guess;
    ThreadOutcome outcome;
    for (int k = 0; k < 60; ++k) {
      if (exhausted()) {
        outcome.converged = false;
        outcome.reason = "the allowed work";
        break;
      }
      guess = good;
      outcome = attempt(guess, second_order, smoothing);
      if (outcome.converged) {
        good = guess;
        smoothing_reached_ = smoothing;
        if (smoothing <= 0.0) break;
        factor = std::min(10.0, factor * 1.3);
        smoothing = smoothing > kLeast ? smoothing / factor : 0.0;
      } else if (smoothing_reached_ > 1e8) {
        if (smoothing > 1e5) break;
        smoothing *= 10.0;
      } else {
        if (smoothing <= 0.0) {
          smoothing = 0.3 * smoothing_reached_;
          factor = 3.0;
          if (smoothing < 1e-5) break;
          continue;
        }
        factor = std::sqrt(factor);
        if (factor < 1.03) break;
        smoothing = smoothing_reached_ / factor;
      }
    }
    return outcome;
  }

  // Path and speed in turn until both stay.
  bool settle(double tolerance) {
    if (smooth_) return settle_smooth(tolerance);
    solver::Anderson mixer(5);
    double damping = 1.0;
    double last = 1e300;
    const std::size_t n = sigma_.size() - 1;
    first_order_only_ = false;
    lost_ = 0;
    double change = 0.5;
    std::vector<double> changes;
    for (int k = 0; k < options_.most_rounds; ++k) {
      std::vector<double> z(state_.log_speed.begin() + 1, state_.log_speed.end());
      z.push_back(std::log(end_radius_ - context_.outer_radius_m));
      // far from agreement, the pull of a solid need not be sharp
      if (!round(std::max(tolerance, std::min(0.02 * change, 1e-2)))) return false;
      ++rounds_;
      // A liquid thread that no longer finds its way out is cut short of where it stalls.
      lost_ = path_.end == PathEnd::solid || path_.end == PathEnd::cut || path_.end == PathEnd::collector ? 0 : lost_ + 1;
      if (lost_ >= 2) {
        cut_short();
        lost_ = 0;
        mixer.restart();
        changes.clear();
        last = 1e300;
        continue;
      }
      std::vector<double> g(state_.log_speed.begin() + 1, state_.log_speed.end());
      g.push_back(std::log(end_radius_ - context_.outer_radius_m));
      change = 0.0;
      for (std::size_t i = 0; i < g.size(); ++i) change = std::max(change, std::abs(g[i] - z[i]));
      change_ = change;
      if (change < tolerance) return true;
      // close, and no longer getting closer: rounding of the march
      changes.push_back(change);
      if (k >= 12 && changes.size() >= 5 && change < options_.fair_tolerance && change > 0.5 * changes[changes.size() - 5]) return true;
      if (exhausted()) {
        if (change < options_.fair_tolerance) return true;
        char said[160];
        std::snprintf(said, sizeof said, "path and speed still change by %.1e after the allowed work, %d rounds and %zu Newton steps", change,
                      rounds_, jet_.work.newton_iterations);
        trouble_ = said;
        return false;
      }
      damping = change > last ? std::max(0.2, 0.7 * damping) : std::min(1.0, 1.1 * damping);
      last = change;
      std::vector<double> next = mixer.next(z, g, damping);
      double jump = 0.0;
      for (std::size_t i = 0; i < next.size(); ++i) jump = std::max(jump, std::abs(next[i] - z[i]));
      if (!(jump < std::max(1.0, 3.0 * change))) {
        mixer.restart();
        for (std::size_t i = 0; i < next.size(); ++i) next[i] = z[i] + 0.5 * (g[i] - z[i]);
      }
      if (k + 1 == options_.most_rounds) break;
      for (std::size_t i = 0; i < n; ++i) state_.log_speed[i + 1] = next[i];
      end_radius_ = context_.outer_radius_m + std::exp(next[n]);
    }
    if (change_ < options_.fair_tolerance) return true;
    char text[160];
    std::snprintf(text, sizeof text, "path and speed still change by %.1e after %d rounds", change_, options_.most_rounds);
    trouble_ = text;
    return false;
  }

  [[nodiscard]] PathOptions path_options(bool go_on) const {
    PathOptions out{options_.path_tolerance, options_.max_turns, options_.freeze_when_solid};
    out.given_until_m = cut_;
    out.go_on = go_on;
    if (options_.end == model::JetEnd::taken_up) out.touches = true;
    return out;
  }
  void count(const PathResult& path) {
    jet_.work.rhs_evaluations += path.rhs_calls;
    jet_.work.steps += path.steps;
    jet_.work.rejected += path.rejected;
  }

  void cut_short() {
    double farthest = 0.0;
    for (const auto& step : path_.step) farthest = std::max(farthest, step.state[3][P::kRadius]);
    const std::vector<double> before = radii();
    cut_ = context_.outer_radius_m + options_.stalled_share * (farthest - context_.outer_radius_m);
    end_radius_ = std::min(end_radius_, cut_);
    ThreadState next = state_;
    for (std::size_t i = 1; i < sigma_.size(); ++i) {
      const double r = radius_of(i);
      next.log_speed[i] = interpolate(before, state_.log_speed, r);
      next.pull[i] = interpolate(before, state_.pull, r);
      next.waist[i] = interpolate(before, state_.waist, r);
    }
    state_ = next;
  }

  // The path beyond the thread: of the solid, or without pull beyond a cut (`all`; else up to the cut).
  bool go_on(bool all) {
    if (path_.end != PathEnd::solid && !(path_.end == PathEnd::cut && all)) return true;
    PathResult more;
    if (path_.end == PathEnd::solid) {
      more = march_solid(context_, path_, std::exp(state_.log_speed.back()), surface_, path_options(all));
      more.step.insert(more.step.begin(), path_.step.begin(), path_.step.end());
    } else {
      more = march_path(context_, SpeedField(radii(), state_.log_speed), surface_, path_options(true));
    }
    count(more);
    if (more.end == PathEnd::failed) {
      trouble_ = "path beyond the thread: " + more.message;
      return false;
    }
    path_ = std::move(more);
    return true;
  }

  // A path that stopped at the cut, on to its end.
  bool continue_beyond() {
    if (!path_.solid) return go_on(true);
    const auto beyond = std::find_if(path_.step.begin(), path_.step.end(), [&](const auto& s) { return s.from >= path_.thread_m; });
    path_.step.erase(beyond, path_.step.end());
    path_.end = PathEnd::solid;
    return go_on(true);
  }

  // The same with drying over the radius, which goes on beyond the cut, too.
  bool dry_beyond() {
    const PathResult thread = path_;
    const double aim = std::max(options_.tolerance, 30.0 * options_.path_tolerance);
    constexpr int kMost = 12;
    for (int k = 0; k < kMost; ++k) {
      path_ = thread;
      if (!continue_beyond()) return false;
      if (!options_.radial || path_.end != PathEnd::collector) return true;  // what does not land is not asked how dry it is
      DryingResult result = dry(path_options(true), std::max(options_.path_tolerance, options_.confirm_drying ? 1e-5 : 1e-4));
      if (!result.ok) {
        trouble_ = "drying over the radius: " + result.message;
        return false;
      }
      cells_end_ratio_ = result.end_solvent_ratio;
      drying_off_ = result.off;
      if (result.off < aim || (k >= 4 && result.off < options_.fair_tolerance)) return true;
      if (!options_.confirm_drying && result.off < 0.01) return true;
      surface_ = std::move(result.surface);
    }
    char said[160];
    std::snprintf(said, sizeof said, "drying over the radius beyond where the pull is solved still changes by %.1e after %d times", drying_off_, kMost);
    trouble_ = said;
    return false;
  }

  DryingResult dry(const PathOptions& how, double relative_tolerance) {
    DryingOptions drying;
    drying.cells = options_.radial_cells;
    drying.relative_tolerance = relative_tolerance;
    drying.freeze_when_solid = options_.freeze_when_solid;
    DryingResult result = march_drying(context_, path_, speed_field(), how, drying);
    ++drying_rounds_;
    jet_.work.rhs_evaluations += result.rhs_calls;
    jet_.work.steps += result.steps;
    jet_.work.rejected += result.rejected;
    jet_.work.jacobians += result.jacobians;
    jet_.work.factorizations += result.factorisations;
    return result;
  }

  // Path and speed, and drying over the radius, in turn until all stay. Tolerances are tightened as the drying settles. Without
  // `confirm`, see TensionOptions.
  bool settle_drying(double tolerance, bool confirm) {
    if (!options_.radial) return settle(tolerance) && go_on(false);
    // what a march over the radius can agree to on a path of this tolerance
    const double aim = std::max({tolerance, 30.0 * options_.path_tolerance, std::min(300.0 * options_.path_tolerance, 2e-6)});  // hundreds of steps, each within the march's tolerance
    double off = drying_known_ ? std::max(confirm ? 0.02 : 0.002, drying_off_) : 1.0;
    constexpr int kMost = 15;
    for (int k = 0; k < kMost; ++k) {
      const double within = off < aim ? tolerance : std::clamp(0.05 * off, tolerance, 1e-2);
      if (!settle(within) || !go_on(false)) return false;
      // rough while it still changes
      DryingResult result = dry(path_options(false), std::max(options_.path_tolerance, confirm ? std::min(1e-3 * off, 1e-4) : 1e-4));
      if (!result.ok) {
        trouble_ = "drying over the radius: " + result.message;
        return false;
      }
      off = result.off;
      const bool path_solid = path_.solid;
      if (result.solid != path_solid) {
        off = std::max(off, 0.5);
      } else if (result.solid) {
        off = std::max(off, std::abs(result.solid_m - path_.solid_m) / path_.length_m);
      }
      drying_off_ = off;
      if (off < aim && within <= tolerance) {
        cells_end_ratio_ = result.end_solvent_ratio;
        return true;
      }
      if ((exhausted() || k + 1 == kMost) && off < options_.fair_tolerance) {
        cells_end_ratio_ = result.end_solvent_ratio;
        return true;
      }
      if (off >= aim) surface_ = std::move(result.surface);
      if (!confirm && off < 0.01) {
        drying_off_ = 0.1 * off;
        drying_known_ = true;
        cells_end_ratio_ = result.end_solvent_ratio;
        return settle(tolerance) && go_on(false);
      }
    }
    char said[160];
    std::snprintf(said, sizeof said, "drying over the radius still changes by %.1e after %d times on a new path", drying_off_, kMost);
    trouble_ = said;
    return false;
  }

  void keep() {
    kept_sigma_ = sigma_;
    kept_surface_ = surface_;
    kept_drying_off_ = drying_off_;
    kept_ratio_ = cells_end_ratio_;
    kept_cut_ = cut_;
    kept_pull_ = pull_N_;
    kept_state_ = state_;
    kept_problem_ = problem_;
    kept_path_ = path_;
    kept_weights_ = weights_;
    kept_radius_ = end_radius_;
    kept_change_ = change_;
    kept_first_order_ = first_order_only_;
  }
  void restore() {
    sigma_ = kept_sigma_;
    surface_ = kept_surface_;
    drying_off_ = kept_drying_off_;
    cells_end_ratio_ = kept_ratio_;
    cut_ = kept_cut_;
    pull_N_ = kept_pull_;
    state_ = kept_state_;
    problem_ = kept_problem_;
    path_ = kept_path_;
    weights_ = kept_weights_;
    end_radius_ = kept_radius_;
    change_ = kept_change_;
    first_order_only_ = kept_first_order_;
  }

  // A place on the path, in laboratory axes, at line speed u.
  JetSample sample_at(double arc, const P::Array& p, double u) const {
    using J = model::JetState;
    JetSample sample;
    const double omega = context_.speed_rad_s;
    const double turned = p[P::kAngle] + omega * p[P::kTime];
    const double c = std::cos(turned);
    const double s = std::sin(turned);
    const double size = std::sqrt(p[P::kTr] * p[P::kTr] + p[P::kTa] * p[P::kTa] + p[P::kTz] * p[P::kTz]);
    const double outward = u * p[P::kTr] / size;
    const double round = u * p[P::kTa] / size + omega * p[P::kRadius];
    sample.time_s = p[P::kTime];
    auto& state = sample.state;
    state[J::kX] = c * p[P::kRadius];
    state[J::kY] = s * p[P::kRadius];
    state[J::kZ] = p[P::kZ];
    state[J::kVx] = c * outward - s * round;
    state[J::kVy] = s * outward + c * round;
    state[J::kVz] = u * p[P::kTz] / size;
    state[J::kSolvent] = std::max(p[P::kSolvent], 0.0);
    state[J::kTemperature] = p[P::kTemperature];
    state[J::kArc] = arc;
    state[J::kDragWork] = p[P::kDragWork];
    sample.surface_ratio = surface_.share_at(state[J::kSolvent]) * state[J::kSolvent];
    sample.stressed = true;
    return sample;
  }

  model::Jet report() {
    const std::size_t n = sigma_.size() - 1;
    Thread thread(problem_);
    thread.set_weights(weights_);
    const std::vector<ThreadForces> face = thread.forces(state_);
    std::vector<double> u(n + 1);
    for (std::size_t i = 0; i <= n; ++i) u[i] = std::exp(state_.log_speed[i]);
    const auto& station = problem_.station;
    const double end_force = model::end_pull(problem_.end, station[n], u[n]);
    const double end_surface = model::surface_pull(station[n], u[n]);

    // Work along the liquid, node by node; the balance of the half cell at the orifice gives the pull there.
    model::ForceBudget budget;
    double orifice_force = 0.0;
    double viscous_0 = 0.0;
    for (std::size_t i = 0; i <= n; ++i) {
      const double m = station[i].flow_kg_s;
      const double from = i == 0 ? u[0] : face[i].carried;
      const double to = i == n ? u[n] : face[i + 1].carried;
      const double per = 0.5 * (from + to) / m;
      const double width = 0.5 * ((i > 0 ? station[i].arc_m - station[i - 1].arc_m : 0.0) +
                                  (i < n ? station[i + 1].arc_m - station[i].arc_m : 0.0));
      const double body = width * m * station[i].push_m_s2 / u[i];
      const double drag = width * model::thread_drag(*context_.air, station[i], u[i]);
      const double z0 = i == 0 ? 0.0 : 0.5 * (height_of(i) + height_of(i - 1));
      const double z1 = i == n ? height_of(n) : 0.5 * (height_of(i + 1) + height_of(i));
      const double fall = -context_.gravity_m_s2 * (z1 - z0);
      budget.gravity_J_kg += fall;
      budget.centrifugal_J_kg += per * body - fall;
      budget.air_drag_J_kg += per * drag;
      ThreadForces before = face[i], after = i < n ? face[i + 1] : ThreadForces{};
      if (i == n) after.surface = end_surface;
      if (i == n && problem_.end.taken_up) {
        // the collector pulls what it takes
        after.viscous = m * (to - from) - body - drag + before.viscous + before.elastic + before.surface - after.surface;
      }
      if (i == 0) {
        before = {};
        before.surface = model::surface_pull(station[0], u[0]);
        before.viscous = after.viscous + after.elastic + after.surface - before.surface - (m * (to - from) - body - drag);
        viscous_0 = before.viscous;
        orifice_force = before.viscous + before.surface;
      }
      budget.viscous_J_kg += per * (after.viscous - before.viscous);
      budget.elastic_J_kg += per * (after.elastic - before.elastic);
      budget.surface_tension_J_kg += per * (after.surface - before.surface);
      if (i == n && !problem_.end.taken_up) budget.solid_constraint_J_kg += per * (end_force - end_surface);
    }

    std::vector<JetSample> samples;
    samples.reserve(n + 1 + 4 * path_.step.size());
    for (std::size_t i = 0; i <= n; ++i) {
      PathResult::Place place{station[i].arc_m, path_.at_thread_end};
      if (i == 0) place.state = path_.step.front().state[0];
      if (i > 0 && i < n) place = path_.at_radius(radius_of(i));
      JetSample sample = sample_at(station[i].arc_m, place.state, u[i]);
      sample.chain_stress_Pa = station[i].modulus_Pa * model::chains(law_, state_.pull[i], state_.waist[i]).stretch;
      const std::size_t a = i > 0 ? i - 1 : 0, b = std::min(i + 1, n);
      sample.strain_rate_1_s = u[i] * (state_.log_speed[b] - state_.log_speed[a]) / (station[b].arc_m - station[a].arc_m);
      const auto total = [](const ThreadForces& f) { return f.viscous + f.elastic + f.surface; };
      sample.tension_N = i == 0 ? orifice_force
                                : (i < n ? 0.5 * (total(face[i]) + total(face[i + 1]))
                                         : (problem_.end.taken_up ? total(face[n]) : end_force));
      add_drawn(samples, sample, place.state, i);
    }
    if (path_.solid || path_.later_solid) {
      jet_.solidified = true;
      const P::Array& p = path_.at_solid;
      jet_.solidification_kind =
          model::solidifies_by_crystallisation(*context_.fluid,
                                               model::polymer_volume_fraction(*context_.fluid, std::max(p[P::kSolvent], 0.0)),
                                               p[P::kTemperature]) ? "crystallised" : "vitrified";
    }
    if (path_.solid || path_.cut) {
      // Beyond the thread: a solid, pulled by what is still to come of it, or a liquid on its own momentum.
      const double flow = station[n].flow_kg_s;
      const std::size_t first = samples.size();
      for (const auto& step : path_.step) {
        if (step.from < path_.thread_m) continue;
        // an implicit march takes steps of a turn where the fibre floats: stations in between, for who draws them
        const int pieces = 3 * (1 + static_cast<int>(std::min(200.0, std::abs(step.state[3][P::kAngle] - step.state[0][P::kAngle]) / kDrawnTurn)));
        for (int k = 0; k <= pieces; ++k) {
          if (k == 0 && step.from > path_.thread_m) continue;
          const bool kept = 3 * k % pieces == 0;
          const P::Array q = kept ? step.state[static_cast<std::size_t>(3 * k / pieces)] : step.at(static_cast<double>(k) / pieces);
          JetSample sample = sample_at(step.from + (step.to - step.from) * k / pieces, q, std::exp(q[P::kLogSpeed]));
          sample.solid = (path_.solid || path_.later_solid) && sample.state[model::JetState::kArc] >= path_.solid_m;
          if (path_.solid) sample.tension_N = q[P::kBody] / u[n] + q[P::kDrag];  // made a pull below
          samples.push_back(sample);
        }
      }
      if (path_.solid) {
        double most = -1e300;  // a slack fibre does not push; limits as in model::end_pull
        for (std::size_t i = samples.size(); i-- > first;) {
          JetSample& sample = samples[i];
          most = std::max(most, sample.tension_N);
          sample.tension_N = end_surface + std::min(most - sample.tension_N, flow * u[n]);
        }
        const double body = (path_.at_end[P::kBody] - path_.at_thread_end[P::kBody]) / flow;
        const double drag = path_.at_end[P::kDragWork] - path_.at_thread_end[P::kDragWork];
        const double fall = -context_.gravity_m_s2 * (path_.at_end[P::kZ] - path_.at_thread_end[P::kZ]);
        budget.gravity_J_kg += fall;
        budget.centrifugal_J_kg += body - fall;
        budget.air_drag_J_kg += drag;
        budget.solid_constraint_J_kg -= body + drag;  // no change of speed in the solid
      }
    }

    budget.total_J_kg = 0.5 * (u[n] * u[n] - u[0] * u[0]);
    return finish(samples, budget, n + 1, viscous_0);
  }

  // A station of the thread, and where the jet turns far since the one before, stations in between, for who draws them.
  void add_drawn(std::vector<JetSample>& samples, const JetSample& sample, const P::Array& place, std::size_t i) {
    if (i > 0) {
      const JetSample before = samples.back();
      const int pieces = 1 + static_cast<int>(std::min(200.0, 3.0 * std::abs(place[P::kAngle] - drawn_[P::kAngle]) / kDrawnTurn));
      const double ua = std::log(speed_of(before)), ub = std::log(speed_of(sample));
      for (int k = 1; k < pieces; ++k) {
        const double x = static_cast<double>(k) / pieces;
        const PathResult::Place there = path_.at_radius(drawn_[P::kRadius] + x * (place[P::kRadius] - drawn_[P::kRadius]));
        JetSample between = sample_at(there.arc_m, there.state, std::exp(ua + x * (ub - ua)));
        const auto mix = [x](double a, double b) { return a + x * (b - a); };
        between.chain_stress_Pa = mix(before.chain_stress_Pa, sample.chain_stress_Pa);
        between.strain_rate_1_s = mix(before.strain_rate_1_s, sample.strain_rate_1_s);
        between.tension_N = mix(before.tension_N, sample.tension_N);
        samples.push_back(between);
      }
    }
    drawn_ = place;
    samples.push_back(sample);
  }
  // Line speed of a station, in the frame of the vessel.
  [[nodiscard]] double speed_of(const JetSample& sample) const {
    using J = model::JetState;
    const auto& s = sample.state;
    const double omega = context_.speed_rad_s;
    return std::hypot(s[J::kVx] + omega * s[J::kY], s[J::kVy] - omega * s[J::kX], s[J::kVz]);
  }

  // What follows from the places along the jet and the work done on it.
  model::Jet finish(const std::vector<JetSample>& samples, model::ForceBudget budget, std::size_t nodes, double viscous_0) {
    const double omega = context_.speed_rad_s;
    JetOptions report_options;
    report_options.keep_profile = options_.keep_profile;
    report_jet(context_, report_options, samples, jet_);
    budget.gas_J_kg = jet_.budget.gas_J_kg;  // parted from the drag of the room air by the report
    budget.air_drag_J_kg -= budget.gas_J_kg;
    jet_.budget = budget;

    const double size = context_.exit_speed_m_s + omega * context_.collector_radius_m;
    jet_.balances.momentum =
        std::abs(budget.total_J_kg - budget.centrifugal_J_kg - budget.gravity_J_kg - budget.air_drag_J_kg - budget.gas_J_kg -
                 budget.viscous_J_kg - budget.elastic_J_kg - budget.surface_tension_J_kg - budget.solid_constraint_J_kg) /
        (size * size);
    const model::Fluid& fluid = *context_.fluid;
    const P::Array& end = path_.at_end;
    const double ratio = end[P::kSolvent];
    const double heat_scale =
        100.0 * (fluid.polymer_heat_capacity + fluid.initial.solvent_ratio * fluid.solvent_heat_capacity);
    const double enthalpy = (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity) *
                            (end[P::kTemperature] - fluid.charge_temperature_K);
    jet_.balances.energy = std::abs(enthalpy - end[P::kHeatGained]) / heat_scale;
    jet_.balances.solvent = std::abs(fluid.initial.solvent_ratio - ratio - end[P::kEvaporated]) / fluid.initial.solvent_ratio;
    if (options_.radial && (!path_.cut || path_.end == PathEnd::collector)) {  // solvent left in the cells against the mean that the path carries
      jet_.balances.solvent = std::max(jet_.balances.solvent, std::abs(cells_end_ratio_ - ratio) / fluid.initial.solvent_ratio);
    }
    const double area = 0.25 * model::kPi * jet_.wet_diameter_m * jet_.wet_diameter_m;
    const double dry = std::max(ratio, 0.0);
    jet_.balances.polymer =
        std::abs(area * model::mixture_density(fluid, dry) * jet_.end_speed_m_s / (1.0 + dry) / context_.polymer_flow_kg_s - 1.0);
    jet_.balances_known = true;
    jet_.work.mesh_nodes = nodes;

    if (!std::isfinite(jet_.dry_diameter_m + jet_.capillary_gain + jet_.end_temperature_K + jet_.tension_ratio + viscous_0)) {
      return fail("the jet's report is not finite");
    }
    jet_.status = model::Status::done;
    jet_.reached_collector = path_.end == PathEnd::collector;
    char text[240];
    const double r = 1e3 * end[P::kRadius];
    switch (path_.end) {
      case PathEnd::collector: std::snprintf(text, sizeof text, "reached the collector"); break;
      case PathEnd::inward: std::snprintf(text, sizeof text, "stalled: stopped by the air at radius %.0f mm", r); break;
      case PathEnd::fallen:
        std::snprintf(text, sizeof text, "fell %.0f mm before reaching the collector", -1e3 * end[P::kZ]);
        break;
      default:
        std::snprintf(text, sizeof text, "stalled: floats round the vessel at radius %.0f mm after %.0f turns", r,
                      end[P::kTime] * omega / (2.0 * model::kPi));
    }
    jet_.reason = text;
    std::snprintf(text, sizeof text, "%s; %d rounds of path and speed, which agree to %.0e",
                  first_order_only_ ? " (first-order mesh rule: speed jumps)" : "", rounds_, change_);
    convergence_ = text;
    if (smooth_) {
      std::snprintf(text, sizeof text, "; thread without memory: collocation of order six on %zu cells, direction, speed and pull together; %d rounds",
                    thread_.cells(), rounds_);
      convergence_ = text;
    }
    if (mesh_error_ >= 0.0) {
      std::snprintf(text, sizeof text, "; mesh error of the line speed about %.1g %%", 100.0 * mesh_error_);
      convergence_ += text;
    }
    if (options_.radial) {
      std::snprintf(text, sizeof text, "; drying over the radius solved on %d path%s, agrees to %.0e", drying_rounds_,
                    drying_rounds_ == 1 ? "" : "s", drying_off_);
      convergence_ += text;
    }
    if (path_.cut) {
      jet_.pulled_until_m = end_radius_;
      std::snprintf(text, sizeof text, "; the thread is solved to radius %.0f mm with a free end there, short of where it stalls: beyond, without pull",
                    1e3 * end_radius_);
      convergence_ += text;
    }
    jet_.convergence = convergence_.substr(convergence_.find_first_not_of("; ")) + remark_;
    return jet_;
  }

  // --- threads without memory -------------------------------------------------------------------------------------------

  [[nodiscard]] SmoothStation smooth_station(const P::Array& p, double speed) const {
    const model::Fluid& fluid = *context_.fluid;
    const double omega = context_.speed_rad_s;
    const double ratio = std::max(p[P::kSolvent], 0.0);
    const double temperature = p[P::kTemperature];
    const double phi = model::polymer_volume_fraction(fluid, ratio);
    const double eta_p = model::polymer_viscosity(fluid, phi, temperature);
    const double eta_s = model::solvent_viscosity(fluid, temperature);
    SmoothStation at;
    at.flow_kg_s = context_.polymer_flow_kg_s * (1.0 + ratio);
    at.density_kg_m3 = model::mixture_density(fluid, ratio);
    at.surface_tension_N_m = model::surface_tension(fluid, temperature);
    at.viscosity_Pa_s = eta_s + eta_p;
    at.solvent_share = eta_s / at.viscosity_Pa_s;
    at.relaxation_s = model::relaxation_time(fluid, phi, temperature, eta_p);
    at.climb = p[P::kTz];
    const double turning = omega * p[P::kRadius];
    const model::AirVelocity air =
        model::air_velocity(context_, {p[P::kRadius], 0.0, p[P::kZ]}, {speed * p[P::kTr], speed * p[P::kTa] + turning, speed * p[P::kTz]},
                            at.flow_kg_s, axes_at(p, omega));
    at.air = {air.x, air.y, air.z};
    return at;
  }
  [[nodiscard]] P::Array smooth_place(double radius) const {
    if (radius <= context_.outer_radius_m) return path_.step.front().state[0];
    return radius >= path_.at_thread_end[P::kRadius] ? path_.at_thread_end : path_.at_radius(radius).state;
  }

  // Largest share of the momentum flux by which the pull of the chains differs from that of a Newtonian liquid: chains
  // marched along the thread at its speed against 3 eta_p A du/ds.
  [[nodiscard]] double memory_of(const std::vector<double>& radius, const std::vector<double>& log_speed, const std::vector<double>& rate,
                                 const std::vector<SmoothStation>& at, const std::vector<double>& time) const {
    // stress of the chains at a constant rate that has lasted since the orifice: c = e^(2 e t) and its relaxation, at its largest
    double worst = 0.0;
    for (std::size_t i = 1; i < radius.size(); ++i) {
      const double u = std::exp(log_speed[i]);
      const double eta_p = at[i].viscosity_Pa_s * (1.0 - at[i].solvent_share);
      const double area = at[i].flow_kg_s / at[i].density_kg_m3 / u;
      const double newtonian = 3.0 * eta_p * std::abs(rate[i]);
      // no chain is stretched further than the liquid round it
      const double stretch = std::min(2.0 * (log_speed[i] - log_speed[0]), 600.0);
      const double affine = eta_p / at[i].relaxation_s * std::max(std::expm1(stretch), 0.0);
      const double weissenberg = std::abs(rate[i]) * at[i].relaxation_s;
      double apart = newtonian + affine;
      if (weissenberg < 0.2) {
        // slow stretching: the steady stress is off by about 3 Wi, and settles within some relaxation times
        const double settled = std::exp(-std::min(time[i] / at[i].relaxation_s, 600.0));
        apart = std::min(apart, newtonian * (3.0 * weissenberg + settled + memory_change(i, rate, at, time)));
      }
      worst = std::max(worst, area * apart / (at[i].flow_kg_s * u));
    }
    return worst;
  }
  // Change of the rate within a relaxation time, relative.
  static double memory_change(std::size_t i, const std::vector<double>& rate, const std::vector<SmoothStation>& at, const std::vector<double>& time) {
    const double dt = time[i] - time[i - 1];
    if (!(dt > 0.0)) return 0.0;
    return std::min(std::abs(rate[i] - rate[i - 1]) / std::max(std::abs(rate[i]), 1e-300), 10.0) * at[i].relaxation_s / dt;
  }

  // The thread as one without memory, where it is one: liquid all the way to the collector. False: nothing changed that the other
  // method looks at.
  bool run_smooth(const model::Jet& start, const TensionMemory* memory) {
    thread_ = {};
    std::vector<double>& radius = thread_.radius;
    std::vector<double>& log_u = thread_.log_speed;
    const double outer = context_.outer_radius_m;
    if (memory != nullptr) {
      if (!memory->reached_collector || memory->cut_m > 0.0 || memory->pull_N != 0.0) return false;
      const double u0 = context_.exit_speed_m_s;
      const double shift = u0 * u0 - memory->exit_speed_m_s * memory->exit_speed_m_s;
      for (std::size_t i = 0; i < memory->share.size(); ++i) {
        radius.push_back(outer + memory->share[i] * (memory->end_radius_m - outer));
        log_u.push_back(0.5 * std::log(std::max(std::exp(2.0 * memory->log_speed[i]) + shift, 0.25 * u0 * u0)));
      }
      surface_ = memory->surface;
      drying_known_ = true;
    } else {
      if (!start.reached_collector || start.solidified) return false;
      for (const model::JetStation& s : start.profile) {
        if (!radius.empty() && s.radius_m <= radius.back() * (1.0 + 1e-13)) continue;
        radius.push_back(radius.empty() ? outer : s.radius_m);
        log_u.push_back(std::log(s.speed_m_s));
      }
      surface_ = {};
      surface_.start_ratio = context_.fluid->initial.solvent_ratio;
      if (options_.radial) follow_surface(start);
    }
    if (radius.size() < 4) return false;
    log_u.front() = std::log(context_.exit_speed_m_s);
    // cheapest look first: the pull of the chains as charged against the momentum flux, at the first place that stretches
    const std::size_t points = radius.size();
    thread_.log_speed_slope.assign(points, 0.0);
    for (std::size_t i = 0; i < points; ++i) {
      const std::size_t a = i > 0 ? i - 1 : 0, b = std::min(i + 1, points - 1);
      thread_.log_speed_slope[i] = (log_u[b] - log_u[a]) / (radius[b] - radius[a]);
    }
    const double most = 0.1 * (options_.mesh_tolerance > 0.0 ? options_.mesh_tolerance : 1e-3);
    {
      // at the composition of the charge, speeds of the start: ten times what is allowed in the end
      const P::Array charge = start_place();
      const SmoothStation at = smooth_station(charge, context_.exit_speed_m_s);
      std::vector<SmoothStation> all(points, at);
      std::vector<double> rate(points), time(points, 0.0);
      for (std::size_t i = 0; i < points; ++i) rate[i] = thread_.log_speed_slope[i] * std::exp(log_u[i]);
      for (std::size_t i = 1; i < points; ++i) time[i] = time[i - 1] + (radius[i] - radius[i - 1]) * std::exp(-0.5 * (log_u[i] + log_u[i - 1]));
      if (memory_of(radius, log_u, rate, all, time) > 10.0 * most) return false;
    }
    smooth_ = true;
    if (settle_drying(options_.tolerance, options_.confirm_drying) && path_.end == PathEnd::collector && !path_.solid && !path_.later_solid) {
      const std::size_t n = thread_.radius.size();
      std::vector<SmoothStation> all;
      std::vector<double> rate, time;
      for (std::size_t i = 0; i < n; ++i) {
        const P::Array p = smooth_place(thread_.radius[i]);
        const double u = std::exp(thread_.log_speed[i]);
        all.push_back(smooth_station(p, u));
        rate.push_back(u * p[P::kTr] * thread_.log_speed_slope[i]);
        time.push_back(p[P::kTime]);
          }
      if (memory_of(thread_.radius, thread_.log_speed, rate, all, time) <= most) {
        end_radius_ = thread_.radius.back();
        sigma_.clear();
        for (double r : thread_.radius) sigma_.push_back((r - outer) / (end_radius_ - outer));
        state_.log_speed = thread_.log_speed;
        state_.pull.assign(n, 0.0);
        state_.waist.assign(n, 0.0);
        stations_ = std::move(all);
        mesh_error_ = thread_.error;
        return true;
      }
    }
    smooth_ = drying_known_ = false;
    rounds_ = drying_rounds_ = 0;
    pull_N_ = 0.0;
    path_ = {};
    surface_ = {};
    trouble_.clear();
    return false;
  }
  [[nodiscard]] P::Array start_place() const {
    P::Array y{};
    y[P::kRadius] = context_.outer_radius_m;
    y[P::kTr] = 1.0;
    y[P::kSolvent] = context_.fluid->initial.solvent_ratio;
    y[P::kTemperature] = context_.fluid->charge_temperature_K;
    return y;
  }

  // Direction, speed and pull together on composition, temperature, climb and air of a path; then the path of what came out, until
  // the two agree.
  bool settle_smooth(double tolerance) {
    PathOptions how = path_options(false);
    how.stop_at_solid = true;
    model::ThreadEnd end;
    end.taken_up = options_.end == model::JetEnd::taken_up;
    end.take_up_speed_m_s = options_.take_up_speed_m_s > 0.0 ? options_.take_up_speed_m_s : context_.speed_rad_s * context_.collector_radius_m;
    constexpr int kMost = 8;
    const bool begun = !thread_.force.empty();
    bool marched = false;
    for (int k = 0; k < kMost; ++k) {
      if (!marched) {
        // a first path serves only to be improved
        PathOptions rough = how;
        if (!begun) rough.relative_tolerance = std::max(how.relative_tolerance, 1e-3);
        if (!march_smooth(rough)) return false;
        marched = true;
      }
      const auto station = [this](double r) {
        const P::Array p = smooth_place(r);
        return smooth_station(p, std::exp(lagged_.log_at(r)));
      };
      lagged_ = speed_field();
      SmoothOptions solve;
      solve.tolerance = options_.mesh_tolerance > 0.0 ? options_.mesh_tolerance : 1e-3;
      solve.newton_tolerance = std::min(1e-9, 1e-2 * tolerance);
      if (thread_.force.empty()) first_guess(end);
      solve.adapt = k == 0 && !begun;
      const SmoothThread next = solve_smooth_thread(context_, station, end, thread_, solve);
      jet_.work.newton_iterations += static_cast<std::size_t>(next.newton);
      jet_.work.jacobians += static_cast<std::size_t>(next.newton);
      jet_.work.factorizations += static_cast<std::size_t>(next.newton);
      if (!next.converged) {
        trouble_ = "collocation: " + next.reason;
        return false;
      }
      thread_ = next;
      ++rounds_;
      // what the equations took from the old path, on the new one
      const std::size_t points = thread_.radius.size();
      std::vector<P::Array> old(points);
      for (std::size_t i = 0; i < points; ++i) old[i] = smooth_place(thread_.radius[i]);
      if (!march_smooth(how)) return false;
      change_ = 0.0;
      const double start_ratio = context_.fluid->initial.solvent_ratio;
      for (std::size_t i = 0; i < points; ++i) {
        const P::Array p = smooth_place(thread_.radius[i]);
        change_ = std::max({change_, std::abs(p[P::kSolvent] - old[i][P::kSolvent]) / start_ratio,
                            std::abs(p[P::kTemperature] - old[i][P::kTemperature]) / 100.0, std::abs(p[P::kTz] - old[i][P::kTz])});
        // the gas of the orifice blows by the place and the time
        if (context_.gas.blows()) change_ = std::max(change_, std::abs(p[P::kAngle] - old[i][P::kAngle]));
      }
      if (change_ < tolerance) return true;
    }
    if (change_ < options_.fair_tolerance) return true;
    trouble_ = "path and speed do not agree";
    return false;
  }
  bool march_smooth(const PathOptions& how) {
    path_ = march_path(context_, speed_field(), surface_, how);
    count(path_);
    if (path_.end != PathEnd::collector) {
      trouble_ = "does not reach the collector as a liquid";
      return false;
    }
    return true;
  }
  // Angle of the path, pull that belongs to the speeds.
  void first_guess(const model::ThreadEnd& end) {
    thread_.radius.back() = path_.at_thread_end[P::kRadius];
    const std::size_t points = thread_.radius.size();
    if (end.taken_up) {
      const double gap = std::log(end.take_up_speed_m_s) - thread_.log_speed.back();
      const double whole = thread_.radius.back() - thread_.radius.front();
      for (std::size_t i = 0; i < points; ++i) {
        thread_.log_speed[i] += gap * (thread_.radius[i] - thread_.radius.front()) / whole;
        thread_.log_speed_slope[i] += gap / whole;
      }
    }
    for (std::size_t i = 0; i < points; ++i) {
      const P::Array p = smooth_place(thread_.radius[i]);
      const SmoothStation at = smooth_station(p, std::exp(thread_.log_speed[i]));
      thread_.angle.push_back(std::atan2(p[P::kTa], p[P::kTr]));
      const double volume = at.flow_kg_s / at.density_kg_m3;
      thread_.force.push_back(at.surface_tension_N_m * std::sqrt(model::kPi * volume * std::exp(-thread_.log_speed[i])) +
                              3.0 * at.viscosity_Pa_s * volume * p[P::kTr] * thread_.log_speed_slope[i]);
    }
  }

  model::Jet report_smooth() {
    const std::size_t n = thread_.radius.size();
    model::ForceBudget budget;
    std::vector<JetSample> samples;
    std::vector<double> per, surface, chains, lengthwise;  // u/m; forces; work of the air by radius
    for (std::size_t i = 0; i < n; ++i) {
      PathResult::Place place{path_.thread_m, path_.at_thread_end};
      if (i == 0) place = {0.0, path_.step.front().state[0]};
      if (i > 0 && i + 1 < n) place = path_.at_radius(thread_.radius[i]);
      const P::Array& p = place.state;
      const SmoothStation& at = stations_[i];
      const double u = std::exp(thread_.log_speed[i]);
      const double volume = at.flow_kg_s / at.density_kg_m3;
      JetSample sample = sample_at(place.arc_m, p, u);
      sample.strain_rate_1_s = u * p[P::kTr] * thread_.log_speed_slope[i];
      const double eta_p = at.viscosity_Pa_s * (1.0 - at.solvent_share);
      sample.chain_stress_Pa = 3.0 * eta_p * sample.strain_rate_1_s;
      sample.tension_N = thread_.force[i];
      add_drawn(samples, sample, place.state, i);
      per.push_back(u / at.flow_kg_s);
      surface.push_back(at.surface_tension_N_m * std::sqrt(model::kPi * volume / u));
      chains.push_back(volume / u * sample.chain_stress_Pa);
    }
    const auto& table = solver::lobatto::table();
    double pull = 0.0;
    for (std::size_t c = 0; c < thread_.cells(); ++c) {
      const double h = thread_.radius[3 * c + 3] - thread_.radius[3 * c];
      for (std::size_t k = 0; k < 4; ++k) pull += h * table.to[3][k] * per[3 * c + k] * thread_.force_slope[3 * c + k];
    }
    for (std::size_t i = 1; i < n; ++i) {
      const double mean = 0.5 * (per[i] + per[i - 1]);
      budget.surface_tension_J_kg += mean * (surface[i] - surface[i - 1]);
      budget.elastic_J_kg += mean * (chains[i] - chains[i - 1]);
    }
    budget.viscous_J_kg = pull - budget.surface_tension_J_kg - budget.elastic_J_kg;
    const double omega = context_.speed_rad_s;
    const double r = thread_.radius.back(), r0 = thread_.radius.front();
    budget.centrifugal_J_kg = 0.5 * omega * omega * (r * r - r0 * r0);
    budget.gravity_J_kg = -context_.gravity_m_s2 * path_.at_end[P::kZ];
    budget.air_drag_J_kg = path_.at_end[P::kDragWork];
    const double u = std::exp(thread_.log_speed.back());
    budget.total_J_kg = 0.5 * (u * u - context_.exit_speed_m_s * context_.exit_speed_m_s);
    return finish(samples, budget, n, thread_.force.front());
  }

  [[nodiscard]] double height_of(std::size_t i) const {
    const std::size_t n = sigma_.size() - 1;
    if (i == 0) return 0.0;
    return i == n ? path_.at_thread_end[P::kZ] : path_.at_radius(radius_of(i)).state[P::kZ];
  }

  const model::JetContext& context_;
  const TensionOptions& options_;
  model::PolymerLaw law_;
  SurfaceHistory surface_;
  std::vector<double> sigma_;  ///< nodes as shares of the liquid length
  double end_radius_{};        ///< where the liquid part ends
  ThreadState state_;
  ThreadProblem problem_;
  PathResult path_;
  model::Jet jet_;
  std::string trouble_;
  double pull_N_{}, kept_pull_{};  ///< of the solid beyond the thread
  double pull_slope_{};            ///< d(what is missing)/d(pull), below 0 once it is known
  bool jumps_{false};  ///< it took smoothing before
  bool first_order_only_{false}, kept_first_order_{false};
  double smoothing_reached_{};
  double within_{};  ///< to which the present round is solved
  double change_{}, kept_change_{}, mesh_error_{-1.0};
  int rounds_{}, lost_{}, drying_rounds_{};
  double drying_off_{}, kept_drying_off_{};
  bool drying_known_{false};  ///< the history of the surface comes from this jet or a similar one
  double cells_end_ratio_{}, kept_ratio_{};  ///< X at the end by the radial cells
  double cut_{}, kept_cut_{};                ///< radius where the thread is cut; 0: it is not
  SurfaceHistory kept_surface_;
  std::size_t spent_{};  ///< Newton iterations x cells
  std::size_t spend_until_{std::numeric_limits<std::size_t>::max()};  ///< on the present mesh
  std::string convergence_, remark_;
  std::vector<double> weights_, kept_weights_, kept_sigma_;
  ThreadState kept_state_;
  ThreadProblem kept_problem_;
  PathResult kept_path_;
  double kept_radius_{};
  bool smooth_{false};  ///< solved as a thread without memory
  SmoothThread thread_;
  P::Array drawn_{};  ///< place of the last station that was reported
  SpeedField lagged_{{0.0, 1.0}, {0.0, 0.0}};
  std::vector<SmoothStation> stations_;
};

}  // namespace

model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options, const model::Jet& start,
                             TensionMemory* memory) {
  const bool warm = memory != nullptr && memory->exit_speed_m_s > 0.0;
  if (warm || start.status != model::Status::done) {
    if (!warm) return start;
    TensionJet solver(context, options);
    const model::Jet jet = solver.run(start, memory);
    const bool reached = memory->reached_collector;
    if (jet.status == model::Status::done && jet.reached_collector == reached) {
      solver.leave(*memory);
    } else {
      *memory = {};
    }
    if (jet.status == model::Status::done && jet.reached_collector != reached) {
      model::Jet again;  // that may come from there
      again.work = jet.work;
      again.reason = "one of two similar jets arrives and the other does not";
      return again;
    }
    return jet;
  }
  TensionOptions now = options;
  model::Jet jet;
  int tries = 0;
  for (const double share : {options.stalled_share, 0.6, 0.3}) {
    if (++tries > options.stalled_tries) break;
    now.stalled_share = share;
    TensionJet solver(context, now);
    const model::WorkCounts spent = jet.work;
    jet = solver.run(start, nullptr);
    jet.work.newton_iterations += spent.newton_iterations;
    if (jet.status == model::Status::done) {
      if (memory != nullptr) solver.leave(*memory);
      return jet;
    }
    if (start.reached_collector) return jet;
  }
  // A free end gains nothing from being pulled: with tension it stalls, too. What is left open is where, and how much.
  char text[200];
  std::snprintf(text, sizeof text,
                "stalls without tension; the pull left out is up to %.1e of the momentum flux, and the thread with it is not solved (",
                start.tension_ratio);
  const std::string why = jet.reason;
  const model::WorkCounts work = jet.work;
  jet = start;
  jet.work = work;
  jet.convergence = text + why + ")";
  return jet;
}

}  // namespace whorl::engine
