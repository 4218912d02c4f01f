// Stage matrices of a small system in which some unknowns are only carried along.
#pragma once
#include <Eigen/Core>
#include <Eigen/LU>
#include <span>
#include <vector>

namespace whorl::solver {

/// Jacobian and stage matrix 1 - c J of a system. Unknowns on which no rate depends (`unread`: integrals that are carried
/// along) have no column: they are found last, from the others.
class DenseStage {
 public:
  DenseStage(Eigen::Index size, std::span<const Eigen::Index> unread);

  /// Unknowns with a column of their own.
  [[nodiscard]] const std::vector<Eigen::Index>& active() const { return active_; }
  Eigen::MatrixXd columns;  ///< the Jacobian: rates of all unknowns by those of active()

  /// Factors 1 - c J. False when singular to working precision.
  [[nodiscard]] bool factor(double c);
  /// x of (1 - c J) x = right. `x` may not be `right`.
  void solve(const Eigen::VectorXd& right, Eigen::VectorXd& x) const;

 private:
  std::vector<Eigen::Index> active_, unread_;
  double c_{};
  Eigen::MatrixXd matrix_, inverse_;  ///< of active(); solved for two dozen times, a handful of unknowns
  Eigen::PartialPivLU<Eigen::MatrixXd> lu_;
  mutable Eigen::VectorXd part_, solved_;
};

}  // namespace whorl::solver
