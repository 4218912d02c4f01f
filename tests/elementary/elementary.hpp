// The elementary functions as the program calls them: by the names under which the build puts them (cmake/WhorlElementary.cmake),
// or, for the page's module, by their own, for its C library is the one they are taken from.
#pragma once
#include <array>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <string_view>

#if defined(WHORL_WITH_ELEMENTARY)
#define WHORL_ELEMENTARY_NAME(name) whorl_##name
extern "C" {
double whorl_acos(double);
double whorl_acosh(double);
double whorl_asin(double);
double whorl_asinh(double);
double whorl_atan(double);
double whorl_atan2(double, double);
double whorl_atanh(double);
double whorl_cbrt(double);
double whorl_cos(double);
double whorl_cosh(double);
double whorl_erf(double);
double whorl_erfc(double);
double whorl_exp(double);
double whorl_exp2(double);
double whorl_expm1(double);
double whorl_hypot(double, double);
double whorl_log(double);
double whorl_log10(double);
double whorl_log1p(double);
double whorl_log2(double);
double whorl_pow(double, double);
double whorl_sin(double);
void whorl_sincos(double, double*, double*);
double whorl_sinh(double);
double whorl_tan(double);
double whorl_tanh(double);
double whorl_tgamma(double);
}
#else
#define WHORL_ELEMENTARY_NAME(name) ::name
#endif

namespace elementary {

enum class Range { whole, positive, one, above_one, exponent, angle, gamma };

struct Function {
  std::string_view name;
  double (*of_one)(double);
  double (*of_two)(double, double);
  Range first;
  Range second;
};

#define WHORL_ONE(name, range) Function{#name, WHORL_ELEMENTARY_NAME(name), nullptr, Range::range, Range::range}
#define WHORL_TWO(name, first, second) Function{#name, nullptr, WHORL_ELEMENTARY_NAME(name), Range::first, Range::second}
inline const std::array kFunctions{
    WHORL_ONE(acos, one),      WHORL_ONE(acosh, above_one), WHORL_ONE(asin, one),          WHORL_ONE(asinh, whole),
    WHORL_ONE(atan, whole),    WHORL_TWO(atan2, whole, whole), WHORL_ONE(atanh, one),      WHORL_ONE(cbrt, whole),
    WHORL_ONE(cos, angle),     WHORL_ONE(cosh, exponent),   WHORL_ONE(erf, exponent),      WHORL_ONE(erfc, exponent),
    WHORL_ONE(exp, exponent),  WHORL_ONE(exp2, exponent),   WHORL_ONE(expm1, exponent),    WHORL_TWO(hypot, whole, whole),
    WHORL_ONE(log, positive),  WHORL_ONE(log10, positive),  WHORL_ONE(log1p, positive),    WHORL_ONE(log2, positive),
    WHORL_TWO(pow, positive, exponent), WHORL_ONE(sin, angle), WHORL_ONE(sinh, exponent),  WHORL_ONE(tan, angle),
    WHORL_ONE(tanh, exponent), WHORL_ONE(tgamma, gamma)};
#undef WHORL_ONE
#undef WHORL_TWO

/// Arguments without a library: whole numbers of a xorshift, put between the ends of a range.
class Arguments {
 public:
  double next(Range range) {
    const double u = unit();
    switch (range) {
      case Range::whole: return (unit() < 0.5 ? -1.0 : 1.0) * scaled(u);
      case Range::positive: return scaled(u);
      case Range::one: return 2.0 * u - 1.0;
      case Range::above_one: return 1.0 + scaled(u);
      case Range::exponent: return 40.0 * (u - 0.5);
      case Range::angle: return 2000.0 * (u - 0.5);
      case Range::gamma: return 0.1 + 30.0 * u;
    }
    return u;
  }

 private:
  double unit() {
    state_ ^= state_ << 13U;
    state_ ^= state_ >> 7U;
    state_ ^= state_ << 17U;
    return static_cast<double>(state_ >> 11U) * 0x1p-53;
  }
  /// From 2^-40 to 2^40: a power of two from the next number, without a function of the library.
  double scaled(double u) {
    const int power = static_cast<int>(80.0 * unit()) - 40;
    double out = 1.0 + u;
    for (int i = 0; i < power; ++i) out *= 2.0;
    for (int i = 0; i > power; --i) out *= 0.5;
    return out;
  }
  std::uint64_t state_{0x9e3779b97f4a7c15U};
};

/// A number that another last bit of any of 20,000 results changes (FNV-1a over their bits).
inline std::uint64_t bits_of(const Function& function) {
  Arguments arguments;
  std::uint64_t sum = 0xcbf29ce484222325U;
  for (int i = 0; i < 20000; ++i) {
    const double x = arguments.next(function.first);
    const double y = function.of_one ? function.of_one(x) : function.of_two(x, arguments.next(function.second));
    std::uint64_t bits = 0;
    std::memcpy(&bits, &y, sizeof bits);  // no std::bit_cast with Emscripten 3.1.6
    for (int byte = 0; byte < 8; ++byte, bits >>= 8U) sum = (sum ^ (bits & 0xffU)) * 0x100000001b3U;
  }
  return sum;
}

}  // namespace elementary
