#include "whorl/model/bench_safety.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace whorl::model {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

// (1 - e^-x)/x, 1 at 0.
double mean_decay(double x) { return x > 0.0 ? -std::expm1(-x) / x : 1.0; }

// 2 (x - 1 + e^-x)/x^2, 1 at 0; by its series where the difference loses digits.
double mean_rise(double x) {
  if (x < 1e-2) return 1.0 - x / 3.0 + x * x / 12.0 - x * x * x / 60.0;
  return 2.0 * (x + std::expm1(-x)) / (x * x);
}

// One release that starts at 0, without background: concentration at t.
double one_release(const Room& room, const Releases& r, double t) {
  if (t <= 0.0) return 0.0;
  const double k = room.removal_1_s();
  const double on = std::min(t, r.duration_s);
  const double rise = r.mass_kg / room.volume_m3 * (on / r.duration_s) * mean_decay(k * on);
  return t > on ? rise * std::exp(-k * (t - on)) : rise;
}

// The same integrated from 0 to t.
double one_integral(const Room& room, const Releases& r, double t) {
  if (t <= 0.0) return 0.0;
  const double k = room.removal_1_s();
  const double on = std::min(t, r.duration_s);
  double sum = r.mass_kg / room.volume_m3 * (0.5 * on * on / r.duration_s) * mean_rise(k * on);
  if (t > on) sum += one_release(room, r, on) * (t - on) * mean_decay(k * (t - on));
  return sum;
}

template <class Term>
double over_releases(const Room& room, const Releases& r, double t, Term term) {
  double sum = 0.0;
  for (int i = 0; i < r.count; ++i) {
    const double since = t - i * r.interval_s;
    if (since <= 0.0) break;
    sum += term(room, r, since);
  }
  return sum;
}

constexpr std::array<RotorMaterial, 5> kMaterials{{
    {"aluminium-6061-t6", "aluminium 6061-T6", 2700.0, 276e6, 0.33,
     "yield 40 ksi and Poisson ratio in a table of engineering mechanics (ecoursesbook, read); density from memory"},
    {"aluminium-7075-t6", "aluminium 7075-T6", 2810.0, 483e6, 0.33,
     "yield 70 ksi and Poisson ratio in a table of engineering mechanics (ecoursesbook, read); density from memory"},
    {"stainless-304", "stainless steel 304, annealed", 8000.0, 205e6, 0.29,
     "ASTM A240 least yield strength, from memory"},
    {"stainless-316", "stainless steel 316, annealed", 8000.0, 205e6, 0.29,
     "ASTM A240 least yield strength, from memory"},
    {"titanium-6al-4v", "titanium 6Al-4V, annealed", 4430.0, 827e6, 0.33,
     "yield 120 ksi and Poisson ratio in a table of engineering mechanics (ecoursesbook, read); density 4430 read"},
}};

}  // namespace

double vapour_concentration_kg_m3(double volume_fraction, double molar_mass_kg_mol, double temperature_K,
                                  double pressure_Pa) {
  return volume_fraction * molar_mass_kg_mol * pressure_Pa / (kGasConstant_J_mol_K * temperature_K);
}

double vapour_volume_fraction(double concentration_kg_m3, double molar_mass_kg_mol, double temperature_K,
                              double pressure_Pa) {
  return concentration_kg_m3 * kGasConstant_J_mol_K * temperature_K / (molar_mass_kg_mol * pressure_Pa);
}

double room_concentration_kg_m3(const Room& room, const Releases& releases, double time_s) {
  return room.background_kg_m3 + over_releases(room, releases, time_s, one_release);
}

double room_steady_kg_m3(const Room& room, const Releases& releases) {
  const double removal = room.removal_1_s();
  if (!(removal > 0.0)) return kInfinite;
  return room.background_kg_m3 + releases.mass_kg / (releases.interval_s * removal * room.volume_m3);
}

double room_peak_kg_m3(const Room& room, const Releases& releases) {
  return room_concentration_kg_m3(room, releases, (releases.count - 1) * releases.interval_s + releases.duration_s);
}

double room_mean_kg_m3(const Room& room, const Releases& releases, double from_s, double window_s) {
  const double sum = over_releases(room, releases, from_s + window_s, one_integral) -
                     over_releases(room, releases, from_s, one_integral);
  return room.background_kg_m3 + sum / window_s;
}

