// Diffusion over the radius along a path that is known.
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <span>

#include "jet/path_place.hpp"
#include "solver/implicit.hpp"
#include "whorl/jet/tension_path.hpp"
#include "whorl/model/radial.hpp"

namespace whorl::jet {
namespace {

using P = PathState;
using Wide = Eigen::VectorXd;

constexpr double kHeatScale_K = 100.0;  // a difference of the temperature by this counts like all of the solvent
constexpr double kLeastVolume = -0.5;   // of solvent in a cell, per polymer: below, a trial of the solver is none
constexpr double kSameDryness = 1e-9, kNoSolvent = 1e-9, kLeastRatio = 1e-12;
constexpr double kMostShare = 2.0;      // X at the surface over its mean: more is a division of two rests
constexpr double kOnward = 0.1;         // of a thread, by which it goes on past its end where it is not solid yet
constexpr double kBack = 2e-3, kBent = 5.0;  // of a thread: as far its end is looked back on; so many times ahead
constexpr int kMostSteps = 20000;
constexpr double kMostError = 20.0;     // of a step of a similar jet, in tolerances, where the draw freezes a little off

// Unknowns: temperature, then the solvent of the cells as volume per polymer, from the axis outward.
class DryingMarch {
 public:
  DryingMarch(const model::JetContext& context, const PathResult& path, const SpeedField& speed,
              const PathOptions& path_options, const DryingOptions& options)
      : context_(context),
        path_(path),
        speed_(speed),
        path_options_(path_options),
        options_(options),
        fluid_(*context.fluid),
        grid_(model::make_radial_grid(options.cells)),
        to_volume_(fluid_.polymer_density_kg_m3 / fluid_.solvent_density_kg_m3),
        mobility_(fluid_, options.cells),
        first_of_solid_m_(std::nextafter(path.thread_m, 2.0 * path.thread_m)) {}

  DryingResult run() {
    const double start_ratio = fluid_.initial.solvent_ratio;
    const auto size = static_cast<Eigen::Index>(1 + options_.cells);
    Wide y(size), scale(size);
    y.setConstant(start_ratio * to_volume_);
    scale = y;
    y[0] = fluid_.charge_temperature_K;
    scale[0] = kHeatScale_K;
    out_.surface.start_ratio = start_ratio;
    out_.surface.freezing_ratio = options_.freeze_when_solid ? -1.0 : 0.0;
    if (!march(y, scale)) return std::move(out_);
    if (dryness_.size() > 1) out_.surface.share = Curve(std::move(dryness_), std::move(share_));
    out_.end_solvent_ratio = mean_of(y);
    out_.end_temperature_K = y[0];
    out_.ok = std::isfinite(out_.end_solvent_ratio + out_.end_temperature_K);
    return std::move(out_);
  }

 private:
  // To the end of the path, over the place where the draw freezes. False: with a message.
  bool march(Wide& y, const Wide& scale) {
    std::vector<solver::Event<Wide>> events;
    if (options_.freeze_when_solid) {
      events.push_back({[this](const Wide& state, double) {
                          const double v = model::value_inside(grid_, column(state), 1.0 - model::kFreezingShare);
                          return model::solid_margin(fluid_, 1.0 / (1.0 + v), state[0]);
                        },
                        solver::Crossing::falling});
    }
    const auto rates = [this](const Wide& state, Wide& rate, double arc) { return rhs(state, rate, arc); };
    const auto observer = [this](const Wide& state, double arc) { observe(state, arc); };
    solver::MarchOptions how;
    how.relative_tolerance = options_.relative_tolerance;
    how.max_steps = kMostSteps;
    how.keep_steps = true;
    solver::StepPlan plan;
    const solver::JacobianStructure structure{solver::JacobianStructure::Kind::bordered_tridiagonal, 1};
    double arc = 0.0;
    for (;;) {
      how.plan = nullptr;
      if (options_.steps != nullptr && out_.taken.leg.size() < options_.steps->leg.size()) {
        plan.size = options_.steps->leg[out_.taken.leg.size()].size;
        if (!out_.solid)
          for (double& size : plan.size) size *= options_.stretch;
        plan.most_error = kMostError;
        how.plan = &plan;
      }
      const auto r =
          solver::march_implicit(rates, y, scale, arc, path_.length_m, how, events, observer, structure);
      out_.rhs_calls += static_cast<std::size_t>(r.counters.rhs_calls);
      out_.steps += static_cast<std::size_t>(r.counters.accepted);
      out_.rejected += static_cast<std::size_t>(r.counters.rejected);
      out_.jacobians += static_cast<std::size_t>(r.counters.jacobians);
      out_.factorisations += static_cast<std::size_t>(r.counters.factorisations);
      out_.taken.leg.push_back({true, false, r.steps.size});
      y = r.state;
      arc = r.t;
      if (r.status != solver::MarchStatus::event) {
        if (r.status == solver::MarchStatus::reached_end) return true;
        out_.message = r.message;
        return false;
      }
      out_.solid = true;
      out_.solid_m = arc;
      out_.surface.freezing_ratio = std::max(mean_of(y), kLeastRatio);
      if (path_.solid) arc = path_.thread_m;
      events.clear();
      how.initial_step = r.next_step;
      if (!(arc < path_.length_m)) return true;
    }
  }

