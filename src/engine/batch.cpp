#include "whorl/engine/batch.hpp"

#include <new>
#include <utility>

#include "whorl/model/error.hpp"

namespace whorl::engine {

model::Estimate run_guarded(const CaseRunner& runner, const model::CaseInput& input) {
  model::Estimate estimate;
  try {
    estimate = runner(input);
    if (estimate.status != model::Status::done && estimate.reason.empty()) estimate.reason = estimate.jet.reason;
    return estimate;
  } catch (const std::bad_alloc&) {
    throw;
  } catch (const Interrupted&) {
    throw;
  } catch (const InputError& error) {
    estimate.reason = std::string("refused: ") + error.what();
  } catch (const std::exception& error) {
    estimate.reason = std::string("failed: ") + error.what();
  } catch (...) {
    estimate.reason = "failed: unknown";
  }
  return estimate;
}

BatchRunner serial_runner(CaseRunner runner) {
  return [runner = std::move(runner)](const std::vector<model::CaseInput>& inputs) {
    std::vector<model::Estimate> estimates;
    estimates.reserve(inputs.size());
    for (const auto& input : inputs) estimates.push_back(run_guarded(runner, input));
    return estimates;
  };
}

Loop serial_loop() {
  return [](std::size_t count, const std::function<void(std::size_t)>& each) {
    for (std::size_t i = 0; i < count; ++i) each(i);
  };
}

BatchRunner counting_runner(BatchRunner runner, std::size_t& count) {
  return [runner = std::move(runner), &count](const std::vector<model::CaseInput>& inputs) {
    auto estimates = runner(inputs);
    count += inputs.size();
    return estimates;
  };
}

}  // namespace whorl::engine
