#include "whorl/jet/jet_inertial.hpp"

#include <fmt/core.h>

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "model/vector_length.hpp"
#include "solver/implicit.hpp"
#include "solver/march.hpp"
#include "whorl/jet/jet_report.hpp"
#include "whorl/model/jet_axes.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/radial.hpp"

namespace whorl::jet {
namespace {

using model::JetState;

enum EventIndex : std::size_t { kCollector, kInward, kFallen, kCarried, kSolid };

// How a jet is followed. Straight: explicit, in x, y, as a parcel without air flies. Carried: explicit, cylindrical,
// from where the air has turned it further than any straight flight goes. Implicit: cylindrical.
enum class Method { straight, carried, implicit };

double time_limit(const model::JetContext& context, const JetOptions& options) {
  constexpr double kLongest_s = 60.0;  // slow vessels: gravity ends the flight long before
  if (context.speed_rad_s <= 0.0) return kLongest_s;
  return std::min(kLongest_s, options.max_turns * 2.0 * model::kPi / context.speed_rad_s);
}

double fall_limit(const model::JetContext& context) { return std::max(0.3, 2.0 * context.collector_radius_m); }

// What is marched. The state is JetState (kSize entries, kAuditSize when balances are audited), then, with radial
// drying, v (solvent volume per polymer volume) of each cell from the axis to the surface.
template <bool kAudit>
class JetEquations {
 public:
  static constexpr std::size_t kBase = kAudit ? JetState::kAuditSize : JetState::kSize;
  using Small = std::array<double, kBase>;

  JetEquations(const model::JetContext& context, const JetOptions& options)
      : context_(context),
        fluid_(*context.fluid),
        cells_(options.drying == model::DryingModel::radial ? static_cast<std::size_t>(options.radial_cells) : 0),
        mobility_(fluid_, cells_),
        to_volume_(fluid_.polymer_density_kg_m3 / fluid_.solvent_density_kg_m3) {
    if (cells_ > 0) grid_ = model::make_radial_grid(cells_);
  }

  [[nodiscard]] std::size_t cells() const { return cells_; }
  [[nodiscard]] double start_volume() const { return fluid_.initial.solvent_ratio * to_volume_; }
  [[nodiscard]] double mean_in_cells(const double* y) const {
    const auto v = column(y);
    double left = 0.0;
    for (std::size_t i = 0; i < cells_; ++i) left += grid_.width[i] * v[i] / to_volume_;
    return left;
  }

  std::span<const double> column(const double* y) const { return {y + kBase, cells_}; }

  // X at the surface.
  double surface_ratio(const double* y) const {
    if (cells_ == 0) return y[JetState::kSolvent];
    return model::surface_value(grid_, y[kBase + cells_ - 1], y[kBase + cells_ - 2]) / to_volume_;
  }

  // Polymer fraction that decides whether the draw is frozen.
  double deciding_phi(const double* y) const {
    if (cells_ == 0) return model::polymer_volume_fraction(fluid_, y[JetState::kSolvent]);
    return 1.0 / (1.0 + model::value_inside(grid_, column(y), 1.0 - model::kFreezingShare));
  }

  // Axes turned by `azimuth` from those of the release.
  model::JetAxes axes_at(double t, double azimuth = 0.0) const {
    return {context_.speed_rad_s * t - azimuth, -azimuth};
  }

  void base_rates(const double* y, double t, double* rates) const {
    model::jet_rates(context_, model::jet_local(context_, y, surface_ratio(y), solid, axes_at(t)), y, kAudit, rates);
  }

  // y: cylindrical
  model::JetLocal carried_rates(const double* y, double t, double* rates) const {
    Small at_zero{};
    std::copy_n(y, kBase, at_zero.begin());
    at_zero[JetState::kY] = 0.0;
    const model::JetLocal local =
        model::jet_local(context_, at_zero.data(), surface_ratio(y), solid, axes_at(t, y[JetState::kY]));
    model::jet_rates(context_, local, at_zero.data(), kAudit, rates);
    model::turn_rates(y, rates);
    return local;
  }

