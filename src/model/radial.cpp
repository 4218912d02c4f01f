#include "whorl/model/radial.hpp"

#include <Eigen/Core>

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

ColumnMobility::ColumnMobility(const Fluid& fluid, std::size_t cells)
    : fluid_(&fluid),
      mobility_(fluid, fluid.charge_temperature_K),
      temperature_(fluid.charge_temperature_K),
      v_(cells, -1.0),  // no cell holds that
      phi2_(cells),
      exponent_(cells),
      value_(cells) {}

std::span<const double> ColumnMobility::at(double temperature_K, std::span<const double> v) {
  const bool warmed = temperature_K != temperature_;
  if (warmed) {
    mobility_ = RadialMobility(*fluid_, temperature_K);
    temperature_ = temperature_K;
  }
  bool any = warmed;
  for (std::size_t i = 0; i < v.size(); ++i) {
    if (!warmed && v[i] == v_[i]) continue;
    any = true;
    v_[i] = v[i];
    const double phi = 1.0 / (1.0 + v[i]);
    phi2_[i] = phi * phi;
    exponent_[i] = mobility_.exponent(phi);
  }
  if (any) {
    const auto n = static_cast<Eigen::Index>(v.size());
    const auto array = [n](std::vector<double>& of) { return Eigen::Map<Eigen::ArrayXd>(of.data(), n); };
    array(value_) = array(phi2_) * array(exponent_).exp();
  }
  return {value_.data(), v.size()};
}

void radial_rates(const RadialGrid& grid, double dry_area_m2, std::span<const double> v, double outflow,
                  std::span<const double> diffusivity_phi2, std::span<double> rates) {
  const std::size_t n = grid.cells();
  const double scale = 4.0 * kPi / dry_area_m2;
  double volume = 0.0;  // W at the face
  double inflow = 0.0;
  for (std::size_t i = 0; i + 1 < n; ++i) {
    volume += grid.width[i] * (1.0 + v[i]);
    const double gradient = (v[i + 1] - v[i]) / (grid.centre[i + 1] - grid.centre[i]);
    const double through = scale * volume * 0.5 * (diffusivity_phi2[i] + diffusivity_phi2[i + 1]) * gradient;
    rates[i] = (through - inflow) / grid.width[i];
    inflow = through;
  }
  rates[n - 1] = (-outflow - inflow) / grid.width[n - 1];
}

}  // namespace whorl::model
