// Jets and torn threads over the whole run, from rest to the heel, and the two populations of fibre that they lay.
#pragma once
#include <vector>

#include "whorl/engine/line_jet.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/run_count.hpp"
#include "whorl/engine/spin_up.hpp"

namespace whorl::engine {

/// Fills the run of an estimate from its start and from what follows at full settings: points, masses, times, gas.
void compose_run(const Setup& setup, const SpinUp& start, const RunDown& down, model::Estimate& estimate);

/// Which lines of the run are followed.
enum class Lines {
  all,
  all_or_none,  ///< with gas, none unless one might be finer than the threads: as with `all`, to the last digit
  where_close   ///< with gas, those that might be finer than the threads also at a rough look, without tension
};

/// Solves one line per orifice at every point of the run, and the threads where gas goes through. Jets of the start are
/// followed without tension. The first failure is named; the rest still counts. Returns what was solved at full
/// settings.
std::vector<Solved> follow_run(const Setup& setup, const SpinUp& start, jet::TensionMemory near, Lines lines,
                               RunShare& run_count, model::Estimate& estimate);

/// Threads only, where no jet forms that could be followed.
void mark_threads(const Setup& setup, const SpinUp& start, model::Estimate& estimate);

/// Distribution over the run for one of the two answers: threads where gas goes through, or lines throughout.
/// Eq: run-populations
/// Valid: every population by mass: length = polymer volume / area of the dry fibre
/// Source: conservation of polymer; scatter of single fibres: see kSingleFibreSd
void summarise_run(bool torn, model::Estimate& estimate);

/// Standard deviation of ln d of single fibres at one setting. Published standard deviation over mean: median 0.28,
/// middle half 0.21 to 0.36 on the 96 rows of tests/reference/gas_spun_diameters.csv that state one; 0.36 (0.25 to
/// 0.54) over all gas-only studies collected.
/// Source: tools/thread-law scatter; between the two: own choice
inline constexpr double kSingleFibreSd = 0.35;

/// Dry diameter of threads at one moment; 0 without gas.
[[nodiscard]] double thread_diameter_m(const Setup& setup, const model::OrificeFlow& flow);

}  // namespace whorl::engine
