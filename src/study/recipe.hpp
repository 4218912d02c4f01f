// What a batch needs, what a run gives, and what both put into the room: numbers for the sheet on the bench.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/estimate.hpp"
#include "whorl/model/bench_safety.hpp"
#include "whorl/model/recipe.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// What the case file does not say. Everything with a value here is an assumption until the user states it.
struct RecipeOptions {
  double runs{1.0};                  ///< of one charge each, whole, 1 to 1000
  double allowance{0.10};            ///< made beyond runs x charge, as a share
  double interval_s{1800.0};         ///< from start to start of two runs
  double room_volume_m3{30.0};
  double air_changes_1_s{6.0 / 3600.0};  ///< fresh air
  double mixing_factor{3.0};         ///< 1 (ideal) to 10 (poor)
  std::optional<double> collector_height_m;  ///< band in which the fibre lands
  std::string rotor_material{"aluminium-6061-t6"};
  double safety_factor{4.0};         ///< on the yield strength
  engine::RunCount* run_count{};                  ///< counts the jets of the estimate; nullptr: nobody watches
};

/// A stated concentration read in one way.
struct Reading {
  std::string basis;              ///< "% w/v of solvent"
  double mass_fraction{};
  model::WeighOut weigh_out;
};

/// A limit against which a concentration is held.
struct LimitCheck {
  const model::ExposureLimit* limit{};
  double averaging_s{};          ///< over which the concentration is averaged; 0: highest moment
  double concentration_kg_m3{};  ///< in the well-mixed room
  double ratio{};                ///< concentration / limit
  double dilution_air_m3{};      ///< fresh air per run that keeps the average at the limit
};

struct Recipe {
  model::Estimate estimate;
  model::WeighOut batch;
  double batch_volume_m3{};
  double charge_mass_kg{};
  double polymer_mass_fraction{};
  double polymer_per_solvent_kg_m3{};   ///< g per 100 mL of solvent / 10
  double polymer_per_solution_kg_m3{};
  /// The same figure read by the other conventions: only where it was stated in % w/v.
  std::vector<Reading> other_readings;
  // of one run
  double polymer_spun_kg{};
  double solvent_released_kg{};  ///< all of the charge: what does not fly off evaporates from vessel, enclosure and
                                 ///< cleaning
  double release_s{};            ///< the run where fibre is expected; 1 s where the liquid would lie about wet
  std::optional<double> fibre_length_m, coverage_kg_m2;
  // air
  model::Room room;
  model::Releases releases;
  double peak_kg_m3{};           ///< well-mixed, after the last run
  double steady_kg_m3{};         ///< runs for ever; infinite without fresh air
  double unmixed_kg_m3{};        ///< one run in the whole room without fresh air
  double purge_s{};              ///< down to 1 %
  std::vector<LimitCheck> limits;
  std::optional<double> lower_flammability_kg_m3;  ///< as mass concentration
  std::optional<double> flammable_volume_m3;       ///< air that the vapour of one run makes just flammable
  // gas
  double gas_volume_m3{};        ///< largest: the empty bore
  model::GasEnergy gas;
  // rotor
  model::RotorRing ring;
  const model::RotorMaterial* material{};
  double thin_ring_Pa{}, bore_stress_Pa{}, pressure_stress_Pa{};
  double liquid_stress_Pa{};     ///< of the charge pressed against the wall
  double worst_stress_Pa{};      ///< sum at the bore times the factor of a hole
  double stress_share{};         ///< worst_stress x safety factor / yield
  std::optional<double>
      speed_limit_rad_s;  ///< at which that share is 1 at this pressure and charge; empty: pressure alone exceeds it
  double ring_mass_kg{}, rotor_energy_J{};
};

/// Hoop stress from the liquid layer: its centrifugal pressure on the wall, rho omega^2 (R^2 - r_s^2)/2, as a pressure
/// inside [Pa].
/// Eq: liquid-ring-pressure
/// Valid: annulus from the free surface to the bore; taken over the whole height
/// Source: hydrostatics in a turning vessel
[[nodiscard]] double liquid_ring_pressure_Pa(double density_kg_m3, double speed_rad_s, double bore_radius_m,
                                             double surface_radius_m);

/// Averaging time that the words of a limit mean: "8 h ...", "short term (15 min)", "ceiling" = 0.
[[nodiscard]] double averaging_time_s(const std::string& kind);

/// Error: InputError as resolve(); an unknown rotor material.
[[nodiscard]] Recipe make_recipe(const model::CaseInput& input, const model::Library& library,
                                 const RecipeOptions& options);
/// The same with what `estimate` says of the case: the trials of its calibration laid over it, and the band of a line.
[[nodiscard]] Recipe make_recipe(const LoadedCase& loaded, const RecipeOptions& options);

}  // namespace whorl::study
