// The charge in the turning vessel: shape of the free surface and the layer over the orifices.
#pragma once
#include "whorl/model/case.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/result.hpp"

namespace whorl::model {

struct Vessel {
  double bore_radius_m{};    ///< R_i
  double outer_radius_m{};   ///< R = R_i + L_o
  double height_m{};         ///< H
  double orifice_length_m{};   ///< L_o = wall thickness
  double orifice_radius_m{};   ///< a_o
  double orifice_count{};      ///< N
  double orifice_height_m{};   ///< z_o above the floor
  double lid_opening_radius_m{};  ///< 0: closed
  double gravity_m_s2{kStandardGravity_m_s2};
};
[[nodiscard]] Vessel make_vessel(const VesselInput& input);

/// Volume of liquid below the paraboloid z = z0 + Omega^2 r^2 / (2 g), cut off by floor and lid [m3].
/// Eq: free-surface
/// Valid: any Omega >= 0; z0 may be negative (dry centre). Exact for a rigidly turning liquid.
/// Source: hydrostatics of a rotating liquid (any fluid mechanics text)
[[nodiscard]] double liquid_volume_m3(const Vessel& vessel, double speed_rad_s, double apex_height_m);

/// Apex height z0 of the free surface that holds `volume_m3` [m].
/// Eq: free-surface
/// Valid: 0 <= volume <= pi R_i^2 H. Closed-form bracket, bisection to 1e-14 of the height scale.
[[nodiscard]] double apex_height_m(const Vessel& vessel, double speed_rad_s, double volume_m3);

/// Layer over the orifices, spill over an open lid, and whether the orifices are wet.
/// Eq: annulus-radius
/// Valid: rigid rotation; capillary shape of the surface neglected
/// Source: paraboloid of a liquid in rigid rotation, cut by floor and lid
[[nodiscard]] ChargeState charge_state(const Vessel& vessel, double speed_rad_s, double volume_m3);

/// Pressure of the liquid at the mouth of an orifice above that of the gas, were nothing to flow [Pa], split into its
/// centrifugal part (layer plus liquid inside the orifice) and its hydrostatic part.
/// Eq: centrifugal-head
/// Valid: orifice wet
struct LiquidHead {
  double centrifugal_Pa{};
  double hydrostatic_Pa{};
};
[[nodiscard]] LiquidHead liquid_head(const Vessel& vessel, double speed_rad_s, double density_kg_m3,
                                     const ChargeState& state);

/// Volume that has to be left so that the orifices are just wet [m3]; liquid below cannot be spun.
/// Eq: annulus-radius
/// Valid: as charge_state()
/// Source: as charge_state()
[[nodiscard]] double wetting_volume_m3(const Vessel& vessel, double speed_rad_s);

/// Layer thickness over an orifice at which gas starts to be drawn through with the liquid [m].
/// h_c = 0.69 (Q^2 / g')^(1/5) with g' = Omega^2 R_i, for draining through a hole under a free surface; the gas
/// density is neglected against the liquid's. Viscosity delays it; treat as uncertain by a factor 1.5.
/// Eq: gas-breakthrough
/// Valid: h_c above one orifice radius or so; below that h_c is not less than the orifice radius
/// Source: form: Lubin & Springer, J. Fluid Mech. 29 (1967) 385, constant 0.69 from memory; g -> Omega^2 R_i is our use
[[nodiscard]] double breakthrough_layer_m(const Vessel& vessel, double speed_rad_s, double flow_m3_s);

/// Layer of a viscous charge that can just drain to an orifice at this flow [m]: lubrication flow in the layer from
/// half the spacing of the orifices to the rim of one.
///   Q = pi rho g' h^4 / (6 eta_0 L), L = ln(pi R_i/(N a_o)), g' = Omega^2 R_i   so   h_d = (6 eta_0 Q L/(pi rho
///   g'))^(1/4)
/// Eq: layer-drainage
/// Valid: creeping flow in a layer thinner than the spacing; L not below 0.5 (orifices that nearly touch)
/// Source: own closure: film of thickness h, flux g' h^3/(3 nu) times the slope of the layer, integrated over the
/// radius
[[nodiscard]] double drainage_layer_m(const Vessel& vessel, double speed_rad_s, double density_kg_m3,
                                      double viscosity_Pa_s, double flow_m3_s);

/// Layer at which gas goes through when both limits act: fourth-power mean of submergence and drainage.
/// Eq: gas-layer
/// Valid: as gas-breakthrough and layer-drainage
/// Source: own closure
[[nodiscard]] double gas_layer_m(double submergence_m, double drainage_m);

}  // namespace whorl::model
