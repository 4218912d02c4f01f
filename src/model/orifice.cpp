#include "whorl/model/orifice.hpp"
#include "whorl/model/orifice_slope.hpp"

#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "whorl/model/constants.hpp"

namespace whorl::model {
namespace {

// 30 points: their error on the flow curve integral is the one stated in the header.
using Gauss = boost::math::quadrature::gauss<double, 30>;

/// The rule on [0, 1], with the logarithms of its nodes.
struct GaussRule {
  struct Node {
    double y{}, log_y{}, y6{}, weight{};
  };
  std::array<Node, 30> nodes{};
};

const GaussRule& gauss_rule() {
  static const GaussRule rule = [] {
    GaussRule out;
    const auto& abscissa = Gauss::abscissa();  // the positive half of [-1, 1]
    const auto& weights = Gauss::weights();
    for (std::size_t i = 0; i < abscissa.size(); ++i) {
      for (const double sign : {1.0, -1.0}) {
        const double y = 0.5 * (1.0 + sign * abscissa[i]);
        out.nodes[2 * i + (sign > 0.0 ? 0 : 1)] = {y, std::log(y), y * y * y * y * y * y,
                                                       0.5 * weights[i]};
      }
    }
    return out;
  }();
  return rule;
}

template <class... Ts>
struct Overloaded : Ts... {
  using Ts::operator()...;
};
template <class... Ts>
Overloaded(Ts...) -> Overloaded<Ts...>;

}  // namespace

namespace {

// (lambda rate)^a
double past_newtonian(const CarreauYasuda& c, double rate) {
  const double x = c.time_constant_s * rate;
  return c.yasuda == 2.0 ? x * x : std::pow(x, c.yasuda);
}

}  // namespace

double shear_viscosity_Pa_s(const FlowCurve& curve, double rate) {
  return std::visit(
      Overloaded{[](const Newtonian& c) { return c.viscosity_Pa_s; },
                 [rate](const PowerLaw& c) { return c.consistency_Pa_sn * std::pow(rate, c.index - 1.0); },
                 [rate](const CarreauYasuda& c) {
                   const double bracket = 1.0 + past_newtonian(c, rate);
                   return c.infinite_shear_Pa_s + (c.zero_shear_Pa_s - c.infinite_shear_Pa_s) *
                                                      std::pow(bracket, (c.index - 1.0) / c.yasuda);
                 }},
      curve);
}

double apparent_shear_rate_1_s(const FlowCurve& curve, double wall_rate) {
  return std::visit(
      Overloaded{[wall_rate](const Newtonian&) { return wall_rate; },
                 [wall_rate](const PowerLaw& c) { return 4.0 * c.index / (3.0 * c.index + 1.0) * wall_rate; },
                 [wall_rate](const CarreauYasuda& c) {
                   // rate = rate_w y^3 tames the root at zero that strongly shear-thinning curves have. Powers as
                   // exponentials of logarithms: those of the nodes are known.
                   const double drop = c.zero_shear_Pa_s - c.infinite_shear_Pa_s;
                   const double power = (c.index - 1.0) / c.yasuda;
                   const double log_wall = c.yasuda * std::log(c.time_constant_s * wall_rate);
                   const double at_wall = std::exp(log_wall);
                   const double wall_viscosity =
                       c.infinite_shear_Pa_s + drop * std::exp(power * std::log(1.0 + at_wall));
                   const bool carreau = c.yasuda == 2.0;
                   double integral = 0.0;
                   for (const auto& node : gauss_rule().nodes) {
                     const double y2 = node.y * node.y;
                     const double past =
                         carreau ? at_wall * node.y6 : std::exp(log_wall + 3.0 * c.yasuda * node.log_y);
                     const double viscosity = c.infinite_shear_Pa_s + drop * std::exp(power * std::log(1.0 + past));
                     const double ratio = viscosity / wall_viscosity * (y2 * node.y);
                     integral += node.weight * 3.0 * y2 * (ratio * ratio * ratio);
                   }
                   return 4.0 / 3.0 * wall_rate * (1.0 - integral);
                 }},
      curve);
}

double developing_flow_loss(double x_plus) {
  const double entry = 3.44 / std::sqrt(x_plus);
  const double far = 16.0 + 1.25 / (4.0 * x_plus);
  const double apparent = entry + (far - entry) / (1.0 + 0.000212 / (x_plus * x_plus));
  return 4.0 * x_plus * (apparent - 16.0);
}

namespace {

// By the speed and the wall stress, which the flow curve gives.
OrificeLosses losses_of(const Vessel& vessel, double density_kg_m3, double mean_speed_m_s, double wall_stress_Pa) {
  OrificeLosses losses;
  const double diameter = 2.0 * vessel.orifice_radius_m;
  losses.mean_speed_m_s = mean_speed_m_s;
  losses.wall_stress_Pa = wall_stress_Pa;
  const double speed2 = losses.mean_speed_m_s * losses.mean_speed_m_s;
  losses.reynolds = 8.0 * density_kg_m3 * speed2 / losses.wall_stress_Pa;

  // Friction: laminar f = 16/Re; Blasius takes over smoothly (8th-power mean), crossing near Re = 1190.
  const double laminar = 16.0 / losses.reynolds;
  const double blasius = 0.0791 / std::sqrt(std::sqrt(losses.reynolds));
  const double ratio = blasius / laminar;
  const double ratio2 = ratio * ratio, ratio4 = ratio2 * ratio2;
  const double friction_ratio = ratio < 0.3 ? 1.0 : std::sqrt(std::sqrt(std::sqrt(1.0 + ratio4 * ratio4)));
  losses.turbulent = losses.reynolds > 2100.0;

  losses.viscous_Pa = 4.0 * losses.wall_stress_Pa * friction_ratio * vessel.orifice_length_m / diameter;
  losses.entrance_Pa = 2.0 * kBagleyEnd * losses.wall_stress_Pa;
  const double x_plus = vessel.orifice_length_m / (diameter * losses.reynolds);
  const double sharp_entry = 0.5 * losses.reynolds / (losses.reynolds + 1000.0);
  losses.kinetic_Pa =
      0.5 * density_kg_m3 * speed2 * (1.0 + developing_flow_loss(x_plus) + sharp_entry);
  return losses;
}

// d ln(stress)/d ln(rate), where the viscosity is known.
double stress_slope(const FlowCurve& curve, double rate, double viscosity_Pa_s) {
  return std::visit(
      Overloaded{[](const Newtonian&) { return 1.0; }, [](const PowerLaw& c) { return c.index; },
                 [rate, viscosity_Pa_s](const CarreauYasuda& c) {
                   const double past = past_newtonian(c, rate);
                   const double above = viscosity_Pa_s - c.infinite_shear_Pa_s;
                   return 1.0 + above / viscosity_Pa_s * (c.index - 1.0) * past / (1.0 + past);
                 }},
      curve);
}

}  // namespace

OrificeLosses orifice_losses(const Vessel& vessel, const FlowCurve& curve, double density_kg_m3,
                             double wall_rate) {
  const double diameter = 2.0 * vessel.orifice_radius_m;
  return losses_of(vessel, density_kg_m3, apparent_shear_rate_1_s(curve, wall_rate) * diameter / 8.0,
                   shear_viscosity_Pa_s(curve, wall_rate) * wall_rate);
}

LossesAndSlope orifice_losses_and_slope(const Vessel& vessel, const FlowCurve& curve, double density_kg_m3,
                                        double wall_rate) {
  const double diameter = 2.0 * vessel.orifice_radius_m;
  const double apparent = apparent_shear_rate_1_s(curve, wall_rate);
  const double viscosity = shear_viscosity_Pa_s(curve, wall_rate);
  const double stress = viscosity * wall_rate;
  LossesAndSlope out;
  out.losses = losses_of(vessel, density_kg_m3, apparent * diameter / 8.0, stress);
  out.stress_slope = stress_slope(curve, wall_rate, viscosity);
  // Rabinowitsch: rate_w = (A/4)(3 + d ln A/d ln stress), A the apparent rate
  out.speed_slope = (4.0 * wall_rate / apparent - 3.0) * out.stress_slope;
  constexpr double kMove = 1e-6;
  const OrificeLosses moved = losses_beside(vessel, density_kg_m3, out, kMove);
  out.slope = std::log(moved.total_Pa() / out.losses.total_Pa()) / kMove;
  return out;
}

OrificeLosses losses_beside(const Vessel& vessel, double density_kg_m3, const LossesAndSlope& at, double log_move) {
  return losses_of(vessel, density_kg_m3, at.losses.mean_speed_m_s * std::exp(log_move * at.speed_slope),
                   at.losses.wall_stress_Pa * std::exp(log_move * at.stress_slope));
}

OrificeFlow driving_pressure(const Vessel& vessel, double speed_rad_s, double overpressure_Pa,
                             double density_kg_m3, double surface_tension_N_m, const ChargeState& charge) {
  OrificeFlow flow;
  const LiquidHead head = liquid_head(vessel, speed_rad_s, density_kg_m3, charge);
  flow.gas_overpressure_Pa = overpressure_Pa;
  flow.centrifugal_head_Pa = head.centrifugal_Pa;
  flow.hydrostatic_head_Pa = head.hydrostatic_Pa;
  flow.capillary_threshold_Pa = 2.0 * surface_tension_N_m / vessel.orifice_radius_m;
  flow.driving_pressure_Pa = flow.gas_overpressure_Pa + flow.centrifugal_head_Pa + flow.hydrostatic_head_Pa -
                             flow.capillary_threshold_Pa;
  return flow;
}

double critical_weber(double density_kg_m3, double surface_tension_N_m, double diameter_m,
                      double acceleration_m_s2) {
  const double bond2 =
      density_kg_m3 * acceleration_m_s2 * diameter_m * diameter_m / (2.0 * surface_tension_N_m);
  const double b = 1.0 + 0.37 * bond2;
  // b - sqrt(b^2 - 1) written without cancellation
  const double root = 1.0 / (b + std::sqrt(b * b - 1.0));
  return 4.0 * root * root;
}

}  // namespace whorl::model
