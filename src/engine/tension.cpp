#include "engine/tension.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "engine/jet_report.hpp"
#include "model/tension.hpp"
#include "solver/bvp.hpp"
#include "solver/bvp_dual.hpp"

namespace whorl::engine {
namespace {

using S = model::TensionState;
constexpr std::size_t kN = S::kSize;
using Dual = solver::BvpDual<kN>;
using model::TensionNode;

double value(double x) { return x; }
double value(const Dual& x) { return x.value; }

// Weights of the downstream node, one per kind of relaxation.
struct Weights {
  double drag{0.5}, chain{0.5}, viscous{0.5};
  double row{1.0};  ///< size of the viscous law's row
};

class Problem {
 public:
  Problem(const model::JetContext& context, const TensionOptions& options, const model::Jet& start)
      : context_(context), options_(options) {
    setting_.jet = &context_;
    setting_.law.model = options.polymer;
    setting_.law.mobility = options.mobility;
    setting_.law.extensibility = context.fluid->extensibility;
    speed_ = context.exit_speed_m_s + context.speed_rad_s * context.collector_radius_m;
    flow_ = context.polymer_flow_kg_s * (1.0 + context.fluid->initial.solvent_ratio);
    // resists stretching a thousand times more than inertia over the whole flight can ask for
    constexpr double kStiff = 1e3;
    setting_.solid_viscosity_Pa_s =
        kStiff * context.fluid->polymer_density_kg_m3 * speed_ * context.collector_radius_m / 3.0;
    // A charge already below its melting line is a supercooled liquid: as in the inertial tier it counts as solid only
    // when it crosses the line on the way.
    if (model::solid_margin(*context.fluid, context.fluid->initial.polymer_volume_fraction,
                            context.fluid->charge_temperature_K) <= 0.0) {
      setting_.solid_viscosity_Pa_s = 0.0;
    }
    take_up_ = options.take_up_speed_m_s > 0.0 ? options.take_up_speed_m_s
                                               : context.speed_rad_s * context.collector_radius_m;
    begin(start);
  }

  void set_share(double share) { setting_.stress_share = share; }
  [[nodiscard]] std::size_t nodes() const { return r_.size(); }
  [[nodiscard]] const std::vector<double>& radii() const { return r_; }
  std::vector<double>& y() { return y_; }
  [[nodiscard]] double end_speed() const { return node(nodes() - 1).speed; }
  [[nodiscard]] double largest_ratio() const {
    double largest = 0.0;
    for (std::size_t i = 0; i < nodes(); ++i) {
      const auto n = node(i);
      largest = std::max(largest, (n.elastic_force + n.surface_force) / n.momentum_flux);
    }
    return largest;
  }
  [[nodiscard]] TensionNode<double> node(std::size_t i) const {
    return model::tension_node<double>(setting_, r_[i], surface_[i], &y_[i * kN]);
  }
  [[nodiscard]] double surface_share(std::size_t i) const { return surface_[i]; }
  [[nodiscard]] const model::TensionSetting& setting() const { return setting_; }

