#include "engine/tension.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "engine/jet_report.hpp"
#include "engine/tension_line.hpp"
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
    bool any = false;
    for (std::size_t cells = options_.cells;; cells *= 2) {
      if (any) remesh(cells);
      const double before = any ? state_.log_speed.back() : 0.0;
      const bool last = cells * 2 > options_.most_cells || options_.mesh_tolerance <= 0.0;
      if (!settle(any || last ? options_.tolerance : std::max(options_.tolerance, 1e-4))) {
        if (!any) return fail("on the mesh of " + std::to_string(cells) + " cells: " + trouble_);
        remark_ = "; the mesh of " + std::to_string(cells) + " cells failed (" + trouble_ + ")";
        restore();
        break;
      }
      keep();
      if (path_.end != PathEnd::collector) break;  // stalled: a finer mesh would not change that
      if (any) {
        // the finer mesh is off by a third of the change in second order, by all of it in first
        mesh_error_ = std::abs(state_.log_speed.back() - before) / (first_order_only_ ? 1.0 : 3.0);
        if (mesh_error_ < options_.mesh_tolerance || exhausted()) break;
      }
      any = true;
      if (last) break;
    }
    return report();
  }

 private:
  model::Jet fail(const std::string& why) const {
    model::Jet failed;
    failed.work = jet_.work;
    failed.reason = "tension: " + why;
    return failed;
  }

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
    lay_mesh(radius, monitor, options_.cells);
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
  bool round() {
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
    end.taken_up = options_.end == model::JetEnd::taken_up && !path_.solid;
    end.take_up_speed_m_s = options_.take_up_speed_m_s > 0.0 ? options_.take_up_speed_m_s
                                                             : context_.speed_rad_s * context_.collector_radius_m;
    if (path_.solid) {
      const double u = std::exp(path_.solid_log_speed);
      end.body_W = path_.at_end[P::kBody] - path_.at_liquid_end[P::kBody];
      end.drag_N_s_m = path_.at_end[P::kResistance] - path_.at_liquid_end[P::kResistance];
      end.drag_wind_N = path_.at_end[P::kDrag] - path_.at_liquid_end[P::kDrag] + u * end.drag_N_s_m;
      if (options_.end == model::JetEnd::taken_up) {  // the collector winds the solid fibre up
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
    if (end.taken_up) {
      // a start that does not meet the collector's speed is drawn evenly
      const double gap = std::log(end.take_up_speed_m_s) - guess.log_speed[n];
      const double length = problem_.station[n].arc_m;
      for (std::size_t i = 1; i <= n; ++i) guess.log_speed[i] += gap * problem_.station[i].arc_m / length;
    }
    if (!solve_thread(guess)) return false;
    state_ = guess;
    return true;
  }

  ThreadOutcome attempt(ThreadState& guess, bool second_order, double smoothing) {
    problem_.second_order = second_order;
    problem_.smoothing = smoothing;
    Thread thread(problem_);
    thread.set_weights(guess);
    const ThreadOutcome outcome = thread.solve(guess, ThreadOptions{});
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
  [[nodiscard]] bool exhausted() const {
    return spent_ > options_.most_newton * options_.cells || jet_.work.rhs_evaluations > options_.most_rates;
  }

  ThreadOutcome sharpen(ThreadState& guess, bool second_order) {
    constexpr double kLeast = 0.02;
    double smoothing = 10.0;
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
    solver::Anderson mixer(5);
    double damping = 1.0;
    double last = 1e300;
    const std::size_t n = sigma_.size() - 1;
    first_order_only_ = false;
    lost_ = 0;
    std::vector<double> changes;
    for (int k = 0; k < options_.most_rounds; ++k) {
      std::vector<double> z(state_.log_speed.begin() + 1, state_.log_speed.end());
      z.push_back(std::log(end_radius_ - context_.outer_radius_m));
      if (!round()) return false;
      ++rounds_;
      lost_ = path_.end == PathEnd::collector ? 0 : lost_ + 1;
      std::vector<double> g(state_.log_speed.begin() + 1, state_.log_speed.end());
      g.push_back(std::log(end_radius_ - context_.outer_radius_m));
      double change = 0.0;
      for (std::size_t i = 0; i < g.size(); ++i) change = std::max(change, std::abs(g[i] - z[i]));
      change_ = change;
      if (change < tolerance) return true;
      // close, and no longer getting closer: rounding of the march
      changes.push_back(change);
      if (k >= 12 && change < options_.fair_tolerance && change > 0.5 * changes[changes.size() - 5]) return true;
      if (exhausted()) {
        if (change < options_.fair_tolerance) return true;
        if (lost_ >= 10) return true;
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
    // A jet that no longer finds the collector has stalled, whether or not the rest of its path settles.
    if (lost_ >= 10) return true;
    char text[160];
    std::snprintf(text, sizeof text, "path and speed still change by %.1e after %d rounds", change_, options_.most_rounds);
    trouble_ = text;
    return false;
  }

  void keep() {
    kept_sigma_ = sigma_;
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
    const double c = std::cos(omega * p[P::kTime]);
    const double s = std::sin(omega * p[P::kTime]);
    const double vx = u * p[P::kTx] - omega * p[P::kY];
    const double vy = u * p[P::kTy] + omega * p[P::kX];
    sample.time_s = p[P::kTime];
    auto& state = sample.state;
    state[J::kX] = c * p[P::kX] - s * p[P::kY];
    state[J::kY] = s * p[P::kX] + c * p[P::kY];
    state[J::kZ] = p[P::kZ];
    state[J::kVx] = c * vx - s * vy;
    state[J::kVy] = s * vx + c * vy;
    state[J::kVz] = u * p[P::kTz];
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
    const double omega = context_.speed_rad_s;
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
      PathResult::Place place{station[i].arc_m, path_.at_liquid_end};
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
      samples.push_back(sample);
    }
    if (path_.solid) {
      jet_.solidified = true;
      const P::Array& p = path_.at_liquid_end;
      jet_.solidification_kind =
          model::solidifies_by_crystallisation(*context_.fluid,
                                               model::polymer_volume_fraction(*context_.fluid, std::max(p[P::kSolvent], 0.0)),
                                               p[P::kTemperature]) ? "crystallised" : "vitrified";
      for (const auto& step : path_.step) {
        if (step.from < path_.liquid_m) continue;
        for (int k = 0; k <= 3; ++k) {
          if (k == 0 && step.from > path_.liquid_m) continue;
          const auto& q = step.state[static_cast<std::size_t>(k)];
          JetSample sample = sample_at(step.from + (step.to - step.from) * k / 3.0, q, u[n]);
          sample.solid = true;
          sample.tension_N = end_surface + (path_.at_end[P::kBody] - q[P::kBody]) / u[n] + path_.at_end[P::kDrag] - q[P::kDrag];
          samples.push_back(sample);
        }
      }
      const double flow = station[n].flow_kg_s;
      const double body = (path_.at_end[P::kBody] - path_.at_liquid_end[P::kBody]) / flow;
      const double drag = path_.at_end[P::kDragWork] - path_.at_liquid_end[P::kDragWork];
      const double fall = -context_.gravity_m_s2 * (path_.at_end[P::kZ] - path_.at_liquid_end[P::kZ]);
      budget.gravity_J_kg += fall;
      budget.centrifugal_J_kg += body - fall;
      budget.air_drag_J_kg += drag;
      budget.solid_constraint_J_kg -= body + drag;  // no change of speed in the solid
    }

    JetOptions report_options;
    report_options.keep_profile = options_.keep_profile;
    report_jet(context_, report_options, samples, jet_);
    budget.total_J_kg = 0.5 * (u[n] * u[n] - u[0] * u[0]);
    jet_.budget = budget;

    const double size = context_.exit_speed_m_s + omega * context_.collector_radius_m;
    jet_.balances.momentum =
        std::abs(budget.total_J_kg - budget.centrifugal_J_kg - budget.gravity_J_kg - budget.air_drag_J_kg -
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
    const double area = 0.25 * model::kPi * jet_.wet_diameter_m * jet_.wet_diameter_m;
    const double dry = std::max(ratio, 0.0);
    jet_.balances.polymer =
        std::abs(area * model::mixture_density(fluid, dry) * jet_.end_speed_m_s / (1.0 + dry) / context_.polymer_flow_kg_s - 1.0);
    jet_.balances_known = true;
    jet_.work.mesh_nodes = n + 1;

    if (!std::isfinite(jet_.dry_diameter_m + jet_.capillary_gain + jet_.end_temperature_K + jet_.tension_ratio + viscous_0)) {
      return fail("the jet's report is not finite");
    }
    jet_.status = model::Status::done;
    jet_.reached_collector = path_.end == PathEnd::collector;
    char text[240];
    const double r = 1e3 * std::hypot(end[P::kX], end[P::kY]);
    switch (path_.end) {
      case PathEnd::collector: std::snprintf(text, sizeof text, "reached the collector"); break;
      case PathEnd::inward: std::snprintf(text, sizeof text, "stalled: stopped by the air at radius %.0f mm", r); break;
      case PathEnd::fallen:
        std::snprintf(text, sizeof text, "fell %.0f mm before reaching the collector", -1e3 * end[P::kZ]);
        break;
      default:
        std::snprintf(text, sizeof text, "stalled: still at radius %.0f mm after %.0f turns of the vessel", r,
                      end[P::kTime] * omega / (2.0 * model::kPi));
    }
    jet_.reason = text;
    std::snprintf(text, sizeof text, "%s; %d rounds of path and speed, which agree to %.0e",
                  first_order_only_ ? " (first-order mesh rule: speed jumps)" : "", rounds_, change_);
    convergence_ = text;
    if (mesh_error_ >= 0.0) {
      std::snprintf(text, sizeof text, "; mesh error of the line speed about %.1g %%", 100.0 * mesh_error_);
      convergence_ += text;
    }
    jet_.convergence = convergence_.substr(convergence_.find_first_not_of("; ")) + remark_;
    return jet_;
  }

  [[nodiscard]] double height_of(std::size_t i) const {
    const std::size_t n = sigma_.size() - 1;
    if (i == 0) return 0.0;
    return i == n ? path_.at_liquid_end[P::kZ] : path_.at_radius(radius_of(i)).state[P::kZ];
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
  bool first_order_only_{false}, kept_first_order_{false};
  double smoothing_reached_{};
  double change_{}, kept_change_{}, mesh_error_{-1.0};
  int rounds_{}, lost_{};
  std::size_t spent_{};  ///< Newton iterations x cells
  std::string convergence_, remark_;
  std::vector<double> weights_, kept_weights_, kept_sigma_;
  ThreadState kept_state_;
  ThreadProblem kept_problem_;
  PathResult kept_path_;
  double kept_radius_{};
};

}  // namespace

model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options, const model::Jet& start) {
  if (start.status != model::Status::done || !start.reached_collector) {
    model::Jet jet = start;
    if (start.status == model::Status::done) jet.convergence = "computed without tension, because it does not arrive without it";
    return jet;
  }
  return TensionJet(context, options).run(start);
}

}  // namespace whorl::engine
