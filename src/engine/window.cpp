#include "engine/window.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>
#include <unordered_map>
#include <utility>

namespace whorl::engine {
namespace {

using model::CaseInput;
using model::Estimate;

constexpr double kNear = 0.25;     // share of a margin's change over a cell by which it may rise between the corners
constexpr double kLooseNear = 0.1;  // of ln(ratio), where only one corner knows the margin

template <class T>
bool contains(const std::vector<T>& list, T value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

double mix(double a, double b, double t) { return a + t * (b - a); }

// A cell of the quadtree: position and size in steps of the last level.
struct Leaf {
  int i{}, j{}, size{};
};

// A place where an edge of the last level crosses the boundary, between a point that meets the target and one that does not.
struct Crossing {
  std::size_t met{}, missed{};  // nodes at the ends of what is left of the edge
  double at_met{}, at_missed{}; // their position along the edge, 0 at the end that meets
  UnitPoint from, to;           // of the edge: from meets
  double last{-1.0};            // last position tried
  double position{};
  int by{};
  bool done{};
  [[nodiscard]] UnitPoint point(double t) const { return {mix(from.x, to.x, t), mix(from.y, to.y, t)}; }
};

class Mapper {
 public:
  Mapper(const std::vector<WindowConstraint>& constraints, const ProbeBatch& probe, const WindowOptions& options)
      : probe_(probe), options_(options), side_(1 << options.level) {
    map_.constraints = constraints;
  }

  WindowMap run() {
    refine();
    find_crossings();
    find_saddles();
    assemble();
    for (const Leaf& leaf : leaves_) map_.cells.push_back({position(leaf.i, leaf.j), position(leaf.i + leaf.size, leaf.j + leaf.size), state(leaf)});
    return std::move(map_);
  }

 private:
  [[nodiscard]] std::uint64_t id(int i, int j) const {
    return static_cast<std::uint64_t>(i) * static_cast<std::uint64_t>(side_ + 1) + static_cast<std::uint64_t>(j);
  }
  [[nodiscard]] UnitPoint position(int i, int j) const {
    return {static_cast<double>(i) / side_, static_cast<double>(j) / side_};
  }
  [[nodiscard]] const WindowProbe& probe_at(int i, int j) const { return map_.nodes[index_.at(id(i, j))].probe; }
  [[nodiscard]] bool met(int i, int j) const { return probe_at(i, j).met(); }

  // Runs the nodes of the grid that are not known yet.
  void run_nodes(const std::vector<std::pair<int, int>>& wanted) {
    std::vector<std::pair<int, int>> fresh;
    std::vector<UnitPoint> points;
    for (const auto& [i, j] : wanted) {
      if (!index_.try_emplace(id(i, j), map_.nodes.size() + points.size()).second) continue;
      points.push_back(position(i, j));
    }
    add(points);
  }
  // Appends points to the nodes; the number of the first one.
  std::size_t add(const std::vector<UnitPoint>& points) {
    const std::size_t first = map_.nodes.size();
    if (points.empty()) return first;
    auto probes = probe_(points);
    for (std::size_t k = 0; k < points.size(); ++k) map_.nodes.push_back({points[k], std::move(probes[k])});
    return first;
  }

  [[nodiscard]] std::array<std::pair<int, int>, 4> corners(const Leaf& leaf) const {
    return {{{leaf.i, leaf.j}, {leaf.i + leaf.size, leaf.j}, {leaf.i + leaf.size, leaf.j + leaf.size}, {leaf.i, leaf.j + leaf.size}}};
  }
  [[nodiscard]] CellState state(const Leaf& leaf) const {
    int count = 0;
    for (const auto& [i, j] : corners(leaf)) count += met(i, j) ? 1 : 0;
    return count == 4 ? CellState::met : count == 0 ? CellState::missed : CellState::boundary;
  }

  // May the target be met inside a cell although no corner meets it?
  [[nodiscard]] bool may_be_met(const Leaf& leaf) const {
    for (std::size_t k = 0; k < map_.constraints.size(); ++k) {
      int known = 0;
      double low = std::numeric_limits<double>::infinity();
      double high = -low;
      for (const auto& [i, j] : corners(leaf)) {
        const auto& margin = probe_at(i, j).margins[k];
        if (!margin) continue;
        ++known;
        low = std::min(low, *margin);
        high = std::max(high, *margin);
      }
      if (known == 0 || high >= 0.0) continue;
      if (!map_.constraints[k].continuous) return false;
      const double reach = known == 1 ? kLooseNear : kNear * (high - low);
      if (high + reach < 0.0) return false;
    }
    return true;
  }

  // Does a node that is known on the edges of a cell, between its corners, differ from them?
  [[nodiscard]] bool contradicted(const Leaf& leaf) const {
    const bool corner = met(leaf.i, leaf.j);
    const auto differs = [&](int i, int j) {
      const auto found = index_.find(id(i, j));
      return found != index_.end() && map_.nodes[found->second].probe.met() != corner;
    };
    for (int step = 1; step < leaf.size; ++step) {
      if (differs(leaf.i + step, leaf.j) || differs(leaf.i + step, leaf.j + leaf.size) || differs(leaf.i, leaf.j + step) ||
          differs(leaf.i + leaf.size, leaf.j + step))
        return true;
    }
    return false;
  }

  [[nodiscard]] bool splits(const Leaf& leaf) const {
    if (leaf.size == 1) return false;
    const CellState s = state(leaf);
    if (s == CellState::boundary || contradicted(leaf)) return true;
    return s == CellState::missed && may_be_met(leaf);
  }

  void refine() {
    const int step = side_ >> options_.base_level;
    std::vector<std::pair<int, int>> wanted;
    for (int i = 0; i <= side_; i += step)
      for (int j = 0; j <= side_; j += step) wanted.emplace_back(i, j);
    run_nodes(wanted);
    for (int i = 0; i < side_; i += step)
      for (int j = 0; j < side_; j += step) leaves_.push_back({i, j, step});
    for (;;) {
      // The largest cells first: what their parts say may settle the others.
      int largest = 0;
      for (const Leaf& leaf : leaves_)
        if (leaf.size > largest && splits(leaf)) largest = leaf.size;
      if (largest == 0) return;
      std::vector<Leaf> next;
      wanted.clear();
      for (const Leaf& leaf : leaves_) {
        if (leaf.size != largest || !splits(leaf)) {
          next.push_back(leaf);
          continue;
        }
        const int half = leaf.size / 2;
        for (int a = 0; a < 2; ++a)
          for (int b = 0; b < 2; ++b) next.push_back({leaf.i + a * half, leaf.j + b * half, half});
        for (int a = 0; a <= 2; ++a)
          for (int b = 0; b <= 2; ++b) wanted.emplace_back(leaf.i + a * half, leaf.j + b * half);
      }
      run_nodes(wanted);
      leaves_ = std::move(next);
    }
  }

  // Edge from node (i, j) in x (0) or y (1).
  [[nodiscard]] std::uint64_t edge(int i, int j, int direction) const { return 3 * id(i, j) + 1 + static_cast<std::uint64_t>(direction); }
  [[nodiscard]] std::uint64_t vertex(int i, int j) const { return 3 * id(i, j); }

  // Where the boundary is expected between the two ends of a crossing: the first of the failing margins to reach 0. Empty: they jump.
  [[nodiscard]] std::optional<double> expected(const Crossing& c) const {
    const auto& inside = map_.nodes[c.met].probe.margins;
    const auto& outside = map_.nodes[c.missed].probe.margins;
    double first = 1.0;
    for (std::size_t k = 0; k < outside.size(); ++k) {
      if (outside[k] && *outside[k] >= 0.0) continue;
      if (!map_.constraints[k].continuous || !outside[k] || !inside[k]) return {};
      first = std::min(first, *inside[k] / (*inside[k] - *outside[k]));
    }
    return mix(c.at_met, c.at_missed, first);
  }
  // The constraint that fails first beyond the boundary.
  [[nodiscard]] int failing(const Crossing& c) const {
    const auto& inside = map_.nodes[c.met].probe.margins;
    const auto& outside = map_.nodes[c.missed].probe.margins;
    int by = 0;
    double first = 2.0;
    for (std::size_t k = 0; k < outside.size(); ++k) {
      if (outside[k] && *outside[k] >= 0.0) continue;
      // conditions of kind come first: where the class changes there may be no diameter to speak of
      const double t = map_.constraints[k].continuous && outside[k] && inside[k] ? *inside[k] / (*inside[k] - *outside[k])
                       : map_.constraints[k].continuous                           ? 1.5
                                                                                  : 0.0;
      if (t >= first) continue;
      first = t;
      by = static_cast<int>(k);
    }
    return by;
  }

  void add_crossing(int i, int j, int direction) {
    const int i2 = i + (direction == 0 ? 1 : 0);
    const int j2 = j + (direction == 1 ? 1 : 0);
    const bool first = met(i, j);
    if (first == met(i2, j2)) return;
    const auto key = edge(i, j, direction);
    if (!crossing_index_.try_emplace(key, crossings_.size()).second) return;
    Crossing c;
    const std::size_t a = index_.at(id(i, j));
    const std::size_t b = index_.at(id(i2, j2));
    c.met = first ? a : b;
    c.missed = first ? b : a;
    c.at_met = 0.0;
    c.at_missed = 1.0;
    c.from = map_.nodes[c.met].at;
    c.to = map_.nodes[c.missed].at;
    crossings_.push_back(c);
  }

  void find_crossings() {
    for (const Leaf& leaf : leaves_) {
      if (leaf.size != 1 || state(leaf) != CellState::boundary) continue;
      add_crossing(leaf.i, leaf.j, 0);
      add_crossing(leaf.i, leaf.j + 1, 0);
      add_crossing(leaf.i, leaf.j, 1);
      add_crossing(leaf.i + 1, leaf.j, 1);
    }
    const double length = 1.0 / side_;
    for (;;) {
      std::vector<UnitPoint> points;
      std::vector<std::size_t> whose;
      for (std::size_t k = 0; k < crossings_.size(); ++k) {
        Crossing& c = crossings_[k];
        if (c.done) continue;
        const auto guess = expected(c);
        const double width = (c.at_missed - c.at_met) * length;
        double next = 0.5 * (c.at_met + c.at_missed);
        if (guess) next = std::clamp(*guess, mix(c.at_met, c.at_missed, 0.02), mix(c.at_met, c.at_missed, 0.98));
        if (width <= options_.bracket || (guess && c.last >= 0.0 && std::abs(*guess - c.last) * length < options_.step)) {
          c.done = true;
          c.position = next;
          c.by = failing(c);
          continue;
        }
        // after a step of the interpolation that left most of the bracket, halve
        if (c.last >= 0.0 && guess && tried_[k] >= 2) next = 0.5 * (c.at_met + c.at_missed);
        c.last = next;
        points.push_back(c.point(next));
        whose.push_back(k);
      }
      if (points.empty()) return;
      tried_.resize(crossings_.size());
      const std::size_t first = add(points);
      for (std::size_t n = 0; n < whose.size(); ++n) {
        Crossing& c = crossings_[whose[n]];
        ++tried_[whose[n]];
        if (map_.nodes[first + n].probe.met()) {
          c.met = first + n;
          c.at_met = c.last;
        } else {
          c.missed = first + n;
          c.at_missed = c.last;
        }
      }
    }
  }

  // Cells whose corners alternate: the middle says which pair is joined.
  void find_saddles() {
    std::vector<UnitPoint> points;
    std::vector<std::uint64_t> cells;
    for (const Leaf& leaf : leaves_) {
      if (leaf.size != 1) continue;
      const bool a = met(leaf.i, leaf.j);
      if (a != met(leaf.i + 1, leaf.j + 1) || a == met(leaf.i + 1, leaf.j) || a == met(leaf.i, leaf.j + 1)) continue;
      points.push_back({(leaf.i + 0.5) / side_, (leaf.j + 0.5) / side_});
      cells.push_back(id(leaf.i, leaf.j));
    }
    const std::size_t first = add(points);
    for (std::size_t k = 0; k < cells.size(); ++k) saddle_[cells[k]] = map_.nodes[first + k].probe.met();
  }

  void segment(std::uint64_t from, std::uint64_t to, int by) { next_[from] = {to, by}; }
  [[nodiscard]] UnitPoint where(std::uint64_t v) const {
    const std::uint64_t node = v / 3;
    if (v % 3 == 0) {
      return position(static_cast<int>(node / static_cast<std::uint64_t>(side_ + 1)),
                      static_cast<int>(node % static_cast<std::uint64_t>(side_ + 1)));
    }
    const Crossing& c = crossings_[crossing_index_.at(v)];
    return c.point(c.position);
  }

  // Pieces of boundary with the region on their left, then chains of them.
  void assemble() {
    for (const Leaf& leaf : leaves_) {
      const CellState s = state(leaf);
      if (s == CellState::missed) continue;
      const auto c = corners(leaf);
      std::vector<std::uint64_t> leaving, entering;  // crossings in the order of a walk round the cell, anticlockwise
      bool starts_inside = false;
      for (std::size_t k = 0; k < 4; ++k) {
        const auto [i, j] = c[k];
        const auto [i2, j2] = c[(k + 1) % 4];
        const bool here = met(i, j);
        const bool there = met(i2, j2);
        const std::uint64_t crossing = edge(std::min(i, i2), std::min(j, j2), j == j2 ? 0 : 1);
        const bool on_edge = (j == j2 && ((k == 0 && j == 0) || (k == 2 && j == side_))) ||
                             (i == i2 && ((k == 1 && i == side_) || (k == 3 && i == 0)));
        if (here && !there) leaving.push_back(crossing);
        if (!here && there) entering.push_back(crossing);
        if (k == 0) starts_inside = here;
        if (!on_edge) continue;
        if (here && there) segment(vertex(i, j), vertex(i2, j2), -1);
        if (here && !there) segment(vertex(i, j), crossing, -1);
        if (!here && there) segment(crossing, vertex(i2, j2), -1);
      }
      if (s != CellState::boundary) continue;
      const auto by = [&](std::uint64_t v) { return crossings_[crossing_index_.at(v)].by; };
      if (leaving.size() == 1) {
        segment(leaving[0], entering[0], by(leaving[0]));
        continue;
      }
      // Two pieces. Walk order from a corner that meets: leave 0, enter 0, leave 1, enter 1; from one that does not: enter 0, leave 0, ...
      const bool joined = saddle_.at(id(leaf.i, leaf.j));
      const std::size_t same = starts_inside == joined ? 0 : 1;
      segment(leaving[0], entering[same], by(leaving[0]));
      segment(leaving[1], entering[1 - same], by(leaving[1]));
    }
    std::map<std::uint64_t, std::pair<std::uint64_t, int>> ordered(next_.begin(), next_.end());  // the same order on every machine
    while (!ordered.empty()) {
      WindowRing ring;
      std::uint64_t at = ordered.begin()->first;
      for (auto found = ordered.find(at); found != ordered.end(); found = ordered.find(at)) {
        ring.points.push_back(where(at));
        ring.by.push_back(found->second.second);
        at = found->second.first;
        ordered.erase(found);
      }
      double area = 0.0;
      for (std::size_t k = 0; k < ring.points.size(); ++k) {
        const UnitPoint& p = ring.points[k];
        const UnitPoint& q = ring.points[(k + 1) % ring.points.size()];
        area += 0.5 * (p.x * q.y - q.x * p.y);
      }
      map_.share += area;
      map_.rings.push_back(std::move(ring));
    }
    map_.share = std::clamp(map_.share, 0.0, 1.0);
  }

  const ProbeBatch& probe_;
  WindowOptions options_;
  int side_;
  WindowMap map_;
  std::unordered_map<std::uint64_t, std::size_t> index_;  // node of the grid -> number in map_.nodes
  std::vector<Leaf> leaves_;
  std::vector<Crossing> crossings_;
  std::vector<int> tried_ = std::vector<int>(1);
  std::unordered_map<std::uint64_t, std::size_t> crossing_index_;
  std::unordered_map<std::uint64_t, bool> saddle_;
  std::unordered_map<std::uint64_t, std::pair<std::uint64_t, int>> next_;
};

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

std::vector<WindowConstraint> window_constraints(const WindowTarget& target) {
  std::vector<WindowConstraint> constraints{{"result", false}, {"class", false}, {"landing", false}};
  if (target.least_diameter_m) constraints.push_back({"diameter-least", true});
  if (target.most_diameter_m) constraints.push_back({"diameter-most", true});
  if (target.least_throughput_kg_s) constraints.push_back({"throughput", true});
  return constraints;
}

bool WindowProbe::met() const noexcept {
  return std::all_of(margins.begin(), margins.end(), [](const auto& margin) { return margin && *margin >= 0.0; });
}

WindowProbe judge(const Estimate& e, const WindowTarget& target) {
  WindowProbe probe;
  probe.converged = e.status == model::Status::done;
  probe.reason = e.reason;
  const auto yes = [](bool value) { return std::optional<double>(value ? 1.0 : -1.0); };
  probe.margins.push_back(yes(probe.converged));
  if (!probe.converged) {
    probe.margins.resize(window_constraints(target).size());
    return probe;
  }
  probe.fibre_class = e.fibre_class;
  probe.landing = e.landing;
  const bool fibre = (e.torn || e.jet.reached_collector) && e.fibre_class >= model::FibreClass::beaded && e.dry_diameter_m > 0.0;
  if (fibre) {
    probe.diameter_m = e.dry_diameter_m;
    probe.residual_solvent = e.torn ? e.threads.residual_solvent : e.jet.residual_solvent;
    probe.torn = e.torn;
    probe.tearing_probability = e.as_threads.probability;
    const double other = (e.torn ? e.as_line : e.as_threads).diameter_m;
    if (other > 0.0) probe.other_diameter_m = other;
  }
  if (e.run.polymer_throughput_kg_s > 0.0) probe.throughput_kg_s = e.run.polymer_throughput_kg_s;
  probe.margins.push_back(yes(contains(target.classes, e.fibre_class)));
  probe.margins.push_back(yes(target.landings.empty() || contains(target.landings, e.landing)));
  const auto log_ratio = [](const std::optional<double>& a, double b) {
    return a ? std::optional<double>(std::log(*a / b)) : std::nullopt;
  };
  if (target.least_diameter_m) probe.margins.push_back(log_ratio(probe.diameter_m, *target.least_diameter_m));
  if (target.most_diameter_m) {
    const auto ratio = log_ratio(probe.diameter_m, *target.most_diameter_m);
    probe.margins.push_back(ratio ? std::optional<double>(-*ratio) : std::nullopt);
  }
  if (target.least_throughput_kg_s) probe.margins.push_back(log_ratio(probe.throughput_kg_s, *target.least_throughput_kg_s));
  return probe;
}

WindowMap map_window(const std::vector<WindowConstraint>& constraints, const ProbeBatch& probe, const WindowOptions& options) {
  return Mapper(constraints, probe, options).run();
}

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
      if (length2 > 0.0) t = std::clamp(((here.x - a.x) * (b.x - a.x) + (here.y - a.y) * (b.y - a.y)) / length2, 0.0, 1.0);
      const double far = distance(here, {mix(a.x, b.x, t), mix(a.y, b.y, t)});
      if (far >= best.tolerance) continue;
      best.tolerance = far;
      best.nearest = {mix(p.x, q.x, t), mix(p.y, q.y, t)};
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
            if ((a == 0 && b == 0) || at.x < 0.0 || at.x > 1.0 || at.y < 0.0 || at.y > 1.0 || !inside(map, at)) continue;
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

// ---------------------------------------------------------------------------------------------------------

double WindowAxis::value(double unit) const {
  if (unit <= 0.0) return from;
  if (unit >= 1.0) return to;
  return logarithmic ? from * std::pow(to / from, unit) : mix(from, to, unit);
}

double WindowAxis::unit(double value) const {
  return logarithmic ? std::log(value / from) / std::log(to / from) : (value - from) / (to - from);
}

namespace {

CaseInput at_point(const CaseInput& base, const std::array<WindowAxis, 2>& axes, const UnitPoint& at) {
  CaseInput input = base;
  axes[0].set(input, axes[0].value(at.x));
  axes[1].set(input, axes[1].value(at.y));
  return input;
}

}  // namespace

ProbeBatch probe_model(const CaseInput& base, const std::array<WindowAxis, 2>& axes, const WindowTarget& target, const BatchRunner& runner) {
  return [base, axes, target, runner](const std::vector<UnitPoint>& points) {
    std::vector<CaseInput> inputs;
    inputs.reserve(points.size());
    for (const UnitPoint& point : points) inputs.push_back(at_point(base, axes, point));
    std::vector<WindowProbe> probes;
    probes.reserve(points.size());
    for (const Estimate& estimate : runner(inputs)) probes.push_back(judge(estimate, target));
    return probes;
  };
}

std::pair<double, double> wilson_interval(std::size_t count, std::size_t total) {
  constexpr double z = 1.959963984540054;  // 97.5 % of the standard normal distribution
  const auto n = static_cast<double>(total);
  const double p = static_cast<double>(count) / n;
  const double middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
  const double half = z / (1.0 + z * z / n) * std::sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n));
  return {std::max(0.0, middle - half), std::min(1.0, middle + half)};
}

ProbabilityMap map_probability(const CaseInput& base, const std::array<WindowAxis, 2>& axes, const WindowTarget& target,
                               const SamplerAt& samples, const BatchRunner& runner) {
  constexpr int kBase = 8;
  constexpr int kCells = 16;
  constexpr int kStep = kCells / kBase;
  constexpr double kChange = 0.15;
  constexpr std::size_t kBatch = 2048;
  ProbabilityMap map;
  map.cells = kCells;
  map.nodes.resize(static_cast<std::size_t>((kCells + 1) * (kCells + 1)));
  const auto node = [&](int i, int j) -> ProbabilityNode& { return map.nodes[static_cast<std::size_t>(j * (kCells + 1) + i)]; };
  for (int j = 0; j <= kCells; ++j)
    for (int i = 0; i <= kCells; ++i) {
      node(i, j).at = {static_cast<double>(i) / kCells, static_cast<double>(j) / kCells};
      node(i, j).interpolated = true;
    }

  const auto run = [&](const std::vector<std::pair<int, int>>& wanted) {
    constexpr std::array<KindSet, 2> kSets{KindSet{true, true, true}, KindSet{true, true, false}};
    std::vector<CaseInput> batch;
    struct Slot {
      std::size_t node, sample;
      int set;
    };
    std::vector<Slot> slots;
    std::map<std::size_t, std::array<std::vector<bool>, 2>> marks;
    std::map<std::size_t, std::size_t> replicates;
    const auto flush = [&] {
      const auto estimates = runner(batch);
      for (std::size_t k = 0; k < slots.size(); ++k) {
        const WindowProbe probe = judge(estimates[k], target);
        if (!probe.converged) ++map.not_converged;
        marks[slots[k].node][static_cast<std::size_t>(slots[k].set)][slots[k].sample] = probe.met();
      }
      map.runs += batch.size();
      batch.clear();
      slots.clear();
    };
    for (const auto& [i, j] : wanted) {
      ProbabilityNode& at = node(i, j);
      if (!at.interpolated) continue;
      at.interpolated = false;
      const auto number = static_cast<std::size_t>(&at - map.nodes.data());
      const CaseInput input = at_point(base, axes, at.at);
      const Sampler sampler = samples(input);
      replicates[number] = sampler.plan().replicates;
      for (int set = 0; set < 2; ++set) {
        marks[number][static_cast<std::size_t>(set)].assign(sampler.size(), false);
        for (std::size_t s = 0; s < sampler.size(); ++s) {
          batch.push_back(sampler.sample(input, s, kSets[static_cast<std::size_t>(set)]));
          slots.push_back({number, s, set});
          if (batch.size() >= kBatch) flush();
        }
      }
    }
    if (!batch.empty()) flush();
    for (const auto& [number, mark] : marks) {
      ProbabilityNode& at = map.nodes[number];
      at.all = share_of(mark[0], replicates[number]);
      at.known = share_of(mark[1], replicates[number]);
      std::tie(at.low, at.high) = wilson_interval(at.all.count, at.all.total);
    }
  };

  std::vector<std::pair<int, int>> wanted;
  for (int j = 0; j <= kCells; j += kStep)
    for (int i = 0; i <= kCells; i += kStep) wanted.emplace_back(i, j);
  run(wanted);
  wanted.clear();
  for (int j = 0; j < kCells; j += kStep)
    for (int i = 0; i < kCells; i += kStep) {
      const auto [low, high] = std::minmax({node(i, j).all.value, node(i + kStep, j).all.value, node(i, j + kStep).all.value,
                                            node(i + kStep, j + kStep).all.value});
      if (high - low <= kChange) continue;
      for (int a = 0; a <= kStep; ++a)
        for (int b = 0; b <= kStep; ++b) wanted.emplace_back(i + a, j + b);
    }
  run(wanted);

  // The rest between the corners of its base cell.
  for (int j = 0; j <= kCells; ++j)
    for (int i = 0; i <= kCells; ++i) {
      ProbabilityNode& at = node(i, j);
      if (!at.interpolated) continue;
      const int i0 = std::min(i / kStep * kStep, kCells - kStep);
      const int j0 = std::min(j / kStep * kStep, kCells - kStep);
      const double u = static_cast<double>(i - i0) / kStep;
      const double v = static_cast<double>(j - j0) / kStep;
      const std::array<const ProbabilityNode*, 4> corner{&node(i0, j0), &node(i0 + kStep, j0), &node(i0, j0 + kStep), &node(i0 + kStep, j0 + kStep)};
      const std::array<double, 4> weight{(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
      at.all.total = corner[0]->all.total;
      at.known.total = corner[0]->known.total;
      for (std::size_t k = 0; k < 4; ++k) {
        at.all.value += weight[k] * corner[k]->all.value;
        at.all.error += weight[k] * corner[k]->all.error;
        at.known.value += weight[k] * corner[k]->known.value;
        at.known.error += weight[k] * corner[k]->known.error;
        at.low += weight[k] * corner[k]->low;
        at.high += weight[k] * corner[k]->high;
      }
    }
  return map;
}

std::vector<std::vector<UnitPoint>> probability_contour(const ProbabilityMap& map, double level) {
  const int n = map.cells;
  const auto at = [&](int i, int j) -> const ProbabilityNode& { return map.nodes[static_cast<std::size_t>(j * (n + 1) + i)]; };
  const auto above = [&](int i, int j) { return at(i, j).all.value >= level; };
  using Key = std::array<int, 3>;  // node, direction
  const auto point = [&](const Key& key) {
    const ProbabilityNode& a = at(key[0], key[1]);
    const ProbabilityNode& b = at(key[0] + (key[2] == 0 ? 1 : 0), key[1] + (key[2] == 1 ? 1 : 0));
    const double t = (level - a.all.value) / (b.all.value - a.all.value);
    return UnitPoint{mix(a.at.x, b.at.x, t), mix(a.at.y, b.at.y, t)};
  };
  std::map<Key, Key> next;
  for (int j = 0; j < n; ++j)
    for (int i = 0; i < n; ++i) {
      const std::array<std::pair<int, int>, 4> c{{{i, j}, {i + 1, j}, {i + 1, j + 1}, {i, j + 1}}};
      std::vector<Key> leaving, entering;
      for (std::size_t k = 0; k < 4; ++k) {
        const auto [a, b] = c[k];
        const auto [a2, b2] = c[(k + 1) % 4];
        const Key key{std::min(a, a2), std::min(b, b2), b == b2 ? 0 : 1};
        if (above(a, b) && !above(a2, b2)) leaving.push_back(key);
        if (!above(a, b) && above(a2, b2)) entering.push_back(key);
      }
      if (leaving.empty()) continue;
      if (leaving.size() == 1) {
        next[leaving[0]] = entering[0];
        continue;
      }
      const double middle = 0.25 * (at(i, j).all.value + at(i + 1, j).all.value + at(i, j + 1).all.value + at(i + 1, j + 1).all.value);
      const std::size_t same = above(i, j) == (middle >= level) ? 0 : 1;
      next[leaving[0]] = entering[same];
      next[leaving[1]] = entering[1 - same];
    }
  std::vector<std::vector<UnitPoint>> lines;
  // open lines first: those that begin where none ends
  std::map<Key, bool> ends;
  for (const auto& [from, to] : next) ends[to] = true;
  const auto follow = [&](Key from) {
    std::vector<UnitPoint> line{point(from)};
    for (auto found = next.find(from); found != next.end(); found = next.find(from)) {
      from = found->second;
      next.erase(found);
      line.push_back(point(from));
    }
    lines.push_back(std::move(line));
  };
  std::vector<Key> starts;
  for (const auto& [from, to] : next)
    if (ends.find(from) == ends.end()) starts.push_back(from);
  for (const Key& start : starts) follow(start);
  while (!next.empty()) follow(next.begin()->first);
  return lines;
}

}  // namespace whorl::engine
