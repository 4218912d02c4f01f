// `--uncertainty` of estimate and sweep: bands by quasi-Monte Carlo, the three kinds of doubt kept apart.
#pragma once
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/uncertain.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

inline constexpr std::size_t kUsualSamples = 256;
inline constexpr std::size_t kLeastSamples = 16;
inline constexpr std::size_t kMostSamples = 1'000'000;

/// Samples asked for on the command line; empty text: the usual number. `all_in_full`: never on two levels.
/// Error: InputError
[[nodiscard]] engine::SamplePlan sample_plan(const std::string& samples, std::uint64_t seed, bool all_in_full = false);

/// Whether the samples are run on two levels: with tension, each without tension and well mixed, some of them as the
/// case says as well (engine/two_levels.hpp).
[[nodiscard]] bool on_two_levels(const model::CaseInput& input, const engine::SamplePlan& plan);

/// "; with tension 1 of 16 points of each set in full": how the samples of a plan are run, for metadata.
[[nodiscard]] std::string levels_text(const engine::SamplePlan& plan);

/// Runs for one set of samples, cheap ones and full ones together.
[[nodiscard]] std::size_t sample_runs(const model::CaseInput& input, const engine::SamplePlan& plan);

/// Bands of one operating point.
struct UncertaintyReport {
  std::vector<engine::UncertainInput> inputs;
  engine::SamplePlan plan;
  std::vector<const io::Output*> outputs;  ///< bands are in the unit of their columns
  engine::Spreadout known;                 ///< measurement and property
  engine::Spreadout form;                  ///< model form
  engine::Spreadout all;
};

/// Three times the samples of the plan, measurements and properties, model form, all: on two levels with tension.
/// Error: InputError when the case itself cannot be resolved, engine::Interrupted.
[[nodiscard]] UncertaintyReport uncertainty(const LoadedCase& loaded, const model::CaseInput& input,
                                            const engine::SamplePlan& plan, const engine::BatchRunner& runner);

[[nodiscard]] nlohmann::ordered_json uncertainty_json(const UncertaintyReport& report);
[[nodiscard]] nlohmann::ordered_json band_json(const engine::Band& band);
[[nodiscard]] nlohmann::ordered_json share_json(const engine::Share& share);

/// Whether the error leads beyond none or all: then one end of the 95 % interval is what can be said.
[[nodiscard]] bool one_sided(const engine::Share& share) noexcept;

/// "71 ± 2 %"; "under 8 %" and "over 80 %" where it is one-sided: the end of its 95 % interval.
[[nodiscard]] std::string share_text(const engine::Share& share);
[[nodiscard]] nlohmann::ordered_json inputs_json(const std::vector<engine::UncertainInput>& inputs);

/// A paragraph for the page of the estimate.
[[nodiscard]] std::string uncertainty_text(const UncertaintyReport& report);

/// Results as functions, values in the unit of the column.
[[nodiscard]] std::vector<engine::ResultFunction> result_functions(const std::vector<const io::Output*>& outputs);

// --- sweep: one row of further cells per point

/// Columns that `whorl sweep --uncertainty` adds.
[[nodiscard]] std::vector<io::TableColumn> uncertainty_columns();

/// Their cells for one point; as many as there are columns.
/// Error: as uncertainty()
[[nodiscard]] std::vector<std::optional<double>> uncertainty_cells(const LoadedCase& loaded,
                                                                   const model::CaseInput& input,
                                                                   const engine::SamplePlan& plan,
                                                                   const engine::BatchRunner& runner);

}  // namespace whorl::study
