#include "engine/jet_report.hpp"

#include <algorithm>
#include <cmath>

#include "model/breakup.hpp"
#include "model/liquid.hpp"

namespace whorl::engine {
namespace {

using model::JetState;

// Conformation along the jet from sample to sample: exact for constant rate, relaxation time and FENE factor.
class ChainHistory {
 public:
  explicit ChainHistory(double extensibility) : extensibility_(extensibility) {}

  void step(double strain, double dt, double relaxation_time) {
    const double ratio = dt / std::max(relaxation_time, 1e-30);
    const double along = along_;
    const double across = across_;
    double f = factor(along_, across_);
    for (int sweep = 0; sweep < 3; ++sweep) {
      across_ = level(across, -strain - f * ratio, ratio);
      along_ = level(along, 2.0 * strain - f * ratio, ratio);
      if (along_ > 0.3 * extensibility_) break;
      f = factor(along_, across_);
    }
    if (along_ <= 0.3 * extensibility_) return;
    // Strongly stretched: f and the stretch depend steeply on each other. What is missing falls with the stretch: false
    // position, the end that stays halved (Illinois).
    const auto missing = [&](double stretch) {
      return level(along, 2.0 * strain - factor(stretch, across_) * ratio, ratio) - stretch;
    };
    double low = 0.0;
    double high = extensibility_;
    double at_low = missing(low);
    double at_high = missing(high);
    int side = 0;
    // To the last digits: a looser end would hang on the rounding of exp, and the pull near full stretch would show it.
    double last = -1.0;
    for (int k = 0; k < 60 && high - low > 1e-15 * extensibility_; ++k) {
      along_ = at_low > 0.0 && at_high < 0.0 ? low + (high - low) * at_low / (at_low - at_high) : 0.5 * (low + high);
      const double here = missing(along_);
      if (std::abs(here) <= 1e-13 * extensibility_ || std::abs(along_ - last) <= 1e-15 * extensibility_) break;
      last = along_;
      if (here > 0.0) {
        low = along_;
        at_low = here;
        if (side == 1) at_high *= 0.5;
        side = 1;
      } else {
        high = along_;
        at_high = here;
        if (side == -1) at_low *= 0.5;
        side = -1;
      }
    }
    across_ = level(across, -strain - factor(along_, across_) * ratio, ratio);
  }
  [[nodiscard]] double normal_stress(double modulus) const {
    return modulus * factor(along_, across_) * (along_ - across_);
  }

