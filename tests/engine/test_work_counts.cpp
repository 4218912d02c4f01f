// The work of one jet, counted instead of timed: a slower algorithm fails here on every machine alike.
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "engine/jet_inertial.hpp"
#include "engine/orifice_flow.hpp"

using namespace whorl;

namespace {

struct Ceiling {
  const char* name;
  std::size_t rhs_calls;
};

// Right-hand sides of the first jet of each shipped case at its own tolerance, drying lumped: as counted when
// this was written, in the comment, and 15 % above. Raise one only with a reason in the commit that does.
constexpr Ceiling kCeilings[] = {
    {"pcl-chloroform", 749},       // 652: dries out, stiff to the end
    {"peo-water-training", 119},    // 104
    {"pmma-acetone-dry", 542},      // 472: dries out, stiff to the end
    {"pmma-acetone-humid", 71},     // 62
    {"ps-thf-sweep", 196},          // 171
    {"pva-water-wet", 43},          // 38
    {"pvp-ethanol-measured", 85},   // 74
    {"slow-dripping", 1689},        // 1469
    {"thin-jet-stalled", 313},      // 273
};

}  // namespace

TEST_CASE("work: right-hand sides of the first jet of every shipped case", "[engine][work]") {
  const Ceiling ceiling = GENERATE(from_range(std::begin(kCeilings), std::end(kCeilings)));
  INFO(ceiling.name);
  model::CaseInput input = io::read_case_file(testing::case_path(ceiling.name)).input;
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const auto start = engine::solve_orifice(setup, input.operation.charge_volume_m3);
  REQUIRE(start.flow.flow_m3_s > 0.0);
  engine::JetOptions options;
  options.relative_tolerance = input.numerics.relative_tolerance;
  options.drying = model::DryingModel::lumped;
  options.max_turns = input.numerics.max_turns;
  const model::JetContext context = setup.jet_context(start.flow.flow_m3_s);
  const model::Jet jet = engine::solve_inertial_jet(context, options);
  INFO(jet.reason);
  REQUIRE(jet.status == model::Status::done);
  INFO("right-hand sides: " << jet.work.rhs_evaluations);
  CHECK(jet.work.rhs_evaluations <= ceiling.rhs_calls);
  CHECK(jet.work.rhs_evaluations > jet.work.steps);  // counted at all
}
