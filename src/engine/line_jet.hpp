// One unbroken line in the tier that the case asks for.
#pragma once
#include <vector>

#include "whorl/engine/setup.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/jet/tension.hpp"
#include "whorl/jet/tension_tolerances.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

[[nodiscard]] jet::JetOptions jet_options(const Setup& setup);

/// A jet, and whether the inertial tier stands in for the tension tier that was asked for.
struct LineJet {
  model::Jet jet;
  bool fell_back{};
};
/// One jet in the tier that was asked for. A sample takes the same starts as a headline jet, on the first mesh only; so
/// does a companion, which is left out where it takes long. `near`: solution of a similar jet, for a start; replaced by
/// this one's. For a headline jet it is of a neighbouring case that was solved to this tolerance, and its mesh is kept.
[[nodiscard]] LineJet solve_jet(const Setup& setup, const model::JetContext& context, const jet::JetOptions& options,
                                jet::TensionMemory& near, jet::Effort effort);

/// A solved jet of the run, as a start for one of similar flow.
struct Solved {
  double flow_m3_s{};
  jet::TensionMemory memory;
};
[[nodiscard]] const jet::TensionMemory& nearest(const std::vector<Solved>& solved, double flow_m3_s,
                                                const jet::TensionMemory& other);

}  // namespace whorl::engine
