// Vapour, gas and rotor arithmetic against published tables and worked examples.
#include <cmath>
#include <string>

#include "catch.hpp"
#include "whorl/model/bench_safety.hpp"
#include "whorl/model/recipe.hpp"

using namespace whorl::model;

namespace {
constexpr double kRoom_K = 298.15, kAtmosphere_Pa = 101325.0;
constexpr double kFoot3_m3 = 0.028316846592, kPint_m3 = 473.176473e-6;
}  // namespace

TEST_CASE("vapour: ppm to mg/m3 as in the NIOSH Pocket Guide", "[model][eq:vapour-mass-concentration]") {
  // NIOSH Pocket Guide to Chemical Hazards, "Conversion: 1 ppm = ... mg/m3" (from memory), rounded there from other constants
  struct Row {
    const char* name;
    double molar_mass, mg_m3;
  };
  for (const Row& row : {Row{"acetone", 58.08, 2.38}, Row{"chloroform", 119.38, 4.88}, Row{"toluene", 92.14, 3.77},
                         Row{"dichloromethane", 84.93, 3.47}, Row{"ethanol", 46.07, 1.89}, Row{"tetrahydrofuran", 72.11, 2.95}}) {
    INFO(row.name);
    const double c = vapour_concentration_kg_m3(1e-6, 1e-3 * row.molar_mass, kRoom_K, kAtmosphere_Pa);
    CHECK_THAT(1e6 * c, WithinAbs(row.mg_m3, 0.01));
    CHECK_THAT(vapour_volume_fraction(c, 1e-3 * row.molar_mass, kRoom_K, kAtmosphere_Pa), WithinRel(1e-6, 1e-14));
  }
}

TEST_CASE("room: times to clear the air as in the CDC table", "[model][eq:room-purge]") {
  // CDC, MMWR 43 RR-13 (1994), table S3-1: minutes to remove 99 % and 99.9 %, K = 1
  struct Row {
    double changes_1_h, min_99, min_999;
  };
  for (const Row& row : {Row{2, 138, 207}, Row{6, 46, 69}, Row{12, 23, 35}, Row{20, 14, 21}, Row{50, 6, 8}}) {
    INFO(row.changes_1_h);
    const Room room{100.0, row.changes_1_h / 3600.0, 1.0, 0.0};
    CHECK_THAT(room_purge_time_s(room, 0.01) / 60.0, WithinAbs(row.min_99, 0.55));
    CHECK_THAT(room_purge_time_s(room, 0.001) / 60.0, WithinAbs(row.min_999, 0.55));
  }
  CHECK(std::isinf(room_purge_time_s(Room{10.0, 0.0, 1.0, 0.0}, 0.01)));
}

TEST_CASE("room: dilution air as in a worked example of ACGIH", "[model][eq:dilution-air]") {
  // ACGIH, Industrial Ventilation (from memory): methyl chloroform, 1.5 pints in 60 min, specific gravity 1.32, M 133.4, limit 350 ppm,
  // K = 5: 285 cfm x 5 = 1,425 cfm of air at 70 degF (387 ft3 per lb mol, 403 ft3 of vapour per pint over M and specific gravity)
  const double at_70F = 294.26;
  const double evaporated = 1.5 * kPint_m3 * 1320.0;  // in one hour
  const double limit = vapour_concentration_kg_m3(350e-6, 0.1334, at_70F, kAtmosphere_Pa);
  const double cfm = dilution_air_m3(evaporated, limit, 5.0) / kFoot3_m3 / 60.0;
  CHECK_THAT(cfm, WithinRel(1425.0, 0.005));
  // the same source, for fire: xylol, 2 pints an hour, specific gravity 0.88, M 106, held at a quarter of 1 % (the oven's factor 0.7 left
  // out): 403 x 0.88 x 2/60 x 100 x 4/106 = 44.6 cfm
  const double fire = vapour_concentration_kg_m3(0.01, 0.106, at_70F, kAtmosphere_Pa);
  CHECK_THAT(dilution_air_m3(2.0 * kPint_m3 * 880.0, fire / 4.0, 1.0) / kFoot3_m3 / 60.0, WithinRel(44.6, 0.005));
  CHECK(std::isinf(dilution_air_m3(1.0, 1e-3, 1.0, 1e-3)));
}

