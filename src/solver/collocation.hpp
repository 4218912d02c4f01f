// Two-point boundary-value problems of smooth systems: collocation at Lobatto points, Newton's method, mesh adapted to
// the defect.
#pragma once
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <vector>

#include <Eigen/Core>
#include <Eigen/LU>

#include "solver/banded.hpp"
#include "solver/dual.hpp"

namespace whorl::solver {

/// y' = f(x, y), conditions at both ends, N components. What f depends on besides must be smooth within the cells.
struct CollocationOptions {
  double tolerance{1e-4};        ///< estimated error of every component, over its scale
  double newton_tolerance{1e-9}; ///< largest Newton step over its scale at which the solution counts as found
  int most_newton{25};           ///< on each mesh
  int most_meshes{8};
  std::size_t most_cells{200};
  bool adapt{true};              ///< false: on the mesh given
};

struct CollocationWork {
  int newton{}, meshes{};
  std::size_t evaluations{};
};

/// Solution on the nodes and the two points inside each cell: entry 3 i is node i, entries 3 i + 1, 3 i + 2 lie inside
/// cell i.
template <std::size_t N>
struct CollocationSolution {
  bool converged{};
  std::string reason{"not run"};
  double error{};                          ///< estimate, over the scale
  std::vector<double> x;
  std::vector<std::array<double, N>> y, rate;
  CollocationWork work;
  [[nodiscard]] std::size_t cells() const { return (x.size() - 1) / 3; }
};

/// Lobatto points of order 6 on [0, 1]: weights of the integrals from 0 to each point, and to 1.
namespace lobatto {
inline const double kInner = 0.5 - 0.1 * std::sqrt(5.0);  // the other is 1 - kInner
struct Table {
  std::array<double, 4> point{};
  std::array<std::array<double, 4>, 4> to{};  ///< to[k][j]: weight of rate j in the integral from 0 to point k
};
/// From the polynomials themselves.
[[nodiscard]] inline Table make() {
  Table t;
  t.point = {0.0, kInner, 1.0 - kInner, 1.0};
  for (std::size_t j = 0; j < 4; ++j) {
    // Lagrange polynomial of point j, by powers
    std::array<double, 4> c{1.0, 0.0, 0.0, 0.0};
    double scale = 1.0;
    std::size_t degree = 0;
    for (std::size_t k = 0; k < 4; ++k) {
      if (k == j) continue;
      for (std::size_t d = degree + 1; d > 0; --d) c[d] = c[d - 1] - t.point[k] * c[d];
      c[0] *= -t.point[k];
      ++degree;
      scale *= t.point[j] - t.point[k];
    }
    for (std::size_t k = 0; k < 4; ++k) {
      double power = t.point[k], sum = 0.0;
      for (std::size_t d = 0; d < 4; ++d, power *= t.point[k]) sum += c[d] * power / static_cast<double>(d + 1);
      t.to[k][j] = sum / scale;
    }
  }
  return t;
}
[[nodiscard]] inline const Table& table() {
  static const Table t = make();
  return t;
}
}  // namespace lobatto

/// Lobatto IIIA with four points: order 6 at the nodes, 5 in between. Equations of the inner points are eliminated cell
/// by cell, the nodes solved for as one banded system. `rates(x, y, f)`: for y of Dual<N>, f(x, y); false outside the
/// domain. `start(y)`: conditions at the first node, `end(y)` at the last (each an array of duals, K and N - K of them,
/// zero when met). `guess`: x and y of the start, x as laid out in CollocationSolution; scale: size of each component.
/// Error: converged false with a reason; never throws, never NaN in a converged solution.
/// Source: Lobatto IIIA: Hairer & Wanner, Solving Ordinary Differential Equations II, ch. IV.5 (from memory); mesh rule
/// our own
template <std::size_t N, std::size_t K, class Rates, class Start, class End>
class Collocation {
  using D = Dual<N>;
  using Point = std::array<double, N>;
  static constexpr int kN = static_cast<int>(N);
  using Square = Eigen::Matrix<double, kN, kN>;
  using Vector = Eigen::Matrix<double, kN, 1>;
  using Wide = Eigen::Matrix<double, 2 * kN, 2 * kN>;
  using Tall = Eigen::Matrix<double, 2 * kN, 2 * kN + 1>;
  using Inner = std::vector<Tall, Eigen::aligned_allocator<Tall>>;