  // y: cylindrical
  bool all_rates(const double* y, double t, double* rates) const {
    if (!(y[JetState::kX] > 0.0)) return false;
    const auto v = column(y);
    if (!v.empty() && *std::min_element(v.begin(), v.end()) < -0.5) return false;
    const model::JetLocal local = carried_rates(y, t, rates);
    if (v.empty()) return true;
    model::radial_rates(grid_, model::dry_area_m2(context_, local.speed_m_s), v, -local.solvent_rate_1_s * to_volume_,
                        mobility_.at(y[JetState::kTemperature], v), std::span<double>(rates + kBase, cells_));
    return true;
  }

  void set_scales(double* scale) const {
    const double length = context_.collector_radius_m;
    const double speed = speed_scale();
    for (std::size_t i : {JetState::kX, JetState::kY, JetState::kZ, JetState::kArc}) scale[i] = length;
    for (std::size_t i : {JetState::kVx, JetState::kVy, JetState::kVz}) scale[i] = speed;
    scale[JetState::kSolvent] = context_.fluid->initial.solvent_ratio;
    scale[JetState::kTemperature] = 100.0;
    scale[JetState::kDragWork] = speed * speed;
    if constexpr (kAudit) {
      scale[JetState::kTorque] = speed * length;
      scale[JetState::kWork] = speed * speed;
      scale[JetState::kHeatGained] = heat_scale();
      scale[JetState::kEvaporated] = context_.fluid->initial.solvent_ratio;
    }
  }

  double speed_scale() const {
    return context_.exit_speed_m_s + context_.speed_rad_s * context_.collector_radius_m +
           std::sqrt(context_.gravity_m_s2 * context_.collector_radius_m);
  }

  double heat_scale() const {
    return 100.0 * (context_.fluid->polymer_heat_capacity +
                    context_.fluid->initial.solvent_ratio * context_.fluid->solvent_heat_capacity);
  }

  bool solid{};  ///< the draw is frozen

