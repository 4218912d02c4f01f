#include "whorl/engine/neighbours.hpp"

#include <utility>

#include "whorl/jet/tension.hpp"

namespace whorl::engine {
namespace {

bool holds_something(const jet::TensionMemory& memory) {
  return memory.exit_speed_m_s > 0.0 || memory.held_by_balance;
}

}  // namespace

std::shared_ptr<const jet::TensionMemory> start_at(const OptionRunner& one, const EstimateOptions& options,
                                                   const model::CaseInput& base) {
  if (base.model.tier != model::Tier::tension) return nullptr;
  auto memory = std::make_shared<jet::TensionMemory>();
  EstimateOptions first = options;
  first.run_distribution = false;
  first.air_variants = false;
  first.leave = memory.get();
  (void)run_guarded([&](const model::CaseInput& input) { return one(input, first); }, base);
  if (!holds_something(*memory)) return nullptr;
  // Once more as its own neighbour, by its own steps: neighbours that hardly differ then have next to no way to go.
  memory->steps.drying = {};  // neighbours have a tolerance of their own
  auto settled = std::make_shared<jet::TensionMemory>();
  first.from = memory;
  first.leave = settled.get();
  (void)run_guarded([&](const model::CaseInput& input) { return one(input, first); }, base);
  return holds_something(*settled) ? settled : memory;
}

NeighbourRunner neighbour_runner(OptionRunner one, const EstimateOptions& options, BatchMaker batch) {
  return [one = std::move(one), options, batch = std::move(batch)](const model::CaseInput& base) {
    EstimateOptions near = options;
    near.leave = nullptr;
    near.from = start_at(one, options, base);
    return batch([one, near](const model::CaseInput& input) { return one(input, near); });
  };
}

}  // namespace whorl::engine