 public:
  Collocation(Rates rates, Start start, End end, Point scale, CollocationOptions options)
      : rates_(std::move(rates)), start_(std::move(start)), end_(std::move(end)), scale_(scale), options_(options) {}

  [[nodiscard]] CollocationSolution<N> solve(std::vector<double> node, const std::vector<double>& x,
                                             const std::vector<Point>& y) {
    CollocationSolution<N> out;
    lay(out, node);
    for (std::size_t i = 0; i < out.x.size(); ++i) out.y[i] = between(x, y, out.x[i]);
    for (int mesh = 0;; ++mesh) {
      ++out.work.meshes;
      // close enough to judge the mesh by, first
      const bool found = newton(out, options_.adapt ? std::max(kClose, close_enough()) : close_enough());
      std::vector<double> cell;
      if (found) {
        cell = defects(out);
        out.error = *std::max_element(cell.begin(), cell.end());
        if (!options_.adapt && !std::isfinite(out.error)) {
          out.reason = "the defect is not finite";
          return out;
        }
      }
      if (!found || !(out.error < kUseless)) {
        // nothing to improve: from the guess again, on cells halved
        if (!options_.adapt || mesh >= kHalvings || 2 * out.cells() > options_.most_cells) {
          if (found) out.reason = "the mesh allowed";
          return out;
        }
        std::vector<double> halved;
        for (std::size_t i = 0; i + 1 < node.size(); ++i) {
          halved.push_back(node[i]);
          halved.push_back(0.5 * (node[i] + node[i + 1]));
        }
        halved.push_back(node.back());
        node = std::move(halved);
        lay(out, node);
        for (std::size_t i = 0; i < out.x.size(); ++i) out.y[i] = between(x, y, out.x[i]);
        continue;
      }
      if (!options_.adapt || out.error <= options_.tolerance) {
        if (options_.adapt && !newton(out, close_enough())) return out;
        out.converged = true;
        return out;
      }
      if (mesh + 1 >= options_.most_meshes || out.cells() >= options_.most_cells) {
        out.reason = "the mesh allowed";
        return out;
      }
      const CollocationSolution<N> old = out;
      node = next_mesh(old, cell);
      lay(out, node);
      for (std::size_t i = 0; i < out.x.size(); ++i) out.y[i] = inside(old, out.x[i]);
    }
  }

  /// The collocation polynomial.
  [[nodiscard]] static Point inside(const CollocationSolution<N>& s, double x) {
    std::size_t low = 0, high = s.cells() - 1;
    while (low < high) {
      const std::size_t mid = (low + high + 1) / 2;
      if (s.x[3 * mid] <= x) low = mid; else high = mid - 1;
    }
    const std::size_t at = 3 * low;
    const double h = s.x[at + 3] - s.x[at];
    return moved(s, at, h, std::clamp((x - s.x[at]) / h, 0.0, 1.0));
  }

 private:
  static void lay(CollocationSolution<N>& s, const std::vector<double>& node) {
    const std::size_t cells = node.size() - 1;
    s.x.resize(3 * cells + 1);
    s.y.assign(s.x.size(), Point{});
    s.rate.assign(s.x.size(), Point{});
    for (std::size_t i = 0; i < cells; ++i) {
      const double h = node[i + 1] - node[i];
      s.x[3 * i] = node[i];
      s.x[3 * i + 1] = node[i] + lobatto::kInner * h;
      s.x[3 * i + 2] = node[i] + (1.0 - lobatto::kInner) * h;
    }
    s.x.back() = node.back();
  }

