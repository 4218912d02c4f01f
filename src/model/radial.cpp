#include "model/radial.hpp"

namespace whorl::model {

RadialGrid make_radial_grid(std::size_t cells, double clustering) {
  RadialGrid grid;
  grid.face.resize(cells + 1);
  grid.width.resize(cells);
  grid.centre.resize(cells);
  for (std::size_t i = 0; i <= cells; ++i) {
    const double left = 1.0 - static_cast<double>(i) / static_cast<double>(cells);
    grid.face[i] = 1.0 - std::pow(left, clustering);
  }
  for (std::size_t i = 0; i < cells; ++i) {
    grid.width[i] = grid.face[i + 1] - grid.face[i];
    grid.centre[i] = 0.5 * (grid.face[i] + grid.face[i + 1]);
  }
  return grid;
}

}  // namespace whorl::model
