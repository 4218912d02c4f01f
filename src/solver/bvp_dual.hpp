// Forward-mode derivative numbers, just enough for boundary-value problems.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>

namespace whorl::solver {

/// Value with N first derivatives; comparisons look at the value.
template <std::size_t N>
struct BvpDual {
  double value{};
  std::array<double, N> d{};

  BvpDual() = default;
  BvpDual(double v) : value(v) {}  // NOLINT: implicit on purpose, constants mix freely

  static BvpDual variable(double v, std::size_t index) {
    BvpDual x(v);
    x.d[index] = 1.0;
    return x;
  }
  /// f(x) with the slope of f given.
  [[nodiscard]] BvpDual chain(double f, double slope) const {
    BvpDual out(f);
    for (std::size_t k = 0; k < N; ++k) out.d[k] = slope * d[k];
    return out;
  }
  BvpDual& operator+=(const BvpDual& o) { return *this = *this + o; }

  friend BvpDual operator-(const BvpDual& a) { return a.chain(-a.value, -1.0); }
  friend BvpDual operator+(const BvpDual& a, const BvpDual& b) { return mix(a, b, a.value + b.value, 1.0, 1.0); }
  friend BvpDual operator-(const BvpDual& a, const BvpDual& b) { return mix(a, b, a.value - b.value, 1.0, -1.0); }
  friend BvpDual operator*(const BvpDual& a, const BvpDual& b) { return mix(a, b, a.value * b.value, b.value, a.value); }
  friend BvpDual operator/(const BvpDual& a, const BvpDual& b) {
    const double inverse = 1.0 / b.value;
    const double q = a.value * inverse;
    return mix(a, b, q, inverse, -q * inverse);
  }
  friend BvpDual operator+(const BvpDual& a, double b) { return a.chain(a.value + b, 1.0); }
  friend BvpDual operator+(double a, const BvpDual& b) { return b.chain(a + b.value, 1.0); }
  friend BvpDual operator-(const BvpDual& a, double b) { return a.chain(a.value - b, 1.0); }
  friend BvpDual operator-(double a, const BvpDual& b) { return b.chain(a - b.value, -1.0); }
  friend BvpDual operator*(const BvpDual& a, double b) { return a.chain(a.value * b, b); }
  friend BvpDual operator*(double a, const BvpDual& b) { return b.chain(a * b.value, a); }
  friend BvpDual operator/(const BvpDual& a, double b) { return a.chain(a.value / b, 1.0 / b); }
  friend BvpDual operator/(double a, const BvpDual& b) {
    const double q = a / b.value;
    return b.chain(q, -q / b.value);
  }
  friend bool operator<(const BvpDual& a, double b) { return a.value < b; }
  friend bool operator>(const BvpDual& a, double b) { return a.value > b; }
  friend bool operator<=(const BvpDual& a, double b) { return a.value <= b; }
  friend bool operator<(const BvpDual& a, const BvpDual& b) { return a.value < b.value; }
  friend bool operator>(const BvpDual& a, const BvpDual& b) { return a.value > b.value; }
  friend BvpDual exp(const BvpDual& a) {
    const double e = std::exp(a.value);
    return a.chain(e, e);
  }
  friend BvpDual log(const BvpDual& a) { return a.chain(std::log(a.value), 1.0 / a.value); }
  friend BvpDual sqrt(const BvpDual& a) {
    const double r = std::sqrt(a.value);
    return a.chain(r, 0.5 / r);
  }

 private:
  static BvpDual mix(const BvpDual& a, const BvpDual& b, double f, double fa, double fb) {
    BvpDual out(f);
    for (std::size_t k = 0; k < N; ++k) out.d[k] = fa * a.d[k] + fb * b.d[k];
    return out;
  }
};

}  // namespace whorl::solver
