// One unbroken line in the tier that the case asks for.
#pragma once
#include <vector>

#include "engine/jet_inertial.hpp"
#include "engine/setup.hpp"
#include "engine/tension.hpp"
#include "model/result.hpp"

namespace whorl::engine {

[[nodiscard]] JetOptions jet_options(const Setup& setup);

/// One jet in the tier that was asked for. `fell_back`: set where the inertial tier stands in for the tension tier; none for the
/// jets over the run and in other air, which are solved on the first mesh only. `near`: solution of a similar jet, for a start;
/// replaced by this one's. With `fell_back`, it is of a neighbouring case that was solved to this tolerance, and its mesh is kept.
[[nodiscard]] model::Jet solve_jet(const Setup& setup, const model::JetContext& context, const JetOptions& options, TensionMemory& near,
                                   bool* fell_back = nullptr);

/// A solved jet of the run, as a start for one of similar flow.
struct Solved {
  double flow_m3_s{};
  TensionMemory memory;
};
[[nodiscard]] const TensionMemory& nearest(const std::vector<Solved>& solved, double flow_m3_s, const TensionMemory& other);

}  // namespace whorl::engine
