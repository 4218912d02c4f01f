// The table of the keys of a case file: name, unit, limits, column, example, default and words of each.
#include <array>

#include "io/unit_table.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::io {
namespace {

using model::CaseInput;
using model::MeasuredProperties;
using model::ModelInput;
using model::NumericsInput;
using model::OperationInput;
using model::PropertyFactors;
using model::RoomInput;
using model::SolutionInput;
using model::VesselInput;

// A key's value is reached along a chain of member pointers.
template <auto... Path>
std::optional<double> get_at(const CaseInput& input) {
  return (input.* ... .*Path);
}
template <auto... Path>
void set_at(CaseInput& input, double value) {
  (input.* ... .*Path) = value;
}

// What a key is written in. A name that the table of units does not have fails to compile.
constexpr const Unit& in(std::string_view unit) { return *find_unit(unit); }
constexpr const Unit& kPlain = in("1");
constexpr const Unit& kPercentUnit = in("%");
constexpr const Unit& kMm = in("mm");
constexpr const Unit& kCelsius = in("degC");
constexpr const Unit& kMPa = in("MPa");
constexpr const Unit& kPaS = in("Pa s");
constexpr const Unit& kSecond = in("s");

constexpr bool kRequired = true;
constexpr bool kOptional = false;
constexpr bool kWhole = true;
constexpr bool kAny = false;

/// Limits are written in the display unit.
template <auto... Path>
constexpr Key key(std::string_view path, const Unit& unit, std::string_view column, std::string_view example,
                  double low, double high, bool required, bool whole, std::string_view fallback,
                  std::string_view description) {
  return Key{path,
             unit.si,
             unit.unit,
             column,
             example,
             unit.scale * low + unit.offset,
             unit.scale * high + unit.offset,
             required,
             whole,
             description,
             &get_at<Path...>,
             &set_at<Path...>,
             unit.scale,
             unit.offset,
             fallback};
}

template <auto Member>
constexpr Key measured(std::string_view path, const Unit& unit, std::string_view column, std::string_view example,
                       double low, double high, std::string_view fallback, std::string_view description) {
  return key<&CaseInput::solution, &SolutionInput::measured, Member>(path, unit, column, example, low, high, kOptional,
                                                                     kAny, fallback, description);
}

template <auto Member>
constexpr Key factor(std::string_view path, double low, double high, std::string_view of) {
  // "model." is cut off for the column
  return key<&CaseInput::solution, &SolutionInput::factors, Member>(path, kPlain, path.substr(6), "1.1", low, high,
                                                                    kOptional, kAny, "1", of);
}

constexpr std::array kKeys{
    key<&CaseInput::solution, &SolutionInput::molar_mass_kg_mol>(
        "solution.molar_mass", in("kg/mol"), "molar_mass_kg_mol", "280 kg/mol", 1.0, 2e4, kRequired, kAny, "",
        "weight-average molar mass M_w of the polymer"),
    key<&CaseInput::solution, &SolutionInput::concentration, &model::Concentration::value>(
        "solution.concentration", kPercentUnit, "concentration_percent", "24 % w/v of solvent", 0.01, 100.0, kRequired,
        kAny, "", "polymer concentration with its basis; swept in the basis the case states"),
    key<&CaseInput::solution, &SolutionInput::temperature_K>(
        "solution.temperature", kCelsius, "charge_temperature_degC", "22 degC", -20.0, 200.0, kOptional, kAny,
        "room temperature", "temperature of the charge"),
    measured<&MeasuredProperties::density_kg_m3>("solution.measured.density", in("kg/m3"), "measured_density_kg_m3",
                                                 "1.42 g/mL", 500.0, 2500.0, "volume additivity",
                                                 "density of the solution"),
    measured<&MeasuredProperties::zero_shear_viscosity_Pa_s>(
        "solution.measured.zero_shear_viscosity", kPaS, "measured_zero_shear_viscosity_Pa_s", "1.2 Pa s", 1e-4, 1e3,
        "estimated from molar mass and concentration", "viscosity of the solution at rest, at the charge temperature"),
    measured<&MeasuredProperties::surface_tension_N_m>(
        "solution.measured.surface_tension", in("mN/m"), "measured_surface_tension_mN_m", "27 mN/m", 5.0, 100.0,
        "estimated from solvent and polymer", "surface tension of the solution against air"),
    measured<&MeasuredProperties::relaxation_time_s>(
        "solution.measured.relaxation_time", in("ms"), "measured_relaxation_time_ms", "3 ms", 0.0, 1e5, "estimated",
        "longest relaxation time, extensional (filament thinning) if available"),
    measured<&MeasuredProperties::flory_huggins_chi>("solution.measured.flory_huggins_chi", kPlain,
                                                     "measured_flory_huggins_chi", "0.4", -2.0, 3.0, "property library",
                                                     "Flory-Huggins interaction parameter"),
    measured<&MeasuredProperties::solvent_diffusivity_m2_s>(
        "solution.measured.solvent_diffusivity", in("m2/s"), "measured_solvent_diffusivity_m2_s", "5e-10 m2/s", 1e-16,
        1e-7, "property library or estimated", "mutual diffusivity at the initial composition"),
    measured<&MeasuredProperties::shear_time_constant_s>("solution.measured.shear_time_constant", in("ms"),
                                                         "measured_shear_time_constant_ms", "5 ms", 1e-4, 1e6, "none",
                                                         "time constant of the Carreau-Yasuda or Cross flow curve"),
    measured<&MeasuredProperties::shear_power_index>(
        "solution.measured.shear_power_index", kPlain, "measured_shear_power_index", "0.7", 0.05, 1.0, "none",
        "power index n of the power-law, Carreau-Yasuda or Cross (exponent 1 - n) flow curve"),
    measured<&MeasuredProperties::shear_yasuda_exponent>("solution.measured.shear_yasuda_exponent", kPlain,
                                                         "measured_shear_yasuda_exponent", "2", 0.1, 10.0, "none",
                                                         "Yasuda exponent a (2: Carreau)"),
    measured<&MeasuredProperties::infinite_shear_viscosity_Pa_s>(
        "solution.measured.infinite_shear_viscosity", kPaS, "measured_infinite_shear_viscosity_Pa_s", "2 mPa s", 0.0,
        1e3, "viscosity of the solvent", "viscosity at very high shear rate"),
    measured<&MeasuredProperties::power_law_consistency_Pa_sn>("solution.measured.power_law_consistency", in("Pa s^n"),
                                                               "measured_power_law_consistency_Pa_sn", "2.5 Pa s^n",
                                                               1e-4, 1e5, "none", "K of stress = K rate^n"),
    key<&CaseInput::vessel, &VesselInput::bore_diameter_m>("vessel.bore_diameter", kMm, "bore_diameter_mm", "44 mm",
                                                           5.0, 500.0, kRequired, kAny, "",
                                                           "inner diameter of the vessel"),
    key<&CaseInput::vessel, &VesselInput::height_m>("vessel.height", kMm, "vessel_height_mm", "20 mm", 1.0, 500.0,
                                                    kRequired, kAny, "", "inner height of the bore"),
    key<&CaseInput::vessel, &VesselInput::wall_thickness_m>("vessel.wall_thickness", kMm, "wall_thickness_mm", "3 mm",
                                                            0.05, 50.0, kRequired, kAny, "",
                                                            "wall thickness at the orifices = orifice length"),
    key<&CaseInput::vessel, &VesselInput::orifice_diameter_m>("vessel.orifice_diameter", kMm, "orifice_diameter_mm",
                                                              "0.5 mm", 0.05, 2.0, kRequired, kAny, "",
                                                              "diameter of one orifice"),
    key<&CaseInput::vessel, &VesselInput::orifice_count>("vessel.orifice_count", kPlain, "orifice_count", "24", 1.0,
                                                         1e4, kRequired, kWhole, "", "number of orifices"),
    key<&CaseInput::vessel, &VesselInput::orifice_height_m>("vessel.orifice_height", kMm, "orifice_height_mm", "10 mm",
                                                            0.0, 500.0, kOptional, kAny, "half the vessel height",
                                                            "height of the orifice axis above the vessel floor"),
    key<&CaseInput::vessel, &VesselInput::lid_opening_diameter_m>(
        "vessel.lid_opening_diameter", kMm, "lid_opening_diameter_mm", "20 mm", 0.0, 500.0, kOptional, kAny, "closed",
        "diameter of the opening in the lid; liquid nearer to the axis than its rim spills over; 0: closed"),
    key<&CaseInput::operation, &OperationInput::rotation_speed_rad_s>(
        "operation.rotation_speed", in("rpm"), "rotation_speed_rpm", "12000 rpm", 0.0, 40000.0, kRequired, kAny, "",
        "rotation speed of the vessel"),
    key<&CaseInput::operation, &OperationInput::gas_overpressure_Pa>(
        "operation.gas_overpressure", kMPa, "gas_overpressure_MPa", "0.1 MPa", 0.0, 0.6, kRequired, kAny, "",
        "gas pressure in the vessel above that of the room"),
    key<&CaseInput::operation, &OperationInput::charge_volume_m3>("operation.charge_volume", in("mL"),
                                                                  "charge_volume_mL", "6 mL", 0.01, 1e4, kRequired,
                                                                  kAny, "", "volume of solution put into the vessel"),
    key<&CaseInput::operation, &OperationInput::collection_distance_m>(
        "operation.collection_distance", kMm, "collection_distance_mm", "150 mm", 1.0, 2000.0, kRequired, kAny, "",
        "radial distance from the outer wall of the vessel to the collector"),
    key<&CaseInput::operation, &OperationInput::spin_up_time_s>("operation.spin_up_time", kSecond, "spin_up_time_s",
                                                                "2 s", 0.0, 3600.0, kOptional, kAny, "2 s",
                                                                "time from rest to full speed"),
    key<&CaseInput::operation, &OperationInput::pressure_rise_time_s>(
        "operation.pressure_rise_time", kSecond, "pressure_rise_time_s", "0.5 s", 0.0, 3600.0, kOptional, kAny, "0.5 s",
        "time in which the gas comes to full overpressure"),
    key<&CaseInput::operation, &OperationInput::feed_rate_m3_s>(
        "operation.feed_rate", in("mL/min"), "feed_rate_mL_min", "3 mL/min", 1e-3, 1e4, kOptional, kAny,
        "none: charged at the start", "flow of a pump that feeds the vessel, all orifices together"),
    key<&CaseInput::operation, &OperationInput::gas_supply_m3_s>(
        "operation.gas_supply", in("L/min"), "gas_supply_L_min", "100 L/min", 0.1, 1e5, kOptional, kAny,
        "as much as is needed", "most gas that the supply holds, as volume at 0 degC and 1 atm (normal litres)"),
    key<&CaseInput::room, &RoomInput::temperature_K>("room.temperature", kCelsius, "room_temperature_degC", "22 degC",
                                                     -10.0, 60.0, kOptional, kAny, "22 degC", "air temperature"),
    key<&CaseInput::room, &RoomInput::relative_humidity>("room.relative_humidity", kPercentUnit,
                                                         "relative_humidity_percent", "45 %", 0.0, 95.0, kOptional,
                                                         kAny, "45 %", "relative humidity of the air"),
    key<&CaseInput::room, &RoomInput::pressure_Pa>("room.pressure", in("kPa"), "room_pressure_kPa", "101.325 kPa", 50.0,
                                                   110.0, kOptional, kAny, "101.325 kPa",
                                                   "absolute air pressure of the room"),
    key<&CaseInput::room, &RoomInput::solvent_vapour_fraction>(
        "room.solvent_vapour_fraction", kPercentUnit, "solvent_vapour_percent", "0.1 %", 0.0, 20.0, kOptional, kAny,
        "0 %", "solvent vapour already in the air, mole (volume) fraction"),
    key<&CaseInput::room, &RoomInput::air_swirl>("room.air_swirl", kPlain, "air_swirl", "0.2", 0.0, 1.0, kOptional,
                                                 kAny, "0.5",
                                                 "speed of the air just outside the vessel wall over that of the wall, "
                                                 "decaying as 1/r: 0 still air, 1 carried along"),
    key<&CaseInput::model, &ModelInput::giesekus_mobility>("model.giesekus_mobility", kPlain, "giesekus_mobility",
                                                           "0.2", 0.0, 0.5, kOptional, kAny, "0.1",
                                                           "mobility of the Giesekus law"),
    key<&CaseInput::model, &ModelInput::axial_drag_factor>("model.axial_drag_factor", kPlain, "axial_drag_factor",
                                                           "1.5", 0.01, 100.0, kOptional, kAny, "1",
                                                           "multiplies the skin friction along the jet"),
    key<&CaseInput::model, &ModelInput::cross_drag_factor>("model.cross_drag_factor", kPlain, "cross_drag_factor",
                                                           "1.5", 0.01, 100.0, kOptional, kAny, "1",
                                                           "multiplies the drag across the jet"),
    key<&CaseInput::model, &ModelInput::heat_transfer_factor>("model.heat_transfer_factor", kPlain,
                                                              "heat_transfer_factor", "1.5", 0.01, 100.0, kOptional,
                                                              kAny, "1", "multiplies the heat transfer coefficient"),
    key<&CaseInput::model, &ModelInput::mass_transfer_factor>("model.mass_transfer_factor", kPlain,
                                                              "mass_transfer_factor", "1.5", 0.01, 100.0, kOptional,
                                                              kAny, "1", "multiplies the mass transfer coefficient"),
    key<&CaseInput::model, &ModelInput::discharge_factor>("model.discharge_factor", kPlain, "discharge_factor", "0.9",
                                                          0.01, 10.0, kOptional, kAny, "1",
                                                          "multiplies the orifice flow at given driving pressure"),
    key<&CaseInput::model, &ModelInput::excess_draw>("model.excess_draw", kPlain, "excess_draw", "1.3", 0.01, 1e3,
                                                     kOptional, kAny, "1", "line length laid per length of mean path"),
    key<&CaseInput::model, &ModelInput::critical_layer_factor>(
        "model.critical_layer_factor", kPlain, "critical_layer_factor", "1.5", 0.05, 20.0, kOptional, kAny, "1",
        "multiplies the layer of liquid at which gas goes through"),
    key<&CaseInput::model, &ModelInput::thread_size_factor>("model.thread_size_factor", kPlain, "thread_size_factor",
                                                            "0.8", 0.01, 100.0, kOptional, kAny, "1",
                                                            "multiplies the diameter of torn threads"),
    key<&CaseInput::model, &ModelInput::tearing_quantile>(
        "model.tearing_quantile", kPlain, "tearing_quantile", "0.5", 0.0, 1.0, kOptional, kAny, "0.5",
        "probability of tearing above which torn threads are the headline"),
    key<&CaseInput::model, &ModelInput::flapping_draw>(
        "model.flapping_draw", kPlain, "flapping_draw", "0.05", 0.0, 10.0, kOptional, kAny, "0",
        "draw added by flapping per unit of air Weber number above 2, to a factor of at most 10"),
    key<&CaseInput::model, &ModelInput::breakup_threshold>(
        "model.breakup_threshold", kPlain, "breakup_threshold", "12", 1.0, 50.0, kOptional, kAny, "12",
        "growth exponent ln(a/eps0) at which a jet counts as broken"),
    factor<&PropertyFactors::polymer_density>("model.polymer_density_factor", 0.8, 1.25,
                                              "factor on the density of the polymer"),
    factor<&PropertyFactors::solvent_density>("model.solvent_density_factor", 0.8, 1.25,
                                              "factor on the density of the solvent"),
    factor<&PropertyFactors::density>(
        "model.density_factor", 0.8, 1.25,
        "factor on the density of the solution by additive volumes, unless that is measured"),
    factor<&PropertyFactors::solvent_viscosity>("model.solvent_viscosity_factor", 0.1, 10.0,
                                                "factor on the viscosity of the solvent"),
    factor<&PropertyFactors::zero_shear_viscosity>(
        "model.zero_shear_viscosity_factor", 1e-3,
        1e3, "factor on the viscosity of the solution at rest, unless that is measured"),
    factor<&PropertyFactors::shear_index>("model.shear_index_factor", 0.1, 4.0,
                                          "factor on the power index of the flow curve"),
    factor<&PropertyFactors::relaxation_time>("model.relaxation_time_factor", 1e-3, 1e3,
                                              "factor on the relaxation time, unless that is measured"),
    factor<&PropertyFactors::extensibility>("model.extensibility_factor", 1e-3, 1e3,
                                            "factor on the extensibility of the chains"),
    factor<&PropertyFactors::entanglement_molar_mass>("model.entanglement_molar_mass_factor", 0.1, 10.0,
                                                      "factor on the entanglement molar mass"),
    factor<&PropertyFactors::surface_tension>("model.surface_tension_factor", 0.1, 10.0,
                                              "factor on the surface tension, unless that is measured"),
    factor<&PropertyFactors::vapour_pressure>("model.vapour_pressure_factor", 0.1, 10.0,
                                              "factor on the vapour pressure of the solvent"),
    factor<&PropertyFactors::latent_heat>("model.latent_heat_factor", 0.1, 10.0,
                                          "factor on the latent heat of the solvent"),
    factor<&PropertyFactors::diffusivity_in_air>("model.diffusivity_in_air_factor", 0.1, 10.0,
                                                 "factor on the diffusivity of the vapour in air"),
    factor<&PropertyFactors::flory_huggins_chi>(
        "model.flory_huggins_chi_factor", -5.0,
        5.0, "factor on the Flory-Huggins interaction parameter, unless that is measured"),
    factor<&PropertyFactors::solvent_diffusivity>(
        "model.solvent_diffusivity_factor", 1e-3,
        1e3, "factor on the diffusivity of the solvent in the solution, unless that is measured"),
    factor<&PropertyFactors::polymer_glass_transition>("model.polymer_glass_transition_factor", 0.5, 2.0,
                                                       "factor on the glass transition of the polymer, in kelvin"),
    factor<&PropertyFactors::solvent_glass_transition>("model.solvent_glass_transition_factor", 0.5, 2.0,
                                                       "factor on the glass transition of the solvent, in kelvin"),
    factor<&PropertyFactors::melting_point>("model.melting_point_factor", 0.8, 1.25,
                                            "factor on the melting point of the polymer, in kelvin"),
    key<&CaseInput::numerics, &NumericsInput::relative_tolerance>("numerics.relative_tolerance", kPlain,
                                                                  "relative_tolerance", "1e-6", 1e-13, 1e-2, kOptional,
                                                                  kAny, "1e-5", "relative tolerance of the march"),
    key<&CaseInput::numerics, &NumericsInput::run_points>("numerics.run_points", kPlain, "run_points", "5", 2.0, 10.0,
                                                          kOptional, kWhole, "5",
                                                          "operating points computed over the emptying run"),
    key<&CaseInput::numerics, &NumericsInput::radial_cells>("numerics.radial_cells", kPlain, "radial_cells", "16", 4.0,
                                                            500.0, kOptional, kWhole, "16",
                                                            "cells over the jet radius (radial drying)"),
    key<&CaseInput::numerics, &NumericsInput::max_turns>(
        "numerics.max_turns", kPlain, "max_turns", "200", 0.1, 10000.0, kOptional, kAny, "200",
        "vessel turns for which a jet that has not arrived is followed"),
};

template <auto... Path>
std::string get_text(const CaseInput& input) {
  return (input.* ... .*Path);
}
template <auto... Path>
void set_text(CaseInput& input, std::string_view text) {
  (input.* ... .*Path) = std::string(text);
}

constexpr std::array<Word, 5> kShearModels{{
    {"automatic", "from the measured values given, else estimated"},
    {"newtonian", "constant viscosity"},
    {"power-law", "needs power_law_consistency and shear_power_index"},
    {"carreau-yasuda", "needs shear_time_constant, shear_power_index and shear_yasuda_exponent"},
    {"cross", "needs shear_time_constant and shear_power_index"},
}};
constexpr std::array kShearValues{model::ShearModel::automatic, model::ShearModel::newtonian,
                                  model::ShearModel::power_law, model::ShearModel::carreau_yasuda,
                                  model::ShearModel::cross};
constexpr std::array<Word, 2> kTiers{{
    {"inertial", "jet without tension, for screening"},
    {"tension", "with viscous, elastic and surface tension, and the pull of the fibre that is solid"},
}};
constexpr std::array kTierValues{model::Tier::inertial, model::Tier::tension};
constexpr std::array<Word, 3> kPolymerStress{{
    {"oldroyd-b", "chains stretch without limit"},
    {"giesekus", "chains relax faster the more they are stretched; needs giesekus_mobility"},
    {"fene-p", "chains of finite length"},
}};
constexpr std::array kPolymerStressValues{model::PolymerModel::oldroyd_b, model::PolymerModel::giesekus,
                                          model::PolymerModel::fene_p};
constexpr std::array<Word, 3> kJetEnd{{
    {"free", "no pull on the end of the jet"},
    {"taken-up", "the collector holds the fibre: the line runs at the speed at which the vessel turns past it"},
    {"caught", "free, but held by the collector where it would land dragged round with the vessel: from half the line "
               "speed of free flight down, altogether below a quarter"},
}};
constexpr std::array kJetEndValues{model::JetEnd::free, model::JetEnd::taken_up, model::JetEnd::caught};
constexpr std::array<Word, 2> kOnTensionFailure{{
    {"report", "say so, with what was tried"},
    {"inertial", "give the jet without tension instead, with a warning"},
}};
constexpr std::array kOnTensionFailureValues{model::OnTensionFailure::report, model::OnTensionFailure::inertial};
constexpr std::array<Word, 2> kGasBreakthrough{{
    {"off", "predicted and reported, but orifices stay full of liquid"},
    {"on", "from break-through on, gas takes part of the orifices and blows along the jets"},
}};
constexpr std::array kGasBreakthroughValues{model::GasBreakthrough::off, model::GasBreakthrough::on};
constexpr std::array<Word, 2> kLayerSupply{{
    {"drainage", "a thin viscous layer drains to an orifice no faster than lubrication allows"},
    {"submergence", "inviscid critical submergence, not below one orifice radius"},
}};
constexpr std::array kLayerSupplyValues{model::LayerSupply::drainage, model::LayerSupply::submergence};
constexpr std::array<Word, 2> kSplitting{{
    {"off", "one line per orifice, whatever the gas does"},
    {"on", "torn threads and one line per orifice, the likelier one first"},
}};
constexpr std::array kSplittingValues{model::Splitting::off, model::Splitting::on};
constexpr std::array<Word, 3> kThreadLaw{{
    {"length", "root of a length of 10 um times surface tension over the pressure of the gas"},
    {"weber", "critical gas Weber number of 12"},
    {"cascade", "eddies of the gas down to where surface tension holds"},
}};
constexpr std::array kThreadLawValues{model::ThreadLaw::length, model::ThreadLaw::weber, model::ThreadLaw::cascade};
constexpr std::array<Word, 3> kTearing{{
    {"likelier", "the answer with the greater probability"},
    {"threads", "gas is known to tear the liquid"},
    {"line", "gas is known not to tear the liquid"},
}};
constexpr std::array kTearingValues{model::Tearing::likelier, model::Tearing::threads, model::Tearing::line};
constexpr std::array<Word, 3> kStartOrder{{
    {"together", "motor and gas at the same moment"},
    {"speed-first", "gas is opened once the vessel is at full speed"},
    {"gas-first", "the motor is started once the gas is at full pressure"},
}};
constexpr std::array kStartOrderValues{model::StartOrder::together, model::StartOrder::speed_first,
                                       model::StartOrder::gas_first};
constexpr std::array<Word, 2> kDrying{{
    {"lumped", "jet well mixed over its radius, for fast screening"},
    {"radial", "diffusion over the radius"},
}};
constexpr std::array kDryingValues{model::DryingModel::lumped, model::DryingModel::radial};
constexpr std::array<Word, 5> kAxialDrag{{
    {"combined", "lengthwise law of Matsui and oblique flow, whichever drags more, joined smoothly"},
    {"matsui", "air along the jet, C_f = 0.37 Re^-0.61, melt-spinning lines"},
    {"sano-orii", "air along the jet, C_f = 0.68 Re^-0.80, the steepest in Re"},
    {"majumdar-shambaugh", "air along the jet, C_f = 0.78 Re^-0.61, the highest drag from Re = 0.5 up"},
    {"oblique", "air sweeping across the jet sets the boundary layer; Re on the cross wind alone"},
}};
constexpr std::array kAxialDragValues{model::AxialDrag::combined, model::AxialDrag::matsui, model::AxialDrag::sano_orii,
                                      model::AxialDrag::majumdar_shambaugh, model::AxialDrag::oblique};

template <const auto& Words, const auto& Values, auto... Path>
std::string get_word(const CaseInput& input) {
  static_assert(Words.size() == Values.size());
  const auto value = (input.* ... .*Path);
  for (std::size_t i = 0; i < Values.size(); ++i)
    if (Values[i] == value) return std::string(Words[i].word);
  return {};
}
template <const auto& Words, const auto& Values, auto... Path>
void set_word(CaseInput& input, std::string_view text) {
  for (std::size_t i = 0; i < Values.size(); ++i)
    if (Words[i].word == text) (input.* ... .*Path) = Values[i];
}

constexpr std::size_t kLongestPurpose = 2000;
constexpr std::size_t kLongestName = 64;

const std::array kWordKeys{
    WordKey{"purpose",
            {},
            kLongestPurpose,
            kOptional,
            "what this case is for, in one line",
            "what the case is for, printed with every result",
            "empty",
            &get_text<&CaseInput::purpose>,
            &set_text<&CaseInput::purpose>},
    WordKey{"solution.polymer",
            {},
            kLongestName,
            kRequired,
            "PS",
            "short key of the polymer in the property library",
            "",
            &get_text<&CaseInput::solution, &SolutionInput::polymer>,
            &set_text<&CaseInput::solution, &SolutionInput::polymer>},
    WordKey{"solution.solvent",
            {},
            kLongestName,
            kRequired,
            "toluene",
            "short key of the solvent in the property library",
            "",
            &get_text<&CaseInput::solution, &SolutionInput::solvent>,
            &set_text<&CaseInput::solution, &SolutionInput::solvent>},
    WordKey{"solution.measured.shear_model", kShearModels, 0, kOptional, "carreau-yasuda",
            "form of the measured flow curve", "automatic",
            &get_word<kShearModels, kShearValues, &CaseInput::solution, &SolutionInput::measured,
                      &MeasuredProperties::shear_model>,
            &set_word<kShearModels, kShearValues, &CaseInput::solution, &SolutionInput::measured,
                      &MeasuredProperties::shear_model>},
    WordKey{"operation.start_order", kStartOrder, 0, kOptional, "speed-first", "what is started first", "together",
            &get_word<kStartOrder, kStartOrderValues, &CaseInput::operation, &OperationInput::start_order>,
            &set_word<kStartOrder, kStartOrderValues, &CaseInput::operation, &OperationInput::start_order>},
    WordKey{"model.tier", kTiers, 0, kOptional, "tension", "how the jet is computed", "tension",
            &get_word<kTiers, kTierValues, &CaseInput::model, &ModelInput::tier>,
            &set_word<kTiers, kTierValues, &CaseInput::model, &ModelInput::tier>},
    WordKey{"model.polymer_stress", kPolymerStress, 0, kOptional, "giesekus",
            "law of the polymer's stress (tension tier)", "fene-p",
            &get_word<kPolymerStress, kPolymerStressValues, &CaseInput::model, &ModelInput::polymer_stress>,
            &set_word<kPolymerStress, kPolymerStressValues, &CaseInput::model, &ModelInput::polymer_stress>},
    WordKey{"model.jet_end", kJetEnd, 0, kOptional, "free", "end of the jet at the collector (tension tier)", "caught",
            &get_word<kJetEnd, kJetEndValues, &CaseInput::model, &ModelInput::jet_end>,
            &set_word<kJetEnd, kJetEndValues, &CaseInput::model, &ModelInput::jet_end>},
    WordKey{"model.on_tension_failure", kOnTensionFailure, 0, kOptional, "report",
            "what to do when the tension tier does not converge", "inertial",
            &get_word<kOnTensionFailure, kOnTensionFailureValues, &CaseInput::model, &ModelInput::on_tension_failure>,
            &set_word<kOnTensionFailure, kOnTensionFailureValues, &CaseInput::model, &ModelInput::on_tension_failure>},
    WordKey{"model.drying", kDrying, 0, kOptional, "radial", "how drying inside the jet is computed", "radial",
            &get_word<kDrying, kDryingValues, &CaseInput::model, &ModelInput::drying>,
            &set_word<kDrying, kDryingValues, &CaseInput::model, &ModelInput::drying>},
    WordKey{"model.gas_breakthrough", kGasBreakthrough, 0, kOptional, "on",
            "gas that breaks through the thinning layer and leaves with the liquid", "on",
            &get_word<kGasBreakthrough, kGasBreakthroughValues, &CaseInput::model, &ModelInput::gas_breakthrough>,
            &set_word<kGasBreakthrough, kGasBreakthroughValues, &CaseInput::model, &ModelInput::gas_breakthrough>},
    WordKey{"model.layer_supply", kLayerSupply, 0, kOptional, "drainage",
            "what decides when gas goes through the layer", "drainage",
            &get_word<kLayerSupply, kLayerSupplyValues, &CaseInput::model, &ModelInput::layer_supply>,
            &set_word<kLayerSupply, kLayerSupplyValues, &CaseInput::model, &ModelInput::layer_supply>},
    WordKey{"model.splitting", kSplitting, 0, kOptional, "on",
            "threads torn from the liquid by gas that leaves with it", "on",
            &get_word<kSplitting, kSplittingValues, &CaseInput::model, &ModelInput::splitting>,
            &set_word<kSplitting, kSplittingValues, &CaseInput::model, &ModelInput::splitting>},
    WordKey{"model.thread_law", kThreadLaw, 0, kOptional, "length", "law for the size of torn threads", "length",
            &get_word<kThreadLaw, kThreadLawValues, &CaseInput::model, &ModelInput::thread_law>,
            &set_word<kThreadLaw, kThreadLawValues, &CaseInput::model, &ModelInput::thread_law>},
    WordKey{"model.tearing", kTearing, 0, kOptional, "threads", "which of the two answers comes first", "likelier",
            &get_word<kTearing, kTearingValues, &CaseInput::model, &ModelInput::tearing>,
            &set_word<kTearing, kTearingValues, &CaseInput::model, &ModelInput::tearing>},
    WordKey{"model.axial_drag", kAxialDrag, 0, kOptional, "combined", "correlation for skin friction along the jet",
            "combined", &get_word<kAxialDrag, kAxialDragValues, &CaseInput::model, &ModelInput::axial_drag>,
            &set_word<kAxialDrag, kAxialDragValues, &CaseInput::model, &ModelInput::axial_drag>},
};

}  // namespace

std::span<const Key> numeric_keys() { return kKeys; }
std::span<const WordKey> word_keys() { return kWordKeys; }

}  // namespace whorl::io