  // New mesh that shares the changes of the present solution evenly.
  void remesh(std::size_t n) {
    std::vector<double> density(nodes());
    std::array<double, 6> low{}, high{};
    std::vector<std::array<double, 6>> traits(nodes());
    for (std::size_t i = 0; i < nodes(); ++i) {
      const auto local = node(i);
      const double* y = &y_[i * kN];
      const double phi = model::polymer_volume_fraction(*context_.fluid, y[S::kSolvent]);
      traits[i] = {local.log_speed, y[S::kSpin] / (context_.collector_radius_m * speed_), phi,
                   y[S::kTemperature] / 30.0, 0.25 * y[S::kPull], std::log(y[S::kRadial])};
      for (std::size_t k = 0; k < 6; ++k) {
        low[k] = i == 0 ? traits[i][k] : std::min(low[k], traits[i][k]);
        high[k] = i == 0 ? traits[i][k] : std::max(high[k], traits[i][k]);
      }
    }
    const double width = r_.back() - r_.front();
    std::vector<double> change(nodes());
    double total = 0.0;
    for (std::size_t i = 0; i + 1 < nodes(); ++i) {
      double sum = 0.0;
      for (std::size_t k = 0; k < 6; ++k) sum += std::abs(traits[i + 1][k] - traits[i][k]);
      change[i] = sum / (r_[i + 1] - r_[i]);
      total += sum;
    }
    change.back() = change[nodes() - 2];
    for (std::size_t i = 0; i < nodes(); ++i) {
      const double before = i > 0 ? change[i - 1] : change[i];
      density[i] = 0.5 * (before + change[i]) + 0.25 * total / width + 1e-9 / width;
    }
    const std::vector<double> r = solver::equidistribute(r_, density, n);
    std::vector<double> y(n * kN), surface(n);
    std::size_t k = 1;
    for (std::size_t j = 0; j < n; ++j) {
      while (k + 1 < nodes() && r_[k] < r[j]) ++k;
      const double w = std::clamp((r[j] - r_[k - 1]) / (r_[k] - r_[k - 1]), 0.0, 1.0);
      for (std::size_t m = 0; m < kN; ++m) y[j * kN + m] = (1.0 - w) * y_[(k - 1) * kN + m] + w * y_[k * kN + m];
      surface[j] = (1.0 - w) * surface_[k - 1] + w * surface_[k];
    }
    r_ = r;
    y_ = y;
    surface_ = surface;
  }

  // Weights of the present iterate; held while Newton runs, so that its Jacobian is exact.
  void freeze_weights() {
    weights_.assign(nodes() - 1, {});
    for (std::size_t i = 0; i + 1 < nodes(); ++i) {
      const auto a = node(i);
      const auto b = node(i + 1);
      const double dr = r_[i + 1] - r_[i];
      const double dt = 0.5 * dr * (1.0 / y_[i * kN + S::kRadial] + 1.0 / y_[(i + 1) * kN + S::kRadial]);
      weights_[i].drag = solver::fitted_weight(dt * 0.5 * (a.drag_rate_1_s + b.drag_rate_1_s));
      weights_[i].chain = solver::fitted_weight(2.0 * dt / (a.relaxation_time + b.relaxation_time));
      const double ds = 0.5 * dr * (a.arc_rate + b.arc_rate);
      const double resistance = harmonic(a.viscous_resistance, b.viscous_resistance);
      const double inertia = 0.5 * (a.momentum_flux / a.speed + b.momentum_flux / b.speed) * ds;
      weights_[i].row = flow_ * speed_ * ds + resistance * speed_;
      // weight of the UPSTREAM node in the viscous law
      weights_[i].viscous = solver::fitted_weight(resistance > 0.0 ? inertia / resistance : 1e9);
    }
  }

  [[nodiscard]] solver::BandedProblem banded() {
    solver::BandedProblem p;
    p.size = nodes() * kN;
    p.below = 2 * kN - 2;
    p.above = kN;
    p.scale.resize(p.size);
    for (std::size_t i = 0; i < nodes(); ++i) {
      double* s = &p.scale[i * kN];
      s[S::kRadial] = std::max(y_[i * kN + S::kRadial], 1e-3 * speed_);
      s[S::kSpin] = context_.collector_radius_m * speed_;
      s[S::kRise] = speed_;
      s[S::kSolvent] = context_.fluid->initial.solvent_ratio;
      s[S::kTemperature] = 100.0;
      s[S::kPull] = 1.0;
      s[S::kWaist] = 1.0;
      s[S::kForce] = flow_ * speed_;
    }
    p.evaluate = [this](const std::vector<double>& y, std::vector<double>& residual, solver::BandMatrix* jacobian) {
      return jacobian != nullptr ? evaluate<Dual>(y, residual, jacobian) : evaluate<double>(y, residual, nullptr);
    };
    p.longest_step = [](const std::vector<double>& y, const std::vector<double>& step) {
      double share = 1.0;
      for (std::size_t i = 0; i < y.size(); i += kN) {
        for (std::size_t k : {std::size_t{S::kRadial}, std::size_t{S::kSolvent}}) {
          if (step[i + k] < -0.7 * y[i + k]) share = std::min(share, -0.7 * y[i + k] / step[i + k]);
        }
        const auto cap = [&](std::size_t k, double most) {
          const double size = std::abs(step[i + k]);
          if (size > most) share = std::min(share, most / size);
        };
        cap(S::kTemperature, 40.0);
        cap(S::kPull, 3.0);
        cap(S::kWaist, 2.0);
      }
      return share;
    };
    return p;
  }