double room_worst_mean_kg_m3(const Room& room, const Releases& releases, double window_s) {
  std::vector<double> events;
  for (int i = 0; i < releases.count; ++i) {
    const double start = i * releases.interval_s;
    for (const double at : {start, start + releases.duration_s}) {
      events.push_back(at);
      events.push_back(at - window_s);
    }
  }
  std::sort(events.begin(), events.end());
  const auto slope = [&](double from) {
    return room_concentration_kg_m3(room, releases, from + window_s) - room_concentration_kg_m3(room, releases, from);
  };
  double worst = room.background_kg_m3;
  for (std::size_t i = 0; i < events.size(); ++i) {
    worst = std::max(worst, room_mean_kg_m3(room, releases, events[i], window_s));
    if (i + 1 == events.size()) break;
    double low = events[i];
    double high = events[i + 1];
    if (!(slope(low) > 0.0 && slope(high) < 0.0)) continue;
    for (int step = 0; step < 60; ++step) {
      const double middle = 0.5 * (low + high);
      (slope(middle) > 0.0 ? low : high) = middle;
    }
    worst = std::max(worst, room_mean_kg_m3(room, releases, low, window_s));
  }
  return worst;
}

double room_purge_time_s(const Room& room, double share_left) {
  const double removal = room.removal_1_s();
  return removal > 0.0 ? -std::log(share_left) / removal : kInfinite;
}

double dilution_air_m3(double mass_kg, double limit_kg_m3, double mixing_factor, double background_kg_m3) {
  const double room_left = limit_kg_m3 - background_kg_m3;
  return room_left > 0.0 ? mixing_factor * mass_kg / room_left : kInfinite;
}

GasEnergy stored_gas_energy(double volume_m3, double overpressure_Pa, double room_pressure_Pa, double heat_ratio) {
  GasEnergy energy;
  if (!(overpressure_Pa > 0.0)) return energy;
  const double pressure = room_pressure_Pa + overpressure_Pa;
  const double ratio = room_pressure_Pa / pressure;
  energy.isothermal_J = -pressure * volume_m3 * std::log(ratio);
  energy.isentropic_J =
      pressure * volume_m3 / (heat_ratio - 1.0) * (1.0 - std::pow(ratio, (heat_ratio - 1.0) / heat_ratio));
  energy.brode_J = overpressure_Pa * volume_m3 / (heat_ratio - 1.0);
  return energy;
}

double fall_height_m(double energy_J) { return energy_J / kStandardGravity_m_s2; }

double thin_ring_stress_Pa(const RotorRing& ring) {
  const double rim = ring.speed_rad_s * ring.outer_radius_m;
  return ring.density_kg_m3 * rim * rim;
}

double thick_ring_stress_Pa(const RotorRing& ring, double radius_m) {
  const double nu = ring.poisson_ratio;
  const double a2 = ring.inner_radius_m * ring.inner_radius_m;
  const double b2 = ring.outer_radius_m * ring.outer_radius_m;
  const double r2 = radius_m * radius_m;
  return (3.0 + nu) / 8.0 * ring.density_kg_m3 * ring.speed_rad_s * ring.speed_rad_s *
         (a2 + b2 + a2 * b2 / r2 - (1.0 + 3.0 * nu) / (3.0 + nu) * r2);
}

double bore_pressure_stress_Pa(const RotorRing& ring, double overpressure_Pa) {
  const double a2 = ring.inner_radius_m * ring.inner_radius_m;
  const double b2 = ring.outer_radius_m * ring.outer_radius_m;
  return overpressure_Pa * (a2 + b2) / (b2 - a2);
}

double ring_speed_at_rad_s(const RotorRing& ring, double strength_Pa) {
  RotorRing slow = ring;
  slow.speed_rad_s = 1.0;
  return std::sqrt(strength_Pa / thick_ring_stress_Pa(slow, ring.inner_radius_m));
}

double ring_mass_kg(const RotorRing& ring) {
  return ring.density_kg_m3 * kPi * ring.height_m *
         (ring.outer_radius_m * ring.outer_radius_m - ring.inner_radius_m * ring.inner_radius_m);
}

double ring_energy_J_kg(const RotorRing& ring) {
  return 0.25 * ring.speed_rad_s * ring.speed_rad_s *
         (ring.inner_radius_m * ring.inner_radius_m + ring.outer_radius_m * ring.outer_radius_m);
}

std::span<const RotorMaterial> rotor_materials() noexcept { return kMaterials; }

}  // namespace whorl::model
