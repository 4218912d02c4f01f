#include "whorl/model/run_progress.hpp"

#include <algorithm>
#include <vector>

namespace whorl::model {
namespace {

struct Mark {
  double left{}, time{};
};

std::vector<Mark> marks_of(const RunSummary& run) {
  std::vector<Mark> marks{{0.0, 0.0}};
  const auto add = [&](double left, double time) {
    if (left > marks.back().left && time >= marks.back().time) marks.push_back({left, time});
  };
  for (const RunPoint& point : run.points)
    if (point.emptied_fraction < run.emptied_fraction && point.time_s < run.run_time_s)
      add(point.emptied_fraction, point.time_s);
  add(run.emptied_fraction, run.run_time_s);
  return marks;
}

}  // namespace

double time_when_left_s(const RunSummary& run, double share) {
  if (run.points.empty()) return 0.0;
  const std::vector<Mark> m = marks_of(run);
  const std::size_t n = m.size();
  if (n < 2) return 0.0;
  const auto slope = [&](std::size_t i) { return (m[i + 1].time - m[i].time) / (m[i + 1].left - m[i].left); };
  // of the curve at a mark; at the ends, that of the chord
  const auto tangent = [&](std::size_t i) {
    if (i == 0) return slope(0);
    if (i + 1 == n) return slope(n - 2);
    const double before = slope(i - 1);
    const double after = slope(i);
    if (!(before * after > 0.0)) return 0.0;
    const double h0 = m[i].left - m[i - 1].left;
    const double h1 = m[i + 1].left - m[i].left;
    const double w0 = 2.0 * h1 + h0;
    const double w1 = h1 + 2.0 * h0;
    return (w0 + w1) / (w0 / before + w1 / after);
  };
  const double wanted = std::clamp(share, 0.0, 1.0) * run.emptied_fraction;
  std::size_t i = 0;
  while (i + 2 < n && m[i + 1].left < wanted) ++i;
  const double h = m[i + 1].left - m[i].left;
  const double q = std::clamp((wanted - m[i].left) / h, 0.0, 1.0);
  const double p = 1.0 - q;
  return p * p * (1.0 + 2.0 * q) * m[i].time + q * q * (1.0 + 2.0 * p) * m[i + 1].time +
         h * q * p * (p * tangent(i) - q * tangent(i + 1));
}

double before_the_dribble_s(const RunSummary& run) {
  constexpr double kShare = 0.9, kOfTime = 0.7;
  const double most = time_when_left_s(run, kShare);
  return most < kOfTime * run.run_time_s ? most : 0.0;
}

}  // namespace whorl::model
