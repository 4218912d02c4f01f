#include "jet/tension_line.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "solver/dual.hpp"

namespace whorl::jet {
namespace {

using solver::Dual;

// van Albada's mean of two slopes: second order where they agree, zero slope at an extremum. With its derivatives by
// both.
struct Limited {
  double value{}, by_first{}, by_second{};
};
template <bool kSlopes>
Limited limited(double a, double b, double small) {
  const double a2 = a * a + small;
  const double b2 = b * b + small;
  const double per = 1.0 / (a2 + b2);
  Limited out{(a * b2 + b * a2) * per, 0.0, 0.0};
  if constexpr (kSlopes) {
    out.by_first = (b2 + 2.0 * a * b - 2.0 * a * out.value) * per;
    out.by_second = (a2 + 2.0 * a * b - 2.0 * b * out.value) * per;
  }
  return out;
}

// Time spent in a cell in which the speed runs linearly with the length, to second order in its change.
template <class Real>
Real time_in(double width, const Real& speed_before, const Real& speed_after) {
  return 2.0 * width / (speed_before + speed_after);
}

}  // namespace

// A node: speed, chains and their pull, with derivatives by ln u (pull only), ln(f c_ss) and ln c_rr.
struct Thread::Node {
  double speed{};
  model::Chains<double> chains;
  double elastic{};
  std::array<double, 2> d_along{}, d_relax_along{}, d_relax_across{};
  std::array<double, 3> d_elastic{};
};

// Speed and forces through the middle of a cell with their derivatives: to ln u of the three nodes before, at and after
// (i - 2, i - 1, i), and to the chain pull at the nodes i - 1, i, i + 1.
struct Thread::Face {
  double carried{}, viscous{}, elastic{}, surface{};
  std::array<double, 3> d_carried{}, d_force{};  ///< by ln u
  std::array<double, 3> d_elastic{};             ///< by chain pull
};

Thread::~Thread() = default;

Thread::Thread(const ThreadProblem& problem) : problem_(problem) {
  const std::size_t n = problem.station.size();
  width_.assign(n, 0.0);
  weight_.assign(n, 1.0);
  for (std::size_t i = 1; i < n; ++i) width_[i] = problem.station[i].arc_m - problem.station[i - 1].arc_m;
}

void Thread::set_weights(const ThreadState& state) {
  if (!problem_.second_order) {
    std::fill(weight_.begin(), weight_.end(), 1.0);
    return;
  }
  const double limit = problem_.law.extensibility;
  // By which the chains of a node relax, at most [1/s].
  const auto rate_of = [&](std::size_t k) {
    const auto chain = model::chains(problem_.law, state.pull[k], state.waist[k]);
    const double along = std::exp(chain.log_along);
    double stiff = 1.0 / along;
    if (problem_.law.model == model::PolymerModel::fene_p) {
      const double f = std::exp(state.pull[k]) / along;
      stiff += f * f * along / (limit - 3.0);
    } else if (problem_.law.model == model::PolymerModel::giesekus) {
      stiff += problem_.law.mobility * along;
    }
    const double across = std::exp(-state.waist[k]);
    return std::max({1.0, stiff, across}) / problem_.station[k].relaxation_s;
  };
  double ua = std::exp(state.log_speed[0]), rate_a = rate_of(0);
  for (std::size_t i = 1; i < weight_.size(); ++i) {
    const double ub = std::exp(state.log_speed[i]), rate_b = rate_of(i);
    weight_[i] = solver::fitted_weight(time_in(width_[i], ua, ub) * std::max(rate_a, rate_b));
    ua = ub;
    rate_a = rate_b;
  }
}

bool Thread::cell_chains(std::size_t i, ThreadState& state) const {
  const auto& law = problem_.law;
  const auto before = model::chains(law, state.pull[i - 1], state.waist[i - 1]);
  const double ua = std::exp(state.log_speed[i - 1]);
  const double ub = std::exp(state.log_speed[i]);
  const double dt = time_in(width_[i], ua, ub);
  const double strain = state.log_speed[i] - state.log_speed[i - 1];
  const double w = weight_[i];
  const double ka = (1.0 - w) * dt / problem_.station[i - 1].relaxation_s;
  const double kb = w * dt / problem_.station[i].relaxation_s;
  const double along = before.log_along + 2.0 * strain + ka * before.relax_along;
  const double across = state.waist[i - 1] - strain + ka * before.relax_across;
  using D = Dual<2>;
  double p = std::clamp(state.pull[i], -50.0, 100.0);
  double q = std::clamp(state.waist[i], -50.0, 5.0);
  if (law.model == model::PolymerModel::fene_p) q = std::min(q, std::log(0.45 * law.extensibility));
  for (int round = 0; round < 200; ++round) {
    const auto chain = model::chains(law, D::independent(p, 0), D::independent(q, 1));
    const D f = chain.log_along - along - kb * chain.relax_along;
    const D g = D::independent(q, 1) - across - kb * chain.relax_across;
    const double det = f.slope[0] * g.slope[1] - f.slope[1] * g.slope[0];
    double dp = -(f.value * g.slope[1] - g.value * f.slope[1]) / det;
    double dq = -(g.value * f.slope[0] - f.value * g.slope[0]) / det;
    if (!std::isfinite(dp) || !std::isfinite(dq)) return false;
    const double size = std::max(std::abs(dp), std::abs(dq));
    if (size > 2.0) {
      dp *= 2.0 / size;
      dq *= 2.0 / size;
    }
    p += dp;
    q += dq;
    if (law.model == model::PolymerModel::fene_p) q = std::min(q, std::log(0.49 * law.extensibility));
    if (size < 1e-13 * (1.0 + std::abs(p))) break;
    if (!(std::abs(p) < 300.0) || !(std::abs(q) < 300.0)) return false;
  }
  state.pull[i] = p;
  state.waist[i] = q;
  return true;
}

bool Thread::relax_chains(ThreadState& state) const {
  for (std::size_t i = 1; i <= cells(); ++i) {
    if (!cell_chains(i, state)) return false;
  }
  return true;
}

template <bool kSlopes>
void Thread::look(const ThreadState& state, std::vector<Node>& out) const {
  out.resize(cells() + 1);
  for (std::size_t i = 0; i <= cells(); ++i) {
    Node& node = out[i];
    const model::ThreadStation& at = problem_.station[i];
    node.speed = std::exp(state.log_speed[i]);
    const double per_stretch = model::thread_area(at, node.speed) * at.modulus_Pa;
    if constexpr (kSlopes) {
      using D = Dual<2>;
      const auto c = model::chains(problem_.law, D::independent(state.pull[i], 0), D::independent(state.waist[i], 1));
      node.chains = {c.log_along.value, c.relax_along.value, c.relax_across.value, c.stretch.value};
      node.d_along = c.log_along.slope;
      node.d_relax_along = c.relax_along.slope;
      node.d_relax_across = c.relax_across.slope;
      node.elastic = per_stretch * c.stretch.value;
      node.d_elastic = {-node.elastic, per_stretch * c.stretch.slope[0], per_stretch * c.stretch.slope[1]};
    } else {
      node.chains = model::chains(problem_.law, state.pull[i], state.waist[i]);
      node.elastic = per_stretch * node.chains.stretch;
    }
  }
}

double Thread::time_in_cell(std::size_t i, const std::vector<Node>& node) const {
  return time_in(width_[i], node[i - 1].speed, node[i].speed);
}

void Thread::chain_balances(const ThreadState& state, const std::vector<Node>& node, std::vector<double>& row) const {
  row.resize(2 * cells());
  for (std::size_t i = 1; i <= cells(); ++i) {
    const auto& a = node[i - 1].chains;
    const auto& b = node[i].chains;
    const double dt = time_in_cell(i, node);
    const double strain = state.log_speed[i] - state.log_speed[i - 1];
    const double ka = (1.0 - weight_[i]) * dt / problem_.station[i - 1].relaxation_s;
    const double kb = weight_[i] * dt / problem_.station[i].relaxation_s;
    row[2 * (i - 1)] = b.log_along - a.log_along - 2.0 * strain - ka * a.relax_along - kb * b.relax_along;
    row[2 * i - 1] = state.waist[i] - state.waist[i - 1] + strain - ka * a.relax_across - kb * b.relax_across;
  }
}

void Thread::chain_residual(const ThreadState& state, std::vector<double>& row) const {
  look<false>(state, node_);
  chain_balances(state, node_, row);
}

template <bool kSlopes>
void Thread::faces(const ThreadState& state, const std::vector<Node>& node, std::vector<Face>& out) const {
  const std::size_t n = cells();
  out.resize(n + 1);
  const auto& y = state.log_speed;
  constexpr double kFlat = 1e-8;  // change of ln u per cell below which the limiter no longer distinguishes
  for (std::size_t i = 1; i <= n; ++i) {
    Face& face = out[i];
    const double h = width_[i];
    const double per_h = 1.0 / h;
    const double after = (y[i] - y[i - 1]) * per_h;
    double middle = y[i - 1];
    std::array<double, 3> d_middle{0.0, 1.0, 0.0};  // by ln u of i - 2, i - 1, i; of the given node 0 they are not used
    if (problem_.second_order) {
      const double per_before = i >= 2 ? 1.0 / width_[i - 1] : 0.0;
      const double before = i >= 2 ? (y[i - 1] - y[i - 2]) * per_before : after;
      const Limited l = limited<kSlopes>(before, after, (kFlat * per_h) * (kFlat * per_h));
      middle += 0.5 * h * l.value;
      if constexpr (kSlopes) {
        if (i >= 2) {
          d_middle = {-0.5 * h * l.by_first * per_before, 1.0 + 0.5 * h * l.by_first * per_before - 0.5 * l.by_second,
                      0.5 * l.by_second};
        } else {
          d_middle = {0.0, 0.0, 0.5 * (l.by_first + l.by_second)};
        }
      }
    }
    face.carried = std::exp(middle);
    const auto& a = problem_.station[i - 1];
    const auto& b = problem_.station[i];
    const double sigma = 0.5 * (a.surface_tension_N_m + b.surface_tension_N_m);
    const double volume = 0.5 * (a.flow_kg_s / a.density_kg_m3 + b.flow_kg_s / b.density_kg_m3);
    face.surface = sigma * std::sqrt(model::kPi * volume / face.carried);
    const double eta = 0.5 * (a.viscosity_Pa_s + b.viscosity_Pa_s);
    // 3 eta A du/ds = 3 eta (V/u) du/ds
    const double per_slope = 3.0 * eta * volume;
    face.viscous = per_slope * after;
    const double smooth = problem_.smoothing;
    const double flux = smooth > 0.0 ? smooth * b.flow_kg_s * std::exp(0.5 * (y[i] + y[i - 1])) : 0.0;
    if (smooth > 0.0) face.viscous += (flux + smooth * std::abs(node[i].elastic)) * (y[i] - y[i - 1]);
    // chain pull, from the downstream side
    const double ca = node[i - 1].elastic;
    const double cb = node[i].elastic;
    face.elastic = cb;
    if constexpr (kSlopes) face.d_elastic = {0.0, 1.0, 0.0};
    if (problem_.second_order) {
      const double slope = (cb - ca) * per_h;
      const double per_next = i < n ? 1.0 / width_[i + 1] : 0.0;
      const double next = i < n ? (node[i + 1].elastic - cb) * per_next : slope;
      const double small = kFlat * std::abs(cb) * per_h + 1e-30;
      const Limited l = limited<kSlopes>(slope, next, small * small);
      const double reach = (1.0 - weight_[i]) * h;
      face.elastic -= reach * l.value;
      if constexpr (kSlopes) {
        const double first = i < n ? l.by_first : l.by_first + l.by_second;
        const double second = i < n ? l.by_second : 0.0;
        face.d_elastic = {reach * first * per_h, 1.0 - reach * (first * per_h - second * per_next),
                          -reach * second * per_next};
      }
    }
    if constexpr (kSlopes) {
      for (std::size_t k = 0; k < 3; ++k) {
        face.d_carried[k] = face.carried * d_middle[k];
        face.d_force[k] = -0.5 * face.surface * d_middle[k];
      }
      double stiff = per_slope * per_h;
      if (smooth > 0.0) {
        stiff += flux + smooth * std::abs(cb);
        const double both = 0.5 * flux * (y[i] - y[i - 1]);
        face.d_force[1] += both;
        face.d_force[2] += both;
        face.d_elastic[1] += smooth * (cb < 0.0 ? -1.0 : 1.0) * (y[i] - y[i - 1]);
      }
      face.d_force[1] -= stiff;
      face.d_force[2] += stiff;
    }
  }
}

template <class Real>
Real Thread::source(std::size_t i, const Real& speed) const {
  const auto& at = problem_.station[i];
  const double w = 0.5 * (width_[i] + (i < cells() ? width_[i + 1] : 0.0));
  return w * (at.flow_kg_s * at.push_m_s2 / speed + model::thread_drag(*problem_.air, at, speed));
}

void Thread::balances(const ThreadState& state, const std::vector<Node>& node, std::vector<double>& row,
                      std::vector<double>* scale) const {
  const std::size_t n = cells();
  faces<false>(state, node, face_);
  row.resize(n);
  if (scale != nullptr) scale->resize(n);
  for (std::size_t i = 1; i <= n; ++i) {
    const double u = node[i].speed;
    const double m = problem_.station[i].flow_kg_s;
    const Face& a = face_[i];
    double size = m * u + std::abs(a.viscous) + std::abs(a.elastic) + std::abs(a.surface);
    if (i < n) {
      const Face& b = face_[i + 1];
      row[i - 1] = m * (b.carried - a.carried) - source(i, u) -
                   (b.viscous + b.elastic + b.surface - a.viscous - a.elastic - a.surface);
    } else if (problem_.end.taken_up) {
      row[i - 1] = state.log_speed[i] - std::log(problem_.end.take_up_speed_m_s);
      size = 1.0;
    } else {
      const double end = model::end_pull(problem_.end, problem_.station[n], u);
      row[i - 1] = m * (u - a.carried) - source(i, u) - (end - a.viscous - a.elastic - a.surface);
      size += std::abs(end);
    }
    if (scale != nullptr) (*scale)[i - 1] = size;
  }
}

void Thread::residual(const ThreadState& state, std::vector<double>& row, std::vector<double>* scale) const {
  look<false>(state, node_);
  balances(state, node_, row, scale);
}

void Thread::jacobian(const ThreadState& state, const std::vector<double>& scale, solver::BandMatrix& matrix,
                      std::vector<double>* chain_scale) const {
  const std::size_t n = cells();
  matrix.clear();
  look<true>(state, node_);
  faces<true>(state, node_, face_);
  const auto add_speed = [&](std::size_t row, std::size_t node, double v) {
    if (node >= 1 && node <= n && v != 0.0) matrix.at(row, 3 * (node - 1)) += v;
  };
  const auto add_chain = [&](std::size_t row, std::size_t node, double v) {
    if (node < 1 || node > n || v == 0.0) return;
    for (std::size_t k = 0; k < 3; ++k) matrix.at(row, 3 * (node - 1) + k) += v * node_[node].d_elastic[k];
  };
  for (std::size_t i = 1; i <= n; ++i) {
    const std::size_t row = 3 * (i - 1);
    const auto& at = problem_.station[i];
    const Node& a = node_[i - 1];
    const Node& b = node_[i];
    using D1 = Dual<1>;
    D1 speed(b.speed);
    speed.slope[0] = b.speed;  // by ln u
    const double m = at.flow_kg_s;
    const double per = 1.0 / scale[i - 1];
    // a face as seen from this node, times factor; node0 = i - 2 of the face
    const auto add_face = [&](std::size_t f, double by) {
      for (std::size_t k = 0; k < 3; ++k) {
        if (f + k < 2) continue;
        add_speed(row, f + k - 2, by * per * (m * face_[f].d_carried[k] - face_[f].d_force[k]));
        add_chain(row, f + k - 1, -by * per * face_[f].d_elastic[k]);
      }
    };
    if (i == n && problem_.end.taken_up) {
      matrix.at(row, row) += 1.0;
    } else {
      add_face(i, -1.0);
      add_speed(row, i, -per * source(i, speed).slope[0]);
      if (i < n) {
        add_face(i + 1, 1.0);
      } else {
        add_speed(row, i, per * (m * b.speed - model::end_pull(problem_.end, at, speed).slope[0]));
      }
    }
    // chains of cell i:  b - a - 2 (yb - ya) - dt (ka ra + kb rb),  and across with + (yb - ya)
    const double dt = time_in_cell(i, node_);
    const double ka = (1.0 - weight_[i]) / problem_.station[i - 1].relaxation_s;
    const double kb = weight_[i] / at.relaxation_s;
    const double share = dt / (2.0 * width_[i]);
    const double dta = -dt * share * a.speed;  // dt by ln u
    const double dtb = -dt * share * b.speed;
    const double relaxed_along = ka * a.chains.relax_along + kb * b.chains.relax_along;
    const double relaxed_across = ka * a.chains.relax_across + kb * b.chains.relax_across;
    std::array<double, 6> along{2.0 - dta * relaxed_along,
                                -a.d_along[0] - dt * ka * a.d_relax_along[0],
                                -a.d_along[1] - dt * ka * a.d_relax_along[1],
                                -2.0 - dtb * relaxed_along,
                                b.d_along[0] - dt * kb * b.d_relax_along[0],
                                b.d_along[1] - dt * kb * b.d_relax_along[1]};
    std::array<double, 6> across{-1.0 - dta * relaxed_across,          -dt * ka * a.d_relax_across[0],
                                 -1.0 - dt * ka * a.d_relax_across[1], 1.0 - dtb * relaxed_across,
                                 -dt * kb * b.d_relax_across[0],       1.0 - dt * kb * b.d_relax_across[1]};
    const double la = 1.0 / (1.0 + std::abs(along[4]));
    const double lb = 1.0 / (1.0 + std::abs(across[5]));
    if (chain_scale != nullptr) {
      (*chain_scale)[2 * (i - 1)] = la;
      (*chain_scale)[2 * i - 1] = lb;
    }
    for (std::size_t k = 0; k < 3; ++k) {
      if (i > 1) {
        matrix.at(row + 1, row - 3 + k) += la * along[k];
        matrix.at(row + 2, row - 3 + k) += lb * across[k];
      }
      matrix.at(row + 1, row + k) += la * along[3 + k];
      matrix.at(row + 2, row + k) += lb * across[3 + k];
    }
  }
}

void Thread::look_at(const ThreadState& state, std::vector<double>& row, std::vector<double>& scale,
                     std::vector<double>& chain) const {
  look<false>(state, node_);
  balances(state, node_, row, &scale);
  chain_balances(state, node_, chain);
}

std::vector<ThreadForces> Thread::forces(const ThreadState& state) const {
  look<false>(state, node_);
  faces<false>(state, node_, face_);
  std::vector<ThreadForces> out(face_.size());
  for (std::size_t i = 1; i < face_.size(); ++i)
    out[i] = {face_[i].carried, face_[i].viscous, face_[i].elastic, face_[i].surface};
  return out;
}

}  // namespace whorl::jet
