// Linear systems of a chain of neighbours with a few unknowns that touch everything: eliminated in blocks.
#pragma once
#include <Eigen/Core>
#include <Eigen/LU>
#include <span>
#include <vector>

namespace whorl::solver {

/// Jacobian and stage matrix 1 - c J of a system whose first `border` unknowns touch all the others, which form a chain
/// of neighbours. Rows of the border see the chain at its last three unknowns only. Border unknowns on which nothing
/// depends (`unread`) have no column: they are found last, from the others.
class BorderedMatrix {
 public:
  /// Valid: border <= size, at least 3 unknowns in the chain; `unread` holds indices below `border`
  BorderedMatrix(Eigen::Index size, Eigen::Index border, std::span<const Eigen::Index> unread);

  /// Border unknowns with a column of their own.
  [[nodiscard]] const std::vector<Eigen::Index>& active() const { return active_; }
  [[nodiscard]] Eigen::Index border() const { return border_; }

  // The Jacobian.
  Eigen::MatrixXd columns;                ///< rates of all unknowns by those of active()
  Eigen::VectorXd below, diagonal, above;  ///< chain: by the neighbour before, itself, the neighbour after
  Eigen::MatrixXd tail;                   ///< rates of the border by the last three unknowns of the chain

  /// Factors 1 - c J. False when singular to working precision.
  /// Valid: no pivoting along the chain, which suits diffusion (diagonal weight grows with c)
  [[nodiscard]] bool factor(double c);
  /// x of (1 - c J) x = right. `x` may not be `right`.
  void solve(const Eigen::VectorXd& right, Eigen::VectorXd& x) const;

 private:
  void along_chain(double* v) const;

  Eigen::Index border_, chain_;
  std::vector<Eigen::Index> active_, unread_;
  double c_{};
  Eigen::VectorXd low_, pivot_, high_;  ///< chain: multiplier, inverse pivot, upper entry
  Eigen::MatrixXd response_;            ///< chain by active(): inverse of the chain's block times its coupling
  Eigen::MatrixXd schur_;
  Eigen::PartialPivLU<Eigen::MatrixXd> schur_lu_;
  Eigen::MatrixXd inverse_;             ///< of schur_: a handful of unknowns, solved for a dozen times
  mutable Eigen::VectorXd chain_part_, border_part_, solved_;
};

}  // namespace whorl::solver
