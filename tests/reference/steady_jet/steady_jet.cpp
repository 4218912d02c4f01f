#include "reference/steady_jet/steady_jet.hpp"

#include <fmt/core.h>

#include <Eigen/Dense>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace whorl::testing {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using Mode = std::complex<double>;

constexpr double kStep = 0.85;                                      // of the speed, from jet to jet
constexpr double kStarts[] = {0.5, 0.8, 1.5, 0.3, 0.15, 3.0, 0.07};  // of the speed at which inertia takes over
constexpr Index kMesh[] = {120, 150};  // cells of the two meshes

// d/dx on the points cos(pi k/n), which run from -1 to 1.
MatrixXd chebyshev(Index n, VectorXd& x) {
  x.resize(n + 1);
  for (Index k = 0; k <= n; ++k) x(k) = -std::cos(std::numbers::pi * static_cast<double>(k) / static_cast<double>(n));
  const auto weight = [&](Index k) { return (k == 0 || k == n ? 2.0 : 1.0) * (k % 2 == 0 ? 1.0 : -1.0); };
  MatrixXd d(n + 1, n + 1);
  for (Index i = 0; i <= n; ++i) {
    double sum = 0.0;
    for (Index k = 0; k <= n; ++k) {
      if (i == k) continue;
      d(i, k) = weight(i) / weight(k) / (x(i) - x(k));
      sum += d(i, k);
    }
    d(i, i) = -sum;
  }
  return d;
}

class Jet {
 public:
  Jet(const SlowJet& jet, Index cells) : bond_(jet.bond), inertia_(1.0 / (jet.ohnesorge * jet.ohnesorge)) {
    // out to well beyond the place where inertia takes over from viscosity
    const double takes_over = 2.0 * std::sqrt(takes_over_speed()) / std::sqrt(2.0 * bond_ / 3.0);
    const double length = std::max(4.0 * takes_over, 25.0);
    const double crowd = std::clamp(4.0 / length, 0.05, 0.3);  // of nodes at the orifice
    VectorXd x;
    const MatrixXd d = chebyshev(cells, x);
    const ArrayXd y = 0.5 * (x.array() + 1.0);
    place_ = length * crowd * y / (1.0 + crowd - y);
    const ArrayXd stretch = 0.5 * length * crowd * (1.0 + crowd) / (1.0 + crowd - y).square();
    first_ = stretch.inverse().matrix().asDiagonal() * d;
    second_ = first_ * first_;
    MatrixXd values(cells + 1, cells + 1);
    for (Index i = 0; i <= cells; ++i) {
      const double angle = std::acos(std::clamp(x(i), -1.0, 1.0));
      for (Index k = 0; k <= cells; ++k) values(i, k) = std::cos(static_cast<double>(k) * angle);
    }
    coefficients_ = values.inverse();
  }

  [[nodiscard]] double takes_over_speed() const { return std::cbrt(1.5 * bond_ / (inertia_ * inertia_)); }

  // The steady jet, from a start between the viscous and the inertial thread.
  [[nodiscard]] VectorXd start(double capillary) const {
    const double draw = std::sqrt(2.0 * bond_ / 3.0);
    const ArrayXd viscous = (std::sqrt(capillary) + 0.5 * draw * place_).square();
    const ArrayXd inertial = (capillary * capillary + 2.0 * bond_ * place_ / inertia_).sqrt();
    return (viscous.square().inverse() + inertial.square().inverse()).sqrt().inverse().max(capillary).matrix();
  }
  [[nodiscard]] bool settle(double capillary, VectorXd& speed) const {
    const Index n = speed.size();
    for (int round = 0; round < 60; ++round) {
      const VectorXd off = residual(capillary, speed);
      MatrixXd slope(n, n);
      for (Index k = 0; k < n; ++k) {
        const double step = 1e-6 * speed(k);
        VectorXd up = speed, down = speed;
        up(k) += step;
        down(k) -= step;
        slope.col(k) = (residual(capillary, up) - residual(capillary, down)) / (2.0 * step);
      }
      const VectorXd move = slope.partialPivLu().solve(-off);
      if (!move.allFinite()) return false;
      double share = 1.0;
      const ArrayXd relative = move.array() / speed.array();
      while (share > 1e-6 && (share * relative.minCoeff() <= -0.8 || share * relative.maxCoeff() >= 4.0))
        share *= 0.5;
      speed += share * move;
      if (relative.abs().maxCoeff() < 1e-9) return true;
    }
    return false;
  }

