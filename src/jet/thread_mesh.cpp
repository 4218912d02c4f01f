#include "jet/thread_mesh.hpp"

#include <algorithm>
#include <cmath>

#include "solver/collocation.hpp"

namespace whorl::jet {
namespace {

// Own choices, all of them: they decide how many cells an error takes, which two meshes tell, not what a fine mesh
// tends to.
constexpr std::size_t kPlaces = 600;         // of the density of nodes: even, and graded towards either end
constexpr double kFirstPlace = 1e-7;  // of the length, behind the orifice: the jet swells and thins within diameters
constexpr double kLastPlace = 1e-5;          // of the length, before the far end
constexpr double kFromFirst = 1e7, kFromLast = 1e5;  // their inverses
constexpr double kEvenShare = 0.5;           // of the nodes by changes that go by length
constexpr double kNearOrifice = 0.02;        // of the nodes by changes, each e-fold of the distance from the orifice
constexpr double kNearEnd = 0.01;            // and from the far end
constexpr double kOrificeWidth = 1e-6;       // of the length: closer than this counts as at the orifice
constexpr double kEndWidth = 1e-4;           // and as at the far end
constexpr double kStretchWeight = 0.25;      // of a change of ln(f c_ss) and of ln G against one of ln u

// A fine grading towards both ends, plus the knots of the solution.
std::vector<double> places_along(const std::vector<double>& arc) {
  const double length = arc.back();
  std::vector<double> x;
  for (std::size_t i = 0; i <= kPlaces; ++i) {
    const double q = static_cast<double>(i) / kPlaces;
    x.push_back(length * q);
    x.push_back(length * kFirstPlace * std::pow(kFromFirst, q));
    x.push_back(length * (1.0 - kLastPlace * std::pow(kFromLast, q)));
  }
  x.insert(x.end(), arc.begin(), arc.end());
  std::sort(x.begin(), x.end());
  const auto same = [&](double a, double b) { return b - a < 1e-9 * length && b - a < 1e-3 * a; };
  x.erase(std::unique(x.begin(), x.end(), same), x.end());
  x.front() = 0.0;
  x.back() = length;
  return x;
}

}  // namespace

double interpolate(const std::vector<double>& x, const std::vector<double>& y, double at) {
  if (at <= x.front()) return y.front();
  if (at >= x.back()) return y.back();
  const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
  return y[i - 1] + (at - x[i - 1]) / (x[i] - x[i - 1]) * (y[i] - y[i - 1]);
}

std::vector<double> lay_nodes(double outer_radius_m, const std::vector<double>& radius,
                              const std::vector<double>& change, std::size_t cells) {
  std::vector<double> arc = radius;
  for (double& r : arc) r -= outer_radius_m;
  const double length = arc.back();
  double total = 0.0;
  for (double c : change) total += c;
  total = std::max(total, 1.0);
  const std::vector<double> x = places_along(arc);
  std::vector<double> density;
  std::size_t k = 1;
  for (double s : x) {
    while (k + 1 < arc.size() && arc[k] < s) ++k;
    const double slope = change[k] / (arc[k] - arc[k - 1]);
    double d = slope + kEvenShare * total / length;
    d += total * (kNearOrifice / (s + kOrificeWidth * length) + kNearEnd / (length - s + kEndWidth * length));
    density.push_back(d);
  }
  const std::vector<double> node = solver::equidistribute(x, density, cells + 1);
  std::vector<double> share(node.size());
  for (std::size_t i = 0; i < node.size(); ++i) share[i] = node[i] / length;
  return share;
}

void resample(ThreadSearch& search, const std::vector<double>& radius, const std::vector<double>& change,
              std::size_t cells) {
  ThreadSolution& now = search.now;
  now.share = lay_nodes(search.context.outer_radius_m, radius, change, cells);
  ThreadState next;
  for (std::size_t i = 0; i < now.share.size(); ++i) {
    const double r = search.radius_of(i);
    next.log_speed.push_back(interpolate(radius, now.state.log_speed, r));
    next.pull.push_back(interpolate(radius, now.state.pull, r));
    next.waist.push_back(interpolate(radius, now.state.waist, r));
  }
  now.state = next;
}

void remesh(ThreadSearch& search, std::size_t cells) {
  const std::vector<double> radius = search.radii();
  const ThreadState& state = search.now.state;
  const std::vector<model::ThreadStation>& station = search.now.problem.station;
  std::vector<double> change(radius.size(), 0.0);
  for (std::size_t i = 1; i < radius.size(); ++i) {
    const model::ThreadStation& a = station[i - 1];
    const model::ThreadStation& b = station[i];
    change[i] = std::abs(state.log_speed[i] - state.log_speed[i - 1]) +
                kStretchWeight * std::abs(state.pull[i] - state.pull[i - 1]) +
                kStretchWeight * std::abs(std::log(b.modulus_Pa / a.modulus_Pa)) +
                (b.arc_m - a.arc_m) / station.back().arc_m;
  }
  resample(search, radius, change, cells);
}

}  // namespace whorl::jet
