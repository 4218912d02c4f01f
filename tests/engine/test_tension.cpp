// The tension tier against closed forms and an independent integration.
#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "engine/hypercube.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/jet/tension.hpp"
#include "whorl/jet/tension_path.hpp"
#include "engine/tension_bench.hpp"
#include "jet/tension_line.hpp"
#include "solver/banded.hpp"

using namespace whorl;

namespace {

using testing::Bench;
using testing::speed_at;

jet::TensionOptions drawn(double ratio, std::size_t cells = 160) {
  jet::TensionOptions options;
  options.end = model::JetEnd::taken_up;
  options.take_up_speed_m_s = ratio;
  options.cells = cells;
  options.mesh_tolerance = 0.0;
  options.keep_profile = true;
  return options;
}

}  // namespace

TEST_CASE("pull of the solid: the largest along it, wherever the march puts its steps", "[eq:tension-jet]") {
  // drag s (1 - s) over two steps: a quarter in the middle of the way, which no end of a step sees
  for (const double middle : {0.3, 0.5, 0.8}) {
    jet::PathResult solid;
    for (const auto& [from, to] : {std::pair{0.0, middle}, std::pair{middle, 1.0}}) {
      jet::PathResult::Step step{from, to, {}};
      for (std::size_t k = 0; k < 4; ++k) {
        const double s = from + (to - from) * static_cast<double>(k) / 3.0;
        step.state[k][jet::PathState::kDrag] = s * (1.0 - s);
      }
      solid.step.push_back(step);
    }
    CHECK_THAT(jet::pull_of_solid(solid), WithinAbs(0.25, 1e-15));
  }
}

// Trouton (1906); closed form u = u0 Dr^(z/L) of a Newtonian fibre drawn without inertia, gravity and air.
TEST_CASE("Drawn Newtonian fibre follows Dr^(z/L)", "[eq:tension-jet]") {
  const Bench bench(0.0, 1e6, 1e-9, 1e-3);
  const model::Jet jet = jet::solve_tension_jet(bench.context, drawn(10.0), bench.start());
  INFO(jet.reason);
  REQUIRE(jet.status == model::Status::done);
  // left over: inertia, Re = rho u L/(3 eta) of 3e-4 at most, and the mesh
  for (double z : {0.25, 0.5, 0.75}) CHECK_THAT(speed_at(jet, 0.03 + 0.1 * z), WithinRel(std::pow(10.0, z), 1e-3));
}

// lambda -> 0: every law is a Newtonian liquid of the summed viscosity (Bird, Armstrong & Hassager 1987, ch. 7).
TEST_CASE("Every polymer law becomes Newtonian at short relaxation time", "[eq:polymer-stress]") {
  const Bench bench(0.0, 1e3, 1e6, 1e-6);
  for (auto law : {model::PolymerModel::oldroyd_b, model::PolymerModel::giesekus, model::PolymerModel::fene_p}) {
    auto options = drawn(10.0);
    options.polymer = law;
    const model::Jet jet = jet::solve_tension_jet(bench.context, options, bench.start());
    INFO(jet.reason);
    REQUIRE(jet.status == model::Status::done);
    CHECK_THAT(speed_at(jet, 0.08), WithinRel(std::sqrt(10.0), 2e-3));
  }
}

// Oldroyd-B spinline without inertia: the force is constant, so an initial-value integration (Runge-Kutta, here) with
// the force of the solved jet must arrive at its take-up speed. Equations: Denn, Petrie & Avenas, AIChE J. 21 (1975) 791.
TEST_CASE("Drawn Oldroyd-B fibre agrees with an independent integration", "[eq:polymer-stress]") {
  const double eta_s = 2e5, eta_p = 1e6, lambda = 0.02;
  const Bench bench(0.0, eta_s, eta_p, lambda);
  auto options = drawn(4.0, 320);
  options.polymer = model::PolymerModel::oldroyd_b;
  const model::Jet jet = jet::solve_tension_jet(bench.context, options, bench.start());
  INFO(jet.reason);
  REQUIRE(jet.status == model::Status::done);
  const double force = jet.profile[jet.profile.size() / 2].tension_N;
  const auto rates = [&](const std::array<double, 3>& y) {
    const double area = 1e-6 / y[0];
    const double slope = (force / area - eta_p / lambda * (y[1] - y[2])) / (3.0 * eta_s);
    return std::array<double, 3>{slope, (2.0 * slope * y[1] - (y[1] - 1.0) / lambda) / y[0],
                                 (-slope * y[2] - (y[2] - 1.0) / lambda) / y[0]};
  };
  std::array<double, 3> y{1.0, 1.0, 1.0};
  const int steps = 20000;
  const double h = 0.1 / steps;
  const auto moved = [](std::array<double, 3> base, const std::array<double, 3>& k, double by) {
    for (std::size_t i = 0; i < 3; ++i) base[i] += by * k[i];
    return base;
  };
  for (int i = 0; i < steps; ++i) {
    const auto k1 = rates(y);
    const auto k2 = rates(moved(y, k1, 0.5 * h));
    const auto k3 = rates(moved(y, k2, 0.5 * h));
    const auto k4 = rates(moved(y, k3, h));
    for (std::size_t j = 0; j < 3; ++j) y[j] += h / 6.0 * (k1[j] + 2.0 * k2[j] + 2.0 * k3[j] + k4[j]);
  }
  CHECK_THAT(y[0], WithinRel(4.0, 3e-3));  // second-order mesh of 320 nodes and the inertia left in
}

