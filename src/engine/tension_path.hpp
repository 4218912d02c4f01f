// Path, drying and temperature of a jet whose speed along itself is given: marched with odeint, like the inertial tier.
#pragma once
#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "model/jet.hpp"
#include "model/result.hpp"

namespace whorl::engine {

/// Line speed over the radius: ln u by shape-preserving cubics between nodes, straight beyond the last. Over the radius
/// rather than the arc length: the length of a spiral answers wildly to small changes of the speed, the speed at a
/// radius does not.
class SpeedField {
 public:
  SpeedField(std::vector<double> radius, std::vector<double> log_speed);
  [[nodiscard]] double log_at(double radius) const;

 private:
  std::vector<double> at_radius_, log_, slope_;
  mutable std::size_t at_{0};
};

/// State of the march along s.
struct PathState {
  enum Index : std::size_t {
    kX, kY, kZ,        ///< [m]
    kTx, kTy, kTz,     ///< direction
    kSolvent,          ///< X
    kTemperature,      ///< [K]
    kTime,             ///< [s]
    kBody,             ///< integral of m b ds [W]
    kDrag,             ///< integral of the axial drag [N]
    kResistance,       ///< integral of its resistance [N s/m]
    kDragWork,         ///< [J/kg]
    kHeatGained,       ///< [J per kg polymer]
    kEvaporated,       ///< kg per kg polymer
    kSize
  };
  using Array = std::array<double, kSize>;
};

struct PathOptions {
  double relative_tolerance{1e-6};
  double max_turns{20.0};
  bool freeze_when_solid{true};
};

enum class PathEnd { collector, inward, fallen, too_long, failed };

struct PathResult {
  PathEnd end{PathEnd::failed};
  std::string message;
  double length_m{};        ///< of the whole path
  double liquid_m{};        ///< where it solidifies, else the whole length
  bool solid{};
  double solid_log_speed{};
  PathState::Array at_liquid_end{}, at_end{};
  std::size_t rhs_calls{}, steps{}, rejected{};

  /// Knots of the march with the state in between, for at_radius().
  struct Step {
    double from{}, to{};
    std::array<PathState::Array, 4> state{};  ///< at 0, 1/3, 2/3, 1 of the step
  };
  std::vector<Step> step;
  struct Place {
    double arc_m{};
    PathState::Array state{};
  };
  [[nodiscard]] Place at_radius(double radius) const;
};

/// What radial drying adds: ratio of surface to mean solvent as the jet dries, and the mean at which the draw freezes.
/// Taken from the inertial jet and held: the profile inside is taken to depend on how dry the jet is, not on how fast it
/// got there.
struct SurfaceHistory {
  std::vector<double> dryness, share;  ///< -X, increasing, and surface X / X; empty: well mixed
  double freezing_ratio{};             ///< X where the draw freezes; 0: by the mean composition; negative: never
  [[nodiscard]] double share_at(double solvent_ratio) const;
};

/// Never throws, never NaN; `failed` with a message.
[[nodiscard]] PathResult march_path(const model::JetContext& context, const SpeedField& speed,
                                    const SurfaceHistory& surface, const PathOptions& options);

}  // namespace whorl::engine
