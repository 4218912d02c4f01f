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

double value_inside(const RadialGrid& grid, std::span<const double> v, double xi) {
  const std::size_t n = grid.cells();
  if (xi <= grid.centre[0]) return v[0];
  for (std::size_t i = 1; i < n; ++i) {
    if (xi > grid.centre[i]) continue;
    const double share = (xi - grid.centre[i - 1]) / (grid.centre[i] - grid.centre[i - 1]);
    return v[i - 1] + share * (v[i] - v[i - 1]);
  }
  const double share = (xi - grid.centre[n - 1]) / (1.0 - grid.centre[n - 1]);
  return v[n - 1] + share * (surface_value(grid, v[n - 1], v[n - 2]) - v[n - 1]);
}

RadialMobility::RadialMobility(const Fluid& fluid, double temperature_K)
    : fluid_(&fluid), temperature_(temperature_K) {
  const double solvent_only = inner_diffusivity(fluid, 0.0, temperature_K);
  log_scale_ = std::log(solvent_only) + fluid.diffusion_overlap * inverse_free_volume(fluid, 0.0, temperature_K);
}

}  // namespace whorl::model
