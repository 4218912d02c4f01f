// Work along a solved thread, node by node, and the pull at the orifice that its balance gives.
#pragma once
#include <vector>

#include "jet/thread_search.hpp"
#include "whorl/model/result.hpp"

namespace whorl::jet {

struct ThreadWork {
  model::ForceBudget budget;
  double orifice_force_N{};
  double orifice_viscous_N{};
};

/// `face`: forces through the middles of the cells (Thread::forces).
[[nodiscard]] ThreadWork work_along(const ThreadSearch& search, const std::vector<ThreadForces>& face);
/// What the solid beyond adds to it.
void add_work_of_solid(const ThreadSearch& search, model::ForceBudget& budget);

}  // namespace whorl::jet
