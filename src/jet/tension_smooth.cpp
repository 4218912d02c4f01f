#include "jet/tension_smooth.hpp"

#include <algorithm>
#include <cmath>
#include <type_traits>

#include "solver/banded.hpp"
#include "solver/collocation.hpp"

namespace whorl::jet {
namespace {

using solver::Dual;

// Stations by radius, each made once. The radii come in the same order again and again.
class Stations {
 public:
  explicit Stations(const std::function<SmoothStation(double)>& make) : make_(make) {}
  const SmoothStation& at(double radius) {
    if (cursor_ + 1 < radius_.size() && radius_[cursor_ + 1] == radius) return station_[++cursor_];
    const auto it = std::lower_bound(radius_.begin(), radius_.end(), radius);
    cursor_ = static_cast<std::size_t>(it - radius_.begin());
    if (it == radius_.end() || *it != radius) {
      radius_.insert(it, radius);
      station_.insert(station_.begin() + static_cast<std::ptrdiff_t>(cursor_), make_(radius));
    }
    return station_[cursor_];
  }

 private:
  const std::function<SmoothStation(double)>& make_;
  std::vector<double> radius_;
  std::vector<SmoothStation> station_;
  std::size_t cursor_{0};
};

template <class Real>
Real positive(const Real& a) {
  return a > 1e-30 ? a : Real(1e-30);
}

// Nodes share out the change of speed and direction, the length, and nearness to the end, where the pull falls within
// the length of viscosity over momentum. Own choices of the shares.
std::vector<double> lay_nodes(const SmoothThread& guess, const SmoothStation& last) {
  constexpr double kLengthShare = 0.5, kEndShare = 0.4, kPerChange = 1.5, kFewest = 6.0, kMost = 40.0;
  const std::vector<double>& radius = guess.radius;
  const double end_speed = std::exp(guess.log_speed.back());
  const double layer = 3.0 * last.viscosity_Pa_s / (last.density_kg_m3 * end_speed);
  std::vector<double> density(radius.size());
  const double whole = radius.back() - radius.front();
  for (std::size_t i = 0; i < radius.size(); ++i) {
    const std::size_t a = i > 0 ? i - 1 : 0, b = std::min(i + 1, radius.size() - 1);
    const double h = radius[b] - radius[a];
    const double turn = std::abs(guess.angle[b] - guess.angle[a]);
    density[i] = (std::abs(guess.log_speed[b] - guess.log_speed[a]) + turn) / h + kLengthShare / whole;
  }
  std::vector<double> x = radius;
  for (double far = 0.5 * whole; far > layer; far *= 0.5) {  // places for the layer at the end
    const double at = radius.back() - far;
    const auto it = std::upper_bound(x.begin(), x.end(), at);
    const auto k = it - x.begin();
    if (*(it - 1) == at) continue;
    x.insert(it, at);
    density.insert(density.begin() + k, density[static_cast<std::size_t>(k)]);
  }
  double total = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    density[i] += kEndShare / (radius.back() - x[i] + 0.5 * layer);
    if (i > 0) total += 0.5 * (density[i] + density[i - 1]) * (x[i] - x[i - 1]);
  }
  const auto cells = static_cast<std::size_t>(std::clamp(kPerChange * total + 3.0, kFewest, kMost));
  return solver::equidistribute(x, density, cells + 1);
}

std::vector<double> nodes_of(const SmoothThread& guess) {
  std::vector<double> node;
  for (std::size_t i = 0; i < guess.radius.size(); i += 3) node.push_back(guess.radius[i]);
  return node;
}

}  // namespace