 private:
  const model::JetContext& context_;
  const model::Fluid& fluid_;
  std::size_t cells_;
  mutable model::ColumnMobility mobility_;  // remembers the last column; one jet, one thread
  double to_volume_;                        // X to v
  model::RadialGrid grid_;
};

// How fast a floating jet still moves outward and down, per turn of the vessel.
std::string drift_text(const model::JetContext& context, const Eigen::VectorXd& y) {
  const double radius = std::hypot(y[JetState::kX], y[JetState::kY]);
  if (!(context.speed_rad_s > 0.0) || !(radius > 0.0)) return {};
  const double turn = 2.0 * model::kPi / context.speed_rad_s;
  const double outward = (y[JetState::kX] * y[JetState::kVx] + y[JetState::kY] * y[JetState::kVy]) / radius * turn;
  const double down = -y[JetState::kVz] * turn;
  constexpr double kNone_m = 1e-5;
  const std::string size = number_text(1e3 * std::abs(outward), 2);
  const std::string out = std::abs(outward) < kNone_m ? "no farther out"
                                                      : size + (outward > 0.0 ? " mm farther out" : " mm nearer");
  return fmt::format(", {}, {} {} mm a turn", out, down < 0.0 ? "rising" : "sinking",
                     number_text(1e3 * std::abs(down), 2));
}
std::string turns_text(const model::JetContext& context, double t) {
  if (context.speed_rad_s > 0.0)
    return fmt::format("{:.0f} turns of the vessel", t * context.speed_rad_s / (2.0 * model::kPi));
  return fmt::format("{:.0f} s", t);
}

// How the march ended. `event`: what stopped it.
void conclude(const model::JetContext& context, solver::MarchStatus status, std::size_t event,
              const std::string& message, const Eigen::VectorXd& y, double t, model::Jet& jet) {
  jet.status = model::Status::done;
  switch (status) {
    case solver::MarchStatus::event:
      if (event == kCollector) {
        jet.reached_collector = true;
        jet.reason = "reached the collector";
      } else if (event == kInward) {
        jet.reason = "stalled: stopped by the air at radius " + millimetres(std::hypot(y[0], y[1]));
      } else {
        jet.reason = "fell " + millimetres(-y[2]) + " before reaching the collector";
      }
      return;
    case solver::MarchStatus::reached_end:
      jet.reason = "stalled: floats round the vessel at radius " + millimetres(std::hypot(y[0], y[1])) + " after " +
                   turns_text(context, t) + drift_text(context, y);
      return;
    default:
      jet.status = model::Status::not_converged;
      jet.reason = "jet march: " + message;
  }
}

// The balances that were marched alongside, at the end of the path.
void close_balances(const model::JetContext& context, const JetEquations<true>& equations, const Eigen::VectorXd& y,
                    model::Jet& jet) {
  const model::Fluid& fluid = *context.fluid;
  const double size = equations.speed_scale();
  const double start = context.speed_rad_s * context.outer_radius_m;
  const double moment = y[JetState::kX] * y[JetState::kVy] - y[JetState::kY] * y[JetState::kVx];
  const double kinetic = 0.5 * (y[JetState::kVx] * y[JetState::kVx] + y[JetState::kVy] * y[JetState::kVy] +
                                y[JetState::kVz] * y[JetState::kVz]);
  const double before = 0.5 * (start * start + context.exit_speed_m_s * context.exit_speed_m_s);
  jet.balances.momentum =
      std::max(std::abs(moment - start * context.outer_radius_m - y[JetState::kTorque]) /
                   (size * context.collector_radius_m),
               std::abs(kinetic - before - y[JetState::kWork]) / (size * size));
  if (!equations.solid) {
    // kinetic energy in the turning frame against the work of body forces and air
    const auto& b = jet.budget;
    const double gap = b.total_J_kg - b.centrifugal_J_kg - b.gravity_J_kg - b.air_drag_J_kg - b.gas_J_kg;
    jet.balances.momentum = std::max(jet.balances.momentum, std::abs(gap) / (size * size));
  }
  const double ratio = y[JetState::kSolvent];
  const double enthalpy = (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity) *
                          (y[JetState::kTemperature] - fluid.charge_temperature_K);
  jet.balances.energy = std::abs(enthalpy - y[JetState::kHeatGained]) / equations.heat_scale();
  jet.balances.solvent = std::abs(fluid.initial.solvent_ratio - ratio - y[JetState::kEvaporated]) /
                          fluid.initial.solvent_ratio;
  if (equations.cells() > 0) {  // solvent left in the cells against the mean that the path carries
    const double left = equations.mean_in_cells(y.data());
    jet.balances.solvent = std::max(jet.balances.solvent, std::abs(left - ratio) / fluid.initial.solvent_ratio);
  }
  // polymer: linear mass x speed at the end against the flow through the orifice
  const model::JetLocal local = model::jet_local(context, y.data(), equations.surface_ratio(y.data()), equations.solid);
  const double area = 0.25 * model::kPi * local.diameter_m * local.diameter_m;
  const double through = area * local.density_kg_m3 * local.speed_m_s / (1.0 + ratio);
  jet.balances.polymer = std::abs(through / context.polymer_flow_kg_s - 1.0);
  jet.balances_known = true;
}

// One jet. Lumped jets march explicitly and change to the implicit method where they turn stiff; radial ones are
// implicit throughout.
template <bool kAudit>
class JetRun {
  static constexpr std::size_t kBase = JetEquations<kAudit>::kBase;
  using Small = std::array<double, kBase>;
  using Wide = Eigen::VectorXd;

 public:
  JetRun(const model::JetContext& context, const JetOptions& options)
      : context_(context),
        options_(options),
        fluid_(*context.fluid),
        equations_(context, options),
        cells_(equations_.cells()) {
    march_options_.relative_tolerance = options_.relative_tolerance;
    march_options_.max_steps = 40000;
    samples_.reserve(256);
  }

