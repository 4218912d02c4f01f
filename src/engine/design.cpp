#include "whorl/engine/design.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace whorl::engine {
namespace {

std::uint64_t stream(std::uint64_t seed, std::uint64_t axis) noexcept { return mix_bits(mix_bits(seed) ^ (axis + 1)); }

std::uint64_t level_count(const Axis& axis) noexcept { return axis.levels.empty() ? axis.points : axis.levels.size(); }

double round_digits(double value, int digits) noexcept {
  if (!std::isfinite(value)) return value;
  std::array<char, 40> text{};
  const auto end =
      std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::scientific, digits - 1).ptr;
  double rounded = value;
  std::from_chars(text.data(), end, rounded);
  return rounded;
}

double interpolate(double from, double to, Spacing spacing, double t) noexcept {
  if (t <= 0.0) return from;
  if (t >= 1.0) return to;
  const double value = spacing == Spacing::linear ? from + t * (to - from) : from * std::pow(to / from, t);
  return std::clamp(value, std::min(from, to), std::max(from, to));
}

double interpolate(const Axis& axis, double t) noexcept { return interpolate(axis.from, axis.to, axis.spacing, t); }

// Rounded to the decimal digits that survive the interpolation, counted from the larger end of the range: a step that
// meets zero gives 0 and not 2.8e-17, and the last digits of pow(), which differ between libraries, do not show.
double tidy_level(const Axis& axis, double value) noexcept {
  const double largest = std::max(std::abs(axis.from), std::abs(axis.to));
  if (value == axis.from || value == axis.to || value == 0.0) return value;
  if (axis.spacing == Spacing::logarithmic)
    return std::clamp(round_digits(value, 12), std::min(axis.from, axis.to), std::max(axis.from, axis.to));
  const double lost = std::floor(std::log10(largest)) - std::floor(std::log10(std::abs(value)));
  const double rounded = lost >= 15.0 ? 0.0 : round_digits(value, 15 - std::max(0, static_cast<int>(lost)));
  return std::clamp(rounded, std::min(axis.from, axis.to), std::max(axis.from, axis.to));
}

double grid_level(const Axis& axis, std::uint64_t level) {
  if (!axis.levels.empty()) return axis.levels[static_cast<std::size_t>(level)];
  const double value = interpolate(axis, static_cast<double>(level) / static_cast<double>(axis.points - 1));
  return axis.whole ? std::round(value) : tidy_level(axis, value);
}

// Value at u in [0, 1) of a space-filling design: every level of a list and every whole number gets an equal share of
// u.
double level_at(const Axis& axis, double u) {
  if (!axis.levels.empty()) {
    const auto count = axis.levels.size();
    const auto level = static_cast<std::size_t>(u * static_cast<double>(count));
    return axis.levels[std::min(level, count - 1)];
  }
  if (!axis.whole) return tidy_level(axis, interpolate(axis, u));
  double low = std::min(axis.from, axis.to) - 0.5;
  const double high = std::max(axis.from, axis.to) + 0.5;
  if (axis.spacing == Spacing::logarithmic) low = std::max(low, 0.5);
  return std::clamp(std::round(interpolate(low, high, axis.spacing, u)), low + 0.5, high - 0.5);
}

void check(const Axis& axis, DesignKind kind) {
  if (!axis.levels.empty()) {
    if (!std::all_of(axis.levels.begin(), axis.levels.end(), [](double x) { return std::isfinite(x); }))
      throw std::invalid_argument("a level is not a finite number");
    return;
  }
  if (!std::isfinite(axis.from) || !std::isfinite(axis.to)) throw std::invalid_argument("a range end is not finite");
  if (axis.from == axis.to) throw std::invalid_argument("the two ends of a range are equal");
  if (axis.spacing == Spacing::logarithmic && !(axis.from > 0.0 && axis.to > 0.0))
    throw std::invalid_argument("a logarithmic range needs two ends above zero");
  if (kind == DesignKind::grid && axis.points < 2)
    throw std::invalid_argument("a range of a grid needs two points or more");
}

}  // namespace

