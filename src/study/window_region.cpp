#include "whorl/study/window.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <unordered_map>
#include <utility>

#include "study/window_point.hpp"

namespace whorl::study {
namespace {

constexpr double kNear = 0.25;     // share of a margin's change over a cell by which it may rise between the corners
constexpr double kLooseNear = 0.1;  // of ln(ratio), where only one corner knows the margin

// A cell of the quadtree: position and size in steps of the last level.
struct Leaf {
  int i{}, j{}, size{};
};

// A place where an edge of the last level crosses the boundary, between a point that meets the target and one that does
// not.
struct Crossing {
  std::size_t met{}, missed{};  // nodes at the ends of what is left of the edge
  double at_met{}, at_missed{}; // their position along the edge, 0 at the end that meets
  UnitPoint from, to;           // of the edge: from meets
  double last{-1.0};            // last position tried
  double position{};
  int by{};
  bool done{};
  [[nodiscard]] UnitPoint point(double t) const { return {part_way(from.x, to.x, t), part_way(from.y, to.y, t)}; }
};

// Where the boundary is expected between the two ends of a crossing: the first of the failing margins to reach 0.
// Empty: they jump.
std::optional<double> expected(const WindowMap& map, const Crossing& c) {
  const auto& inside = map.nodes[c.met].probe.margins;
  const auto& outside = map.nodes[c.missed].probe.margins;
  double first = 1.0;
  for (std::size_t k = 0; k < outside.size(); ++k) {
    if (outside[k] && *outside[k] >= 0.0) continue;
    if (!map.constraints[k].continuous || !outside[k] || !inside[k]) return {};
    first = std::min(first, *inside[k] / (*inside[k] - *outside[k]));
  }
  return part_way(c.at_met, c.at_missed, first);
}
// The constraint that fails first beyond the boundary.
int failing(const WindowMap& map, const Crossing& c) {
  const auto& inside = map.nodes[c.met].probe.margins;
  const auto& outside = map.nodes[c.missed].probe.margins;
  int by = 0;
  double first = 2.0;
  for (std::size_t k = 0; k < outside.size(); ++k) {
    if (outside[k] && *outside[k] >= 0.0) continue;
    // conditions of kind come first: where the class changes there may be no diameter to speak of
    const double t = map.constraints[k].continuous && outside[k] && inside[k] ? *inside[k] / (*inside[k] - *outside[k])
                     : map.constraints[k].continuous                           ? 1.5
                                                                                : 0.0;
    if (t >= first) continue;
    first = t;
    by = static_cast<int>(k);
  }
  return by;
}

// Pieces of boundary, each from a vertex to the next with the region on its left.
struct Pieces {
  std::unordered_map<std::uint64_t, std::pair<std::uint64_t, int>> next;
  void add(std::uint64_t from, std::uint64_t to, int by) { next[from] = {to, by}; }
};

// Chains of them, in the same order on every machine, into the map.
template <class Where>
void chain(const Pieces& pieces, const Where& where, WindowMap& map) {
  std::map<std::uint64_t, std::pair<std::uint64_t, int>> ordered(pieces.next.begin(), pieces.next.end());
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
    map.share += area;
    map.rings.push_back(std::move(ring));
  }
  map.share = std::clamp(map.share, 0.0, 1.0);
}

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
    for (const Leaf& leaf : leaves_) {
      const UnitPoint far = position(leaf.i + leaf.size, leaf.j + leaf.size);
      map_.cells.push_back({position(leaf.i, leaf.j), far, state(leaf)});
    }
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
    return {{{leaf.i, leaf.j},
             {leaf.i + leaf.size, leaf.j},
             {leaf.i + leaf.size, leaf.j + leaf.size},
             {leaf.i, leaf.j + leaf.size}}};
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
      if (differs(leaf.i + step, leaf.j) || differs(leaf.i + step, leaf.j + leaf.size) ||
          differs(leaf.i, leaf.j + step) || differs(leaf.i + leaf.size, leaf.j + step))
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
  [[nodiscard]] std::uint64_t edge(int i, int j, int direction) const {
    return 3 * id(i, j) + 1 + static_cast<std::uint64_t>(direction);
  }
  [[nodiscard]] std::uint64_t vertex(int i, int j) const { return 3 * id(i, j); }

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
        const auto guess = expected(map_, c);
        const double width = (c.at_missed - c.at_met) * length;
        double next = 0.5 * (c.at_met + c.at_missed);
        if (guess)
          next = std::clamp(*guess, part_way(c.at_met, c.at_missed, 0.02), part_way(c.at_met, c.at_missed, 0.98));
        if (width <= options_.bracket ||
            (guess && c.last >= 0.0 && std::abs(*guess - c.last) * length < options_.step)) {
          c.done = true;
          c.position = next;
          c.by = failing(map_, c);
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
        if (here && there) pieces_.add(vertex(i, j), vertex(i2, j2), -1);
        if (here && !there) pieces_.add(vertex(i, j), crossing, -1);
        if (!here && there) pieces_.add(crossing, vertex(i2, j2), -1);
      }
      if (s != CellState::boundary) continue;
      const auto by = [&](std::uint64_t v) { return crossings_[crossing_index_.at(v)].by; };
      if (leaving.size() == 1) {
        pieces_.add(leaving[0], entering[0], by(leaving[0]));
        continue;
      }
      // Two pieces. Walk order from a corner that meets: leave 0, enter 0, leave 1, enter 1; from one that does not:
      // enter 0, leave 0, ...
      const bool joined = saddle_.at(id(leaf.i, leaf.j));
      const std::size_t same = starts_inside == joined ? 0 : 1;
      pieces_.add(leaving[0], entering[same], by(leaving[0]));
      pieces_.add(leaving[1], entering[1 - same], by(leaving[1]));
    }
    chain(pieces_, [this](std::uint64_t v) { return where(v); }, map_);
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
  Pieces pieces_;
};
}  // namespace

WindowMap map_window(const std::vector<WindowConstraint>& constraints, const ProbeBatch& probe,
                     const WindowOptions& options) {
  return Mapper(constraints, probe, options).run();
}

}  // namespace whorl::study
