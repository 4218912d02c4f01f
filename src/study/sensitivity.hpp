// Which uncertain input makes the estimate uncertain: variance-based indices over all of them at once.
#pragma once
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "whorl/engine/uncertain.hpp"

namespace whorl::study {

/// An index with half of its 95 % interval.
struct Index {
  double value{};
  double half_width{};  ///< of the 95 % interval, by the jackknife over replicates
};

/// What one input does to one result.
struct InputIndices {
  Index first;    ///< share of the variance that knowing this input would remove on average
  Index total;    ///< share that is left when all others are known
  Index spread;   ///< mean difference of two results with the same value of this input over that of two results; 1: it
                  ///< does nothing
};

/// Indices of one result.
struct Indices {
  std::size_t rows{};      ///< base samples
  std::size_t rows_used{};  ///< whose runs all have this result
  double mean{}, variance{};
  bool made{};
  std::string reason;      ///< why not made
  std::vector<InputIndices> inputs;
};

/// Evaluates points of the unit cube; results in the order of the points, empty where there is none.
using UnitModel =
    std::function<std::vector<std::vector<std::optional<double>>>(const std::vector<std::vector<double>>&)>;

/// First-order and total indices of `results` results of a model of `dimension` independent inputs, uniform in (0, 1).
///   S_i = mean f_B (f_ABi - f_A) / V,   S_Ti = mean (f_A - f_ABi)^2 / (2 V)
/// A and B are the two halves of scrambled Sobol points of twice the dimension; ABi is A with input i from B.
/// plan.size() rows of dimension + 2 runs.
/// Eq: sobol-indices
/// Valid: independent inputs. A row with a run without the result is left out for that result as a whole (`rows_used`):
///        the indices are then those among the samples that have it.
/// Error: not `made` when fewer than half of the rows are left, a replicate keeps fewer than two, or nothing varies
/// Source: I. M. Sobol', Math. Comput. Simul. 55 (2001) 271; first order: A. Saltelli et al., Comput. Phys. Commun. 181
///         (2010) 259, table 2(b); total: M. J. W. Jansen, Comput. Phys. Commun. 117 (1999) 35 (all from memory)
[[nodiscard]] std::vector<Indices> sobol_indices(std::size_t dimension, std::size_t results,
                                                 const engine::SamplePlan& plan, const UnitModel& model);

/// The same for a case. `runner` runs the cases.
struct CaseSensitivity {
  std::vector<engine::UncertainInput> inputs;
  engine::SamplePlan plan;
  std::size_t runs{};
  std::size_t not_converged{};
  std::map<std::string, std::size_t> reasons;  ///< of those, how often
  std::vector<Indices> results;
  std::vector<std::optional<engine::Band>> bands;      ///< of the results, over A and B
};
[[nodiscard]] CaseSensitivity case_sensitivity(const model::CaseInput& base,
                                               const std::vector<engine::UncertainInput>& inputs,
                                               const engine::SamplePlan& plan,
                                               std::span<const engine::ResultFunction> results,
                                               const engine::BatchRunner& runner);

/// What the 5 to 95 % band of a result becomes on average once input `which` is known: held in turn at the middles of
/// as many equal shares of its distribution as the plan has replicates, all others sampled.
/// Eq: narrowed-band
struct NarrowedBand {
  bool made{};
  double before{};  ///< ln(95 % quantile / 5 % quantile)
  double after{}, after_error{};  ///< mean over the held values, and its standard error as if they were drawn
  std::size_t runs{}, without_result{};
};
/// Valid: positive results
[[nodiscard]] NarrowedBand narrowed_band(const model::CaseInput& base,
                                         const std::vector<engine::UncertainInput>& inputs, std::size_t which,
                                         const engine::SamplePlan& plan, const engine::ResultFunction& result,
                                         const engine::BatchRunner& runner);

}  // namespace whorl::study
