// The Sobol sequence, point by point in any order, and its randomisations.
#pragma once
#include <cstddef>
#include <cstdint>
#include <vector>

namespace whorl::engine {

/// Finaliser of splitmix64: bits that look random and depend on every bit of x.
/// Source: G. Steele, D. Lea, C. Flood, OOPSLA 2014 (constants from memory)
[[nodiscard]] std::uint64_t mix_bits(std::uint64_t x) noexcept;

/// The top 53 bits as a number in [0, 1).
[[nodiscard]] double unit_interval(std::uint64_t bits) noexcept;

/// Sobol sequence of some dimension. Immutable; may be read from many threads at once.
/// Valid: up to 3667 dimensions and 2^31 points
/// Error: std::invalid_argument when there are more dimensions
/// Source: direction numbers of Joe & Kuo, SIAM J. Sci. Comput. 30 (2008) 2635, as Boost.Random has them
class Sobol {
 public:
  Sobol() = default;
  explicit Sobol(std::size_t dimension);

  [[nodiscard]] std::size_t dimension() const noexcept { return direction_.size(); }

  /// Coordinate of point `index` (from 0) as a binary fraction, highest bit first.
  [[nodiscard]] std::uint64_t bits(std::uint64_t index, std::size_t axis) const noexcept;

 private:
  std::vector<std::vector<std::uint64_t>> direction_;  ///< direction numbers per axis
};

/// Nested uniform scrambling: every bit is flipped or not by a random bit that belongs to this axis and to all bits
/// above it. Each scrambled point is uniform in (0, 1), and the points together keep the equidistribution of the
/// sequence.
/// Source: A. B. Owen, in: Monte Carlo and Quasi-Monte Carlo Methods in Scientific Computing, LNS 106 (1995) 299-317
/// (from memory); the random bits come from a hash, so that no tree has to be kept
[[nodiscard]] double owen_scrambled(std::uint64_t bits, std::uint64_t key) noexcept;

}  // namespace whorl::engine
