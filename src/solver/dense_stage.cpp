#include "solver/dense_stage.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::solver {

using Eigen::Index;

DenseStage::DenseStage(Index size, std::span<const Index> unread) : unread_(unread.begin(), unread.end()) {
  for (Index j = 0; j < size; ++j)
    if (std::find(unread_.begin(), unread_.end(), j) == unread_.end()) active_.push_back(j);
  const auto n = static_cast<Index>(active_.size());
  columns.setZero(size, n);
  matrix_.setZero(n, n);
  inverse_.setZero(n, n);
  lu_ = Eigen::PartialPivLU<Eigen::MatrixXd>(n);
  part_.setZero(n);
  solved_.setZero(n);
}

bool DenseStage::factor(double c) {
  c_ = c;
  const auto n = static_cast<Index>(active_.size());
  for (Index i = 0; i < n; ++i) matrix_.row(i) = -c * columns.row(active_[static_cast<std::size_t>(i)]);
  matrix_.diagonal().array() += 1.0;
  lu_.compute(matrix_);
  const auto pivots = lu_.matrixLU().diagonal().array().abs();
  if (!(pivots.minCoeff() > 0.0) || !std::isfinite(pivots.sum())) return false;
  inverse_ = lu_.inverse();
  return true;
}

void DenseStage::solve(const Eigen::VectorXd& right, Eigen::VectorXd& x) const {
  const auto n = static_cast<Index>(active_.size());
  for (Index i = 0; i < n; ++i) part_[i] = right[active_[static_cast<std::size_t>(i)]];
  solved_.noalias() = inverse_ * part_;
  for (Index i = 0; i < n; ++i) x[active_[static_cast<std::size_t>(i)]] = solved_[i];
  for (const Index j : unread_) x[j] = right[j] + c_ * columns.row(j).dot(solved_);
}

}  // namespace whorl::solver