TEST_CASE("room: one steady release, its rise and its decay", "[model][eq:well-mixed-room][eq:room-peak]") {
  // closed form: C = G/(n V)(1 - e^-nt), then e^-n(t-T)
  const Room room{50.0, 4.0 / 3600.0, 2.0, 1e-6};
  const Releases one{2e-3, 600.0, 600.0, 1};
  const double rate = 2.0 / 3600.0;
  const double level = 2e-3 / 600.0 / (rate * 50.0);
  CHECK_THAT(room_concentration_kg_m3(room, one, 300.0), WithinRel(1e-6 + level * (1.0 - std::exp(-rate * 300.0)), 1e-12));
  const double top = level * (1.0 - std::exp(-rate * 600.0));
  CHECK_THAT(room_peak_kg_m3(room, one), WithinRel(1e-6 + top, 1e-12));
  CHECK_THAT(room_concentration_kg_m3(room, one, 4200.0), WithinRel(1e-6 + top * std::exp(-rate * 3600.0), 1e-12));
  // no fresh air: all of it stays
  CHECK_THAT(room_concentration_kg_m3(Room{50.0, 0.0, 1.0, 0.0}, one, 5000.0), WithinRel(2e-3 / 50.0, 1e-12));
}

TEST_CASE("room: many releases settle at the average, and no window is worse than the worst", "[model][eq:room-steady][eq:room-mean]") {
  const Room room{30.0, 6.0 / 3600.0, 3.0, 0.0};
  const Releases many{3e-3, 20.0, 1800.0, 60};
  const double late = 50.0 * 1800.0;
  CHECK_THAT(room_mean_kg_m3(room, many, late, 1800.0), WithinRel(room_steady_kg_m3(room, many), 1e-9));
  for (const double window : {900.0, 3600.0, 28800.0}) {
    const double worst = room_worst_mean_kg_m3(room, many, window);
    double seen = 0.0;
    for (double from = -window; from < 60.0 * 1800.0; from += 37.0) {
      // by the trapezium on a fine grid, for two of the windows
      seen = std::max(seen, room_mean_kg_m3(room, many, from, window));
    }
    CHECK(seen <= worst * (1.0 + 1e-12));
    CHECK(seen > 0.99 * worst);
  }
  double sum = 0.0;
  const int n = 20000;
  for (int i = 0; i <= n; ++i) {
    sum += (i == 0 || i == n ? 0.5 : 1.0) * room_concentration_kg_m3(room, many, 100.0 + 900.0 * i / n);
  }
  CHECK_THAT(room_mean_kg_m3(room, many, 100.0, 900.0), WithinRel(sum / n, 1e-6));
}

TEST_CASE("gas: stored energy as ASME PCC-2, and its bounds", "[model][eq:stored-gas-energy][eq:fall-height]") {
  // ASME PCC-2-2008, article 5.1, appendix II, equation II-2 (page read), later appendix 501-II, for air: E = 2.5 p V [1 - (p_a/p)^0.286], here 1 m3 at 1 MPa absolute: 1.20 MJ by that formula
  const GasEnergy energy = stored_gas_energy(1.0, 1e6 - kAtmosphere_Pa, kAtmosphere_Pa);
  CHECK_THAT(energy.isentropic_J, WithinRel(2.5 * 1e6 * (1.0 - std::pow(kAtmosphere_Pa / 1e6, 0.286)), 1e-3));  // 0.286 is rounded
  CHECK_THAT(energy.isothermal_J, WithinRel(1e6 * std::log(1e6 / kAtmosphere_Pa), 1e-12));
  CHECK_THAT(energy.brode_J, WithinRel((1e6 - kAtmosphere_Pa) / 0.4, 1e-12));
  CHECK(energy.isentropic_J < energy.isothermal_J);
  CHECK(stored_gas_energy(1.0, 0.0, kAtmosphere_Pa).brode_J == 0.0);
  CHECK_THAT(fall_height_m(9.80665), WithinRel(1.0, 1e-12));
}

