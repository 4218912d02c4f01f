// Many model runs at once. The engine starts no threads: it hands whole batches to whoever runs them.
#pragma once
#include <cstddef>
#include <functional>
#include <stdexcept>
#include <vector>

#include "whorl/model/case.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

/// Runs cases and returns their estimates in the same order. A case that is refused or fails comes back not converged,
/// with the reason ("refused: ..." for bad input).
/// Error: Interrupted when the user stopped it; std::bad_alloc.
using BatchRunner = std::function<std::vector<model::Estimate>(const std::vector<model::CaseInput>&)>;

/// Does each of `count` pieces of work once, in any order, on as many threads as it likes.
/// Error: Interrupted when the user stopped it; what a piece throws.
using Loop = std::function<void(std::size_t count, const std::function<void(std::size_t)>& each)>;

/// Runs one case. May throw.
using CaseRunner = std::function<model::Estimate(const model::CaseInput&)>;

/// The user stopped the work.
class Interrupted : public std::runtime_error {
 public:
  Interrupted() : std::runtime_error("interrupted") {}
};

/// One case without exceptions, but for std::bad_alloc and Interrupted, which say nothing about the case.
[[nodiscard]] model::Estimate run_guarded(const CaseRunner& runner, const model::CaseInput& input);

/// Runs a batch one case after the other.
[[nodiscard]] BatchRunner serial_runner(CaseRunner runner);

/// One piece after the other.
[[nodiscard]] Loop serial_loop();

/// A runner that adds up how many cases went through it. `count` must outlive it.
[[nodiscard]] BatchRunner counting_runner(BatchRunner runner, std::size_t& count);

}  // namespace whorl::engine
