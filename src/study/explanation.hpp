// Why the diameter is what it is, why it changed, and which doubt matters.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "whorl/study/explain.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/sensitivity.hpp"

namespace whorl::study {

/// One operating point with a name for people.
struct NamedPoint {
  std::string name;
  OperatingPoint point;
};

/// `--sensitivity`.
struct SensitivityReport {
  CaseSensitivity indices;         ///< results: kResultDiameter, kResultFibre
  std::optional<std::size_t> measure;      ///< input whose measurement would narrow the diameter most
  NarrowedBand narrowed;           ///< by it
};
inline constexpr std::size_t kResultDiameter = 0;  ///< logarithm of the dry diameter in um
inline constexpr std::size_t kResultFibre = 1;     ///< 1 where a fibre lands, else 0

/// What is said about one point.
struct PointReport {
  NamedPoint at;
  std::vector<Response> responses;
  Elasticities elasticities;
  std::vector<engine::UncertainInput> doubts;
  std::optional<SensitivityReport> sensitivity;
};

/// What is said about two.
struct ChangeReport {
  NamedPoint from, to;
  std::vector<std::string> inputs;  ///< what differs, "rotation_speed: 6000 rpm -> 12000 rpm"
  ChangeSplit split;
};

/// Every numeric key of a case that has a value, enters the physics and is no whole number, as something to be moved.
[[nodiscard]] std::vector<Knob> knobs_of(const model::CaseInput& input);
/// The outputs that are differentiated: dry diameter, flow, line speed, residual solvent and run time first, then every
/// other number.
[[nodiscard]] std::vector<Response> responses_for_explain();

/// The operating point of a case. `whole`: with the run and in other air.
/// Error: InputError
[[nodiscard]] OperatingPoint point_of(const LoadedCase& loaded, const model::CaseInput& input, bool whole,
                                      engine::RunCount* run_count);

/// Error: InputError
[[nodiscard]] PointReport report_point(const LoadedCase& loaded, const std::string& name,
                                       const engine::NeighbourRunner& neighbours,
                                       engine::RunCount* run_count = nullptr);
/// Of a point that was solved before, whole.
[[nodiscard]] PointReport report_point(const LoadedCase& loaded, NamedPoint at,
                                       const engine::NeighbourRunner& neighbours);
/// How many neighbours that takes, about; `run_count` counts the estimate of the case itself.
[[nodiscard]] std::size_t runs_of_point(const model::CaseInput& input);
/// How many runs that is: the indices, then the band with one input free and held.
[[nodiscard]] std::size_t runs_of_sensitivity(const LoadedCase& loaded, const engine::SamplePlan& plan);
[[nodiscard]] SensitivityReport report_sensitivity(const model::CaseInput& input,
                                                   const std::vector<engine::UncertainInput>& inputs,
                                                   const engine::SamplePlan& plan, const engine::BatchRunner& runner);
[[nodiscard]] ChangeReport report_change(NamedPoint from, NamedPoint to);

}  // namespace whorl::study
