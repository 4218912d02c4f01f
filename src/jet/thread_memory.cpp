#include "jet/thread_memory.hpp"

#include <algorithm>
#include <cmath>

namespace whorl::jet {
namespace {

constexpr double kSlow = 0.2;  // Wi: below, stretching is slow; own choice, well below the coil-stretch rate Wi = 1/2
constexpr double kSteadyShare = 3.0;     // of Wi: by which the steady stress is off
constexpr double kMostExponent = 600.0;  // exp stays finite
constexpr double kMostChange = 10.0;     // of the rate from place to place, relative

// Change of the rate within a relaxation time, relative.
double change_of_rate(const StretchedThread& t, std::size_t i) {
  const double dt = t.time[i] - t.time[i - 1];
  if (!(dt > 0.0)) return 0.0;
  const double change = std::abs(t.rate[i] - t.rate[i - 1]) / std::max(std::abs(t.rate[i]), 1e-300);
  return std::min(change, kMostChange) * t.at[i].relaxation_s / dt;
}

}  // namespace

double share_of_memory(const StretchedThread& t) {
  double worst = 0.0;
  for (std::size_t i = 1; i < t.radius.size(); ++i) {
    const SmoothStation& at = t.at[i];
    const double u = std::exp(t.log_speed[i]);
    const double eta_p = at.viscosity_Pa_s * (1.0 - at.solvent_share);
    const double area = at.flow_kg_s / at.density_kg_m3 / u;
    const double newtonian = 3.0 * eta_p * std::abs(t.rate[i]);
    // no chain is stretched further than the liquid round it
    const double stretch = std::min(2.0 * (t.log_speed[i] - t.log_speed[0]), kMostExponent);
    const double affine = eta_p / at.relaxation_s * std::max(std::expm1(stretch), 0.0);
    const double weissenberg = std::abs(t.rate[i]) * at.relaxation_s;
    double apart = newtonian + affine;
    if (weissenberg < kSlow) {
      const double settled = std::exp(-std::min(t.time[i] / at.relaxation_s, kMostExponent));
      apart = std::min(apart, newtonian * (kSteadyShare * weissenberg + settled + change_of_rate(t, i)));
    }
    worst = std::max(worst, area * apart / (at.flow_kg_s * u));
  }
  return worst;
}

}  // namespace whorl::jet
