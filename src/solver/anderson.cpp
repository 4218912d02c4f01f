#include "solver/anderson.hpp"

#include <Eigen/Dense>

namespace whorl::solver {

std::vector<double> Anderson::next(const std::vector<double>& z, const std::vector<double>& g, double damping) {
  const std::size_t n = z.size();
  std::vector<double> change(n);
  for (std::size_t i = 0; i < n; ++i) change[i] = g[i] - z[i];
  if (has_last_) {
    std::vector<double> di(n), dc(n);
    for (std::size_t i = 0; i < n; ++i) {
      di[i] = g[i] - last_image_[i];
      dc[i] = change[i] - last_change_[i];
    }
    d_image_.push_back(std::move(di));
    d_change_.push_back(std::move(dc));
    if (d_change_.size() > depth_) {
      d_image_.pop_front();
      d_change_.pop_front();
    }
  }
  last_image_ = g;
  last_change_ = change;
  has_last_ = true;

  const auto m = static_cast<Eigen::Index>(d_change_.size());
  std::vector<double> out(n);
  Eigen::VectorXd gamma = Eigen::VectorXd::Zero(m);
  if (m > 0) {
    Eigen::MatrixXd a(static_cast<Eigen::Index>(n), m);
    Eigen::VectorXd b(static_cast<Eigen::Index>(n));
    for (std::size_t i = 0; i < n; ++i) {
      b(static_cast<Eigen::Index>(i)) = change[i];
      for (Eigen::Index k = 0; k < m; ++k)
        a(static_cast<Eigen::Index>(i), k) = d_change_[static_cast<std::size_t>(k)][i];
    }
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(a);
    qr.setThreshold(1e-7);
    gamma = qr.solve(b);
    if (!gamma.allFinite()) gamma.setZero();
  }
  for (std::size_t i = 0; i < n; ++i) {
    double image = g[i];
    double rest = change[i];
    for (Eigen::Index k = 0; k < m; ++k) {
      image -= gamma(k) * d_image_[static_cast<std::size_t>(k)][i];
      rest -= gamma(k) * d_change_[static_cast<std::size_t>(k)][i];
    }
    out[i] = image - (1.0 - damping) * rest;
  }
  return out;
}

}  // namespace whorl::solver
