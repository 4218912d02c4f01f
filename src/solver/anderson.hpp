// Anderson acceleration of a fixed-point iteration z <- g(z).
#pragma once
#include <cstddef>
#include <deque>
#include <vector>

namespace whorl::solver {

/// Keeps the last few iterates and proposes the next one from them.
/// Source: Anderson, J. ACM 12 (1965) 547; Walker & Ni, SIAM J. Numer. Anal. 49 (2011) 1715 (from memory)
class Anderson {
 public:
  explicit Anderson(std::size_t depth) : depth_(depth) {}
  /// Next iterate from z and its image g. `damping` in (0, 1]: share of the image that is taken.
  [[nodiscard]] std::vector<double> next(const std::vector<double>& z, const std::vector<double>& g, double damping);
  void restart() {
    d_image_.clear();
    d_change_.clear();
    has_last_ = false;
  }

 private:
  std::size_t depth_;
  bool has_last_{false};
  std::vector<double> last_image_, last_change_;
  std::deque<std::vector<double>> d_image_, d_change_;
};

}  // namespace whorl::solver
