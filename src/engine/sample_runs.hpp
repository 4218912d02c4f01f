// Some samples of a case, run: how each ended and what it gave.
#pragma once
#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/uncertain.hpp"

namespace whorl::engine {

/// How one sample ended.
struct SampleEnd {
  bool done{};
  model::FibreClass fibre_class{};
  model::Landing landing{};
  bool torn{};
};

struct SampleRuns {
  std::vector<SampleEnd> ends;                             ///< in the order of the numbers that were asked for
  std::vector<std::vector<std::optional<double>>> values;  ///< per result; empty where a run gave none
  std::size_t not_converged{};
  std::map<std::string, std::size_t> reasons;  ///< of those
};

/// Runs the samples of these numbers, in batches.
/// Error: Interrupted.
[[nodiscard]] SampleRuns run_samples(const std::vector<std::size_t>& numbers,
                                     const std::function<model::CaseInput(std::size_t)>& sample,
                                     std::span<const ResultFunction> results, const BatchRunner& runner);

}  // namespace whorl::engine
