#include "engine/tension.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "engine/jet_report.hpp"
#include "engine/tension_path.hpp"
#include "solver/anderson.hpp"
#include "solver/banded.hpp"

namespace whorl::engine {
namespace {

using P = PathState;

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

  model::Jet run(const model::Jet& start) {
    jet_.work = start.work;
    if (!begin(start)) return fail("the inertial start has too few stations");
    if (!settle(false, 1e-3)) {
      if (stalled_) return stall();
      return fail("on the mesh of " + std::to_string(sigma_.size() - 1) + " cells: " + trouble_);
    }
    const double coarse = state_.log_speed.back();
    remesh(options_.cells);
    if (!settle(true, options_.tolerance)) {
      if (stalled_) return stall();
      return fail("on the mesh of " + std::to_string(sigma_.size() - 1) + " cells: " + trouble_);
    }
    mesh_change_ = std::abs(state_.log_speed.back() - coarse);
    return report();
  }

 private:
  model::Jet fail(const std::string& why) const {
    model::Jet failed;
    failed.work = jet_.work;
    failed.reason = "tension: " + why;
    return failed;
  }
  model::Jet stall() { return fail("stalls"); }

  bool begin(const model::Jet& start) {
    std::vector<double> radius, log_u, phi, arc;
    for (const model::JetStation& s : start.profile) {
      if (s.solid && radius.size() >= 2) break;
      if (!radius.empty() && s.radius_m <= radius.back() * (1.0 + 1e-13)) continue;
      arc.push_back(s.arc_length_m);
      radius.push_back(radius.empty() ? context_.outer_radius_m : s.radius_m);
      log_u.push_back(std::log(s.speed_m_s));
      phi.push_back(s.polymer_volume_fraction);
    }
    if (arc.size() < 2) return false;
    if (options_.radial) follow_surface(start);
    log_u[0] = std::log(context_.exit_speed_m_s);
    end_radius_ = radius.back();
    std::vector<double> monitor(arc.size(), 0.0);
    for (std::size_t i = 1; i < arc.size(); ++i) {
      monitor[i] = std::abs(log_u[i] - log_u[i - 1]) + 2.0 * std::abs(phi[i] - phi[i - 1]) + (arc[i] - arc[i - 1]) / arc.back();
    }
    lay_mesh(radius, monitor, options_.coarse_cells);
    state_.log_speed.resize(sigma_.size());
    for (std::size_t i = 0; i < sigma_.size(); ++i) state_.log_speed[i] = interpolate(radius, log_u, radius_of(i));
    state_.pull.assign(sigma_.size(), 0.0);
    state_.waist.assign(sigma_.size(), 0.0);
    return true;
  }

