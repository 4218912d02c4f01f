#include "whorl/study/recipe.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include "whorl/model/error.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {
namespace {

const model::RotorMaterial* find_material(const std::string& id) {
  std::string known;
  for (const model::RotorMaterial& m : model::rotor_materials()) {
    if (m.id == id) return &m;
    known += (known.empty() ? "" : ", ") + std::string(m.id);
  }
  throw InputError("", "rotor-material", '"' + id + '"', known);
}

model::WeighOut batch_of(const engine::Setup& setup, double volume_m3) {
  return model::weigh_out(volume_m3, setup.fluid.initial.polymer_mass_fraction, setup.fluid.initial.density_kg_m3,
                          setup.fluid.solvent_density_kg_m3);
}

const char* basis_of(model::ConcentrationBasis basis) {
  return basis == model::ConcentrationBasis::w_v_of_solvent ? "% w/v of solvent" : "% w/v of solution";
}

void air_of(Recipe& recipe, const model::CaseInput& input, const engine::Setup& setup, const model::Solvent& solvent,
            const RecipeOptions& options) {
  recipe.room = {options.room_volume_m3, options.air_changes_1_s, options.mixing_factor, 0.0};
  const bool fibre =
      recipe.estimate.status == model::Status::done && model::lands_as_fibre(recipe.estimate.fibre_class);
  const double run_s = std::max(fibre ? recipe.estimate.run.run_time_s : 0.0, 1.0);
  recipe.release_s = run_s;
  recipe.releases = {recipe.solvent_released_kg, run_s, std::max(options.interval_s, run_s),
                     static_cast<int>(options.runs)};
  recipe.peak_kg_m3 = model::room_peak_kg_m3(recipe.room, recipe.releases);
  recipe.steady_kg_m3 = model::room_steady_kg_m3(recipe.room, recipe.releases);
  recipe.unmixed_kg_m3 = recipe.solvent_released_kg / options.room_volume_m3;
  recipe.purge_s = model::room_purge_time_s(recipe.room, 0.01);
  for (const model::ExposureLimit& limit : solvent.exposure_limits) {
    LimitCheck check;
    check.limit = &limit;
    check.averaging_s = averaging_time_s(limit.kind);
    check.concentration_kg_m3 = check.averaging_s > 0.0
                                    ? model::room_worst_mean_kg_m3(recipe.room, recipe.releases, check.averaging_s)
                                    : recipe.peak_kg_m3;
    check.ratio = check.concentration_kg_m3 / limit.mass_concentration_kg_m3;
    check.dilution_air_m3 =
        model::dilution_air_m3(recipe.solvent_released_kg, limit.mass_concentration_kg_m3, options.mixing_factor);
    recipe.limits.push_back(check);
  }
  std::stable_sort(recipe.limits.begin(), recipe.limits.end(),
                   [](const LimitCheck& a, const LimitCheck& b) { return a.ratio > b.ratio; });
  if (solvent.lower_flammability) {
    recipe.lower_flammability_kg_m3 =
        model::vapour_concentration_kg_m3(solvent.lower_flammability->value, setup.fluid.solvent_molar_mass_kg_mol,
                                          input.room.temperature_K, input.room.pressure_Pa);
    recipe.flammable_volume_m3 = recipe.solvent_released_kg / *recipe.lower_flammability_kg_m3;
  }
}

void rotor_of(Recipe& recipe, const model::CaseInput& input, const engine::Setup& setup, const RecipeOptions& options) {
  const model::RotorMaterial& m = *recipe.material;
  const double bore = 0.5 * input.vessel.bore_diameter_m;
  recipe.ring = {bore, bore + input.vessel.wall_thickness_m, input.vessel.height_m,
                 m.density_kg_m3, m.poisson_ratio, input.operation.rotation_speed_rad_s};
  recipe.thin_ring_Pa = model::thin_ring_stress_Pa(recipe.ring);
  const double surface = std::min(recipe.estimate.charge.free_surface_radius_m, bore);
  const auto stresses = [&](double speed) {
    model::RotorRing ring = recipe.ring;
    ring.speed_rad_s = speed;
    const double liquid = liquid_ring_pressure_Pa(setup.fluid.initial.density_kg_m3, speed, bore, surface);
    return std::pair{model::thick_ring_stress_Pa(ring, bore), model::bore_pressure_stress_Pa(ring, liquid)};
  };
  const auto [ring, liquid] = stresses(recipe.ring.speed_rad_s);
  recipe.bore_stress_Pa = ring;
  recipe.liquid_stress_Pa = liquid;
  recipe.pressure_stress_Pa = model::bore_pressure_stress_Pa(recipe.ring, input.operation.gas_overpressure_Pa);
  recipe.worst_stress_Pa = model::kHoleConcentration * (ring + liquid + recipe.pressure_stress_Pa);
  recipe.stress_share = recipe.worst_stress_Pa * options.safety_factor / m.yield_Pa;
  // what turns grows with the square of the speed; the pressure does not
  const double left = m.yield_Pa / (options.safety_factor * model::kHoleConcentration) - recipe.pressure_stress_Pa;
  const auto [ring_1, liquid_1] = stresses(1.0);
  if (left > 0.0) recipe.speed_limit_rad_s = std::sqrt(left / (ring_1 + liquid_1));
  recipe.ring_mass_kg = model::ring_mass_kg(recipe.ring);
  recipe.rotor_energy_J = recipe.ring_mass_kg * model::ring_energy_J_kg(recipe.ring);
}

}  // namespace