 private:
  template <class Real>
  static Real harmonic(const Real& a, const Real& b) { return 2.0 * a * b / (a + b); }

  void begin(const model::Jet& start) {
    const auto& profile = start.profile;
    const double omega = context_.speed_rad_s;
    double along = 1.0, across = 1.0, before_speed = 0.0, before_time = 0.0;
    for (std::size_t i = 0; i < profile.size(); ++i) {
      const auto& p = profile[i];
      const double r = i == 0 ? context_.outer_radius_m
                              : (i + 1 == profile.size() ? context_.collector_radius_m : p.radius_m);
      if (i > 0 && r <= r_.back() + 1e-9 * context_.collector_radius_m && i + 1 < profile.size()) continue;
      std::array<double, kN> y{};
      const double u = p.speed_m_s;
      double vp = 0.0;
      if (omega > 0.0) {
        vp = (p.lab_speed_m_s * p.lab_speed_m_s - u * u - omega * omega * r * r) / (2.0 * omega * r);
      }
      vp = std::clamp(vp, -u, u);
      double vz = 0.0;
      if (i > 0) {
        const double ds = p.arc_length_m - profile[i - 1].arc_length_m;
        if (ds > 0.0) vz = u * std::clamp((p.z_m - profile[i - 1].z_m) / ds, -1.0, 1.0);
      }
      if (i == 0) vp = 0.0;
      y[S::kRadial] = std::sqrt(std::max(u * u - vp * vp - vz * vz, 1e-4 * u * u));
      y[S::kSpin] = r * (vp + omega * r);
      y[S::kRise] = vz;
      y[S::kSolvent] = std::max(p.solvent_ratio, 1e-9);
      y[S::kTemperature] = p.temperature_K;
      if (i > 0) {
        const double phi = model::polymer_volume_fraction(*context_.fluid, y[S::kSolvent]);
        const double eta_p = model::polymer_viscosity(*context_.fluid, phi, p.temperature_K);
        const double q = (p.time_s - before_time) /
                         std::max(model::relaxation_time(*context_.fluid, phi, p.temperature_K, eta_p), 1e-30);
        const double stretch = u / before_speed;
        along = std::clamp((along * stretch * stretch + q) / (1.0 + q), 1e-3, 1e8);
        across = std::clamp((across / stretch + q) / (1.0 + q), 1e-8, 1.0);
      }
      before_speed = u;
      before_time = p.time_s;
      y[S::kPull] = model::pull_of(setting_.law, along, across);
      y[S::kWaist] = std::log(across);
      if (!r_.empty() && i + 1 == profile.size() && r <= r_.back()) continue;
      r_.push_back(r);
      surface_.push_back(p.solvent_mass_fraction > 1e-9 && p.surface_solvent_fraction < 1.0
                             ? std::clamp(p.surface_solvent_fraction / (1.0 - p.surface_solvent_fraction) /
                                              std::max(p.solvent_ratio, 1e-9), 1e-6, 1.0)
                             : 1.0);
      y_.insert(y_.end(), y.begin(), y.end());
    }
    if (r_.size() < 3) return;
    r_.back() = context_.collector_radius_m;
  }

