// What a case file says, in SI units. Plain values; io fills it, engine::resolve() turns it into a Setup.
#pragma once
#include <map>
#include <optional>
#include <string>

#include "whorl/model/rheology.hpp"

namespace whorl::model {

/// How a concentration was stated. The two % w/v conventions differ by the volume of the polymer: see recipe.
enum class ConcentrationBasis {
  w_v_of_solvent,   ///< g polymer per 100 mL of solvent (bench convention; the default of a bare "% w/v")
  w_v_of_solution,  ///< g polymer per 100 mL of solution (formal convention)
  mass,             ///< g polymer per 100 g of solution ("wt%")
  volume            ///< mL polymer per 100 mL of solution ("vol%")
};

/// Concentration as stated; `value` is a fraction: 0.20 for "20 % w/v" (0.20 g/mL) and for "20 wt%".
struct Concentration {
  ConcentrationBasis basis{ConcentrationBasis::w_v_of_solvent};
  double value{};
};

enum class ShearModel { automatic, newtonian, power_law, carreau_yasuda, cross };

/// Measured values override the library; every one is optional.
struct MeasuredProperties {
  std::optional<double> density_kg_m3;                ///< of the solution
  std::optional<double> zero_shear_viscosity_Pa_s;    ///< of the solution at the charge temperature
  std::optional<double> surface_tension_N_m;          ///< of the solution
  std::optional<double> relaxation_time_s;            ///< longest, extensional (filament thinning) if available
  std::optional<double> flory_huggins_chi;            ///< [-]
  std::optional<double> solvent_diffusivity_m2_s;     ///< mutual, at the initial composition
  // Flow curve at the charge temperature; which ones are needed depends on shear_model.
  ShearModel shear_model{ShearModel::automatic};
  std::optional<double> shear_time_constant_s;        ///< Carreau-Yasuda / Cross lambda
  std::optional<double> shear_power_index;            ///< n of power law, Carreau-Yasuda, Cross (m = 1 - n)
  std::optional<double> shear_yasuda_exponent;        ///< a of Carreau-Yasuda (2 = Carreau)
  std::optional<double> infinite_shear_viscosity_Pa_s;
  std::optional<double> power_law_consistency_Pa_sn;  ///< K of tau = K rate^n
  /// Standard deviation over value, as the case states it with +-, by key ("zero_shear_viscosity"); none: what such a
  /// measurement usually leaves open is assumed.
  std::map<std::string, double> relative_sd;
};

/// Factors on what the library says or a relation estimates; no effect beside a measured value. 1: as the library has
/// it. They carry the doubt of those values (engine/uncertain.hpp) and what a calibration makes of it.
struct PropertyFactors {
  double polymer_density{1.0};
  double solvent_density{1.0};
  double density{1.0};  ///< of the solution, on additive volumes
  double solvent_viscosity{1.0};
  double zero_shear_viscosity{1.0};
  double shear_index{1.0};  ///< on n of the flow curve that is estimated where none is stated
  double relaxation_time{1.0};
  double extensibility{1.0};
  double entanglement_molar_mass{1.0};
  double surface_tension{1.0};
  double vapour_pressure{1.0};
  double latent_heat{1.0};
  double diffusivity_in_air{1.0};
  double flory_huggins_chi{1.0};
  double solvent_diffusivity{1.0};
  double polymer_glass_transition{1.0};  ///< on kelvins, as the next two
  double solvent_glass_transition{1.0};
  double melting_point{1.0};
};

struct SolutionInput {
  std::string polymer;
  std::string solvent;
  double molar_mass_kg_mol{};  ///< weight average M_w
  Concentration concentration;
  std::optional<double> temperature_K;  ///< of the charge; default: room temperature
  MeasuredProperties measured;
  PropertyFactors factors{};
};

struct VesselInput {
  double bore_diameter_m{};
  double height_m{};            ///< inner height of the bore
  double wall_thickness_m{};    ///< = orifice length
  double orifice_diameter_m{};
  double orifice_count{};       ///< whole number, kept as double so that it can be swept
  std::optional<double> orifice_height_m;  ///< above the vessel floor; default half the height
  std::optional<double> lid_opening_diameter_m;  ///< 0 or absent: closed; else liquid inside this radius spills over
};

/// What is started first at the bench. The first full speed and full pressure are reached at the end of both ramps.
enum class StartOrder {
  together,     ///< motor and gas at the same moment
  speed_first,  ///< gas is opened once the vessel is at full speed
  gas_first     ///< the motor is started once the gas is at full pressure
};

struct OperationInput {
  double rotation_speed_rad_s{};
  double gas_overpressure_Pa{};
  double charge_volume_m3{};
  double collection_distance_m{};  ///< from the orifice exit (outer wall) to the collector, radially
  double spin_up_time_s{
      2.0};  ///< from rest to full speed, linear in time; a small bench motor (common practice, no source)
  double pressure_rise_time_s{
      0.5};  ///< from none to full overpressure, linear in time; a hand valve (common practice, no source)
  StartOrder start_order{StartOrder::together};
  std::optional<double>
      feed_rate_m3_s;  ///< of a pump, all orifices; absent: the charge is in the vessel from the start
  std::optional<double>
      gas_supply_m3_s;  ///< most that the gas supply holds, at 0 degC and 1 atm; absent: whatever is needed
};

struct RoomInput {
  double temperature_K{295.15};
  double relative_humidity{0.45};   ///< 0 to 1
  double pressure_Pa{101325.0};
  double solvent_vapour_fraction{0.0};  ///< mole fraction of (organic) solvent vapour already in the air
  /// Speed of the air just outside the vessel wall over that of the wall, decaying as R/r; 0 = still air. Turbulent air
  /// round a turning cylinder inside a standing one carries about half of the wall's angular momentum (from memory); an
  /// open vessel drags less, many jets drag more. The least known number of the air: see Estimate::air_variants.
  double air_swirl{0.5};
};

enum class Tier { inertial, tension };
enum class DryingModel { lumped, radial };
enum class AxialDrag { combined, matsui, sano_orii, majumdar_shambaugh, oblique };

/// What happens to the jet at the collector.
enum class JetEnd {
  free,      ///< no pull but that of the surface
  taken_up,  ///< line speed Omega R_c: a collector at rest that holds the fibre
  caught     ///< free, but a jet that would land dragged round with the vessel is held (see engine/jet_end.hpp)
};
/// Gas that breaks through the thinning layer and leaves with the liquid.
enum class GasBreakthrough {
  off,  ///< predicted and reported, but the orifices are kept full of liquid
  on    ///< from the moment of break-through gas takes part of the orifice and blows along the jet
};
/// When gas is drawn through the layer of liquid over the orifices.
enum class LayerSupply {
  drainage,  ///< a thin viscous layer drains to an orifice no faster than lubrication allows; the inviscid limit joined
             ///< smoothly
  submergence  ///< inviscid critical submergence, not below one orifice radius
};
/// Threads torn from the liquid by gas that leaves with it.
enum class Splitting {
  off,  ///< one line per orifice, whatever the gas does
  on    ///< two answers: torn threads, and one line per orifice; the likelier one is the headline
};
/// Law for the size of a torn thread: see torn_thread_m.
enum class ThreadLaw { length, weber, cascade };
/// Which of the two answers is the headline.
enum class Tearing {
  likelier,  ///< the one with the greater probability
  threads,   ///< gas is known to tear the liquid (a micrograph, a timed run)
  line       ///< gas is known not to
};
/// What an estimate does when the tension tier does not converge.
enum class OnTensionFailure { report, inertial };

/// Choices between published closures, and factors that calibration may move. Factors default to 1 and are always
/// printed when not 1.
struct ModelInput {
  Tier tier{Tier::tension};
  PolymerModel polymer_stress{PolymerModel::fene_p};  ///< tension tier
  double giesekus_mobility{0.1};
  JetEnd jet_end{JetEnd::caught};
  OnTensionFailure on_tension_failure{OnTensionFailure::inertial};
  DryingModel drying{DryingModel::radial};
  AxialDrag axial_drag{AxialDrag::combined};
  double axial_drag_factor{1.0};
  double cross_drag_factor{1.0};
  double heat_transfer_factor{1.0};
  double mass_transfer_factor{1.0};
  double discharge_factor{1.0};   ///< multiplies the orifice flow at given driving pressure
  double excess_draw{
      1.0};  ///< line length laid per length of mean path; below 1: a line laid slower than its jet flies
  double flapping_draw{0.0};      ///< draw added per unit of air Weber number above 2; 0: none
  GasBreakthrough gas_breakthrough{GasBreakthrough::on};
  LayerSupply layer_supply{LayerSupply::drainage};
  double critical_layer_factor{1.0};  ///< multiplies the layer at which gas goes through
  Splitting splitting{Splitting::on};
  ThreadLaw thread_law{ThreadLaw::length};
  Tearing tearing{Tearing::likelier};
  double thread_size_factor{1.0};  ///< multiplies the size of torn threads
  double tearing_quantile{
      0.5};  ///< threads are the headline when their probability is above this; sampled by --uncertainty
  double breakup_threshold{12.0};  ///< ln(a/eps0): gain at which a jet counts as broken
};

struct NumericsInput {
  double relative_tolerance{1e-5};   ///< of the march; leaves about 1e-5 in the diameter (docs/benchmarks.md)
  double run_points{5};        ///< operating points over the emptying run, whole number
  double radial_cells{16};     ///< whole number
  double max_turns{
      200};  ///< vessel turns after which a jet is no longer followed; what it does then is judged from its drift
};

struct CaseInput {
  std::string purpose;
  SolutionInput solution;
  VesselInput vessel;
  OperationInput operation;
  RoomInput room;
  ModelInput model;
  NumericsInput numerics;
};

}  // namespace whorl::model
