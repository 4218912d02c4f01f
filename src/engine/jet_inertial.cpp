#include "engine/jet_inertial.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "engine/jet_report.hpp"
#include "solver/march.hpp"

namespace whorl::engine {
namespace {

using model::JetState;

enum EventIndex : std::size_t { kCollector, kInward, kFallen, kSolid };

struct March {
  bool ended{};
  model::Status status{model::Status::not_converged};
  std::string reason;
  bool reached{};
};

double time_limit(const model::JetContext& context, const JetOptions& options) {
  constexpr double kLongest_s = 60.0;  // slow vessels: gravity ends the flight long before
  if (context.speed_rad_s <= 0.0) return kLongest_s;
  return std::min(kLongest_s, options.max_turns * 2.0 * model::kPi / context.speed_rad_s);
}

double fall_limit(const model::JetContext& context) { return std::max(0.3, 2.0 * context.collector_radius_m); }

// State, tolerance scales and events are the same in both sizes; Audit only appends the balance integrals.
template <std::size_t N>
class LumpedJet {
 public:
  using State = std::array<double, N>;
  static constexpr bool kAudit = N == JetState::kAuditSize;

  LumpedJet(const model::JetContext& context, const JetOptions& options) : context_(context), options_(options) {}

  model::Jet run() {
    State y{};
    const auto start = model::jet_start(context_);
    std::copy_n(start.begin(), N, y.begin());
    const State scale = scales();
    solver::MarchOptions march_options;
    march_options.relative_tolerance = options_.relative_tolerance;
    march_options.max_steps = 40000;
    const double end = time_limit(context_, options_);
    samples_.reserve(256);
    record(0.0, y, false);

    const double r2 = context_.collector_radius_m * context_.collector_radius_m;
    std::vector<solver::Event<State>> events(3);
    events[kCollector] = {[r2](const State& s, double) { return s[0] * s[0] + s[1] * s[1] - r2; },
                          solver::Crossing::rising};
    // moving inward: the vessel frame turns about the axis, so this is the laboratory radial velocity as well
    events[kInward] = {[](const State& s, double) { return s[0] * s[3] + s[1] * s[4]; }, solver::Crossing::falling};
    const double floor = -fall_limit(context_);
    events[kFallen] = {[floor](const State& s, double) { return s[2] - floor; }, solver::Crossing::falling};
    solver::Event<State> solidifies{[this](const State& s, double) {
                                      const double phi = model::polymer_volume_fraction(*context_.fluid, s[JetState::kSolvent]);
                                      return model::solid_margin(*context_.fluid, phi, s[JetState::kTemperature]);
                                    },
                                    solver::Crossing::falling};
    if (options_.freeze_when_solid) events.push_back(solidifies);

    bool solid = false;
    double t = 0.0;
    for (;;) {
      const auto rhs = [&](const State& s, State& rates, double time) {
        const model::JetLocal local = model::jet_local(context_, s.data(), s[JetState::kSolvent], solid);
        model::jet_rates(context_, local, s.data(), time, kAudit, rates.data());
      };
      const auto observer = [&](const solver::DenseStep<N>& step) {
        record(0.5 * (step.t0() + step.t1()), step.at(0.5 * (step.t0() + step.t1())), solid);
        record(step.t1(), step.at(step.t1()), solid);
      };
      const auto result = solver::march<N>(rhs, y, scale, t, end, march_options, events, observer);
      add_counts(result.counters);
      y = result.state;
      t = result.t;
      if (result.status == solver::MarchStatus::event && result.event_index == kSolid) {
        solid = true;
        jet_.solidified = true;
        const double phi = model::polymer_volume_fraction(*context_.fluid, y[JetState::kSolvent]);
        jet_.solidification_kind =
            model::solidifies_by_crystallisation(*context_.fluid, phi, y[JetState::kTemperature]) ? "crystallised"
                                                                                                  : "vitrified";
        events.pop_back();
        march_options.initial_step = result.next_step;
        record(t, y, true);
        continue;
      }
      conclude(result.status, result.status == solver::MarchStatus::event ? result.event_index : kSolid, result.message, y, t);
      break;
    }
    report_jet(context_, options_, samples_, jet_);
    if constexpr (kAudit) balances(y, t, solid);
    if (!std::isfinite(jet_.dry_diameter_m + jet_.capillary_gain + jet_.end_temperature_K)) {
      model::Jet failed;
      failed.reason = "the jet's report is not finite";
      failed.work = jet_.work;
      return failed;
    }
    return std::move(jet_);
  }

 private:
  State scales() const {
    State scale{};
    const double length = context_.collector_radius_m;
    const double speed = context_.exit_speed_m_s + context_.speed_rad_s * length + 0.1;
    for (std::size_t i : {JetState::kX, JetState::kY, JetState::kZ, JetState::kArc}) scale[i] = length;
    for (std::size_t i : {JetState::kVx, JetState::kVy, JetState::kVz}) scale[i] = speed;
    scale[JetState::kSolvent] = context_.fluid->initial.solvent_ratio;
    scale[JetState::kTemperature] = 100.0;
    scale[JetState::kDragWork] = speed * speed;
    if constexpr (kAudit) {
      for (std::size_t i : {JetState::kImpulseX, JetState::kImpulseY, JetState::kImpulseZ}) scale[i] = speed;
      scale[JetState::kHeatGained] = heat_scale();
      scale[JetState::kEvaporated] = context_.fluid->initial.solvent_ratio;
    }
    return scale;
  }

