// What to weigh for a batch, and what a run lays down.
#pragma once

namespace whorl::model {

/// Masses of one batch, and the volume of solvent at the temperature at which it is measured.
struct WeighOut {
  double solution_volume_m3{};
  double solution_mass_kg{};
  double polymer_mass_kg{};
  double solvent_mass_kg{};
  double solvent_volume_m3{};
};

/// Masses that make a volume of solution: m = rho V, m_p = w_p m, m_s = m - m_p, V_s = m_s/rho_s [kg, m3].
/// Eq: weigh-out
/// Valid: 0 <= w_p <= 1; no loss on the way. rho is that of the solution at the temperature of the charge, rho_s that
///        of the solvent at the temperature at which it is measured out
/// Source: definitions
[[nodiscard]] WeighOut weigh_out(double solution_volume_m3, double polymer_mass_fraction, double solution_density_kg_m3,
                                 double solvent_density_kg_m3);

/// Volume of solution to make: runs x charge x (1 + allowance) [m3].
/// Eq: batch-volume
/// Valid: the allowance covers what stays in bottle, syringe and vessel: a stated share, not computed
/// Source: definition
[[nodiscard]] double batch_volume_m3(double runs, double charge_m3, double allowance);

/// Length of fibre in a mass of dry polymer: L = m/(rho_p pi/4 <d^2>) [m]. <d^2>: mean over the length, so mean^2 +
/// sd^2 of a distribution by length.
/// Eq: fibre-length
/// Valid: round, dense fibre; porous fibre is longer
/// Error: 0 when there is no diameter
/// Source: mass balance
[[nodiscard]] double fibre_length_m(double polymer_mass_kg, double polymer_density_kg_m3, double mean_diameter_m,
                                    double diameter_sd_m);

/// Mass per area of a cylinder: m/(2 pi R_c H) [kg/m2].
/// Eq: area-coverage
/// Valid: everything lands between the edges of the ring and evenly: an upper bound of the mean
/// Error: 0 when the area is 0
/// Source: definition
[[nodiscard]] double area_coverage_kg_m2(double polymer_mass_kg, double collector_radius_m, double collector_height_m);

}  // namespace whorl::model
