// From a solved thread to a Jet: stations, work along the liquid and the solid, balances, words.
#pragma once
#include <string>

#include "jet/thread_collocated.hpp"
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// What the meshes told about each other.
struct MeshFinding {
  double error{-1.0};    ///< of ln u of the line speed; below 0: not known
  std::string remark;    ///< what else there is to say of it
};

/// Error: not_converged where the report is not finite
[[nodiscard]] model::Jet report_thread(ThreadSearch& search, const MeshFinding& mesh);
[[nodiscard]] model::Jet report_collocated(ThreadSearch& search, const CollocatedThread& solved);

/// A jet that is not solved, and why.
[[nodiscard]] model::Jet not_solved(const ThreadSearch& search, const std::string& why);

}  // namespace whorl::jet