  // Modes that the mesh resolves and that swing, slowest-decaying first.
  [[nodiscard]] std::vector<Mode> modes(double capillary, const VectorXd& speed) const {
    const Index n = speed.size();
    const ArrayXd u = speed.array(), area = capillary / u, a = area.sqrt();
    const ArrayXd a1 = (first_ * a.matrix()).array(), a2 = (second_ * a.matrix()).array();
    const ArrayXd q = (1.0 + a1.square()).sqrt();
    const auto by = [](const ArrayXd& v) { return v.matrix().asDiagonal(); };
    MatrixXd curvature = by(-(a.square() * q).inverse()).toDenseMatrix();
    curvature += by((3.0 * a2 * a1 / q.pow(5) - a1 / (a * q.cube())).eval()) * first_;
    curvature -= by(q.cube().inverse().eval()) * second_;
    curvature = (curvature * by((0.5 / a).eval())).eval();
    const ArrayXd strain = (first_ * speed).array();
    const ArrayXd pull = (first_ * (area * strain).matrix()).array();
    MatrixXd all(2 * n, 2 * n);
    all.topLeftCorner(n, n) = -first_ * by(u);
    all.topRightCorner(n, n) = -first_ * by(area);
    MatrixXd corner = -first_ * curvature;
    corner += 3.0 * (by(area.inverse().eval()) * (first_ * by(strain)));
    corner -= by((3.0 * pull / area.square()).eval()).toDenseMatrix();
    all.bottomLeftCorner(n, n) = corner / inertia_;
    corner = -inertia_ * (first_ * by(u));
    corner += 3.0 * (by(area.inverse().eval()) * (first_ * (by(area) * first_)));
    all.bottomRightCorner(n, n) = corner / inertia_;
    // area and speed are held at the orifice
    MatrixXd kept(2 * n - 2, 2 * n - 2);
    kept << all.block(1, 1, n - 1, n - 1), all.block(1, n + 1, n - 1, n - 1), all.block(n + 1, 1, n - 1, n - 1),
        all.block(n + 1, n + 1, n - 1, n - 1);
    const Eigen::EigenSolver<MatrixXd> solved(kept);
    const double fastest = 60.0 * std::max(std::sqrt(2.0 / 3.0 * bond_ * capillary), 0.2 * capillary);
    std::vector<Mode> found;
    for (Index i = 0; i < 2 * n - 2; ++i) {
      const Mode mode = solved.eigenvalues()(i);
      if (!(mode.imag() > 1e-6) || std::abs(mode) > fastest) continue;
      const Eigen::VectorXcd shape = solved.eigenvectors().col(i);
      Eigen::VectorXcd of_area = Eigen::VectorXcd::Zero(n), of_speed = Eigen::VectorXcd::Zero(n);
      of_area.tail(n - 1) = shape.head(n - 1).cwiseQuotient(area.tail(n - 1).matrix().cast<Mode>());
      of_speed.tail(n - 1) = shape.tail(n - 1).cwiseQuotient(speed.tail(n - 1).cast<Mode>());
      if (resolved(of_area) && resolved(of_speed)) found.push_back(mode);
    }
    std::sort(found.begin(), found.end(), [](const Mode& x, const Mode& y) { return x.real() > y.real(); });
    return found;
  }

