// Drying over the radius, marched with the path.
#include <cmath>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/model/radial.hpp"

using namespace whorl;

namespace {

struct Flight {
  engine::Setup setup;
  double flow_m3_s{};
};
Flight flight_of(const std::string& name, double orifice_diameter_m = 0.0) {
  auto file = io::read_case_file(testing::case_path(name));
  if (orifice_diameter_m > 0.0) file.input.vessel.orifice_diameter_m = orifice_diameter_m;
  Flight out{engine::resolve(file.input, io::built_in_library()), 0.0};
  out.flow_m3_s = engine::solve_orifice(out.setup, file.input.operation.charge_volume_m3).flow.flow_m3_s;
  REQUIRE(out.flow_m3_s > 0.0);
  return out;
}

model::Jet jet_of(const Flight& flight, model::DryingModel drying, int cells = 16, double tolerance = 1e-6) {
  jet::JetOptions options;
  options.drying = drying;
  options.radial_cells = cells;
  options.relative_tolerance = tolerance;
  const model::Jet jet = jet::solve_inertial_jet(flight.setup.jet_context(flight.flow_m3_s), options);
  INFO(jet.reason);
  REQUIRE(jet.status == model::Status::done);
  return jet;
}

}  // namespace

TEST_CASE("radial drying: fast diffusion is the well-mixed jet", "[engine][eq:radial-diffusion]") {
  const std::string name = GENERATE("pcl-chloroform", "ps-thf-sweep", "peo-water-training");
  INFO(name);
  Flight flight = flight_of(name);
  flight.setup.fluid.diffusion_overlap = 0.0;                     // no slowing by the polymer
  flight.setup.fluid.log_dilute_diffusivity = std::log(1e-2);     // seven decades faster than any liquid
  const model::Jet lumped = jet_of(flight, model::DryingModel::lumped, 16, 1e-8);
  const model::Jet radial = jet_of(flight, model::DryingModel::radial, 16, 1e-8);
  // Two different methods at 1e-8, up to where freezing is decided (mean here, a tenth inside the surface there).
  CHECK_THAT(radial.end_speed_m_s, WithinRel(lumped.end_speed_m_s, 1e-5));
  CHECK_THAT(radial.residual_solvent, WithinAbs(lumped.residual_solvent, 1e-5));
  CHECK_THAT(radial.end_temperature_K, WithinRel(lumped.end_temperature_K, 1e-6));
  CHECK_THAT(radial.surface_residual_solvent, WithinAbs(radial.residual_solvent, 1e-5));
}

TEST_CASE("radial drying: a drier surface holds solvent back", "[engine][eq:radial-diffusion]") {
  // Same path up to the freezing of the draw: the activity at the surface is below that of the mean.
  const std::string name = GENERATE("pcl-chloroform", "ps-thf-sweep", "pmma-acetone-humid", "pvp-ethanol-measured");
  INFO(name);
  const Flight flight = flight_of(name);
  const model::Jet lumped = jet_of(flight, model::DryingModel::lumped);
  const model::Jet radial = jet_of(flight, model::DryingModel::radial);
  CHECK(radial.surface_residual_solvent < radial.residual_solvent);
  if (!lumped.solidified && !radial.solidified) CHECK(radial.residual_solvent > lumped.residual_solvent);
}

TEST_CASE("radial drying: second order in the cells", "[engine][eq:radial-diffusion][convergence]") {
  const Flight flight = flight_of("ps-thf-sweep", 0.4e-3);  // stays liquid: no event whose place moves with the cells
  std::vector<double> left;
  for (int cells : {8, 16, 32, 64}) left.push_back(jet_of(flight, model::DryingModel::radial, cells, 1e-9).residual_solvent);
  for (std::size_t i = 0; i + 2 < left.size(); ++i) {
    const double order = std::log2(std::abs((left[i] - left[i + 1]) / (left[i + 1] - left[i + 2])));
    INFO("order " << order);
    CHECK_THAT(order, WithinAbs(2.0, 0.2));
  }
  // What the default of 16 cells leaves here; a thin jet that grows a skin leaves 3e-3. Both are below any doubt about the
  // diffusivity.
  CHECK_THAT(left[1], WithinRel(left[3], 1e-4));
}

TEST_CASE("radial drying: tighter tolerance converges to the same jet", "[engine][eq:radial-diffusion][convergence]") {
  const Flight flight = flight_of("pmma-acetone-humid");
  const model::Jet tight = jet_of(flight, model::DryingModel::radial, 16, 1e-10);
  for (double tolerance : {1e-5, 1e-6, 1e-7, 1e-8}) {
    const model::Jet jet = jet_of(flight, model::DryingModel::radial, 16, tolerance);
    INFO(tolerance);
    // Hundreds of steps, each within the tolerance of its scale.
    CHECK_THAT(jet.end_speed_m_s, WithinRel(tight.end_speed_m_s, 300.0 * tolerance));
    CHECK_THAT(jet.residual_solvent, WithinRel(tight.residual_solvent, 300.0 * tolerance));
  }
}

TEST_CASE("radial drying: mobility is D phi^2", "[engine][eq:radial-mobility]") {
  const Flight flight = flight_of("ps-thf-sweep");
  const model::Fluid& fluid = flight.setup.fluid;
  for (double temperature : {260.0, 298.15, 320.0}) {
    const model::RadialMobility mobility(fluid, temperature);
    for (double v : {0.0, 0.01, 0.3, 1.0, 5.0, 50.0}) {
      const double phi = 1.0 / (1.0 + v);
      CHECK_THAT(mobility(v), WithinRel(phi * phi * model::inner_diffusivity(fluid, phi, temperature), 1e-12));
    }
  }
}
