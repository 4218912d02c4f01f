#include "figures/contour.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <stdexcept>
#include <unordered_map>

namespace whorl::figures {
namespace {

struct Lattice {
  const std::vector<double>& x;
  const std::vector<double>& y;
  const std::vector<double>& values;
};

void check(const GridField& field, double level) {
  const auto rises = [](const std::vector<double>& axis) {
    return axis.size() >= 2 && std::all_of(axis.begin(), axis.end(), [](double v) { return std::isfinite(v); }) &&
           std::adjacent_find(axis.begin(), axis.end(), [](double a, double b) { return !(a < b); }) == axis.end();
  };
  if (!rises(field.x) || !rises(field.y))
    throw std::invalid_argument("axes of a grid must have two values or more and rise");
  if (field.values.size() != field.x.size() * field.y.size())
    throw std::invalid_argument("a grid needs one value at each crossing");
  if (!std::isfinite(level) ||
      !std::all_of(field.values.begin(), field.values.end(), [](double v) { return std::isfinite(v); }))
    throw std::invalid_argument("values of a grid must be finite");
}

// A crossing of the level sits on one edge of the grid. Edges are numbered so that both cells beside one agree on it.
using EdgeId = std::uint64_t;
EdgeId horizontal(std::size_t column, std::size_t row, std::size_t columns) { return 2 * (row * columns + column); }
EdgeId vertical(std::size_t column, std::size_t row, std::size_t columns) { return 2 * (row * columns + column) + 1; }

class Tracer {
 public:
  Tracer(const Lattice& lattice, double level) : grid_{lattice}, level_{level}, columns_{lattice.x.size()} {}

  std::vector<ContourLine> trace() {
    for (std::size_t row = 0; row + 1 < grid_.y.size(); ++row)
      for (std::size_t column = 0; column + 1 < columns_; ++column) cell(column, row);
    return joined();
  }

 private:
  double value(std::size_t column, std::size_t row) const { return grid_.values[row * columns_ + column]; }
  bool high(std::size_t column, std::size_t row) const { return value(column, row) >= level_; }

  // Segments run with the high side to their left.
  void segment(EdgeId from, EdgeId to) {
    starts_.emplace(from, segments_.size());
    segments_.push_back({from, to});
    ends_.emplace(to, true);
  }

  void cell(std::size_t c, std::size_t r) {
    const EdgeId bottom = horizontal(c, r, columns_);
    const EdgeId top = horizontal(c, r + 1, columns_);
    const EdgeId left = vertical(c, r, columns_);
    const EdgeId right = vertical(c + 1, r, columns_);
    const int corners =
        (high(c, r) ? 1 : 0) + (high(c + 1, r) ? 2 : 0) + (high(c + 1, r + 1) ? 4 : 0) + (high(c, r + 1) ? 8 : 0);
    const bool centre = 0.25 * (value(c, r) + value(c + 1, r) + value(c + 1, r + 1) + value(c, r + 1)) >= level_;
    switch (corners) {
      case 1: segment(bottom, left); break;
      case 2: segment(right, bottom); break;
      case 3: segment(right, left); break;
      case 4: segment(top, right); break;
      case 6: segment(top, bottom); break;
      case 7: segment(top, left); break;
      case 8: segment(left, top); break;
      case 9: segment(bottom, top); break;
      case 11: segment(right, top); break;
      case 12: segment(left, right); break;
      case 13: segment(bottom, right); break;
      case 14: segment(left, bottom); break;
      case 5:
        segment(bottom, centre ? right : left);
        segment(top, centre ? left : right);
        break;
      case 10:
        segment(centre ? left : right, bottom);
        segment(centre ? right : left, top);
        break;
      default: break;
    }
  }

  ContourPoint point(EdgeId edge) const {
    const std::size_t node = static_cast<std::size_t>(edge / 2);
    const std::size_t column = node % columns_;
    const std::size_t row = node / columns_;
    const bool is_vertical = edge % 2 == 1;
    const double a = value(column, row);
    const double b = is_vertical ? value(column, row + 1) : value(column + 1, row);
    const double share = std::clamp((level_ - a) / (b - a), 0.0, 1.0);
    if (is_vertical) return {grid_.x[column], grid_.y[row] + share * (grid_.y[row + 1] - grid_.y[row])};
    return {grid_.x[column] + share * (grid_.x[column + 1] - grid_.x[column]), grid_.y[row]};
  }

  std::vector<ContourLine> joined() {
    std::vector<ContourLine> lines;
    std::vector<bool> used(segments_.size(), false);
    const auto follow = [&](std::size_t first) {
      ContourLine line{point(segments_[first].from)};
      std::size_t at = first;
      while (!used[at]) {
        used[at] = true;
        line.push_back(point(segments_[at].to));
        const auto next = starts_.find(segments_[at].to);
        if (next == starts_.end()) break;
        at = next->second;
      }
      lines.push_back(std::move(line));
    };
    // Open lines from where they enter the grid, then the closed ones.
    for (std::size_t i = 0; i < segments_.size(); ++i)
      if (!used[i] && !ends_.contains(segments_[i].from)) follow(i);
    for (std::size_t i = 0; i < segments_.size(); ++i)
      if (!used[i]) follow(i);
    return lines;
  }

  struct Segment {
    EdgeId from, to;
  };
  Lattice grid_;
  double level_;
  std::size_t columns_;
  std::vector<Segment> segments_;
  std::unordered_map<EdgeId, std::size_t> starts_;
  std::unordered_map<EdgeId, bool> ends_;
};

}  // namespace

std::vector<ContourLine> iso_lines(const GridField& field, double level) {
  check(field, level);
  return Tracer({field.x, field.y, field.values}, level).trace();
}

std::vector<ContourLine> iso_region(const GridField& field, double level) {
  check(field, level);
  // A rim of low values on the edge itself: cells of no width, through which every line closes.
  const auto widened = [](const std::vector<double>& axis) {
    std::vector<double> out{axis.front()};
    out.insert(out.end(), axis.begin(), axis.end());
    out.push_back(axis.back());
    return out;
  };
  const std::vector<double> x = widened(field.x);
  const std::vector<double> y = widened(field.y);
  const double lowest = std::min(level, *std::min_element(field.values.begin(), field.values.end()));
  const double rim = lowest - 1.0 - std::abs(lowest);
  std::vector<double> values(x.size() * y.size(), rim);
  for (std::size_t row = 0; row < field.y.size(); ++row)
    for (std::size_t column = 0; column < field.x.size(); ++column)
      values[(row + 1) * x.size() + column + 1] = field.at(column, row);
  return Tracer({x, y, values}, level).trace();
}

}  // namespace whorl::figures
