// The inertial jet against exact flights, and its convergence.
#include <algorithm>
#include <cmath>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/engine/orifice_flow.hpp"

using namespace whorl;

namespace {

struct Flight {
  engine::Setup setup;
  double flow_m3_s{};
};
Flight flight(const model::CaseInput& input) {
  Flight out{engine::resolve(input, io::built_in_library()), 0.0};
  const auto orifice = engine::solve_orifice(out.setup, input.operation.charge_volume_m3);
  REQUIRE(orifice.flow.flow_m3_s > 0.0);
  out.flow_m3_s = orifice.flow.flow_m3_s;
  return out;
}

}  // namespace

TEST_CASE("jet: without air and gravity it flies straight in the laboratory", "[engine][eq:inertial-jet][eq:free-flight-speed]") {
  const double speed_rpm = GENERATE(2000.0, 10000.0, 30000.0);
  model::CaseInput input = testing::plain_case(1.0);
  input.operation.rotation_speed_rad_s = speed_rpm * 2.0 * model::kPi / 60.0;
  Flight f = flight(input);
  f.setup.air.axial_drag_factor = 0.0;
  f.setup.air.cross_drag_factor = 0.0;
  f.setup.air.mass_factor = 0.0;  // nothing dries: it cannot solidify either
  model::JetContext context = f.setup.jet_context(f.flow_m3_s);
  context.gravity_m_s2 = 0.0;
  jet::JetOptions options;
  options.drying = model::DryingModel::lumped;
  options.relative_tolerance = 1e-12;
  options.keep_profile = true;
  options.freeze_when_solid = false;
  const model::Jet jet = jet::solve_inertial_jet(context, options);
  INFO(jet.reason);
  REQUIRE(jet.status == model::Status::done);
  REQUIRE(jet.reached_collector);
  const double omega = context.speed_rad_s;
  const double r0 = context.outer_radius_m;
  const double u0 = context.exit_speed_m_s;
  // Newton's first law: r(t)^2 = (R + U t)^2 + (Omega R t)^2, and the energy integral in the turning frame
  // u^2 = U^2 + Omega^2 (r^2 - R^2). 1e-9 is a thousand times the tolerance of the march.
  CHECK_THAT(jet.end_radius_m, WithinRel(context.collector_radius_m, 1e-9));
  CHECK_THAT(jet.end_speed_m_s, WithinRel(model::free_flight_speed(u0, omega, r0, jet.end_radius_m), 1e-9));
  const double w2 = u0 * u0 + omega * omega * r0 * r0;
  const double b = u0 * r0;
  const double rc2 = context.collector_radius_m * context.collector_radius_m;
  const double time = (-b + std::sqrt(b * b + w2 * (rc2 - r0 * r0))) / w2;
  CHECK_THAT(jet.flight_time_s, WithinRel(time, 1e-9));
  double worst = 0.0;
  for (const auto& s : jet.profile) {
    const double c = std::cos(omega * s.time_s);
    const double q = std::sin(omega * s.time_s);
    worst = std::max(worst, std::abs(c * s.x_m - q * s.y_m - (r0 + u0 * s.time_s)));
    worst = std::max(worst, std::abs(q * s.x_m + c * s.y_m - omega * r0 * s.time_s));
    CHECK_THAT(s.speed_m_s, WithinRel(model::free_flight_speed(u0, omega, r0, s.radius_m), 1e-8));
  }
  CHECK(jet.profile.size() > 10);
  CHECK(worst < 1e-9 * context.collector_radius_m);
}

TEST_CASE("jet: without air it falls as any stone, and air only takes from it", "[engine][eq:inertial-jet]") {
  model::CaseInput input = testing::plain_case(1.0);
  input.operation.rotation_speed_rad_s = 100.0;
  input.operation.gas_overpressure_Pa = 0.2e6;
  Flight f = flight(input);
  const double across = f.setup.air.cross_drag_factor;
  const double along = f.setup.air.axial_drag_factor;
  f.setup.air.axial_drag_factor = 0.0;
  f.setup.air.cross_drag_factor = 0.0;
  f.setup.air.mass_factor = 0.0;
  const model::JetContext context = f.setup.jet_context(f.flow_m3_s);
  jet::JetOptions options;
  options.drying = model::DryingModel::lumped;
  options.relative_tolerance = 1e-11;
  options.keep_profile = true;
  options.freeze_when_solid = false;
  const model::Jet stone = jet::solve_inertial_jet(context, options);
  INFO(stone.reason);
  REQUIRE(stone.reached_collector);
  const double t = stone.flight_time_s;
  CHECK_THAT(stone.profile.back().z_m, WithinRel(-0.5 * model::kStandardGravity_m_s2 * t * t, 1e-8));
  // energy in the turning frame with height: u^2 = U^2 + Omega^2 (r^2 - R^2) - 2 g z
  const double flat = model::free_flight_speed(context.exit_speed_m_s, context.speed_rad_s, context.outer_radius_m, stone.end_radius_m);
  CHECK_THAT(stone.end_speed_m_s,
             WithinRel(std::sqrt(flat * flat - 2.0 * model::kStandardGravity_m_s2 * stone.profile.back().z_m), 1e-8));
  CHECK_THAT(stone.budget.centrifugal_J_kg + stone.budget.gravity_J_kg, WithinRel(stone.budget.total_J_kg, 1e-8));
  // In the laboratory the air stands still: it can only slow the jet.
  f.setup.air.axial_drag_factor = along;
  f.setup.air.cross_drag_factor = across;
  const model::Jet dragged = jet::solve_inertial_jet(context, options);
  REQUIRE(dragged.status == model::Status::done);
  for (const auto& s : dragged.profile) {
    CHECK(s.lab_speed_m_s <= std::hypot(context.exit_speed_m_s, context.speed_rad_s * context.outer_radius_m) +
                                 std::sqrt(std::max(0.0, -2.0 * model::kStandardGravity_m_s2 * s.z_m)) + 1e-9);
  }
  if (dragged.reached_collector) CHECK(dragged.flight_time_s > t);
}

TEST_CASE("jet: the answer converges with the tolerance", "[engine][eq:inertial-jet][convergence]") {
  model::CaseInput input = testing::plain_case(1.0);
  input.operation.gas_overpressure_Pa = 0.2e6;
  const Flight f = flight(input);
  model::JetContext context = f.setup.jet_context(f.flow_m3_s);
  context.collector_radius_m = context.outer_radius_m + 0.05;
  jet::JetOptions options;
  options.drying = model::DryingModel::lumped;
  options.relative_tolerance = 1e-12;
  const model::Jet fine = jet::solve_inertial_jet(context, options);
  INFO(fine.reason);
  REQUIRE(fine.status == model::Status::done);
  REQUIRE(fine.reached_collector);
  std::vector<double> errors;
  for (const double tolerance : {1e-4, 1e-6, 1e-8}) {
    options.relative_tolerance = tolerance;
    const model::Jet jet = jet::solve_inertial_jet(context, options);
    REQUIRE(jet.reached_collector);
    const double error = std::max({std::abs(jet.end_speed_m_s / fine.end_speed_m_s - 1.0),
                                   std::abs(jet.residual_solvent / fine.residual_solvent - 1.0),
                                   std::abs(jet.dry_diameter_m / fine.dry_diameter_m - 1.0)});
    INFO("tolerance " << tolerance << " error " << error);
    // Local error control: the global error stays within about a hundred tolerances on a path of tens of steps.
    CHECK(error < 100.0 * tolerance);
    errors.push_back(error);
  }
  CHECK(errors[2] < 0.1 * errors[0]);
}
