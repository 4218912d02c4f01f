// Designs of experiments by index: point i is computed from i alone, so a sweep of any size needs no memory,
// can be cut into shares, and can go on where it stopped.
#pragma once
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "whorl/engine/sobol.hpp"

namespace whorl::engine {

enum class DesignKind {
  grid,             ///< every combination; the last axis varies fastest
  latin_hypercube,  ///< n points; each axis cut into n equal strata, one point in each
  sobol             ///< n points of a digitally shifted Sobol sequence; best when n is a power of two
};
[[nodiscard]] const char* to_string(DesignKind kind) noexcept;

enum class Spacing { linear, logarithmic };
[[nodiscard]] const char* to_string(Spacing spacing) noexcept;

/// One varied quantity: a list of levels, or a range from..to. Units are the caller's.
struct Axis {
  std::vector<double> levels;  ///< not empty: a list; the range below is then not used
  double from{};
  double to{};
  std::uint64_t points{};      ///< levels of the range in a grid, >= 2; not used by the other designs
  Spacing spacing{Spacing::linear};
  bool whole{};                ///< values are rounded to whole numbers (equal share of u for each in a random design)
};

/// Largest number of points a design may have.
inline constexpr std::uint64_t kMaxDesignPoints = 1'000'000'000;

/// A value rounded to 15 significant decimal digits: free of the noise of a unit conversion, so that it prints as it
/// was written.
[[nodiscard]] double round_15_digits(double value) noexcept;

/// Image of `index` under a keyed pseudo-random permutation of 0..size-1, in constant memory and expected constant
/// time.
/// Valid: index < size, 1 <= size <= 2^62.
/// Source: balanced Feistel network with cycle walking, J. Black and P. Rogaway, "Ciphers with arbitrary finite
/// domains", CT-RSA 2002, LNCS 2271, 114-130 (from memory); round function splitmix64.
[[nodiscard]] std::uint64_t permuted_index(std::uint64_t index, std::uint64_t size, std::uint64_t key) noexcept;

/// A design over one or more axes. Immutable; point() may be called from many threads at once.
class Design {
 public:
  /// `points` and `seed` are used by latin_hypercube and sobol only.
  /// Error: std::invalid_argument when an axis is empty, a range is reversed in kind (logarithmic through 0), the
  /// design has no point or more than kMaxDesignPoints. Callers with file and key names check first.
  Design(DesignKind kind, std::vector<Axis> axes, std::uint64_t points, std::uint64_t seed);

  [[nodiscard]] DesignKind kind() const noexcept { return kind_; }
  [[nodiscard]] std::uint64_t size() const noexcept { return size_; }
  [[nodiscard]] std::uint64_t seed() const noexcept { return seed_; }
  [[nodiscard]] const std::vector<Axis>& axes() const noexcept { return axes_; }

  /// Values of point `index` (from 0), one per axis. Levels of a range are rounded to the digits that mean something
  /// (15 counted from the larger end, 12 on a logarithmic range), so that 0.1 to 0.5 in five steps holds 0.3.
  /// Valid: index < size(), values.size() == axes().size().
  void point(std::uint64_t index, std::span<double> values) const;

 private:
  [[nodiscard]] double unit_coordinate(std::uint64_t index, std::size_t axis) const;

  DesignKind kind_;
  std::vector<Axis> axes_;
  std::uint64_t size_{};
  std::uint64_t seed_{};
  Sobol sobol_;
  std::vector<std::uint64_t> shift_;                   ///< Sobol digital shift per axis
};

/// Number of points of a grid; 0 when it is larger than kMaxDesignPoints or an axis has no level.
[[nodiscard]] std::uint64_t grid_size(std::span<const Axis> axes) noexcept;

}  // namespace whorl::engine
