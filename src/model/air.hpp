// Room air round a filament: properties, drag, heat and mass transfer. Templates serve plain and dual numbers.
#pragma once
#include <cmath>

#include "whorl/model/case.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/solution.hpp"

namespace whorl::model {

inline constexpr double kAirViscosityConstant = 1.458e-6;  ///< [Pa s/K^(1/2)], see air_viscosity
inline constexpr double kSutherland_K = 110.4;             ///< see air_viscosity

/// Dry-air viscosity [Pa s], Sutherland.
/// Eq: air-viscosity
/// Valid: 200 to 500 K, 2 %
/// Source: Sutherland constants 1.458e-6 Pa s/K^(1/2) and 110.4 K, U.S. Standard Atmosphere 1976 (from memory)
template <class Real>
[[nodiscard]] Real air_viscosity(const Real& temperature, double constant = kAirViscosityConstant) {
  using std::sqrt;
  return constant * temperature * sqrt(temperature) / (temperature + kSutherland_K);
}

inline constexpr double kAirHeatCapacity = 1006.0;  ///< [J/(kg K)], 250 to 320 K within 0.3 % (from memory)
inline constexpr double kAirPrandtl = 0.71;         ///< 250 to 320 K within 1.5 % (from memory)

/// Saturation vapour pressure over liquid water [Pa].
/// Eq: water-saturation
/// Valid: 233 to 323 K (supercooled below 273 K), 0.4 % (Magnus form)
/// Source: Alduchov & Eskridge, J. Appl. Meteorol. 35 (1996) 601: 610.94 exp(17.625 t/(t + 243.04)) (from memory)
[[nodiscard]] double water_saturation_Pa(double temperature_K);

/// Dew point of the room air [K]; inverse of the above.
/// Eq: dew-point
[[nodiscard]] double dew_point_K(double temperature_K, double relative_humidity);

/// Room air seen by the jets.
struct Air {
  double temperature_K{};
  double pressure_Pa{};
  double density_kg_m3{};
  double viscosity_Pa_s{};
  double vapour_fraction{};   ///< mole fraction of the SOLVENT in the room air (water: from humidity)
  double log_air_fraction{};  ///< ln(1 - vapour_fraction)
  double dew_point_K{};
  double swirl_speed_rad_s{};  ///< air turns at this rate at the vessel wall, decaying as (R/r)^2 in rate
  double vessel_radius_m{};
  AxialDrag axial_drag{AxialDrag::combined};
  double axial_drag_factor{1.0}, cross_drag_factor{1.0}, heat_factor{1.0}, mass_factor{1.0};
  // The gas itself. Members, so that the equations hold in any system of units.
  double viscosity_constant{kAirViscosityConstant};        ///< of air_viscosity
  double heat_capacity_J_kg_K{kAirHeatCapacity};
  double molar_mass_kg_mol{kMolarMassAir_kg_mol};
  double diffusivity_pressure_Pa{kStandardAtmosphere_Pa};  ///< at which the diffusivity of the vapour is stated
};
[[nodiscard]] Air make_air(const CaseInput& input, const Fluid& fluid);

/// ln Re of the two laws below, which one filament shares; not needed (0) where neither uses it.
template <class Real>
[[nodiscard]] Real drag_logarithm(const Real& reynolds) {
  using std::log;
  if (!(reynolds < 100.0)) return Real(0.0);
  return log(reynolds > 1e-8 ? reynolds : Real(1e-8));
}

/// Cross-flow resistance of a cylinder per length: F_n = mu w_n * r_n(Re_n), Re_n = rho w_n d / mu.
/// Eq: cross-drag
/// Valid: Re_n up to about 1e3 (slender-body form below 0.1, fit to 100, 2 sqrt(Re) + Re/2 beyond)
/// Source: Marheineke & Wegener, Int. J. Multiphase Flow 37 (2011) 136 (constants from memory; continuous at 0.1 and
/// 100)
template <class Real>
[[nodiscard]] Real cross_drag_resistance(const Real& reynolds, const Real& log_reynolds) {
  using std::exp;
  using std::sqrt;
  if (reynolds < 0.1) {
    const Real re = reynolds > 1e-8 ? reynolds : Real(1e-8);
    const Real s = 2.0022 - log_reynolds;
    return 4.0 * kPi / s * (1.0 - (s * s - 0.5 * s + 0.3125) * re * re / (32.0 * s));
  }
  if (reynolds < 100.0) {
    const Real& l = log_reynolds;
    return exp(1.6911 + l * (0.32778 + l * (0.033287 + l * 0.0035015)));  // Re^1 folded into the linear term
  }
  return 2.0 * sqrt(reynolds) + 0.5 * reynolds;
}
template <class Real>
[[nodiscard]] Real cross_drag_resistance(const Real& reynolds) {
  return cross_drag_resistance(reynolds, drag_logarithm(reynolds));
}

/// Resistance along a filament that is swept across: F_t = mu w_t * r_t(Re_n), Re_n on the NORMAL velocity.
/// Eq: oblique-drag
/// Valid: as cross-drag
/// Source: as cross-drag
template <class Real>
[[nodiscard]] Real oblique_drag_resistance(const Real& reynolds_normal, const Real& log_reynolds) {
  using std::exp;
  using std::sqrt;
  if (reynolds_normal < 0.1) {
    const Real re = reynolds_normal > 1e-8 ? reynolds_normal : Real(1e-8);
    const Real s = 2.0022 - log_reynolds;
    const Real q = 2.0 * s - 1.0;
    return 4.0 * kPi / q * (1.0 - (2.0 * s * s - 2.0 * s + 1.0) * re * re / (16.0 * q));
  }
  if (reynolds_normal < 100.0) {
    const Real& l = log_reynolds;
    return exp(1.1552 + l * (0.31521 + l * (0.014884 + l * 7.4966e-4)));
  }
  return 2.0 * sqrt(reynolds_normal);
}
template <class Real>
[[nodiscard]] Real oblique_drag_resistance(const Real& reynolds_normal) {
  return oblique_drag_resistance(reynolds_normal, drag_logarithm(reynolds_normal));
}

/// Resistance along a filament in air that meets it lengthwise: F_t = mu w_t * (pi/2) c Re_t^(1-m), C_f = c Re^-m.
/// Eq: axial-drag
/// Valid: Re_t about 1 to 100; the published laws differ by 2 to 5: choose with `axial_drag`, scale with its factor
/// Source: Matsui, Trans. Soc. Rheol. 20 (1976) 465 (0.37, 0.61); Sano & Orii (1968) (0.68, 0.80);
///         Majumdar & Shambaugh, J. Rheol. 34 (1990) 591 (0.78, 0.61); all from memory
template <class Real>
[[nodiscard]] Real axial_drag_resistance(AxialDrag law, const Real& reynolds_axial) {
  using std::exp;
  using std::log;
  double factor = 0.37;
  double exponent = 0.61;
  if (law == AxialDrag::sano_orii) {
    factor = 0.68;
    exponent = 0.80;
  } else if (law == AxialDrag::majumdar_shambaugh) {
    factor = 0.78;
  }
  const Real re = reynolds_axial > 1e-8 ? reynolds_axial : Real(1e-8);
  return 0.5 * kPi * factor * exp((1.0 - exponent) * log(re));
}

/// Resistance along a filament [N s/m2], any direction of the air: by the law that the case names. `combined` takes the
/// larger of the lengthwise and the swept-across law (fourth-power mean): the thinner boundary layer rules.
/// Eq: filament-drag
/// Valid: fibre speeds below about 100 m/s (incompressible); the lengthwise laws differ by 2 to 5 between authors
/// Source: lengthwise Matsui, Trans. Soc. Rheol. 20 (1976) 465 and others; swept across Marheineke & Wegener, Int. J.
///         Multiphase Flow 37 (2011) 136 (constants from memory); the join: own closure
template <class Real>
[[nodiscard]] Real filament_drag_along(const Air& air, const Real& reynolds_along, const Real& reynolds_normal,
                                       const Real& log_normal) {
  using std::sqrt;
  Real along;
  if (air.axial_drag == AxialDrag::oblique) {
    along = oblique_drag_resistance(reynolds_normal, log_normal);
  } else if (air.axial_drag == AxialDrag::combined) {
    const Real lengthwise = axial_drag_resistance(AxialDrag::matsui, reynolds_along);
    const Real swept = oblique_drag_resistance(reynolds_normal, log_normal);
    const Real a2 = lengthwise * lengthwise;
    const Real b2 = swept * swept;
    along = sqrt(sqrt(a2 * a2 + b2 * b2));
  } else {
    along = axial_drag_resistance(air.axial_drag, reynolds_along);
  }
  return air.axial_drag_factor * air.viscosity_Pa_s * along;
}
template <class Real>
[[nodiscard]] Real drag_resistance_along(const Air& air, const Real& diameter, const Real& wind_along,
                                         const Real& wind_across) {
  const double per_speed = air.density_kg_m3 / air.viscosity_Pa_s;
  const Real re_n = per_speed * diameter * wind_across;
  const Real re_t = per_speed * diameter * (wind_along < 0.0 ? Real(-wind_along) : wind_along);
  return filament_drag_along(air, re_t, re_n, drag_logarithm(re_n));
}

/// Drag resistances of a filament [N s/m2]: force per length = resistance * relative air velocity component.
template <class Real>
struct DragResistance {
  Real along{};
  Real across{};
};

/// Both resistances at the ambient air's properties.
template <class Real>
[[nodiscard]] DragResistance<Real> drag_resistance(const Air& air, const Real& diameter, const Real& wind_along,
                                                   const Real& wind_across) {
  const double per_speed = air.density_kg_m3 / air.viscosity_Pa_s;
  const Real re_n = per_speed * diameter * wind_across;
  const Real re_t = per_speed * diameter * (wind_along < 0.0 ? Real(-wind_along) : wind_along);
  const Real log_n = drag_logarithm(re_n);
  return {filament_drag_along(air, re_t, re_n, log_n),
          air.cross_drag_factor * air.viscosity_Pa_s * cross_drag_resistance(re_n, log_n)};
}

/// Nusselt number of a filament in air that meets it at any angle.
/// Below Re of about 50: 0.42 Re^0.334 [1 + (8 w_n/w)^2]^0.167; above: cross-flow law on the normal component with the
/// lengthwise value as its floor; never below 0.3.
/// Eq: nusselt
/// Valid: 0.5 < Re < 50 (first law), Re Pr > 0.2 (second); outside: extrapolated, 30 % of doubt
/// Source: Kase & Matsuo, J. Polym. Sci. A 3 (1965) 2541 (from memory); Churchill & Bernstein, J. Heat Transfer 99
///         (1977) 300; the blend is our own
template <class Real>
[[nodiscard]] Real nusselt(const Real& reynolds, const Real& normal_share_squared) {
  using std::exp;
  using std::log;
  using std::sqrt;
  const Real re = reynolds > 1e-8 ? reynolds : Real(1e-8);
  const Real value_low = 0.42 * exp(0.167 * log(re * re * (1.0 + 64.0 * normal_share_squared)));  // 0.334 = 2 x 0.167
  Real value = value_low;
  if (re > 5.0) {
    const Real lengthwise = 0.42 * exp(0.334 * log(re));
    // Pr = 0.71: 0.62 Pr^(1/3) / [1 + (0.4/Pr)^(2/3)]^(1/4)
    constexpr double cb = 0.62 * 0.8921121404456347 / 1.138845869754804;
    constexpr double kRootOf282000 = 531.03672189407014;  // of the 282,000 of Churchill & Bernstein
    const Real root = sqrt(re * sqrt(normal_share_squared + 1e-12));  // of Re on the normal component
    const Real x = root / kRootOf282000;
    const Real x58 = x * sqrt(sqrt(x));
    const Real across = 0.3 + cb * root * exp(0.8 * log(1.0 + x58));
    const Real a2 = across * across;
    const Real b2 = lengthwise * lengthwise;
    const Real high = sqrt(sqrt(a2 * a2 + b2 * b2));
    const Real q = re / 50.0;
    const Real q4 = q * q * q * q;
    value = (value_low + q4 * high) / (1.0 + q4);
  }
  const Real v2 = value * value;
  return sqrt(sqrt(v2 * v2 + 0.0081));  // 0.3^4
}

/// Heat and solvent leaving the surface.
template <class Real>
struct SurfaceExchange {
  Real evaporation_kg_m2_s{};  ///< solvent flux out; negative: vapour condenses
  Real heat_W_m2{};            ///< into the filament from the air, before latent heat
  Real vapour_fraction{};      ///< mole fraction at the surface
  Real heat_coefficient{};     ///< W/(m2 K), with the high-flux correction
  Real spalding{};             ///< transfer number B = (x_s - x_a)/(1 - x_s)
  Real reynolds{};
};

/// State of the gas round a filament where it is not that of the room.
template <class Real>
struct GasState {
  Real temperature_K{};
  Real vapour_fraction{};   ///< mole fraction of the solvent
  Real log_air_fraction{};  ///< ln(1 - vapour_fraction)
};

/// Gas in the film between surface and room.
template <class Real>
struct FilmGas {
  Real viscosity_Pa_s{};
  Real inertia_s_m2{};      ///< density over viscosity
  Real transfer_mol_m_s{};  ///< c D (Sc/Pr)^(1/3), c the molar density: times Nu/d and the drive it is the molar flux
};

/// The gas of the room and its vapour at the film temperature. Viscosity and diffusivity are powers of the temperature
/// (but for Sutherland's term), so that the whole takes one square root and one cube root:
///   c D = D_25 (p_D/R) T^0.75/T_r^1.75;   c D (Sc/Pr)^(1/3) = [mu (c D)^2/(M Pr)]^(1/3)
/// Valid: dilute vapour; as air_viscosity
/// Source: diffusivity as T^1.75/p: Fuller (from memory); analogy: Chilton & Colburn (1934)
template <class Real>
[[nodiscard]] FilmGas<Real> film_gas(const Air& air, const Fluid& fluid, const Real& film) {
  using std::cbrt;
  using std::sqrt;
  constexpr double kRoot = 17.267020588393355;  // of the reference temperature [K^(1/2)]
  static_assert(kRoot * kRoot - kReferenceTemperature_K < 1e-12 && kReferenceTemperature_K - kRoot * kRoot < 1e-12);
  constexpr double kPower35 = kReferenceTemperature_K * kReferenceTemperature_K * kReferenceTemperature_K * kRoot;
  const Real power15 = film * sqrt(film);
  const double dilute = fluid.diffusivity_air_25_m2_s * air.diffusivity_pressure_Pa / kGasConstant_J_mol_K;
  FilmGas<Real> out;
  out.viscosity_Pa_s = air.viscosity_constant * power15 / (film + kSutherland_K);
  out.inertia_s_m2 =
      air.molar_mass_kg_mol * air.pressure_Pa / (kGasConstant_J_mol_K * film * out.viscosity_Pa_s);
  out.transfer_mol_m_s = cbrt(out.viscosity_Pa_s * power15 *
                              (dilute * dilute / (kPower35 * air.molar_mass_kg_mol * kAirPrandtl)));
  return out;
}

/// Evaporation with Stefan (high-flux) correction and the heat that reaches the surface; film-temperature properties.
///   n = M Sh (D p / R T_f d) ln[(1 - x_a)/(1 - x_s)],  Sh = Nu (Sc/Pr)^(1/3)
///   q = h (T_a - T_s) Phi/(e^Phi - 1),  Phi = n c_pv / h
/// Eq: evaporation
/// Valid: x_s up to 0.97 (limited there); dilute-air Schmidt number
/// Source: Bird, Stewart & Lightfoot, Transport Phenomena ch. 22 (film theory); analogy: Chilton & Colburn (1934)
template <class Real, class GasReal>
[[nodiscard]] SurfaceExchange<Real> surface_exchange(const Air& air, const GasState<GasReal>& gas, const Fluid& fluid,
                                                     const Real& diameter, const Real& wind,
                                                     const Real& normal_share_squared, const Real& surface_temperature,
                                                     const Real& surface_phi) {
  using std::exp;
  using std::log;
  SurfaceExchange<Real> out;
  const FilmGas<Real> film = film_gas(air, fluid, Real(0.5 * (surface_temperature + gas.temperature_K)));
  out.reynolds = film.inertia_s_m2 * wind * diameter;
  const Real nu_per_m = nusselt(out.reynolds, normal_share_squared) / diameter;
  const Real h = air.heat_factor * (air.heat_capacity_J_kg_K / kAirPrandtl) * nu_per_m * film.viscosity_Pa_s;

  Real x = vapour_pressure_over(fluid, surface_phi, surface_temperature) / air.pressure_Pa;
  if (x > 0.97) x = Real(0.97);
  out.vapour_fraction = x;
  out.spalding = (x - gas.vapour_fraction) / (1.0 - x);
  const Real drive = gas.log_air_fraction - log(1.0 - x);
  out.evaporation_kg_m2_s =
      air.mass_factor * fluid.solvent_molar_mass_kg_mol * nu_per_m * film.transfer_mol_m_s * drive;

  const Real blowing = out.evaporation_kg_m2_s * fluid.vapour_heat_capacity / h;
  // Phi/(e^Phi - 1), by its series near zero
  Real correction = 1.0 - blowing * (0.5 - blowing * (1.0 / 12.0 - blowing * blowing / 720.0));
  if (blowing > 0.3 || blowing < -0.3) correction = blowing / (exp(blowing) - 1.0);
  out.heat_coefficient = h * correction;
  out.heat_W_m2 = out.heat_coefficient * (gas.temperature_K - surface_temperature);
  return out;
}
template <class Real>
[[nodiscard]] SurfaceExchange<Real> surface_exchange(const Air& air, const Fluid& fluid, const Real& diameter,
                                                     const Real& wind, const Real& normal_share_squared,
                                                     const Real& surface_temperature, const Real& surface_phi) {
  const GasState<double> room{air.temperature_K, air.vapour_fraction, air.log_air_fraction};
  return surface_exchange(air, room, fluid, diameter, wind, normal_share_squared, surface_temperature, surface_phi);
}

}  // namespace whorl::model
