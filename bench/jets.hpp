// A shipped case made ready to be timed: resolved once, with the equations of its first jet.
#pragma once
#include <array>
#include <stdexcept>
#include <string>

#include "whorl/jet/jet_inertial.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/setup.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"

namespace whorl::bench {

/// All shipped cases.
inline constexpr std::array kCases{"pcl-chloroform", "peo-water-training", "pmma-acetone-dry",
                                   "pmma-acetone-humid", "ps-thf-sweep", "pva-water-wet",
                                   "pvp-ethanol-measured", "slow-dripping", "thin-jet-stalled"};

/// Not movable: the jet's context refers into the setup.
class FirstJet {
 public:
  explicit FirstJet(const std::string& name)
      : setup_(read(name)), start_(engine::solve_orifice(setup_, setup_.input.operation.charge_volume_m3)) {
    if (!(start_.flow.flow_m3_s > 0.0)) throw std::runtime_error(name + ": nothing leaves the orifice");
    context_ = setup_.jet_context(start_.flow.flow_m3_s);
    options_.relative_tolerance = setup_.input.numerics.relative_tolerance;
    options_.drying = model::DryingModel::lumped;
    options_.max_turns = setup_.input.numerics.max_turns;
  }
  FirstJet(const FirstJet&) = delete;
  FirstJet& operator=(const FirstJet&) = delete;

  [[nodiscard]] const engine::Setup& setup() const noexcept { return setup_; }
  [[nodiscard]] const engine::OrificeSolution& start() const noexcept { return start_; }
  [[nodiscard]] const model::JetContext& context() const noexcept { return context_; }
  /// As an estimate of the case solves it, drying lumped.
  [[nodiscard]] const jet::JetOptions& options() const noexcept { return options_; }

 private:
  static engine::Setup read(const std::string& name) {
    model::CaseInput input =
        io::read_case_file(std::string(WHORL_SOURCE_DIR) + "/cases/" + name + ".json").input;
    input.model.drying = model::DryingModel::lumped;
    input.model.tier = model::Tier::inertial;
    return engine::resolve(input, io::built_in_library());
  }

  engine::Setup setup_;
  engine::OrificeSolution start_;
  model::JetContext context_;
  jet::JetOptions options_;
};

}  // namespace whorl::bench
