// The polymer solution: composition, properties as stated / from the library / estimated, and how they change as
// the jet dries and cools. Local relations are templates so that the same code serves plain and dual numbers.
#pragma once
#include <algorithm>
#include <cmath>
#include <vector>

#include "whorl/model/case.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/materials.hpp"
#include "whorl/model/orifice.hpp"
#include "whorl/model/result.hpp"

namespace whorl::model {

/// Composition of a mixture of polymer and solvent, additive volumes.
struct Composition {
  double polymer_mass_fraction{};    ///< w_p
  double polymer_volume_fraction{};  ///< phi_p
  double concentration_kg_m3{};      ///< c, polymer per volume of solution
  double density_kg_m3{};            ///< additive
  double solvent_ratio{};            ///< X = kg solvent per kg polymer
};

/// Composition from a stated concentration.
/// Eq: composition
/// Valid: 0 < w_p < 1; additive volumes
/// Error: InputError when the statement leaves no solvent (w_p >= 1) or no polymer
/// Source: definitions
[[nodiscard]] Composition compose(const Concentration& stated, double polymer_density_kg_m3,
                                  double solvent_density_kg_m3);

/// Constants of one polymer solution, resolved for one charge temperature. SI.
struct Fluid {
  // composition as charged
  Composition initial;
  double charge_temperature_K{};
  double molar_mass_kg_mol{};       ///< polymer M_w
  double polymer_density_kg_m3{};
  double solvent_density_kg_m3{};   ///< at the charge temperature
  double density_factor{1.0};       ///< measured / additive, fades linearly with X towards the dry polymer
  // viscosity
  double solvent_viscosity_Pa_s{};  ///< at the charge temperature
  double solvent_viscosity_energy_J_mol{};
  double polymer_viscosity_Pa_s{};  ///< eta_0 - eta_s as charged
  double chain_exponent{};          ///< n of (phi/phi_0)^n
  double inverse_free_volume_0{};   ///< 1/f as charged
  FlowCurve flow_curve;             ///< as charged
  // elasticity
  double relaxation_time_s{};       ///< as charged
  double modulus_exponent{};        ///< G ~ phi^g T
  double extensibility{};           ///< L^2 of a FENE chain = (fully stretched / coil)^2
  // interface
  double surface_tension_N_m{};
  double surface_tension_slope_N_m_K{};
  // free volume
  double polymer_glass_K{}, solvent_glass_K{};
  double polymer_expansion_1_K{4.8e-4}, solvent_expansion_1_K{1.0e-3};
  // solvent volatility
  double solvent_molar_mass_kg_mol{};
  double antoine_a{}, antoine_b{}, antoine_c{}, antoine_min_K{}, antoine_max_K{};
  double latent_heat_25_J_kg{}, critical_temperature_K{};
  double chi{};
  double solvent_heat_capacity{}, polymer_heat_capacity{}, vapour_heat_capacity{};
  double diffusivity_air_25_m2_s{};
  bool water_is_solvent{};
  bool water_miscible{};
  // diffusion inside
  double log_dilute_diffusivity{};  ///< ln(D1 / (m2/s)) at 298.15 K, solvent-rich limit
  double diffusion_overlap{};       ///< xi in exp(-xi (1/f - 1/f_s))
  // crystallisation
  bool crystallises{};
  double melting_point_K{}, heat_of_fusion_J_m3{};  ///< per volume of crystal
  double solvent_molar_volume_m3_mol{};
  // chains
  double entanglement_molar_mass_kg_mol{};
  double entanglement_number{};     ///< n_e = phi_p M_w / M_e as charged

