// Batches of model runs on all cores.
#pragma once
#include <cstddef>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/neighbours.hpp"
#include "whorl/engine/run_count.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::run {

inline constexpr int kMaxThreads = 1024;

/// Error: InputError when it is not 0 (all) to kMaxThreads.
void check_threads(int threads);

struct ParallelOptions {
  int threads{};             ///< 0: as many as the machine offers this process
  engine::RunCount* run_count{};  ///< counts the runs; nullptr: nobody watches
  bool announced{};          ///< it expects them already; else each batch adds its own
  std::size_t jets{1};       ///< what one run counts as
};

/// Runs each batch on several threads (oneTBB). The estimates are in the order of the cases and do not depend on the
/// number of threads. While a StopSignals lives, Ctrl-C ends a batch with engine::Interrupted.
/// Valid: one batch at a time
[[nodiscard]] engine::BatchRunner parallel_runner(engine::CaseRunner runner, const ParallelOptions& options);

/// The same for any work.
[[nodiscard]] engine::Loop parallel_loop(int threads);

/// Cases started from the solution of a neighbour, on several threads. `loaded` must outlive it.
[[nodiscard]] engine::NeighbourRunner parallel_neighbours(const study::LoadedCase& loaded,
                                                          const engine::EstimateOptions& options,
                                                          const ParallelOptions& parallel);

}  // namespace whorl::run
