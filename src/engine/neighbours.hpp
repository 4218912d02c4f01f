// Neighbours from neighbours: one case is solved from nothing, those that differ little from it start from its
// solution.
#pragma once
#include <functional>
#include <memory>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/estimate.hpp"

namespace whorl::engine {

/// Solves `base` and returns a runner for its neighbours. Every one of them starts from `base`, never from another:
/// what comes out depends neither on their order nor on the number of threads.
using NeighbourRunner = std::function<BatchRunner(const model::CaseInput& base)>;

/// Runs one case with these options.
using OptionRunner = std::function<model::Estimate(const model::CaseInput&, const EstimateOptions&)>;
/// Makes a batch of a runner of one case: serial_runner, or one on several threads.
using BatchMaker = std::function<BatchRunner(CaseRunner)>;

/// The solved first jet of a case as a start for its neighbours; none where there is no thread under tension, or it is
/// not solved.
[[nodiscard]] std::shared_ptr<const jet::TensionMemory> start_at(const OptionRunner& one,
                                                                 const EstimateOptions& options,
                                                                 const model::CaseInput& base);

/// Where `base` has no thread under tension, or it is not solved, its neighbours start from nothing.
[[nodiscard]] NeighbourRunner neighbour_runner(OptionRunner one, const EstimateOptions& options, BatchMaker batch);

}  // namespace whorl::engine
