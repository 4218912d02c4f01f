// The work of one jet, counted instead of timed: a slower algorithm fails here on every machine alike.
#include <string>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "engine/hypercube.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/line_jet.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/thread_flight.hpp"

using namespace whorl;

namespace {

// Counts of the first jet of each shipped case at its own tolerance, as counted when this was written. A count may exceed its figure by
// 15 %, for compilers that round otherwise. Raise one only with a reason in the commit that does.
struct Counted {
  const char* name;
  std::size_t lumped;                           ///< right-hand sides
  std::size_t radial, jacobians, factorisations;  ///< the same jet with drying over the radius
};
constexpr Counted kCounted[] = {
    {"pcl-chloroform", 580, 2058, 68, 97},
    {"peo-water-training", 86, 512, 12, 29},
    {"pmma-acetone-dry", 400, 3199, 97, 143},
    {"pmma-acetone-humid", 62, 986, 32, 46},
    {"ps-thf-sweep", 226, 2901, 84, 115},
    {"pva-water-wet", 38, 305, 8, 19},
    {"pvp-ethanol-measured", 68, 606, 21, 31},
    {"slow-dripping", 1225, 2140, 68, 117},
    {"thin-jet-stalled", 1305, 3502, 103, 170},
};
// The estimate as a row of a sweep has it, in the default tier: Newton steps and right-hand sides of the paths, first jet and jets over the run.
// The run of thin-jet-stalled, whose line of 92 turns takes several starts, hangs on rounding (its answer does not). It took half of this while
// one of its moments met the limit of steps and was left out.
struct CountedEstimate {
  const char* name;
  std::size_t newton, right_hand_sides;          ///< first jet
  std::size_t run_newton, run_right_hand_sides;  ///< the five jets over the run together
};
constexpr CountedEstimate kCountedEstimates[] = {
    {"pcl-chloroform", 31, 32256, 289, 50122},
    {"peo-water-training", 12, 3050, 31, 5011},
    // no free end of its own: followed from a jet of more flow, then held; the jets over the run are held as the first one is
    {"pmma-acetone-dry", 1113, 183014, 0, 16814},
    {"pmma-acetone-humid", 10, 3618, 14, 3547},
    {"ps-thf-sweep", 51, 12649, 79, 30773},
    {"pva-water-wet", 11, 1602, 21, 2391},
    {"pvp-ethanol-measured", 11, 3233, 15, 3372},
    {"slow-dripping", 64, 63767, 0, 0},
    {"thin-jet-stalled", 1475, 378745, 1329, 215867},
};

std::size_t at_most(std::size_t counted) { return counted + (counted * 3) / 20 + 1; }

struct FirstJet {
  engine::Setup setup;
  model::JetContext context;
  jet::JetOptions options;
  FirstJet(const char* name, model::DryingModel drying) {
    model::CaseInput input = io::read_case_file(testing::case_path(name)).input;
    testing::one_line_at_full_settings(input);
    input.model.tier = model::Tier::inertial;
    setup = engine::resolve(input, io::built_in_library());
    const auto start = engine::solve_orifice(setup, input.operation.charge_volume_m3);
    REQUIRE(start.flow.flow_m3_s > 0.0);
    options.relative_tolerance = input.numerics.relative_tolerance;
    options.drying = drying;
    options.radial_cells = static_cast<int>(input.numerics.radial_cells);
    options.max_turns = input.numerics.max_turns;
    context = setup.jet_context(start.flow.flow_m3_s);
  }
};

}  // namespace

TEST_CASE("work: right-hand sides, Jacobians and factorisations of the first jet of every shipped case", "[engine][work]") {
  const Counted counted = GENERATE(from_range(std::begin(kCounted), std::end(kCounted)));
  INFO(counted.name);
  for (const auto drying : {model::DryingModel::lumped, model::DryingModel::radial}) {
    const FirstJet first(counted.name, drying);
    const model::Jet jet = jet::solve_inertial_jet(first.context, first.options);
    INFO(jet.reason);
    REQUIRE(jet.status == model::Status::done);
    const model::WorkCounts& work = jet.work;
    INFO("right-hand sides " << work.rhs_evaluations << ", Jacobians " << work.jacobians << ", factorisations " << work.factorizations);
    CHECK(work.rhs_evaluations > work.steps);  // counted at all
    if (drying == model::DryingModel::lumped) {
      CHECK(work.rhs_evaluations <= at_most(counted.lumped));
    } else {
      CHECK(work.rhs_evaluations <= at_most(counted.radial));
      CHECK(work.jacobians <= at_most(counted.jacobians));
      CHECK(work.factorizations <= at_most(counted.factorisations));
      CHECK(work.jacobians > 0);
    }
  }
}