// Exact: without tension and air u^2 = U^2 + Omega^2 (r^2 - R^2) (energy in the turning frame).
TEST_CASE("Free flight is recovered as stress vanishes", "[eq:free-flight-speed]") {
  const Bench bench(1000.0, 1e-9, 1e-9, 1e-3);
  jet::TensionOptions options;
  options.keep_profile = true;
  options.mesh_tolerance = 1e-6;
  const model::Jet jet = jet::solve_tension_jet(bench.context, options, bench.start());
  INFO(jet.reason << ", " << jet.convergence);
  REQUIRE(jet.status == model::Status::done);
  // second-order mesh: 7e-5 on 160 cells, a sixteenth of that on 640
  CHECK_THAT(jet.end_speed_m_s, WithinRel(model::free_flight_speed(1.0, 1000.0, 0.03, 0.13), 1e-5));
}

// Own check: exact derivatives of the balances, the chain rule in them, against central differences of the balances.
TEST_CASE("Tension equations: Jacobian against central differences", "[eq:tension-jet]") {
  const Bench bench(1000.0, 1.0, 10.0, 1e-3);
  for (auto law : {model::PolymerModel::oldroyd_b, model::PolymerModel::giesekus, model::PolymerModel::fene_p}) {
    for (const bool second : {false, true}) {
      for (const bool taken_up : {false, true}) {
        jet::ThreadProblem problem;
        problem.air = &bench.air;
        problem.law = {law, 0.2, 50.0};
        problem.start_speed_m_s = 1.0;
        problem.second_order = second;
        problem.smoothing = second ? 0.3 : 0.0;
        problem.end.taken_up = taken_up;
        problem.end.take_up_speed_m_s = 3.0;
        problem.end.pull_N = 3e-4;
        const std::size_t n = 12;
        jet::ThreadState state;
        for (std::size_t i = 0; i <= n; ++i) {
          const double q = static_cast<double>(i) / static_cast<double>(n);
          model::ThreadStation at;
          at.arc_m = 0.1 * q * (1.0 + q);
          at.flow_kg_s = 1e-3 * (1.0 - 0.3 * q);
          at.density_kg_m3 = 1000.0 + 100.0 * q;
          at.modulus_Pa = 1e4 * (1.0 + q);
          at.relaxation_s = 0.02 * (1.0 + 3.0 * q);
          at.viscosity_Pa_s = 1.0;
          at.surface_tension_N_m = 0.03;
          at.push_m_s2 = 3e3 * (1.0 + q);
          at.wind_along_m_s = -20.0 * q;
          at.wind_across_m_s = 30.0;
          problem.station.push_back(at);
          state.log_speed.push_back(1.2 * q + 0.1 * std::sin(9.0 * q));
          state.pull.push_back(0.0);
          state.waist.push_back(0.0);
        }
        jet::Thread thread(problem);
        REQUIRE(thread.relax_chains(state));
        thread.set_weights(state);
        REQUIRE(thread.relax_chains(state));
        std::vector<double> row, scale, up, down;
        thread.residual(state, row, &scale);
        solver::BandMatrix matrix(3 * n, jet::Thread::kBelow, jet::Thread::kAbove);
        double gap = 0.0;
        double largest = 0.0;
        for (std::size_t j = 0; j < n; ++j) {
          // The matrix gives the change of all chains with ln u of node j; the differences find them by marching again.
          thread.jacobian(state, scale, matrix);
          REQUIRE(matrix.factorize());
          const double step = 1e-6;
          auto moved = [&](double by, std::vector<double>& out) {
            jet::ThreadState s = state;
            s.log_speed[j + 1] += by;
            REQUIRE(thread.relax_chains(s));
            thread.residual(s, out, nullptr);
          };
          moved(step, up);
          moved(-step, down);
          // J^-1 applied to the differences must give back the unit change of ln u at node j
          std::vector<double> right(3 * n, 0.0);
          for (std::size_t i = 0; i < n; ++i) right[3 * i] = (up[i] - down[i]) / (2.0 * step) / scale[i];
          matrix.solve(right);
          for (std::size_t i = 0; i < n; ++i) {
            gap = std::max(gap, std::abs(right[3 * i] - (i == j ? 1.0 : 0.0)));
            largest = std::max(largest, std::abs(right[3 * i]));
          }
        }
        INFO("law " << static_cast<int>(law) << " second order " << second << " taken up " << taken_up);
        CHECK(gap < 1e-6);  // central differences of step 1e-6: rounding 1e-10 times the condition of the system
        CHECK_THAT(largest, WithinAbs(1.0, 1e-6));
      }
    }
  }
}

