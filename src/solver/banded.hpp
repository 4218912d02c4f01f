// Banded linear systems, and two small tools for problems on a line: a one-step weight and an even mesh.
#pragma once
#include <cstddef>
#include <vector>

namespace whorl::solver {

/// Square banded matrix with room for the fill-in of row exchanges.
class BandMatrix {
 public:
  BandMatrix(std::size_t size, std::size_t below, std::size_t above);
  void clear();
  /// Entry (row, column); the caller stays inside the band.
  [[nodiscard]] double& at(std::size_t row, std::size_t column) {
    return data_[column * height_ + (row + below_ + above_ - column)];
  }
  [[nodiscard]] std::size_t size() const noexcept { return size_; }
  /// LU with partial pivoting, in place. False: singular to working precision or not finite.
  [[nodiscard]] bool factorize();
  /// Overwrites b by the solution; after factorize() only.
  void solve(std::vector<double>& b) const;

 private:
  std::size_t size_, below_, above_, height_;
  std::vector<double> data_;
  std::vector<std::size_t> pivot_;
};

/// Weight of the downstream node that makes the one-step rule exact for y' = -q y per cell: 1/2 at q = 0, 1 as q grows.
///   1/(1 - e^-q) - 1/q
[[nodiscard]] double fitted_weight(double q) noexcept;

/// n nodes that share the arc of a monitor function evenly. `x` increasing, `density` > 0 at the nodes.
[[nodiscard]] std::vector<double> equidistribute(const std::vector<double>& x, const std::vector<double>& density,
                                                 std::size_t n);

}  // namespace whorl::solver