TEST_CASE("work: Newton steps and paths of the estimate of every shipped case, with tension", "[engine][work]") {
  const CountedEstimate counted = GENERATE(from_range(std::begin(kCountedEstimates), std::end(kCountedEstimates)));
  INFO(counted.name);
  model::CaseInput input = io::read_case_file(testing::case_path(counted.name)).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  const model::Estimate estimate = engine::estimate(input, io::built_in_library(), {});
  REQUIRE(estimate.status == model::Status::done);
  std::size_t newton = 0, right_hand_sides = 0;
  for (const model::RunPoint& point : estimate.run.points) {
    newton += point.work.newton_iterations;
    right_hand_sides += point.work.rhs_evaluations;
  }
  INFO("first jet: Newton steps " << estimate.jet.work.newton_iterations << ", right-hand sides " << estimate.jet.work.rhs_evaluations
                                  << "; over the run " << newton << ", " << right_hand_sides);
  CHECK(estimate.jet.work.newton_iterations > 0);
  CHECK(estimate.jet.work.newton_iterations <= at_most(counted.newton));
  CHECK(estimate.jet.work.rhs_evaluations <= at_most(counted.right_hand_sides));
  CHECK(newton <= at_most(counted.run_newton));
  CHECK(right_hand_sides <= at_most(counted.run_right_hand_sides));
}

TEST_CASE("work: the finest filaments under gas, long solid before they land", "[engine][work]") {
  // Steps that only stability or a dried surface held short took all of the 40,000 that are allowed. Points of the design of 5,000.
  const testing::Hypercube design(io::built_in_library(), 5000);
  for (const std::uint64_t point : {40U, 1360U, 3038U}) {
    INFO(point);
    model::CaseInput input = design.with_gas(point);
    input.model.tier = model::Tier::inertial;
    const engine::Setup setup = engine::resolve(input, io::built_in_library());
    const auto start = engine::solve_orifice(setup, input.operation.charge_volume_m3);
    const model::JetContext context = setup.jet_context(start.flow);
    REQUIRE(context.gas.blows());
    jet::JetOptions options = engine::jet_options(setup);
    for (const auto drying : {model::DryingModel::lumped, model::DryingModel::radial}) {
      options.drying = drying;
      const model::Jet jet = jet::solve_inertial_jet(context, options);
      CHECK(jet.status == model::Status::done);
      CHECK(jet.solidified);
      CHECK(jet.work.steps < 3000);
    }
  }
}

TEST_CASE("work: exchange at the surface of torn threads of every shipped case that tears", "[engine][work][eq:thread-flight]") {
  // One flight: Newton's iteration on both balances, where two nested searches took 9,000 and more.
  struct Threads {
    const char* name;
    std::size_t exchanges;
  };
  const Threads counted = GENERATE(Threads{"pcl-chloroform", 453}, Threads{"peo-water-training", 434}, Threads{"pmma-acetone-humid", 455},
                                   Threads{"ps-thf-sweep", 453}, Threads{"pva-water-wet", 406}, Threads{"pvp-ethanol-measured", 453});
  const engine::Setup setup = engine::resolve(io::read_case_file(testing::case_path(counted.name)).input, io::built_in_library());
  engine::ThreadStart start;
  start.dry_diameter_m = 0.5e-6;
  start.overpressure_Pa = 1e5;
  start.gas_kg_s = 2e-5;
  start.liquid_m3_s = 1e-8;
  start.liquid_speed_m_s = 1.0;
  model::ThreadReport report;
  const std::size_t exchanges = engine::fly_threads(setup, start, report);
  INFO(counted.name << ": " << exchanges);
  CHECK(exchanges >= 2 * engine::kFlightSteps);  // counted at all
  CHECK(exchanges <= at_most(counted.exchanges));
}

TEST_CASE("a sample of a band is the estimate on one mesh: the same fibre to some 1e-3, for less work", "[engine][work]") {
  // one that solidifies and floats, one that keeps its chains stretched, one that a collector holds
  const char* name = GENERATE("pcl-chloroform", "ps-thf-sweep", "pmma-acetone-dry");
  model::CaseInput input = io::read_case_file(testing::case_path(name)).input;
  testing::one_line_at_full_settings(input);
  input.model.tier = model::Tier::tension;
  engine::EstimateOptions options;
  options.run_distribution = false;
  const model::Estimate full = engine::estimate(input, io::built_in_library(), options);
  options.closeness = engine::Closeness::sample;
  const model::Estimate sample = engine::estimate(input, io::built_in_library(), options);
  INFO(name << ": " << full.jet.work.rhs_evaluations << " and " << sample.jet.work.rhs_evaluations);
  REQUIRE(full.status == model::Status::done);
  REQUIRE(sample.status == model::Status::done);
  CHECK(sample.fibre_class == full.fibre_class);
  CHECK(sample.landing == full.landing);
  CHECK_THAT(sample.line_diameter_m, WithinRel(full.line_diameter_m, 3e-3));
  CHECK(sample.jet.work.rhs_evaluations < full.jet.work.rhs_evaluations);
}