SmoothThread solve_smooth_thread(const model::JetContext& context, const std::function<SmoothStation(double)>& station,
                                 const model::ThreadEnd& end, const SmoothThread& guess, const SmoothOptions& options) {
  enum : std::size_t { kSpeed, kAngle, kForce };
  const model::Air& air = *context.air;
  const double omega = context.speed_rad_s;
  Stations stations(station);
  double force_size = 0.0;
  for (double f : guess.force) force_size = std::max(force_size, std::abs(f));
  const SmoothStation first = stations.at(guess.radius.front());
  const double unit = std::max(force_size, first.flow_kg_s * context.exit_speed_m_s);
  const bool drag = air.axial_drag_factor > 0.0 || air.cross_drag_factor > 0.0;

  const auto rates = [&](double r, const auto& y, auto& rate) {
    using std::cos;
    using std::exp;
    using std::sin;
    using std::sqrt;
    using Real = std::decay_t<decltype(y[0])>;
    const SmoothStation& at = stations.at(r);
    const Real u = exp(y[kSpeed]);
    const double flat = std::sqrt(1.0 - at.climb * at.climb);
    const Real tr = flat * cos(y[kAngle]);
    const Real ta = flat * sin(y[kAngle]);
    if (!(tr > 1e-4) || !(u < 1e5)) return false;
    const double volume = at.flow_kg_s / at.density_kg_m3;
    // forces per mass in axes that turn with the vessel
    Real ar = omega * omega * r + 2.0 * omega * u * ta;
    Real aa = -2.0 * omega * u * tr;
    Real along_drag(0.0);
    if (drag) {
      const Real area = volume / u;
      const Real diameter = sqrt(area * (4.0 / model::kPi));
      const Real wr = at.air[0] - u * tr;
      const Real wa = at.air[1] - omega * r - u * ta;
      const Real wz = at.air[2] - u * at.climb;
      const Real along = wr * tr + wa * ta + wz * at.climb;
      const Real nr = wr - along * tr, na = wa - along * ta, nz = wz - along * at.climb;
      const Real across = sqrt(positive(Real(nr * nr + na * na + nz * nz)));
      const auto resistance = model::drag_resistance(air, diameter, along, across);
      const Real per = u / at.flow_kg_s;  // over mass per length
      ar = ar + per * resistance.across * nr;
      aa = aa + per * resistance.across * na;
      along_drag = resistance.along * along;
    }
    // what acts along the thread bends nothing; drag along it left out of ar, aa
    const Real body = omega * omega * r * tr - context.gravity_m_s2 * at.climb;
    const Real inverse = 1.0 / tr;
    const Real surface = at.surface_tension_N_m * sqrt(model::kPi * volume / u);
    const Real force = unit * y[kForce];
    rate[kSpeed] = (force - surface) * inverse * (1.0 / (3.0 * at.viscosity_Pa_s * volume));
    rate[kForce] = (at.flow_kg_s * (u * rate[kSpeed] - body * inverse / u) - along_drag * inverse) * (1.0 / unit);
    rate[kAngle] = ((tr * aa - ta * ar) * (1.0 / (flat * flat)) / (u * u) - ta * (1.0 / r)) * inverse;
    return true;
  };
  const double log_start = std::log(context.exit_speed_m_s);
  const auto start = [&](const auto& y) {
    return std::array<Dual<3>, 2>{y[kSpeed] - log_start, y[kAngle]};
  };
  const SmoothStation last = stations.at(guess.radius.back());
  const auto far_end = [&](const auto& y) {
    if (end.taken_up) return std::array<Dual<3>, 1>{y[kSpeed] - std::log(end.take_up_speed_m_s)};
    const Dual<3> surface =
        last.surface_tension_N_m * sqrt(model::kPi * (last.flow_kg_s / last.density_kg_m3) / exp(y[kSpeed]));
    return std::array<Dual<3>, 1>{y[kForce] - (surface + end.pull_N) * (1.0 / unit)};
  };
  solver::CollocationOptions how;
  how.tolerance = options.tolerance;
  how.newton_tolerance = options.newton_tolerance;
  how.most_cells = options.most_cells;
  how.adapt = options.adapt;
  how.most_newton = 15;  // there is another method
  solver::Collocation<3, 2, decltype(rates), decltype(start), decltype(far_end)> problem(rates, start, far_end,
                                                                                         {1.0, 1.0, 1.0}, how);

  std::vector<std::array<double, 3>> y(guess.radius.size());
  for (std::size_t i = 0; i < y.size(); ++i) y[i] = {guess.log_speed[i], guess.angle[i], guess.force[i] / unit};
  const std::vector<double> node = options.adapt ? lay_nodes(guess, last) : nodes_of(guess);
  const auto s = problem.solve(node, guess.radius, y);
  SmoothThread out;
  out.converged = s.converged;
  out.reason = s.reason;
  out.error = s.error;
  out.newton = s.work.newton;
  out.meshes = s.work.meshes;
  out.radius = s.x;
  for (std::size_t i = 0; i < s.x.size(); ++i) {
    out.log_speed.push_back(s.y[i][kSpeed]);
    out.angle.push_back(s.y[i][kAngle]);
    out.force.push_back(unit * s.y[i][kForce]);
    out.log_speed_slope.push_back(s.rate[i][kSpeed]);
    out.force_slope.push_back(unit * s.rate[i][kForce]);
  }
  return out;
}

}  // namespace whorl::jet