 private:
  [[nodiscard]] bool resolved(const Eigen::VectorXcd& shape) const {
    constexpr double kTail = 1e-2;
    const VectorXd c = (coefficients_.cast<Mode>() * shape).cwiseAbs();
    return c.tail(c.size() / 5).maxCoeff() < kTail * c.maxCoeff();
  }
  [[nodiscard]] VectorXd residual(double capillary, const VectorXd& speed) const {
    const ArrayXd u = speed.array(), area = capillary / u, a = area.sqrt();
    const ArrayXd a1 = (first_ * a.matrix()).array(), a2 = (second_ * a.matrix()).array();
    const ArrayXd q = (1.0 + a1.square()).sqrt();
    const VectorXd curvature = ((a * q).inverse() - a2 / q.cube()).matrix();
    const ArrayXd strain = (first_ * speed).array();
    const VectorXd free = (inertia_ * u * strain - bond_).matrix();
    VectorXd off = free + first_ * curvature - 3.0 * ((first_ * (area * strain).matrix()).array() / area).matrix();
    off(0) = u(0) - capillary;
    // far away it falls freely
    const Index last = off.size() - 1;
    off(last) = free(last);
    off(last - 1) = (first_ * free)(last);
    return off;
  }

  double bond_, inertia_;
  ArrayXd place_;
  MatrixXd first_, second_, coefficients_;
};

// The same jet on both meshes.
class TwoMeshes {
 public:
  explicit TwoMeshes(const SlowJet& jet) : coarse_(jet, kMesh[0]), fine_(jet, kMesh[1]) {}
  [[nodiscard]] double takes_over_speed() const { return fine_.takes_over_speed(); }
  [[nodiscard]] bool start(double capillary) {
    on_coarse_ = coarse_.start(capillary);
    on_fine_ = fine_.start(capillary);
    return to(capillary);
  }
  [[nodiscard]] bool to(double capillary) {
    return coarse_.settle(capillary, on_coarse_) && fine_.settle(capillary, on_fine_);
  }
  [[nodiscard]] std::optional<Mode> leading(double capillary) const {
    constexpr double kAlike = 0.02;
    const std::vector<Mode> one = coarse_.modes(capillary, on_coarse_);
    for (const Mode& mode : fine_.modes(capillary, on_fine_))
      for (const Mode& other : one)
        if (std::abs(mode - other) < kAlike * std::abs(mode)) return mode;
    return std::nullopt;
  }

 private:
  Jet coarse_, fine_;
  VectorXd on_coarse_, on_fine_;
};

}  // namespace

std::optional<std::complex<double>> leading_mode(const SlowJet& jet, double capillary) {
  TwoMeshes both(jet);
  for (const double share : kStarts) {  // from a faster jet down, where it is not found at once
    double now = std::max(share * both.takes_over_speed(), capillary);
    bool there = both.start(now);
    while (there && now > capillary) {
      now = std::max(kStep * now, capillary);
      there = both.to(now);
    }
    if (there) return both.leading(capillary);
  }
  return std::nullopt;
}

std::optional<double> critical_capillary(const SlowJet& jet, std::string& said) {
  constexpr double kLeast = 1e-3;
  TwoMeshes both(jet);
  double capillary = 0.0;
  std::optional<Mode> last;
  for (const double share : kStarts) {
    capillary = share * both.takes_over_speed();
    if (!both.start(capillary)) continue;
    last = both.leading(capillary);
    if (last && last->real() < 0.0) break;
    last.reset();
  }
  if (!last) {
    said = "no steady start";
    return std::nullopt;
  }
  while (capillary > kLeast) {
    if (!both.to(kStep * capillary)) break;
    capillary *= kStep;
    const std::optional<Mode> mode = both.leading(capillary);
    if (!mode) continue;
    if (mode->real() >= 0.0) {
      const double share = mode->real() / (mode->real() - last->real());
      return capillary * std::pow(kStep, -share);
    }
    last = mode;
  }
  said = fmt::format("steady to {:.3g}", capillary);
  return std::nullopt;
}

}  // namespace whorl::testing
