// `whorl explain`: why the diameter is what it is, why it changed, and which doubt matters.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "app/estimate.hpp"
#include "engine/explain.hpp"
#include "engine/sensitivity.hpp"
#include "io/prose.hpp"

namespace whorl::app {

/// One operating point with a name for people.
struct NamedPoint {
  std::string name;
  engine::OperatingPoint point;
};

/// `--sensitivity`.
struct SensitivityReport {
  engine::CaseSensitivity indices;         ///< results: kResultDiameter, kResultFibre
  std::optional<std::size_t> measure;      ///< input whose measurement would narrow the diameter most
  engine::NarrowedBand narrowed;           ///< by it
};
inline constexpr std::size_t kResultDiameter = 0;  ///< logarithm of the dry diameter in um
inline constexpr std::size_t kResultFibre = 1;     ///< 1 where a fibre lands, else 0

/// What is said about one point.
struct PointReport {
  NamedPoint at;
  std::vector<engine::Response> responses;
  engine::Elasticities elasticities;
  std::vector<engine::UncertainInput> doubts;
  std::optional<SensitivityReport> sensitivity;
};

/// What is said about two.
struct ChangeReport {
  NamedPoint from, to;
  std::vector<std::string> inputs;  ///< what differs, "rotation_speed: 6000 rpm -> 12000 rpm"
  engine::ChangeSplit split;
};

/// Every numeric key of a case that has a value, enters the physics and is no whole number, as something to be moved.
[[nodiscard]] std::vector<engine::Knob> knobs_of(const model::CaseInput& input);
/// The outputs that are differentiated: dry diameter, flow, line speed, residual solvent and run time first, then every other number.
[[nodiscard]] std::vector<engine::Response> responses_for_explain();

/// Error: InputError
[[nodiscard]] PointReport report_point(const LoadedCase& loaded, const std::string& name, const engine::NeighbourRunner& neighbours,
                                       engine::RunCount* run_count = nullptr);
/// How many neighbours that takes, about; `run_count` counts the estimate of the case itself.
[[nodiscard]] std::size_t runs_of_point(const model::CaseInput& input);
[[nodiscard]] SensitivityReport report_sensitivity(const model::CaseInput& input, const std::vector<engine::UncertainInput>& inputs,
                                                   const engine::SamplePlan& plan, const engine::BatchRunner& runner);
[[nodiscard]] ChangeReport report_change(NamedPoint from, NamedPoint to);

/// The text. Every sentence is chosen by the numbers of the report.
[[nodiscard]] io::Prose explain_point(const PointReport& report);
[[nodiscard]] io::Prose explain_change(const ChangeReport& report);

[[nodiscard]] nlohmann::ordered_json explain_json(const PointReport& report);
[[nodiscard]] nlohmann::ordered_json explain_json(const ChangeReport& report);

}  // namespace whorl::app
