// Path, drying and temperature of a jet whose speed along itself is given: marched with odeint, like the inertial tier.
#pragma once
#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "whorl/model/jet.hpp"
#include "whorl/model/result.hpp"

namespace whorl::jet {

/// A smooth curve through points: shape-preserving cubics (Fritsch & Butland 1984), x increasing.
class Curve {
 public:
  Curve() = default;
  Curve(std::vector<double> x, std::vector<double> y);
  /// Cubics through known slopes.
  Curve(std::vector<double> x, std::vector<double> y, std::vector<double> slope)
      : x_(std::move(x)), y_(std::move(y)), slope_(std::move(slope)) {}
  [[nodiscard]] bool empty() const { return x_.empty(); }
  [[nodiscard]] std::size_t size() const { return x_.size(); }
  [[nodiscard]] double front() const { return x_.front(); }
  [[nodiscard]] double back() const { return x_.back(); }
  /// Slope at the last point.
  [[nodiscard]] double last_slope() const { return slope_.back(); }
  [[nodiscard]] const std::vector<double>& places() const { return x_; }
  /// Value; outside, that of the nearer end.
  [[nodiscard]] double at(double x) const;

 private:
  std::vector<double> x_, y_, slope_;
  mutable std::size_t at_{0};
};

/// Line speed over the radius: ln u through the nodes, straight beyond the last. Over the radius rather than the arc
/// length: the length of a spiral answers wildly to small changes of the speed, the speed at a radius does not.
class SpeedField {
 public:
  SpeedField(std::vector<double> radius, std::vector<double> log_speed)
      : curve_(std::move(radius), std::move(log_speed)) {}
  SpeedField(std::vector<double> radius, std::vector<double> log_speed, std::vector<double> slope)
      : curve_(std::move(radius), std::move(log_speed), std::move(slope)) {}
  [[nodiscard]] double log_at(double radius) const;

 private:
  Curve curve_;
};

/// State of the march along s, in cylindrical axes that turn with the vessel: a jet that the air carries round for many
/// turns changes slowly there.
struct PathState {
  enum Index : std::size_t {
    kRadius, kAngle, kZ,  ///< [m], [rad], [m]
    kTr, kTa, kTz,        ///< direction: outward, round, up
    kSolvent,             ///< X
    kTemperature,         ///< [K]
    kTime,                ///< [s]
    kBody,                ///< integral of m b ds [W]
    kDrag,                ///< integral of the axial drag [N]
    kResistance,          ///< integral of its resistance [N s/m]
    kDragWork,            ///< [J/kg]
    kHeatGained,          ///< [J per kg polymer]
    kEvaporated,          ///< kg per kg polymer
    kLogSpeed,            ///< ln u where the speed is not given (see PathOptions::given_until_m)
    kSize
  };
  using Array = std::array<double, kSize>;
};

/// Axes of a state of the path written with x outward through it (see model::JetAxes).
[[nodiscard]] inline model::JetAxes axes_at(const PathState::Array& s, double speed_rad_s) {
  return {-s[PathState::kAngle], -speed_rad_s * s[PathState::kTime] - s[PathState::kAngle]};
}

/// A fibre that lies along the collector, to within this share of its radius and this much of its direction outward,
/// touches it.
/// Source: own choice; only where, not how thick, a held fibre lands depends on it
inline constexpr double kTouch = 0.05;

/// Steps of a path, leg by leg: to march a path that differs little by the same ones (solver::StepPlan).
struct PathSteps {
  struct Leg {
    bool implicit{}, stiff{};
    std::vector<double> size;  ///< of the whole steps [m]
  };
  std::vector<Leg> leg;
  [[nodiscard]] bool empty() const { return leg.empty(); }
};

/// How a path is marched.
struct PathOptions {
  double relative_tolerance{1e-6};
  double max_turns{20.0};
  bool freeze_when_solid{true};
  /// The speed is given up to this radius; there the thread ends. 0: all the way.
  double given_until_m{};
  /// Beyond it: march on without pull (momentum alone sets the speed), else stop there.
  bool go_on{};
  bool stop_at_solid{};
  /// A solid fibre that lies along the collector touches it (see kTouch): one that is held there nears the radius for
  /// ever.
  bool touches{};
  const PathSteps* steps{};  ///< to march by; nullptr: by error control
  double stretch{1.0};       ///< of those steps, up to where the thread ends
};

enum class PathEnd { collector, inward, fallen, too_long, cut, solid, failed };

struct PathResult {
  PathEnd end{PathEnd::failed};
  std::string message;
  double length_m{};        ///< of the whole path
  double thread_m{};        ///< of the thread: to where it solidifies or `given_until_m`, else the whole length
  bool solid{};             ///< the thread ends where it solidifies
  bool cut{};               ///< the thread ends at `given_until_m`
  bool later_solid{};       ///< solidified beyond the thread's end
  double solid_m{};         ///< where it solidified
  PathState::Array at_solid{}, at_thread_end{}, at_end{};
  std::size_t rhs_calls{}, steps{}, rejected{};

