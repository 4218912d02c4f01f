#include "whorl/jet/jet_report.hpp"

#include <algorithm>
#include <cmath>

#include "model/vector_length.hpp"
#include "whorl/model/breakup.hpp"
#include "whorl/model/liquid.hpp"

namespace whorl::jet {
namespace {

using model::JetState;

constexpr double kLongDrying_s = 1e6;  // longer is for ever

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

// What is left at the end, from the last sample.
void report_end(const model::JetContext& context, const JetOptions& options, const JetSample& sample,
                const model::JetLocal& local, const model::Liquid& flow, model::Jet& jet) {
  const model::Fluid& fluid = *context.fluid;
  const auto& y = sample.state;
  const double ratio = y[JetState::kSolvent];
  const double temperature = y[JetState::kTemperature];
  const double radius = 0.5 * local.diameter_m;
  jet.flight_time_s = sample.time_s;
  jet.path_length_m = y[JetState::kArc];
  jet.end_radius_m = radius_at(sample);
  jet.end_speed_m_s = local.speed_m_s;
  jet.wet_diameter_m = local.diameter_m;
  jet.dry_diameter_m = std::sqrt(4.0 * model::dry_area_m2(context, local.speed_m_s) / model::kPi);
  jet.end_temperature_K = temperature;
  // A dry fibre keeps an error of the march's tolerance on either side of zero: what is smaller is none.
  const auto left = [&](double share) { return share > options.relative_tolerance ? share : 0.0; };
  jet.residual_solvent = left(ratio / (1.0 + ratio));
  jet.surface_residual_solvent = left(sample.surface_ratio / (1.0 + sample.surface_ratio));
  jet.evaporated_kg_s = context.polymer_flow_kg_s * (fluid.initial.solvent_ratio - ratio);
  // Time to flow together in contact against time to lose the rest of the solvent. The body of the filament has to
  // flow, so its mean composition counts: a stiff surface on a wet core does not keep fibres apart.
  jet.levelling_time_s = flow.viscosity_Pa_s() * radius / flow.surface_tension_N_m;
  jet.solid_throughout = model::solid_margin(fluid, flow.polymer_volume_fraction, temperature) < 0.0;
  const double loss = -local.solvent_rate_1_s;
  jet.remaining_drying_time_s = loss > 0.0 ? std::min(ratio / loss, kLongDrying_s) : kLongDrying_s;
}

void report_budget(const model::JetContext& context, const JetSample& end, double speed_m_s, double gas_work,
                   bool liquid, model::Jet& jet) {
  const double omega2 = context.speed_rad_s * context.speed_rad_s;
  model::ForceBudget& budget = jet.budget;
  budget.centrifugal_J_kg = 0.5 * omega2 *
                            (jet.end_radius_m * jet.end_radius_m - context.outer_radius_m * context.outer_radius_m);
  budget.gravity_J_kg = -context.gravity_m_s2 * end.state[JetState::kZ];
  budget.gas_J_kg = gas_work;
  budget.air_drag_J_kg = end.state[JetState::kDragWork] - gas_work;
  budget.total_J_kg = 0.5 * (speed_m_s * speed_m_s - context.exit_speed_m_s * context.exit_speed_m_s);
  budget.solid_constraint_J_kg =
      liquid ? 0.0
             : budget.total_J_kg - budget.centrifugal_J_kg - budget.gravity_J_kg - budget.air_drag_J_kg -
                   budget.gas_J_kg;
}

// Walks along the samples.
class JetReport {
 public:
  JetReport(const model::JetContext& context, const JetOptions& options, const std::vector<JetSample>& samples,
            model::Jet& jet)
      : context_(context),
        options_(options),
        samples_(samples),
        jet_(jet),
        fluid_(*context.fluid),
        chains_(context.fluid->extensibility),
        blows_(context.gas.blows()),
        without_gas_(context) {
    without_gas_.gas = {};
  }

  // The last sample, and on the way what has to be seen there.
  void brief() {
    const bool may_skin = options_.brief && options_.drying == model::DryingModel::radial;
    for (std::size_t i = 0; i < samples_.size(); ++i) {
      const JetSample& sample = samples_[i];
      const bool last = i + 1 == samples_.size();
      if (sample.solid && !last) continue;
      const double* y = sample.state.data();
      const model::JetAxes axes = model::axes_of_release(context_.speed_rad_s * sample.time_s);
      const double temperature = y[JetState::kTemperature];
      if (!sample.solid)
        note_air(model::jet_in_wind(context_, y, axes), model::surface_tension(fluid_, temperature));
      if (may_skin) note_skin(model::polymer_volume_fraction(fluid_, sample.surface_ratio),
                              model::polymer_volume_fraction(fluid_, y[JetState::kSolvent]), temperature);
      if (!last) continue;
      const model::JetLocal local = model::jet_local(context_, y, sample.surface_ratio, sample.solid, axes);
      report_end(context_, options_, sample, local, model::liquid_at(fluid_, y[JetState::kSolvent], temperature), jet_);
    }
  }

