// Computes the points of a sweep and writes them as they come. Knows neither how a point is computed nor the command
// line.
#pragma once
#include <cstdint>
#include <functional>
#include <iosfwd>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "table/sweep_columns.hpp"
#include "table/whole_file.hpp"
#include "whorl/engine/design.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/sweep_spec.hpp"

namespace whorl::run {

/// Computes one point; called from many threads at once.
using Evaluate = std::function<model::Estimate(const model::CaseInput&)>;

/// Further cells of a row, for points that are done. May throw engine::Interrupted: then the point is not written.
using MoreCells = std::function<std::vector<std::optional<double>>(const model::CaseInput&)>;

struct SweepPlan {
  model::CaseInput base;
  std::vector<study::SweptKey> keys;
  engine::Design design;
  std::string case_name;        ///< file name, for people
  std::string case_sha256;      ///< of everything that decides the numbers beside the varied keys
  std::string library_sha256;   ///< of the property library built into the program
  std::string program_version;
  std::uint64_t first{};        ///< range of point indices to compute, from 0: [first, last)
  std::uint64_t last{};         ///< design.size() for a whole sweep; less for a share
  std::vector<io::TableColumn> more_columns{};  ///< behind those of the estimate
  MoreCells more_cells{};                       ///< as many cells as there are more_columns
  std::vector<std::pair<std::string, std::string>> more_facts{};  ///< what decides them; part of the identity
  table::SweepColumns columns{table::SweepColumns::all};
};

struct SweepOptions {
  std::string output;           ///< empty: rows go to standard output, without a metadata file
  bool resume{};
  bool force{};
  int threads{};                ///< 0: as many as the machine offers this process
  std::ostream* progress{};     ///< nullptr: none
};

struct SweepReport {
  std::uint64_t points{};       ///< of this file
  std::uint64_t kept{};         ///< found in the file that was resumed
  std::uint64_t computed{};
  std::uint64_t done{};
  std::uint64_t not_converged{};
  std::uint64_t refused{};
  std::uint64_t failed{};
  bool interrupted{};
  double seconds{};
  std::string identity;
};

/// First line of the file, with its line feed.
[[nodiscard]] std::string sweep_header(const SweepPlan& plan);

/// Digest of everything that decides the bytes of the whole sweep. Shares of one sweep have the same identity.
[[nodiscard]] std::string sweep_identity(const SweepPlan& plan);

/// The columns of that line, with what they hold.
[[nodiscard]] std::vector<io::TableColumn> sweep_columns(const SweepPlan& plan);

/// Metadata document beside the file.
[[nodiscard]] std::string sweep_metadata(const SweepPlan& plan, const std::string& output);

/// The row of one point, with its line feed. `estimate` is empty when the point could not be computed.
struct PointOutcome {
  const char* status{};         ///< "done", "not-converged", "refused", "failed"
  std::string reason;
  const model::Estimate* estimate{};
  std::vector<std::optional<double>> more{};
};
void append_sweep_row(std::string& line, const SweepPlan& plan, std::uint64_t index, const std::vector<double>& values,
                      const PointOutcome& outcome);

/// Runs the sweep. SIGINT and SIGTERM end it after the points at work; a second one ends the program at once.
/// Error: InputError when the output exists and neither resume nor force is set, belongs to another sweep, or cannot be
/// opened; OutputError when writing fails later.
[[nodiscard]] SweepReport run_sweep(const SweepPlan& plan, const SweepOptions& options, const Evaluate& evaluate);

}  // namespace whorl::run
