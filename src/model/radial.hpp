// Diffusion of solvent inside the filament, in polymer-mass coordinates: stretching drops out of the equation.
#pragma once
#include <cmath>
#include <span>
#include <type_traits>
#include <vector>

#include "whorl/model/constants.hpp"
#include "whorl/model/solution.hpp"

namespace whorl::model {

/// Cells in xi = polymer mass inside a radius / total, refined towards the surface: faces 1 - (1 - i/n)^p.
struct RadialGrid {
  std::vector<double> face;    ///< n + 1 values, 0 to 1
  std::vector<double> width;   ///< n
  std::vector<double> centre;  ///< n
  [[nodiscard]] std::size_t cells() const noexcept { return width.size(); }
};
inline constexpr double kRadialClustering = 2.5;
[[nodiscard]] RadialGrid make_radial_grid(std::size_t cells, double clustering = kRadialClustering);

/// Value of v at the surface from the two outermost cells: second order, positive for any drying profile.
/// Eq: radial-surface
/// Valid: error second order in the outermost cell; never negative
/// Source: linear continuation, bent into a hyperbola where the profile falls: own closure
template <class Real>
[[nodiscard]] Real surface_value(const RadialGrid& grid, const Real& outermost, const Real& next) {
  const std::size_t n = grid.cells();
  const double weight = 0.5 * grid.width[n - 1] / (grid.centre[n - 1] - grid.centre[n - 2]);
  const Real drop = weight * (next - outermost);
  if (drop <= 0.0) return outermost - drop;
  return outermost * outermost / (outermost + drop);
}

/// v at the polymer-mass coordinate xi: linear between the centres of the cells, flat inside the first one.
[[nodiscard]] double value_inside(const RadialGrid& grid, std::span<const double> v, double xi);

/// Share of the polymer, counted from the surface, that must be solid before the draw is frozen. A glass carries some
/// 40 MPa (common practice, no source); the pull that inertia exerts on the whole section is rho u^2, up to about 4
/// MPa.
/// Eq: frozen-draw
/// Valid: order of magnitude; one number for all polymers
/// Source: own closure
inline constexpr double kFreezingShare = 0.1;

/// D phi^2 [m2/s] over v at one temperature: inner_diffusivity() with what depends on temperature alone worked out
/// once.
/// Eq: radial-mobility
/// Valid: as inner_diffusivity()
/// Source: Crank, The Mathematics of Diffusion (1975) ch. 10: D phi^2 in the frame of the polymer
class RadialMobility {
 public:
  RadialMobility(const Fluid& fluid, double temperature_K);
  [[nodiscard]] double operator()(double v) const {
    const double phi = 1.0 / (1.0 + v);
    return phi * phi * std::exp(exponent(phi));
  }
  /// ln(D / (m2/s)) at a polymer volume fraction.
  [[nodiscard]] double exponent(double phi) const {
    return log_scale_ - fluid_->diffusion_overlap * inverse_free_volume(*fluid_, phi, temperature_);
  }

 private:
  const Fluid* fluid_;
  double temperature_;
  double log_scale_;
};

/// RadialMobility of a whole column of cells, which remembers what it was asked last: a cell that has not changed is
/// not worked out again, and the exponentials are taken together. Eq: radial-mobility
class ColumnMobility {
 public:
  ColumnMobility(const Fluid& fluid, std::size_t cells);
  /// D phi^2 [m2/s] of every cell; stays until the next call.
  [[nodiscard]] std::span<const double> at(double temperature_K, std::span<const double> v);

 private:
  const Fluid* fluid_;
  RadialMobility mobility_;
  double temperature_;
  std::vector<double> v_, phi2_, exponent_, value_;
};

/// Rates dv/dt of v = solvent volume / polymer volume in each cell:
///   dv/dt = (4 pi / A_p) d/dxi [ W phi^2 D dv/dxi ],  W(xi) = integral_0^xi (1 + v),  A_p = dry cross-section
/// with the surface flux `outflow` [volume of solvent per polymer volume and second] leaving the last cell.
/// Conserves solvent exactly: sum(width * dv/dt) = -outflow.
/// Eq: radial-diffusion
/// Valid: axisymmetric, additive volumes, stretching slow against radial relaxation of shape
/// Source: Crank, The Mathematics of Diffusion (1975) ch. 10 (coordinates fixed to one component); cylinder form
/// derived here
/// `diffusivity_phi2`: D phi^2 of each cell [m2/s].
void radial_rates(const RadialGrid& grid, double dry_area_m2, std::span<const double> v, double outflow,
                  std::span<const double> diffusivity_phi2, std::span<double> rates);
/// The same with a function of v.
template <class Mobility>
  requires std::is_invocable_r_v<double, const Mobility&, double>
void radial_rates(const RadialGrid& grid, double dry_area_m2, std::span<const double> v, double outflow,
                  const Mobility& diffusivity_phi2, std::span<double> rates) {
  std::vector<double> value(v.size());
  for (std::size_t i = 0; i < v.size(); ++i) value[i] = diffusivity_phi2(v[i]);
  radial_rates(grid, dry_area_m2, v, outflow, std::span<const double>(value), rates);
}

}  // namespace whorl::model
