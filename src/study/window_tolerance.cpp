#include "whorl/study/window.hpp"

#include <algorithm>
#include <cmath>

#include "study/window_point.hpp"

namespace whorl::study {
namespace {

double distance(const UnitPoint& a, const UnitPoint& b) { return std::hypot(a.x - b.x, a.y - b.y); }

struct Miss {
  int of_kind{};
  double amount{};
  bool operator<(const Miss& other) const {
    return of_kind != other.of_kind ? of_kind < other.of_kind : amount < other.amount;
  }
};
Miss miss_of(const WindowProbe& probe, const std::vector<WindowConstraint>& constraints) {
  Miss miss;
  for (std::size_t k = 0; k < constraints.size(); ++k) {
    const auto& margin = probe.margins[k];
    if (margin && *margin >= 0.0) continue;
    if (!constraints[k].continuous) ++miss.of_kind;
    // a diameter that does not exist is not a near miss
    else miss.amount += margin ? -*margin : 10.0;
  }
  return miss;
}

}  // namespace
bool inside(const WindowMap& map, const UnitPoint& at) {
  bool in = false;
  for (const WindowRing& ring : map.rings) {
    const std::size_t n = ring.points.size();
    for (std::size_t k = 0, l = n - 1; k < n; l = k++) {
      const UnitPoint& p = ring.points[k];
      const UnitPoint& q = ring.points[l];
      if ((p.y > at.y) != (q.y > at.y) && at.x < p.x + (at.y - p.y) / (q.y - p.y) * (q.x - p.x)) in = !in;
    }
  }
  return in;
}

TolerantPoint tolerance_at(const WindowMap& map, const WindowScale& scale, const UnitPoint& at) {
  TolerantPoint best;
  best.at = at;
  best.tolerance = std::numeric_limits<double>::infinity();
  const UnitPoint here = scale.to_errors(at);
  for (const WindowRing& ring : map.rings) {
    const std::size_t n = ring.points.size();
    for (std::size_t k = 0; k < n; ++k) {
      const UnitPoint& p = ring.points[k];
      const UnitPoint& q = ring.points[(k + 1) % n];
      if (ring.by[k] < 0) {
        if ((p.x == 0.0 && q.x == 0.0 && scale.open[0]) || (p.x == 1.0 && q.x == 1.0 && scale.open[1]) ||
            (p.y == 0.0 && q.y == 0.0 && scale.open[2]) || (p.y == 1.0 && q.y == 1.0 && scale.open[3]))
          continue;
      }
      const UnitPoint a = scale.to_errors(p);
      const UnitPoint b = scale.to_errors(q);
      const double length2 = (b.x - a.x) * (b.x - a.x) + (b.y - a.y) * (b.y - a.y);
      double t = 0.0;
      if (length2 > 0.0)
        t = std::clamp(((here.x - a.x) * (b.x - a.x) + (here.y - a.y) * (b.y - a.y)) / length2, 0.0, 1.0);
      const double far = distance(here, {part_way(a.x, b.x, t), part_way(a.y, b.y, t)});
      if (far >= best.tolerance) continue;
      best.tolerance = far;
      best.nearest = {part_way(p.x, q.x, t), part_way(p.y, q.y, t)};
      best.by = ring.by[k];
    }
  }
  return best;
}

std::optional<TolerantPoint> most_tolerant(const WindowMap& map, const WindowScale& scale) {
  if (map.rings.empty()) return {};
  constexpr int kGrid = 96;
  constexpr std::size_t kStarts = 6;
  std::vector<TolerantPoint> found;
  const auto try_point = [&](const UnitPoint& at) {
    if (inside(map, at)) found.push_back(tolerance_at(map, scale, at));
  };
  for (int i = 0; i < kGrid; ++i)
    for (int j = 0; j < kGrid; ++j) try_point({(i + 0.5) / kGrid, (j + 0.5) / kGrid});
  // narrow regions fall between the points of that grid
  for (const WindowRing& ring : map.rings)
    for (std::size_t k = 0; k < ring.points.size(); ++k) {
      const UnitPoint& p = ring.points[k];
      const UnitPoint& q = ring.points[(k + ring.points.size() / 2) % ring.points.size()];
      try_point({0.5 * (p.x + q.x), 0.5 * (p.y + q.y)});
    }
  for (const WindowNode& node : map.nodes)
    if (node.probe.met()) try_point(node.at);
  if (found.empty()) return {};
  std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.tolerance > b.tolerance; });
  found.resize(std::min(found.size(), kStarts));
  TolerantPoint best = found.front();
  for (TolerantPoint point : found) {
    for (double step = 1.0 / kGrid; step > 1e-6; step *= 0.5) {
      for (bool better = true; better;) {
        better = false;
        for (int a = -1; a <= 1; ++a)
          for (int b = -1; b <= 1; ++b) {
            const UnitPoint at{point.at.x + a * step, point.at.y + b * step};
            if ((a == 0 && b == 0) || at.x < 0.0 || at.x > 1.0 || at.y < 0.0 || at.y > 1.0 || !inside(map, at))
              continue;
            const TolerantPoint other = tolerance_at(map, scale, at);
            if (other.tolerance <= point.tolerance * (1.0 + 1e-12)) continue;
            point = other;
            better = true;
          }
      }
    }
    if (point.tolerance > best.tolerance) best = point;
  }
  return best;
}

NearestMiss nearest_miss(WindowMap& map, const ProbeBatch& probe) {
  const auto best_of = [&](std::size_t first, std::size_t best) {
    for (std::size_t k = first; k < map.nodes.size(); ++k)
      if (miss_of(map.nodes[k].probe, map.constraints) < miss_of(map.nodes[best].probe, map.constraints)) best = k;
    return best;
  };
  std::size_t best = best_of(0, 0);
  for (double step = 1.0 / 16.0; step > 1.0 / 600.0; step *= 0.5) {
    std::vector<UnitPoint> points;
    const UnitPoint at = map.nodes[best].at;
    for (int a = -1; a <= 1; ++a)
      for (int b = -1; b <= 1; ++b) {
        const UnitPoint p{std::clamp(at.x + a * step, 0.0, 1.0), std::clamp(at.y + b * step, 0.0, 1.0)};
        if ((a != 0 || b != 0) && (p.x != at.x || p.y != at.y)) points.push_back(p);
      }
    const std::size_t first = map.nodes.size();
    auto probes = probe(points);
    for (std::size_t k = 0; k < points.size(); ++k) map.nodes.push_back({points[k], std::move(probes[k])});
    best = best_of(first, best);
  }
  NearestMiss miss;
  miss.node = map.nodes[best];
  for (std::size_t k = 0; k < map.constraints.size(); ++k) {
    const auto fails = [&](const WindowProbe& p, std::size_t c) { return !p.margins[c] || *p.margins[c] < 0.0; };
    if (fails(miss.node.probe, k)) miss.unmet.push_back(static_cast<int>(k));
    const bool enough = std::any_of(map.nodes.begin(), map.nodes.end(), [&](const WindowNode& node) {
      for (std::size_t c = 0; c < map.constraints.size(); ++c)
        if (c != k && fails(node.probe, c)) return false;
      return true;
    });
    if (enough) miss.alone.push_back(static_cast<int>(k));
  }
  return miss;
}

}  // namespace whorl::study
