// The cases shipped with the program: they run, end in the class their story says, and their balances close.
#include <algorithm>
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "engine/estimate.hpp"

using namespace whorl;

namespace {
const char* const kCases[] = {"pcl-chloroform", "peo-water-training", "pmma-acetone-humid", "ps-thf-sweep",
                              "pva-water-wet",  "pvp-ethanol-measured", "slow-dripping",   "thin-jet-stalled"};

struct Worst {
  double value{};
};
Worst worst_balance(const model::Jet& jet) {
  return {std::max({jet.balances.polymer, jet.balances.solvent, jet.balances.momentum, jet.balances.energy})};
}
}  // namespace

TEST_CASE("cases: every shipped case runs to a class", "[engine][cases]") {
  const std::string name = GENERATE(from_range(std::begin(kCases), std::end(kCases)));
  INFO(name);
  const auto file = io::read_case_file(testing::case_path(name));
  const auto e = engine::estimate(file.input, io::built_in_library());
  INFO(e.reason);
  INFO(model::to_string(e.fibre_class));
  CHECK(e.status == model::Status::done);
  CHECK_FALSE(e.decided_by.empty());
  // The classes that the purposes of these cases state.
  if (name == "slow-dripping") CHECK(e.fibre_class == model::FibreClass::dripping);
  if (name == "thin-jet-stalled") CHECK(e.fibre_class == model::FibreClass::stalled);
  if (name == "pva-water-wet") {
    CHECK(e.fibre_class == model::FibreClass::wet_landing);
    CHECK(e.landing == model::Landing::wet);
  }
  if (name == "pmma-acetone-humid") CHECK(e.jet.dew_margin_K < 0.0);  // cools below the dew point
}

TEST_CASE("cases: balances of polymer, solvent, momentum and energy close", "[engine][cases][eq:inertial-jet]") {
  // The balances are integrated beside the state with the same steps: what is left is truncation error, of the order of
  // the tolerance times the number of steps (tens to hundreds).
  const std::string name = GENERATE(from_range(std::begin(kCases), std::end(kCases)));
  INFO(name);
  auto file = io::read_case_file(testing::case_path(name));
  file.input.model.drying = model::DryingModel::lumped;
  engine::EstimateOptions options;
  options.audit = true;
  options.run_distribution = false;
  for (const auto& [tolerance, limit] : {std::pair{1e-6, 1e-4}, std::pair{1e-11, 1e-8}}) {
    file.input.numerics.relative_tolerance = tolerance;
    const auto e = engine::estimate(file.input, io::built_in_library(), options);
    INFO(e.reason);
    REQUIRE(e.status == model::Status::done);
    if (!(e.orifice.flow_m3_s > 0.0)) continue;
    INFO("polymer " << e.jet.balances.polymer << " solvent " << e.jet.balances.solvent << " momentum "
                    << e.jet.balances.momentum << " energy " << e.jet.balances.energy << " at " << tolerance);
    CHECK(e.jet.balances_known);
    CHECK(worst_balance(e.jet).value < limit);
  }
}
