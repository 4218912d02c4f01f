#include "whorl/model/recipe.hpp"

#include "whorl/model/constants.hpp"

namespace whorl::model {

WeighOut weigh_out(double solution_volume_m3, double polymer_mass_fraction, double solution_density_kg_m3,
                   double solvent_density_kg_m3) {
  WeighOut result;
  result.solution_volume_m3 = solution_volume_m3;
  result.solution_mass_kg = solution_density_kg_m3 * solution_volume_m3;
  result.polymer_mass_kg = polymer_mass_fraction * result.solution_mass_kg;
  result.solvent_mass_kg = result.solution_mass_kg - result.polymer_mass_kg;
  result.solvent_volume_m3 = result.solvent_mass_kg / solvent_density_kg_m3;
  return result;
}

double batch_volume_m3(double runs, double charge_m3, double allowance) { return runs * charge_m3 * (1.0 + allowance); }

double fibre_length_m(double polymer_mass_kg, double polymer_density_kg_m3, double mean_diameter_m,
                      double diameter_sd_m) {
  const double square = mean_diameter_m * mean_diameter_m + diameter_sd_m * diameter_sd_m;
  return square > 0.0 ? polymer_mass_kg / (polymer_density_kg_m3 * 0.25 * kPi * square) : 0.0;
}

double area_coverage_kg_m2(double polymer_mass_kg, double collector_radius_m, double collector_height_m) {
  const double area = 2.0 * kPi * collector_radius_m * collector_height_m;
  return area > 0.0 ? polymer_mass_kg / area : 0.0;
}

}  // namespace whorl::model
