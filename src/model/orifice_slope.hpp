// Losses of an orifice with their slope, for Newton's iteration on the flow.
#pragma once
#include "whorl/model/orifice.hpp"
#include "whorl/model/vessel.hpp"

namespace whorl::model {

struct LossesAndSlope {
  OrificeLosses losses;
  double slope{};  ///< d ln(all losses)/d ln(wall shear rate), to about 1e-6
};
/// orifice_losses() and how it grows with the wall shear rate. The integral of the flow curve is taken once: its slope
/// follows from itself.
/// Eq: orifice-losses
/// Valid: as orifice_losses()
/// Source: B. Rabinowitsch, Z. Phys. Chem. A 145 (1929) 1 (slope of the apparent rate; from memory)
[[nodiscard]] LossesAndSlope orifice_losses_and_slope(const Vessel& vessel, const FlowCurve& curve,
                                                      double density_kg_m3, double wall_rate);

}  // namespace whorl::model
