#include "whorl/jet/tension_path.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::jet {

using P = PathState;

namespace {

// Largest value over [0, 1] of the cubic through four values at 0, 1/3, 2/3 and 1.
double cubic_maximum(const std::array<double, 4>& y) {
  double most = std::max({y[0], y[1], y[2], y[3]});
  // in x' = 3 x, by Newton's forward differences: y0 + x' d1 + x'(x'-1)/2 d2 + x'(x'-1)(x'-2)/6 d3
  const double d1 = y[1] - y[0], d2 = y[2] - 2.0 * y[1] + y[0], d3 = y[3] - 3.0 * y[2] + 3.0 * y[1] - y[0];
  // slope a x'^2 + b x' + c
  const double a = 0.5 * d3, b = d2 - d3, c = d1 - 0.5 * d2 + d3 / 3.0;
  const double under = b * b - 4.0 * a * c;
  if (!(under >= 0.0)) return most;
  const double q = -0.5 * (b + std::copysign(std::sqrt(under), b));
  for (const double x : {a != 0.0 ? q / a : -1.0, q != 0.0 ? c / q : -1.0}) {
    if (!(x > 0.0 && x < 3.0)) continue;
    most = std::max(most, y[0] + x * (d1 + (x - 1.0) * (0.5 * d2 + (x - 2.0) * d3 / 6.0)));
  }
  return most;
}

}  // namespace

Curve::Curve(std::vector<double> x, std::vector<double> y)
    : x_(std::move(x)), y_(std::move(y)), slope_(x_.size(), 0.0) {
  const std::size_t n = x_.size();
  // Fritsch & Butland (1984): weighted harmonic mean of the neighbouring slopes, zero at an extremum
  for (std::size_t i = 1; i + 1 < n; ++i) {
    const double ha = x_[i] - x_[i - 1];
    const double hb = x_[i + 1] - x_[i];
    const double da = (y_[i] - y_[i - 1]) / ha;
    const double db = (y_[i + 1] - y_[i]) / hb;
    if (da * db > 0.0) slope_[i] = 3.0 * (ha + hb) / ((2.0 * hb + ha) / da + (hb + 2.0 * ha) / db);
  }
  if (n > 1) {
    slope_[0] = (y_[1] - y_[0]) / (x_[1] - x_[0]);
    slope_[n - 1] = (y_[n - 1] - y_[n - 2]) / (x_[n - 1] - x_[n - 2]);
  }
}

double Curve::at(double s) const {
  const std::size_t n = x_.size();
  if (s <= x_.front()) return y_.front();
  if (s >= x_.back()) return y_.back();
  while (at_ + 1 < n && x_[at_ + 1] < s) ++at_;
  while (at_ > 0 && x_[at_] > s) --at_;
  const double h = x_[at_ + 1] - x_[at_];
  const double x = (s - x_[at_]) / h;
  const double a = y_[at_], b = y_[at_ + 1];
  const double da = h * slope_[at_], db = h * slope_[at_ + 1];
  return a + x * (da + x * (3.0 * (b - a) - 2.0 * da - db + x * (2.0 * (a - b) + da + db)));
}

double SpeedField::log_at(double radius) const {
  // straight on for a while, so that a path that grows longer meets no kink; bounded
  const double beyond = radius - curve_.back();
  return curve_.at(radius) + (beyond > 0.0 ? std::clamp(curve_.last_slope() * beyond, -0.1, 0.1) : 0.0);
}

double SurfaceHistory::dryness(double solvent_ratio) const {
  return std::sqrt(std::max(1.0 - solvent_ratio / start_ratio, 0.0));
}

double SurfaceHistory::share_at(double solvent_ratio) const {
  return share.empty() ? 1.0 : share.at(dryness(solvent_ratio));
}

PathState::Array PathResult::Step::at(double x) const {
  const double a = x, b = x - 1.0 / 3.0, c = x - 2.0 / 3.0, d = x - 1.0;
  const double w0 = -4.5 * b * c * d, w1 = 13.5 * a * c * d, w2 = -13.5 * a * b * d, w3 = 4.5 * a * b * c;
  P::Array out{};
  for (std::size_t k = 0; k < P::kSize; ++k)
    out[k] = w0 * state[0][k] + w1 * state[1][k] + w2 * state[2][k] + w3 * state[3][k];
  return out;
}

PathResult::Place PathResult::at_radius(double radius) const {
  auto it = std::lower_bound(step.begin(), step.end(), radius,
                             [](const Step& s, double v) { return s.state[3][P::kRadius] < v; });
  if (it == step.end()) it = step.end() - 1;
  double low = 0.0, high = 1.0;
  const double ra = it->state[0][P::kRadius], rb = it->state[3][P::kRadius];
  double x = rb > ra ? std::clamp((radius - ra) / (rb - ra), 0.0, 1.0) : 1.0;
  Place place;
  for (int k = 0; k < 60; ++k) {
    place.state = it->at(x);
    const double r = place.state[P::kRadius];
    if (std::abs(r - radius) <= 1e-14 * radius) break;
    (r < radius ? low : high) = x;
    const double climb = place.state[P::kTr];
    double next = climb > 0.0 ? x + (radius - r) / (climb * (it->to - it->from)) : 0.5 * (low + high);
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (std::abs(next - x) < 1e-15) break;
    x = next;
  }
  place.arc_m = it->from + x * (it->to - it->from);
  auto& t = place.state;
  const double size = std::sqrt(t[P::kTr] * t[P::kTr] + t[P::kTa] * t[P::kTa] + t[P::kTz] * t[P::kTz]);
  for (std::size_t k : {P::kTr, P::kTa, P::kTz}) t[k] /= size;
  return place;
}

double pull_of_solid(const PathResult& solid) {
  const P::Array& from = solid.at_solid;
  const auto pull_at = [&](const P::Array& q) {
    return (q[P::kBody] - from[P::kBody]) * std::exp(-q[P::kLogSpeed]) + q[P::kDrag] - from[P::kDrag];
  };
  double most = 0.0;
  // Within steps, too: the largest of the steps' ends alone would answer to where the march happens to put them.
  for (const PathResult::Step& s : solid.step)
    most = std::max(most, cubic_maximum({pull_at(s.state[0]), pull_at(s.state[1]), pull_at(s.state[2]),
                                         pull_at(s.state[3])}));
  return most;
}

}  // namespace whorl::jet
