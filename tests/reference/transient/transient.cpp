// Source: equations of docs/theory/07-transient.md, named function by function in the header.
#include "reference/transient/transient.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <utility>

#include "reference/transient/thread_elements.hpp"
#include "solver/dual.hpp"

namespace whorl::reference {
namespace {

using Z = ThreadState;
constexpr std::size_t kZ = Z::kSize;
constexpr std::size_t kEnds = 6;  // velocities of both ends
using Dual = solver::Dual<kEnds + kZ>;
using Vec3 = Eigen::Vector3d;
using Vec4 = Eigen::Vector4d;
using Mat3 = Eigen::Matrix3d;
using Vec6 = Eigen::Matrix<double, 6, 1>;

// Alexander's two-stage rule: stiffly accurate, L-stable, order 2. Its own lower rule is a first-order one.
constexpr double kGamma = 0.29289321881345254;  // 1 - 1/sqrt(2)

constexpr double kSteadyThroughput = 0.05;  // between what is fed and what crosses the collector radius
constexpr double kLeastShare = 0.02;  // of a cut element, so that no mass vanishes

double plain(double x) { return x; }
double plain(const Dual& x) { return x.value; }

double free_flight_time(const model::JetContext& c) {
  const double u = c.exit_speed_m_s;
  const double swirl = c.speed_rad_s * c.outer_radius_m;
  const double w2 = u * u + swirl * swirl;
  const double b = u * c.outer_radius_m;
  return (-b + std::sqrt(b * b + w2 * (c.collector_radius_m * c.collector_radius_m - c.outer_radius_m * c.outer_radius_m))) / w2;
}

// How one element's mass and forces are shared between its ends. Constant during a step.
struct Share {
  double stress{1.0};            // of the element inside the collector
  double inner{0.5}, outer{0.5};  // of its mass and drag
  double pull_inner{}, pull_outer{};  // of the surface part at the cut
};

struct Totals {
  Vec3 force{Vec3::Zero()};
  double evaporated{}, heat{};
};

// Momentum balance of the nodes and balances of the elements, one implicit stage at a time.
class Thread {
 public:
  Thread(const model::JetContext& context, const TransientOptions& options) : context_(context), options_(options) {
    setting_.jet = &context_;
    setting_.law.model = options.polymer;
    setting_.law.mobility = options.mobility;
    setting_.law.extensibility = options.extensibility > 0.0 ? options.extensibility : context.fluid->extensibility;
    const model::Fluid& fluid = *context.fluid;
    speed_ = context.exit_speed_m_s + context.speed_rad_s * context.collector_radius_m + options.take_up_speed_m_s;
    // resists stretching a thousand times more than inertia over the flight can ask for
    if (model::solid_margin(fluid, fluid.initial.polymer_volume_fraction, fluid.charge_temperature_K) > 0.0) {
      setting_.solid_viscosity_Pa_s = 1e3 * fluid.polymer_density_kg_m3 * speed_ * context.collector_radius_m / 3.0;
    }
    flight_ = free_flight_time(context);
    interval_ = flight_ / options.elements;
    setting_.element_polymer_kg = context.polymer_flow_kg_s * interval_;
    inlet_ = {fluid.initial.solvent_ratio, fluid.charge_temperature_K, 0.0, 0.0};
    const double cap = fluid.polymer_heat_capacity + inlet_[0] * fluid.solvent_heat_capacity;
    scale_ = {setting_.element_polymer_kg * inlet_[0], setting_.element_polymer_kg * cap * 100.0, 1.0, 1.0};
    // The tip: half an element's mass is there at the start.
    release(0.0);
    fed_ = 0.0;
    seed_ = 0.05 * setting_.element_polymer_kg * (1.0 + inlet_[0]);
    entered_ = 0.0;
  }

  [[nodiscard]] std::size_t nodes() const { return x_.size(); }
  [[nodiscard]] double time() const { return time_; }
  [[nodiscard]] double interval() const { return interval_; }
  [[nodiscard]] double flight() const { return flight_; }

  Vec3 orifice(double t) const {
    const double a = context_.speed_rad_s * t;
    return context_.outer_radius_m * Vec3(std::cos(a), std::sin(a), 0.0);
  }
  Vec3 orifice_velocity(double t) const {
    const double a = context_.speed_rad_s * t;
    return context_.speed_rad_s * context_.outer_radius_m * Vec3(-std::sin(a), std::cos(a), 0.0);
  }
  Vec3 exit_velocity(double t) const {
    const double a = context_.speed_rad_s * t;
    return orifice_velocity(t) + context_.exit_speed_m_s * Vec3(std::cos(a), std::sin(a), 0.0);
  }

  // A full element has been fed: its inner end becomes a node that moves with the fluid.
  void release(double born) {
    x_.insert(x_.begin(), orifice(time_));
    v_.insert(v_.begin(), exit_velocity(time_));
    born_.insert(born_.begin(), born);
    if (!z_.empty()) polymer_.front() = setting_.element_polymer_kg;
    z_.insert(z_.begin(), inlet_);
    polymer_.insert(polymer_.begin(), 0.0);
    fed_ = 0.0;
  }

  // Takes off what has left. Returns false when nothing is left.
  bool remove() {
    if (options_.end == model::JetEnd::taken_up) return land();
    std::size_t first = 0;
    while (first < nodes() && radius(first) < context_.collector_radius_m) ++first;
    if (first < nodes()) seed_ = 0.0;
    while (nodes() > first + 1) drop_last();
    return first > 0;
  }

  [[nodiscard]] double radius(std::size_t i) const { return std::hypot(x_[i][0], x_[i][1]); }
  [[nodiscard]] bool reached() const {
    return nodes() >= 2 && (landed_ || radius(nodes() - 1) >= context_.collector_radius_m);
  }
  // Longest step that does not run past the take-up.
  [[nodiscard]] double longest_step() const {
    if (options_.end != model::JetEnd::taken_up) return 1e300;
    const std::size_t last = free_nodes() - 1;
    const double room = context_.collector_radius_m - x_[last][0];
    return std::max(0.98 * room / std::max(v_[last][0], options_.take_up_speed_m_s), 1e-9 * flight_);
  }

  enum class Step { good, newton, large };
  Step step(double h, double& error);