TEST_CASE("rotor: hoop stress balances half the ring, and its limits", "[model][eq:thick-ring-stress][eq:thin-ring-stress][eq:ring-speed-limit]") {
  // equilibrium of the half ring: 2 integral of sigma dr = 2/3 rho omega^2 (b^3 - a^3) per height, whatever nu
  for (const double nu : {0.0, 0.29, 0.33}) {
    const RotorRing ring{0.03, 0.05, 0.02, 2700.0, nu, 1000.0};
    double sum = 0.0;
    const int n = 4000;
    for (int i = 0; i <= n; ++i) {
      const double r = 0.03 + 0.02 * i / n;
      sum += (i == 0 || i == n ? 1.0 : (i % 2 == 1 ? 4.0 : 2.0)) * thick_ring_stress_Pa(ring, r);
    }
    sum *= 0.02 / n / 3.0;
    CHECK_THAT(sum, WithinRel(2700.0 * 1e6 * (std::pow(0.05, 3) - std::pow(0.03, 3)) / 3.0, 1e-10));
  }
  // a thin wall is the thin ring; a solid disc has (3+nu)/8 rho omega^2 b^2 in the middle, a pin hole twice that (Timoshenko & Goodier)
  const RotorRing thin{0.0999, 0.1, 0.02, 7850.0, 0.3, 500.0};
  CHECK_THAT(thick_ring_stress_Pa(thin, 0.0999), WithinRel(thin_ring_stress_Pa(thin), 2e-3));
  const RotorRing pin{1e-9, 0.1, 0.02, 7850.0, 0.3, 500.0};
  CHECK_THAT(thick_ring_stress_Pa(pin, 1e-9), WithinRel(2.0 * 3.3 / 8.0 * 7850.0 * 2500.0, 1e-9));
  const RotorRing ring{0.03, 0.031, 0.02, 2700.0, 0.33, 0.0};
  const double limit = ring_speed_at_rad_s(ring, 50e6);
  RotorRing there = ring;
  there.speed_rad_s = limit;
  CHECK_THAT(thick_ring_stress_Pa(there, 0.03), WithinRel(50e6, 1e-12));
}

TEST_CASE("rotor: pressure and energy", "[model][eq:bore-pressure-stress][eq:rotor-energy]") {
  // thin wall: p r/t to first order
  const RotorRing ring{0.1, 0.101, 0.05, 2700.0, 0.33, 100.0};
  CHECK_THAT(bore_pressure_stress_Pa(ring, 1e5), WithinRel(1e5 * 0.1005 / 0.001, 1e-3));
  // thick tube, b = 2 a: 5/3 p (Lame)
  CHECK_THAT(bore_pressure_stress_Pa(RotorRing{0.1, 0.2, 0.05, 2700.0, 0.33, 0.0}, 3e5), WithinRel(5e5, 1e-12));
  const double mass = ring_mass_kg(ring);
  CHECK_THAT(mass, WithinRel(2700.0 * kPi * 0.05 * (0.101 * 0.101 - 0.01), 1e-12));
  CHECK_THAT(mass * ring_energy_J_kg(ring), WithinRel(0.5 * mass * 0.1005 * 0.1005 * 1e4, 1e-4));
}

TEST_CASE("recipe: weigh-out by hand", "[model][eq:weigh-out][eq:batch-volume][eq:fibre-length][eq:area-coverage]") {
  // 100 mL at 10 wt%, 1.2 g/mL: 12 g polymer, 108 g solvent of 1.5 g/mL = 72 mL
  const WeighOut w = weigh_out(100e-6, 0.1, 1200.0, 1500.0);
  CHECK_THAT(w.polymer_mass_kg, WithinRel(12e-3, 1e-12));
  CHECK_THAT(w.solvent_mass_kg, WithinRel(108e-3, 1e-12));
  CHECK_THAT(w.solvent_volume_m3, WithinRel(72e-6, 1e-12));
  CHECK_THAT(batch_volume_m3(3.0, 5e-6, 0.1), WithinRel(16.5e-6, 1e-12));
  // 1 g at 1000 kg/m3 as 1 um fibre: 1e-6 m3 / (pi/4 1e-12 m2) = 1273 km
  CHECK_THAT(fibre_length_m(1e-3, 1000.0, 1e-6, 0.0), WithinRel(1.2732395e6, 1e-7));
  CHECK_THAT(fibre_length_m(1e-3, 1000.0, 1e-6, 1e-6), WithinRel(0.5 * 1.2732395e6, 1e-7));
  CHECK(fibre_length_m(1e-3, 1000.0, 0.0, 0.0) == 0.0);
  CHECK_THAT(area_coverage_kg_m2(1e-3, 0.1, 0.05), WithinRel(1e-3 / (2.0 * kPi * 0.005), 1e-12));
  CHECK(area_coverage_kg_m2(1.0, 0.0, 1.0) == 0.0);
}