  model::Jet solve() {
    const auto start = model::jet_start(context_);
    Wide y(static_cast<Eigen::Index>(kBase + cells_));
    std::copy_n(start.begin(), kBase, y.data());
    std::fill_n(y.data() + kBase, cells_, equations_.start_volume());
    Wide scale(y.size());
    equations_.set_scales(scale.data());
    std::fill_n(scale.data() + kBase, cells_, equations_.start_volume());

    const double end = time_limit(context_, options_);
    bool watch_solid = options_.freeze_when_solid;
    Method method = cells_ == 0 ? Method::straight : Method::implicit;
    double t = 0.0;
    for (;;) {
      begin(t, y.data());
      Leg leg = method == Method::implicit   ? march_implicit(y, scale, t, end, watch_solid)
                : method == Method::straight ? march_explicit<false>(y, scale, t, end, watch_solid)
                                             : march_explicit<true>(y, scale, t, end, watch_solid);
      add_counts(leg.counters);
      t = leg.t;
      march_options_.initial_step = leg.next_step;
      if (leg.status == solver::MarchStatus::stiff) {
        method = Method::implicit;
        continue;
      }
      if (leg.status == solver::MarchStatus::event && leg.event == kCarried) {
        method = Method::carried;
        continue;
      }
      const bool stopped = leg.status == solver::MarchStatus::event;
      if (stopped && leg.event == kSolid) {
        equations_.solid = true;
        watch_solid = false;
        jet_.solidified = true;
        if (options_.only_diameter) {
          jet_.status = model::Status::done;
          jet_.reason = "followed until the draw is frozen";
          break;
        }
        jet_.solidification_kind =
            model::solidifies_by_crystallisation(fluid_, equations_.deciding_phi(y.data()), y[JetState::kTemperature])
                ? "crystallised"
                : "vitrified";
        continue;
      }
      conclude(context_, leg.status, stopped ? leg.event : kSolid, leg.message, y, t, jet_);
      break;
    }
    report_jet(context_, options_, samples_, jet_);
    if constexpr (kAudit) close_balances(context_, equations_, y, jet_);
    if (!std::isfinite(jet_.dry_diameter_m + jet_.capillary_gain + jet_.end_temperature_K)) {
      model::Jet failed;
      failed.reason = "the jet's report is not finite";
      failed.work = jet_.work;
      return failed;
    }
    return std::move(jet_);
  }

 private:
  struct Leg {
    solver::MarchStatus status{};
    std::size_t event{};
    std::string message;
    double t{}, next_step{};
    solver::MarchCounters counters;
  };

  template <class State, bool kCylindrical>
  std::vector<solver::Event<State>> events(bool watch_solid) const {
    const double r2 = context_.collector_radius_m * context_.collector_radius_m;
    const double floor = -fall_limit(context_);
    std::vector<solver::Event<State>> out(4);
    if constexpr (kCylindrical) {
      out[kCollector] = {[r2](const State& s, double) { return s[0] * s[0] - r2; }, solver::Crossing::rising};
      out[kInward] = {[](const State& s, double) { return s[0] * s[3]; }, solver::Crossing::falling};
      out[kCarried] = {[](const State&, double) { return 1.0; }, solver::Crossing::falling};  // it is already
    } else {
      out[kCollector] = {[r2](const State& s, double) { return s[0] * s[0] + s[1] * s[1] - r2; },
                         solver::Crossing::rising};
      out[kInward] = {[](const State& s, double) { return s[0] * s[3] + s[1] * s[4]; }, solver::Crossing::falling};
      out[kCarried] = {[](const State& s, double) { return s[0]; }, solver::Crossing::falling};
    }
    out[kFallen] = {[floor](const State& s, double) { return s[2] - floor; }, solver::Crossing::falling};
    if (watch_solid) {
      out.push_back({[this](const State& s, double) {
                       return model::solid_margin(fluid_, equations_.deciding_phi(s.data()), s[JetState::kTemperature]);
                     },
                     solver::Crossing::falling});
    }
    return out;
  }

  template <class Result>
  static Leg leg_of(const Result& result) {
    return {result.status, result.event_index, result.message, result.t, result.next_step, result.counters};
  }