TEST_CASE("Observed order of the finite volumes is two", "[eq:tension-jet]") {
  const Bench bench(0.0, 1e6, 1e-9, 1e-3);
  const model::Jet start = bench.start();
  // Differences of successive meshes: the small inertia left in the equations drops out.
  std::array<double, 6> force{};
  std::size_t cells = 20;
  for (double& f : force) {
    auto options = drawn(10.0, cells);
    options.rule = jet::ThreadRule::finite_volumes;
    const model::Jet jet = jet::solve_tension_jet(bench.context, options, start);
    INFO(jet.reason);
    REQUIRE(jet.status == model::Status::done);
    f = jet.profile.front().tension_N;
    cells *= 2;
  }
  for (std::size_t i = 0; i + 2 < force.size(); ++i) {
    CHECK_THAT(std::log2(std::abs((force[i] - force[i + 1]) / (force[i + 1] - force[i + 2]))), WithinAbs(2.0, 0.2));
  }
  // 3 eta A u' = 3 eta Q ln(Dr)/L; inertia is rho u L/(3 eta) of it, 3e-4 at most
  CHECK_THAT(force.back(), WithinRel(3.0 * 1e6 * 1e-6 * std::log(10.0) / 0.1, 3e-4));
}

// Free flight has a closed form (energy in the turning frame): the error against it, over four halvings of the mesh.
TEST_CASE("Observed order of the finite volumes in free flight is two", "[eq:tension-jet]") {
  const Bench bench(1000.0, 1e-9, 1e-9, 1e-3);
  const model::Jet start = bench.start();
  const double exact = model::free_flight_speed(1.0, 1000.0, 0.03, 0.13);
  double before = 0.0;
  for (std::size_t cells = 80; cells <= 1280; cells *= 2) {
    jet::TensionOptions options;
    options.rule = jet::ThreadRule::finite_volumes;
    options.cells = cells;
    options.most_cells = cells;
    options.mesh_tolerance = 0.0;
    options.path_tolerance = 1e-9;
    options.tolerance = 1e-9;
    const model::Jet jet = jet::solve_tension_jet(bench.context, options, start);
    INFO(cells << " cells: " << jet.reason << ", " << jet.convergence);
    REQUIRE(jet.status == model::Status::done);
    const double error = jet.end_speed_m_s - exact;
    if (before != 0.0) CHECK_THAT(std::log2(before / error), WithinAbs(2.0, 0.2));
    before = error;
  }
}

