// Forward-mode automatic differentiation: a value with its derivatives by N independents.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace whorl::solver {

/// Value and gradient. Every operation carries the exact derivative along (chain rule), to rounding.
/// Comparisons look at the value only, so code with branches follows the branch of the value.
/// Error: where a derivative does not exist (sqrt and cbrt at 0, acos at 1) it becomes infinite like the function's,
/// except for independents the argument does not depend on: those stay 0. abs has slope 0 at 0.
template <std::size_t N>
struct Dual {
  double value{};
  std::array<double, N> slope{};

  constexpr Dual() = default;
  constexpr Dual(double v) : value(v) {}  // NOLINT: constants mix freely with duals
  /// The independent number i with value v.
  [[nodiscard]] static constexpr Dual independent(double v, std::size_t i) {
    Dual d(v);
    d.slope[i] = 1.0;
    return d;
  }

  constexpr Dual& operator+=(const Dual& b) {
    value += b.value;
    for (std::size_t i = 0; i < N; ++i) slope[i] += b.slope[i];
    return *this;
  }
  constexpr Dual& operator-=(const Dual& b) {
    value -= b.value;
    for (std::size_t i = 0; i < N; ++i) slope[i] -= b.slope[i];
    return *this;
  }
  constexpr Dual& operator*=(const Dual& b) {
    for (std::size_t i = 0; i < N; ++i) slope[i] = slope[i] * b.value + value * b.slope[i];
    value *= b.value;
    return *this;
  }
  constexpr Dual& operator/=(const Dual& b) {
    value /= b.value;
    for (std::size_t i = 0; i < N; ++i) slope[i] = (slope[i] - value * b.slope[i]) / b.value;
    return *this;
  }

  // Friends, found by argument: a double on either side converts.
  friend constexpr Dual operator+(Dual a, const Dual& b) { return a += b; }
  friend constexpr Dual operator-(Dual a, const Dual& b) { return a -= b; }
  friend constexpr Dual operator*(Dual a, const Dual& b) { return a *= b; }
  friend constexpr Dual operator/(Dual a, const Dual& b) { return a /= b; }
  friend constexpr Dual operator+(const Dual& a) { return a; }
  friend constexpr Dual operator-(const Dual& a) {
    Dual r(-a.value);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = -a.slope[i];
    return r;
  }
  friend constexpr bool operator<(const Dual& a, const Dual& b) { return a.value < b.value; }
  friend constexpr bool operator>(const Dual& a, const Dual& b) { return a.value > b.value; }
  friend constexpr bool operator<=(const Dual& a, const Dual& b) { return a.value <= b.value; }
  friend constexpr bool operator>=(const Dual& a, const Dual& b) { return a.value >= b.value; }
  friend constexpr bool operator==(const Dual& a, const Dual& b) { return a.value == b.value; }
  friend constexpr bool operator!=(const Dual& a, const Dual& b) { return a.value != b.value; }

  /// f(a) from its value and its derivative at a.
  [[nodiscard]] static constexpr Dual chain(double f, double derivative, const Dual& a) {
    Dual r(f);
    for (std::size_t i = 0; i < N; ++i) r.slope[i] = a.slope[i] == 0.0 ? 0.0 : derivative * a.slope[i];
    return r;
  }

  friend Dual sqrt(const Dual& a) {
    const double f = std::sqrt(a.value);
    return chain(f, 0.5 / f, a);
  }
  friend Dual cbrt(const Dual& a) {
    const double f = std::cbrt(a.value);
    return chain(f, 1.0 / (3.0 * f * f), a);
  }
  friend Dual exp(const Dual& a) {
    const double f = std::exp(a.value);
    return chain(f, f, a);
  }
  friend Dual expm1(const Dual& a) { return chain(std::expm1(a.value), std::exp(a.value), a); }
  friend Dual log(const Dual& a) { return chain(std::log(a.value), 1.0 / a.value, a); }
  friend Dual log10(const Dual& a) { return chain(std::log10(a.value), std::numbers::log10e / a.value, a); }
  friend Dual log1p(const Dual& a) { return chain(std::log1p(a.value), 1.0 / (1.0 + a.value), a); }
  friend Dual sin(const Dual& a) { return chain(std::sin(a.value), std::cos(a.value), a); }
  friend Dual cos(const Dual& a) { return chain(std::cos(a.value), -std::sin(a.value), a); }
  friend Dual tan(const Dual& a) {
    const double f = std::tan(a.value);
    return chain(f, 1.0 + f * f, a);
  }
  friend Dual asin(const Dual& a) {
    return chain(std::asin(a.value), 1.0 / std::sqrt((1.0 - a.value) * (1.0 + a.value)), a);
  }
  friend Dual acos(const Dual& a) {
    return chain(std::acos(a.value), -1.0 / std::sqrt((1.0 - a.value) * (1.0 + a.value)), a);
  }
  friend Dual atan(const Dual& a) { return chain(std::atan(a.value), 1.0 / (1.0 + a.value * a.value), a); }
  friend Dual sinh(const Dual& a) { return chain(std::sinh(a.value), std::cosh(a.value), a); }
  friend Dual cosh(const Dual& a) { return chain(std::cosh(a.value), std::sinh(a.value), a); }
  friend Dual tanh(const Dual& a) {
    const double f = std::tanh(a.value);
    return chain(f, (1.0 - f) * (1.0 + f), a);
  }
  friend Dual erf(const Dual& a) {
    return chain(std::erf(a.value), 2.0 * std::numbers::inv_sqrtpi * std::exp(-a.value * a.value), a);
  }
  friend Dual abs(const Dual& a) {
    return chain(std::abs(a.value), a.value > 0.0 ? 1.0 : (a.value < 0.0 ? -1.0 : 0.0), a);
  }
  friend Dual fabs(const Dual& a) { return abs(a); }

  friend Dual pow(const Dual& a, double n) {
    return chain(std::pow(a.value, n), n == 0.0 ? 0.0 : n * std::pow(a.value, n - 1.0), a);
  }
  friend Dual pow(const Dual& a, const Dual& n) {
    const double f = std::pow(a.value, n.value);
    return chain(f, n.value == 0.0 ? 0.0 : n.value * std::pow(a.value, n.value - 1.0), a) +
           chain(0.0, f == 0.0 ? 0.0 : f * std::log(a.value), n);
  }
  friend Dual pow(double a, const Dual& n) { return pow(Dual(a), n); }
  friend Dual hypot(const Dual& a, const Dual& b) {
    const double f = std::hypot(a.value, b.value);
    return chain(f, a.value / f, a) + chain(0.0, b.value / f, b);
  }
  friend Dual atan2(const Dual& y, const Dual& x) {
    const double r2 = x.value * x.value + y.value * y.value;
    return chain(std::atan2(y.value, x.value), x.value / r2, y) + chain(0.0, -y.value / r2, x);
  }
  friend Dual min(const Dual& a, const Dual& b) { return b.value < a.value ? b : a; }
  friend Dual max(const Dual& a, const Dual& b) { return a.value < b.value ? b : a; }
  friend bool isfinite(const Dual& a) {
    double sum = a.value * 0.0;
    for (std::size_t i = 0; i < N; ++i) sum += a.slope[i] * 0.0;
    return sum == 0.0;
  }
};

}  // namespace whorl::solver