  [[nodiscard]] TransientSample sample() const;
  void shape(TransientJet& jet) const;
  [[nodiscard]] model::Balances balances() const;
  [[nodiscard]] double age_at_collector() const { return landed_ || nodes() < 2 ? time_ - born_.back() : time_ - born_[nodes() - 2]; }
  std::size_t newton_{}, evaluations_{};
  double jacobian_gap();

 private:
  [[nodiscard]] std::size_t free_nodes() const { return nodes() - (landed_ ? 1 : 0); }

  void drop_last() {
    left_polymer_ += polymer_.back();
    left_solvent_ += polymer_.back() * z_.back()[Z::kSolvent];
    const model::Fluid& f = *context_.fluid;
    left_heat_ += polymer_.back() * (f.polymer_heat_capacity + z_.back()[Z::kSolvent] * f.solvent_heat_capacity) *
                  (z_.back()[Z::kTemperature] - f.charge_temperature_K);
    x_.pop_back();
    v_.pop_back();
    z_.pop_back();
    polymer_.pop_back();
    born_.pop_back();
  }

  // Take-up: the node that arrives goes on at the take-up speed.
  bool land() {
    const std::size_t last = free_nodes() - 1;
    const double room = context_.collector_radius_m - x_[last][0];
    const double size = landed_ ? std::max(room + beyond_, 0.0) : interval_ * context_.exit_speed_m_s;
    if (room > 0.03 * size && room > 0.0) return true;
    if (landed_) drop_last();
    landed_ = true;
    seed_ = 0.0;
    beyond_ = std::max(-room, 0.0);
    v_.back() = Vec3(options_.take_up_speed_m_s, 0.0, 0.0);
    return nodes() > 1;
  }

  [[nodiscard]] std::vector<Share> shares(double ahead) const {
    std::vector<Share> out(nodes());
    if (options_.end == model::JetEnd::taken_up) {
      if (!landed_) out.back().pull_outer = 1.0;
      return out;
    }
    const double rc = context_.collector_radius_m;
    double inner = context_.outer_radius_m;
    bool cut = false;
    for (std::size_t e = 0; e < nodes(); ++e) {
      const Vec3 p = x_[e] + ahead * v_[e];
      const double outer = std::hypot(p[0], p[1]);
      if (!cut && outer <= rc) {
        inner = outer;
        if (e + 1 == nodes()) out[e].pull_outer = 1.0;
        continue;
      }
      // the first crossing, seen from the orifice; what is beyond is as good as gone
      const double inside = cut ? 0.0 : std::clamp((rc - inner) / (outer - inner), 0.0, 1.0);
      Share& s = out[e];
      if (!cut) {
        s.pull_inner = 1.0 - inside;
        s.pull_outer = inside;
      }
      cut = true;
      s.stress = std::max(inside, kLeastShare);
      s.inner = s.stress - 0.5 * s.stress * s.stress;
      s.outer = 0.5 * s.stress * s.stress;
    }
    return out;
  }

  ThreadInput input(std::size_t e, double polymer_fed) const {
    ThreadInput in;
    in.polymer_kg = polymer_[e];
    if (e == 0) {
      in.piece = ThreadPiece::fed;
      in.polymer_kg = polymer_fed;
      in.polymer_inflow_kg_s = context_.polymer_flow_kg_s;
      in.end_speed_m_s = context_.exit_speed_m_s;
    } else if (landed_ && e + 1 == nodes()) {
      in.piece = ThreadPiece::taken;
      in.end_speed_m_s = options_.take_up_speed_m_s;
    }
    return in;
  }

  // Everything one element gives: its own balances and what it does to the momentum of its ends.
  template <class Real>
  struct Part {
    ThreadElement<Real> element;
    std::array<std::array<Real, 3>, 2> stored, gain;  // momentum, [inner, outer]
    Vec3 outside{Vec3::Zero()};                       // forces on it that are not from a neighbour
  };
  template <class Real>
  Part<Real> part(std::size_t e, double polymer_fed, double beyond, const Share& share,
                  const std::array<Real, 3>& xa, const std::array<Real, 3>& va, const std::array<Real, 3>& xb,
                  const std::array<Real, 3>& vb, const std::array<Real, kZ>& z) const {
    Part<Real> p;
    ThreadInput in = input(e, polymer_fed);
    if (in.piece == ThreadPiece::taken) in.length_beyond_m = beyond;
    p.element = thread_element<Real>(setting_, in, xa, va, xb, vb, z);
    const auto& el = p.element;
    const Real mass = in.polymer_kg * (1.0 + z[Z::kSolvent]);
    const Real growth = in.polymer_inflow_kg_s + el.gain[Z::kSolvent];
    std::array<Real, 3> ta = el.direction, tb = el.direction;
    if (options_.pull_along_only) {
      if (e > 0) ta = course(xa, va);
      tb = course(xb, vb);
    }
    for (std::size_t k = 0; k < 3; ++k) {
      const double weight = k == 2 ? -context_.gravity_m_s2 : 0.0;
      p.stored[0][k] = share.inner * mass * va[k];
      p.stored[1][k] = share.outer * mass * vb[k];
      const Real air_a = share.inner * el.drag[k], air_b = share.outer * el.drag[k];
      const Real heavy = mass * weight;
      const Real pull_a = (share.stress * el.force + share.pull_inner * el.surface_force) * ta[k];
      const Real pull_b = (share.pull_outer * el.surface_force - share.stress * el.force) * tb[k];
      p.gain[0][k] = pull_a + air_a + share.inner * (heavy + growth * va[k]);
      p.gain[1][k] = pull_b + air_b + share.outer * (heavy + growth * vb[k]);
      const auto i = static_cast<Eigen::Index>(k);
      // every force but those between neighbours; growth brings momentum of its own
      const bool first = e == 0, last = landed_ && e + 1 == nodes();
      if (!first) p.outside[i] += plain(air_a) + share.inner * (plain(heavy) + plain(growth) * plain(va[k]));
      if (!last) p.outside[i] += plain(air_b) + share.outer * (plain(heavy) + plain(growth) * plain(vb[k]));
      p.outside[i] += share.pull_inner * plain(el.surface_force) * plain(ta[k]) +
                      share.pull_outer * plain(el.surface_force) * plain(tb[k]);
      const double through = share.stress * plain(el.force);
      if (first) p.outside[i] -= through * plain(tb[k]);
      if (last) p.outside[i] += through * plain(ta[k]);
      if (options_.pull_along_only && !first && !last) p.outside[i] += through * (plain(ta[k]) - plain(tb[k]));
    }
    return p;
  }