  double heat_scale() const {
    return 100.0 * (context_.fluid->polymer_heat_capacity +
                    context_.fluid->initial.solvent_ratio * context_.fluid->solvent_heat_capacity);
  }

  void record(double t, const State& y, bool solid) {
    JetSample sample;
    sample.time_s = t;
    std::copy_n(y.begin(), static_cast<std::size_t>(JetState::kSize), sample.state.begin());
    sample.surface_ratio = y[JetState::kSolvent];
    sample.solid = solid;
    samples_.push_back(sample);
  }

  void add_counts(const solver::MarchCounters& counters) {
    jet_.work.rhs_evaluations += static_cast<std::size_t>(counters.rhs_calls);
    jet_.work.steps += static_cast<std::size_t>(counters.accepted);
    jet_.work.rejected += static_cast<std::size_t>(counters.rejected);
  }

  void conclude(solver::MarchStatus status, std::size_t event, const std::string& message, const State& y, double t) {
    jet_.status = model::Status::done;
    switch (status) {
      case solver::MarchStatus::event:
        if (event == kCollector) {
          jet_.reached_collector = true;
          jet_.reason = "reached the collector";
        } else if (event == kInward) {
          jet_.reason = "stalled: stopped by the air at radius " + millimetres(std::hypot(y[0], y[1]));
        } else {
          jet_.reason = "fell " + millimetres(-y[2]) + " before reaching the collector";
        }
        return;
      case solver::MarchStatus::reached_end:
        jet_.reason = "stalled: still at radius " + millimetres(std::hypot(y[0], y[1])) + " after " +
                      turns_text(t);
        return;
      default:
        jet_.status = model::Status::not_converged;
        jet_.reason = "jet march: " + message;
    }
  }

  static std::string millimetres(double metres) {
    char text[32];
    std::snprintf(text, sizeof text, "%.0f mm", 1e3 * metres);
    return text;
  }
  std::string turns_text(double t) const {
    char text[48];
    if (context_.speed_rad_s > 0.0) {
      std::snprintf(text, sizeof text, "%.0f turns of the vessel", t * context_.speed_rad_s / (2.0 * model::kPi));
    } else {
      std::snprintf(text, sizeof text, "%.0f s", t);
    }
    return text;
  }

  void balances(const State& y, double t, bool solid) {
    if constexpr (kAudit) {
      const model::Fluid& fluid = *context_.fluid;
      const double omega = context_.speed_rad_s;
      const double angle = omega * t;
      const double vx = y[JetState::kVx] - omega * y[JetState::kY];
      const double vy = y[JetState::kVy] + omega * y[JetState::kX];
      const double lab_x = std::cos(angle) * vx - std::sin(angle) * vy;
      const double lab_y = std::sin(angle) * vx + std::cos(angle) * vy;
      const double start_y = omega * context_.outer_radius_m;
      const double ex = lab_x - context_.exit_speed_m_s - y[JetState::kImpulseX];
      const double ey = lab_y - start_y - y[JetState::kImpulseY];
      const double ez = y[JetState::kVz] - y[JetState::kImpulseZ];
      const double size = context_.exit_speed_m_s + omega * context_.collector_radius_m + 0.1;
      jet_.balances.momentum = std::hypot(ex, ey, ez) / size;
      if (!solid) {
        // kinetic energy in the turning frame against the work of body forces and air
        const auto& b = jet_.budget;
        const double gap = b.total_J_kg - b.centrifugal_J_kg - b.gravity_J_kg - b.air_drag_J_kg;
        jet_.balances.momentum = std::max(jet_.balances.momentum, std::abs(gap) / (size * size));
      }
      const double ratio = y[JetState::kSolvent];
      const double enthalpy = (fluid.polymer_heat_capacity + ratio * fluid.solvent_heat_capacity) *
                              (y[JetState::kTemperature] - fluid.charge_temperature_K);
      jet_.balances.energy = std::abs(enthalpy - y[JetState::kHeatGained]) / heat_scale();
      jet_.balances.solvent = std::abs(fluid.initial.solvent_ratio - ratio - y[JetState::kEvaporated]) /
                              fluid.initial.solvent_ratio;
      // polymer: linear mass x speed at the end against the flow through the orifice
      const model::JetLocal local = model::jet_local(context_, y.data(), ratio, solid);
      const double area = 0.25 * model::kPi * local.diameter_m * local.diameter_m;
      const double through = area * local.density_kg_m3 * local.speed_m_s / (1.0 + ratio);
      jet_.balances.polymer = std::abs(through / context_.polymer_flow_kg_s - 1.0);
      jet_.balances_known = true;
    }
  }

  const model::JetContext& context_;
  const JetOptions& options_;
  std::vector<JetSample> samples_;
  model::Jet jet_;
};

}  // namespace

model::Jet solve_inertial_jet(const model::JetContext& context, const JetOptions& options) {
  if (options.audit) return LumpedJet<JetState::kAuditSize>(context, options).run();
  return LumpedJet<JetState::kSize>(context, options).run();
}

}  // namespace whorl::engine
