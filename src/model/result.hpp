// Everything an estimate reports, as plain values in SI. Filled by engine, written by io.
#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "whorl/model/materials.hpp"

namespace whorl::model {

/// What lands on the collector: nothing, for a reason, or the likeliest of what a flight may end as
/// (engine/outcomes.hpp).
enum class FibreClass {
  no_jet,       ///< nothing leaves: orifices dry, or driving pressure below the capillary threshold
  dripping,     ///< too slow for a jet, and neither pulled off nor drawn out as a thread
  stalled,      ///< the jet does not reach the collector (stops in the air, falls, or floats)
  drops,        ///< capillary break-up before the jet is solid, too few entanglements to hold
  beaded,       ///< partial break-up, or too few entanglements for an even fibre
  wet_landing,  ///< arrives with so much solvent that fibres fuse or spread
  continuous    ///< even fibre, dry enough to keep its shape
};
[[nodiscard]] const char* to_string(FibreClass value) noexcept;
/// Whether what lands is fibre, even, with beads or run together: it has a diameter and a length.
[[nodiscard]] constexpr bool lands_as_fibre(FibreClass value) noexcept {
  return value == FibreClass::beaded || value == FibreClass::wet_landing || value == FibreClass::continuous;
}

/// How far a number may be believed. Numbers of a run that is not `done` are never results.
enum class Status { done, not_converged };
[[nodiscard]] const char* to_string(Status value) noexcept;

/// State of the landed (or last computed) material.
enum class Landing {
  dry,    ///< at most 5 wt% solvent, and keeps its shape
  firm,   ///< keeps its shape with more solvent than that inside
  tacky,  ///< junctions fuse
  wet,    ///< flows together
  none
};
[[nodiscard]] const char* to_string(Landing value) noexcept;

/// One warning: a stable code for machines, a sentence for people.
struct Warning {
  std::string code;
  std::string text;
};

/// A property of the solution together with where it came from.
struct NamedProperty {
  std::string key;     ///< e.g. "zero_shear_viscosity"
  std::string symbol;  ///< e.g. "eta_0"
  std::string unit;    ///< SI unit of `property.value`
  Property property;
};

/// A dimensionless group with its definition.
struct Group {
  std::string key;
  std::string symbol;
  std::string definition;
  double value{};
};

/// Charge at rest in the turning vessel.
struct ChargeState {
  double volume_m3{};
  double free_surface_radius_m{};  ///< at the height of the orifices
  double layer_thickness_m{};      ///< of liquid over the orifice, radially
  double spilled_volume_m3{};      ///< over an open lid
  bool orifice_wet{};
};

/// Pressures and flow at one orifice, quasi-steady.
struct OrificeFlow {
  // driving
  double gas_overpressure_Pa{};
  double centrifugal_head_Pa{};   ///< layer in the bore plus liquid inside the orifice
  double hydrostatic_head_Pa{};
  double capillary_threshold_Pa{};  ///< 4 sigma / d_o, subtracted
  double driving_pressure_Pa{};     ///< sum of the above
  // losses, sum = driving pressure
  double viscous_loss_Pa{};
  double entrance_loss_Pa{};
  double kinetic_loss_Pa{};
  // flow
  double mean_speed_m_s{};
  double flow_m3_s{};  ///< per orifice
  double wall_stress_Pa{};
  double wall_shear_rate_1_s{};
  double apparent_viscosity_Pa_s{};  ///< Newtonian viscosity with the same viscous loss
  double reynolds{};                 ///< Metzner-Reed, 8 rho U^2 / tau_w
  double weber{};                    ///< rho U^2 d / sigma
  double critical_weber{};           ///< of a steady jet
  bool turbulent{};
  // gas drawn in with the liquid. With gas, speed, flow and Weber number are those of the liquid; losses and Reynolds
  // number stay those of the full orifice.
  double critical_layer_m{};  ///< layer below which gas is drawn in, at the flow of the full orifice
  double drained_share{};     ///< how far the layer's viscous drainage sets it (0 to 1)
  double full_flow_m3_s{};    ///< flow of the orifice full of liquid
  double gas_share{};         ///< of the area of the orifice
  double gas_flow_kg_s{};
};

/// One station along the jet (rotating frame; x radial at the orifice, y along the rotation, z up).
struct JetStation {
  double arc_length_m{}, time_s{};
  double x_m{}, y_m{}, z_m{}, radius_m{};
  double speed_m_s{};               ///< along the jet, relative to the vessel
  double lab_speed_m_s{};
  double diameter_m{};
  double temperature_K{};
  double solvent_ratio{};           ///< kg solvent per kg polymer
  double solvent_mass_fraction{};
  double surface_solvent_fraction{};  ///< mass fraction at the surface (radial drying), else the mean
  double polymer_volume_fraction{};
  double viscosity_Pa_s{};
  double strain_rate_1_s{};
  double axial_stress_Pa{};         ///< tau_ss - tau_rr (inertial tier: what the path would have generated)
  double tension_N{};               ///< axial force; inertial tier: neglected one, reported as a check
  double momentum_flux_N{};
  double evaporation_kg_m2_s{};
  double reynolds_air{};
  double capillary_gain{};          ///< growth exponent of the worst disturbance so far
  double glass_margin_K{};          ///< T - T_g of the surface
  bool solid{};
};

/// Why the speed along the jet is what it is: contributions to u^2/2 at the end, summing to the change.
struct ForceBudget {
  double centrifugal_J_kg{};
  double gravity_J_kg{};
  double air_drag_J_kg{};
  double viscous_J_kg{};
  double elastic_J_kg{};
  double surface_tension_J_kg{};
  double solid_constraint_J_kg{};  ///< inertial tier: work of the tension that holds a solid fibre inextensible
  double gas_J_kg{};               ///< axial drag of the gas of the orifice, beyond what the room air alone would do
  double total_J_kg{};             ///< (u_end^2 - U^2)/2
};

/// Overall balances of one jet, as relative closure errors.
struct Balances {
  double polymer{}, solvent{}, momentum{}, energy{};
};

struct WorkCounts {
  std::size_t rhs_evaluations{}, steps{}, rejected{}, jacobians{}, factorizations{}, newton_iterations{}, mesh_nodes{};
};

/// One jet at one moment of the run.
struct Jet {
  Status status{Status::not_converged};
  std::string reason;          ///< why not converged, or how it ended ("reached collector", "stalled: ...")
  std::string convergence;     ///< how far it converged, in words (tension tier)
  bool reached_collector{};
  double end_radius_m{};
  double turns{};              ///< wrap angle / 2 pi
  double flight_time_s{};
  double path_length_m{};
  double end_speed_m_s{};      ///< line speed u_f
  double wet_diameter_m{};     ///< as landed, with its solvent
  double dry_diameter_m{};     ///< after the rest of the solvent has left
  double end_temperature_K{};
  double lowest_temperature_K{};
  double residual_solvent{};   ///< mass fraction at landing
  double surface_residual_solvent{};
  double drying_distance_m{};  ///< arc length where the fibre counts as dry; 0 when it never does
  double drying_radius_m{};
  bool dried{};
  double solidification_distance_m{};
  bool solidified{};
  std::string solidification_kind;  ///< "vitrified", "crystallised", ""
  bool skin_formed{};
  bool solid_throughout{};     ///< the mean composition is solid at landing, not only the outside
  double capillary_gain{};
  double air_weber{};          ///< largest rho_a w^2 d/sigma over the liquid jet
  double tension_ratio{};      ///< largest neglected |F| / (m u): inertial tier is fair while << 1
  double pulled_until_m{};     ///< tension tier: radius beyond which the pull is left out; 0: it is in all the way
  double free_end_speed_m_s{};  ///< tension tier: line speed at which it would have landed with a free end, where it
                                ///< was caught; else 0
  double free_end_dry_diameter_m{};  ///< and the diameter
  double held_end_dry_diameter_m{};  ///< jet_end "caught": diameter of the line if its end is held, by mass balance
  double collector_hold{};           ///< jet_end "caught": hold of the collector, 0 none, 1 the whole
  std::string free_end_failure;      ///< why no state with a free end was found, if it is held for that
  bool held_by_balance{};            ///< laid at the speed of a held end, path and drying by momentum and air alone
  double evaporated_kg_s{};
  double
      levelling_time_s{};  ///< eta a / sigma at landing, eta of the mean composition: time to flow together in contact
  double remaining_drying_time_s{};  ///< solvent left / rate of loss at landing
  double dew_margin_K{};       ///< lowest surface temperature - dew point of the room air
  ForceBudget budget;
  Balances balances;
  bool balances_known{};
  WorkCounts work;
  std::vector<JetStation> profile;  ///< empty unless asked for
};

/// One moment of the emptying run.
struct RunPoint {
  double time_s{};
  double charge_volume_m3{};
  double emptied_fraction{};
  OrificeFlow orifice;
  Status jet_status{Status::not_converged};
  bool reached_collector{};
  double line_speed_m_s{};
  double dry_diameter_m{};       ///< in the answer that is the headline: of the line, or of the torn threads
  double excess_draw{1.0};
  double fibre_length_weight{};  ///< share of all fibre length laid at this point, in that answer
  double volume_m3{};            ///< of solution that this point stands for
  double rotation_speed_rad_s{};  ///< at this moment (rises while the vessel speeds up)
  bool torn{};                   ///< gas leaves with the liquid at this moment, and the answer is torn threads
  double line_diameter_m{};      ///< of one line per orifice; 0: none lands
  double line_length_weight{};   ///< share of the length in the answer "one line"
  double thread_diameter_m{};    ///< of threads torn by the gas of this moment; 0: no gas
  double threads{};              ///< per orifice
  WorkCounts work;               ///< of its jet
};

/// Lengths, masses and diameters of one population of fibres over the run.
struct Population {
  double length_share{};  ///< of all fibre length
  double mass_share{};    ///< of all polymer spun
  double mean_m{};        ///< dry diameter by length; 0: no such fibre
  double mass_mean_m{};   ///< by mass
  double least_m{}, most_m{};
};

struct RunSummary {
  double run_time_s{};            ///< until flow stops
  double emptied_fraction{};
  double heel_volume_m3{};        ///< left in the vessel
  double breakthrough_layer_m{};  ///< layer thickness at which gas breaks through
  double breakthrough_time_s{};
  double breakthrough_left{};     ///< share of the charge that is left then
  bool breakthrough{};
  bool breakthrough_lasts{true};  ///< to the end of the run; if not, it is over before full settings
  double early_gas_time_s{-1.0};  ///< gas went through for a while before, from then on; negative: it did not
  double polymer_mass_kg{};       ///< spun
  double wet_throughput_kg_s{};   ///< all orifices, at the start
  double polymer_throughput_kg_s{};
  double dry_diameter_mean_m{};   ///< fibre-length weighted
  double dry_diameter_sd_m{};
  double dry_diameter_min_m{}, dry_diameter_max_m{};  ///< of the points
  // the run from rest to full settings
  double full_settings_time_s{};   ///< both ramps are over
  double share_at_full_settings{1.0};  ///< of the mass that leaves
  double mean_speed_rad_s{}, mean_overpressure_Pa{};  ///< by mass that leaves
  double share_with_gas{};         ///< of the mass that leaves while gas goes through
  double gas_supply_mean_m3_s{}, gas_supply_most_m3_s{};  ///< all orifices, at 0 degC and 1 atm, while gas goes through
  double last_flow_share{};        ///< flow over the first one at which the run counts as over
  // populations of the headline's answer
  Population lines, threads;
  double single_low_m{},
      single_high_m{};  ///< 5 and 95 % of single fibres by length, with the usual scatter within one setting
  std::vector<RunPoint> points;
};

/// Torn threads at one time of their flight with the gas, straight out from the orifice.
struct TornThreadStation {
  double time_s{}, distance_m{};
  double speed_m_s{};              ///< mean of gas and threads
  double diameter_m{};             ///< of a thread with its solvent
  double temperature_K{};          ///< of the threads
  double solvent_mass_fraction{};
  double viscosity_Pa_s{};         ///< zero-shear
  double evaporation_kg_m2_s{};
  double gas_temperature_K{};      ///< round the threads
  double vapour_fraction{};        ///< mole fraction in that gas
  bool solid{};
};

/// Threads torn by the gas at one moment: half of the liquid that was left at break-through has gone.
struct ThreadReport {
  bool predicted{};            ///< gas goes through at some moment of the run, and splitting is on
  double dry_diameter_m{};
  double wet_diameter_m{};     ///< before drying
  double gas_speed_m_s{}, gas_density_kg_m3{};  ///< expanded to the pressure of the room
  double weber_law_m{}, cascade_law_m{};  ///< dry diameter by the other laws: the spread of the model
  double humidity_factor{1.0};  ///< on the diameter, water systems only
  double gas_weber{};          ///< rho_g u_g^2 d_o / sigma
  double thread_weber{};       ///< the same on the wet thread
  double ohnesorge{};          ///< of the liquid as charged, on the orifice
  double threads{};            ///< per orifice
  double carry_speed_m_s{};
  double flight_time_s{};
  double solidification_time_s{};  ///< 0: not before the collector
  bool solidified{}, dried{};
  double residual_solvent{};   ///< mass fraction at the collector
  double end_temperature_K{}, lowest_temperature_K{};
  double capillary_gain{};     ///< until solid
  double levelling_time_s{}, remaining_drying_time_s{};
  double vapour_fraction{};    ///< mole fraction in the gas around them, at the collector
  double mass_closure{}, momentum_closure{}, energy_closure{};  ///< relative
  std::vector<TornThreadStation> profile;  ///< empty unless asked for
};

/// What the chance of tearing rests on: see judge_tearing (model/splitting.hpp).
struct TearingChance {
  double gas_weber{};         ///< rho_g u_g^2 d_o / sigma
  double critical_weber{};    ///< at which gas tears a liquid of this Ohnesorge number
  double ohnesorge{};         ///< eta_0 / sqrt(rho sigma d_o)
  double share_with_gas{};    ///< of the mass that leaves while gas goes through
  double supply_flow_m3_s{};  ///< gas at 0 degC and 1 atm that the supply must hold, mean over the time with gas
  double by_share{}, by_weber{}, by_supply{};  ///< factors, each 0 to 1
  double probability{};
};

/// What one doubt does to ln d of one line, as standard deviation.
struct Doubt {
  std::string key;
  double log_sd{};
};

/// Chances of what is seen on the collector.
struct Outcomes {
  double even{}, beaded{}, drops{}, wet{},
      none{};  ///< sum 1: even fibre; with beads; drops; wet film; nothing that lands
};

/// One of the two answers.
struct Answer {
  double probability{};
  double diameter_m{};      ///< median; 0: no fibre
  double low_m{}, high_m{};  ///< 90 % band
  FibreClass fibre_class{FibreClass::no_jet};
  Landing landing{Landing::none};
  Outcomes outcomes;
};

/// The first jet once more with one doubtful part of the air model changed: a doubt of the model, not of the
/// measurements.
struct AirVariant {
  std::string key;
  std::string text;            ///< what was changed, in words
  Status status{Status::not_converged};
  bool reached_collector{};
  double dry_diameter_m{};
  double residual_solvent{};   ///< mass fraction at landing
  double end_radius_m{};
  double line_speed_m_s{};
  double turns{};
};

/// Gas that breaks through and blows along the jet: its state, and what it does to one moment of the run and to the
/// whole.
struct GasReport {
  bool predicted{};            ///< gas breaks through at some moment of the run
  bool choked{};
  double pressure_ratio{};     ///< head space over room
  double exit_mach{};
  double exit_temperature_K{};
  double jet_speed_m_s{};      ///< expanded to the pressure of the room
  // half of the liquid left at break-through has gone, or as the pump keeps it
  double layer_thickness_m{};
  double gas_share{};          ///< of the orifice's area
  double liquid_flow_ratio{};  ///< over the flow of a full orifice; 0 where a pump decides the flow
  double gas_flow_kg_s{};      ///< per orifice
  double open_flow_kg_s{};     ///< per orifice that only gas leaves
  double air_weber{};          ///< of the gas over the liquid where they leave, rho_a u_j^2 d/sigma
  std::vector<AirVariant> variants;  ///< that moment without gas, with less liquid only, with the gas along the jet
  double run_mean_without_m{},
      run_mean_with_m{};  ///< dry diameter over the run, by fibre length; 0 where nothing lands
  double run_time_with_s{};
};

/// Result of one case.
struct Estimate {
  Status status{Status::not_converged};
  std::string reason;
  FibreClass fibre_class{FibreClass::no_jet};
  Landing landing{Landing::none};
  std::vector<std::string> decided_by;  ///< sentences with the numbers that decided the class
  std::vector<std::string> line_why, threads_why;  ///< of either answer
  std::vector<Warning> warnings;
  std::vector<NamedProperty> properties;
  std::vector<Group> groups;

