// From estimates and tables to what figures take. Shared by `figure` and `report`.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "figures/figure_kinds.hpp"
#include "io/table.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/run_count.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

/// The estimate of a case from a file; bad input names the file.
[[nodiscard]] model::Estimate case_estimate(const study::LoadedCase& loaded, const engine::EstimateOptions& options);

/// "pcl-chloroform": the file name without its ending.
[[nodiscard]] std::string case_title(const study::LoadedCase& loaded);
/// The same with the operating point: "pcl-chloroform, 10 000 rpm, 0.1 MPa".
[[nodiscard]] std::string setting_title(const study::LoadedCase& loaded);

/// Adds the first jet of an estimate, with the vessel and collector of its case (the largest of all jets so far).
void add_jet(figures::PathFigure& figure, const study::LoadedCase& loaded, const model::Estimate& estimate,
             const std::string& name);
/// Adds the jet of a profile table, whose first and last stations stand on the wall and the collector.
void add_jet(figures::PathFigure& figure, const io::Table& profile, const std::string& name);

/// The stations of an estimate as the table that `estimate --profile` writes.
[[nodiscard]] io::Table profile_table(const model::Estimate& estimate, const std::string& file);
/// Panels along the jet. Empty x: distance along the jet; empty columns: diameter, speed, tension, temperature,
/// solvent.
[[nodiscard]] figures::PanelFigure profile_figure(const std::vector<io::Table>& profiles,
                                                  const std::vector<std::string>& names, const std::string& x,
                                                  const std::vector<std::string>& columns, const std::string& about);

struct SweepData {
  io::Table table;
  std::string about;
  /// The point of the case itself by column, where it was computed from a case.
  std::vector<std::pair<std::string, double>> base;
  std::vector<model::Estimate> estimates;  ///< one per row, when asked for
};
struct GridOptions {
  std::vector<std::string> vary;  ///< as of sweep; empty: the sweep block of the case, else a grid round the case
  bool one_axis{};                ///< that grid: speed alone, not speed and overpressure
  int speeds{9}, pressures{9};    ///< points of that grid
  bool ignore_block{};            ///< of the case
  bool keep_estimates{};          ///< with their profiles
  engine::Closeness closeness{engine::Closeness::full};
  bool run{true};             ///< jets over the emptying run; off: no means and spreads over it
  int threads{};
  engine::RunCount* run_count{};  ///< counts jets: the first and those of the run, of each point
  bool announced{};          ///< it expects them already
};
/// Columns of a sweep that were varied and have more than one value.
[[nodiscard]] std::vector<std::string> free_axes(const io::Table& sweep);
/// Computes a sweep of a case in memory.
/// Error: InputError as `sweep`, or for more than 20000 points; engine::Interrupted after Ctrl-C while a StopSignals
/// lives
[[nodiscard]] SweepData computed_sweep(const study::LoadedCase& loaded, const GridOptions& options);

/// Error: InputError when the sweep does not have exactly two free axes or a column is missing
[[nodiscard]] figures::MapFigure map_figure(const SweepData& sweep, const std::string& x, const std::string& y,
                                            const std::string& z);
[[nodiscard]] figures::PanelFigure trend_figure(const SweepData& sweep, const std::string& x,
                                                const std::vector<std::string>& columns, const std::string& series);

/// What gave the speed at the end of the jet, J/kg.
[[nodiscard]] figures::SplitFigure budget_figure(const nlohmann::ordered_json& budget, const std::string& about);
/// An estimate (JSON), and the file that it is from.
struct NamedJson {
  const nlohmann::ordered_json& json;
  std::string file;
};
/// Exact split of the change of ln d_f between two estimates into throughput, solids, line speed and excess draw.
/// Source: mass balance, docs/theory/03-jet-path.md
/// Error: InputError that names the file when one of them lacks a number
[[nodiscard]] figures::SplitFigure split_figure(const NamedJson& before, const NamedJson& after,
                                                const std::string& about);
/// The same from what `whorl explain --json` says of a change, with the parts of throughput and line speed under them.
/// Error: InputError when the file holds no split that was made
[[nodiscard]] figures::SplitFigure split_figure(const nlohmann::ordered_json& explained, const std::string& file);

/// Moments of the run that lay fibre.
void add_run(figures::DistributionFigure& figure, const model::Estimate& estimate);
/// A list of measured diameters in micrometres.
[[nodiscard]] std::vector<double> measured_diameters(const std::string& path);

}  // namespace whorl::answer