  template <bool kCylindrical>
  Leg march_explicit(Wide& y, const Wide& wide_scale, double t, double end, bool watch_solid) {
    Small from{};
    Small scale{};
    std::copy_n(y.data(), kBase, from.begin());
    std::copy_n(wide_scale.data(), kBase, scale.begin());
    if constexpr (kCylindrical) {
      model::to_cylindrical(from.data());
      scale[JetState::kY] = 1.0;
    }
    march_options_.detect_stiffness = true;
    const auto watched = events<Small, kCylindrical>(watch_solid);
    const auto rhs = [this](const Small& s, Small& rates, double time) {
      if constexpr (kCylindrical) {
        equations_.carried_rates(s.data(), time, rates.data());
      } else {
        equations_.base_rates(s.data(), time, rates.data());
      }
    };
    if constexpr (kCylindrical) count_on(from[JetState::kY]);
    const auto put = [this](double time, Small s) {
      if constexpr (kCylindrical) {
        const double angle = s[JetState::kY];
        model::to_cartesian(s.data());
        record_turned(time, s.data(), equations_.surface_ratio(s.data()), angle);
      } else {
        record(time, s.data());
      }
    };
    const auto observer = [this, &put](const solver::DenseStep<kBase>& step) {
      Small last = step.at(step.t1());
      if constexpr (kCylindrical) model::to_cartesian(last.data());
      const int n = pieces(step.t0(), step.t1(), last.data());
      for (int i = 1; i <= n; ++i) {
        const double here = i < n ? step.t0() + (step.t1() - step.t0()) * i / n : step.t1();
        put(here, step.at(here));
      }
    };
    const auto result = solver::march<kBase>(rhs, from, scale, t, end, march_options_, watched, observer);
    std::copy_n(result.state.begin(), kBase, y.data());
    if constexpr (kCylindrical) model::to_cartesian(y.data());
    return leg_of(result);
  }

  Leg march_implicit(Wide& y, const Wide& scale, double t, double end, bool watch_solid) {
    const auto watched = events<Wide, true>(watch_solid);
    const auto rhs = [this](const Wide& s, Wide& rates, double time) {
      return equations_.all_rates(s.data(), time, rates.data());
    };
    // Cubic between the ends of a step; good enough for reports, which the step itself does not depend on.
    model::to_cylindrical(y.data());
    count_on(y[JetState::kY]);
    Wide before = y;
    Wide rate_before(y.size());
    Wide rate(y.size());
    Small between{};
    double time_before = t;
    equations_.all_rates(y.data(), t, rate_before.data());
    const auto observer = [&](const Wide& s, double time) {
      if (time <= time_before) return;
      equations_.all_rates(s.data(), time, rate.data());
      Small last{};
      std::copy_n(s.data(), kBase, last.begin());
      model::to_cartesian(last.data());
      const int n = pieces(time_before, time, last.data());
      const double surface_before = equations_.surface_ratio(before.data());
      const double surface = equations_.surface_ratio(s.data());
      const double h = time - time_before;
      for (int i = 1; i < n; ++i) {
        const double q = static_cast<double>(i) / n;
        const double p = 1.0 - q;
        for (std::size_t k = 0; k < JetState::kSize; ++k) {
          const auto j = static_cast<Eigen::Index>(k);
          between[k] = p * p * (1.0 + 2.0 * q) * before[j] + q * q * (1.0 + 2.0 * p) * s[j] +
                       h * q * p * (p * rate_before[j] - q * rate[j]);
        }
        const double angle = between[JetState::kY];
        model::to_cartesian(between.data());
        record_turned(time_before + q * h, between.data(), p * surface_before + q * surface, angle);
      }
      record_turned(time, last.data(), surface, s[JetState::kY]);
      before = s;
      rate_before.swap(rate);
      time_before = time;
    };
    solver::JacobianStructure structure;
    if (cells_ > 0) {
      structure.kind = solver::JacobianStructure::Kind::bordered_tridiagonal;
      structure.border = static_cast<Eigen::Index>(kBase);
      // integrals; height and azimuth too, unless gas blows past
      for (std::size_t k = JetState::kArc; k < kBase; ++k) structure.unread.push_back(static_cast<Eigen::Index>(k));
      if (!context_.gas.blows()) structure.unread.insert(structure.unread.end(), {JetState::kY, JetState::kZ});
    }
    Wide scales = scale;
    scales[JetState::kY] = 1.0;
    const auto result = solver::march_implicit(rhs, y, scales, t, end, march_options_, watched, observer, structure);
    y = result.state;
    model::to_cartesian(y.data());
    return leg_of(result);
  }