  void run() {
    threads_.reserve(samples_.size());
    if (options_.keep_profile) jet_.profile.reserve(samples_.size());
    jet_.lowest_temperature_K = fluid_.charge_temperature_K;
    for (std::size_t i = 0; i < samples_.size(); ++i) sample(i);
    const double swept = samples_.back().angle_rad - samples_.front().angle_rad;
    jet_.turns = std::abs(swept - context_.speed_rad_s * jet_.flight_time_s) / (2.0 * model::kPi);
    const model::CapillaryGain gain = model::capillary_gain(threads_);
    jet_.capillary_gain = gain.largest;
    for (std::size_t i = 0; i < jet_.profile.size(); ++i) {
      jet_.profile[i].capillary_gain = gain.gain_along[std::min(i, gain.gain_along.size() - 1)];
    }
    jet_.dew_margin_K = jet_.lowest_temperature_K - context_.air->dew_point_K;
  }

 private:
  // One sample: where it stands, how it is stretched, what it tells.
  struct Here {
    const JetSample& sample;
    const model::JetLocal& local;
    const model::Liquid& liquid;
    double stress_Pa{}, strain_rate_1_s{}, tension_N{}, momentum_N{};
    [[nodiscard]] double ratio() const { return sample.state[JetState::kSolvent]; }
    [[nodiscard]] double fraction() const { return ratio() / (1.0 + ratio()); }
    [[nodiscard]] double temperature() const { return sample.state[JetState::kTemperature]; }
  };

  void sample(std::size_t i) {
    const JetSample& sample = samples_[i];
    const double* y = sample.state.data();
    const model::JetAxes axes = model::axes_of_release(context_.speed_rad_s * sample.time_s);
    const model::JetLocal local = model::jet_local(context_, y, sample.surface_ratio, sample.solid, axes);
    if (blows_) add_gas_work(i, axes, local.drag_along_m_s2);
    const model::Liquid flow = model::liquid_at(fluid_, y[JetState::kSolvent], y[JetState::kTemperature]);
    step(i, local.speed_m_s, flow.relaxation_s);
    Here here{sample, local, flow};
    stress(here);
    if (!sample.solid) note_liquid(here);
    jet_.lowest_temperature_K = std::min(jet_.lowest_temperature_K, here.temperature());
    note_drying(i, here.fraction());
    if (sample.solid && liquid_) {
      liquid_ = false;
      jet_.solidification_distance_m = y[JetState::kArc];
    }
    note_skin(local.surface_phi, flow.polymer_volume_fraction, here.temperature());
    if (options_.keep_profile) add_station(here);
    if (i + 1 == samples_.size()) {
      report_end(context_, options_, sample, local, flow, jet_);
      report_budget(context_, sample, local.speed_m_s, gas_work_, liquid_, jet_);
    }
  }

  // Trapezoids of the work that the gas does beyond the room air, in the same state.
  void add_gas_work(std::size_t i, const model::JetAxes& axes, double drag_along_m_s2) {
    const JetSample& sample = samples_[i];
    const double* y = sample.state.data();
    const model::JetLocal plain = model::jet_local(without_gas_, y, sample.surface_ratio, sample.solid, axes);
    const double push = drag_along_m_s2 - plain.drag_along_m_s2;
    if (i > 0) {
      const double length = y[JetState::kArc] - samples_[i - 1].state[JetState::kArc];
      gas_work_ += 0.5 * (push + previous_push_) * length;
    }
    previous_push_ = push;
  }

  // From the sample before: the stretch of the chains.
  void step(std::size_t i, double speed, double relaxation) {
    const JetSample& sample = samples_[i];
    if (i > 0) {
      // nothing asks for the chains of a solid but a drawing
      if (!sample.solid || options_.keep_profile)
        chains_.step(std::log(speed / previous_speed_), sample.time_s - previous_time_, relaxation);
    }
    previous_speed_ = speed;
    previous_time_ = sample.time_s;
  }

  void stress(Here& here) const {
    const JetSample& sample = here.sample;
    const model::Liquid& flow = here.liquid;
    here.stress_Pa = sample.stressed ? sample.chain_stress_Pa : chains_.normal_stress(flow.modulus_Pa());
    here.strain_rate_1_s = sample.stressed ? sample.strain_rate_1_s : here.local.strain_rate_1_s;
    const double radius = 0.5 * here.local.diameter_m;
    const double area = model::kPi * radius * radius;
    here.tension_N = area * (3.0 * flow.solvent_viscosity_Pa_s * here.strain_rate_1_s + here.stress_Pa) +
                     model::kPi * radius * flow.surface_tension_N_m;
    if (sample.stressed) here.tension_N = sample.tension_N;
    here.momentum_N = context_.polymer_flow_kg_s * (1.0 + here.ratio()) * here.local.speed_m_s;
  }