  template <class Real>
  bool evaluate(const std::vector<double>& y, std::vector<double>& residual, solver::BandMatrix* jacobian) {
    const std::size_t n = nodes();
    const auto local = [&](std::size_t i, std::array<Real, kN>& state) {
      for (std::size_t k = 0; k < kN; ++k) {
        if constexpr (std::is_same_v<Real, Dual>) {
          state[k] = Dual::variable(y[i * kN + k], k);
        } else {
          state[k] = y[i * kN + k];
        }
      }
      return model::tension_node<Real>(setting_, r_[i], surface_[i], state.data());
    };
    for (std::size_t i = 0; i < n; ++i) {
      const double* s = &y[i * kN];
      if (!(s[S::kRadial] > 0.0) || !(s[S::kSolvent] > 0.0) || !(s[S::kTemperature] > 120.0) ||
          !(s[S::kTemperature] < 700.0) || !(std::abs(s[S::kPull]) < 60.0) || !(std::abs(s[S::kWaist]) < 40.0)) {
        return false;
      }
      if (setting_.law.model == model::PolymerModel::fene_p &&
          2.0 * std::exp(s[S::kWaist]) > 0.9 * setting_.law.extensibility) {
        return false;
      }
    }
    const auto& fluid = *context_.fluid;
    const std::array<double, kN - 1> inlet{context_.exit_speed_m_s,
                                           context_.speed_rad_s * context_.outer_radius_m * context_.outer_radius_m,
                                           0.0, fluid.initial.solvent_ratio, fluid.charge_temperature_K, 0.0, 0.0};
    const std::array<double, kN - 1> size{speed_, context_.collector_radius_m * speed_, speed_,
                                          fluid.initial.solvent_ratio, 100.0, 1.0, 1.0};
    for (std::size_t k = 0; k + 1 < kN; ++k) {
      residual[k] = (y[k] - inlet[k]) / size[k];
      if (jacobian != nullptr) jacobian->at(k, k) = 1.0 / size[k];
    }
    std::array<Real, kN> a_state{}, b_state{};
    TensionNode<Real> a = local(0, a_state);
    bool finite = true;
    for (std::size_t i = 0; i + 1 < n; ++i) {
      const TensionNode<Real> b = local(i + 1, b_state);
      const double dr = r_[i + 1] - r_[i];
      const std::size_t row0 = kN - 1 + i * kN;
      const std::size_t column_a = i * kN;
      const std::size_t column_b = (i + 1) * kN;
      const Weights& w = weights_[i];

      // put: residual `total` with left and right derivatives given as sums of (factor, quantity) pairs
      const auto put = [&](std::size_t row, double total, double scale, auto&&... terms) {
        residual[row0 + row] = total / scale;
        finite = finite && std::isfinite(total);
        if constexpr (std::is_same_v<Real, Dual>) {
          for (std::size_t k = 0; k < kN; ++k) {
            double left = 0.0, right = 0.0;
            ((terms.right ? right += terms.factor * terms.quantity->d[k] : left += terms.factor * terms.quantity->d[k]),
             ...);
            jacobian->at(row0 + row, column_a + k) = left / scale;
            jacobian->at(row0 + row, column_b + k) = right / scale;
          }
        }
      };
      struct Term {
        bool right;
        double factor;
        const Real* quantity;
      };
      const auto left = [](double factor, const Real& q) { return Term{false, factor, &q}; };
      const auto right = [](double factor, const Real& q) { return Term{true, factor, &q}; };

      const double wd = w.drag, vd = 1.0 - w.drag;
      const double df = value(b_state[S::kForce]) - value(a_state[S::kForce]);
      const double dh = value(b_state[S::kSpin]) - value(a_state[S::kSpin]);
      const double push_r = 0.5 * (value(a.push_radial) + value(b.push_radial));
      const double push_h = 0.5 * (value(a.push_spin) + value(b.push_spin));
      const double push_z = 0.5 * (value(a.push_rise) + value(b.push_rise));
      const double turn = 0.5 * (value(a.spin_over_r2) + value(b.spin_over_r2));
      put(0, value(b.radial_energy) - value(a.radial_energy) - dr * (vd * value(a.rate_radial) + wd * value(b.rate_radial)) -
                 push_r * df - turn * dh,
          speed_ * speed_, right(1.0, b.radial_energy), left(-1.0, a.radial_energy), left(-dr * vd, a.rate_radial),
          right(-dr * wd, b.rate_radial), left(-0.5 * df, a.push_radial), right(-0.5 * df, b.push_radial),
          right(-push_r, b_state[S::kForce]), left(push_r, a_state[S::kForce]), left(-0.5 * dh, a.spin_over_r2),
          right(-0.5 * dh, b.spin_over_r2), right(-turn, b_state[S::kSpin]), left(turn, a_state[S::kSpin]));
      put(1, dh - dr * (vd * value(a.rate_spin) + wd * value(b.rate_spin)) - push_h * df, size[S::kSpin],
          right(1.0, b_state[S::kSpin]), left(-1.0, a_state[S::kSpin]), left(-dr * vd, a.rate_spin),
          right(-dr * wd, b.rate_spin), left(-0.5 * df, a.push_spin), right(-0.5 * df, b.push_spin),
          right(-push_h, b_state[S::kForce]), left(push_h, a_state[S::kForce]));
      put(2, value(b_state[S::kRise]) - value(a_state[S::kRise]) - dr * (vd * value(a.rate_rise) + wd * value(b.rate_rise)) -
                 push_z * df,
          speed_, right(1.0, b_state[S::kRise]), left(-1.0, a_state[S::kRise]), left(-dr * vd, a.rate_rise),
          right(-dr * wd, b.rate_rise), left(-0.5 * df, a.push_rise), right(-0.5 * df, b.push_rise),
          right(-push_z, b_state[S::kForce]), left(push_z, a_state[S::kForce]));
      const auto plain = [&](std::size_t row, const Real& qa, const Real& qb, const Real& fa, const Real& fb,
                             double weight, double scale) {
        put(row, value(qb) - value(qa) - dr * ((1.0 - weight) * value(fa) + weight * value(fb)), scale, right(1.0, qb),
            left(-1.0, qa), left(-dr * (1.0 - weight), fa), right(-dr * weight, fb));
      };
      plain(3, a_state[S::kSolvent], b_state[S::kSolvent], a.rate_solvent, b.rate_solvent, 0.5, size[3]);
      plain(4, a_state[S::kTemperature], b_state[S::kTemperature], a.rate_temperature, b.rate_temperature, 0.5, size[4]);
      plain(5, a.log_along, b.log_along, a.rate_along, b.rate_along, w.chain, 1.0);
      plain(6, a.log_across, b.log_across, a.rate_across, b.rate_across, w.chain, 1.0);

      // viscous law: weighted viscous force x ds = resistance x du
      const double wa = w.viscous, wb = 1.0 - w.viscous;
      const double ga = value(a.viscous_force), gb = value(b.viscous_force);
      const double force = wa * ga + wb * gb;
      const double ds = 0.5 * dr * (value(a.arc_rate) + value(b.arc_rate));
      const double ra = value(a.viscous_resistance), rb = value(b.viscous_resistance);
      const double resistance = harmonic(ra, rb);
      const double du = value(b.speed) - value(a.speed);
      const double share_a = 2.0 * rb * rb / ((ra + rb) * (ra + rb)), share_b = 2.0 * ra * ra / ((ra + rb) * (ra + rb));
      put(7, force * ds - resistance * du, w.row, left(wa * ds, a.viscous_force), right(wb * ds, b.viscous_force),
          left(0.5 * dr * force, a.arc_rate), right(0.5 * dr * force, b.arc_rate), left(-du * share_a, a.viscous_resistance),
          right(-du * share_b, b.viscous_resistance), right(-resistance, b.speed), left(resistance, a.speed));
      a = b;
      a_state = b_state;
    }
    const std::size_t last = n * kN - 1;
    if (options_.end == JetEnd::taken_up) {
      residual[last] = (value(a.speed) - take_up_) / speed_;
      if constexpr (std::is_same_v<Real, Dual>) {
        for (std::size_t k = 0; k < kN; ++k) jacobian->at(last, (n - 1) * kN + k) = a.speed.d[k] / speed_;
      }
    } else {
      const double scale = flow_ * speed_;
      residual[last] = (value(a_state[S::kForce]) - value(a.surface_force)) / scale;
      if constexpr (std::is_same_v<Real, Dual>) {
        for (std::size_t k = 0; k < kN; ++k) {
          jacobian->at(last, (n - 1) * kN + k) = (a_state[S::kForce].d[k] - a.surface_force.d[k]) / scale;
        }
      }
    }
    return finite && std::isfinite(residual[last]);
  }

