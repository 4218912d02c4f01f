// A power law of the settings by weighted least squares.
#include <Eigen/Dense>
#include <cmath>

#include "whorl/study/calibrate.hpp"

namespace whorl::study {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

std::vector<bool> logarithmic_settings(const std::vector<std::vector<double>>& settings) {
  std::vector<bool> out(settings.empty() ? 0 : settings.front().size(), true);
  for (const auto& row : settings) {
    for (std::size_t k = 0; k < row.size(); ++k) out[k] = out[k] && row[k] > 0.0;
  }
  return out;
}

PowerLaw fit_power_law(const std::vector<std::vector<double>>& settings, const std::vector<double>& log_d,
                       const std::vector<double>& weight, std::vector<bool> logarithmic) {
  const auto n = static_cast<Index>(settings.size());
  const auto p = static_cast<Index>(settings.front().size());
  MatrixXd a(n, p + 1);
  VectorXd b(n);
  for (Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    a(i, 0) = weight[k];
    for (Index j = 0; j < p; ++j) {
      const auto column = static_cast<std::size_t>(j);
      a(i, j + 1) = weight[k] * (logarithmic[column] ? std::log(settings[k][column]) : settings[k][column]);
    }
    b[i] = weight[k] * log_d[k];
  }
  return {a.completeOrthogonalDecomposition().solve(b), std::move(logarithmic)};
}

double power_law(const PowerLaw& law, const std::vector<double>& settings) {
  double y = law.coefficients[0];
  for (std::size_t j = 0; j < settings.size(); ++j)
    y += law.coefficients[static_cast<Index>(j) + 1] * (law.logarithmic[j] ? std::log(settings[j]) : settings[j]);
  return y;
}

}  // namespace whorl::study