  std::vector<NamedProperty> properties;
  std::vector<Warning> warnings;
};

/// Resolves a case's solution against the library.
/// Error: InputError when a needed property is neither measured nor known: names what to measure.
[[nodiscard]] Fluid resolve_fluid(const SolutionInput& input, const RoomInput& room, const Library& library);

// ---------------------------------------------------------------------------------------------------------
// Local relations. X: solvent ratio; phi: polymer volume fraction; T: temperature [K].

/// Fractional free volume at the glass transition and the width over which it freezes in.
/// Source: Williams, Landel & Ferry, J. Am. Chem. Soc. 77 (1955) 3701: f_g = 0.025, alpha_f = 4.8e-4 1/K (from memory)
inline constexpr double kFreeVolumeAtGlass = 0.025;
inline constexpr double kGlassSmoothing_K = 2.0;

/// Polymer volume fraction at solvent ratio X.
/// Eq: composition
template <class Real>
[[nodiscard]] Real polymer_volume_fraction(const Fluid& fluid, const Real& solvent_ratio) {
  return 1.0 / (1.0 + solvent_ratio * (fluid.polymer_density_kg_m3 / fluid.solvent_density_kg_m3));
}

/// Density [kg/m3] at solvent ratio X: additive volumes times a factor that carries a measured density.
/// Eq: mixture-density
template <class Real>
[[nodiscard]] Real mixture_density(const Fluid& fluid, const Real& solvent_ratio) {
  const Real additive = (1.0 + solvent_ratio) /
                        (1.0 / fluid.polymer_density_kg_m3 + solvent_ratio / fluid.solvent_density_kg_m3);
  if (fluid.density_factor == 1.0) return additive;
  return additive * (1.0 + (fluid.density_factor - 1.0) * (solvent_ratio / fluid.initial.solvent_ratio));
}

/// Glass transition of the mixture [K].
///   T_g = (phi a_p T_gp + (1-phi) a_s T_gs) / (phi a_p + (1-phi) a_s)
/// Eq: glass-transition
/// Valid: one phase; +-15 K
/// Source: Kelley & Bueche, J. Polym. Sci. 50 (1961) 549 (from memory)
template <class Real>
[[nodiscard]] Real glass_temperature(const Fluid& fluid, const Real& phi) {
  const Real p = phi * fluid.polymer_expansion_1_K;
  const Real s = (1.0 - phi) * fluid.solvent_expansion_1_K;
  return (p * fluid.polymer_glass_K + s * fluid.solvent_glass_K) / (p + s);
}

/// 1/f, f the fractional free volume: f = 0.025 + alpha (T - T_g) above T_g, frozen below.
/// Eq: free-volume
/// Valid: -; alpha mixes linearly in phi
/// Source: Fujita, Fortschr. Hochpolym.-Forsch. 3 (1961) 1; Doolittle (from memory)
template <class Real>
[[nodiscard]] Real inverse_free_volume(const Fluid& fluid, const Real& phi, const Real& temperature) {
  using std::exp;
  using std::log;
  const Real margin = (temperature - glass_temperature(fluid, phi)) / kGlassSmoothing_K;
  Real above = margin;
  if (margin < 30.0) above = margin < -30.0 ? exp(margin) : log(1.0 + exp(margin));
  const Real alpha = phi * fluid.polymer_expansion_1_K + (1.0 - phi) * fluid.solvent_expansion_1_K;
  return 1.0 / (kFreeVolumeAtGlass + alpha * above * kGlassSmoothing_K);
}

/// Solvent viscosity [Pa s], Arrhenius about the charge temperature.
/// Eq: solvent-viscosity
/// Valid: within about 60 K of the charge temperature: 5 %, water 10 %
/// Source: Arrhenius (Andrade) form through handbook values at 25 degC and beside it: data/solvents.json
template <class Real>
[[nodiscard]] Real solvent_viscosity(const Fluid& fluid, const Real& temperature) {
  using std::exp;
  return fluid.solvent_viscosity_Pa_s *
         exp(fluid.solvent_viscosity_energy_J_mol / kGasConstant_J_mol_K *
             (1.0 / temperature - 1.0 / fluid.charge_temperature_K));
}

/// Polymer part of the zero-shear viscosity [Pa s], anchored at the charged composition:
///   eta_p = eta_p0 (phi/phi_0)^n exp(1/f - 1/f_0)
/// Eq: drying-viscosity
/// Valid: anchored value exact; a decade of doubt by the time the polymer is half of the volume; undiluted it is two
///        decades too high (polystyrene melt, 113 kg/mol at 190 degC)
/// Source: own combination of a chain-overlap power law (C3 of the property notes: n up to 4.8 in total) and the
///         Doolittle free-volume factor
template <class Real>
[[nodiscard]] Real polymer_viscosity(const Fluid& fluid, const Real& phi, const Real& temperature) {
  using std::exp;
  using std::log;
  return fluid.polymer_viscosity_Pa_s *
         exp(fluid.chain_exponent * log(phi / fluid.initial.polymer_volume_fraction) +
             inverse_free_volume(fluid, phi, temperature) - fluid.inverse_free_volume_0);
}

/// Longest relaxation time [s]: lambda = lambda_0 (eta_p/eta_p0) (G_0/G), G ~ phi^g T.
/// Eq: drying-relaxation
/// Valid: a factor 3 as charged (estimated), exact when measured; undiluted polystyrene within a factor 2 of its
/// plateau modulus
/// Source: G ~ phi^2.2 of entangled, phi^1 of Rouse chains (Doi & Edwards; exponents from memory)
template <class Real>
[[nodiscard]] Real relaxation_time(const Fluid& fluid, const Real& phi, const Real& temperature,
                                   const Real& polymer_viscosity_value) {
  using std::exp;
  using std::log;
  return fluid.relaxation_time_s * (polymer_viscosity_value / fluid.polymer_viscosity_Pa_s) *
         exp(-fluid.modulus_exponent * log(phi / fluid.initial.polymer_volume_fraction)) *
         (fluid.charge_temperature_K / temperature);
}

/// Surface tension [N/m]: that of the solution, with the solvent's slope in temperature; floored at a tenth.
/// Eq: surface-tension
/// Valid: 0 to 60 degC within 1 mN/m; the drying surface is taken as the solution charged
/// Source: handbook slopes (data/solvents.json); floor: own closure
template <class Real>
[[nodiscard]] Real surface_tension(const Fluid& fluid, const Real& temperature) {
  const Real value = fluid.surface_tension_N_m +
                     fluid.surface_tension_slope_N_m_K * (temperature - fluid.charge_temperature_K);
  return value > 0.1 * fluid.surface_tension_N_m ? value : Real(0.1 * fluid.surface_tension_N_m);
}

/// ln of the vapour pressure of the pure solvent in Pa.
/// Eq: vapour-pressure
/// Valid: [antoine_min_K, antoine_max_K]; extrapolated below with a warning in the result
template <class Real>
[[nodiscard]] Real log_vapour_pressure(const Fluid& fluid, const Real& temperature) {
  constexpr double ln10 = 2.302585092994045684;
  return ln10 * (fluid.antoine_a - fluid.antoine_b / (temperature + fluid.antoine_c));
}
/// Vapour pressure of the pure solvent [Pa].
template <class Real>
[[nodiscard]] Real vapour_pressure(const Fluid& fluid, const Real& temperature) {
  using std::exp;
  return exp(log_vapour_pressure(fluid, temperature));
}

/// Latent heat [J/kg], Watson's rule from the value at 298.15 K.
/// Eq: latent-heat
/// Valid: to where T_c - T is 5 % of T_c - 298.15 K; constant (0.32 of the value at 298.15 K) beyond
/// Source: Watson, Ind. Eng. Chem. 35 (1943) 398, exponent 0.38
template <class Real>
[[nodiscard]] Real latent_heat(const Fluid& fluid, const Real& temperature) {
  using std::exp;
  using std::log;
  const Real ratio = (fluid.critical_temperature_K - temperature) /
                     (fluid.critical_temperature_K - kReferenceTemperature_K);
  if (ratio < 0.05) return Real(fluid.latent_heat_25_J_kg * 0.32);
  return fluid.latent_heat_25_J_kg * exp(0.38 * log(ratio));
}

/// Solvent activity over the solution, long-chain limit: a = (1-phi) exp(phi + chi phi^2), not above 1.
/// Eq: solvent-activity
/// Valid: one phase; chi constant
/// Source: Flory, Principles of Polymer Chemistry (1953) ch. XII
template <class Real>
[[nodiscard]] Real solvent_activity(const Fluid& fluid, const Real& phi) {
  using std::exp;
  const Real value = (1.0 - phi) * exp(phi + fluid.chi * phi * phi);
  return value < 1.0 ? value : Real(1.0);
}

/// Vapour pressure over the solution [Pa]: activity times that of the pure solvent, by one exponential where the
/// activity cannot exceed 1.
/// Valid: as solvent-activity and vapour-pressure
template <class Real>
[[nodiscard]] Real vapour_pressure_over(const Fluid& fluid, const Real& phi, const Real& temperature) {
  using std::exp;
  if (fluid.chi > 0.5) return solvent_activity(fluid, phi) * vapour_pressure(fluid, temperature);
  return (1.0 - phi) * exp(phi + fluid.chi * phi * phi + log_vapour_pressure(fluid, temperature));
}

/// Mutual diffusivity of solvent in the solution [m2/s]:
///   D = D1 (T/T_r)(eta_s(T_r)/eta_s(T)) exp(-xi (1/f(phi,T) - 1/f(0,T)))
/// Eq: inner-diffusivity
/// Valid: factor 2 above T_g; below T_g it stays at its value at T_g, which overstates D by 1 to 3 decades
/// Source: Fujita free-volume form; xi fitted to a pair's own measurements where the library has them
template <class Real>
[[nodiscard]] Real inner_diffusivity(const Fluid& fluid, const Real& phi, const Real& temperature) {
  using std::exp;
  const double reference_viscosity = solvent_viscosity(fluid, kReferenceTemperature_K);
  const Real dilute = (temperature / kReferenceTemperature_K) *
                      (reference_viscosity / solvent_viscosity(fluid, temperature));
  const Real none(0.0);
  return dilute * exp(fluid.log_dilute_diffusivity -
                      fluid.diffusion_overlap * (inverse_free_volume(fluid, phi, temperature) -
                                                 inverse_free_volume(fluid, none, temperature)));
}

/// Kelvins by which a composition is above solidification: the smaller of the glass margin T - T_g and, for a polymer
/// that crystallises, T + undercooling - T_m(phi); the latter only where polymer fills more than half of the volume:
/// thinner solutions do not crystallise within the milliseconds of a flight. Negative: solid.
///   1/T_m - 1/T_m0 = R (phi_s - chi phi_s^2) / (V_s dh_v)
/// Eq: solidification
/// Valid: equilibrium melting line; a slow crystalliser stays tacky longer than this says
/// Source: Flory, J. Chem. Phys. 17 (1949) 223; the undercooling and the least fraction are our own closures
inline constexpr double kUndercooling_K = 20.0;
inline constexpr double kCrystallisableFraction = 0.5;
inline constexpr double kCrystallisableSlope_K =
    200.0;  ///< how fast the margin rises below that fraction, per unit of phi
template <class Real>
[[nodiscard]] Real solid_margin(const Fluid& fluid, const Real& phi, const Real& temperature) {
  const Real glass = temperature - glass_temperature(fluid, phi);
  if (!fluid.crystallises) return glass;
  const Real phi_s = 1.0 - phi;
  const Real inverse_melting = 1.0 / fluid.melting_point_K +
                               kGasConstant_J_mol_K * (phi_s - fluid.chi * phi_s * phi_s) /
                                   (fluid.solvent_molar_volume_m3_mol * fluid.heat_of_fusion_J_m3);
  const Real melt = temperature + kUndercooling_K - 1.0 / inverse_melting;
  const Real thin = kCrystallisableSlope_K * (kCrystallisableFraction - phi);
  const Real crystal = melt > thin ? melt : thin;
  return glass < crystal ? glass : crystal;
}

/// True when it is crystallisation rather than the glass that solidifies this composition.
[[nodiscard]] bool solidifies_by_crystallisation(const Fluid& fluid, double phi, double temperature_K);

/// Intrinsic viscosity [m3/kg]: [eta] = k M^a, M in kg/mol.
/// Eq: mark-houwink
/// Valid: the pair's molar-mass range
[[nodiscard]] double intrinsic_viscosity_m3_kg(const Pair::MarkHouwink& law, double molar_mass_kg_mol);

/// Specific viscosity by Martin: eta_sp = x exp(k_M x), x = c [eta], continued as a power law of slope 4.2 from where
/// the exponential has that slope: unbounded exponentials are 3 to 30 times too high at x = 20 to 28.
/// Eq: martin
/// Valid: x below about 10; beyond, a factor 2 for PEO/water and PCL/chloroform, 4 for PVP
/// (tests/reference/solution_viscosity.csv)
/// Source: Martin (1942), as quoted in polymer handbooks (from memory); slope 4.2 of entangled solutions: inside the
///         1.25 to 4.8 of the spinnability literature, picked because it fits solution_viscosity.csv
inline constexpr double kEntangledSlope = 4.2;
[[nodiscard]] double martin_specific_viscosity(double reduced_concentration, double martin_constant);

}  // namespace whorl::model
