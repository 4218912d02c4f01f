#include "io/names.hpp"

#include <algorithm>
#include <array>

namespace whorl::io {
namespace {

// Names and symbols where those of the tables of results are too long for an axis or have none.
constexpr std::array kColumns{
    ColumnName{"rotation_speed_rpm", "Rotation speed", "n"},
    ColumnName{"gas_overpressure_MPa", "Gas overpressure", "p_g"},
    ColumnName{"charge_volume_mL", "Charge", "V_0"},
    ColumnName{"collection_distance_mm", "Collection distance", "l_c"},
    ColumnName{"orifice_diameter_mm", "Orifice diameter", "d_o"},
    ColumnName{"orifice_count", "Number of orifices", "N_o"},
    ColumnName{"bore_diameter_mm", "Bore diameter", "d_b"},
    ColumnName{"wall_thickness_mm", "Wall thickness", "L_o"},
    ColumnName{"molar_mass_kg_mol", "Molar mass", "M_w"},
    ColumnName{"concentration_percent", "Concentration", "c"},
    ColumnName{"relative_humidity_percent", "Relative humidity", "RH"},
    ColumnName{"dry_diameter_um", "Dry diameter", "d_f"},
    ColumnName{"wet_diameter_um", "Diameter of one line as landed", "d_w"},
    ColumnName{"kinematic_bound_um", "Diameter at collector speed", "d_kin"},
    ColumnName{"residual_solvent", "Solvent at landing", "w_s"},
    ColumnName{"line_residual_solvent", "Solvent in one line at landing", ""},
    ColumnName{"polymer_throughput_g_h", "Polymer throughput", "m_p"},
    ColumnName{"wet_throughput_g_h", "Throughput of solution", "m_w"},
    ColumnName{"orifice_flow_mL_min", "Flow of one orifice", "Q"},
    ColumnName{"line_speed_m_s", "Line speed", "u_f"},
    ColumnName{"drying_distance_mm", "Drying distance", "s_dry"},
    ColumnName{"tension_ratio", "Tension over momentum flux", ""},
    ColumnName{"run_diameter_mean_um", "Mean diameter over the run", "d_f"},
    ColumnName{"thread_diameter_um", "Diameter of torn threads", "d_t"},
    ColumnName{"line_diameter_um", "Diameter of one line", "d_l"},
    ColumnName{"tearing_probability", "Probability of tearing", "P_t"},
    ColumnName{"threads_per_orifice", "Threads per orifice", "N_t"},
    ColumnName{"gas_weber", "Gas Weber number", "We_g"},
    ColumnName{"share_with_gas", "Share of the mass with gas", ""},
    ColumnName{"share_at_full_settings", "Share at full settings", ""},
    ColumnName{"feed_rate_mL_min", "Feed", "Q_f"},
    ColumnName{"run_time_s", "Run time", "t_run"},
    ColumnName{"arc_length_mm", "Distance along the jet", "s"},
    ColumnName{"time_ms", "Time in flight", "t"},
    ColumnName{"radius_mm", "Distance from the axis", "r"},
    ColumnName{"x_mm", "", "x"},
    ColumnName{"y_mm", "", "y"},
    ColumnName{"speed_m_s", "Speed", "u"},
    ColumnName{"lab_speed_m_s", "Speed in the laboratory", "v"},
    ColumnName{"diameter_um", "Diameter", "d"},
    ColumnName{"temperature_degC", "Temperature", "T"},
    ColumnName{"solvent_mass_fraction", "Solvent", "w_s"},
    ColumnName{"surface_solvent_fraction", "Solvent at the surface", "w_s,surf"},
    ColumnName{"viscosity_Pa_s", "Viscosity", "eta"},
    ColumnName{"strain_rate_1_s", "Rate of stretching", "du/ds"},
    ColumnName{"axial_stress_kPa", "Axial stress", "tau_ss - tau_rr"},
    ColumnName{"tension_uN", "Tension", "F"},
    ColumnName{"momentum_flux_uN", "Momentum flux", "q_m u"},
    ColumnName{"evaporation_g_m2_s", "Evaporation", "n"},
    ColumnName{"air_reynolds", "Reynolds number in air", "Re_a"},
    ColumnName{"capillary_gain", "Capillary gain", "G"},
    ColumnName{"glass_margin_K", "Above glass transition", "T - T_g"},
};

// Without a label: not drawn, or drawn under its key.
constexpr std::array kParts{
    PartName{"throughput", "throughput", "throughput"},
    PartName{"solids", "polymer content", "polymer content"},
    PartName{"line-speed", "line speed", "line speed"},
    PartName{"excess-draw", "excess draw", "excess draw"},
    PartName{"overpressure", "gas overpressure", "gas overpressure"},
    PartName{"centrifugal-head", "centrifugal head", "centrifugal head"},
    PartName{"hydrostatic-head", "liquid height", "liquid height"},
    PartName{"capillary", "capillary threshold", "surface tension"},
    PartName{"rheology", "viscosity (flow curve)", "viscosity"},
    PartName{"inertia", "density (entrance and exit speed)", "density"},
    PartName{"orifice-diameter", "orifice diameter", "orifice diameter"},
    PartName{"orifice-length", "orifice length", "orifice length"},
    PartName{"discharge-and-gas", "discharge factor and gas in the orifice", "discharge, gas"},
    PartName{"entrance", "entrance loss", ""},
    PartName{"kinetic", "speed given to the liquid", ""},
    PartName{"apparent-viscosity", "apparent viscosity", ""},
    PartName{"exit-speed", "speed at the orifice", "speed at orifice"},
    PartName{"centrifugal", "rotation (body force)", "rotation"},
    PartName{"gravity", "gravity", "gravity"},
    PartName{"air-drag", "air drag", "air drag"},
    PartName{"viscous", "viscous pull", "viscous pull"},
    PartName{"elastic", "elastic pull", "elastic pull"},
    PartName{"surface-tension", "surface tension", "surface tension"},
    PartName{"solid-constraint", "pull of the solid", "pull of the solid"},
    PartName{"gas", "gas of the orifice", "gas of the orifice"},
    PartName{"gas-speed", "speed of the gas", ""},
    PartName{"gas-density", "density of the gas", ""},
    PartName{"humidity", "humidity of the room", ""},
    PartName{"thread-size-factor", "factor on the size of threads", ""},
    PartName{"not-closed", "not closed by the budget", "not closed"},
};

struct DoubtName {
  std::string_view key;
  const char* words;
};
constexpr std::array kDoubts{
    DoubtName{"model.excess_draw", "its draw"},
    DoubtName{"model.axial_drag_factor", "the drag of the air"},
    DoubtName{"model.heat_transfer_factor", "how fast it warms and dries"},
    DoubtName{"model.critical_layer_factor", "when gas breaks through"},
    DoubtName{"room.air_swirl", "how far the air turns along"},
    DoubtName{"zero_shear_viscosity", "its viscosity"},
    DoubtName{"relaxation_time", "its elasticity"},
    DoubtName{"extensibility", "how far its chains stretch"},
    DoubtName{"entanglement_molar_mass", "how well its chains entangle"},
    DoubtName{"shear_thinning", "how thin it gets in the orifice"},
    DoubtName{"surface_tension", "its surface tension"},
    DoubtName{"density", "its density"},
    DoubtName{"polymer_density", "the density of the polymer"},
    DoubtName{"solvent_density", "the density of the solvent"},
    DoubtName{"solvent_viscosity", "the viscosity of the solvent"},
    DoubtName{"vapour_pressure", "how readily the solvent evaporates"},
    DoubtName{"latent_heat", "how much drying cools it"},
    DoubtName{"diffusivity_in_air", "how fast vapour gets away in air"},
    DoubtName{"flory_huggins_chi", "how well the polymer holds the solvent"},
    DoubtName{"solvent_diffusivity", "how fast solvent gets out of it"},
    DoubtName{"polymer_glass_transition", "where the polymer turns to glass"},
    DoubtName{"solvent_glass_transition", "how much solvent softens it"},
    DoubtName{"melting_point", "where the polymer crystallises"},
};

}  // namespace

const ColumnName* column_name(std::string_view column) {
  const auto found =
      std::find_if(kColumns.begin(), kColumns.end(), [&](const ColumnName& one) { return one.column == column; });
  return found == kColumns.end() ? nullptr : &*found;
}

const PartName* part_name(std::string_view key) {
  const auto found = std::find_if(kParts.begin(), kParts.end(), [&](const PartName& one) { return one.key == key; });
  return found == kParts.end() ? nullptr : &*found;
}

const char* doubt_words(std::string_view key) {
  const auto found = std::find_if(kDoubts.begin(), kDoubts.end(), [&](const DoubtName& one) { return one.key == key; });
  return found == kDoubts.end() ? nullptr : found->words;
}

}  // namespace whorl::io