  void follow_surface(const model::Jet& start) {
    surface_.freezing_ratio = -1.0;
    for (const model::JetStation& s : start.profile) {
      if (s.solid && surface_.freezing_ratio < 0.0) surface_.freezing_ratio = s.solvent_ratio;
      if (!surface_.dryness.empty() && -s.solvent_ratio <= surface_.dryness.back()) continue;
      const double x = s.surface_solvent_fraction;
      surface_.dryness.push_back(-s.solvent_ratio);
      surface_.share.push_back(x < 1.0 && s.solvent_ratio > 1e-9 ? std::clamp(x / (1.0 - x) / s.solvent_ratio, 0.0, 1.0) : 1.0);
    }
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
    lay_mesh(old, change, cells);
    ThreadState next;
    for (std::size_t i = 0; i < sigma_.size(); ++i) {
      next.log_speed.push_back(interpolate(old, state_.log_speed, radius_of(i)));
      next.pull.push_back(interpolate(old, state_.pull, radius_of(i)));
      next.waist.push_back(interpolate(old, state_.waist, radius_of(i)));
    }
    state_ = next;
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
  bool round(bool second_order) {
    const std::vector<double> before = radii();
    SpeedField field(before, state_.log_speed);
    PathOptions path_options{options_.path_tolerance, options_.max_turns, options_.freeze_when_solid};
    path_ = march_path(context_, field, surface_, path_options);
    jet_.work.rhs_evaluations += path_.rhs_calls;
    jet_.work.steps += path_.steps;
    jet_.work.rejected += path_.rejected;
    if (path_.end == PathEnd::failed) {
      trouble_ = "path: " + path_.message;
      return false;
    }
    end_radius_ = std::hypot(path_.at_liquid_end[P::kX], path_.at_liquid_end[P::kY]);
    const std::size_t n = sigma_.size() - 1;
    const model::Fluid& fluid = *context_.fluid;
    problem_.air = context_.air;
    problem_.law = law_;
    problem_.start_speed_m_s = context_.exit_speed_m_s;
    problem_.second_order = second_order;
    problem_.station.resize(n + 1);
    if (!(end_radius_ > context_.outer_radius_m)) {
      trouble_ = "path: no way outward";
      return false;
    }
    for (std::size_t i = 0; i <= n; ++i) {
      const PathResult::Place place = i == n ? PathResult::Place{path_.liquid_m, path_.at_liquid_end}
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
      at.push_m_s2 = omega * omega * (p[P::kX] * p[P::kTx] + p[P::kY] * p[P::kTy]) - context_.gravity_m_s2 * p[P::kTz];
      double turning = -omega;
      if (context_.air->swirl_speed_rad_s > 0.0) {
        turning += context_.air->swirl_speed_rad_s * context_.air->vessel_radius_m * context_.air->vessel_radius_m /
                   (p[P::kX] * p[P::kX] + p[P::kY] * p[P::kY]);
      }
      const double wx = -turning * p[P::kY], wy = turning * p[P::kX];
      at.wind_along_m_s = wx * p[P::kTx] + wy * p[P::kTy];
      const double across2 = wx * wx + wy * wy - at.wind_along_m_s * at.wind_along_m_s;
      at.wind_across_m_s = std::sqrt(std::max(across2, 1e-10));
    }
    model::ThreadEnd& end = problem_.end;
    end = {};
    end.taken_up = options_.end == JetEnd::taken_up && !path_.solid;
    end.take_up_speed_m_s = options_.take_up_speed_m_s > 0.0 ? options_.take_up_speed_m_s
                                                             : context_.speed_rad_s * context_.collector_radius_m;
    if (path_.solid) {
      const double u = std::exp(path_.solid_log_speed);
      end.body_W = path_.at_end[P::kBody] - path_.at_liquid_end[P::kBody];
      end.drag_N_s_m = path_.at_end[P::kResistance] - path_.at_liquid_end[P::kResistance];
      end.drag_wind_N = path_.at_end[P::kDrag] - path_.at_liquid_end[P::kDrag] + u * end.drag_N_s_m;
      if (options_.end == JetEnd::taken_up) {  // the collector winds the solid fibre up
        end.taken_up = true;
      }
    }
    ThreadState guess;
    for (std::size_t i = 0; i <= n; ++i) {
      const double s = radius_of(i);
      guess.log_speed.push_back(i == 0 ? std::log(context_.exit_speed_m_s) : field.log_at(s));
      guess.pull.push_back(i == 0 ? 0.0 : interpolate(before, state_.pull, s));
      guess.waist.push_back(i == 0 ? 0.0 : interpolate(before, state_.waist, s));
    }
    if (!solve_thread(guess, second_order)) return false;
    state_ = guess;
    return true;
  }

  ThreadOutcome attempt(ThreadState& guess, bool second_order, double smoothing) {
    problem_.second_order = second_order;
    problem_.smoothing = smoothing;
    Thread thread(problem_);
    thread.set_weights(guess);
    const ThreadOutcome outcome = thread.solve(guess, ThreadOptions{});
    jet_.work.newton_iterations += static_cast<std::size_t>(outcome.iterations);
    jet_.work.jacobians += static_cast<std::size_t>(outcome.iterations);
    jet_.work.factorizations += static_cast<std::size_t>(outcome.iterations);
    pseudo_steps_ += outcome.pseudo_steps;
    return outcome;
  }

  // Speed and stress on the present path, by what it takes: directly; with smoothing that is taken away step by step;
  // to first order where second order finds no solution.
  bool solve_thread(ThreadState& guess, bool second_order) {
    const ThreadState start = guess;
    const bool second = second_order && !first_order_only_;
    if (attempt(guess, second, 0.0).converged) return true;
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
    if (outcome.converged) return true;
    char text[200];
    std::snprintf(text, sizeof text, "speed on the path: %s left a balance of %.1e; smoothing came down to %.2g", outcome.reason.c_str(),
                  outcome.residual, smoothing_reached_);
    trouble_ = text;
    return false;
  }

  // A jump of the speed (thread faster than its elastic waves before, slower behind) cannot be moved by Newton's method
  // from cell to cell: it is found wide, and made narrow.
  ThreadOutcome sharpen(ThreadState& guess, bool second_order) {
    constexpr double kLeast = 0.02;
    double smoothing = 10.0;
    double factor = 3.0;
    smoothing_reached_ = 1e9;
    ThreadState good = guess;
    ThreadOutcome outcome;
    for (int k = 0; k < 60; ++k) {
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

  bool settle(bool second_order, double tolerance) {
    solver::Anderson mixer(5);
    double change = 0.0;
    double damping = 1.0;
    double last = 1e300;
    const std::size_t n = sigma_.size() - 1;
    for (int k = 0; k < options_.most_rounds; ++k) {
      std::vector<double> z(state_.log_speed.begin() + 1, state_.log_speed.end());
      z.push_back(std::log(end_radius_ - context_.outer_radius_m));
      const ThreadState kept = state_;
      const double kept_length = end_radius_;
      if (!round(second_order)) {
        state_ = kept;
        end_radius_ = kept_length;
        return false;
      }
      ++rounds_;
      std::vector<double> g(state_.log_speed.begin() + 1, state_.log_speed.end());
      g.push_back(std::log(end_radius_ - context_.outer_radius_m));
      change = 0.0;
      for (std::size_t i = 0; i < g.size(); ++i) change = std::max(change, std::abs(g[i] - z[i]));
      if (std::getenv("TDEBUG")) fprintf(stderr, "  round %d change %.3e R %.6g L %.4g end %d solid %d u_end %.6g\n", k, change, end_radius_, path_.length_m, (int)path_.end, path_.solid, std::exp(state_.log_speed.back()));
      if (change < tolerance) {
        change_ = change;
        stalled_ = path_.end != PathEnd::collector;
        return true;
      }
      if (change > last) damping = std::max(0.2, 0.7 * damping);
      else damping = std::min(1.0, 1.1 * damping);
      last = change;
      std::vector<double> next = mixer.next(z, g, damping);
      double jump = 0.0;
      for (std::size_t i = 0; i < next.size(); ++i) jump = std::max(jump, std::abs(next[i] - z[i]));
      if (!(jump < std::max(1.0, 3.0 * change))) {
        mixer.restart();
        for (std::size_t i = 0; i < next.size(); ++i) next[i] = z[i] + 0.5 * (g[i] - z[i]);
      }
      for (std::size_t i = 0; i < n; ++i) state_.log_speed[i + 1] = next[i];
      end_radius_ = context_.outer_radius_m + std::exp(next[n]);
    }
    char text[160];
    std::snprintf(text, sizeof text, "path and speed still change by %.1e after %d rounds", change, options_.most_rounds);
    trouble_ = text;
    return false;
  }

  model::Jet report() {
    jet_.work.mesh_nodes = sigma_.size();
    jet_.end_speed_m_s = std::exp(state_.log_speed.back());
    jet_.status = model::Status::done;
    jet_.reached_collector = path_.end == PathEnd::collector;
    char text[160];
    std::snprintf(text, sizeof text, "rounds %d first %d pseudo %d coarse change %.1e", rounds_, first_order_only_, pseudo_steps_, mesh_change_);
    jet_.reason = text;
    return jet_;
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
  bool stalled_{false}, first_order_only_{false};
  double smoothing_reached_{};
  double change_{}, mesh_change_{};
  int rounds_{}, pseudo_steps_{};
};

}  // namespace

model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options, const model::Jet& start) {
  if (start.status != model::Status::done || !start.reached_collector) return start;
  return TensionJet(context, options).run(start);
}

}  // namespace whorl::engine
