#include "solver/banded.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::solver {

BandMatrix::BandMatrix(std::size_t size, std::size_t below, std::size_t above)
    : size_(size), below_(below), above_(above), height_(2 * below + above + 1), data_(size * height_), pivot_(size) {}

void BandMatrix::clear() { std::fill(data_.begin(), data_.end(), 0.0); }

bool BandMatrix::factorize() {
  const std::size_t reach = below_ + above_;  // of the upper factor, row exchanges included
  for (std::size_t k = 0; k < size_; ++k) {
    const std::size_t last_row = std::min(size_ - 1, k + below_);
    std::size_t best = k;
    for (std::size_t i = k + 1; i <= last_row; ++i) {
      if (std::abs(at(i, k)) > std::abs(at(best, k))) best = i;
    }
    const double lead = at(best, k);
    if (!(std::abs(lead) > 1e-300) || !std::isfinite(lead)) return false;
    pivot_[k] = best;
    const std::size_t last_column = std::min(size_ - 1, k + reach);
    if (best != k) {
      for (std::size_t j = k; j <= last_column; ++j) std::swap(at(k, j), at(best, j));
    }
    const double inverse = 1.0 / lead;
    for (std::size_t i = k + 1; i <= last_row; ++i) at(i, k) *= inverse;
    const double* const lower = &at(k, k);
    for (std::size_t j = k + 1; j <= last_column; ++j) {
      const double factor = at(k, j);
      if (factor == 0.0) continue;
      double* const column = &at(k, j);
      for (std::size_t i = 1; i <= last_row - k; ++i) column[i] -= factor * lower[i];
    }
  }
  return true;
}

void BandMatrix::solve(std::vector<double>& b) const {
  const auto entry = [this](std::size_t row, std::size_t column) {
    return data_[column * height_ + (row + below_ + above_ - column)];
  };
  for (std::size_t k = 0; k < size_; ++k) {
    if (pivot_[k] != k) std::swap(b[k], b[pivot_[k]]);
    const std::size_t last_row = std::min(size_ - 1, k + below_);
    for (std::size_t i = k + 1; i <= last_row; ++i) b[i] -= entry(i, k) * b[k];
  }
  const std::size_t reach = below_ + above_;
  for (std::size_t k = size_; k-- > 0;) {
    b[k] /= entry(k, k);
    const std::size_t first = k > reach ? k - reach : 0;
    for (std::size_t i = first; i < k; ++i) b[i] -= entry(i, k) * b[k];
  }
}

double fitted_weight(double q) noexcept {
  if (!(q > 0.0)) return 0.5;
  if (q < 1e-2) return 0.5 + q / 12.0 * (1.0 - q * q / 60.0);
  if (q > 40.0) return 1.0 - 1.0 / q;
  return 1.0 / (1.0 - std::exp(-q)) - 1.0 / q;
}

std::vector<double> equidistribute(const std::vector<double>& x, const std::vector<double>& density, std::size_t n) {
  std::vector<double> total(x.size(), 0.0);
  for (std::size_t i = 1; i < x.size(); ++i) {
    total[i] = total[i - 1] + 0.5 * (density[i] + density[i - 1]) * (x[i] - x[i - 1]);
  }
  std::vector<double> out(n);
  std::size_t k = 1;
  for (std::size_t j = 0; j < n; ++j) {
    const double wanted = total.back() * static_cast<double>(j) / static_cast<double>(n - 1);
    while (k + 1 < x.size() && total[k] < wanted) ++k;
    const double share = total[k] > total[k - 1] ? (wanted - total[k - 1]) / (total[k] - total[k - 1]) : 0.0;
    out[j] = x[k - 1] + std::clamp(share, 0.0, 1.0) * (x[k] - x[k - 1]);
  }
  out.front() = x.front();
  out.back() = x.back();
  return out;
}

}  // namespace whorl::solver
