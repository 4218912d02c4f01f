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
  first.air_variants = first.gas_variants = false;
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

namespace {

std::vector<model::Estimate> run_sides(const OptionRunner& one, EstimateOptions options, const Sides& sides,
                                       const std::function<void()>& told) {
  const std::shared_ptr<const jet::TensionMemory> base = options.from;
  std::vector<model::Estimate> out;
  for (const model::CaseInput& side : sides) {
    jet::TensionMemory solved;
    options.leave = base != nullptr && &side != &sides.back() ? &solved : nullptr;
    out.push_back(run_guarded([&](const model::CaseInput& input) { return one(input, options); }, side));
    if (options.leave != nullptr)
      options.from = std::make_shared<const jet::TensionMemory>(jet::mirror_image(solved, *base));
    if (told) told();
  }
  return out;
}

}  // namespace

NeighbourRunner neighbour_runner(OptionRunner one, const EstimateOptions& options, Loop loop,
                                 std::function<void()> told) {
  return [one = std::move(one), options, loop = std::move(loop), told = std::move(told)](const model::CaseInput& base) {
    EstimateOptions near = options;
    near.leave = nullptr;
    near.from = start_at(one, options, base);
    return [one, near, loop, told](const std::vector<Sides>& pairs) {
      std::vector<std::vector<model::Estimate>> out(pairs.size());
      loop(pairs.size(), [&](std::size_t i) { out[i] = run_sides(one, near, pairs[i], told); });
      return out;
    };
  };
}

}  // namespace whorl::engine