  void note_air(const model::JetLocal& local, double sigma) {
    const double wind2 = local.wind_along_m_s * local.wind_along_m_s + local.wind_across_m_s * local.wind_across_m_s;
    jet_.air_weber = std::max(jet_.air_weber, context_.air->density_kg_m3 * wind2 * local.diameter_m / sigma);
  }

  // Solid outside, liquid on the whole.
  void note_skin(double surface_phi, double phi, double temperature) {
    if (jet_.skin_formed) return;
    jet_.skin_formed = model::solid_margin(fluid_, surface_phi, temperature) < 0.0 &&
                       model::solid_margin(fluid_, phi, temperature) > 0.0;
  }

  void note_liquid(const Here& here) {
    const model::JetLocal& local = here.local;
    const double sigma = here.liquid.surface_tension_N_m;
    note_air(local, sigma);
    jet_.tension_ratio = std::max(jet_.tension_ratio, std::abs(here.tension_N) / here.momentum_N);
    threads_.push_back({here.sample.time_s, local.speed_m_s,
                        {0.5 * local.diameter_m, local.density_kg_m3, here.liquid.viscosity_Pa_s(), sigma,
                         here.stress_Pa, here.liquid.relaxation_s}});
  }

  // Where it is dry: linear between samples in arc length.
  void note_drying(std::size_t i, double fraction) {
    if (!jet_.dried && fraction <= kDrySolventFraction) {
      jet_.dried = true;
      double share = 1.0;
      if (i > 0 && previous_fraction_ > fraction)
        share = (previous_fraction_ - kDrySolventFraction) / (previous_fraction_ - fraction);
      const JetSample& before = samples_[i > 0 ? i - 1 : 0];
      const double from = before.state[JetState::kArc];
      jet_.drying_distance_m = from + share * (samples_[i].state[JetState::kArc] - from);
      jet_.drying_radius_m = radius_at(before) + share * (radius_at(samples_[i]) - radius_at(before));
    }
    previous_fraction_ = fraction;
  }

  void add_station(const Here& here) {
    const JetSample& sample = here.sample;
    const model::JetLocal& local = here.local;
    const auto& y = sample.state;
    const double radius = 0.5 * local.diameter_m;
    const double area = model::kPi * radius * radius;
    model::JetStation station;
    station.arc_length_m = y[JetState::kArc];
    station.time_s = sample.time_s;
    const double turned = context_.speed_rad_s * sample.time_s;
    station.x_m = std::cos(turned) * y[JetState::kX] + std::sin(turned) * y[JetState::kY];
    station.y_m = std::cos(turned) * y[JetState::kY] - std::sin(turned) * y[JetState::kX];
    station.z_m = y[JetState::kZ];
    station.radius_m = radius_at(sample);
    station.speed_m_s = local.speed_m_s;
    station.lab_speed_m_s = model::vector_length(y[JetState::kVx], y[JetState::kVy], y[JetState::kVz]);
    station.diameter_m = local.diameter_m;
    station.temperature_K = here.temperature();
    station.solvent_ratio = here.ratio();
    station.solvent_mass_fraction = here.fraction();
    station.surface_solvent_fraction = sample.surface_ratio / (1.0 + sample.surface_ratio);
    station.polymer_volume_fraction = here.liquid.polymer_volume_fraction;
    station.viscosity_Pa_s = here.liquid.viscosity_Pa_s();
    station.strain_rate_1_s = here.strain_rate_1_s;
    station.axial_stress_Pa = 3.0 * here.liquid.solvent_viscosity_Pa_s * here.strain_rate_1_s + here.stress_Pa;
    if (sample.stressed && sample.solid) station.axial_stress_Pa = here.tension_N / area;
    station.tension_N = here.tension_N;
    station.momentum_flux_N = here.momentum_N;
    station.evaporation_kg_m2_s = local.exchange.evaporation_kg_m2_s;
    station.reynolds_air = local.exchange.reynolds;
    station.glass_margin_K = here.temperature() - model::glass_temperature(fluid_, local.surface_phi);
    station.solid = sample.solid;
    jet_.profile.push_back(station);
  }

  const model::JetContext& context_;
  const JetOptions& options_;
  const std::vector<JetSample>& samples_;
  model::Jet& jet_;
  const model::Fluid& fluid_;
  ChainHistory chains_;
  const bool blows_;
  model::JetContext without_gas_;
  std::vector<model::ThreadSample> threads_;
  bool liquid_{true};
  double previous_speed_{}, previous_time_{};
  double previous_fraction_{1.0};
  double gas_work_{}, previous_push_{};
};

}  // namespace

void report_jet(const model::JetContext& context, const JetOptions& options, const std::vector<JetSample>& samples,
                model::Jet& jet) {
  JetReport report(context, options, samples, jet);
  if (options.brief || options.only_diameter) {
    report.brief();
  } else {
    report.run();
  }
}

}  // namespace whorl::jet
