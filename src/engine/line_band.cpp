#include "whorl/engine/line_band.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "whorl/engine/line_jet.hpp"
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/engine/uncertain.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::engine {
namespace {

constexpr double kOneSdLow = 0.15865525393145707;
constexpr double kLeastPart = 1e-3;  // of ln d: less is not worth a line, and drowns in what a march leaves
constexpr double kOneSdHigh = 1.0 - kOneSdLow;

// The first jet, as far as the line that it lays hangs on it.
struct FirstLine {
  double dry_diameter_m{};
  double air_weber{};
  /// ln of the diameter as laid: the draw of the air on the way comes on top of the march.
  [[nodiscard]] double log_diameter(const model::ModelInput& how) const {
    return std::log(dry_diameter_m) - 0.5 * std::log(model::excess_draw(how.excess_draw, how.flapping_draw, air_weber));
  }
};

// None where no fibre forms.
std::optional<FirstLine> first_line(const model::CaseInput& input, const model::Library& library) {
  try {
    const Setup setup = resolve(input, library);
    const OrificeSolution start = solve_orifice(setup, input.operation.charge_volume_m3);
    if (start.status != model::Status::done || !(start.flow.flow_m3_s > 0.0)) return {};
    jet::TensionMemory none;
    jet::JetOptions options = jet_options(setup);
    options.only_diameter = true;
    const model::Jet jet =
        solve_jet(setup, setup.jet_context(start.flow), options, none, jet::Effort::companion).jet;
    if (jet.status != model::Status::done || !(jet.dry_diameter_m > 0.0)) return {};
    return FirstLine{jet.dry_diameter_m, jet.air_weber};
  } catch (const InputError&) {
    return {};  // a doubt moved out of what the relations take
  }
}

std::optional<double> log_line(const model::CaseInput& input, const model::Library& library) {
  const auto line = first_line(input, library);
  if (!line) return {};
  return line->log_diameter(input.model);
}

model::CaseInput without_tension(model::CaseInput input) {
  input.model.tier = model::Tier::inertial;
  input.model.drying = model::DryingModel::lumped;
  // The tolerance stays that of the case: at 1e-4 a line that floats for tens of turns lands in another place, or not
  // at all, after a change of the twelfth digit of its speed.
  return input;
}

}  // namespace

LineDirections line_directions(const model::CaseInput& input, const model::Library& library) {
  constexpr double kStep = 0.03;
  const model::CaseInput quick = without_tension(input);
  const auto exponent = [&](auto move) -> std::optional<double> {
    std::array<std::optional<double>, 2> ends;
    for (std::size_t side = 0; side < 2; ++side) {
      model::CaseInput moved = quick;
      move(moved, side == 0 ? 1.0 - kStep : 1.0 + kStep);
      ends[side] = log_line(moved, library);
      if (!ends[side]) return {};
    }
    return (*ends[1] - *ends[0]) / (std::log1p(kStep) - std::log1p(-kStep));
  };
  LineDirections out;
  out.speed = exponent([](model::CaseInput& c, double by) { c.operation.rotation_speed_rad_s *= by; });
  if (!input.solution.measured.zero_shear_viscosity_Pa_s)
    out.concentration = exponent([](model::CaseInput& c, double by) { c.solution.concentration.value *= by; });
  if (input.operation.gas_overpressure_Pa > 0.0)
    out.overpressure = exponent([](model::CaseInput& c, double by) { c.operation.gas_overpressure_Pa *= by; });
  return out;
}

LineBand line_band(const model::CaseInput& input, const model::Library& library) {
  LineBand out;
  const model::CaseInput quick = without_tension(input);
  const auto line = first_line(quick, library);
  if (!line) return out;
  const double middle = line->log_diameter(quick.model);
  const Setup setup = resolve(input, library);
  const auto doubts = join_uncertain(uncertain_properties(setup), uncertain_model_form(input));
  double sum = 0.0;
  for (const UncertainInput& doubt : doubts) {
    // no part in the first jet
    if (doubt.key == "model.thread_size_factor" || doubt.key == "model.tearing_quantile" ||
        doubt.key == "model.breakup_threshold")
      continue;
    double squares = 0.0;
    int sides = 0;
    for (const double u : {kOneSdLow, kOneSdHigh}) {
      model::CaseInput moved = quick;
      doubt.apply(moved, quantile(doubt.spread, u));
      // the draw comes after the march, which need not be repeated for it
      const auto there = doubt.key == "model.excess_draw" ? line->log_diameter(moved.model) : log_line(moved, library);
      if (!there) continue;
      squares += (*there - middle) * (*there - middle);
      ++sides;
    }
    if (sides == 0) continue;
    const double square = squares / sides;
    sum += square;
    if (square > kLeastPart * kLeastPart) out.parts.push_back({doubt.key, doubt.property, std::sqrt(square)});
  }
  std::stable_sort(out.parts.begin(), out.parts.end(),
                   [](const BandPart& a, const BandPart& b) { return a.log_sd > b.log_sd; });
  out.log_sd = std::sqrt(sum);
  out.made = true;
  return out;
}

}  // namespace whorl::engine
