#include "whorl/engine/sobol.hpp"

#include <boost/random/sobol.hpp>

#include <stdexcept>

namespace whorl::engine {
namespace {

constexpr unsigned kIndexBits = 31;
constexpr unsigned kUnitBits = 53;
constexpr std::size_t kMostDimensions = 3667;

}  // namespace

std::uint64_t mix_bits(std::uint64_t x) noexcept {
  x += 0x9E3779B97F4A7C15ULL;
  x = (x ^ (x >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  x = (x ^ (x >> 27U)) * 0x94D049BB133111EBULL;
  return x ^ (x >> 31U);
}

double unit_interval(std::uint64_t bits) noexcept { return static_cast<double>(bits >> 11U) * 0x1p-53; }

Sobol::Sobol(std::size_t dimension) {
  if (dimension == 0) return;
  if (dimension > kMostDimensions) throw std::invalid_argument("a Sobol sequence has at most 3667 dimensions");
  // Point n of the sequence is the exclusive or of the direction numbers at the set bits of the Gray code of n
  // (I. A. Antonov, V. M. Saleev, USSR Comput. Math. Math. Phys. 19 (1979) 252-256, from memory). Boost counts from the
  // second point and steps one at a time; its direction number r is read off as the point whose Gray code is 2^r alone.
  boost::random::sobol sequence(dimension);
  direction_.assign(dimension, std::vector<std::uint64_t>(kIndexBits));
  for (unsigned r = 0; r < kIndexBits; ++r) {
    const std::uint64_t number = (std::uint64_t{2} << r) - 1;
    sequence.seed(number - 1);
    for (auto& numbers : direction_) numbers[r] = sequence();
  }
}

std::uint64_t Sobol::bits(std::uint64_t index, std::size_t axis) const noexcept {
  std::uint64_t bits = 0;
  std::uint64_t gray = index ^ (index >> 1U);
  for (std::size_t r = 0; gray != 0; ++r, gray >>= 1U)
    if ((gray & 1U) != 0) bits ^= direction_[axis][r];
  return bits;
}

double owen_scrambled(std::uint64_t bits, std::uint64_t key) noexcept {
  std::uint64_t out = 0;
  for (unsigned i = 0; i < kUnitBits; ++i) {
    // the bits above bit i, with a one in front so that "none" differs from "zero"
    const std::uint64_t above = i == 0 ? 1U : (std::uint64_t{1} << i) | (bits >> (64U - i));
    const std::uint64_t flip = mix_bits(key ^ mix_bits(above)) >> 63U;
    const std::uint64_t bit = (bits >> (63U - i)) & 1U;
    out = (out << 1U) | (bit ^ flip);
  }
  // the middle of the last digit: never 0, never 1
  return (static_cast<double>(out) + 0.5) * 0x1p-53;
}

}  // namespace whorl::engine
