// One case from solution to fibre: the library's main entry point.
#pragma once
#include <memory>

#include "whorl/engine/setup.hpp"
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/model/result.hpp"

namespace whorl::jet {
struct TensionMemory;
}  // namespace whorl::jet

namespace whorl::engine {

class RunCount;

/// How closely the first jet is solved; the fibre is the same to the share that is said.
enum class Closeness {
  full,       ///< the answer that is told, and whose differences to neighbouring settings mean something
  map_point,  ///< one point of a map: path and speed agree to 1e-4 of the line speed, on meshes as fine as ever
  sample,     ///< one of many samples: on one mesh, which leaves some 1e-3 of the line speed
};

struct EstimateOptions {
  bool keep_profile{false};
  bool audit{false};           ///< close the balances of the first jet (slower)
  bool run_distribution{true};  ///< jets over the emptying run; off: first jet only
  /// Where lines are not followed over the whole run, the run comes out as if they were, to the last digit.
  bool last_digit{false};
  bool both_runs{false};        ///< follow lines over the whole run also where torn threads are the headline
  bool band{false};             ///< 90 % band of one line by moving every doubt (estimate(CaseInput, Library) only)
  Closeness closeness{Closeness::full};  ///< of the first jet
  bool air_variants{false};     ///< the first jet again in stiller, faster, smoother and rougher air
  bool gas_variants{false};     ///< the line and its run with and without the gas that breaks through
  /// Solved first jet of a neighbouring case: the first jet starts there, on its mesh alone (see
  /// engine/neighbours.hpp). Where that leads nowhere, and without tension, from nothing.
  std::shared_ptr<const jet::TensionMemory> from{};
  jet::TensionMemory* leave{};       ///< where the solved first jet is left for neighbouring cases
  RunCount* run_count{};             ///< counts the jets, the band as one; nullptr: nobody watches
};

/// Estimates a case.
/// Error: InputError for bad input (as resolve); numerical failure is Estimate::status not_converged with a reason.
[[nodiscard]] model::Estimate estimate(const model::CaseInput& input, const model::Library& library,
                                       const EstimateOptions& options = {});
[[nodiscard]] model::Estimate estimate(const Setup& setup, const EstimateOptions& options = {});

}  // namespace whorl::engine
