// Losses of an orifice with their slope, for Newton's iteration on the flow.
#pragma once
#include "whorl/model/orifice.hpp"
#include "whorl/model/vessel.hpp"

namespace whorl::model {

struct LossesAndSlope {
  OrificeLosses losses;
  double slope{};         ///< d ln(all losses)/d ln(wall shear rate), to about 1e-6
  double speed_slope{};   ///< of the mean speed alone
  double stress_slope{};  ///< of the wall stress alone
};
/// orifice_losses() and how it grows with the wall shear rate. The integral of the flow curve is taken once: its slope
/// follows from itself.
/// Eq: orifice-losses
/// Valid: as orifice_losses()
/// Source: B. Rabinowitsch, Z. Phys. Chem. A 145 (1929) 1 (slope of the apparent rate; from memory)
[[nodiscard]] LossesAndSlope orifice_losses_and_slope(const Vessel& vessel, const FlowCurve& curve,
                                                      double density_kg_m3, double wall_rate);

/// The losses at a wall shear rate that differs little from that of `at`: by `log_move` in its logarithm.
/// Valid: |log_move| up to 1e-5; the error is about its square
[[nodiscard]] OrificeLosses losses_beside(const Vessel& vessel, double density_kg_m3, const LossesAndSlope& at,
                                          double log_move);

}  // namespace whorl::model
