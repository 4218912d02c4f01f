#include "whorl/model/gas.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/model/constants.hpp"

namespace whorl::model {
namespace {

constexpr double kPower = kGasHeatRatio / (kGasHeatRatio - 1.0);  // 3.5
const double kLog2 = std::log(2.0);

}  // namespace

double isentropic_temperature_ratio(double mach) { return 1.0 / (1.0 + 0.5 * (kGasHeatRatio - 1.0) * mach * mach); }
double isentropic_pressure_ratio(double mach) { return std::pow(isentropic_temperature_ratio(mach), kPower); }
double critical_pressure_ratio() { return std::pow(0.5 * (kGasHeatRatio + 1.0), kPower); }

GasExit gas_exit(double overpressure_Pa, const Air& air) {
  GasExit out;
  const double gas_constant = kGasConstant_J_mol_K / air.molar_mass_kg_mol;
  const double stagnation = air.temperature_K;
  out.pressure_Pa = air.pressure_Pa;
  out.temperature_K = out.jet_temperature_K = stagnation;
  out.density_kg_m3 = air.pressure_Pa / (gas_constant * stagnation);
  if (!(overpressure_Pa > 0.0)) return out;
  out.pressure_ratio = 1.0 + overpressure_Pa / air.pressure_Pa;
  out.choked = out.pressure_ratio > critical_pressure_ratio();

  // 1 - T/T_0 without cancellation at small overpressure
  const double drop = -std::expm1(-std::log1p(overpressure_Pa / air.pressure_Pa) / kPower);
  out.jet_temperature_K = stagnation * (1.0 - drop);
  out.jet_mach = std::sqrt(2.0 / (kGasHeatRatio - 1.0) * drop / (1.0 - drop));
  out.jet_speed_m_s = std::sqrt(2.0 * kPower * gas_constant * stagnation * drop);
  if (out.choked) {
    out.mach = 1.0;
    out.temperature_K = stagnation * isentropic_temperature_ratio(1.0);
    out.pressure_Pa = air.pressure_Pa * out.pressure_ratio / critical_pressure_ratio();
  } else {
    out.mach = out.jet_mach;
    out.temperature_K = out.jet_temperature_K;
  }
  out.density_kg_m3 = out.pressure_Pa / (gas_constant * out.temperature_K);
  out.speed_m_s = out.mach * std::sqrt(kGasHeatRatio * gas_constant * out.temperature_K);
  out.mass_flux_kg_m2_s = out.density_kg_m3 * out.speed_m_s;
  if (out.choked) {
    const double jet_density = air.pressure_Pa / (gas_constant * out.jet_temperature_K);
    out.jet_area_ratio = out.mass_flux_kg_m2_s / (jet_density * out.jet_speed_m_s);
  }
  return out;
}

double annular_flow_ratio(double share) {
  if (share <= 0.0) return 1.0;
  if (share >= 1.0) return 0.0;
  return std::max(0.0, 1.0 - 4.0 * share + 3.0 * share * share - 2.0 * share * share * std::log(share));
}

double gas_area_share(double flow_ratio) {
  if (flow_ratio >= 1.0) return 0.0;
  if (flow_ratio <= 0.0) return 1.0;
  // The ratio falls and is convex in the share: Newton's iteration from below the root stays below it. The starts are
  // its tangent at an orifice full of liquid, and 2/3 (1 - share)^3 where little is left.
  double share = 0.25 * (1.0 - flow_ratio);
  const double thin = 1.0 - std::cbrt(1.5 * flow_ratio);
  if (thin > share && annular_flow_ratio(thin) >= flow_ratio) share = thin;
  for (int i = 0; i < 100; ++i) {
    const double slope = -4.0 * (1.0 - share + share * std::log(share));
    const double next = share - (annular_flow_ratio(share) - flow_ratio) / slope;
    if (!(next > share) || next >= 1.0) break;
    const double step = next - share;
    share = next;
    if (step < 1e-15) break;
  }
  return share;
}

double liquid_flow_ratio(double layer_m, double critical_layer_m) {
  if (layer_m >= critical_layer_m) return 1.0;
  if (layer_m <= 0.0) return 0.0;
  const double x = layer_m / critical_layer_m;
  return x * x * std::sqrt(x);
}

double drained_flow_ratio(double layer_m, double critical_layer_m, double viscous_share) {
  if (layer_m >= critical_layer_m) return 1.0;
  if (layer_m <= 0.0) return 0.0;
  return std::pow(layer_m / critical_layer_m, 2.5 + 1.5 * viscous_share);
}

double free_jet_speed_ratio(double distance_over_diameter) {
  const double z = distance_over_diameter / kJetDecay;
  const double z2 = z * z;
  return 1.0 / std::sqrt(std::sqrt(1.0 + z2 * z2));
}

double free_jet_half_width_ratio(double distance_over_diameter) {
  return std::sqrt(0.5 * kLog2) / free_jet_speed_ratio(distance_over_diameter);
}

GasPlume make_gas_plume(const GasExit& exit, const Air& air, const Vessel& vessel, double speed_rad_s, double share) {
  GasPlume plume;
  const double area = kPi * vessel.orifice_radius_m * vessel.orifice_radius_m;
  plume.flow_kg_s = exit.mass_flux_kg_m2_s * area * std::clamp(share, 0.0, 1.0);
  if (!plume.blows()) return {};
  plume.exit_radius_m = vessel.outer_radius_m;
  plume.count = vessel.orifice_count;
  plume.lag_rad_s = speed_rad_s - air.swirl_speed_rad_s;
  const double tangential = plume.lag_rad_s * vessel.outer_radius_m;
  plume.speed_m_s = std::hypot(exit.jet_speed_m_s, tangential);
  plume.cosine = exit.jet_speed_m_s / plume.speed_m_s;
  plume.sine = tangential / plume.speed_m_s;
  plume.diameter_m = std::sqrt(4.0 * plume.flow_kg_s / (kPi * air.density_kg_m3 * plume.speed_m_s));
  return plume;
}

GasWind gas_wind(const GasPlume& plume, double x, double y, double z, double orifice_angle) {
  const double exit = plume.exit_radius_m;
  const double r2 = x * x + y * y;
  const double gap2 = std::max(r2 - exit * exit, 0.0);
  // xi^2 + 2 R cos(a) xi = r^2 - R^2, the positive root without cancellation
  const double half = exit * plume.cosine;
  const double root = std::sqrt(half * half + gap2);
  const double xi = gap2 / (half + root);
  const double core = kJetDecay * plume.diameter_m;
  const double age = (xi + xi * xi / core) / plume.speed_m_s;
  const double turned = plume.lag_rad_s * age;
  const double radial = exit + xi * plume.cosine;
  const double tangential = xi * plume.sine;
  // from the plume's axis, which stands at orifice_angle + atan2(tangential, radial) - turned
  double off = std::atan2(y * radial - x * tangential, x * radial + y * tangential) - orifice_angle + turned;
  off -= 2.0 * kPi * std::round(off / (2.0 * kPi));
  // Slope of the plume's axis against the radius: d(angle)/d(xi) over d(r)/d(xi).
  const double r = std::sqrt(std::max(r2, exit * exit));
  const double rate = plume.lag_rad_s * (1.0 + 2.0 * xi / core) / plume.speed_m_s;
  const double slope = r * (exit * plume.sine / (r * r) - rate) * r / (half + xi);
  const double across = r * off / std::sqrt(1.0 + slope * slope);

  const double distance = xi / plume.diameter_m;
  const double ratio = free_jet_speed_ratio(distance);
  const double width = plume.diameter_m * free_jet_half_width_ratio(distance);
  const double own = plume.speed_m_s * ratio * std::exp(-kLog2 * (across * across + z * z) / (width * width));
  const double angle = orifice_angle - turned;
  const double c = std::cos(angle);
  const double s = std::sin(angle);

  // All plumes together, spread evenly round the vessel.
  static const double kProfile = std::sqrt(kPi / (2.0 * kLog2));
  const double spread = width * std::sqrt(1.0 + slope * slope) * plume.count / (kPi * r);
  const double merged = spread * spread / (1.0 + spread * spread);
  const double sheet = plume.speed_m_s *
                       std::sqrt(plume.count * plume.diameter_m * plume.diameter_m / (8.0 * r * width * kProfile)) *
                       std::exp(-kLog2 * z * z / (width * width));
  // direction of a parcel's flight against the radius where it is: (radial, tangential)
  const double parcel = std::sqrt(radial * radial + tangential * tangential);
  const double out = (plume.cosine * radial + plume.sine * tangential) / parcel;
  const double round = (plume.sine * radial - plume.cosine * tangential) / parcel;
  const double here = std::sqrt(r2);
  const double ex = here > 0.0 ? x / here : 1.0;
  const double ey = here > 0.0 ? y / here : 0.0;

  GasWind wind;
  wind.x = (1.0 - merged) * own * (c * plume.cosine - s * plume.sine) + merged * sheet * (out * ex - round * ey);
  wind.y = (1.0 - merged) * own * (s * plume.cosine + c * plume.sine) + merged * sheet * (out * ey + round * ex);
  return wind;
}

double gas_wind_left(const GasPlume& plume, double liquid_flow_kg_s, double liquid_gain_m_s) {
  return std::clamp(1.0 - liquid_flow_kg_s * liquid_gain_m_s / (plume.flow_kg_s * plume.speed_m_s), 0.0, 1.0);
}

}  // namespace whorl::model