 private:
  // End of a step of d(level)/dt = (exponent level + ratio)/dt: exact while strain rate, f and lambda last.
  [[nodiscard]] static double level(double start, double exponent, double ratio) {
    const double x = std::min(exponent, 200.0);
    const double mean = std::abs(x) < 1e-8 ? 1.0 : std::expm1(x) / x;
    return start * std::exp(x) + ratio * mean;
  }
  [[nodiscard]] double factor(double along, double across) const {
    const double trace = along + 2.0 * across;
    return (extensibility_ - 3.0) / std::max(extensibility_ - trace, 1e-4 * extensibility_);
  }
  double extensibility_;
  double along_{1.0};
  double across_{1.0};
};

double radius_at(const JetSample& sample) {
  return std::hypot(sample.state[JetState::kX], sample.state[JetState::kY]);
}

}  // namespace

void report_jet(const model::JetContext& context, const JetOptions& options, const std::vector<JetSample>& samples,
                model::Jet& jet) {
  const model::Fluid& fluid = *context.fluid;
  std::vector<model::ThreadSample> threads;
  threads.reserve(samples.size());
  if (options.keep_profile) jet.profile.reserve(samples.size());

  ChainHistory chains(fluid.extensibility);
  double azimuth = 0.0;
  double previous_azimuth = 0.0;
  double previous_speed = 0.0;
  double previous_time = 0.0;
  double previous_fraction = 1.0;
  jet.lowest_temperature_K = fluid.charge_temperature_K;
  bool liquid = true;
  const bool blows = context.gas.blows();
  model::JetContext without_gas = context;
  without_gas.gas = {};
  double gas_work = 0.0;
  double previous_push = 0.0;

  for (std::size_t i = 0; i < samples.size(); ++i) {
    const JetSample& sample = samples[i];
    const double* y = sample.state.data();
    const model::JetAxes axes = model::axes_of_release(context.speed_rad_s * sample.time_s);
    const model::JetLocal local = model::jet_local(context, y, sample.surface_ratio, sample.solid, axes);
    if (blows) {  // trapezoids of the work that the gas does beyond the room air, in the same state
      const model::JetLocal plain = model::jet_local(without_gas, y, sample.surface_ratio, sample.solid, axes);
      const double push = local.drag_along_m_s2 - plain.drag_along_m_s2;
      if (i > 0) gas_work += 0.5 * (push + previous_push) * (y[JetState::kArc] - samples[i - 1].state[JetState::kArc]);
      previous_push = push;
    }
    const double temperature = y[JetState::kTemperature];
    const double ratio = y[JetState::kSolvent];
    const model::Liquid flow = model::liquid_at(fluid, ratio, temperature);

    const double lab_azimuth = std::atan2(y[JetState::kY], y[JetState::kX]);
    if (i > 0) {
      double turn = lab_azimuth - previous_azimuth;
      turn -= 2.0 * model::kPi * std::round(turn / (2.0 * model::kPi));
      azimuth += turn;
      // nothing asks for the chains of a solid but a drawing
      if (!sample.solid || options.keep_profile) {
        chains.step(std::log(local.speed_m_s / previous_speed), sample.time_s - previous_time, flow.relaxation_s);
      }
    }
    previous_azimuth = lab_azimuth;
    previous_speed = local.speed_m_s;
    previous_time = sample.time_s;

    const double stress = sample.stressed ? sample.chain_stress_Pa : chains.normal_stress(flow.modulus_Pa());
    const double strain_rate = sample.stressed ? sample.strain_rate_1_s : local.strain_rate_1_s;
    const double radius = 0.5 * local.diameter_m;
    const double area = model::kPi * radius * radius;
    double tension = area * (3.0 * flow.solvent_viscosity_Pa_s * strain_rate + stress) + model::kPi * radius * flow.surface_tension_N_m;
    if (sample.stressed) tension = sample.tension_N;
    const double momentum = context.polymer_flow_kg_s * (1.0 + ratio) * local.speed_m_s;
    if (!sample.solid) {
      const double wind2 = local.wind_along_m_s * local.wind_along_m_s + local.wind_across_m_s * local.wind_across_m_s;
      jet.air_weber = std::max(jet.air_weber, context.air->density_kg_m3 * wind2 * local.diameter_m / flow.surface_tension_N_m);
      jet.tension_ratio = std::max(jet.tension_ratio, std::abs(tension) / momentum);
      threads.push_back({sample.time_s, local.speed_m_s,
                         {radius, local.density_kg_m3, flow.viscosity_Pa_s(), flow.surface_tension_N_m, stress, flow.relaxation_s}});
    }
    jet.lowest_temperature_K = std::min(jet.lowest_temperature_K, temperature);

    const double fraction = ratio / (1.0 + ratio);
    if (!jet.dried && fraction <= kDrySolventFraction) {
      jet.dried = true;
      // linear between samples in arc length
      double share = 1.0;
      if (i > 0 && previous_fraction > fraction) {
        share = (previous_fraction - kDrySolventFraction) / (previous_fraction - fraction);
      }
      const JetSample& before = samples[i > 0 ? i - 1 : 0];
      jet.drying_distance_m = before.state[JetState::kArc] +
                              share * (y[JetState::kArc] - before.state[JetState::kArc]);
      jet.drying_radius_m = radius_at(before) + share * (radius_at(sample) - radius_at(before));
    }
    previous_fraction = fraction;
    if (sample.solid && liquid) {
      liquid = false;
      jet.solidification_distance_m = y[JetState::kArc];
    }

    const double surface_phi = local.surface_phi;
    const double glass_margin = temperature - model::glass_temperature(fluid, surface_phi);
    if (!jet.skin_formed && model::solid_margin(fluid, surface_phi, temperature) < 0.0 &&
        model::solid_margin(fluid, flow.polymer_volume_fraction, temperature) > 0.0) {
      jet.skin_formed = true;
    }

    if (options.keep_profile) {
      model::JetStation station;
      station.arc_length_m = y[JetState::kArc];
      station.time_s = sample.time_s;
      const double turned = context.speed_rad_s * sample.time_s;
      station.x_m = std::cos(turned) * y[JetState::kX] + std::sin(turned) * y[JetState::kY];
      station.y_m = std::cos(turned) * y[JetState::kY] - std::sin(turned) * y[JetState::kX];
      station.z_m = y[JetState::kZ];
      station.radius_m = radius_at(sample);
      station.speed_m_s = local.speed_m_s;
      station.lab_speed_m_s = std::hypot(y[JetState::kVx], y[JetState::kVy], y[JetState::kVz]);
      station.diameter_m = local.diameter_m;
      station.temperature_K = temperature;
      station.solvent_ratio = ratio;
      station.solvent_mass_fraction = fraction;
      station.surface_solvent_fraction = sample.surface_ratio / (1.0 + sample.surface_ratio);
      station.polymer_volume_fraction = flow.polymer_volume_fraction;
      station.viscosity_Pa_s = flow.viscosity_Pa_s();
      station.strain_rate_1_s = strain_rate;
      station.axial_stress_Pa = 3.0 * flow.solvent_viscosity_Pa_s * strain_rate + stress;
      if (sample.stressed && sample.solid) station.axial_stress_Pa = tension / area;
      station.tension_N = tension;
      station.momentum_flux_N = momentum;
      station.evaporation_kg_m2_s = local.exchange.evaporation_kg_m2_s;
      station.reynolds_air = local.exchange.reynolds;
      station.glass_margin_K = glass_margin;
      station.solid = sample.solid;
      jet.profile.push_back(station);
    }

    if (i + 1 == samples.size()) {
      jet.flight_time_s = sample.time_s;
      jet.path_length_m = y[JetState::kArc];
      jet.end_radius_m = radius_at(sample);
      jet.end_speed_m_s = local.speed_m_s;
      jet.wet_diameter_m = local.diameter_m;
      jet.dry_diameter_m = std::sqrt(4.0 * model::dry_area_m2(context, local.speed_m_s) / model::kPi);
      jet.end_temperature_K = temperature;
      // A dry fibre keeps an error of the march's tolerance on either side of zero: what is smaller is none.
      const auto left = [&](double share) { return share > options.relative_tolerance ? share : 0.0; };
      jet.residual_solvent = left(fraction);
      jet.surface_residual_solvent = left(sample.surface_ratio / (1.0 + sample.surface_ratio));
      jet.evaporated_kg_s = context.polymer_flow_kg_s * (fluid.initial.solvent_ratio - ratio);
      // Time to flow together in contact against time to lose the rest of the solvent. The body of the filament has to
      // flow, so its mean composition counts: a stiff surface on a wet core does not keep fibres apart.
      jet.levelling_time_s = flow.viscosity_Pa_s() * radius / flow.surface_tension_N_m;
      jet.solid_throughout = model::solid_margin(fluid, flow.polymer_volume_fraction, temperature) < 0.0;
      const double loss = -local.solvent_rate_1_s;
      jet.remaining_drying_time_s = loss > 0.0 ? std::min(ratio / loss, 1e6) : 1e6;

      const double omega2 = context.speed_rad_s * context.speed_rad_s;
      model::ForceBudget& budget = jet.budget;
      budget.centrifugal_J_kg = 0.5 * omega2 *
                                (jet.end_radius_m * jet.end_radius_m - context.outer_radius_m * context.outer_radius_m);
      budget.gravity_J_kg = -context.gravity_m_s2 * y[JetState::kZ];
      budget.gas_J_kg = gas_work;
      budget.air_drag_J_kg = y[JetState::kDragWork] - gas_work;
      budget.total_J_kg = 0.5 * (local.speed_m_s * local.speed_m_s - context.exit_speed_m_s * context.exit_speed_m_s);
      budget.solid_constraint_J_kg =
          liquid ? 0.0
                 : budget.total_J_kg - budget.centrifugal_J_kg - budget.gravity_J_kg - budget.air_drag_J_kg -
                       budget.gas_J_kg;
    }
  }
  jet.turns = std::abs(azimuth - context.speed_rad_s * jet.flight_time_s) / (2.0 * model::kPi);

  const model::CapillaryGain gain = model::capillary_gain(threads);
  jet.capillary_gain = gain.largest;
  for (std::size_t i = 0; i < jet.profile.size(); ++i) {
    jet.profile[i].capillary_gain = gain.gain_along[std::min(i, gain.gain_along.size() - 1)];
  }
  jet.dew_margin_K = jet.lowest_temperature_K - context.air->dew_point_K;
}

}  // namespace whorl::engine
