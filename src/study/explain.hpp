// Why the diameter is what it is, and why it changed: exact splits between two operating points, and elasticities at
// one.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/neighbours.hpp"

namespace whorl::study {

/// A resolved case with its estimate.
struct OperatingPoint {
  engine::Setup setup;
  model::Estimate estimate;
};

/// Empty when a split of one line may be made from this point; else why not: not converged, did not arrive, or no
/// fibre.
[[nodiscard]] std::string why_not_explained(const model::Estimate& estimate);

/// One part of a change of a logarithm.
struct Part {
  std::string key;
  double value{};  ///< contribution to the change of the logarithm
  double from{};   ///< the quantity behind it at the first point, in the SI unit of its table
  double to{};
};

/// ln(d_b/d_a) of torn threads in parts that sum to it.
struct ThreadSplit {
  bool made{};
  double total{};
  std::vector<Part> parts;  ///< gas speed, gas density, surface tension, solids, orifice, humidity, size factor
};

/// ln(d_b/d_a) of the dry diameter of one line in parts that sum to it, and of torn threads where gas goes through at
/// both points.
struct ChangeSplit {
  bool made{};
  std::string reason;  ///< why not made
  double total{};      ///< ln(d_b/d_a)
  // contributions to `total`
  std::vector<Part> diameter;    ///< throughput, solids, line-speed, excess-draw
  std::vector<Part> line_speed;  ///< of the line-speed part; from, to: energy [J/kg]
  std::vector<Part> throughput;  ///< of the throughput part, by what was changed (order-free shares)
  ThreadSplit threads;
  std::vector<Part>
      orifice;  ///< of the throughput part once more, by the pressure balance of the orifice as it is at both points
};

/// Exact split of the change of a torn thread's diameter: the laws are products of powers.
/// Eq: thread-split
/// Valid: the same thread law at both points
/// Source: torn-thread, by its logarithm
[[nodiscard]] ThreadSplit split_threads(const OperatingPoint& a, const OperatingPoint& b);

/// Logarithmic mean (b - a)/(ln b - ln a).
/// Eq: logarithmic-mean
/// Valid: a, b > 0; series near a = b, relative error below 1e-12
[[nodiscard]] double logarithmic_mean(double a, double b);

/// Exact split of the change of dry diameter from `a` to `b`.
///   ln d = 1/2 (ln Q + ln phi_p - ln u_f - ln E) + const
/// Eq: diameter-split
/// Valid: both points converged and arrived as a fibre
/// Error: `made` is false with a reason; no exception, no partial numbers
/// Source: mass of polymer along the jet (identity); parts of ln u_f by logarithmic means, those of ln Q by Shapley's
/// value: own choice; its axioms: L. S. Shapley, in: Contributions to the Theory of Games II, Princeton 1953, 307-317
/// (from memory)
[[nodiscard]] ChangeSplit split_change(const OperatingPoint& a, const OperatingPoint& b);

/// One input that may be moved.
struct Knob {
  std::string key;
  double value{};       ///< SI
  bool absolute{};      ///< derivative per unit of the input (temperatures: per K), not per unit of its logarithm
  double lowest{}, highest{};
  std::function<void(model::CaseInput&, double)> set;
};

/// A derivative by a central difference.
struct Slope {
  bool known{};
  double value{};
  double bend{};    ///< slope of the upper half less that of the lower one: curvature over the step
  bool linear{};    ///< the bend is small against the value
};

/// An output whose derivative is wanted.
struct Response {
  std::string key;
  bool logarithm{true};  ///< derivative of its logarithm; else of the value as `get` gives it
  std::function<std::optional<double>(const model::Estimate&)> get;
};

/// What one input does to the outputs.
struct Elasticity {
  std::string key;
  bool absolute{};
  double step{};
  bool made{};
  std::string reason;         ///< why not: zero, at a limit, another class within the step
  std::vector<Slope> slopes;  ///< one per response
};

/// Elasticities at one operating point.
struct Elasticities {
  std::string reason;  ///< why there are none at this point; empty: see the rows
  std::vector<Elasticity> rows;
};

/// Logarithmic derivatives of the responses by central differences. `neighbours` runs cases without the emptying run,
/// each started from the solution of the case itself and marched by its steps: what a step and a mesh leave is nearly the
/// same on both sides, so that a step of half a per cent is enough and needs no extrapolation.
/// Eq: elasticity
/// Valid: where `linear`; the class must not change within the step (named when it does)
/// Error: an input whose steps do not all converge to a fibre of the same class is reported with `made` false and the
/// reason
/// Source: central difference; error of order h^2
[[nodiscard]] Elasticities elasticities(const model::CaseInput& input, const std::vector<Knob>& knobs,
                                        const std::vector<Response>& responses,
                                        const engine::NeighbourRunner& neighbours);

/// The same, every case from nothing.
[[nodiscard]] Elasticities elasticities(const model::CaseInput& input, const std::vector<Knob>& knobs,
                                        const std::vector<Response>& responses, const engine::BatchRunner& runner);

}  // namespace whorl::study
