// Weber number of a steady jet against what is published of it. Against the stability of the jet itself: the target
// test_stability (tests/reference/steady_jet), on demand.
#include <cmath>

#include "catch.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/orifice.hpp"
#include "whorl/model/steady_jet.hpp"

using Catch::Matchers::WithinRel;
using namespace whorl;

// "The size of the steady threads produced at a given distance from the exit can be reduced by increasing the nozzle
// diameter", above all "for injectors with a large diameter": Rubio-Rubio, Sevilla & Gordillo 2013, abstract read. Far
// away its size goes as the root of the flow alone.
TEST_CASE("steady jet: the least flow falls where the nozzle is made wide", "[model][eq:steady-weber]") {
  constexpr double kDensity = 970.0, kSigma = 0.021, kGravity = 9.81;  // silicone oil (from memory)
  const auto least_flow = [&](double viscosity, double radius) {
    const double critical = model::steady_weber(viscosity / std::sqrt(kDensity * kSigma * radius),
                                                kDensity * kGravity * radius * radius / kSigma);
    return model::kPi * radius * radius * std::sqrt(critical * kSigma / (kDensity * 2.0 * radius));
  };
  for (const double viscosity : {0.3, 1.0, 10.0}) {
    INFO("viscosity " << viscosity);
    CHECK(least_flow(viscosity, 3e-3) < 0.7 * least_flow(viscosity, 2e-3));
    CHECK(least_flow(viscosity, 4e-3) < 0.7 * least_flow(viscosity, 3e-3));
  }
}

TEST_CASE("jet: thin liquids as Clanet and Lasheras, thick ones as a steady jet", "[model][eq:steady-weber]") {
  CHECK(model::jet_weber(2.0, 0.05, 1.0) == 2.0);
  CHECK_THAT(model::jet_weber(2.0, 0.1, 1.0), WithinRel(2.0, 1e-12));
  CHECK_THAT(model::jet_weber(2.0, 1.0, 1.0), WithinRel(model::steady_weber(1.0, 1.0), 1e-12));
  CHECK_THAT(model::jet_weber(2.0, 30.0, 0.2), WithinRel(model::steady_weber(30.0, 0.2), 1e-12));
  CHECK_THAT(model::jet_weber(2.0, std::sqrt(0.1), 1.0),
             WithinRel(std::sqrt(2.0 * model::steady_weber(1.0, 1.0)), 1e-12));
  // thick liquids jet earlier than thin ones: Clanet & Lasheras 1999 (from memory)
  for (const double bond : {0.03, 0.3, 3.0})
    for (const double ohnesorge : {1.0, 10.0, 100.0})
      CHECK(model::steady_weber(ohnesorge, bond) < model::critical_weber(1.0, 1.0, 2.0, bond));
}
