// Liquid in a turning vessel against closed forms of rotating hydrostatics.
#include <cmath>

#include "catch.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/vessel.hpp"

using namespace whorl::model;

namespace {
Vessel small_vessel() {
  VesselInput input;
  input.bore_diameter_m = 60e-3;
  input.height_m = 40e-3;
  input.wall_thickness_m = 2e-3;
  input.orifice_diameter_m = 0.5e-3;
  input.orifice_count = 10;
  return make_vessel(input);
}
}  // namespace

TEST_CASE("free surface: apex height is the inverse of the volume", "[model][eq:free-surface]") {
  const Vessel v = small_vessel();
  const double full = kPi * v.bore_radius_m * v.bore_radius_m * v.height_m;
  for (const double omega : {0.0, 1.0, 20.0, 60.0, 300.0, 3000.0}) {
    for (const double share : {0.05, 0.3, 0.5, 0.8, 0.99}) {
      INFO(omega << " rad/s, " << share);
      const double apex = apex_height_m(v, omega, share * full);
      // Bisection to rounding of an apex that may lie Omega^2 R^2/2g (400 m) below the floor: 1e-9 of the volume.
      CHECK_THAT(liquid_volume_m3(v, omega, apex), WithinRel(share * full, 1e-9));
    }
  }
}

TEST_CASE("free surface: a slow paraboloid rises and falls by half of Omega^2 R^2/2g", "[model][eq:free-surface]") {
  // Any fluid-mechanics text: volume of a paraboloid is half of its cylinder; rest height 20 mm, neither floor nor lid met.
  const Vessel v = small_vessel();
  const double omega = 15.0;
  const double b = omega * omega / (2.0 * kStandardGravity_m_s2);
  const double area = kPi * v.bore_radius_m * v.bore_radius_m;
  const double rise = b * v.bore_radius_m * v.bore_radius_m;
  CHECK_THAT(apex_height_m(v, omega, area * 20e-3), WithinRel(20e-3 - 0.5 * rise, 1e-12));
  // and the dry-centre paraboloid: V = pi (b R^2 + z0)^2 / (2 b) for z0 < 0, lid not met
  const double fast = 35.0;
  const double bf = fast * fast / (2.0 * kStandardGravity_m_s2);
  const double z0 = -0.02;
  const double wall = z0 + bf * v.bore_radius_m * v.bore_radius_m;
  REQUIRE(wall > 0.0);
  REQUIRE(wall < v.height_m);
  CHECK_THAT(liquid_volume_m3(v, fast, z0), WithinRel(kPi * wall * wall / (2.0 * bf), 1e-12));
}

TEST_CASE("annulus: at high speed V = pi (R_i^2 - r_f^2) H", "[model][eq:annulus-radius][eq:centrifugal-head]") {
  const Vessel v = small_vessel();
  const double omega = 500.0;
  const double volume = 30e-6;
  const ChargeState state = charge_state(v, omega, volume);
  CHECK(state.orifice_wet);
  CHECK(state.spilled_volume_m3 == 0.0);
  // Exact at half height, where the orifices are.
  const double surface = std::sqrt(v.bore_radius_m * v.bore_radius_m - volume / (kPi * v.height_m));
  CHECK_THAT(state.free_surface_radius_m, WithinRel(surface, 1e-12));
  const LiquidHead head = liquid_head(v, omega, 1200.0, state);
  // Pressure of a liquid in rigid rotation, rho Omega^2 (R^2 - r_f^2)/2.
  CHECK_THAT(head.centrifugal_Pa,
             WithinRel(0.5 * 1200.0 * omega * omega * (v.outer_radius_m * v.outer_radius_m - surface * surface), 1e-12));
  CHECK(head.hydrostatic_Pa == 0.0);
}

TEST_CASE("vessel at rest: hydrostatics, and a dry orifice above the liquid", "[model][eq:centrifugal-head][eq:annulus-radius]") {
  const Vessel v = small_vessel();
  const double area = kPi * v.bore_radius_m * v.bore_radius_m;
  const ChargeState full = charge_state(v, 0.0, area * 30e-3);  // orifices at 20 mm
  CHECK(full.orifice_wet);
  CHECK_THAT(liquid_head(v, 0.0, 1000.0, full).hydrostatic_Pa, WithinRel(1000.0 * kStandardGravity_m_s2 * 10e-3, 1e-9));
  CHECK_FALSE(charge_state(v, 0.0, area * 10e-3).orifice_wet);
  CHECK_THAT(wetting_volume_m3(v, 0.0), WithinRel(area * (20e-3 + 0.25e-3), 1e-12));
  const double omega = 400.0;
  const double wet = wetting_volume_m3(v, omega);
  CHECK_FALSE(charge_state(v, omega, 0.999 * wet).orifice_wet);
  CHECK(charge_state(v, omega, 1.001 * wet).orifice_wet);
}

TEST_CASE("open lid: liquid inside the opening spills", "[model][eq:annulus-radius]") {
  Vessel v = small_vessel();
  v.lid_opening_radius_m = 10e-3;
  const double omega = 2000.0;
  const ChargeState state = charge_state(v, omega, 110e-6);
  CHECK(state.spilled_volume_m3 > 0.0);
  CHECK_THAT(state.volume_m3 + state.spilled_volume_m3, WithinRel(110e-6, 1e-12));
  // At 2000 rad/s the surface is upright within H g/(Omega^2 r) = 10 um: held is pi (R_i^2 - r_l^2) H to 1e-3.
  CHECK_THAT(state.volume_m3, WithinRel(kPi * (30e-3 * 30e-3 - 10e-3 * 10e-3) * 40e-3, 1e-3));
}

TEST_CASE("gas break-through: form of the critical submergence", "[model][eq:gas-breakthrough]") {
  const Vessel v = small_vessel();
  const double omega = 100.0;
  const double field = omega * omega * v.bore_radius_m;
  // Lubin & Springer (1967): h = 0.69 (Q^2/g)^(1/5) (constant from memory)
  CHECK_THAT(breakthrough_layer_m(v, omega, 1e-6), WithinRel(0.69 * std::pow(1e-12 / field, 0.2), 1e-12));
  CHECK(breakthrough_layer_m(v, omega, 1e-15) == v.orifice_radius_m);
}
