// Flow through an orifice at a given charge, and the emptying of the vessel over the run.
#pragma once
#include <string>

#include "whorl/engine/setup.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

/// A flow thought to be near, of the same liquid through the same orifice: where a search starts.
struct NearFlow {
  double wall_shear_rate_1_s{};  ///< 0: none
  double driving_Pa{};
  double slope{};                ///< d ln(losses)/d ln(wall shear rate)
};

struct OrificeSolution {
  model::Status status{model::Status::not_converged};
  std::string reason{"not run"};
  model::ChargeState charge;
  NearFlow near;            ///< this flow, for one like it
  model::OrificeFlow flow;  ///< flow 0 when the orifice is dry or the driving pressure does not exceed the threshold
};

/// Quasi-steady flow with `volume_m3` left in the vessel. Solves losses(wall shear rate) = driving pressure.
/// `near`: where the search starts; none: from Hagen-Poiseuille.
/// Error: status not_converged with reason; never throws
[[nodiscard]] OrificeSolution solve_orifice(const Setup& setup, double volume_m3, const NearFlow& near = {});

/// Gas that leaves all orifices at this flow, at 0 degC and 1 atm.
[[nodiscard]] double normal_gas_flow_m3_s(const Setup& setup, const model::OrificeFlow& flow);

/// A gas supply has given out where the orifices take this share of what it holds, or where less than this share of the
/// overpressure is left: all of it but for rounding.
inline constexpr double kAllOfSupply = 1.0 - 1e-6;

struct RunOptions {
  int points{5};  ///< Gauss-Legendre points over the emptied volume; held to 2 to 10
};

/// How the charge runs down: dV/dt = -N Q(V). Fills the flow half of RunSummary (times, heel, break-through, points);
/// jets at the points are the caller's.
/// Eq: emptying
/// Valid: quasi-steady (time to accelerate the liquid in the orifice << run time)
struct RunDown {
  model::Status status{model::Status::not_converged};
  std::string reason{"not run"};
  model::RunSummary summary;
  std::vector<double> volume_weights;  ///< [m3] of charge that each point stands for
};
[[nodiscard]] RunDown run_down(const Setup& setup, const OrificeSolution& start, const RunOptions& options);

}  // namespace whorl::engine