// Two methods, the same equations: threads without memory by collocation and by finite volumes, in air that drags, dries and cools, with gravity,
// free and taken up.
TEST_CASE("Threads without memory: collocation agrees with the finite volumes", "[eq:tension-jet]") {
  for (const double viscosity : {1.0, 10.0, 0.05}) {
    for (const bool in_air : {false, true}) {
      for (const bool taken_up : {false, true}) {
        testing::StandIn string(viscosity < 0.1 ? 1000.0 : 200.0, viscosity < 0.1 ? 1.0 : 3.0, viscosity, 1e-9, 1e-3);
        string.fluid.surface_tension_N_m = 0.03;
        if (in_air) {
          string.air.axial_drag_factor = string.air.cross_drag_factor = string.air.mass_factor = 1.0;
          string.air.temperature_K = 310.0;
          string.context.gravity_m_s2 = model::kStandardGravity_m_s2;
        }
        jet::JetOptions start_options;
        start_options.drying = model::DryingModel::lumped;
        start_options.keep_profile = true;
        const model::Jet start = jet::solve_inertial_jet(string.context, start_options);
        REQUIRE(start.reached_collector);
        jet::TensionOptions options;
        options.keep_profile = true;
        options.mesh_tolerance = viscosity < 0.1 ? 1e-3 : 1e-5;  // thin layers at the ends: many cells
        options.tolerance = options.path_tolerance = 1e-8;
        if (taken_up) {
          options.end = model::JetEnd::taken_up;
          options.take_up_speed_m_s = 1.1 * start.end_speed_m_s;
        }
        const model::Jet smooth = jet::solve_tension_jet(string.context, options, start);
        options.rule = jet::ThreadRule::finite_volumes;
        options.mesh_tolerance = 0.0;
        options.cells = options.most_cells = 1280;
        const model::Jet volumes = jet::solve_tension_jet(string.context, options, start);
        INFO(viscosity << " Pa s, air " << in_air << ", taken up " << taken_up << ": " << smooth.reason << ", " << smooth.convergence << "; "
                       << volumes.reason << ", " << volumes.convergence);
        REQUIRE(smooth.status == model::Status::done);
        REQUIRE(volumes.status == model::Status::done);
        // a tenth of the speed within a micrometre before the take-up: may be left to the finite volumes
        if (viscosity > 0.1 || !taken_up) CHECK(smooth.convergence.find("collocation") != std::string::npos);
        CHECK(volumes.convergence.find("collocation") == std::string::npos);
        // 1,280 cells of second order: some 1e-6 to 1e-5 (docs/benchmarks.md, finest mesh against solve_bvp)
        CHECK_THAT(smooth.end_speed_m_s, WithinRel(volumes.end_speed_m_s, 3e-5));
        CHECK_THAT(speed_at(smooth, 0.06), WithinRel(speed_at(volumes, 0.06), 1e-3));  // straight between stations
        CHECK_THAT(smooth.profile.front().tension_N, WithinRel(volumes.profile.front().tension_N, 2e-3));
        CHECK_THAT(smooth.residual_solvent, WithinAbs(volumes.residual_solvent, 1e-6));
        CHECK_THAT(smooth.end_temperature_K, WithinRel(volumes.end_temperature_K, 1e-6));
        CHECK_THAT(smooth.turns, WithinAbs(volumes.turns, 1e-4));
        const auto& b = smooth.budget;
        CHECK_THAT(b.centrifugal_J_kg, WithinRel(volumes.budget.centrifugal_J_kg, 1e-3));
        CHECK_THAT(b.viscous_J_kg, WithinAbs(volumes.budget.viscous_J_kg, 1e-3 * b.centrifugal_J_kg));
        CHECK(smooth.balances.momentum < 1e-5);  // quadrature on the mesh; the marched path is at 1e-8
      }
    }
  }
}

// What decides between the two: chains that matter are not left out.
TEST_CASE("Threads whose chains remember are not taken for Newtonian ones", "[eq:polymer-stress]") {
  for (const double lambda : {1e-8, 1e-4, 1e-2}) {
    const testing::StandIn string(200.0, 3.0, 1.0, 10.0, lambda);
    jet::JetOptions start_options;
    start_options.drying = model::DryingModel::lumped;
    start_options.keep_profile = true;
    const model::Jet start = jet::solve_inertial_jet(string.context, start_options);
    jet::TensionOptions options;
    const model::Jet jet = jet::solve_tension_jet(string.context, options, start);
    options.rule = jet::ThreadRule::finite_volumes;
    const model::Jet volumes = jet::solve_tension_jet(string.context, options, start);
    INFO("relaxation " << lambda << " s: " << jet.reason << ", " << jet.convergence << "; " << volumes.reason << ", " << volumes.convergence);
    REQUIRE(jet.status == model::Status::done);
    REQUIRE(volumes.status == model::Status::done);
    CHECK((jet.convergence.find("collocation") != std::string::npos) == (lambda < 1e-6));
    CHECK_THAT(jet.end_speed_m_s, WithinRel(volumes.end_speed_m_s, 2e-3));  // twice the mesh tolerance of either
  }
}

