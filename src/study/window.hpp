// Where in a plane of two settings a target is met: the boundary by refinement instead of a fine grid, the point with
// most room round it, and what stands in the way where nothing meets it. Knows the model only through the runner that
// it is given.
#pragma once
#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "whorl/engine/batch.hpp"
#include "whorl/engine/uncertain.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/result.hpp"

namespace whorl::study {

/// What is wanted of a case.
struct WindowTarget {
  std::optional<double> least_diameter_m, most_diameter_m;  ///< of the dry fibre at the start of the run
  std::vector<model::FibreClass> classes{model::FibreClass::continuous};  ///< any of them
  std::vector<model::Landing> landings{model::Landing::dry, model::Landing::firm};  ///< any of them
  std::optional<double> least_throughput_kg_s;              ///< polymer, all orifices, at the start of the run
};

/// One condition of the target.
struct WindowConstraint {
  std::string key;    ///< "result", "class", "landing", "diameter-least", "diameter-most", "throughput"
  bool continuous{};  ///< its margin is a continuous function where it is known: boundaries by interpolation
};
[[nodiscard]] std::vector<WindowConstraint> window_constraints(const WindowTarget& target);

/// One point, judged. Margins: one per constraint, met at 0 and above; none where there is no such number.
/// Margin of a diameter or throughput: logarithm of the ratio to the limit; of the others 1 or -1.
struct WindowProbe {
  std::vector<std::optional<double>> margins;
  bool converged{};
  std::string reason;
  model::FibreClass fibre_class{};
  model::Landing landing{model::Landing::none};
  std::optional<double> diameter_m, throughput_kg_s, residual_solvent;
  bool torn{};                          ///< the diameter is of torn threads
  double tearing_probability{};
  std::optional<double> other_diameter_m;  ///< in the other answer
  [[nodiscard]] bool met() const noexcept;
};
/// Eq: window-margin
[[nodiscard]] WindowProbe judge(const model::Estimate& estimate, const WindowTarget& target);

/// A point of the plane, 0 to 1 over the range of each axis.
struct UnitPoint {
  double x{}, y{};
};
using ProbeBatch = std::function<std::vector<WindowProbe>(const std::vector<UnitPoint>&)>;

struct WindowOptions {
  int base_level{3};  ///< 2^3 = 8 cells a side to begin with; an island smaller than such a cell can be missed
  int level{6};                  ///< cells on the boundary are halved down to 2^-6 of the range
  double bracket{0.004};         ///< a boundary point is known when it lies between two points this far apart ...
  double step{0.001};            ///< ... or when the last step of the interpolation was smaller than this
};

struct WindowNode {
  UnitPoint at;
  WindowProbe probe;
};

enum class CellState { met, missed, boundary };
struct WindowCell {
  UnitPoint low, high;
  CellState state{};
};

/// Closed line round a part of the region, the region on its left. `by[k]`: constraint that fails beyond the piece from
/// point k to k + 1;
/// -1: the edge of the range.
struct WindowRing {
  std::vector<UnitPoint> points;
  std::vector<int> by;
};

struct WindowMap {
  std::vector<WindowConstraint> constraints;
  std::vector<WindowNode> nodes;  ///< every point that was run
  std::vector<WindowCell> cells;  ///< cover the plane
  std::vector<WindowRing> rings;  ///< outer ones anticlockwise, holes clockwise
  double share{};                 ///< of the plane's area
};

/// Maps the region. Cells whose corners differ, or between whose corners the target may be met, are quartered down to
/// the last level; each edge of a last cell that crosses the boundary gets a point by interpolation of the margins, by
/// halving where they jump.
/// Eq: window-boundary
/// Valid: features wider than a cell of the base level; corners of the region are cut within a cell of the last level
/// Error: whatever the batch throws
[[nodiscard]] WindowMap map_window(const std::vector<WindowConstraint>& constraints, const ProbeBatch& probe,
                                   const WindowOptions& options = {});

/// Inside the rings (even-odd rule).
[[nodiscard]] bool inside(const WindowMap& map, const UnitPoint& at);

/// The plane measured in setting errors.
struct WindowScale {
  std::function<UnitPoint(const UnitPoint&)> to_errors;  ///< unit coordinates to multiples of the setting errors
  std::array<bool, 4>
      open{};  ///< edges (low x, high x, low y, high y) beyond which there is nothing to fall into: no boundary
};

struct TolerantPoint {
  UnitPoint at;
  double tolerance{};  ///< distance to the nearest boundary in setting errors
  UnitPoint nearest;   ///< that boundary point
  int by{-1};          ///< its constraint; -1: edge of the range
};
/// Distance from a point to the boundary.
/// Eq: window-tolerance
[[nodiscard]] TolerantPoint tolerance_at(const WindowMap& map, const WindowScale& scale, const UnitPoint& at);
/// The point with the largest distance; empty when the region is.
[[nodiscard]] std::optional<TolerantPoint> most_tolerant(const WindowMap& map, const WindowScale& scale);

/// Where nothing meets the target: the nearest point, what fails there, and the constraints that are in the way.
struct NearestMiss {
  WindowNode node;
  std::vector<int> unmet;   ///< constraints that fail at that point
  std::vector<int> alone;   ///< constraints without which some point would meet the target
};
/// Nearest: fewest conditions of kind (class, landing, result) failed, then the smallest sum of negative margins. Looks
/// further round the best point found, with a few dozen runs more, which are added to the nodes.
/// Eq: window-miss
[[nodiscard]] NearestMiss nearest_miss(WindowMap& map, const ProbeBatch& probe);

// ---------------------------------------------------------------------------------------------------------

/// One of the settings that span the plane. Values in a unit of the caller's choice.
struct WindowAxis {
  double from{}, to{};
  bool logarithmic{};
  std::function<void(model::CaseInput&, double)> set;
  [[nodiscard]] double value(double unit) const;
  [[nodiscard]] double unit(double value) const;
};

/// Runs points of the plane through the model.
[[nodiscard]] ProbeBatch probe_model(const model::CaseInput& base, const std::array<WindowAxis, 2>& axes,
                                     const WindowTarget& target, const engine::BatchRunner& runner);

/// Probability of meeting the target at one point.
struct ProbabilityNode {
  UnitPoint at;
  bool interpolated{};        ///< not run: between four points that hardly differ
  engine::Share all;                  ///< every doubt
  engine::Share known;                ///< measurements and properties only
};
struct ProbabilityMap {
  int cells{};                         ///< a side; nodes row by row, x fastest: (cells + 1)^2
  std::vector<ProbabilityNode> nodes;
  std::size_t not_converged{};
  std::size_t runs{};
};
/// Samples of a case at an operating point.
using SamplerAt = std::function<engine::Sampler(const model::CaseInput&)>;

/// Probability over a grid of 8 by 8 cells; where it changes by more than 0.15 over a cell also between them. Every
/// point has the same samples, so that it changes smoothly.
[[nodiscard]] ProbabilityMap map_probability(const model::CaseInput& base, const std::array<WindowAxis, 2>& axes,
                                             const WindowTarget& target, const SamplerAt& samples,
                                             const engine::BatchRunner& runner);

/// Lines of equal probability, by linear interpolation between the nodes.
[[nodiscard]] std::vector<std::vector<UnitPoint>> probability_contour(const ProbabilityMap& map, double level);

}  // namespace whorl::study
