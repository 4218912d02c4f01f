// From rest to full settings: what leaves while the vessel speeds up and the gas comes on.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "whorl/engine/orifice_flow.hpp"

namespace whorl::engine {

/// Speed and overpressure over their full values at a time after the start.
struct RampState {
  double speed_share{}, pressure_share{};
};
/// Linear in time, in the order that the case states.
/// Eq: start-ramps
/// Source: own choice; the defaults of the two times are common practice, no source
[[nodiscard]] RampState ramp_at(const model::OperationInput& operation, double time_s);
/// Time at which both ramps are over [s].
[[nodiscard]] double ramp_time_s(const model::OperationInput& operation);

/// A moment of the start: settings of that moment, and the solution that leaves about then.
struct StartMoment {
  double time_s{};
  double volume_m3{};         ///< left in the vessel
  double leaving_m3{};        ///< volume that this moment stands for
  Setup setup;                ///< with the speed and overpressure of the moment
  OrificeSolution orifice;
};

/// Gas that goes through from some moment of the start on.
struct StartGas {
  double time_s{-1.0};     ///< negative: it does not
  double volume_m3{};      ///< left in the vessel then
  double layer_m{};        ///< at which it goes through then
  [[nodiscard]] bool goes() const { return time_s >= 0.0; }
};

/// The start of a run.
struct SpinUp {
  model::Status status{model::Status::not_converged};
  std::string reason{"not run"};
  double full_time_s{};       ///< when both ramps are over
  double volume_left_m3{};    ///< then
  double gas_mass_kg{};       ///< gas that went through before, all orifices
  double gas_time_s{};        ///< for how long
  double with_gas_m3{};       ///< solution that left meanwhile
  StartGas first_gas;         ///< when gas first went through
  StartGas lasting_gas;       ///< from when it went through without a break until full_time_s
  std::vector<std::pair<double, double>> course;  ///< time and volume left in the vessel, one after the other
  std::vector<StartMoment> moments;  ///< at equal shares of what leaves without gas, and of what leaves with it; few
                                     ///< where that is next to nothing
};
/// Quasi-steady: dV/dt = -N Q(V, speed, pressure of the moment), second-order steps.
/// Eq: start-emptying
/// Valid: ramps slow against the acceleration of the liquid in an orifice; the liquid turns with the vessel
/// Source: own closure
[[nodiscard]] SpinUp spin_up(const Setup& setup);

/// The moment of a start when a volume is left in the vessel (leaving_m3: none of its own).
[[nodiscard]] StartMoment start_moment(const Setup& setup, const SpinUp& start, double volume_m3);

/// The same case at the settings of a moment of the start.
[[nodiscard]] Setup at_ramp(const Setup& setup, const RampState& state);

}  // namespace whorl::engine