// Own checks of the tier inside an estimate.
TEST_CASE("Shipped cases with tension: budget adds up, line no faster than without", "[engine][eq:tension-jet]") {
  int arrived = 0;
  for (const auto* name : {"pcl-chloroform", "peo-water-training", "pmma-acetone-humid", "ps-thf-sweep", "pva-water-wet",
                           "pvp-ethanol-measured"}) {
    auto file = io::read_case_file(testing::case_path(name));
    testing::one_line_at_full_settings(file.input);
    // with its own 0.3 mm the pull of the drying fibre does not settle yet: docs/theory/06-tension.md
    if (std::string(name) == "pcl-chloroform") file.input.vessel.orifice_diameter_m = 0.4e-3;
    for (const auto drying : {model::DryingModel::lumped, model::DryingModel::radial}) {
      model::CaseInput input = file.input;
      input.model.drying = drying;
      engine::EstimateOptions options;
      options.keep_profile = true;
      options.run_distribution = false;
      input.model.tier = model::Tier::inertial;
      const model::Estimate without = engine::estimate(input, io::built_in_library(), options);
      input.model.tier = model::Tier::tension;
      const model::Estimate with = engine::estimate(input, io::built_in_library(), options);
      INFO(name << (drying == model::DryingModel::radial ? " radial: " : " lumped: ") << with.reason << ", " << with.jet.convergence);
      REQUIRE(with.status == model::Status::done);
      CHECK(with.tier == "tension");
      if (!with.jet.reached_collector) continue;
      ++arrived;
      CHECK_FALSE(with.jet.convergence.empty());
      // A free end gains nothing from being pulled: what the orifice holds back is lost. 0.2 %: mesh error.
      if (!with.jet.solidified) CHECK(with.jet.end_speed_m_s < 1.002 * without.jet.end_speed_m_s);
      const auto& b = with.jet.budget;
      CHECK_THAT(b.centrifugal_J_kg + b.gravity_J_kg + b.air_drag_J_kg + b.viscous_J_kg + b.elastic_J_kg + b.surface_tension_J_kg +
                     b.solid_constraint_J_kg,
                 WithinRel(b.total_J_kg, 1e-7));
      REQUIRE(with.jet.profile.size() > 50);
      for (const auto& station : with.jet.profile) {
        CHECK(std::isfinite(station.tension_N + station.axial_stress_Pa + station.strain_rate_1_s));
      }
    }
  }
  CHECK(arrived >= 8);
}

namespace {

struct Flight {
  engine::Setup setup;
  double flow_m3_s{};
  explicit Flight(const std::string& name)
      : setup(engine::resolve(io::read_case_file(testing::case_path(name)).input, io::built_in_library())) {
    flow_m3_s = engine::solve_orifice(setup, setup.input.operation.charge_volume_m3).flow.flow_m3_s;
  }
  [[nodiscard]] model::Jet start(bool radial) const {
    jet::JetOptions options;
    options.drying = radial ? model::DryingModel::radial : model::DryingModel::lumped;
    options.keep_profile = true;
    return jet::solve_inertial_jet(setup.jet_context(flow_m3_s), options);
  }
  [[nodiscard]] model::Jet jet(jet::TensionOptions options, bool radial, std::size_t cells = 16) const {
    options.radial = radial;
    options.radial_cells = cells;
    return jet::solve_tension_jet(setup.jet_context(flow_m3_s), options, start(false));
  }
};

jet::TensionOptions tight(double tolerance) {
  jet::TensionOptions options;
  options.tolerance = tolerance;
  options.path_tolerance = tolerance;
  options.mesh_tolerance = 0.0;
  return options;
}

}  // namespace

// Own check. Limit: with a diffusivity seven decades above any liquid's the profile is flat, and the jet is the well-mixed one.
TEST_CASE("Drying over the radius with tension: fast diffusion is the well-mixed jet", "[engine][eq:radial-diffusion]") {
  for (const char* name : {"peo-water-training", "pmma-acetone-humid", "ps-thf-sweep"}) {
    Flight flight(name);
    flight.setup.fluid.diffusion_overlap = 0.0;
    flight.setup.fluid.log_dilute_diffusivity = std::log(1e-2);
    const model::Jet lumped = flight.jet(tight(1e-8), false);
    const model::Jet radial = flight.jet(tight(1e-8), true);
    INFO(name << ": " << lumped.reason << ", " << radial.reason << ", " << radial.convergence);
    REQUIRE(lumped.status == model::Status::done);
    REQUIRE(radial.status == model::Status::done);
    // two marches at 1e-8, hundreds of steps each
    CHECK_THAT(radial.end_speed_m_s, WithinRel(lumped.end_speed_m_s, 1e-5));
    CHECK_THAT(radial.residual_solvent, WithinAbs(lumped.residual_solvent, 1e-5));
    CHECK_THAT(radial.end_temperature_K, WithinRel(lumped.end_temperature_K, 1e-6));
  }
}