  static Point between(const std::vector<double>& x, const std::vector<Point>& y, double at) {
    if (at <= x.front()) return y.front();
    if (at >= x.back()) return y.back();
    const auto i = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
    const double w = (at - x[i - 1]) / (x[i] - x[i - 1]);
    Point out;
    for (std::size_t k = 0; k < N; ++k) out[k] = y[i - 1][k] + w * (y[i][k] - y[i - 1][k]);
    return out;
  }

  // y at the share q of the cell that begins at entry `at`: the rates' cubic, integrated.
  static Point moved(const CollocationSolution<N>& s, std::size_t at, double h, double q) {
    const auto& t = lobatto::table();
    const double a = t.point[1], b = t.point[2];
    // integrals from 0 to q of the four Lagrange polynomials
    const auto integral = [&](double r0, double r1, double r2) {  // of (x - r0)(x - r1)(x - r2)
      const double e1 = r0 + r1 + r2, e2 = r0 * r1 + r0 * r2 + r1 * r2, e3 = r0 * r1 * r2;
      return q * (q * (q * (0.25 * q - e1 / 3.0) + 0.5 * e2) - e3);
    };
    const double w0 = integral(a, b, 1.0) / (-a * b), w1 = integral(0.0, b, 1.0) / (a * (a - b) * (a - 1.0)),
                 w2 = integral(0.0, a, 1.0) / (b * (b - a) * (b - 1.0)),
                 w3 = integral(0.0, a, b) / ((1.0 - a) * (1.0 - b));
    Point out = s.y[at];
    for (std::size_t k = 0; k < N; ++k) {
      out[k] += h * (w0 * s.rate[at][k] + w1 * s.rate[at + 1][k] + w2 * s.rate[at + 2][k] + w3 * s.rate[at + 3][k]);
    }
    return out;
  }

  // Rates and their slopes at every point. False: outside the domain.
  bool evaluate(const std::vector<double>& x, const std::vector<Point>& y, std::vector<Point>& rate,
                std::vector<Square>* slope, CollocationWork& work) {
    for (std::size_t i = 0; i < x.size(); ++i) {
      ++work.evaluations;
      if (slope == nullptr) {
        if (!rates_(x[i], y[i], rate[i])) return false;
        for (double r : rate[i]) {
          if (!std::isfinite(r)) return false;
        }
        continue;
      }
      std::array<D, N> v, f;
      for (std::size_t k = 0; k < N; ++k) v[k] = D::independent(y[i][k], k);
      if (!rates_(x[i], v, f)) return false;
      for (std::size_t k = 0; k < N; ++k) {
        rate[i][k] = f[k].value;
        if (!std::isfinite(f[k].value)) return false;
        for (std::size_t j = 0; j < N; ++j) (*slope)[i](static_cast<int>(k), static_cast<int>(j)) = f[k].slope[j];
      }
    }
    return true;
  }

  // What the equations of a cell leave over at its points 1, 2, 3.
  void leftover(const CollocationSolution<N>& s, const std::vector<Point>& y, const std::vector<Point>& rate,
                std::vector<Point>& out) const {
    const auto& t = lobatto::table();
    for (std::size_t at = 0; at + 3 < s.x.size(); at += 3) {
      const double h = s.x[at + 3] - s.x[at];
      for (std::size_t k = 1; k < 4; ++k) {
        for (std::size_t c = 0; c < N; ++c) {
          double sum = 0.0;
          for (std::size_t j = 0; j < 4; ++j) sum += t.to[k][j] * rate[at + j][c];
          out[at + k][c] = y[at + k][c] - y[at][c] - h * sum;
        }
      }
    }
  }

  [[nodiscard]] double size_of(const std::vector<Point>& left, const std::vector<Point>& y) {
    double sum = 0.0;
    for (std::size_t i = 1; i < left.size(); ++i) {
      for (std::size_t c = 0; c < N; ++c) {
        const double q = left[i][c] / scale_[c];
        sum += q * q;
      }
    }
    std::array<D, N> v;
    for (std::size_t k = 0; k < N; ++k) v[k] = D(y.front()[k]);
    for (const D& d : start_(v)) sum += d.value * d.value;
    for (std::size_t k = 0; k < N; ++k) v[k] = D(y.back()[k]);
    for (const D& d : end_(v)) sum += d.value * d.value;
    return std::isfinite(sum) ? std::sqrt(sum) : 1e300;
  }

