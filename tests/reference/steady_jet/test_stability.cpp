// The table of src/model/steady_jet.cpp against the stability of the jet. On demand: the eigenvalues take as long to
// compile as to find.
#include <cmath>
#include <cstdio>
#include <string>

#include "catch.hpp"
#include "reference/steady_jet/steady_jet.hpp"
#include "whorl/model/steady_jet.hpp"

using namespace whorl;
using testing::SlowJet;

namespace {

double weber(double capillary, double ohnesorge) { return 2.0 * capillary * capillary / (ohnesorge * ohnesorge); }
double capillary(double weber, double ohnesorge) { return ohnesorge * std::sqrt(0.5 * weber); }

}  // namespace

TEST_CASE("steady jet: modes of the jet decay above the Weber number and grow below", "[model][eq:steady-weber]") {
  for (const SlowJet jet : {SlowJet{1.0, 1.0}, SlowJet{10.0, 0.3}, SlowJet{3.0, 3.0}}) {
    const double critical = capillary(model::steady_weber(jet.ohnesorge, jet.bond), jet.ohnesorge);
    const auto above = testing::leading_mode(jet, 1.1 * critical), below = testing::leading_mode(jet, 0.9 * critical);
    INFO("Oh " << jet.ohnesorge << " Bo " << jet.bond);
    REQUIRE((above && below));
    CHECK(above->real() < 0.0);
    CHECK(below->real() > 0.0);
  }
}

TEST_CASE("steady jet: between its nodes the table is as close as it says", "[model][eq:steady-weber]") {
  for (const SlowJet jet : {SlowJet{5.0, 0.55}, SlowJet{2.0, 2.3}}) {
    std::string said;
    const auto found = testing::critical_capillary(jet, said);
    INFO("Oh " << jet.ohnesorge << " Bo " << jet.bond << " " << said);
    REQUIRE(found);
    const double ratio = model::steady_weber(jet.ohnesorge, jet.bond) / weber(*found, jet.ohnesorge);
    CHECK(ratio < (jet.bond > 1.7 ? 2.0 : 1.25));
    CHECK(ratio > (jet.bond > 1.7 ? 0.5 : 0.8));
  }
}

// The whole table, as it stands in src/model/steady_jet.cpp: some minutes.
TEST_CASE("steady jet: the table", "[.table]") {
  for (const double ohnesorge : {1.0, 3.0, 10.0, 30.0, 100.0}) {
    for (const double bond : {0.03, 0.1, 0.3, 1.0, 1.7, 3.0, 5.0, 10.0}) {
      std::string said;
      const auto found = testing::critical_capillary({ohnesorge, bond}, said);
      std::printf("Oh %-4g Bo %-5g ", ohnesorge, bond);
      if (found) std::printf("We %.4g\n", weber(*found, ohnesorge));
      else std::printf("%s\n", said.c_str());
      std::fflush(stdout);
    }
  }
}
