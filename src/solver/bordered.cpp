#include "solver/bordered.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::solver {

using Eigen::Index;

BorderedMatrix::BorderedMatrix(Index size, Index border, std::span<const Index> unread)
    : border_(border), chain_(size - border), unread_(unread.begin(), unread.end()) {
  for (Index j = 0; j < border; ++j) {
    if (std::find(unread_.begin(), unread_.end(), j) == unread_.end()) active_.push_back(j);
  }
  const auto a = static_cast<Index>(active_.size());
  columns.setZero(size, a);
  tail.setZero(border, 3);
  for (Eigen::VectorXd* v : {&below, &diagonal, &above, &low_, &pivot_, &high_, &chain_part_}) v->setZero(chain_);
  response_.setZero(chain_, a);
  schur_.setZero(a, a);
  border_part_.setZero(a);
  solved_.setZero(a);
  inverse_.setZero(a, a);
  schur_lu_ = Eigen::PartialPivLU<Eigen::MatrixXd>(a);
}

void BorderedMatrix::along_chain(double* v) const {
  for (Index i = 1; i < chain_; ++i) v[i] -= low_[i] * v[i - 1];
  v[chain_ - 1] *= pivot_[chain_ - 1];
  for (Index i = chain_ - 1; i-- > 0;) v[i] = (v[i] - high_[i] * v[i + 1]) * pivot_[i];
}

bool BorderedMatrix::factor(double c) {
  c_ = c;
  double pivot = 1.0 - c * diagonal[0];
  for (Index i = 0;; ++i) {
    if (!(std::abs(pivot) > 1e-14 * (1.0 + std::abs(c * diagonal[i])))) return false;
    pivot_[i] = 1.0 / pivot;
    if (i + 1 == chain_) break;
    high_[i] = -c * above[i];
    low_[i + 1] = -c * below[i + 1] * pivot_[i];
    pivot = 1.0 - c * diagonal[i + 1] - low_[i + 1] * high_[i];
  }
  const auto a = static_cast<Index>(active_.size());
  for (Index k = 0; k < a; ++k) {
    response_.col(k) = -c * columns.col(k).tail(chain_);
    along_chain(response_.col(k).data());
  }
  for (Index i = 0; i < a; ++i) {
    const Index row = active_[static_cast<std::size_t>(i)];
    for (Index k = 0; k < a; ++k) {
      double s = (i == k ? 1.0 : 0.0) - c * columns(row, k);
      for (Index q = 0; q < 3; ++q) s += c * tail(row, q) * response_(chain_ - 3 + q, k);
      schur_(i, k) = s;
    }
  }
  if (a == 0) return true;
  schur_lu_.compute(schur_);
  const auto pivots = schur_lu_.matrixLU().diagonal().array().abs();
  if (!(pivots.minCoeff() > 0.0) || !std::isfinite(pivots.sum())) return false;
  inverse_ = schur_lu_.inverse();
  return ((response_.array() * 0.0).sum() + (inverse_.array() * 0.0).sum()) == 0.0;
}

void BorderedMatrix::solve(const Eigen::VectorXd& right, Eigen::VectorXd& x) const {
  const auto a = static_cast<Index>(active_.size());
  chain_part_ = right.tail(chain_);
  along_chain(chain_part_.data());
  const auto ends = chain_part_.tail<3>();
  for (Index i = 0; i < a; ++i) {
    const Index row = active_[static_cast<std::size_t>(i)];
    border_part_[i] = right[row] + c_ * tail.row(row).dot(ends);
  }
  if (a > 0) {
    solved_.noalias() = inverse_ * border_part_;
    border_part_.swap(solved_);
    chain_part_.noalias() -= response_ * border_part_;
  }
  for (Index i = 0; i < a; ++i) x[active_[static_cast<std::size_t>(i)]] = border_part_[i];
  x.tail(chain_) = chain_part_;
  for (const Index row : unread_) {
    double sum = right[row];
    for (Index k = 0; k < a; ++k) sum += c_ * columns(row, k) * border_part_[k];
    x[row] = sum + c_ * tail.row(row).dot(chain_part_.tail<3>());
  }
}

}  // namespace whorl::solver
