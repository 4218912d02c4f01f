// A stand-in for the estimate in tests of the sweep: cheap, deterministic, and it fails in every way a point can fail.
#pragma once
#include <atomic>
#include <chrono>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <thread>

#include "app/sweep.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/error.hpp"

namespace sweep_test {

struct Model {
  std::chrono::microseconds delay{};
  std::atomic<std::uint64_t>* calls{};

  whorl::model::Estimate operator()(const whorl::model::CaseInput& input) const {
    using whorl::model::FibreClass;
    if (calls != nullptr) ++*calls;
    const double speed = input.operation.rotation_speed_rad_s;
    const double pressure = input.operation.gas_overpressure_Pa;
    if (delay.count() > 0) {
      // Neighbours take unequal times, so that rows are ready out of order.
      const auto share = 1.0 + std::sin(speed + 1e-4 * pressure);
      std::this_thread::sleep_for(std::chrono::microseconds(static_cast<long>(share * static_cast<double>(delay.count()))));
    }
    if (pressure > 0.55e6) throw whorl::InputError("case.json", "operation.gas_overpressure", "=too much", "less, or \"none\"");
    if (pressure > 0.5e6) throw std::runtime_error("lost, in two\nlines");
    whorl::model::Estimate e;
    if (pressure > 0.45e6) {
      e.reason = "no convergence after 20 steps";
      e.dry_diameter_m = 1e-6;
      return e;
    }
    e.status = whorl::model::Status::done;
    e.reason = "reached the collector";
    e.fibre_class = FibreClass::continuous;
    e.landing = whorl::model::Landing::dry;
    e.warnings = {{"first", "a"}, {"second", "b"}};
    e.jet.status = whorl::model::Status::done;
    e.jet.reached_collector = true;
    e.dry_diameter_m = 1e-5 / (1.0 + speed / 1000.0) + 1e-12 * pressure;
    e.jet.turns = pressure > 0.4e6 ? std::numeric_limits<double>::quiet_NaN() : speed / 300.0;
    return e;
  }
};

inline whorl::app::SweepCase make_case() {
  whorl::app::SweepCase c;
  c.file = "folder/trial.json";
  c.input.purpose = "stand-in";
  c.sha256 = std::string(64, 'a');
  c.library_sha256 = std::string(64, 'b');
  return c;
}

}  // namespace sweep_test
