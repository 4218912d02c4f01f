// Fewer points for a line that looks the same.
#pragma once
#include <cstddef>
#include <vector>

namespace whorl::figures {

/// Indices of the points to keep, first and last among them: between two that are kept, every channel is within its
/// tolerance of the straight line over `along`, which rises.
/// Error: std::invalid_argument when the lengths differ
/// Source: D. H. Douglas and T. K. Peucker, Cartographica 10 (1973) 112 (from memory), here with the deviation at the
/// same station
[[nodiscard]] std::vector<std::size_t> thinned(const std::vector<std::vector<double>>& channels,
                                               const std::vector<double>& tolerances, const std::vector<double>& along);

}  // namespace whorl::figures
