// Batches of model runs on all cores.
#pragma once
#include <cstddef>
#include <iosfwd>
#include <string>

#include "engine/batch.hpp"
#include "engine/estimate.hpp"
#include "engine/neighbours.hpp"

namespace whorl::app {

struct LoadedCase;

inline constexpr int kMaxThreads = 1024;

/// Error: InputError when it is not 0 (all) to kMaxThreads.
void check_threads(int threads);

struct ParallelOptions {
  int threads{};             ///< 0: as many as the machine offers this process
  std::ostream* progress{};  ///< a line that counts the runs of all batches, for a terminal; nullptr: none
  std::string what{"model runs"};
  std::size_t expected{};    ///< runs of all batches together, as far as it is known; 0: each batch is counted by itself
  bool about{};              ///< that number is a guess
};

/// Runs each batch on several threads (oneTBB). The estimates are in the order of the cases and do not depend on the number of
/// threads. While a StopSignals lives, Ctrl-C ends a batch with engine::Interrupted.
/// Valid: one batch at a time
[[nodiscard]] engine::BatchRunner parallel_runner(engine::CaseRunner runner, const ParallelOptions& options);

/// Cases started from the solution of a neighbour, on several threads. `loaded` must outlive it.
[[nodiscard]] engine::NeighbourRunner parallel_neighbours(const LoadedCase& loaded, const engine::EstimateOptions& options, const ParallelOptions& parallel);

/// What parallel_runner() runs for a case from a file: limits checked, then the estimate. `loaded` must outlive it.
[[nodiscard]] engine::CaseRunner case_runner(const LoadedCase& loaded, const engine::EstimateOptions& options);

}  // namespace whorl::app
