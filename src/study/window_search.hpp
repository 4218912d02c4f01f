// Which settings give the wanted fibre: one plane for every combination of the further axes.
#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "whorl/study/loaded_case.hpp"
#include "whorl/study/window.hpp"
#include "whorl/study/window_other.hpp"
#include "whorl/study/window_spec.hpp"

namespace whorl::study {

/// The plane at one combination of levels of the further axes.
struct WindowSlice {
  std::vector<double> levels;  ///< display unit, one per further axis
  WindowMap map;
  std::optional<TolerantPoint> tolerant;
  std::optional<NearestMiss> miss;  ///< where nothing meets the target
  std::optional<ProbabilityMap> probability;
};

/// A point worth a trial.
struct WindowTrial {
  std::string why;              ///< "most tolerant", "finest fibre", ...
  std::size_t slice{};
  UnitPoint at;
  double tolerance{};           ///< setting errors to the nearest boundary
  int by{-1};                   ///< its constraint; -1: edge of the range
  WindowProbe probe;
};

struct WindowResult {
  WindowSpec spec;
  std::vector<WindowSlice> slices;
  std::vector<WindowTrial> trials;   ///< the most tolerant one first; empty where nothing meets the target
  std::optional<std::size_t> nearest;  ///< slice with the nearest miss
  std::optional<OtherSolution> other;  ///< where nothing meets the target: another concentration that would
  double share{};                    ///< mean over the slices
  std::size_t runs{};                ///< of the model, without those of the probability map
  std::size_t probability_runs{};
  std::size_t not_converged{};       ///< of `runs`
  std::optional<engine::SamplePlan> samples;
  std::size_t probability_not_converged{};
  std::vector<std::string> notes;    ///< what to know of these axes
  [[nodiscard]] bool met() const noexcept { return !trials.empty(); }
};

/// Who runs what.
struct WindowRunners {
  engine::BatchRunner points;   ///< of the map (window_runner)
  engine::BatchRunner told;     ///< the few that are told to people, once more (told_runner); empty: as they are
  engine::BatchRunner samples;  ///< of the probability map
  bool samples_without_tension{};  ///< whatever the case says: doubts that only tension knows are then not drawn
};

/// Maps the target. `samples`: also the probability of meeting it, with the doubts of the case.
/// Error: engine::Interrupted, InputError
[[nodiscard]] WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec, const WindowRunners& runners,
                                       const std::optional<engine::SamplePlan>& samples);
/// One runner for all of it.
[[nodiscard]] WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec,
                                       const engine::BatchRunner& runner,
                                       const std::optional<engine::SamplePlan>& samples);

/// Point of highest probability, the first of several: slice and node. Empty without a probability map.
[[nodiscard]] std::optional<std::pair<std::size_t, std::size_t>> likeliest(const WindowResult& result);

/// Every combination of the levels of the further axes; one without any.
[[nodiscard]] std::vector<std::vector<double>> level_sets(const WindowSpec& spec);

/// Value of an axis in its display unit, at 0 to 1 of its range.
[[nodiscard]] double value_at(const PlaneAxis& axis, double unit);
/// Conditions that a point does not meet.
[[nodiscard]] std::vector<int> unmet_of(const WindowProbe& probe);

}  // namespace whorl::study