double liquid_ring_pressure_Pa(double density_kg_m3, double speed_rad_s, double bore_radius_m,
                               double surface_radius_m) {
  return 0.5 * density_kg_m3 * speed_rad_s * speed_rad_s *
         (bore_radius_m * bore_radius_m - surface_radius_m * surface_radius_m);
}

double averaging_time_s(const std::string& kind) {
  if (kind.find("60 min") != std::string::npos) return 3600.0;
  if (kind.find("15 min") != std::string::npos) return 900.0;
  if (kind.find("ceiling") != std::string::npos) return 0.0;
  return 8.0 * 3600.0;  // time-weighted averages, and a no-effect level, over a shift
}

namespace {

using Estimator = std::function<model::Estimate()>;

Recipe recipe_of(const model::CaseInput& input, const model::Library& library, const RecipeOptions& options,
                 const Estimator& estimate) {
  Recipe recipe;
  recipe.material = find_material(options.rotor_material);
  const engine::Setup setup = engine::resolve(input, library);
  recipe.estimate = estimate();
  const model::Solvent* solvent = library.solvent(input.solution.solvent);
  const model::Composition& start = setup.fluid.initial;

  recipe.batch_volume_m3 = model::batch_volume_m3(options.runs, input.operation.charge_volume_m3, options.allowance);
  recipe.batch = batch_of(setup, recipe.batch_volume_m3);
  recipe.charge_mass_kg = start.density_kg_m3 * input.operation.charge_volume_m3;
  recipe.polymer_mass_fraction = start.polymer_mass_fraction;
  recipe.polymer_per_solution_kg_m3 = start.concentration_kg_m3;
  recipe.polymer_per_solvent_kg_m3 = setup.fluid.solvent_density_kg_m3 / start.solvent_ratio;
  const auto stated = input.solution.concentration.basis;
  using Basis = model::ConcentrationBasis;
  if (stated == Basis::w_v_of_solvent || stated == Basis::w_v_of_solution) {
    model::CaseInput other = input;
    other.solution.concentration.basis =
        stated == Basis::w_v_of_solvent ? Basis::w_v_of_solution : Basis::w_v_of_solvent;
    other.solution.measured.density_kg_m3.reset();  // measured on the liquid that was meant
    try {
      const engine::Setup read = engine::resolve(other, library);
      recipe.other_readings.push_back({basis_of(other.solution.concentration.basis),
                                       read.fluid.initial.polymer_mass_fraction,
                                       batch_of(read, recipe.batch_volume_m3)});
    } catch (const InputError&) {
      // the figure makes no sense that way: nothing to mistake it for
    }
  }

  const model::RunSummary& run = recipe.estimate.run;
  recipe.polymer_spun_kg = run.polymer_mass_kg;
  recipe.solvent_released_kg = recipe.charge_mass_kg * (1.0 - start.polymer_mass_fraction);
  if (recipe.estimate.status == model::Status::done && run.dry_diameter_mean_m > 0.0) {
    recipe.fibre_length_m = model::fibre_length_m(recipe.polymer_spun_kg, setup.fluid.polymer_density_kg_m3,
                                                  run.dry_diameter_mean_m, run.dry_diameter_sd_m);
  }
  if (options.collector_height_m) {
    recipe.coverage_kg_m2 =
        model::area_coverage_kg_m2(recipe.polymer_spun_kg, setup.collector_radius_m(), *options.collector_height_m);
  }
  if (solvent != nullptr) air_of(recipe, input, setup, *solvent, options);

  const double bore = 0.5 * input.vessel.bore_diameter_m;
  recipe.gas_volume_m3 = model::kPi * bore * bore * input.vessel.height_m;
  recipe.gas =
      model::stored_gas_energy(recipe.gas_volume_m3, input.operation.gas_overpressure_Pa, input.room.pressure_Pa);
  rotor_of(recipe, input, setup, options);
  return recipe;
}

}  // namespace

Recipe make_recipe(const model::CaseInput& input, const model::Library& library, const RecipeOptions& options) {
  engine::EstimateOptions what;
  what.run_count = options.run_count;
  return recipe_of(input, library, options, [&] { return engine::estimate(engine::resolve(input, library), what); });
}

Recipe make_recipe(const LoadedCase& loaded, const RecipeOptions& options) {
  engine::EstimateOptions what;
  what.run_count = options.run_count;
  what.band = true;
  const model::CaseInput& input = loaded.file.input;
  return recipe_of(input, loaded.library, options, [&] { return calibrated_estimate(loaded, input, what); });
}

}  // namespace whorl::study
