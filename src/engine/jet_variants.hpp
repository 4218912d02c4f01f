// The first jet, and one late in the run, once more with a doubtful part of the model changed.
#pragma once
#include <vector>

#include "whorl/engine/estimate.hpp"
#include "whorl/engine/line_jet.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/run_count.hpp"

namespace whorl::engine {

/// What the least known parts of the air do to the first jet: the swirl round the vessel, from none to all, and the
/// axial drag, whose published laws differ by 2 to 5.
void vary_air(const Setup& setup, const model::OrificeFlow& flow, const jet::TensionMemory& first, RunShare& run_count,
              model::Estimate& estimate);

/// The gas that breaks through, at the moment when half of the liquid that is left then has gone. With `gas_variants`
/// also what it does to one line at that moment and over the run. `solved`: jets of the run.
void report_gas(const Setup& setup, const OrificeSolution& start, const jet::TensionMemory& near,
                const std::vector<Solved>& solved, const EstimateOptions& options, RunShare& run_count,
                model::Estimate& estimate);

/// Whether the jet ended as fibre: it landed, or it floats with a solid outside that keeps its diameter.
[[nodiscard]] inline bool ends_as_fibre(const model::Jet& jet) {
  return jet.reached_collector || jet.solidified || jet.skin_formed;
}

/// Length of line per length of path that a jet lays.
[[nodiscard]] double draw_of(const Setup& setup, const model::Jet& jet);

}  // namespace whorl::engine
