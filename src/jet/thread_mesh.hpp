// Where the nodes of a thread lie.
#pragma once
#include <cstddef>
#include <vector>

#include "jet/thread_search.hpp"

namespace whorl::jet {

/// Straight lines through points; outside, the value of the nearer end.
[[nodiscard]] double interpolate(const std::vector<double>& x, const std::vector<double>& y, double at);

/// Nodes as shares of the way. They share out evenly: changes of the solution (`change` per piece of `radius`), length,
/// and nearness to both ends.
[[nodiscard]] std::vector<double> lay_nodes(double outer_radius_m, const std::vector<double>& radius,
                                            const std::vector<double>& change, std::size_t cells);

/// The solution on nodes laid anew by `change` per piece of the radii it stands on.
void resample(ThreadSearch& search, const std::vector<double>& radius, const std::vector<double>& change,
              std::size_t cells);

/// The same by what the solution does: speed, stretch, modulus of the liquid, length.
void remesh(ThreadSearch& search, std::size_t cells);

}  // namespace whorl::jet
