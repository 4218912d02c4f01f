// Timings of the pieces and of the whole: `whorl_bench --benchmark_filter=jet`.
#include <benchmark/benchmark.h>

#include <filesystem>
#include <string>

#include "run/sweep_run.hpp"
#include "whorl/engine/estimate.hpp"
#include "jets.hpp"

namespace {

using namespace whorl;

// One right-hand side of the jet at its start (the state does not matter to the work done).
void right_hand_side(benchmark::State& state, const std::string& name) {
  const bench::FirstJet jet(name);
  const auto y = model::jet_start(jet.context());
  std::array<double, model::JetState::kSize> rates{};
  for (auto _ : state) {
    const auto local = model::jet_local(jet.context(), y.data(), y[model::JetState::kSolvent], false);
    model::jet_rates(jet.context(), local, y.data(), false, rates.data());
    benchmark::DoNotOptimize(rates);
  }
}

// One jet with everything that is reported of it; the rate is the one of the goal "jets a second and core".
void one_jet(benchmark::State& state, const std::string& name) {
  const bench::FirstJet jet(name);
  std::size_t calls = 0;
  for (auto _ : state) {
    const model::Jet result = jet::solve_inertial_jet(jet.context(), jet.options());
    calls = result.work.rhs_evaluations;
    benchmark::DoNotOptimize(&result);
  }
  state.counters["rhs_calls"] = static_cast<double>(calls);
  state.counters["jets"] =
      benchmark::Counter(static_cast<double>(state.iterations()), benchmark::Counter::kIsRate);
}

// One estimate from a resolved case: orifice, emptying, the first jet and those of the run.
void one_estimate(benchmark::State& state, const std::string& name) {
  const bench::FirstJet jet(name);
  for (auto _ : state) {
    const model::Estimate result = engine::estimate(jet.setup());
    benchmark::DoNotOptimize(&result);
  }
}

void orifice_flow(benchmark::State& state, const std::string& name) {
  const bench::FirstJet jet(name);
  const double volume = jet.setup().input.operation.charge_volume_m3;
  for (auto _ : state) {
    const auto result = engine::solve_orifice(jet.setup(), volume);
    benchmark::DoNotOptimize(&result);
  }
}

void emptying(benchmark::State& state, const std::string& name) {
  const bench::FirstJet jet(name);
  const int points = static_cast<int>(jet.setup().input.numerics.run_points);
  for (auto _ : state) {
    const auto result = engine::run_down(jet.setup(), jet.start(), {points});
    benchmark::DoNotOptimize(&result);
  }
}

// A sweep as the command runs it: case to rows of a file, everything but the terminal.
void one_sweep(benchmark::State& state, const std::string& name) {
  constexpr std::uint64_t kPoints = 400;
  const bench::FirstJet jet(name);
  const model::Library& library = io::built_in_library();
  const io::Key* key = io::find_key("operation.rotation_speed");
  engine::Axis axis;
  axis.from = 6000.0;
  axis.to = 12000.0;
  axis.points = kPoints;
  run::SweepPlan plan{jet.setup().input,
                      {study::SweptKey{key, axis}},
                      engine::Design(engine::DesignKind::grid, {axis}, 0, 1),
                      name,
                      "",
                      "",
                      "bench",
                      0,
                      kPoints};
  run::SweepOptions options;
  options.output = (std::filesystem::temp_directory_path() / "whorl_bench_sweep.csv").string();
  options.force = true;
  options.threads = static_cast<int>(state.range(0));
  for (auto _ : state) {
    const auto report = run::run_sweep(
        plan, options, [&](const model::CaseInput& input) { return engine::estimate(input, library); });
    if (report.computed != kPoints) state.SkipWithError("the sweep is not complete");
  }
  state.counters["points"] = benchmark::Counter(
      static_cast<double>(state.iterations()) * static_cast<double>(kPoints), benchmark::Counter::kIsRate);
}

using Timing = void (*)(benchmark::State&, const std::string&);
void for_every_case(const char* what, Timing timing) {
  for (const char* name : bench::kCases) {
    benchmark::RegisterBenchmark((std::string(what) + "/" + name).c_str(),
                                 [timing, name](benchmark::State& state) { timing(state, name); });
  }
}

}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 2;
  for_every_case("right_hand_side", right_hand_side);
  for_every_case("jet", one_jet);
  for_every_case("estimate", one_estimate);
  for_every_case("orifice_flow", orifice_flow);
  for_every_case("emptying", emptying);
  benchmark::RegisterBenchmark("sweep/pcl-chloroform/threads",
                               [](benchmark::State& state) { one_sweep(state, "pcl-chloroform"); })
      ->Arg(1)
      ->Arg(2)
      ->UseRealTime()
      ->Unit(benchmark::kMillisecond);
  benchmark::RunSpecifiedBenchmarks();
  benchmark::Shutdown();
  return 0;
}