  // Newton's method on one mesh, with halved steps. A solution is known when a full step is below `until`.
  bool newton(CollocationSolution<N>& s, double until);
  // Equations of a cell: of its inner points, eliminated into `by`, and of its far node, into the matrix.
  void add_cell(const CollocationSolution<N>& s, std::size_t i, const std::vector<Square>& slope,
                const std::vector<Point>& left, Tall& by, BandMatrix& matrix, std::vector<double>& right) const;
  // The step at every point from that at the nodes; its largest component over the scale.
  double unpack(const Inner& inner, const std::vector<double>& right, std::vector<Point>& step) const;
  // What is left after the last step is the square of it, about.
  [[nodiscard]] double close_enough() const { return std::sqrt(options_.newton_tolerance); }
  static constexpr double kClose = 1e-2;
  static constexpr double kUseless = 1.0;  // error of a solution that is no start for the next mesh
  static constexpr int kHalvings = 3;

  // Defect in the middle of each cell over the scale, as an error of y in the cell: y' - f there, times the cell.
  std::vector<double> defects(CollocationSolution<N>& s) {
    const auto& t = lobatto::table();
    const double a = t.point[1], b = t.point[2], q = 0.5;
    const double w0 = (q - a) * (q - b) * (q - 1.0) / (-a * b),
                 w1 = q * (q - b) * (q - 1.0) / (a * (a - b) * (a - 1.0)),
                 w2 = q * (q - a) * (q - 1.0) / (b * (b - a) * (b - 1.0)),
                 w3 = q * (q - a) * (q - b) / ((1.0 - a) * (1.0 - b));
    std::vector<double> out(s.cells());
    std::array<D, N> v, f;
    for (std::size_t i = 0; i < out.size(); ++i) {
      const std::size_t at = 3 * i;
      const double h = s.x[at + 3] - s.x[at];
      ++s.work.evaluations;
      const Point middle = moved(s, at, h, q);
      for (std::size_t c = 0; c < N; ++c) v[c] = D::independent(middle[c], c);
      if (!rates_(s.x[at] + q * h, v, f)) {
        out[i] = std::numeric_limits<double>::infinity();
        continue;
      }
      // the defect changes sign at the points inside: a seventh of its peak times the cell is left in y at most, taken
      // twice; less of what decays (or grows) within the cell
      constexpr double kLeft = 2.0 / 7.0;
      Vector left;
      Square slope;
      for (std::size_t c = 0; c < N; ++c) {
        const double rate =
            w0 * s.rate[at][c] + w1 * s.rate[at + 1][c] + w2 * s.rate[at + 2][c] + w3 * s.rate[at + 3][c];
        const auto row = static_cast<int>(c);
        left(row) = kLeft * h * (f[c].value - rate) / scale_[c];
        for (std::size_t j = 0; j < N; ++j)
          slope(row, static_cast<int>(j)) = kLeft * h * f[c].slope[j] * scale_[j] / scale_[c];
      }
      const Vector one = (Square::Identity() - slope).partialPivLu().solve(left);
      const Vector other = (Square::Identity() + slope).partialPivLu().solve(left);
      const double size = std::min(one.template lpNorm<Eigen::Infinity>(), other.template lpNorm<Eigen::Infinity>());
      out[i] = std::isfinite(size) ? size : std::numeric_limits<double>::infinity();
    }
    return out;
  }

