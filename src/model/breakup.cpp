#include "whorl/model/breakup.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whorl::model {
namespace {

// I1(x)/I0(x) by power series; x <= 3 is all a capillary wave needs.
double bessel_ratio(double x) {
  const double q = 0.25 * x * x;
  double term0 = 1.0;
  double term1 = 0.5 * x;
  double sum0 = 1.0;
  double sum1 = term1;
  for (int k = 1; k < 60; ++k) {
    term0 *= q / (static_cast<double>(k) * k);
    term1 *= q / (static_cast<double>(k) * (k + 1.0));
    sum0 += term0;
    sum1 += term1;
    if (term0 < 1e-18 * sum0) break;
  }
  return sum1 / sum0;
}

// What the growth rate needs of a thread, whatever the wave.
class GrowthTerms {
 public:
  explicit GrowthTerms(const Thread& thread)
      : radius_(thread.radius_m), damping_(1.5 * thread.viscosity_Pa_s / thread.density_kg_m3) {
    const double a = thread.radius_m;
    const double capillary = thread.surface_tension_N_m / (thread.density_kg_m3 * a * a * a);
    half_capillary_ = 0.5 * capillary;
    if (thread.axial_stress_Pa > 0.0) {
      const double deborah = thread.relaxation_time_s * std::sqrt(capillary);
      elastic_ = 2.0 * a * thread.axial_stress_Pa / thread.surface_tension_N_m * deborah / (1.0 + deborah);
    }
  }
  [[nodiscard]] double rate(double k) const {
    const double ka = k * radius_;
    const double damping = damping_ * k * k;
    const double source = half_capillary_ * ka * ka * (1.0 - ka * ka - elastic_);
    const double discriminant = damping * damping + source;
    // -b + sqrt(b^2 + c) without cancellation; nothing under the root: a stable wave
    const bool stable = !(discriminant > 0.0);
    const double below = stable ? 1.0 : damping + std::sqrt(stable ? 1.0 : discriminant);
    return stable ? -damping : source / below;
  }

 private:
  double radius_;
  double damping_;
  double half_capillary_{};
  double elastic_{0.0};
};

}  // namespace

double capillary_growth_rate(const Thread& thread, double k) { return GrowthTerms(thread).rate(k); }

double rayleigh_growth_rate(double radius, double density, double surface_tension, double k) {
  const double x = k * radius;
  if (x >= 1.0) return 0.0;
  return std::sqrt(surface_tension / (density * radius * radius * radius) * x * (1.0 - x * x) * bessel_ratio(x));
}

CapillaryGain capillary_gain(const std::vector<ThreadSample>& path) {
  CapillaryGain result;
  result.gain_along.assign(path.size(), 0.0);
  if (path.size() < 2) return result;

  // Waves: k u is constant with the fluid, so label a wave by kappa = k u. Cover every wave that is at its fastest
  // (ka near 0.3 to 0.7) somewhere on the path.
  double low = 1e300;
  double high = 0.0;
  for (const auto& sample : path) {
    const double label = sample.speed_m_s / sample.thread.radius_m;
    low = std::min(low, 0.02 * label);
    high = std::max(high, 0.8 * label);
  }
  constexpr std::size_t kWaves = 28;
  using Waves = std::array<double, kWaves>;
  const double step = std::log(high / low) / (kWaves - 1);
  Waves label{};
  for (std::size_t w = 0; w < kWaves; ++w) label[w] = low * std::exp(step * static_cast<double>(w));

  // All waves of one sample at a time, written so that the compiler can take several at once.
  Waves rate{};
  Waves previous{};
  Waves gain{};
  Waves largest{};
  Waves largest_ka{};
  const auto rates_at = [&](const ThreadSample& sample, Waves& out) {
    const GrowthTerms terms(sample.thread);
    for (std::size_t w = 0; w < kWaves; ++w) out[w] = terms.rate(label[w] / sample.speed_m_s);
  };
  rates_at(path[0], previous);
  for (std::size_t i = 1; i < path.size(); ++i) {
    const double dt = path[i].time_s - path[i - 1].time_s;
    rates_at(path[i], rate);
    const double ka = path[i].thread.radius_m / path[i].speed_m_s;
    double top = 0.0;
    for (std::size_t w = 0; w < kWaves; ++w) {
      gain[w] += 0.5 * (rate[w] + previous[w]) * dt;
      gain[w] = gain[w] > 0.0 ? gain[w] : 0.0;
      top = gain[w] > top ? gain[w] : top;
      largest_ka[w] = gain[w] > largest[w] ? label[w] * ka : largest_ka[w];
      largest[w] = gain[w] > largest[w] ? gain[w] : largest[w];
    }
    previous = rate;
    result.gain_along[i] = top;
  }
  for (std::size_t w = 0; w < kWaves; ++w) {
    if (largest[w] > result.largest) {
      result.largest = largest[w];
      result.at_wave_number_ka = largest_ka[w];
    }
  }
  for (std::size_t i = 1; i < path.size(); ++i) {
    result.gain_along[i] = std::max(result.gain_along[i], result.gain_along[i - 1]);
  }
  return result;
}

double draw_out_gain(const SlowOutflow& o) {
  const double kinematic = o.viscosity_Pa_s / o.density_kg_m3;
  const double inertia_takes_over = std::cbrt(1.5 * kinematic * o.acceleration_m_s2);
  if (o.speed_m_s >= inertia_takes_over) return 0.0;
  const double draw = std::sqrt(2.0 * o.acceleration_m_s2 / (3.0 * kinematic));
  return o.surface_tension_N_m / (6.0 * o.viscosity_Pa_s * o.radius_m * draw * std::sqrt(o.speed_m_s)) *
         std::log(inertia_takes_over / o.speed_m_s);
}

}  // namespace whorl::model
