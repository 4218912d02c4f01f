#include "whorl/study/window.hpp"

#include <algorithm>
#include <cmath>

#include "study/window_point.hpp"

namespace whorl::study {
namespace {

using model::CaseInput;
using model::Estimate;

template <class T>
bool contains(const std::vector<T>& list, T value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

}  // namespace

std::vector<WindowConstraint> window_constraints(const WindowTarget& target) {
  std::vector<WindowConstraint> constraints{{"result", false}, {"class", false}, {"landing", false}};
  if (target.least_diameter_m) constraints.push_back({"diameter-least", true});
  if (target.most_diameter_m) constraints.push_back({"diameter-most", true});
  if (target.least_throughput_kg_s) constraints.push_back({"throughput", true});
  return constraints;
}

bool WindowProbe::met() const noexcept {
  return std::all_of(margins.begin(), margins.end(), [](const auto& margin) { return margin && *margin >= 0.0; });
}

WindowProbe judge(const Estimate& e, const WindowTarget& target) {
  WindowProbe probe;
  probe.converged = e.status == model::Status::done;
  probe.reason = e.reason;
  const auto yes = [](bool value) { return std::optional<double>(value ? 1.0 : -1.0); };
  probe.margins.push_back(yes(probe.converged));
  if (!probe.converged) {
    probe.margins.resize(window_constraints(target).size());
    return probe;
  }
  probe.torn = e.torn;
  probe.fibre_class = e.fibre_class;
  probe.landing = e.landing;
  const bool fibre =
      (e.torn || e.jet.reached_collector) && model::lands_as_fibre(e.fibre_class) && e.dry_diameter_m > 0.0;
  if (fibre) {
    probe.diameter_m = e.dry_diameter_m;
    probe.residual_solvent = e.torn ? e.threads.residual_solvent : e.jet.residual_solvent;
    probe.tearing_probability = e.as_threads.probability;
    const double other = (e.torn ? e.as_line : e.as_threads).diameter_m;
    if (other > 0.0) probe.other_diameter_m = other;
  }
  if (e.run.polymer_throughput_kg_s > 0.0) probe.throughput_kg_s = e.run.polymer_throughput_kg_s;
  probe.margins.push_back(yes(contains(target.classes, e.fibre_class)));
  probe.margins.push_back(yes(target.landings.empty() || contains(target.landings, e.landing)));
  const auto log_ratio = [](const std::optional<double>& a, double b) {
    return a ? std::optional<double>(std::log(*a / b)) : std::nullopt;
  };
  if (target.least_diameter_m) probe.margins.push_back(log_ratio(probe.diameter_m, *target.least_diameter_m));
  if (target.most_diameter_m) {
    const auto ratio = log_ratio(probe.diameter_m, *target.most_diameter_m);
    probe.margins.push_back(ratio ? std::optional<double>(-*ratio) : std::nullopt);
  }
  if (target.least_throughput_kg_s)
    probe.margins.push_back(log_ratio(probe.throughput_kg_s, *target.least_throughput_kg_s));
  return probe;
}

double WindowAxis::value(double unit) const {
  constexpr double kEdge = 1e-9;  // nearer than this is the end itself: 1.7e-20 MPa is no overpressure
  if (unit <= kEdge) return from;
  if (unit >= 1.0 - kEdge) return to;
  return logarithmic ? from * std::pow(to / from, unit) : part_way(from, to, unit);
}

double WindowAxis::unit(double value) const {
  return logarithmic ? std::log(value / from) / std::log(to / from) : (value - from) / (to - from);
}

CaseInput at_point(const CaseInput& base, const std::array<WindowAxis, 2>& axes, const UnitPoint& at) {
  CaseInput input = base;
  axes[0].set(input, axes[0].value(at.x));
  axes[1].set(input, axes[1].value(at.y));
  return input;
}

ProbeBatch probe_model(const CaseInput& base, const std::array<WindowAxis, 2>& axes, const WindowTarget& target,
                       const engine::BatchRunner& runner) {
  return [base, axes, target, runner](const std::vector<UnitPoint>& points) {
    std::vector<CaseInput> inputs;
    inputs.reserve(points.size());
    for (const UnitPoint& point : points) inputs.push_back(at_point(base, axes, point));
    std::vector<WindowProbe> probes;
    probes.reserve(points.size());
    for (const Estimate& estimate : runner(inputs)) probes.push_back(judge(estimate, target));
    return probes;
  };
}

}  // namespace whorl::study