TEST_CASE("Drying over the radius with tension: second order in the cells", "[engine][eq:radial-diffusion][convergence]") {
  const Flight flight("ps-thf-sweep");
  std::vector<double> left;
  for (std::size_t cells : {16U, 32U, 64U, 128U}) {
    const model::Jet jet = flight.jet(tight(1e-9), true, cells);
    INFO(jet.reason << ", " << jet.convergence);
    REQUIRE(jet.status == model::Status::done);
    left.push_back(jet.residual_solvent);
  }
  for (std::size_t i = 0; i + 2 < left.size(); ++i) {
    const double order = std::log2(std::abs((left[i] - left[i + 1]) / (left[i + 1] - left[i + 2])));
    INFO("order " << order);
    CHECK_THAT(order, WithinAbs(2.0, 0.25));
  }
}

// Mass of polymer and solvent (that of the cells against that which left the surface), momentum and energy.
TEST_CASE("Balances of the tension tier close to 1e-8 at tight tolerances", "[engine][eq:tension-jet]") {
  for (const char* name : {"peo-water-training", "pmma-acetone-humid", "ps-thf-sweep", "pcl-chloroform"}) {
    const Flight flight(name);
    for (const bool radial : {false, true}) {
      if (radial && std::string(name) == "pcl-chloroform") continue;  // seconds
      auto options = tight(1e-11);
      options.tolerance = 1e-9;
      const model::Jet jet = flight.jet(options, radial);
      INFO(name << (radial ? " radial: " : " lumped: ") << jet.reason << ", " << jet.convergence);
      REQUIRE(jet.status == model::Status::done);
      REQUIRE(jet.balances_known);
      CHECK(jet.balances.momentum < 1e-8);
      CHECK(jet.balances.energy < 1e-8);
      CHECK(jet.balances.solvent < 1e-8);
      CHECK(jet.balances.polymer < 1e-8);
    }
  }
}

// Own check: what comes out does not hang on what it was started from.
TEST_CASE("Tension tier: a similar jet's solution as the start gives the same jet", "[engine]") {
  for (const char* name : {"ps-thf-sweep", "pcl-chloroform", "thin-jet-stalled"}) {
    const Flight flight(name);
    jet::TensionOptions options;
    options.radial = true;
    const model::JetContext context = flight.setup.jet_context(flight.flow_m3_s);
    const model::JetContext similar = flight.setup.jet_context(1.05 * flight.flow_m3_s);
    jet::TensionMemory memory;
    jet::JetOptions start_options;
    start_options.drying = model::DryingModel::lumped;
    start_options.keep_profile = true;
    const model::Jet other = jet::solve_tension_jet(similar, options, jet::solve_inertial_jet(similar, start_options), &memory);
    INFO(name << ": " << other.reason << ", " << other.convergence);
    REQUIRE(other.status == model::Status::done);
    const model::Jet cold = flight.jet(options, true);
    const model::Jet warm = jet::solve_tension_jet(context, options, {}, &memory);
    INFO(cold.reason << ", " << cold.convergence << "; " << warm.reason << ", " << warm.convergence);
    REQUIRE(cold.status == model::Status::done);
    REQUIRE(warm.status == model::Status::done);
    CHECK(warm.reached_collector == cold.reached_collector);
    CHECK_THAT(warm.end_speed_m_s, WithinRel(cold.end_speed_m_s, 1e-3));  // other meshes, each within 1e-3
    CHECK_THAT(warm.residual_solvent, WithinAbs(cold.residual_solvent, 1e-3));
  }
}

// A stalled jet is solved with tension as far as it goes outward, and says so; a pull that hardly counts changes it hardly.
TEST_CASE("Tension tier: stalled jets carry their tension", "[engine][eq:tension-jet]") {
  const Flight flight("thin-jet-stalled");
  jet::TensionOptions options;
  options.keep_profile = true;
  const model::Jet start = flight.start(false);
  REQUIRE_FALSE(start.reached_collector);
  const model::Jet jet = jet::solve_tension_jet(flight.setup.jet_context(flight.flow_m3_s), options, start);
  INFO(jet.reason << ", " << jet.convergence);
  REQUIRE(jet.status == model::Status::done);
  CHECK_FALSE(jet.reached_collector);
  CHECK(jet.convergence.find("free end") != std::string::npos);
  CHECK(jet.work.newton_iterations > 0);
  CHECK(jet.tension_ratio > 0.0);
  CHECK_THAT(jet.end_radius_m, WithinRel(start.end_radius_m, 0.05));
  // momentum along the thread, budget of work: as for a jet that arrives
  CHECK(jet.balances.momentum < 1e-7);
}

