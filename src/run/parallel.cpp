#include "run/parallel.hpp"

#include <oneapi/tbb/blocked_range.h>
#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>
#include <oneapi/tbb/parallel_for.h>
#include <oneapi/tbb/partitioner.h>
#include <oneapi/tbb/task_arena.h>

#include <atomic>
#include <functional>
#include <string>
#include <utility>

#include "run/stop_signals.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::run {

void check_threads(int threads) {
  if (threads < 0 || threads > kMaxThreads)
    throw InputError("", "--threads", std::to_string(threads), "0 (all) to " + std::to_string(kMaxThreads));
}

engine::Loop parallel_loop(int wanted) {
  const int threads = wanted > 0 ? wanted : tbb::info::default_concurrency();
  return [threads](std::size_t count, const std::function<void(std::size_t)>& each) {
    std::atomic<bool> stopped{false};
    const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, static_cast<std::size_t>(threads));
    tbb::task_arena arena(threads);
    arena.execute([&] {
      tbb::parallel_for(
          tbb::blocked_range<std::size_t>(0, count, 1),
          [&](const tbb::blocked_range<std::size_t>& range) {
            for (std::size_t i = range.begin(); i != range.end(); ++i) {
              if (stop_requested()) {
                stopped.store(true);
                return;
              }
              each(i);
            }
          },
          tbb::simple_partitioner());
    });
    if (stopped.load()) throw engine::Interrupted();
  };
}

engine::BatchRunner parallel_runner(engine::CaseRunner runner, const ParallelOptions& options) {
  return [runner = std::move(runner), loop = parallel_loop(options.threads),
          options](const std::vector<model::CaseInput>& inputs) {
    std::vector<model::Estimate> estimates(inputs.size());
    if (options.run_count != nullptr && !options.announced) options.run_count->expect(inputs.size() * options.jets);
    loop(inputs.size(), [&](std::size_t i) {
      estimates[i] = engine::run_guarded(runner, inputs[i]);
      if (options.run_count != nullptr) options.run_count->add(options.jets);
    });
    return estimates;
  };
}

engine::NeighbourRunner parallel_neighbours(const study::LoadedCase& loaded, const engine::EstimateOptions& options,
                                            const ParallelOptions& parallel) {
  const engine::OptionRunner one = [&loaded](const model::CaseInput& input, const engine::EstimateOptions& wanted) {
    return study::case_runner(loaded, wanted)(input);
  };
  const auto told = [parallel] {
    if (parallel.run_count != nullptr) parallel.run_count->add(parallel.jets);
  };
  engine::NeighbourRunner plain = engine::neighbour_runner(one, options, parallel_loop(parallel.threads), told);
  if (parallel.run_count == nullptr || parallel.announced) return plain;
  return [plain = std::move(plain), parallel](const model::CaseInput& base) {
    return [run = plain(base), parallel](const std::vector<engine::Sides>& pairs) {
      for (const engine::Sides& sides : pairs) parallel.run_count->expect(sides.size() * parallel.jets);
      return run(pairs);
    };
  };
}

}  // namespace whorl::run
