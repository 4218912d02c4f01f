// Two-point boundary-value problems on a mesh: banded elimination with pivoting and a damped Newton iteration.
#pragma once
#include <cstddef>
#include <functional>
#include <string>
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

/// Equations R(y) = 0 with a banded Jacobian.
struct BandedProblem {
  std::size_t size{}, below{}, above{};
  std::vector<double> scale;  ///< typical size of each unknown, > 0: what Newton steps are measured in
  /// Fills residual and, when asked, the Jacobian (already cleared). False: y is outside the domain of the equations.
  std::function<bool(const std::vector<double>& y, std::vector<double>& residual, BandMatrix* jacobian)> evaluate;
  /// Largest share (0 to 1] of the step that stays well inside the domain.
  std::function<double(const std::vector<double>& y, const std::vector<double>& step)> longest_step;
};

struct NewtonOptions {
  double step_tolerance{1e-9};  ///< converged when the root mean square scaled step falls below
  int max_iterations{40};
  double smallest_damping{1e-3};
};

enum class NewtonStatus { converged, too_many_iterations, stuck, singular, outside };
[[nodiscard]] const char* to_string(NewtonStatus status) noexcept;

struct NewtonResult {
  NewtonStatus status{NewtonStatus::stuck};
  int iterations{};
  int factorizations{};
  int evaluations{};
  double last_step{};  ///< scaled, root mean square
};

/// Newton with the natural monotonicity test: a damped step is taken when the simplified step after it is shorter.
/// `y` holds the last accepted iterate whatever the status.
/// Source: Deuflhard, Newton Methods for Nonlinear Problems (2004), sec. 3.3 (from memory)
[[nodiscard]] NewtonResult solve_banded_newton(const BandedProblem& problem, std::vector<double>& y,
                                               const NewtonOptions& options = {});

/// Weight of the downstream node that makes the one-step rule exact for y' = -q y per cell: 1/2 at q = 0, 1 as q grows.
///   1/(1 - e^-q) - 1/q
[[nodiscard]] double fitted_weight(double q) noexcept;

/// n nodes that share the arc of a monitor function evenly. `x` increasing, `density` > 0 at the nodes.
[[nodiscard]] std::vector<double> equidistribute(const std::vector<double>& x, const std::vector<double>& density,
                                                 std::size_t n);

}  // namespace whorl::solver
