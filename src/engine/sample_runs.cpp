#include "engine/sample_runs.hpp"

#include <algorithm>

namespace whorl::engine {
namespace {

constexpr std::size_t kBatch = 4096;
constexpr std::size_t kLongestReason = 120;

std::string shortened(const std::string& reason) {
  return reason.size() <= kLongestReason ? reason : reason.substr(0, kLongestReason) + "...";
}

}  // namespace

SampleRuns run_samples(const std::vector<std::size_t>& numbers,
                       const std::function<model::CaseInput(std::size_t)>& sample,
                       std::span<const ResultFunction> results, const BatchRunner& runner) {
  SampleRuns out;
  out.ends.resize(numbers.size());
  out.values.assign(results.size(), std::vector<std::optional<double>>(numbers.size()));
  std::vector<model::CaseInput> batch;
  for (std::size_t first = 0; first < numbers.size(); first += kBatch) {
    const std::size_t last = std::min(first + kBatch, numbers.size());
    batch.clear();
    for (std::size_t i = first; i < last; ++i) batch.push_back(sample(numbers[i]));
    const std::vector<model::Estimate> estimates = runner(batch);
    for (std::size_t i = first; i < last; ++i) {
      const model::Estimate& estimate = estimates[i - first];
      if (estimate.status != model::Status::done) {
        ++out.not_converged;
        ++out.reasons[shortened(estimate.reason)];
        continue;
      }
      out.ends[i] = {true, estimate.fibre_class, estimate.landing, estimate.torn};
      for (std::size_t k = 0; k < results.size(); ++k) out.values[k][i] = results[k].get(estimate);
    }
  }
  return out;
}

}  // namespace whorl::engine