  // Fifth order in the cell: each divided into as many as the tolerance asks for. None grows: what the defect does not
  // see (a layer at an end that holds the rest still) stays resolved.
  std::vector<double> next_mesh(const CollocationSolution<N>& s, const std::vector<double>& cell) const {
    const double aim = 0.5 * options_.tolerance;
    std::vector<double> node{s.x.front()};
    for (std::size_t i = 0; i < cell.size(); ++i) {
      const double h = s.x[3 * i + 3] - s.x[3 * i];
      int parts = static_cast<int>(std::clamp(std::ceil(std::pow(std::max(cell[i], 1e-300) / aim, 0.2)), 1.0, 4.0));
      if (i + 4 >= cell.size())
        parts = std::max(parts, 2);  // what such a layer leaves over rings through the whole thread
      for (int k = 1; k < parts; ++k) node.push_back(s.x[3 * i] + h * k / parts);
      node.push_back(s.x[3 * i + 3]);
    }
    return node;
  }

  Rates rates_;
  Start start_;
  End end_;
  Point scale_;
  CollocationOptions options_;
};

template <std::size_t N, std::size_t K, class Rates, class Start, class End>
bool Collocation<N, K, Rates, Start, End>::newton(CollocationSolution<N>& s, double until) {
  const std::size_t points = s.x.size(), cells = s.cells();
  std::vector<Square> slope(points);
  std::vector<Point> left(points, Point{}), trial(points), trial_rate(points), trial_left(points, Point{}),
      step(points);
  Inner inner(cells);
  BandMatrix matrix((cells + 1) * N, N + K - 1, 2 * N - K - 1);
  std::vector<double> right((cells + 1) * N);
  for (int it = 0; it < options_.most_newton; ++it) {
    if (!evaluate(s.x, s.y, s.rate, &slope, s.work)) {
      s.reason = "outside the domain";
      return false;
    }
    ++s.work.newton;
    leftover(s, s.y, s.rate, left);
    const double before = size_of(left, s.y);
    matrix.clear();
    std::array<D, N> v;
    for (std::size_t k = 0; k < N; ++k) v[k] = D::independent(s.y.front()[k], k);
    const auto a = start_(v);
    static_assert(std::tuple_size_v<decltype(start_(v))> == K && std::tuple_size_v<decltype(end_(v))> == N - K);
    for (std::size_t r = 0; r < K; ++r) {
      right[r] = -a[r].value;
      for (std::size_t j = 0; j < N; ++j) matrix.at(r, j) = a[r].slope[j];
    }
    for (std::size_t i = 0; i < cells; ++i) add_cell(s, i, slope, left, inner[i], matrix, right);
    for (std::size_t k = 0; k < N; ++k) v[k] = D::independent(s.y.back()[k], k);
    const auto e = end_(v);
    for (std::size_t r = 0; r < N - K; ++r) {
      right[K + cells * N + r] = -e[r].value;
      for (std::size_t j = 0; j < N; ++j) matrix.at(K + cells * N + r, cells * N + j) = e[r].slope[j];
    }
    if (!matrix.factorize()) {
      s.reason = "singular";
      return false;
    }
    matrix.solve(right);
    const double largest = unpack(inner, right, step);
    if (!(largest < 1e100)) {
      s.reason = "the step is not finite";
      return false;
    }
    bool better = false;
    double share = std::min(1.0, 2.0 / largest);
    for (int cut = 0; cut < 8; ++cut, share *= 0.5) {
      for (std::size_t i = 0; i < points; ++i) {
        for (std::size_t c = 0; c < N; ++c) trial[i][c] = s.y[i][c] + share * step[i][c];
      }
      if (largest < 1e-3 && cut == 0) {  // close: full steps
        better = true;
        break;
      }
      if (!evaluate(s.x, trial, trial_rate, nullptr, s.work)) continue;
      leftover(s, trial, trial_rate, trial_left);
      if (size_of(trial_left, trial) < before * (1.0 - 1e-3 * share)) {
        better = true;
        break;
      }
    }
    if (!better) {
      s.reason = "Newton's method";
      return false;
    }
    std::swap(s.y, trial);
    if (largest <= until && share == 1.0) {
      // the step just taken: quadratically less is left
      if (!evaluate(s.x, s.y, s.rate, nullptr, s.work)) break;
      s.reason = "Newton";
      return true;
    }
  }
  s.reason = "Newton's method";
  return false;
}

template <std::size_t N, std::size_t K, class Rates, class Start, class End>
void Collocation<N, K, Rates, Start, End>::add_cell(const CollocationSolution<N>& s, std::size_t i,
                                                    const std::vector<Square>& slope, const std::vector<Point>& left,
                                                    Tall& by, BandMatrix& matrix, std::vector<double>& right) const {
  const auto& t = lobatto::table();
  const std::size_t at = 3 * i;
  const double h = s.x[at + 3] - s.x[at];
  // inner points by both nodes: [dY1; dY2] = inner [dy0, dy3, 1]
  Wide left_side = Wide::Identity();
  for (int k = 0; k < 2; ++k) {
    const auto& w = t.to[static_cast<std::size_t>(k + 1)];
    for (int j = 0; j < 2; ++j)
      left_side.template block<kN, kN>(k * kN, j * kN) -=
          h * w[static_cast<std::size_t>(j + 1)] * slope[at + static_cast<std::size_t>(j + 1)];
    by.template block<kN, kN>(k * kN, 0) = Square::Identity() + h * w[0] * slope[at];
    by.template block<kN, kN>(k * kN, kN) = h * w[3] * slope[at + 3];
    for (int c = 0; c < kN; ++c)
      by(k * kN + c, 2 * kN) = -left[at + static_cast<std::size_t>(k + 1)][static_cast<std::size_t>(c)];
  }
  by = left_side.partialPivLu().solve(by).eval();
  // dy3 - dy0 - h sum b_j J_j dY_j = -left
  const auto& b = t.to[3];
  Square by0 = -Square::Identity() - h * b[0] * slope[at];
  Square by3 = Square::Identity() - h * b[3] * slope[at + 3];
  Vector rest;
  for (int c = 0; c < kN; ++c) rest(c) = -left[at + 3][static_cast<std::size_t>(c)];
  for (int k = 0; k < 2; ++k) {
    const Square part = h * b[static_cast<std::size_t>(k + 1)] * slope[at + static_cast<std::size_t>(k + 1)];
    by0 -= part * by.template block<kN, kN>(k * kN, 0);
    by3 -= part * by.template block<kN, kN>(k * kN, kN);
    rest += part * by.template block<kN, 1>(k * kN, 2 * kN);
  }
  for (std::size_t r = 0; r < N; ++r) {
    const std::size_t row = K + i * N + r;
    right[row] = rest(static_cast<int>(r));
    for (std::size_t j = 0; j < N; ++j) {
      matrix.at(row, i * N + j) = by0(static_cast<int>(r), static_cast<int>(j));
      matrix.at(row, (i + 1) * N + j) = by3(static_cast<int>(r), static_cast<int>(j));
    }
  }
}

template <std::size_t N, std::size_t K, class Rates, class Start, class End>
double Collocation<N, K, Rates, Start, End>::unpack(const Inner& inner, const std::vector<double>& right,
                                                    std::vector<Point>& step) const {
  const std::size_t cells = inner.size();
  double largest = 0.0;
  const auto take = [&](std::size_t entry, std::size_t c, double value) {
    step[entry][c] = value;
    const double q = std::abs(value) / scale_[c];
    largest = std::isfinite(q) ? std::max(largest, q) : 1e300;
  };
  for (std::size_t i = 0; i <= cells; ++i) {
    for (std::size_t c = 0; c < N; ++c) take(3 * i, c, right[i * N + c]);
  }
  for (std::size_t i = 0; i < cells; ++i) {
    Eigen::Matrix<double, 2 * kN + 1, 1> ends;
    for (int c = 0; c < 2 * kN; ++c) ends(c) = right[i * N + static_cast<std::size_t>(c)];
    ends(2 * kN) = 1.0;
    const Eigen::Matrix<double, 2 * kN, 1> both = inner[i] * ends;
    for (std::size_t k = 0; k < 2; ++k) {
      for (std::size_t c = 0; c < N; ++c) take(3 * i + 1 + k, c, both(static_cast<int>(k * N + c)));
    }
  }
  return largest;
}

}  // namespace whorl::solver