  // Direction of the velocity relative to the vessel.
  template <class Real>
  std::array<Real, 3> course(const std::array<Real, 3>& x, const std::array<Real, 3>& v) const {
    using std::sqrt;
    const Real a = v[0] + context_.speed_rad_s * x[1];
    const Real b = v[1] - context_.speed_rad_s * x[0];
    const Real per = 1.0 / sqrt(a * a + b * b + v[2] * v[2] + 1e-12);
    return {a * per, b * per, v[2] * per};
  }

  struct Stage {
    std::vector<Vec3> v, x, momentum_rate;
    std::vector<Vec4> z, rate;
    Totals totals;
  };
  bool solve_stage(double t, double fed, double beyond, double hg, const std::vector<Share>& share,
                   const std::vector<Vec3>& x_before, const std::vector<Vec3>& p_before, const std::vector<Vec4>& g_before,
                   Stage& stage);
  template <class Real>
  Part<Real> evaluate(std::size_t e, double t, double fed, double beyond, double hg, const Share& share,
                      const std::vector<Vec3>& x_before, const std::vector<Vec3>& v, const std::vector<Vec4>& z) const;
  Vec3 seed_force() const { return seed_ * Vec3(0.0, 0.0, -context_.gravity_m_s2); }
  double scale(std::size_t e, Eigen::Index k, double fed) const {
    if (e == 0 && k >= 2) return std::max(fed / setting_.element_polymer_kg, 1e-300);
    return e == 0 ? scale_[k] * std::max(fed / setting_.element_polymer_kg, 1e-300) : scale_[k];
  }

  model::JetContext context_;
  TransientOptions options_;
  ThreadSetting setting_;
  double speed_{}, flight_{}, interval_{};
  Vec4 inlet_, scale_;

  double time_{}, fed_{}, seed_{}, beyond_{};
  bool landed_{};
  std::vector<Vec3> x_, v_;   // nodes, from the newest
  std::vector<double> born_;  // when each node left
  std::vector<Vec4> z_;       // element e: between node e - 1 (0: the orifice) and node e
  std::vector<double> polymer_;

