#include "whorl/io/outputs.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "io/unit_table.hpp"
#include "whorl/model/run_progress.hpp"

namespace whorl::io {
namespace {

using model::Estimate;
using model::FibreClass;
using Value = std::optional<double>;

// Which part of an estimate holds numbers depends on how far the material got.
bool flows(const Estimate& e) { return e.fibre_class != FibreClass::no_jet; }
bool has_jet(const Estimate& e) {
  return flows(e) && e.as_line.fibre_class != FibreClass::dripping && e.jet.status == model::Status::done;
}
bool lands(const Estimate& e) { return has_jet(e) && e.jet.reached_collector; }
// Drops have a size too, but it is not the diameter of a fibre. A fibre that floats has one.
bool fibre(const Estimate& e) {
  return flows(e) && e.fibre_class != FibreClass::dripping && e.fibre_class != FibreClass::drops &&
         e.dry_diameter_m > 0.0;
}
bool threads(const Estimate& e) { return flows(e) && e.threads.predicted; }

Value when(bool holds, double value) { return holds ? Value(value) : Value(); }
Value positive(bool holds, double value) { return when(holds && value > 0.0, value); }
Value flag(bool holds, bool value) { return when(holds, value ? 1.0 : 0.0); }

Value property(const Estimate& e, std::string_view key) {
  for (const auto& named : e.properties)
    if (named.key == key) return named.property.value;
  return {};
}

// Where the collector is asked at all; a jet that it does not hold has its own diameter.
Value free_end(const Estimate& e) {
  const auto& jet = e.jet;
  if (!has_jet(e) || !(jet.held_end_dry_diameter_m > 0.0)) return {};
  const double d = jet.collector_hold > 0.0 ? jet.free_end_dry_diameter_m : jet.dry_diameter_m;
  return positive(true, d / std::sqrt(e.excess_draw));
}

constexpr auto kNumber = OutputKind::number;
constexpr auto kFlag = OutputKind::boolean;

const std::array kOutputs{
    // Fibre
    Output{"dry_diameter_um", "d_f", "um", kNumber, 1e6, 0.0, 10.0, "diameter of the dry fibre in the likelier answer",
           [](const Estimate& e) { return when(fibre(e), e.dry_diameter_m); }},
    Output{"wet_diameter_um", "d_w", "um", kNumber, 1e6, 0.0, 10.0,
           "diameter of one line per orifice as it lands, with the solvent still in it",
           [](const Estimate& e) {
             return positive(fibre(e) && has_jet(e), e.jet.wet_diameter_m / std::sqrt(e.excess_draw));
           }},
    Output{"kinematic_bound_um", "d_kin", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter if fibre were laid at the speed of rotation times the radius of the collector; a faster jet "
           "is finer",
           [](const Estimate& e) { return positive(flows(e), e.kinematic_bound_m); }},
    Output{"residual_solvent", "w_s", "1", kNumber, 1.0, 0.0, 0.1,
           "mass fraction of solvent in the material at landing, in the likelier answer",
           [](const Estimate& e) {
             return e.torn ? when(threads(e), e.threads.residual_solvent) : when(lands(e), e.jet.residual_solvent);
           }},
    Output{"line_residual_solvent", "", "1", kNumber, 1.0, 0.0, 0.1,
           "mass fraction of solvent in one line per orifice at landing",
           [](const Estimate& e) { return when(lands(e), e.jet.residual_solvent); }},
    Output{"surface_residual_solvent", "w_s,surf", "1", kNumber, 1.0, 0.0, 0.1,
           "mass fraction of solvent at the surface of one line per orifice at landing",
           [](const Estimate& e) { return when(lands(e), e.jet.surface_residual_solvent); }},
    Output{"polymer_throughput_g_h", "m_p", "g/h", kNumber, 3.6e6, 0.0, 10.0,
           "polymer leaving all orifices at full settings with the whole charge in the vessel",
           [](const Estimate& e) { return when(flows(e), e.run.polymer_throughput_kg_s); }},
    Output{"wet_throughput_g_h", "m_w", "g/h", kNumber, 3.6e6, 0.0, 100.0,
           "solution leaving all orifices at full settings with the whole charge in the vessel",
           [](const Estimate& e) { return when(flows(e), e.run.wet_throughput_kg_s); }},
    // Two answers
    Output{"torn", "", "1", kFlag, 1.0, 0.0, 1.0,
           "whether torn threads are the headline rather than one line per orifice",
           [](const Estimate& e) { return flag(flows(e), e.torn); }},
    Output{"tearing_probability", "P_t", "1", kNumber, 1.0, 0.0, 1.0,
           "probability that gas tears the liquid into threads",
           [](const Estimate& e) { return when(flows(e), e.as_threads.probability); }},
    Output{"thread_diameter_um", "d_t", "um", kNumber, 1e6, 0.0, 1.0, "dry diameter of torn threads",
           [](const Estimate& e) { return positive(threads(e), e.threads.dry_diameter_m); }},
    Output{"line_diameter_um", "d_l", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of one line per orifice, first jet at full settings",
           [](const Estimate& e) { return positive(has_jet(e), e.line_diameter_m); }},
    Output{"free_end_diameter_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of that line if its end is free; empty where no such state is found",
           [](const Estimate& e) { return free_end(e); }},
    Output{"held_end_diameter_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of that line if the collector holds its end",
           [](const Estimate& e) {
             return positive(has_jet(e), e.jet.held_end_dry_diameter_m / std::sqrt(e.excess_draw));
           }},
    Output{"collector_hold", "", "1", kNumber, 1.0, 0.0, 1.0,
           "how far the collector holds that line, from 0 (free end) to 1 (held)",
           [](const Estimate& e) {
             return when(has_jet(e) && e.jet.held_end_dry_diameter_m > 0.0, e.jet.collector_hold);
           }},
    Output{"line_run_mean_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of one line per orifice over the run, mean by fibre length",
           [](const Estimate& e) { return positive(has_jet(e), e.line_run_mean_m); }},
    Output{"diameter_low_um", "d_05", "um", kNumber, 1e6, 0.0, 10.0,
           "lower end of the 90 % band of the diameter in the likelier answer; that of a line by estimate alone",
           [](const Estimate& e) { return positive(fibre(e), (e.torn ? e.as_threads : e.as_line).low_m); }},
    Output{"diameter_high_um", "d_95", "um", kNumber, 1e6, 0.0, 10.0,
           "upper end of the 90 % band of the diameter in the likelier answer; that of a line by estimate alone",
           [](const Estimate& e) { return positive(fibre(e), (e.torn ? e.as_threads : e.as_line).high_m); }},
    Output{"other_diameter_um", "", "um", kNumber, 1e6, 0.0, 10.0, "dry diameter in the other answer",
           [](const Estimate& e) { return positive(threads(e), (e.torn ? e.as_line : e.as_threads).diameter_m); }},
    Output{"thread_wet_diameter_um", "d_w", "um", kNumber, 1e6, 0.0, 1.0, "diameter of torn threads before they dry",
           [](const Estimate& e) { return positive(threads(e), e.threads.wet_diameter_m); }},
    Output{"thread_diameter_weber_um", "", "um", kNumber, 1e6, 0.0, 1.0,
           "dry diameter of torn threads by the Weber law",
           [](const Estimate& e) { return positive(threads(e), e.threads.weber_law_m); }},
    Output{"thread_diameter_cascade_um", "", "um", kNumber, 1e6, 0.0, 1.0,
           "dry diameter of torn threads by the cascade law",
           [](const Estimate& e) { return positive(threads(e), e.threads.cascade_law_m); }},
    Output{"threads_per_orifice", "N_t", "1", kNumber, 1.0, 0.0, 100.0, "torn threads per orifice, by mass balance",
           [](const Estimate& e) { return positive(threads(e), e.threads.threads); }},
    Output{"gas_weber", "We_g", "1", kNumber, 1.0, 0.0, 1000.0,
           "gas Weber number on the liquid of an orifice, rho_g u_g^2 d_o / sigma",
           [](const Estimate& e) { return positive(threads(e), e.threads.gas_weber); }},
    Output{"tearing_weber", "We_gc", "1", kNumber, 1.0, 0.0, 100.0,
           "gas Weber number at which a liquid of this viscosity tears",
           [](const Estimate& e) { return positive(threads(e), e.chance.critical_weber); }},
    Output{"thread_weber", "We_w", "1", kNumber, 1.0, 0.0, 10.0, "gas Weber number on a wet thread",
           [](const Estimate& e) { return positive(threads(e), e.threads.thread_weber); }},
    Output{"gas_ohnesorge", "Oh_g", "1", kNumber, 1.0, 0.0, 1.0,
           "Ohnesorge number of the solution on the diameter of an orifice",
           [](const Estimate& e) { return positive(threads(e), e.threads.ohnesorge); }},
    Output{"thread_carry_speed_m_s", "u_e", "m/s", kNumber, 1.0, 0.0, 100.0,
           "speed at which torn threads are carried off",
           [](const Estimate& e) { return positive(threads(e), e.threads.carry_speed_m_s); }},
    Output{"thread_solid_after_ms", "", "ms", kNumber, 1e3, 0.0, 1.0, "time after which torn threads are solid",
           [](const Estimate& e) { return when(threads(e) && e.threads.solidified, e.threads.solidification_time_s); }},
    Output{"thread_residual_solvent", "", "1", kNumber, 1.0, 0.0, 1.0,
           "mass fraction of solvent in torn threads at the collector",
           [](const Estimate& e) { return when(threads(e), e.threads.residual_solvent); }},
    Output{"thread_capillary_gain", "", "1", kNumber, 1.0, 0.0, 10.0,
           "growth exponent of the worst wave on torn threads until they are solid",
           [](const Estimate& e) { return when(threads(e), e.threads.capillary_gain); }},
    Output{"humidity_factor", "", "1", kNumber, 1.0, 0.0, 1.0,
           "factor of the room's humidity on torn threads of a water system",
           [](const Estimate& e) {
             return when(threads(e) && e.threads.humidity_factor != 1.0, e.threads.humidity_factor);
           }},
    Output{"probability_even", "", "1", kNumber, 1.0, 0.0, 1.0,
           "probability of even fibre that keeps its shape, over both answers",
           [](const Estimate& e) { return Value(e.outcomes.even); }},
    Output{"probability_beaded", "", "1", kNumber, 1.0, 0.0, 1.0, "probability of fibre with beads, over both answers",
           [](const Estimate& e) { return Value(e.outcomes.beaded); }},
    Output{"probability_drops", "", "1", kNumber, 1.0, 0.0, 1.0, "probability of drops, over both answers",
           [](const Estimate& e) { return Value(e.outcomes.drops); }},
    Output{"probability_wet", "", "1", kNumber, 1.0, 0.0, 1.0,
           "probability of fibre that flows together where it lands, over both answers",
           [](const Estimate& e) { return Value(e.outcomes.wet); }},
    Output{"probability_nothing", "", "1", kNumber, 1.0, 0.0, 1.0,
           "probability that nothing lands on the collector, over both answers",
           [](const Estimate& e) { return Value(e.outcomes.none); }},
    // Solution
    Output{"polymer_mass_fraction", "w_p", "1", kNumber, 1.0, 0.0, 0.1, "mass fraction of polymer in the solution",
           [](const Estimate& e) { return Value(e.polymer_mass_fraction); }},
    Output{"polymer_volume_fraction", "phi_p", "1", kNumber, 1.0, 0.0, 0.1,
           "volume fraction of polymer in the solution",
           [](const Estimate& e) { return Value(e.polymer_volume_fraction); }},
    Output{"solution_density_kg_m3", "rho", "kg/m3", kNumber, 1.0, 0.0, 1000.0, "density of the solution in the vessel",
           [](const Estimate& e) { return Value(e.solution_density_kg_m3); }},
    Output{"solution_viscosity_Pa_s", "eta_0", "Pa s", kNumber, 1.0, 0.0, 1.0,
           "zero-shear viscosity of the solution in the vessel",
           [](const Estimate& e) { return property(e, "zero_shear_viscosity"); }},
    Output{"entanglement_number", "n_e", "1", kNumber, 1.0, 0.0, 10.0,
           "entanglement number phi_p M_w / M_e, one more than the entanglements per chain",
           [](const Estimate& e) { return positive(true, e.entanglement_number); }},
    // Vessel
    Output{"free_surface_radius_mm", "R_s", "mm", kNumber, 1e3, 0.0, 10.0,
           "radius of the liquid surface at the height of the orifices",
           [](const Estimate& e) { return Value(e.charge.free_surface_radius_m); }},
    Output{"layer_thickness_mm", "h", "mm", kNumber, 1e3, 0.0, 1.0, "liquid over the orifices, measured radially",
           [](const Estimate& e) { return Value(e.charge.layer_thickness_m); }},
    Output{"spilled_volume_mL", "V_spill", "mL", kNumber, 1e6, 0.0, 1.0,
           "liquid lost over an open lid before the start",
           [](const Estimate& e) { return Value(e.charge.spilled_volume_m3); }},
    // Orifice
    Output{"centrifugal_head_kPa", "p_c", "kPa", kNumber, 1e-3, 0.0, 100.0,
           "pressure at the orifice exit from rotation",
           [](const Estimate& e) { return Value(e.orifice.centrifugal_head_Pa); }},
    Output{"hydrostatic_head_kPa", "p_h", "kPa", kNumber, 1e-3, 0.0, 0.1,
           "pressure at the orifice from the weight of the liquid",
           [](const Estimate& e) { return Value(e.orifice.hydrostatic_head_Pa); }},
    Output{"capillary_threshold_kPa", "p_sigma", "kPa", kNumber, 1e-3, 0.0, 0.1,
           "pressure held back by surface tension at the orifice",
           [](const Estimate& e) { return Value(e.orifice.capillary_threshold_Pa); }},
    Output{"driving_pressure_kPa", "p_d", "kPa", kNumber, 1e-3, 0.0, 100.0,
           "pressure that drives the flow through an orifice",
           [](const Estimate& e) { return Value(e.orifice.driving_pressure_Pa); }},
    Output{"viscous_loss_kPa", "p_v", "kPa", kNumber, 1e-3, 0.0, 100.0,
           "part of the driving pressure spent on wall friction",
           [](const Estimate& e) { return when(flows(e), e.orifice.viscous_loss_Pa); }},
    Output{"entrance_loss_kPa", "p_e", "kPa", kNumber, 1e-3, 0.0, 10.0,
           "part of the driving pressure spent at the entrance of the orifice",
           [](const Estimate& e) { return when(flows(e), e.orifice.entrance_loss_Pa); }},
    Output{"kinetic_loss_kPa", "p_k", "kPa", kNumber, 1e-3, 0.0, 10.0,
           "part of the driving pressure that becomes speed of the liquid",
           [](const Estimate& e) { return when(flows(e), e.orifice.kinetic_loss_Pa); }},
    Output{"orifice_speed_m_s", "U", "m/s", kNumber, 1.0, 0.0, 1.0, "mean speed in an orifice",
           [](const Estimate& e) { return when(flows(e), e.orifice.mean_speed_m_s); }},
    Output{"orifice_flow_mL_min", "Q", "mL/min", kNumber, 6e7, 0.0, 1.0, "flow through one orifice",
           [](const Estimate& e) { return when(flows(e), e.orifice.flow_m3_s); }},
    Output{"wall_shear_rate_1_s", "gamma_w", "1/s", kNumber, 1.0, 0.0, 1e4, "shear rate at the wall of an orifice",
           [](const Estimate& e) { return when(flows(e), e.orifice.wall_shear_rate_1_s); }},
    Output{"wall_stress_Pa", "tau_w", "Pa", kNumber, 1.0, 0.0, 1e4, "shear stress at the wall of an orifice",
           [](const Estimate& e) { return when(flows(e), e.orifice.wall_stress_Pa); }},
    Output{"apparent_viscosity_Pa_s", "eta_a", "Pa s", kNumber, 1.0, 0.0, 1.0,
           "Newtonian viscosity with the same wall friction",
           [](const Estimate& e) { return when(flows(e), e.orifice.apparent_viscosity_Pa_s); }},
    Output{"orifice_reynolds", "Re", "1", kNumber, 1.0, 0.0, 10.0, "Reynolds number in an orifice, 8 rho U^2 / tau_w",
           [](const Estimate& e) { return when(flows(e), e.orifice.reynolds); }},
    Output{"orifice_weber", "We", "1", kNumber, 1.0, 0.0, 10.0, "Weber number at the orifice, rho U^2 d / sigma",
           [](const Estimate& e) { return when(flows(e), e.orifice.weber); }},
    Output{"critical_weber", "We_c", "1", kNumber, 1.0, 0.0, 1.0, "Weber number above which a steady jet forms",
           [](const Estimate& e) { return when(flows(e), e.orifice.critical_weber); }},
    Output{"critical_layer_mm", "h_c", "mm", kNumber, 1e3, 0.0, 1.0,
           "layer over the orifices below which gas is drawn in, at the start",
           [](const Estimate& e) { return positive(flows(e), e.orifice.critical_layer_m); }},
    Output{"gas_share", "", "1", kNumber, 1.0, 0.0, 1.0, "share of an orifice that gas takes at the start",
           [](const Estimate& e) { return positive(flows(e), e.orifice.gas_share); }},
    // Jet
    Output{"reached_collector", "", "1", kFlag, 1.0, 0.0, 1.0, "whether the jet reaches the collector",
           [](const Estimate& e) { return flag(has_jet(e), e.jet.reached_collector); }},
    Output{"end_radius_mm", "r_end", "mm", kNumber, 1e3, 0.0, 100.0, "distance from the axis where the jet ends",
           [](const Estimate& e) { return when(has_jet(e), e.jet.end_radius_m); }},
    Output{"turns", "N", "1", kNumber, 1.0, 0.0, 1.0, "turns of the jet around the vessel",
           [](const Estimate& e) { return when(has_jet(e), e.jet.turns); }},
    Output{"flight_time_ms", "t_f", "ms", kNumber, 1e3, 0.0, 10.0, "time from the orifice to the end of the jet",
           [](const Estimate& e) { return when(has_jet(e), e.jet.flight_time_s); }},
    Output{"path_length_mm", "s_f", "mm", kNumber, 1e3, 0.0, 1000.0, "length of the jet",
           [](const Estimate& e) { return when(has_jet(e), e.jet.path_length_m); }},
    Output{"line_speed_m_s", "u_f", "m/s", kNumber, 1.0, 0.0, 50.0, "speed of the line where it lands; fibre is laid at the draw factor times it",
           [](const Estimate& e) { return when(lands(e), e.jet.end_speed_m_s); }},
    Output{"end_temperature_degC", "T_f", "degC", kNumber, 1.0, 273.15, 20.0, "temperature of the jet where it ends",
           [](const Estimate& e) { return when(has_jet(e), e.jet.end_temperature_K); }},
    Output{"lowest_temperature_degC", "T_min", "degC", kNumber, 1.0, 273.15, 20.0, "lowest temperature along the jet",
           [](const Estimate& e) { return when(has_jet(e), e.jet.lowest_temperature_K); }},
    Output{"dew_margin_K", "dT_dew", "K", kNumber, 1.0, 0.0, 10.0,
           "lowest surface temperature less the dew point of the room air",
           [](const Estimate& e) { return when(has_jet(e), e.jet.dew_margin_K); }},
    Output{"drying_distance_mm", "s_dry", "mm", kNumber, 1e3, 0.0, 100.0,
           "length of jet after which the fibre counts as dry",
           [](const Estimate& e) { return when(has_jet(e) && e.jet.dried, e.jet.drying_distance_m); }},
    Output{"drying_radius_mm", "r_dry", "mm", kNumber, 1e3, 0.0, 100.0,
           "distance from the axis at which the fibre counts as dry",
           [](const Estimate& e) { return when(has_jet(e) && e.jet.dried, e.jet.drying_radius_m); }},
    Output{"solidification_distance_mm", "s_sol", "mm", kNumber, 1e3, 0.0, 100.0,
           "length of jet after which the fibre is solid",
           [](const Estimate& e) { return when(has_jet(e) && e.jet.solidified, e.jet.solidification_distance_m); }},
    Output{"skin_formed", "", "1", kFlag, 1.0, 0.0, 1.0, "whether the surface dries to a skin over a wet core",
           [](const Estimate& e) { return flag(has_jet(e), e.jet.skin_formed); }},
    Output{"capillary_gain", "G", "1", kNumber, 1.0, 0.0, 10.0, "growth exponent of the worst capillary disturbance",
           [](const Estimate& e) { return when(has_jet(e), e.jet.capillary_gain); }},
    Output{"air_weber", "We_a", "1", kNumber, 1.0, 0.0, 10.0,
           "largest air Weber number along the liquid jet, rho_a w^2 d / sigma",
           [](const Estimate& e) { return when(has_jet(e), e.jet.air_weber); }},
    Output{"draw_factor", "E", "1", kNumber, 1.0, 0.0, 1.0,
           "line laid per length of mean path: the constant of the case times flapping",
           [](const Estimate& e) { return when(has_jet(e) && e.excess_draw != 1.0, e.excess_draw); }},
    Output{"tension_ratio", "", "1", kNumber, 1.0, 0.0, 1.0, "largest tension along the jet over its momentum flux",
           [](const Estimate& e) { return when(has_jet(e), e.jet.tension_ratio); }},
    Output{"evaporated_mg_s", "", "mg/s", kNumber, 1e6, 0.0, 1.0, "solvent leaving one jet in flight",
           [](const Estimate& e) { return when(has_jet(e), e.jet.evaporated_kg_s); }},
    // Run
    Output{"run_time_s", "t_run", "s", kNumber, 1.0, 0.0, 60.0, "time until flow stops",
           [](const Estimate& e) { return positive(flows(e), e.run.run_time_s); }},
    Output{"time_to_90_percent_s", "t_90", "s", kNumber, 1.0, 0.0, 60.0, "time by which 90 % of what leaves has left",
           [](const Estimate& e) { return positive(flows(e), model::time_when_left_s(e.run, 0.9)); }},
    Output{"emptied_fraction", "", "1", kNumber, 1.0, 0.0, 1.0,
           "share of the charge, less what spills, that has left when flow stops",
           [](const Estimate& e) { return when(flows(e), e.run.emptied_fraction); }},
    Output{"heel_volume_mL", "V_heel", "mL", kNumber, 1e6, 0.0, 1.0, "liquid left in the vessel",
           [](const Estimate& e) { return when(flows(e), e.run.heel_volume_m3); }},
    Output{"breakthrough", "", "1", kFlag, 1.0, 0.0, 1.0,
           "whether gas breaks through the liquid before the vessel is empty",
           [](const Estimate& e) { return flag(flows(e), e.run.breakthrough); }},
    Output{"breakthrough_time_s", "t_b", "s", kNumber, 1.0, 0.0, 60.0, "time at which gas breaks through",
           [](const Estimate& e) { return when(flows(e) && e.run.breakthrough, e.run.breakthrough_time_s); }},
    Output{"breakthrough_left", "V_b/V_0", "1", kNumber, 1.0, 0.0, 1.0,
           "share of the charge that is left when gas breaks through",
           [](const Estimate& e) { return when(flows(e) && e.run.breakthrough, e.run.breakthrough_left); }},
    Output{"gas_choked", "", "1", kFlag, 1.0, 0.0, 1.0,
           "whether gas that breaks through leaves at the speed of sound and expands outside",
           [](const Estimate& e) { return flag(flows(e) && e.gas.predicted, e.gas.choked); }},
    Output{"gas_speed_m_s", "u_g", "m/s", kNumber, 1.0, 0.0, 300.0,
           "speed of gas that breaks through, expanded to the pressure of the room",
           [](const Estimate& e) { return when(flows(e) && e.gas.predicted, e.gas.jet_speed_m_s); }},
    Output{"gas_flow_mg_s", "m_g", "mg/s", kNumber, 1e6, 0.0, 10.0,
           "gas through one orifice when half of the liquid left at break-through has gone",
           [](const Estimate& e) { return when(flows(e) && e.gas.predicted, e.gas.gas_flow_kg_s); }},
    Output{"gas_open_flow_mg_s", "m_g,open", "mg/s", kNumber, 1e6, 0.0, 100.0,
           "gas through one orifice that no liquid leaves any more",
           [](const Estimate& e) { return when(flows(e) && e.gas.predicted, e.gas.open_flow_kg_s); }},
    Output{"share_with_gas", "", "1", kNumber, 1.0, 0.0, 1.0, "share of the mass that leaves while gas goes through",
           [](const Estimate& e) { return when(flows(e), e.run.share_with_gas); }},
    Output{"gas_supply_mean_L_min", "", "L/min", kNumber, 6e4, 0.0, 100.0,
           "gas that the supply must hold while gas goes through, mean, as volume at 0 degC and 1 atm",
           [](const Estimate& e) { return positive(flows(e), e.run.gas_supply_mean_m3_s); }},
    Output{"gas_supply_most_L_min", "", "L/min", kNumber, 6e4, 0.0, 100.0, "the same, most",
           [](const Estimate& e) { return positive(flows(e), e.run.gas_supply_most_m3_s); }},
    Output{"full_settings_after_s", "", "s", kNumber, 1.0, 0.0, 10.0,
           "time until speed and overpressure are at their full values",
           [](const Estimate& e) { return when(flows(e), e.run.full_settings_time_s); }},
    Output{"share_at_full_settings", "", "1", kNumber, 1.0, 0.0, 1.0,
           "share of the mass that leaves at full speed and overpressure",
           [](const Estimate& e) { return when(flows(e), e.run.share_at_full_settings); }},
    Output{"polymer_spun_g", "", "g", kNumber, 1e3, 0.0, 1.0, "polymer spun in the run",
           [](const Estimate& e) { return when(flows(e), e.run.polymer_mass_kg); }},
    Output{"run_diameter_mean_um", "", "um", kNumber, 1e6, 0.0, 10.0, "dry diameter over the run, mean by fibre length",
           [](const Estimate& e) { return positive(fibre(e), e.run.dry_diameter_mean_m); }},
    Output{
        "run_diameter_sd_um", "", "um", kNumber, 1e6, 0.0, 1.0,
        "dry diameter over the run, standard deviation by fibre length",
        [](const Estimate& e) { return when(fibre(e) && e.run.dry_diameter_mean_m > 0.0, e.run.dry_diameter_sd_m); }},
    Output{"run_diameter_min_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "smallest dry diameter at the moments computed over the run",
           [](const Estimate& e) { return positive(fibre(e), e.run.dry_diameter_min_m); }},
    Output{"run_diameter_max_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "largest dry diameter at the moments computed over the run",
           [](const Estimate& e) { return positive(fibre(e), e.run.dry_diameter_max_m); }},
    Output{"single_fibre_low_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "5 % of the fibre length is finer, scatter within one setting included",
           [](const Estimate& e) { return positive(fibre(e), e.run.single_low_m); }},
    Output{"single_fibre_high_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "5 % of the fibre length is coarser, scatter within one setting included",
           [](const Estimate& e) { return positive(fibre(e), e.run.single_high_m); }},
    Output{
        "line_length_share", "", "1", kNumber, 1.0, 0.0, 1.0,
        "share of the fibre length that is lines of one orifice each",
        [](const Estimate& e) { return when(fibre(e) && e.run.dry_diameter_mean_m > 0.0, e.run.lines.length_share); }},
    Output{"line_mass_share", "", "1", kNumber, 1.0, 0.0, 1.0,
           "share of the polymer that is in lines of one orifice each",
           [](const Estimate& e) { return when(fibre(e) && e.run.dry_diameter_mean_m > 0.0, e.run.lines.mass_share); }},
    Output{"line_population_mean_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of the lines of the run, mean by length",
           [](const Estimate& e) { return positive(fibre(e), e.run.lines.mean_m); }},
    Output{"thread_population_mean_um", "", "um", kNumber, 1e6, 0.0, 10.0,
           "dry diameter of the torn threads of the run, mean by length",
           [](const Estimate& e) { return positive(fibre(e), e.run.threads.mean_m); }},
};

}  // namespace

std::span<const Output> outputs() { return kOutputs; }

const Output* find_output(std::string_view column) {
  const auto found =
      std::find_if(kOutputs.begin(), kOutputs.end(), [&](const Output& o) { return o.column == column; });
  return found == kOutputs.end() ? nullptr : &*found;
}

std::optional<double> output_value(const Output& output, const Estimate& estimate) {
  if (estimate.status != model::Status::done) return {};
  const Value value = output.get(estimate);
  if (!value || !std::isfinite(*value)) return {};
  return (*value - output.offset) * output.scale;
}

std::string output_table_markdown() {
  std::string text = "| column | symbol | unit | meaning |\n|---|---|---|---|\n";
  for (const Output& output : kOutputs) {
    const std::string_view unit = output.kind == OutputKind::boolean ? "true or false" : output.unit;
    text += fmt::format("| `{}` | {} | {} | {} |\n", output.column, output.symbol, unit, output.description);
  }
  return text;
}

std::string_view ucum_code(std::string_view unit) {
  const Unit* found = find_unit(unit);
  return found == nullptr ? std::string_view{} : found->ucum;
}

}  // namespace whorl::io