const char* to_string(DesignKind kind) noexcept {
  switch (kind) {
    case DesignKind::grid: return "grid";
    case DesignKind::latin_hypercube: return "latin-hypercube";
    case DesignKind::sobol: return "sobol";
  }
  return "grid";
}

const char* to_string(Spacing spacing) noexcept { return spacing == Spacing::linear ? "linear" : "log"; }

double round_15_digits(double value) noexcept { return round_digits(value, 15); }

std::uint64_t permuted_index(std::uint64_t index, std::uint64_t size, std::uint64_t key) noexcept {
  if (size < 2) return 0;
  unsigned half_bits = 1;
  while (half_bits < 31 && (std::uint64_t{1} << (2 * half_bits)) < size) ++half_bits;
  const std::uint64_t mask = (std::uint64_t{1} << half_bits) - 1;
  // Each round is invertible, so the network permutes 0..2^(2 half_bits)-1 and walking the cycle until the image is
  // below `size` permutes 0..size-1. The domain is at most four times `size`: four walks on average at worst.
  std::uint64_t x = index;
  do {
    std::uint64_t left = x >> half_bits;
    std::uint64_t right = x & mask;
    for (std::uint64_t round = 0; round < 8; ++round) {
      const std::uint64_t next = left ^ (mix_bits(key ^ mix_bits((round << 32U) ^ right)) & mask);
      left = right;
      right = next;
    }
    x = (left << half_bits) | right;
  } while (x >= size);
  return x;
}

std::uint64_t grid_size(std::span<const Axis> axes) noexcept {
  std::uint64_t size = axes.empty() ? 0 : 1;
  for (const Axis& axis : axes) {
    const std::uint64_t levels = level_count(axis);
    if (levels == 0 || levels > kMaxDesignPoints / size) return 0;
    size *= levels;
  }
  return size;
}

Design::Design(DesignKind kind, std::vector<Axis> axes, std::uint64_t points, std::uint64_t seed)
    : kind_(kind), axes_(std::move(axes)), seed_(seed) {
  if (axes_.empty()) throw std::invalid_argument("a design needs at least one axis");
  for (const Axis& axis : axes_) check(axis, kind_);
  size_ = kind_ == DesignKind::grid ? grid_size(axes_) : points;
  if (size_ == 0 || size_ > kMaxDesignPoints) throw std::invalid_argument("a design needs 1 to 1,000,000,000 points");
  if (kind_ != DesignKind::sobol) return;

  sobol_ = Sobol(axes_.size());  // kMaxDesignPoints < 2^30
  for (std::size_t k = 0; k < axes_.size(); ++k) shift_.push_back(stream(seed_, k));
}

double Design::unit_coordinate(std::uint64_t index, std::size_t axis) const {
  if (kind_ == DesignKind::latin_hypercube) {
    const std::uint64_t key = stream(seed_, axis);
    const double stratum = static_cast<double>(permuted_index(index, size_, key));
    const double inside = unit_interval(mix_bits(key ^ mix_bits(~index)));
    return (stratum + inside) / static_cast<double>(size_);
  }
  return unit_interval(shift_[axis] ^ sobol_.bits(index, axis));
}

void Design::point(std::uint64_t index, std::span<double> values) const {
  if (index >= size_ || values.size() != axes_.size()) throw std::out_of_range("no such point in the design");
  if (kind_ == DesignKind::grid) {
    for (std::size_t k = axes_.size(); k-- > 0;) {
      const std::uint64_t levels = level_count(axes_[k]);
      values[k] = grid_level(axes_[k], index % levels);
      index /= levels;
    }
    return;
  }
  for (std::size_t k = 0; k < axes_.size(); ++k) values[k] = level_at(axes_[k], unit_coordinate(index, k));
}

}  // namespace whorl::engine