  double polymer_mass_fraction{}, polymer_volume_fraction{}, polymer_concentration_kg_m3{};
  double solution_density_kg_m3{};
  double entanglement_number{};  ///< n_e = phi_p M_w / M_e
  ChargeState charge;
  OrificeFlow orifice;           ///< at the start of the run
  Jet jet;                       ///< at the start of the run
  double kinematic_bound_m{};    ///< sqrt(4 Q phi_p / (pi Omega R_c)); 0 at rest
  double dry_diameter_m{};       ///< headline: of torn threads, or of one line (line_diameter_m)
  double
      line_diameter_m{};  ///< one line per orifice, first jet at full settings: jet.dry_diameter_m / sqrt(excess_draw)
  bool torn{};                   ///< the headline is torn threads
  ThreadReport threads;
  Answer as_threads, as_line;    ///< both answers; probabilities add up to 1
  TearingChance chance;          ///< that gas tears the liquid
  std::vector<Doubt> line_doubts;  ///< of the band of one line, largest first; empty unless asked for
  Outcomes outcomes;             ///< over both answers
  double line_run_mean_m{};      ///< run of the answer "one line", by length
  double spilled_by_feed{};      ///< share of the pump's feed that the orifices do not pass
  double excess_draw{1.0};       ///< of the first jet: constant times flapping
  RunSummary run;
  std::vector<AirVariant> air_variants;  ///< empty unless asked for
  GasReport gas;                         ///< variants and run means empty unless asked for
  std::string tier;
  std::string drying_model;
};

}  // namespace whorl::model
