#include "engine/thread_flight.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "engine/jet_report.hpp"
#include "model/breakup.hpp"
#include "model/splitting.hpp"
#include "solver/root.hpp"

namespace whorl::engine {
namespace {

constexpr double kEntrainment = 0.32;   ///< Ricou & Spalding
constexpr double kSlip = 0.2;           ///< of the mean speed: turbulence of the gas past a thread
constexpr double kSlantShare = 0.5;     ///< wind at all angles: mean square of its normal component
constexpr int kFlightSteps = 72;
constexpr double kFirstTime_s = 1e-8;
constexpr double kReferenceHumidity = 0.4;
constexpr double kMostThinning = 1.0;  ///< so that humidity never moves the diameter by more than a factor e

class Flight {
 public:
  Flight(const Setup& setup, const ThreadStart& start)
      : setup_(setup), fluid_(setup.fluid), start_(start), air_(setup.air), exit_(model::gas_exit(start.overpressure_Pa, setup.air)) {
    liquid_kg_s_ = start.liquid_m3_s * fluid_.initial.density_kg_m3;
    mixed_kg_s_ = start.gas_kg_s + liquid_kg_s_;
    speed_ = model::carry_speed_m_s(start.gas_kg_s, exit_.jet_speed_m_s, liquid_kg_s_, start.liquid_speed_m_s);
    width_ = std::sqrt(4.0 * mixed_kg_s_ / (model::kPi * air_.density_kg_m3 * std::max(speed_, 1e-9)));
    polymer_kg_s_ = start.liquid_m3_s * fluid_.initial.concentration_kg_m3;
    per_length_ = 0.25 * model::kPi * start.dry_diameter_m * start.dry_diameter_m * fluid_.polymer_density_kg_m3;
  }

  void run(model::ThreadReport& r) {
    const double distance = setup_.input.operation.collection_distance_m;
    // x + k x^2/(2 d) = u_m t
    const double flight = (distance + 0.5 * kEntrainment * distance * distance / width_) / std::max(speed_, 1e-9);
    r.carry_speed_m_s = speed_;
    r.flight_time_s = flight;
    r.wet_diameter_m = diameter(fluid_.initial.solvent_ratio);
    double ratio = fluid_.initial.solvent_ratio;
    double temperature = fluid_.charge_temperature_K;
    double gas_temperature = air_.temperature_K;
    double vapour_out = 0.0;
    double heat_in = 0.0;
    std::vector<model::ThreadSample> samples;
    r.lowest_temperature_K = temperature;
    double time = 0.0;
    double margin_before = 0.0;
    thinning_ = 0.0;
    const double growth = std::pow(flight / kFirstTime_s, 1.0 / (kFlightSteps - 1));
    add_sample(samples, 0.0, ratio, temperature);
    for (int i = 0; i < kFlightSteps; ++i) {
      const double next = flight > kFirstTime_s ? kFirstTime_s * std::pow(growth, i) : flight * (i + 1) / kFlightSteps;
      const double step = next - time;
      const double taken_up = mass_ratio(next);
      double here = temperature;
      const auto balance = [&](double x) {
        set_gas(x, here, taken_up, gas_temperature);
        here = surface_temperature(x);
        return x - ratio + step * evaporation(x, here) * model::kPi * diameter(x) / per_length_;
      };
      double after = ratio;
      if (balance(ratio) > 0.0) {
        const double low = std::min(1e-9, 0.5 * ratio);
        if (balance(low) >= 0.0) {
          after = low;
        } else {
          const auto root = solver::find_root(balance, low, ratio, {1e-9, 0.0, 60});
          if (root.found()) after = root.x;
        }
      } else {  // moist air gives water to a thread that is colder than its dew point: held at what it has
        after = ratio;
      }
      balance(after);
      temperature = here;
      const double flux = evaporation(after, temperature) * model::kPi * diameter(after) / per_length_ * step;
      vapour_out += flux;
      heat_in += flux * model::latent_heat(fluid_, temperature);
      if (!r.solidified) {
        thinning_ += step / (3.0 * std::max(relaxation(after, temperature), 1e-12));
        add_sample(samples, next, after, temperature);
        const double phi = model::polymer_volume_fraction(fluid_, after);
        const double margin = model::solid_margin(fluid_, phi, temperature);
        if (margin < 0.0) {
          r.solidified = true;
          // linear between the steps
          const double share = margin_before > 0.0 ? margin_before / (margin_before - margin) : 0.0;
          r.solidification_time_s = time + share * step;
          thinning_ -= (1.0 - share) * step / (3.0 * std::max(relaxation(after, temperature), 1e-12));
        }
        margin_before = margin;
      }
      if (!r.dried && after / (1.0 + after) <= kDrySolventFraction) r.dried = true;
      time = next;
      ratio = after;
      r.lowest_temperature_K = std::min(r.lowest_temperature_K, temperature);
    }
    r.residual_solvent = ratio / (1.0 + ratio);
    r.end_temperature_K = temperature;
    r.vapour_fraction = air_.vapour_fraction;
    r.capillary_gain = samples.size() > 1 ? model::capillary_gain(samples).largest : 0.0;
    const double phi = model::polymer_volume_fraction(fluid_, ratio);
    const double eta = model::solvent_viscosity(fluid_, temperature) + model::polymer_viscosity(fluid_, phi, temperature);
    r.levelling_time_s = eta * 0.5 * diameter(ratio) / model::surface_tension(fluid_, temperature);
    const double loss = evaporation(ratio, temperature) * model::kPi * diameter(ratio) / per_length_;
    r.remaining_drying_time_s = loss > 0.0 ? std::min(ratio / loss, 1e6) : 1e6;
    close(r, ratio, vapour_out, heat_in, gas_temperature, temperature, flight);
  }
  [[nodiscard]] double thinning() const noexcept { return thinning_; }