  /// Knots of the march with the state in between, for at_radius() and at_arc().
  struct Step {
    double from{}, to{};
    std::array<PathState::Array, 4> state{};  ///< at 0, 1/3, 2/3, 1 of the step
    /// Cubic through the four, at the share x of the step.
    [[nodiscard]] PathState::Array at(double x) const;
  };
  std::vector<Step> step;
  PathSteps taken;  ///< the steps of the march
  struct Place {
    double arc_m{};
    PathState::Array state{};
  };
  /// Within the thread, which runs outward.
  [[nodiscard]] Place at_radius(double radius) const;
};

/// What radial drying adds: ratio of surface to mean solvent as the jet dries, and the mean at which the draw freezes.
/// Solved again on every new path (march_drying()), until path and profile agree.
struct SurfaceHistory {
  double start_ratio{};      ///< X at the start
  Curve share;               ///< surface X / X over dryness(); empty: well mixed
  double freezing_ratio{};   ///< X where the draw freezes; 0: by the mean composition; negative: never
  /// Square root of the share of the solvent that has left: under a flux the surface falls behind by the root of the
  /// time.
  [[nodiscard]] double dryness(double solvent_ratio) const;
  [[nodiscard]] double share_at(double solvent_ratio) const;
};

/// Never throws, never NaN; `failed` with a message.
[[nodiscard]] PathResult march_path(const model::JetContext& context, const SpeedField& speed,
                                    const SurfaceHistory& surface, const PathOptions& options);
/// The solid beyond a thread that ended where it solidified, at the line speed `speed_m_s` that it keeps: its steps
/// alone.
[[nodiscard]] PathResult march_solid(const model::JetContext& context, const PathResult& thread, double speed_m_s,
                                     const SurfaceHistory& surface, const PathOptions& options);
/// Most that a solid pulls at its beginning, before the limit of the momentum flux [N].
[[nodiscard]] double pull_of_solid(const PathResult& solid);

struct DryingOptions {
  std::size_t cells{16};
  double relative_tolerance{1e-6};
  bool freeze_when_solid{true};
  const PathSteps* steps{};  ///< to march by; nullptr: by error control
  double stretch{1.0};       ///< of those steps, up to where the draw freezes
};
struct DryingResult {
  bool ok{};
  std::string message;
  SurfaceHistory surface;
  bool solid{};
  double solid_m{};              ///< where the draw freezes
  double end_solvent_ratio{};    ///< mean of the cells
  double end_temperature_K{};
  /// Largest difference of mean solvent (over the charge's) and temperature (over 100 K) to those of the path.
  double off{};
  PathSteps taken;  ///< the steps of the march
  std::size_t rhs_calls{}, steps{}, rejected{}, jacobians{}, factorisations{};
};
/// Diffusion over the radius and temperature along a path that is known: implicit, as in the inertial tier.
/// Error: never throws; ok false with a message.
[[nodiscard]] DryingResult march_drying(const model::JetContext& context, const PathResult& path,
                                        const SpeedField& speed, const PathOptions& path_options,
                                        const DryingOptions& options);

}  // namespace whorl::jet
