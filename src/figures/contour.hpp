// Iso-lines and regions of values on a rectangular grid (marching squares).
#pragma once
#include <cstddef>
#include <vector>

namespace whorl::figures {

/// Values at the crossings of columns x and rows y, stored row by row: value(column, row) = values[row * x.size() +
/// column]. x and y rise strictly; every value is finite.
struct GridField {
  std::vector<double> x;
  std::vector<double> y;
  std::vector<double> values;
  [[nodiscard]] double at(std::size_t column, std::size_t row) const { return values[row * x.size() + column]; }
};

struct ContourPoint {
  double x{}, y{};
};
/// One line; closed when its first and last points are the same.
using ContourLine = std::vector<ContourPoint>;

/// Lines on which the field, linear along the edges of the grid, has the level. Higher values lie to the left of a line
/// as it runs
/// (in axes where y points up). A saddle is joined as the mean of its four corners says.
/// Error: std::invalid_argument when the sizes do not fit, an axis does not rise or a value is not finite
/// Source: W. E. Lorensen and H. E. Cline, Computer Graphics 21(4) (1987) 163, in two dimensions (from memory)
[[nodiscard]] std::vector<ContourLine> iso_lines(const GridField& field, double level);

/// Outlines of the part of the grid where the field is at least `level`; every line is closed, along the edge of the
/// grid where the region reaches it. Filled by the even-odd rule.
[[nodiscard]] std::vector<ContourLine> iso_region(const GridField& field, double level);

}  // namespace whorl::figures