  // While the draw is not frozen here, the thread goes on where that of the path has frozen already, and the solid
  // begins where it freezes here: path and march agree in the end, and on the way there nothing turns at a place that
  // is not yet where it will be.
  [[nodiscard]] P::Array place(double arc) {
    if (out_.solid && path_.solid) arc = std::max(arc, first_of_solid_m_);
    const bool beyond = arc > path_.thread_m;
    const bool onward = path_.solid && beyond && !out_.solid && arc <= (1.0 + kOnward) * path_.thread_m;
    P::Array p = onward ? thread_onward(arc) : along_path(arc);
    const bool given = onward || !(beyond && (path_.solid || path_options_.given_until_m > 0.0));
    if (given) p[P::kLogSpeed] = speed_.log_at(p[P::kRadius]);
    return p;
  }
  [[nodiscard]] P::Array along_path(double arc) {
    while (at_ + 1 < path_.step.size() && path_.step[at_].to < arc) ++at_;
    while (at_ > 0 && path_.step[at_].from > arc) --at_;
    const auto& step = path_.step[at_];
    return step.at((arc - step.from) / (step.to - step.from));
  }
  // On from the end of the path's thread as it came: by a parabola, so that nothing turns there, and then straight.
  [[nodiscard]] P::Array thread_onward(double arc) {
    const double d = kBack * path_.thread_m;
    const P::Array end = along_path(path_.thread_m), before = along_path(path_.thread_m - d),
                   first = along_path(path_.thread_m - 2.0 * d);
    const double s = (arc - path_.thread_m) / d;
    const double bent = std::min(s, kBent);
    P::Array p = end;
    for (std::size_t i = 0; i < P::kSize; ++i)
      p[i] += s * (1.5 * end[i] - 2.0 * before[i] + 0.5 * first[i]) +
              bent * (s - 0.5 * bent) * (end[i] - 2.0 * before[i] + first[i]);
    return p;
  }

  [[nodiscard]] std::span<const double> column(const Wide& y) const { return {y.data() + 1, options_.cells}; }
  [[nodiscard]] double mean_of(const Wide& y) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < options_.cells; ++i) sum += grid_.width[i] * y.data()[1 + i];
    return sum / to_volume_;
  }
  [[nodiscard]] double surface_of(const Wide& y) const {
    const std::size_t cells = options_.cells;
    return model::surface_value(grid_, y.data()[cells], y.data()[cells - 1]) / to_volume_;
  }

  bool rhs(const Wide& y, Wide& rate, double arc) {
    const auto v = column(y);
    if (*std::min_element(v.begin(), v.end()) < kLeastVolume) return false;
    const double temperature = y[0];
    const P::Array p = place(arc);
    const double u = std::exp(p[P::kLogSpeed]);
    const model::JetPlace at = jet_place(context_, p, u, mean_of(y), temperature);
    const model::JetLocal local =
        model::jet_drying(context_, at, surface_of(y), axes_at(p, context_.speed_rad_s));
    rate[0] = local.temperature_rate_K_s / u;
    // rates along the path: areas and flux over u
    model::radial_rates(grid_, model::dry_area_m2(context_, u) * u, v, -local.solvent_rate_1_s / u * to_volume_,
                        mobility_.at(temperature, v), std::span<double>(rate.data() + 1, options_.cells));
    return true;
  }

  // How far off the path's own drying is, and the surface as it dries.
  void observe(const Wide& state, double arc) {
    const double mean = mean_of(state);
    const P::Array p = place(arc);
    out_.off = std::max({out_.off, std::abs(mean - p[P::kSolvent]) / fluid_.initial.solvent_ratio,
                         std::abs(state[0] - p[P::kTemperature]) / kHeatScale_K});
    const double q = out_.surface.dryness(mean);
    if (q <= dryness_.back() + kSameDryness || !(mean > kNoSolvent)) return;
    dryness_.push_back(q);
    share_.push_back(std::clamp(surface_of(state) / mean, 0.0, kMostShare));
  }

  const model::JetContext& context_;
  const PathResult& path_;
  const SpeedField& speed_;
  const PathOptions& path_options_;
  const DryingOptions& options_;
  const model::Fluid& fluid_;
  const model::RadialGrid grid_;
  const double to_volume_;  ///< X to v
  model::ColumnMobility mobility_;
  const double first_of_solid_m_;  ///< of the path: the speed jumps where its thread ends
  DryingResult out_;
  std::size_t at_{};  ///< step of the path that was asked for last
  std::vector<double> dryness_{0.0}, share_{1.0};
};

}  // namespace

DryingResult march_drying(const model::JetContext& context, const PathResult& path, const SpeedField& speed,
                          const PathOptions& path_options, const DryingOptions& options) {
  return DryingMarch(context, path, speed, path_options, options).run();
}

}  // namespace whorl::jet
