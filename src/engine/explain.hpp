// Why the diameter is what it is, and why it changed: exact splits between two operating points, and elasticities at one.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "engine/estimate.hpp"

namespace whorl::engine {

/// A resolved case with its estimate.
struct OperatingPoint {
  Setup setup;
  model::Estimate estimate;
};

/// Empty when a split may be made from this point; else why not: not converged, did not arrive, or no fibre.
[[nodiscard]] std::string why_not_explained(const model::Estimate& estimate);

/// One part of a change of a logarithm.
struct Part {
  std::string key;
  double value{};  ///< contribution to the change of the logarithm
  double from{};   ///< the quantity behind it at the first point, in the SI unit of its table
  double to{};
};

/// ln(d_b/d_a) of the dry diameter in parts that sum to it.
struct ChangeSplit {
  bool made{};
  std::string reason;  ///< why not made
  double total{};      ///< ln(d_b/d_a)
  // contributions to `total`
  std::vector<Part> diameter;    ///< throughput, solids, line-speed, excess-draw
  std::vector<Part> line_speed;  ///< of the line-speed part; from, to: energy [J/kg]
  std::vector<Part> throughput;  ///< of the throughput part
};

/// Logarithmic mean (b - a)/(ln b - ln a).
/// Eq: logarithmic-mean
/// Valid: a, b > 0; series near a = b, relative error below 1e-12
[[nodiscard]] double logarithmic_mean(double a, double b);

/// Exact split of the change of dry diameter from `a` to `b`.
///   ln d = 1/2 (ln Q + ln phi_p - ln u_f - ln E) + const
/// Eq: diameter-split
/// Valid: both points converged and arrived as a fibre
/// Error: `made` is false with a reason; no exception, no partial numbers
/// Source: mass of polymer along the jet (identity); parts of ln u_f by logarithmic means, those of ln Q by Shapley's value: own choice
[[nodiscard]] ChangeSplit split_change(const OperatingPoint& a, const OperatingPoint& b);

/// One input that may be moved.
struct Knob {
  std::string key;
  double value{};       ///< SI
  bool absolute{};      ///< derivative per unit of the input (temperatures: per K), not per unit of its logarithm
  double lowest{}, highest{};
  std::function<void(model::CaseInput&, double)> set;
};

/// A derivative by central differences at steps h and h/2, extrapolated.
struct Slope {
  bool known{};
  double value{};   ///< Richardson: (4 D(h/2) - D(h))/3
  double spread{};  ///< |D(h/2) - D(h)|
  double halves{};  ///< slope of the upper half step less that of the lower one: curvature over the step
  bool linear{};    ///< spread and halves are small against the value
};

/// What one input does to the outputs.
struct Elasticity {
  std::string key;
  bool absolute{};
  double step{};
  bool made{};
  std::string reason;  ///< why not: zero, at a limit, another class within the step
  Slope dry_diameter, flow, line_speed, run_time;  ///< d ln(output)
  Slope residual_solvent;                          ///< d(mass fraction)
};

/// Elasticities at one operating point.
/// Eq: elasticity
/// Valid: where `linear`; the class must not change within the step (named when it does)
/// Error: an input whose steps do not all converge to a fibre of the same class is reported with `made` false and the reason
[[nodiscard]] std::vector<Elasticity> elasticities(const model::CaseInput& input, const model::Library& library,
                                                   const std::vector<Knob>& knobs);

}  // namespace whorl::engine