TEST_CASE("on_tension_failure: inertial stands in, with a warning, where the tension tier fails", "[engine]") {
  const testing::Hypercube cube(io::built_in_library(), 1000);
  engine::EstimateOptions options;
  options.run_distribution = false;
  int failures = 0;
  // points that are known not to converge (strain-hardened jumps near the orifice); one is enough
  for (std::uint64_t point : {391U, 763U, 103U, 54U}) {
    model::CaseInput input = cube.input(point);
    input.model.tier = model::Tier::tension;
    input.model.jet_end = model::JetEnd::free;  // one that the collector may hold has another way out
    input.model.on_tension_failure = model::OnTensionFailure::report;
    const model::Estimate failed = engine::estimate(input, io::built_in_library(), options);
    if (failed.status == model::Status::done) continue;
    ++failures;
    CHECK(failed.reason.find("tension: ") == 0);
    input.model.on_tension_failure = model::OnTensionFailure::inertial;
    const model::Estimate instead = engine::estimate(input, io::built_in_library(), options);
    INFO(failed.reason << "; " << instead.reason);
    REQUIRE(instead.status == model::Status::done);
    CHECK(instead.jet.convergence.find("inertial tier in its place: tension: ") == 0);
    CHECK(std::any_of(instead.warnings.begin(), instead.warnings.end(),
                      [](const model::Warning& w) { return w.code == "tension-not-converged"; }));
    // the jet is the inertial one
    input.model.tier = model::Tier::inertial;
    const model::Estimate inertial = engine::estimate(input, io::built_in_library(), options);
    CHECK(instead.dry_diameter_m == inertial.dry_diameter_m);
    break;
  }
  CHECK(failures == 1);
}

TEST_CASE("tension: a jet that lands far slower than in free flight is caught, or said to be dragged round", "[engine][tension]") {
  model::CaseInput input = io::read_case_file(testing::case_path("pmma-acetone-dry")).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  input.model.jet_end = model::JetEnd::free;
  // From 9400 to 9700 rpm the free end is found at some speeds and not at others, whatever the last digit of the air is.
  input.operation.rotation_speed_rad_s = 9000.0 * 2.0 * model::kPi / 60.0;
  engine::EstimateOptions options;
  options.run_distribution = options.air_variants = false;
  const auto warned = [](const model::Estimate& e, const char* code) {
    return std::any_of(e.warnings.begin(), e.warnings.end(), [&](const auto& w) { return w.code == code; });
  };
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const double omega = input.operation.rotation_speed_rad_s;
  const double inner = setup.vessel.outer_radius_m, outer = setup.collector_radius_m();
  const double free_flight = omega * std::sqrt(outer * outer - inner * inner);  // the speed at the orifice is small beside it
  const model::Estimate loose = engine::estimate(setup, options);
  REQUIRE(loose.status == model::Status::done);
  CHECK(loose.jet.end_speed_m_s < 0.5 * free_flight);
  CHECK(warned(loose, "dragged-round"));  // nearly a glass on the way: a rope that whirls with the vessel

  input.model.jet_end = model::JetEnd::taken_up;
  const model::Estimate held = engine::estimate(input, io::built_in_library(), options);
  REQUIRE(held.status == model::Status::done);
  CHECK_FALSE(warned(held, "dragged-round"));
  CHECK((held.jet.pulled_until_m > 0.0 && held.jet.reached_collector) == warned(held, "tension-cut"));
  CHECK(held.dry_diameter_m < 0.6 * loose.dry_diameter_m);

  input.model.jet_end = model::JetEnd::caught;
  const model::Estimate caught = engine::estimate(input, io::built_in_library(), options);
  REQUIRE(caught.status == model::Status::done);
  CHECK(warned(caught, "caught"));
  CHECK_FALSE(warned(caught, "dragged-round"));
  CHECK(caught.jet.free_end_speed_m_s == loose.jet.end_speed_m_s);
  CHECK(caught.jet.free_end_dry_diameter_m == loose.jet.dry_diameter_m);
  // below a quarter of free flight held altogether: what is laid per turn is the circumference of the collector
  CHECK(caught.jet.collector_hold == 1.0);
  CHECK_THAT(caught.line_diameter_m, WithinRel(caught.kinematic_bound_m, 1e-4));
  CHECK_THAT(caught.line_diameter_m, WithinRel(held.line_diameter_m, 1e-4));

  input.model.tier = model::Tier::inertial;
  const model::Estimate inertial = engine::estimate(input, io::built_in_library(), options);
  CHECK_FALSE(warned(inertial, "dragged-round"));
  CHECK_FALSE(warned(inertial, "tension-cut"));
}

