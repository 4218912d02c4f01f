#include "model/breakup.hpp"

#include <algorithm>
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

}  // namespace

double capillary_growth_rate(const Thread& thread, double k) {
  const double a = thread.radius_m;
  const double ka = k * a;
  const double capillary = thread.surface_tension_N_m / (thread.density_kg_m3 * a * a * a);
  const double damping = 1.5 * thread.viscosity_Pa_s / thread.density_kg_m3 * k * k;
  double drive = 1.0 - ka * ka;
  if (thread.axial_stress_Pa > 0.0) {
    const double deborah = thread.relaxation_time_s * std::sqrt(capillary);
    drive -= 2.0 * a * thread.axial_stress_Pa / thread.surface_tension_N_m * deborah / (1.0 + deborah);
  }
  const double source = 0.5 * capillary * ka * ka * drive;
  const double discriminant = damping * damping + source;
  if (discriminant <= 0.0) return -damping;
  // -b + sqrt(b^2 + c) without cancellation
  return source / (damping + std::sqrt(discriminant));
}

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
  constexpr int kWaves = 28;
  const double step = std::log(high / low) / (kWaves - 1);
  for (int w = 0; w < kWaves; ++w) {
    const double label = low * std::exp(step * w);
    double gain = 0.0;
    double previous = capillary_growth_rate(path[0].thread, label / path[0].speed_m_s);
    for (std::size_t i = 1; i < path.size(); ++i) {
      const double rate = capillary_growth_rate(path[i].thread, label / path[i].speed_m_s);
      gain += 0.5 * (rate + previous) * (path[i].time_s - path[i - 1].time_s);
      gain = std::max(gain, 0.0);
      previous = rate;
      result.gain_along[i] = std::max(result.gain_along[i], gain);
      if (gain > result.largest) {
        result.largest = gain;
        result.at_wave_number_ka = label / path[i].speed_m_s * path[i].thread.radius_m;
      }
    }
  }
  for (std::size_t i = 1; i < path.size(); ++i) {
    result.gain_along[i] = std::max(result.gain_along[i], result.gain_along[i - 1]);
  }
  return result;
}

}  // namespace whorl::model
