// `whorl sweep CASE`: the estimate over a grid, a list or a space-filling design, to CSV.
#pragma once
#include <cstdint>
#include <iosfwd>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "app/commands.hpp"
#include "run/sweep_run.hpp"
#include "whorl/model/case.hpp"
#include "whorl/study/sweep_spec.hpp"

namespace whorl::app {

/// What the command line of `whorl sweep` says.
struct SweepArguments {
  study::SpecOverrides spec;
  std::string output;                ///< -o; empty: standard output
  bool resume{};
  bool force{};
  bool quiet{};
  bool json{};                       ///< summary on standard output; needs -o, as every form but text does
  int threads{};                     ///< 0: all
  std::optional<std::string> part;   ///< "k/n"
  std::string columns{"all"};        ///< all, short or answers
  UncertaintyArguments uncertainty;  ///< its `threads` is not used
  answer::FormArguments form{};
};

/// A case as read, with what identifies it.
struct SweepCase {
  std::string file;                  ///< as given, for messages
  model::CaseInput input;
  std::string sha256;                ///< of everything in the case and its own materials files that decides results
  std::string library_sha256;        ///< of the property library built into the program
  std::optional<study::SweepSpec> block;    ///< its "sweep" block
  std::vector<io::TableColumn> more_columns{};  ///< as those of SweepPlan
  run::MoreCells more_cells{};
  std::vector<std::pair<std::string, std::string>> more_facts{};
};

/// Point indices [first, last) of share "k/n" of `size` points: contiguous, sizes differ by one at most.
/// Error: InputError.
[[nodiscard]] std::pair<std::uint64_t, std::uint64_t> part_range(const std::string& part, std::uint64_t size);

/// Runs the sweep. `out` takes the JSON summary, `err` progress and the summary for people.
/// Returns the exit code: 0 every point has its row, 1 not a single point converged, 130 interrupted.
/// Error: InputError (exit code 2), OutputError (exit code 1).
[[nodiscard]] int sweep(const SweepArguments& arguments, const SweepCase& sweep_case,
                        const std::string& program_version, const run::Evaluate& evaluate, std::ostream& out,
                        std::ostream& err);

/// The whole command: reads the case, binds the estimate, runs.
struct SweepCommand {
  std::string case_file;
  SweepArguments arguments;
  study::CaseOverlay overlay{};
};

}  // namespace whorl::app
