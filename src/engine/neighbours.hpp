// Neighbours from neighbours: one case is solved from nothing, those that differ little from it start from its
// solution.
#pragma once
#include <functional>
#include <memory>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/estimate.hpp"

namespace whorl::engine {

/// Cases to either side of a base: one, or two as far from it in opposite ways.
using Sides = std::vector<model::CaseInput>;
/// Their estimates, in the same order and shape.
using SidesRunner = std::function<std::vector<std::vector<model::Estimate>>(const std::vector<Sides>&)>;

/// Solves `base` and returns a runner for its neighbours. One side starts from `base`, the other from the mirror image
/// of what the first came to, which is nearer; never from another pair: what comes out depends neither on the order of
/// the pairs nor on the number of threads.
using NeighbourRunner = std::function<SidesRunner(const model::CaseInput& base)>;

/// Runs one case with these options.
using OptionRunner = std::function<model::Estimate(const model::CaseInput&, const EstimateOptions&)>;

/// The solved first jet of a case as a start for its neighbours; none where there is no thread under tension, or it is
/// not solved.
[[nodiscard]] std::shared_ptr<const jet::TensionMemory> start_at(const OptionRunner& one,
                                                                 const EstimateOptions& options,
                                                                 const model::CaseInput& base);

/// Where `base` has no thread under tension, or it is not solved, its neighbours start from nothing. `loop` goes over
/// the pairs. `told`: called after each case.
[[nodiscard]] NeighbourRunner neighbour_runner(OptionRunner one, const EstimateOptions& options, Loop loop,
                                               std::function<void()> told = {});

}  // namespace whorl::engine