 private:
  // Mass flow at this time over that where gas and liquid met.
  [[nodiscard]] double mass_ratio(double time) const {
    // m/m_0 = 1 + k x/d, dx/dt = u_m/(1 + k x/d)
    return std::sqrt(1.0 + 2.0 * kEntrainment * speed_ * time / width_);
  }
  [[nodiscard]] double diameter(double ratio) const {
    const double area = per_length_ * (1.0 + ratio) / model::mixture_density(fluid_, ratio);
    return std::sqrt(4.0 * area / model::kPi);
  }
  [[nodiscard]] double relaxation(double ratio, double temperature) const {
    const double phi = model::polymer_volume_fraction(fluid_, ratio);
    return model::relaxation_time(fluid_, phi, temperature, model::polymer_viscosity(fluid_, phi, temperature));
  }
  // Vapour and temperature of the gas round threads that have `ratio` left.
  void set_gas(double ratio, double temperature, double taken_up, double& gas_temperature) {
    const double gas = std::max(mixed_kg_s_ * taken_up - liquid_kg_s_, 1e-30);
    const double vapour = polymer_kg_s_ * std::max(fluid_.initial.solvent_ratio - ratio, 0.0);
    const double room = setup_.air.vapour_fraction;
    const double moles_gas = gas / air_.molar_mass_kg_mol;
    const double moles_vapour = vapour / fluid_.solvent_molar_mass_kg_mol;
    air_.vapour_fraction = std::min((room * moles_gas + moles_vapour) / (moles_gas + moles_vapour), 0.95);
    air_.log_air_fraction = std::log1p(-air_.vapour_fraction);
    const double cold = vapour * model::latent_heat(fluid_, temperature) -
                        polymer_kg_s_ * (fluid_.polymer_heat_capacity + ratio * fluid_.solvent_heat_capacity) *
                            (fluid_.charge_temperature_K - temperature);
    gas_temperature = std::max(setup_.air.temperature_K - cold / (gas * air_.heat_capacity_J_kg_K + vapour * fluid_.vapour_heat_capacity), 180.0);
    air_.temperature_K = gas_temperature;
    wind_ = std::max(kSlip * speed_ / taken_up, 0.05);
  }
  [[nodiscard]] model::SurfaceExchange<double> exchange(double ratio, double temperature) const {
    return model::surface_exchange(air_, fluid_, diameter(ratio), wind_, kSlantShare, temperature,
                                   model::polymer_volume_fraction(fluid_, ratio));
  }
  [[nodiscard]] double evaporation(double ratio, double temperature) const { return exchange(ratio, temperature).evaporation_kg_m2_s; }
  // Where heat from the gas pays for the evaporation.
  [[nodiscard]] double surface_temperature(double ratio) const {
    const auto missing = [&](double t) {
      const auto x = exchange(ratio, t);
      return (x.heat_W_m2 - x.evaporation_kg_m2_s * model::latent_heat(fluid_, t)) / x.heat_coefficient;
    };
    const double high = air_.temperature_K + 15.0;
    const double low = std::max(air_.temperature_K - 130.0, 150.0);
    const auto root = solver::find_root(missing, low, high, {1e-7, 0.0, 60});
    return root.found() ? root.x : air_.temperature_K;
  }
  void add_sample(std::vector<model::ThreadSample>& samples, double time, double ratio, double temperature) const {
    const double phi = model::polymer_volume_fraction(fluid_, ratio);
    const double eta_p = model::polymer_viscosity(fluid_, phi, temperature);
    const double lambda = model::relaxation_time(fluid_, phi, temperature, eta_p);
    model::Thread thread;
    thread.radius_m = 0.5 * diameter(ratio);
    thread.density_kg_m3 = model::mixture_density(fluid_, ratio);
    thread.viscosity_Pa_s = model::solvent_viscosity(fluid_, temperature) + eta_p;
    thread.surface_tension_N_m = model::surface_tension(fluid_, temperature);
    // Torn at rates far above 1/lambda: the chains start stretched and relax.
    thread.relaxation_time_s = lambda;
    thread.axial_stress_Pa = eta_p / lambda * fluid_.extensibility * std::exp(-std::min(thinning_ * 3.0, 700.0));
    samples.push_back({time, 1.0, thread});
  }
  // Mass, momentum and energy once more from their ends.
  void close(model::ThreadReport& r, double ratio, double vapour_out, double heat_in, double gas_temperature, double temperature,
             double flight) const {
    r.mass_closure = std::abs(fluid_.initial.solvent_ratio - ratio - vapour_out) / fluid_.initial.solvent_ratio;
    const double taken_up = mass_ratio(flight);
    const double momentum = start_.gas_kg_s * exit_.jet_speed_m_s + liquid_kg_s_ * start_.liquid_speed_m_s;
    r.momentum_closure = momentum > 0.0 ? std::abs(mixed_kg_s_ * taken_up * speed_ / taken_up - momentum) / momentum : 0.0;
    const double gas = mixed_kg_s_ * taken_up - liquid_kg_s_;
    const double vapour = polymer_kg_s_ * (fluid_.initial.solvent_ratio - ratio);
    const double lost_by_gas = (gas * air_.heat_capacity_J_kg_K + vapour * fluid_.vapour_heat_capacity) * (setup_.air.temperature_K - gas_temperature);
    const double sensible = polymer_kg_s_ * (fluid_.polymer_heat_capacity + ratio * fluid_.solvent_heat_capacity) *
                            (fluid_.charge_temperature_K - temperature);
    const double latent = polymer_kg_s_ * heat_in;
    r.energy_closure = latent > 0.0 ? std::abs(lost_by_gas + sensible - latent) / latent : 0.0;
  }

  const Setup& setup_;
  const model::Fluid& fluid_;
  const ThreadStart& start_;
  model::Air air_;
  model::GasExit exit_;
  double liquid_kg_s_{}, mixed_kg_s_{}, polymer_kg_s_{}, speed_{}, width_{}, per_length_{}, wind_{}, thinning_{};
};

}  // namespace

void fly_threads(const Setup& setup, const ThreadStart& start, model::ThreadReport& report) {
  Flight(setup, start).run(report);
}

double humidity_factor(const Setup& setup, const ThreadStart& start) {
  if (!setup.fluid.water_is_solvent) return 1.0;
  const auto thinning = [&](double humidity) {
    Setup room = setup;
    room.input.room.relative_humidity = humidity;
    room.air = model::make_air(room.input, room.fluid);
    model::ThreadReport report;
    Flight flight(room, start);
    flight.run(report);
    return flight.thinning() / (1.0 + flight.thinning());
  };
  const double more = thinning(setup.input.room.relative_humidity) - thinning(kReferenceHumidity);
  return std::exp(-kMostThinning * more);
}

}  // namespace whorl::engine