TEST_CASE("tension: a floating fibre that the collector holds lands, as thick as the collector's speed makes it", "[engine][tension][eq:kinematic-bound]") {
  // It nears the collector's radius from inside for ever; before it counted as landed once it lies along it, it "stalled".
  model::CaseInput input = io::read_case_file(testing::case_path("pcl-chloroform")).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  input.model.jet_end = model::JetEnd::taken_up;
  engine::EstimateOptions options;
  options.run_distribution = options.air_variants = false;
  options.keep_profile = true;
  const model::Estimate held = engine::estimate(input, io::built_in_library(), options);
  INFO(held.reason);
  REQUIRE(held.status == model::Status::done);
  REQUIRE(held.jet.reached_collector);
  // what is laid per turn is the circumference of the collector
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const double swept = input.operation.rotation_speed_rad_s * setup.collector_radius_m();
  CHECK_THAT(held.jet.end_speed_m_s, WithinRel(swept, 1e-6));
  CHECK_THAT(held.dry_diameter_m, WithinRel(held.kinematic_bound_m, 1e-4));
  CHECK(held.jet.end_radius_m > 0.94 * setup.collector_radius_m());

  // Stations are close enough to be drawn as a curve, where the fibre floats, too.
  const auto& stations = held.jet.profile;
  double farthest = 0.0;
  for (std::size_t i = 1; i < stations.size(); ++i) {
    const auto& from = stations[i - 1];
    const auto& to = stations[i];
    farthest = std::max(farthest, std::abs(std::atan2(from.x_m * to.y_m - from.y_m * to.x_m, from.x_m * to.x_m + from.y_m * to.y_m)));
  }
  CHECK(held.jet.turns > 5.0);
  CHECK(farthest < 0.2);
}

TEST_CASE("tension: beyond where the pull is solved the jet goes on drying over its radius", "[engine][tension]") {
  // The solid outside keeps solvent in; taken as well mixed from there on, as it once was, the fibre landed without any.
  model::CaseInput input = io::read_case_file(testing::case_path("pmma-acetone-dry")).input;
  testing::one_line_at_full_settings(input);
  engine::EstimateOptions options;
  options.run_distribution = options.air_variants = false;
  options.audit = true;
  input.model.tier = model::Tier::inertial;
  const model::Estimate inertial = engine::estimate(input, io::built_in_library(), options);
  input.model.tier = model::Tier::tension;
  input.model.jet_end = model::JetEnd::taken_up;
  const model::Estimate cut = engine::estimate(input, io::built_in_library(), options);
  INFO(cut.jet.convergence);
  REQUIRE(cut.jet.reached_collector);
  REQUIRE(cut.jet.pulled_until_m > 0.0);
  // the same momentum and air carry both on, from nearly the same speed: as dry within a factor of two
  CHECK(cut.jet.residual_solvent > 0.5 * inertial.jet.residual_solvent);
  CHECK(cut.jet.residual_solvent < 2.0 * inertial.jet.residual_solvent);
  REQUIRE(cut.jet.balances_known);
  CHECK(cut.jet.balances.solvent < 1e-3);  // the cells' own solvent at the end against the path's
}

TEST_CASE("tension: the bounds of work of jets over the run and in other air are wide enough for fibres that float", "[engine][tension]") {
  // the cases that need most; each jet that exceeds its bound would be left out
  const char* name = GENERATE("pcl-chloroform", "ps-thf-sweep");
  model::CaseInput input = io::read_case_file(testing::case_path(name)).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  engine::EstimateOptions options;
  options.air_variants = options.gas_variants = true;
  const model::Estimate e = engine::estimate(input, io::built_in_library(), options);
  INFO(name);
  REQUIRE(e.status == model::Status::done);
  for (const auto& point : e.run.points) CHECK(point.jet_status == model::Status::done);
  for (const auto& variant : e.air_variants) CHECK(variant.status == model::Status::done);
  REQUIRE(e.gas.variants.size() == 3);
  for (const auto& variant : e.gas.variants) CHECK(variant.status == model::Status::done);
}