  // books
  double entered_{}, left_polymer_{}, left_solvent_{}, left_heat_{}, evaporated_{}, heat_{};
  Vec3 momentum_gap_{Vec3::Zero()};
  double momentum_moved_{};
};

template <class Real>
Thread::Part<Real> Thread::evaluate(std::size_t e, double t, double fed, double beyond, double hg, const Share& share,
                                    const std::vector<Vec3>& x_before, const std::vector<Vec3>& v,
                                    const std::vector<Vec4>& z) const {
  std::array<Real, 3> xa, va, xb, vb;
  std::array<Real, kZ> zz;
  const bool fixed_end = landed_ && e + 1 == nodes();
  const Vec3 x0 = e == 0 ? orifice(t) : x_before[e - 1];
  const Vec3 v0 = e == 0 ? orifice_velocity(t) : v[e - 1];
  for (std::size_t k = 0; k < 3; ++k) {
    const auto i = static_cast<Eigen::Index>(k);
    if constexpr (std::is_same_v<Real, Dual>) {
      va[k] = e == 0 ? Dual(v0[i]) : Dual::independent(v0[i], k);
      vb[k] = fixed_end ? Dual(0.0) : Dual::independent(v[e][i], 3 + k);
    } else {
      va[k] = v0[i];
      vb[k] = fixed_end ? 0.0 : v[e][i];
    }
    xa[k] = e == 0 ? Real(x0[i]) : Real(x0[i] + hg * va[k]);
    xb[k] = fixed_end ? Real(k == 0 ? context_.collector_radius_m : 0.0) : Real(x_before[e][i] + hg * vb[k]);
  }
  for (std::size_t k = 0; k < kZ; ++k) {
    const double value = z[e][static_cast<Eigen::Index>(k)];
    if constexpr (std::is_same_v<Real, Dual>) {
      zz[k] = Dual::independent(value, kEnds + k);
    } else {
      zz[k] = value;
    }
  }
  return part<Real>(e, fed, beyond, share, xa, va, xb, vb, zz);
}

// Newton on one stage: unknowns of each element are eliminated, what remains couples neighbouring nodes only.
bool Thread::solve_stage(double t, double fed, double beyond, double hg, const std::vector<Share>& share,
                         const std::vector<Vec3>& x_before, const std::vector<Vec3>& p_before,
                         const std::vector<Vec4>& g_before, Stage& stage) {
  const std::size_t n = free_nodes();
  const std::size_t elements = nodes();
  std::vector<Mat3> diagonal(n), lower(n), upper(n);
  std::vector<Vec3> right(n), dv(elements, Vec3::Zero());
  struct Local {
    Eigen::Matrix4d inverse;
    Eigen::Matrix<double, 4, 6> by_ends;
    Vec4 residual;
  };
  std::vector<Local> local(elements);
  std::vector<Vec4> dz(elements);
  std::vector<Vec3>& v = stage.v;
  std::vector<Vec4>& z = stage.z;
  constexpr int kMost = 30;
  bool converged = false;
  for (int iteration = 0; iteration < kMost && !converged; ++iteration) {
    ++newton_;
    for (std::size_t i = 0; i < n; ++i) {
      diagonal[i].setZero();
      lower[i].setZero();
      upper[i].setZero();
      right[i] = p_before[i];
    }
    if (seed_ > 0.0) {
      diagonal[n - 1] += seed_ * Mat3::Identity();
      right[n - 1] += hg * seed_force() - seed_ * v[n - 1];
    }
    double check = 0.0;
    for (std::size_t e = 0; e < elements; ++e) {
      ++evaluations_;
      const Part<Dual> p = evaluate<Dual>(e, t, fed, beyond, hg, share[e], x_before, v, z);
      Local& l = local[e];
      Eigen::Matrix4d own;
      for (Eigen::Index k = 0; k < 4; ++k) {
        const auto kk = static_cast<std::size_t>(k);
        const Dual r = p.element.stored[kk] - hg * p.element.gain[kk];
        const double s = 1.0 / scale(e, k, fed);
        l.residual[k] = s * (r.value - g_before[e][k]);
        for (std::size_t j = 0; j < kEnds; ++j) l.by_ends(k, static_cast<Eigen::Index>(j)) = s * r.slope[j];
        for (std::size_t j = 0; j < kZ; ++j) own(k, static_cast<Eigen::Index>(j)) = s * r.slope[kEnds + j];
      }
      Vec6 residual;
      Eigen::Matrix<double, 6, 6> by_ends;
      Eigen::Matrix<double, 6, 4> by_own;
      for (std::size_t side = 0; side < 2; ++side) {
        for (std::size_t k = 0; k < 3; ++k) {
          const Dual r = p.stored[side][k] - hg * p.gain[side][k];
          const auto row = static_cast<Eigen::Index>(3 * side + k);
          residual[row] = r.value;
          for (std::size_t j = 0; j < kEnds; ++j) by_ends(row, static_cast<Eigen::Index>(j)) = r.slope[j];
          for (std::size_t j = 0; j < kZ; ++j) by_own(row, static_cast<Eigen::Index>(j)) = r.slope[kEnds + j];
        }
      }
      l.inverse = own.inverse();
      const Eigen::Matrix<double, 6, 4> reach = by_own * l.inverse;
      by_ends -= reach * l.by_ends;
      residual -= reach * l.residual;
      check += residual.sum() * 0.0 + by_ends.sum() * 0.0;
      if (e > 0 && e - 1 < n) {
        diagonal[e - 1] += by_ends.topLeftCorner<3, 3>();
        right[e - 1] -= residual.head<3>();
        if (e < n) upper[e - 1] += by_ends.topRightCorner<3, 3>();
      }
      if (e < n) {
        diagonal[e] += by_ends.bottomRightCorner<3, 3>();
        right[e] -= residual.tail<3>();
        if (e > 0) lower[e] += by_ends.bottomLeftCorner<3, 3>();
      }
    }
    if (!(check == 0.0)) return false;
    // block elimination
    for (std::size_t i = 0; i < n; ++i) {
      if (i > 0) {
        const Mat3 factor = lower[i] * diagonal[i - 1].inverse();
        diagonal[i] -= factor * upper[i - 1];
        right[i] -= factor * right[i - 1];
      }
    }
    for (std::size_t i = n; i-- > 0;) {
      Vec3 r = right[i];
      if (i + 1 < n) r -= upper[i] * dv[i + 1];
      dv[i] = diagonal[i].partialPivLu().solve(r);
    }
    double size = 0.0, damping = 1.0;
    for (std::size_t e = 0; e < elements; ++e) {
      Vec6 ends;
      ends.head<3>() = e > 0 ? dv[e - 1] : Vec3::Zero();
      ends.tail<3>() = e < n ? dv[e] : Vec3::Zero();
      const Local& l = local[e];
      dz[e] = -l.inverse * (l.residual + l.by_ends * ends);
      // stay inside the domain: no element turns over, no solvent below nothing, logarithms by a few units at most
      const Vec3 xa = e == 0 ? orifice(t) : Vec3(x_before[e - 1] + hg * v[e - 1]);
      const Vec3 xb = e < n ? Vec3(x_before[e] + hg * v[e]) : Vec3(context_.collector_radius_m, 0.0, 0.0);
      const double length = (xb - xa).norm();
      const double change = hg * (ends.tail<3>() - ends.head<3>()).norm();
      if (change > 0.7 * length) damping = std::min(damping, 0.7 * length / change);
      if (dz[e][0] < -0.7 * z[e][0]) damping = std::min(damping, -0.7 * z[e][0] / dz[e][0]);
      if (std::abs(dz[e][1]) > 30.0) damping = std::min(damping, 30.0 / std::abs(dz[e][1]));
      for (Eigen::Index k = 2; k < 4; ++k) {
        if (std::abs(dz[e][k]) > 2.0) damping = std::min(damping, 2.0 / std::abs(dz[e][k]));
      }
      size = std::max({size, std::abs(dz[e][0]) / inlet_[0], std::abs(dz[e][1]) / 100.0, std::abs(dz[e][2]), std::abs(dz[e][3])});
      if (e < n) size = std::max(size, dv[e].norm() / speed_);
    }
    if (!std::isfinite(size)) return false;
    for (std::size_t e = 0; e < elements; ++e) {
      if (e < n) v[e] += damping * dv[e];
      z[e] += damping * dz[e];
      if (!(z[e][1] > 120.0) || !(z[e][1] < 700.0) || std::abs(z[e][2]) > 80.0 || std::abs(z[e][3]) > 80.0) return false;
    }
    converged = damping == 1.0 && size < options_.newton_tolerance;
  }
  if (!converged) return false;
  stage.x = x_before;
  for (std::size_t i = 0; i < n; ++i) stage.x[i] += hg * v[i];
  stage.momentum_rate.assign(n, Vec3::Zero());
  stage.rate.resize(elements);
  stage.totals = {};
  for (std::size_t e = 0; e < elements; ++e) {
    const Part<double> p = evaluate<double>(e, t, fed, beyond, hg, share[e], x_before, v, z);
    for (std::size_t k = 0; k < kZ; ++k) stage.rate[e][static_cast<Eigen::Index>(k)] = p.element.gain[k];
    for (std::size_t k = 0; k < 3; ++k) {
      const auto i = static_cast<Eigen::Index>(k);
      if (e > 0 && e - 1 < n) stage.momentum_rate[e - 1][i] += p.gain[0][k];
      if (e < n) stage.momentum_rate[e][i] += p.gain[1][k];
    }
    stage.totals.force += p.outside;
    stage.totals.evaporated += p.element.evaporation_kg_s;
    stage.totals.heat += p.element.gain[Z::kTemperature];
  }
  if (seed_ > 0.0) {
    stage.momentum_rate[n - 1] += seed_force();
    stage.totals.force += seed_force();
  }
  return true;
}

Thread::Step Thread::step(double h, double& error) {
  const std::size_t n = free_nodes();
  const std::size_t elements = nodes();
  const std::vector<Share> share = shares(0.5 * h);
  // what the step starts from
  std::vector<Vec3> p0(n, Vec3::Zero());
  std::vector<Vec4> g0(elements);
  for (std::size_t e = 0; e < elements; ++e) {
    if (e == 0 && fed_ <= 0.0) {
      g0[0].setZero();
      continue;
    }
    const Part<double> p = evaluate<double>(e, time_, fed_, beyond_, 0.0, share[e], x_, v_, z_);
    for (std::size_t k = 0; k < kZ; ++k) g0[e][static_cast<Eigen::Index>(k)] = p.element.stored[k];
    for (std::size_t k = 0; k < 3; ++k) {
      const auto i = static_cast<Eigen::Index>(k);
      if (e > 0 && e - 1 < n) p0[e - 1][i] += p.stored[0][k];
      if (e < n) p0[e][i] += p.stored[1][k];
    }
  }
  if (seed_ > 0.0) p0[n - 1] += seed_ * v_[n - 1];
  Vec3 before = Vec3::Zero();
  for (const Vec3& p : p0) before += p;

  const bool two = options_.scheme == ThreadTime::second_order;
  const double g = two ? kGamma : 1.0;
  const double inflow = context_.polymer_flow_kg_s;
  Stage first, last;
  first.v = v_;
  first.z = z_;
  if (!solve_stage(time_ + g * h, fed_ + inflow * g * h, beyond_ + options_.take_up_speed_m_s * g * h, g * h, share, x_, p0, g0, first)) {
    return Step::newton;
  }
  error = 0.0;
  if (two) {
    std::vector<Vec3> x1 = x_, p1 = p0;
    std::vector<Vec4> g1 = g0;
    for (std::size_t i = 0; i < n; ++i) {
      x1[i] += (1.0 - g) * h * first.v[i];
      p1[i] += (1.0 - g) * h * first.momentum_rate[i];
    }
    for (std::size_t e = 0; e < elements; ++e) g1[e] += (1.0 - g) * h * first.rate[e];
    last.v = first.v;
    last.z = first.z;
    if (!solve_stage(time_ + h, fed_ + inflow * h, beyond_ + options_.take_up_speed_m_s * h, g * h, share, x1, p1, g1, last)) {
      return Step::newton;
    }
    // difference to the first-order rule of the same first stage
    for (std::size_t i = 0; i < n; ++i) {
      error = std::max(error, g * h * (last.v[i] - first.v[i]).norm() / context_.collector_radius_m);
      if (i == 0) continue;
      const double mass = std::max(share[i].outer + (i + 1 < elements ? share[i + 1].inner : 0.0), 0.1) * setting_.element_polymer_kg;
      error = std::max(error, g * h * (last.momentum_rate[i] - first.momentum_rate[i]).norm() / (mass * speed_));
    }
    for (std::size_t e = 1; e < elements; ++e) {
      const Vec4 d = g * h * (last.rate[e] - first.rate[e]);
      for (Eigen::Index k = 0; k < 4; ++k) error = std::max(error, std::abs(d[k]) / scale_[k]);
    }
  } else {
    last = std::move(first);
  }
  // no element may change beyond recognition in a step
  for (std::size_t e = 1; e < n; ++e) {
    const Vec3 was = x_[e] - x_[e - 1];
    const Vec3 is = last.x[e] - last.x[e - 1];
    const double ratio = is.norm() / was.norm();
    if (was.dot(is) < 0.5 * was.norm() * is.norm() || ratio > 3.0 || ratio < 1.0 / 3.0) return Step::large;
  }

  const double b1 = two ? 1.0 - g : 0.0;
  const double b2 = two ? g : 1.0;
  Vec3 after = Vec3::Zero();
  fed_ += inflow * h;
  beyond_ += landed_ ? options_.take_up_speed_m_s * h : 0.0;
  time_ += h;
  for (std::size_t i = 0; i < n; ++i) {
    x_[i] = last.x[i];
    v_[i] = last.v[i];
  }
  z_ = last.z;
  polymer_.front() = fed_;
  entered_ += inflow * h;
  Vec3 impulse = h * b2 * last.totals.force;
  evaporated_ += h * b2 * last.totals.evaporated;
  heat_ += h * b2 * last.totals.heat;
  if (two) {
    impulse += h * b1 * first.totals.force;
    evaporated_ += h * b1 * first.totals.evaporated;
    heat_ += h * b1 * first.totals.heat;
  }
  for (std::size_t e = 0; e < elements; ++e) {
    const double mass = polymer_[e] * (1.0 + z_[e][Z::kSolvent]);
    if (e > 0 && e - 1 < n) after += share[e].inner * mass * v_[e - 1];
    if (e < n) after += share[e].outer * mass * v_[e];
  }
  if (seed_ > 0.0) after += seed_ * v_[n - 1];
  momentum_gap_ += after - before - impulse;
  momentum_moved_ += inflow * h * (1.0 + inlet_[0]) * speed_;
  return Step::good;
}

TransientSample Thread::sample() const {
  TransientSample s;
  s.time_s = time_;
  s.elements = nodes();
  const std::size_t b = nodes() - 1;
  double w = 1.0;
  Vec3 x = x_[b], v = v_[b];
  if (landed_) {
    x = Vec3(context_.collector_radius_m, 0.0, 0.0);
  } else {
    const double rc = context_.collector_radius_m;
    const double ra = radius(b - 1), rb = radius(b);
    w = std::clamp((rc - ra) / (rb - ra), 0.0, 1.0);
    const double rz = b >= 2 ? radius(b - 2) : 0.0;
    if (b >= 2 && rz < ra) {
      // parabola in the radius: the crossing is as good as the nodes
      const double lz = (rc - ra) * (rc - rb) / ((rz - ra) * (rz - rb));
      const double la = (rc - rz) * (rc - rb) / ((ra - rz) * (ra - rb));
      const double lb = (rc - rz) * (rc - ra) / ((rb - rz) * (rb - ra));
      x = lz * x_[b - 2] + la * x_[b - 1] + lb * x_[b];
      v = lz * v_[b - 2] + la * v_[b - 1] + lb * v_[b];
    } else {
      x = (1.0 - w) * x_[b - 1] + w * x_[b];
      v = (1.0 - w) * v_[b - 1] + w * v_[b];
    }
  }
  const double omega = context_.speed_rad_s;
  s.lab_speed_m_s = v.norm();
  s.line_speed_m_s = Vec3(v[0] + omega * x[1], v[1] - omega * x[0], v[2]).norm();
  s.height_m = x[2];
  double angle = std::atan2(x[1], x[0]) - omega * time_;
  angle -= 2.0 * model::kPi * std::round(angle / (2.0 * model::kPi));
  s.angle_rad = angle;
  // properties of elements sit at their middles: interpolate or extrapolate to the crossing
  const double share = w - 0.5;
  const auto blend = [&](double inner, double here) { return here + share * (here - inner); };
  const std::size_t a = b > 1 ? b - 1 : b;
  s.solvent_ratio = std::max(blend(z_[a][0], z_[b][0]), 0.0);
  s.temperature_K = blend(z_[a][1], z_[b][1]);
  double length = landed_ ? context_.collector_radius_m - x_[b - 1][0] + beyond_ : (x_[b] - x_[b - 1]).norm();
  if (!landed_ && b > 1) length *= std::pow(length / (x_[b - 1] - x_[b - 2]).norm(), share);
  s.dry_diameter_m = std::sqrt(4.0 * polymer_[b] / (model::kPi * context_.fluid->polymer_density_kg_m3 * length));
  const Part<double> p = evaluate<double>(b, time_, fed_, beyond_, 0.0, Share{}, x_, v_, z_);
  s.force_N = p.element.force;
  return s;
}

void Thread::shape(TransientJet& jet) const {
  const double omega = context_.speed_rad_s;
  const double c = std::cos(omega * time_), q = std::sin(omega * time_);
  double arc = 0.0, squeezed = 0.0;
  const std::size_t n = nodes();
  std::vector<ThreadElement<double>> el;
  // a fed element that is only beginning has no middle yet: its neighbour stands in
  const bool beginning = fed_ < 0.05 * setting_.element_polymer_kg && n > 1;
  for (std::size_t e = 0; e < n; ++e) {
    const std::size_t from = e == 0 && beginning ? 1 : e;
    el.push_back(evaluate<double>(from, time_, fed_, beyond_, 0.0, Share{}, x_, v_, z_).element);
    if (from != e) el[e].length = (x_[e] - orifice(time_)).norm();
  }
  for (std::size_t i = 0; i <= n; ++i) {
    const bool start = i == 0;
    if (landed_ && i == n) break;
    const Vec3 x = start ? orifice(time_) : x_[i - 1];
    const Vec3 v = start ? exit_velocity(time_) : v_[i - 1];
    const std::size_t before = start ? 0 : i - 1;
    const std::size_t after = std::min(i, n - 1);
    if (!start) {
      arc += el[before].length;
      if (el[before].force < 0.0) squeezed += el[before].length;
    }
    model::JetStation s;
    s.arc_length_m = arc;
    s.time_s = start ? 0.0 : time_ - born_[i - 1];
    s.x_m = c * x[0] + q * x[1];
    s.y_m = -q * x[0] + c * x[1];
    s.z_m = x[2];
    s.radius_m = std::hypot(x[0], x[1]);
    s.speed_m_s = Vec3(v[0] + omega * x[1], v[1] - omega * x[0], v[2]).norm();
    s.lab_speed_m_s = v.norm();
    const auto mean = [&](double a, double b) { return 0.5 * (a + b); };
    s.diameter_m = mean(el[before].diameter, el[after].diameter);
    s.temperature_K = start ? inlet_[1] : mean(z_[before][1], z_[after][1]);
    s.solvent_ratio = start ? inlet_[0] : mean(z_[before][0], z_[after][0]);
    s.solvent_mass_fraction = s.solvent_ratio / (1.0 + s.solvent_ratio);
    s.surface_solvent_fraction = s.solvent_mass_fraction;
    s.polymer_volume_fraction = model::polymer_volume_fraction(*context_.fluid, s.solvent_ratio);
    s.viscosity_Pa_s = model::solvent_viscosity(*context_.fluid, s.temperature_K) +
                       model::polymer_viscosity(*context_.fluid, s.polymer_volume_fraction, s.temperature_K);
    s.strain_rate_1_s = mean(el[before].stretching_rate, el[after].stretching_rate);
    s.tension_N = mean(el[before].force, el[after].force);
    s.axial_stress_Pa = mean((el[before].force - el[before].surface_force) / el[before].area,
                             (el[after].force - el[after].surface_force) / el[after].area);
    s.momentum_flux_N = context_.polymer_flow_kg_s * (1.0 + s.solvent_ratio) * s.speed_m_s;
    s.glass_margin_K = s.temperature_K - model::glass_temperature(*context_.fluid, s.polymer_volume_fraction);
    s.solid = model::solid_margin(*context_.fluid, s.polymer_volume_fraction, s.temperature_K) < 0.0;
    s.evaporation_kg_m2_s = el[after].evaporation_kg_s / (model::kPi * el[after].diameter * el[after].length);
    jet.shape.push_back(s);
    if (s.radius_m <= context_.collector_radius_m) {
      jet.largest_pull_ratio = std::max(jet.largest_pull_ratio, std::abs(s.tension_N) / s.momentum_flux_N);
    }
  }
  jet.compressed_share = arc > 0.0 ? squeezed / arc : 0.0;
}

model::Balances Thread::balances() const {
  model::Balances b;
  const model::Fluid& f = *context_.fluid;
  double polymer = 0.0, solvent = 0.0, heat = 0.0;
  for (std::size_t e = 0; e < nodes(); ++e) {
    polymer += polymer_[e];
    solvent += polymer_[e] * z_[e][0];
    heat += polymer_[e] * (f.polymer_heat_capacity + z_[e][0] * f.solvent_heat_capacity) * (z_[e][1] - f.charge_temperature_K);
  }
  const double in = std::max(entered_, 1e-300);
  b.polymer = std::abs(polymer + left_polymer_ - entered_) / in;
  b.solvent = std::abs(solvent + left_solvent_ + evaporated_ - entered_ * inlet_[0]) / (in * inlet_[0]);
  b.energy = std::abs(heat + left_heat_ - heat_) /
             (in * 100.0 * (f.polymer_heat_capacity + inlet_[0] * f.solvent_heat_capacity));
  b.momentum = momentum_gap_.norm() / std::max(momentum_moved_, 1e-300);
  return b;
}

double Thread::jacobian_gap() {
  // a made-up state, stretched and bent, of three elements
  const std::vector<Vec3> x{orifice(0.0) + Vec3(1e-3, -3e-4, -1e-5), orifice(0.0) + Vec3(2.4e-3, -1e-3, -4e-5)};
  x_ = x;
  v_ = {Vec3(1.5, 20.0, -0.1), Vec3(3.0, 18.0, -0.3)};
  z_ = {Vec4(inlet_[0], inlet_[1] - 2.0, 0.4, -0.2), Vec4(0.9 * inlet_[0], inlet_[1] - 6.0, 1.5, -0.8)};
  polymer_ = {0.4 * setting_.element_polymer_kg, setting_.element_polymer_kg};
  fed_ = polymer_[0];
  born_ = {0.0, 0.0};
  const double hg = 0.5 * interval_;
  double gap = 0.0;
  for (std::size_t e = 0; e < 2; ++e) {
    Share share;
    share.stress = 0.7;
    share.pull_outer = 0.7;
    share.pull_inner = 0.3;
    const auto residual = [&]() {
      const Part<double> p = evaluate<double>(e, 0.0, fed_, 0.0, hg, share, x_, v_, z_);
      Eigen::Matrix<double, 10, 1> r;
      for (std::size_t k = 0; k < 4; ++k) r[static_cast<Eigen::Index>(k)] = p.element.stored[k] - hg * p.element.gain[k];
      for (std::size_t s = 0; s < 2; ++s)
        for (std::size_t k = 0; k < 3; ++k) r[static_cast<Eigen::Index>(4 + 3 * s + k)] = p.stored[s][k] - hg * p.gain[s][k];
      return r;
    };
    const Part<Dual> p = evaluate<Dual>(e, 0.0, fed_, 0.0, hg, share, x_, v_, z_);
    for (std::size_t j = 0; j < 10; ++j) {
      if (e == 0 && j < 3) continue;
      const auto k = static_cast<Eigen::Index>(j < 6 ? j % 3 : j - 6);
      double& value = j < 3 ? v_[e - 1][k] : (j < 6 ? v_[e][k] : z_[e][k]);
      const double kept = value;
      const double step = 1e-6 * std::max(std::abs(kept), 1.0);
      value = kept + step;
      const auto up = residual();
      value = kept - step;
      const auto down = residual();
      value = kept;
      // each row by its own size: rows differ in units
      for (std::size_t i = 0; i < 10; ++i) {
        const Dual r = i < 4 ? p.element.stored[i] - hg * p.element.gain[i]
                             : p.stored[(i - 4) / 3][(i - 4) % 3] - hg * p.gain[(i - 4) / 3][(i - 4) % 3];
        double size = 0.0;
        for (std::size_t m = 0; m < 10; ++m) size = std::max(size, std::abs(r.slope[m]));
        const auto ii = static_cast<Eigen::Index>(i);
        const double difference = (up[ii] - down[ii]) / (2.0 * step);
        if (size > 0.0) gap = std::max(gap, std::abs(difference - r.slope[j]) / size);
      }
    }
  }
  return gap;
}

std::string check(const model::JetContext& c, const TransientOptions& o) {
  if (c.fluid == nullptr || c.air == nullptr) return "no liquid or no air";
  if (c.gas.blows()) return "gas along the jet is not part of the transient solver";
  if (!(c.polymer_flow_kg_s > 0.0) || !(c.exit_speed_m_s > 0.0)) return "no flow";
  if (!(c.collector_radius_m > c.outer_radius_m) || !(c.outer_radius_m > 0.0)) return "the collector is not outside the vessel";
  if (o.elements < 4) return "fewer than 4 elements per flight";
  if (o.end == model::JetEnd::taken_up && c.speed_rad_s != 0.0) return "a taken-up end needs a vessel at rest";
  if (o.end == model::JetEnd::taken_up && !(o.take_up_speed_m_s > 0.0)) return "a taken-up end needs its speed";
  if (!(o.time_tolerance > 0.0) && o.fixed_substeps <= 0) return "no time tolerance";
  return {};
}

// Means over the last `span` of the history, by the trapezoid rule.
struct Mean {
  double speed{}, diameter{}, solvent{}, temperature{}, force{}, low{}, high{};
};
Mean mean(const std::vector<TransientSample>& h, double from, double to) {
  Mean m;
  double total = 0.0;
  m.low = 1e300;
  for (std::size_t i = h.size(); i-- > 1;) {
    if (h[i].time_s > to) continue;
    if (h[i - 1].time_s < from) break;
    const double dt = 0.5 * (h[i].time_s - h[i - 1].time_s);
    total += 2.0 * dt;
    m.speed += dt * (h[i].line_speed_m_s + h[i - 1].line_speed_m_s);
    m.diameter += dt * (h[i].dry_diameter_m + h[i - 1].dry_diameter_m);
    m.force += dt * (h[i].force_N + h[i - 1].force_N);
    m.solvent += dt * (h[i].solvent_ratio + h[i - 1].solvent_ratio);
    m.temperature += dt * (h[i].temperature_K + h[i - 1].temperature_K);
    m.low = std::min(m.low, h[i].line_speed_m_s);
    m.high = std::max(m.high, h[i].line_speed_m_s);
  }
  if (total <= 0.0) return {};
  m.speed /= total;
  m.diameter /= total;
  m.force /= total;
  m.solvent /= total;
  m.temperature /= total;
  return m;
}

}  // namespace

TransientJet run_transient_jet(const model::JetContext& context, const TransientOptions& options) {
  TransientJet jet;
  if (std::string wrong = check(context, options); !wrong.empty()) {
    jet.reason = "transient: " + wrong;
    return jet;
  }
  char text[200];
  Thread thread(context, options);
  const double interval = thread.interval();
  const double flight = thread.flight();
  const double end = options.longest_time_s > 0.0 ? options.longest_time_s : 6.0 * flight;
  const double window = 0.25 * flight;
  double h = options.fixed_substeps > 0 ? interval / options.fixed_substeps : 0.25 * interval;
  double next_release = interval;
  double reached_at = 0.0, next_check = 0.0;
  std::size_t releases = 0;
  bool failed = false;
  const double least = 1e-7 * interval;
  while (thread.time() < end * (1.0 - 1e-9)) {
    if (jet.work.steps + jet.work.rejected > options.most_steps) {
      std::snprintf(text, sizeof text, "transient: step limit at %.3g s of %.3g s", thread.time(), end);
      jet.reason = text;
      failed = true;
      break;
    }
    const double room = next_release - thread.time();
    const double longest = thread.longest_step();
    double size = std::min(h, longest);
    bool to_release = false;
    const double left = end - thread.time();
    if (left < room * (1.0 - 1e-6)) {
      size = std::min(size, left);
    } else if (size > room * (1.0 - 1e-6)) {
      size = room;
      to_release = true;
    } else if (options.fixed_substeps <= 0 && size > 0.5 * room && size < room) {
      size = std::min(size, 0.5 * room * (1.0 + 1e-12));
    }
    double error = 0.0;
    const Thread::Step outcome = thread.step(size, error);
    const bool controlled = options.fixed_substeps <= 0 && options.scheme == ThreadTime::second_order;
    // The estimate is that of the first-order companion: the step itself is more accurate.
    if (outcome == Thread::Step::good) {
      ++jet.work.steps;
      if (controlled) {
        const double factor = std::clamp(0.9 * std::sqrt(options.time_tolerance / std::max(error, 1e-14)), 0.3, 2.0);
        h = std::min(std::max(h, size) * factor, interval);
        if (factor < 1.0) h = std::min(h, size * std::max(factor, 0.5));
      } else {
        h = options.fixed_substeps > 0 ? interval / options.fixed_substeps : std::min(2.0 * h, 0.25 * interval);
      }
    } else {
      ++jet.work.rejected;
      h = 0.4 * size;
      if (h < least) {
        std::snprintf(text, sizeof text, "transient: %s at %.4g s (%.2f flights), %zu elements, step %.2g s",
                      outcome == Thread::Step::newton ? "Newton does not converge" : "an element folds or collapses",
                      thread.time(), thread.time() / flight, thread.nodes(), size);
        jet.reason = text;
        failed = true;
        break;
      }
      continue;
    }
    if (!thread.remove()) {
      jet.reason = "transient: the elements are longer than the flight";
      failed = true;
      break;
    }
    if (thread.reached()) {
      if (!jet.reached_collector) {
        jet.reached_collector = true;
        reached_at = thread.time();
        next_check = reached_at + std::max(flight, 3.0 * window);
      }
      jet.history.push_back(thread.sample());
      if (!std::isfinite(jet.history.back().line_speed_m_s + jet.history.back().dry_diameter_m)) {
        jet.history.pop_back();
        jet.reason = "transient: the sample at the collector is not finite";
        failed = true;
        break;
      }
    }
    if (to_release) {
      ++releases;
      thread.release(thread.time());
      next_release = interval * static_cast<double>(releases + 1);
      if (thread.nodes() > options.most_elements) {
        std::snprintf(text, sizeof text, "transient: element limit (%zu) at %.3g s", options.most_elements, thread.time());
        jet.reason = text;
        failed = true;
        break;
      }
      if (jet.reached_collector && options.steady_tolerance > 0.0 && thread.time() > next_check) {
        const double now = thread.time();
        // the speed of a taken-up end is given: its force is what settles
        const auto watched = [&](double from, double to) {
          const Mean m = mean(jet.history, from, to);
          return options.end == model::JetEnd::taken_up ? m.force : m.speed;
        };
        const double a = watched(now - window, now);
        const double b = watched(now - 2.0 * window, now - window);
        const double c = watched(now - 3.0 * window, now - 2.0 * window);
        // and what is fed must go through the collector: a thread still being laid in other lengths is not steady
        const Mean m = mean(jet.history, now - window, now);
        const double laid = 0.25 * model::kPi * m.diameter * m.diameter / model::dry_area_m2(context, std::max(m.speed, 1e-30));
        const bool through = options.end == model::JetEnd::taken_up || std::abs(laid - 1.0) < kSteadyThroughput;
        if (through && std::abs(a - b) < options.steady_tolerance * std::abs(a) &&
            std::abs(b - c) < options.steady_tolerance * std::abs(a)) {
          jet.settled = true;
          break;
        }
      }
    }
  }
  jet.time_s = thread.time();
  jet.work.newton_iterations = thread.newton_;
  jet.work.rhs_evaluations = thread.evaluations_;
  jet.work.mesh_nodes = thread.nodes();
  jet.balances = thread.balances();
  thread.shape(jet);
  if (jet.reached_collector) {
    const Mean m = mean(jet.history, jet.time_s - window, jet.time_s);
    jet.line_speed_m_s = m.speed;
    jet.dry_diameter_m = m.diameter;
    jet.solvent_ratio = m.solvent;
    jet.temperature_K = m.temperature;
    jet.line_speed_spread = m.speed > 0.0 ? (m.high - m.low) / m.speed : 0.0;
    jet.flight_time_s = thread.age_at_collector();
  }
  if (failed) return jet;
  jet.status = model::Status::done;
  if (jet.settled) {
    std::snprintf(text, sizeof text, "settled after %.2f free flights", jet.time_s / flight);
  } else if (jet.reached_collector && !(jet.line_speed_m_s > 0.0)) {
    std::snprintf(text, sizeof text, "reached the collector, but nothing crosses it any more at %.2f free flights", jet.time_s / flight);
  } else if (jet.reached_collector) {
    std::snprintf(text, sizeof text, "reached the collector; stopped at %.2f free flights, spread of the line speed %.1e",
                  jet.time_s / flight, jet.line_speed_spread);
  } else {
    std::snprintf(text, sizeof text, "has not reached the collector after %.2f free flights", jet.time_s / flight);
  }
  jet.reason = text;
  return jet;
}

double transient_jacobian_gap(const model::JetContext& context, const TransientOptions& options) {
  if (!check(context, options).empty()) return 1.0;
  Thread thread(context, options);
  return thread.jacobian_gap();
}

}  // namespace whorl::reference