  const model::JetContext& context_;
  const TensionOptions& options_;
  model::TensionSetting setting_;
  double speed_{}, flow_{}, take_up_{};
  std::vector<double> r_, y_, surface_;
  std::vector<Weights> weights_;
};

// Newton on the present mesh; weights are refreshed between rounds until they no longer matter.
solver::NewtonResult settle(Problem& problem, model::WorkCounts& work) {
  solver::NewtonResult result;
  for (int round = 0; round < 3; ++round) {
    problem.freeze_weights();
    solver::NewtonOptions options;
    options.max_iterations = round == 0 ? 30 : 12;
    options.step_tolerance = round == 0 ? 1e-5 : 1e-9;
    result = solver::solve_banded_newton(problem.banded(), problem.y(), options);
    work.newton_iterations += static_cast<std::size_t>(result.iterations);
    work.factorizations += static_cast<std::size_t>(result.factorizations);
    work.jacobians += static_cast<std::size_t>(result.factorizations);
    work.rhs_evaluations += static_cast<std::size_t>(result.evaluations) * problem.nodes();
    if (result.status != solver::NewtonStatus::converged) return result;
  }
  return result;
}

void report(const model::JetContext& context, const TensionOptions& options, const Problem& problem,
            std::vector<double> y, model::Jet& jet) {
  const std::size_t n = problem.nodes();
  std::vector<JetSample> samples(n);
  double angle = 0.0, time = 0.0, height = 0.0, arc = 0.0, drag_work = 0.0;
  double viscous = 0.0, elastic = 0.0, surface = 0.0, solid_work = 0.0;
  double largest = 0.0;
  std::vector<double> force(n), stress(n), rate(n);
  auto before = problem.node(0);
  double swirl_before = 0.0;
  bool was_solid = false;
  for (std::size_t i = 0; i < n; ++i) {
    const auto local = problem.node(i);
    const double* s = &y[i * kN];
    const double r = problem.radii()[i];
    const double vp = s[S::kSpin] / r - context.speed_rad_s * r;
    const double phi = model::polymer_volume_fraction(*context.fluid, s[S::kSolvent]);
    const bool solid = was_solid || (problem.setting().solid_viscosity_Pa_s > 0.0 &&
                                     model::solid_margin(*context.fluid, phi, s[S::kTemperature]) < 0.0);
    if (i > 0) {
      const double* q = &y[(i - 1) * kN];
      const double dr = r - problem.radii()[i - 1];
      const double dt = 0.5 * dr * (1.0 / s[S::kRadial] + 1.0 / q[S::kRadial]);
      time += dt;
      height += 0.5 * dr * (s[S::kRise] / s[S::kRadial] + q[S::kRise] / q[S::kRadial]);
      angle += 0.5 * dr * (vp / (r * s[S::kRadial]) + swirl_before);
      arc += 0.5 * dr * (local.arc_rate + before.arc_rate);
      drag_work += 0.5 * dr * (local.drag_along_N_m * local.speed * local.arc_rate / (local.momentum_flux) +
                               before.drag_along_N_m * before.speed * before.arc_rate / (before.momentum_flux)) *
                   0.5 * (local.speed + before.speed);
      const double per = 0.5 * (local.speed * local.speed / local.momentum_flux +
                                before.speed * before.speed / before.momentum_flux);
      const double dv = per * (local.viscous_force - before.viscous_force);
      (solid ? solid_work : viscous) += dv;
      elastic += per * (local.elastic_force - before.elastic_force);
      surface += per * (local.surface_force - before.surface_force);
    }
    swirl_before = vp / (r * s[S::kRadial]);
    if (solid && !was_solid) {
      jet.solidified = true;
      jet.solidification_kind =
          model::solidifies_by_crystallisation(*context.fluid, phi, s[S::kTemperature]) ? "crystallised" : "vitrified";
    }
    was_solid = solid;
    const double lab_angle = angle + context.speed_rad_s * time;
    const double lab_swirl = vp + context.speed_rad_s * r;
    const double c = std::cos(lab_angle), sn = std::sin(lab_angle);
    JetSample& sample = samples[i];
    sample.time_s = time;
    sample.solid = solid;
    sample.surface_ratio = problem.surface_share(i) * s[S::kSolvent];
    auto& state = sample.state;
    using J = model::JetState;
    state[J::kX] = r * c;
    state[J::kY] = r * sn;
    state[J::kZ] = height;
    state[J::kVx] = s[S::kRadial] * c - lab_swirl * sn;
    state[J::kVy] = s[S::kRadial] * sn + lab_swirl * c;
    state[J::kVz] = s[S::kRise];
    state[J::kSolvent] = s[S::kSolvent];
    state[J::kTemperature] = s[S::kTemperature];
    state[J::kArc] = arc;
    state[J::kDragWork] = drag_work;
    force[i] = s[S::kForce];
    stress[i] = (s[S::kForce] - local.surface_force) / local.area;
    rate[i] = local.viscous_force / local.viscous_resistance;
    largest = std::max(largest, std::abs(s[S::kForce]) / local.momentum_flux);
    before = local;
  }
  JetOptions report_options;
  report_options.keep_profile = options.keep_profile;
  report_options.breakup_threshold = options.breakup_threshold;
  report_jet(context, report_options, samples, jet);
  jet.tension_ratio = largest;
  jet.budget.viscous_J_kg = viscous;
  jet.budget.elastic_J_kg = elastic;
  jet.budget.surface_tension_J_kg = surface;
  jet.budget.solid_constraint_J_kg = solid_work;
  for (std::size_t i = 0; i < jet.profile.size(); ++i) {
    jet.profile[i].tension_N = force[i];
    jet.profile[i].axial_stress_Pa = stress[i];
    jet.profile[i].strain_rate_1_s = rate[i];
  }
}

}  // namespace

model::Jet solve_tension_jet(const model::JetContext& context, const TensionOptions& options, const model::Jet& start) {
  if (start.status != model::Status::done || !start.reached_collector) return start;
  model::Jet jet;
  jet.work = start.work;
  if (start.profile.size() < 4) {
    jet.reason = "tension: the inertial start has no profile";
    return jet;
  }
  char text[200];
  Problem problem(context, options, start);
  if (problem.nodes() < 3) {
    jet.reason = "tension: the inertial start has too few stations";
    return jet;
  }
  problem.remesh(std::max<std::size_t>(options.nodes / 2, 24));
  // Continuation in the share of the stress: from a pull well below the momentum flux to all of it.
  constexpr double kFairStart = 0.3;
  constexpr double kSmallest = 1e-9;
  const double heaviest = problem.largest_ratio();
  double share = heaviest > kFairStart ? std::max(kFairStart / heaviest, kSmallest) : 1.0;
  double reached = 0.0;
  double factor = 8.0;
  std::vector<double> good = problem.y();
  int attempts = 0;
  while (reached < 1.0) {
    ++attempts;
    problem.set_share(share);
    const auto result = settle(problem, jet.work);
    if (result.status == solver::NewtonStatus::converged) {
      reached = share;
      good = problem.y();
      factor = result.iterations <= 4 ? factor * 2.0 : factor;
      if (reached < 1.0) {
        problem.remesh(problem.nodes());
        good = problem.y();
      }
      share = std::min(1.0, share * factor);
      continue;
    }
    problem.y() = good;
    const bool exhausted = jet.work.newton_iterations > static_cast<std::size_t>(options.most_newton);
    if (reached > 0.0) {
      factor = std::sqrt(factor);
      share = std::min(1.0, reached * factor);
    } else {
      share *= 0.05;
    }
    if (exhausted || share < kSmallest || (reached > 0.0 && factor < 1.02)) {
      std::snprintf(text, sizeof text,
                    "tension: %s after %d steps of the stress continuation; %.3g of the stress reached, last step %.2g",
                    solver::to_string(result.status), attempts, reached, result.last_step);
      jet.reason = text;
      return jet;
    }
  }
  // Finer meshes until the line speed settles.
  double previous = problem.end_speed();
  double change = 0.0;
  std::size_t n = options.nodes;
  for (;;) {
    problem.remesh(n);
    const auto result = settle(problem, jet.work);
    if (result.status != solver::NewtonStatus::converged) {
      std::snprintf(text, sizeof text, "tension: %s on the mesh of %zu nodes (last step %.2g)",
                    solver::to_string(result.status), n, result.last_step);
      jet.reason = text;
      return jet;
    }
    const double now = problem.end_speed();
    change = std::abs(now / previous - 1.0);
    previous = now;
    // second order: the finer mesh is off by a third of the change
    if (options.mesh_tolerance <= 0.0 || change / 3.0 < options.mesh_tolerance || 2 * n > options.most_nodes) break;
    n *= 2;
  }
  jet.work.mesh_nodes = problem.nodes();
  report(context, options, problem, problem.y(), jet);
  if (!std::isfinite(jet.dry_diameter_m + jet.capillary_gain + jet.end_temperature_K + jet.tension_ratio)) {
    model::Jet failed;
    failed.work = jet.work;
    failed.reason = "tension: the jet's report is not finite";
    return failed;
  }
  jet.status = model::Status::done;
  jet.reached_collector = true;
  std::snprintf(text, sizeof text, "reached the collector (mesh error of the line speed about %.1e)", change / 3.0);
  jet.reason = text;
  return jet;
}

double tension_jacobian_gap(const model::JetContext& context, const TensionOptions& options, const model::Jet& start) {
  Problem problem(context, options, start);
  problem.remesh(24);
  problem.freeze_weights();
  const auto banded = problem.banded();
  const std::size_t n = banded.size;
  solver::BandMatrix jacobian(n, banded.below, banded.above);
  std::vector<double> residual(n), up(n), down(n), y = problem.y();
  jacobian.clear();
  if (!banded.evaluate(y, residual, &jacobian)) return 1.0;
  double gap = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    const double kept = y[j];
    const double step = 1e-6 * std::max(std::abs(kept), 1e-3 * banded.scale[j]);
    y[j] = kept + step;
    if (!banded.evaluate(y, up, nullptr)) return 1.0;
    y[j] = kept - step;
    if (!banded.evaluate(y, down, nullptr)) return 1.0;
    y[j] = kept;
    const std::size_t first = j > banded.above ? j - banded.above : 0;
    const std::size_t last = std::min(n - 1, j + banded.below);
    double size = 0.0, worst = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      const double difference = (up[i] - down[i]) / (2.0 * step);
      const double exact = i >= first && i <= last ? jacobian.at(i, j) : 0.0;
      size = std::max(size, std::abs(exact));
      worst = std::max(worst, std::abs(difference - exact));
    }
    gap = std::max(gap, worst / std::max(size, 1e-300));
  }
  return gap;
}

}  // namespace whorl::engine