  // A leg starts: its first sample, unless the one before ended there (then the state of solidity is renewed).
  void begin(double t, const double* y) {
    if (!samples_.empty() && samples_.back().time_s == t && !equations_.solid) return;
    record(t, y);
  }

  // Steps of this march are short against a turn.
  void record(double t, const double* y) {
    const double seen = std::atan2(y[JetState::kY], y[JetState::kX]);
    double angle = seen;
    if (!samples_.empty()) angle += whole_turns(samples_.back().angle_rad - seen);
    push(t, y, equations_.surface_ratio(y), angle);
  }
  // The angle of a march in cylindrical coordinates counts on over steps of many turns; from leg to leg it starts anew.
  void count_on(double angle_of_leg) { before_leg_ = whole_turns(samples_.back().angle_rad - angle_of_leg); }
  void record_turned(double t, const double* y, double surface, double angle_of_leg) {
    push(t, y, surface, before_leg_ + angle_of_leg);
  }
  static double whole_turns(double angle) {
    return 2.0 * model::kPi * std::round(angle / (2.0 * model::kPi));
  }
  void push(double t, const double* y, double surface, double angle) {
    JetSample sample;
    sample.time_s = t;
    std::copy_n(y, static_cast<std::size_t>(JetState::kSize), sample.state.begin());
    sample.angle_rad = angle;
    sample.surface_ratio = surface;
    sample.solid = equations_.solid;
    samples_.push_back(sample);
  }

  double line_speed(const double* y) const {
    const double omega = context_.speed_rad_s;
    return model::vector_length(y[JetState::kVx] + omega * y[JetState::kY],
                                y[JetState::kVy] - omega * y[JetState::kX], y[JetState::kVz]);
  }

  // Parts into which a step is cut for the report: at most 10 % change of line speed, and for drawing 0.1 rad of turn.
  int pieces(double t0, double t1, const double* end) const {
    const double stretch = std::abs(std::log(line_speed(end) / line_speed(samples_.back().state.data())));
    double n =
        equations_.solid ? 1.0 : std::max(2.0, std::ceil(stretch / 0.1));  // a solid fibre neither stretches nor breaks
    if (options_.keep_profile) n = std::max(n, std::ceil(context_.speed_rad_s * (t1 - t0) / 0.1));
    return static_cast<int>(std::min(n, 400.0));
  }

  void add_counts(const solver::MarchCounters& counters) {
    jet_.work.rhs_evaluations += static_cast<std::size_t>(counters.rhs_calls);
    jet_.work.steps += static_cast<std::size_t>(counters.accepted);
    jet_.work.rejected += static_cast<std::size_t>(counters.rejected);
    jet_.work.jacobians += static_cast<std::size_t>(counters.jacobians);
    jet_.work.factorizations += static_cast<std::size_t>(counters.factorisations);
  }

  const model::JetContext& context_;
  const JetOptions& options_;
  const model::Fluid& fluid_;
  JetEquations<kAudit> equations_;
  const std::size_t cells_;  ///< of the radius; 0: well mixed
  solver::MarchOptions march_options_;
  std::vector<JetSample> samples_;
  double before_leg_{};  ///< whole turns before the leg that is marched
  model::Jet jet_;
};

}  // namespace

model::Jet solve_inertial_jet(const model::JetContext& context, const JetOptions& options) {
  return options.audit ? JetRun<true>(context, options).solve() : JetRun<false>(context, options).solve();
}

}  // namespace whorl::jet
