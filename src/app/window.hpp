// `whorl window CASE`: which settings give the wanted fibre.
#pragma once
#include <cstddef>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/estimate.hpp"
#include "app/window_other.hpp"
#include "app/window_spec.hpp"
#include "document/document.hpp"
#include "engine/window.hpp"

namespace whorl::app {

/// The plane at one combination of levels of the further axes.
struct WindowSlice {
  std::vector<double> levels;  ///< display unit, one per further axis
  engine::WindowMap map;
  std::optional<engine::TolerantPoint> tolerant;
  std::optional<engine::NearestMiss> miss;  ///< where nothing meets the target
  std::optional<engine::ProbabilityMap> probability;
};

/// A point worth a trial.
struct WindowTrial {
  std::string why;              ///< "most tolerant", "finest fibre", ...
  std::size_t slice{};
  engine::UnitPoint at;
  double tolerance{};           ///< setting errors to the nearest boundary
  int by{-1};                   ///< its constraint; -1: edge of the range
  engine::WindowProbe probe;
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

/// Maps the target. `samples`: also the probability of meeting it, with the doubts of the case.
/// Error: engine::Interrupted, InputError
[[nodiscard]] WindowResult find_window(const LoadedCase& loaded, const WindowSpec& spec, const engine::BatchRunner& runner,
                                       const std::optional<engine::SamplePlan>& samples);

/// Point of highest probability, the first of several: slice and node. Empty without a probability map.
[[nodiscard]] std::optional<std::pair<std::size_t, std::size_t>> likeliest(const WindowResult& result);

// Reports (window_report.cpp). Format: docs/formats/window.md.
[[nodiscard]] nlohmann::ordered_json window_json(const LoadedCase& loaded, const WindowResult& result);
[[nodiscard]] document::Document window_document(const LoadedCase& loaded, const WindowResult& result);
/// Writes a table and its metadata.
/// Error: InputError, OutputError; nothing has changed then
void write_window_points(const LoadedCase& loaded, const WindowResult& result, const std::string& path, bool force);
void write_window_boundary(const LoadedCase& loaded, const WindowResult& result, const std::string& path, bool force);

}  // namespace whorl::app
