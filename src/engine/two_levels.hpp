// Samples on two levels: all of them run cheaply, some of them also in full; what the full ones say of the cheap ones
// corrects the distribution of all.
#pragma once
#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <vector>

#include "whorl/engine/uncertain.hpp"

namespace whorl::engine {

/// Which of the samples are run in full: the first points of every replicate.
struct Levels {
  std::size_t replicates{};
  std::size_t points{};  ///< per replicate, run cheaply
  std::size_t full{};    ///< of those, run in full as well
  [[nodiscard]] std::size_t samples() const noexcept { return replicates * points; }
  [[nodiscard]] std::size_t in_full() const noexcept { return replicates * full; }
};

/// How many points of every replicate are run in full: a sixteenth, one at least. All: nothing to be gained.
[[nodiscard]] Levels levels_of(const SamplePlan& plan) noexcept;

/// One result on both levels.
struct TwoLevels {
  Levels levels;
  std::span<const std::optional<double>> cheap;  ///< replicate by replicate
  std::span<const std::optional<double>> full;   ///< of the first points of each replicate, replicate by replicate
  std::span<const int> groups;  ///< of the cheap samples, 0 or 1: samples that are corrected apart from each other
  bool fraction{};              ///< from 0 to 1: corrections act on the ratio of the two parts, and never lead beyond
};

/// Band of the result in full: each cheap sample without a full run is moved by each correction seen among samples like
/// it; how the estimate of a share changes without one replicate after the other tells its error. None unless a full
/// sample has the result. A result that no cheap sample has rests on the full ones alone; one that is the same on both
/// levels wherever both were run rests on all the cheap ones.
/// Eq: two-level-distribution
/// Eq: jackknife-error
/// Valid: corrections that depend on the cheap result smoothly, seen in 8 full samples or more
/// Source: R. L. Chambers & R. Dunstan, Biometrika 73 (1986) 597; two levels of one model as in M. B. Giles, Oper. Res.
/// 56 (2008) 607
[[nodiscard]] std::optional<Band> band_of(const TwoLevels& result);

/// How samples end, on both levels; any numbers may stand for the ends.
struct Ends {
  Levels levels;
  std::span<const int> kinds;  ///< of the cheap samples: those of one kind are taken to change alike
  std::span<const int> cheap;  ///< replicate by replicate
  std::span<const int> full;   ///< of the first points of each replicate, replicate by replicate
};

/// Share of each end: of a cheap sample without a full run, the ends of the full ones of its kind; without such, its
/// own. Shares add up to 1; their error is at least half a full sample, and their 95 % interval that of as many
/// independent samples as have this error: no fewer than the full ones, no more than all.
/// Eq: two-level-share
/// Source: sampling in two phases, J. Neyman, J. Amer. Statist. Assoc. 33 (1938) 101 (from memory)
[[nodiscard]] std::map<int, Share> shares_of(const Ends& ends);

/// As spread_out(), on two levels. `cheaply` makes the cheap case of a sample.
/// Error: Interrupted.
[[nodiscard]] Spreadout spread_out_on_two_levels(
    const model::CaseInput& base, const Sampler& sampler, const KindSet& kinds,
    std::span<const ResultFunction> results, const BatchRunner& runner,
    const std::function<model::CaseInput(const model::CaseInput&)>& cheaply);

}  // namespace whorl::engine
