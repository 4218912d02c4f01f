#include "engine/thread_flight.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "engine/jet_report.hpp"
#include "model/breakup.hpp"
#include "model/splitting.hpp"
#include "solver/quadrature.hpp"
#include "solver/root.hpp"

namespace whorl::engine {
namespace {

constexpr double kEntrainment = 0.32;   ///< Ricou & Spalding
constexpr double kSlip = 0.2;           ///< of the mean speed: turbulence of the gas past a thread
constexpr double kSlantShare = 0.5;     ///< wind at all angles: mean square of its normal component
constexpr double kFirstShare = 1e-6;    ///< of the flight: the first step
constexpr double kNearStep_K = 0.02;  ///< first step from a temperature that is near
constexpr double kColdest_K = 150.0;     ///< no property is asked for below
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

  void run(model::ThreadReport& r, int steps) {
    const double distance = setup_.input.operation.collection_distance_m;
    // x + k x^2/(2 d) = u_m t
    const double flight = (distance + 0.5 * kEntrainment * distance * distance / width_) / std::max(speed_, 1e-9);
    r.carry_speed_m_s = speed_;
    r.flight_time_s = flight;
    r.wet_diameter_m = diameter(fluid_.initial.solvent_ratio);
    now_ = {fluid_.initial.solvent_ratio, fluid_.charge_temperature_K, setup_.air.temperature_K, 0.0};
    std::vector<model::ThreadSample> samples;
    r.lowest_temperature_K = now_.temperature;
    double time = 0.0;
    double margin_before = 0.0;
    thinning_ = 0.0;
    const double growth = std::pow(1.0 / kFirstShare, 1.0 / (steps - 1));
    add_sample(samples, 0.0, now_.ratio, now_.temperature);
    for (int i = 0; i < steps; ++i) {
      const double next = i + 1 == steps ? flight : flight * kFirstShare * std::pow(growth, i);
      const double step = next - time;
      travel(time, next);
      dry(mass_ratio(next), step);
      if (!r.solidified) {
        const double rate = 1.0 / (3.0 * std::max(relaxation(now_.ratio, now_.temperature), 1e-12));
        thinning_ += step * rate;
        add_sample(samples, next, now_.ratio, now_.temperature);
        const double margin = model::solid_margin(fluid_, model::polymer_volume_fraction(fluid_, now_.ratio), now_.temperature);
        if (margin < 0.0) {
          r.solidified = true;
          // linear between the steps
          const double share = margin_before > 0.0 ? margin_before / (margin_before - margin) : 0.0;
          r.solidification_time_s = time + share * step;
          thinning_ -= (1.0 - share) * step * rate;
        }
        margin_before = margin;
      }
      if (!r.dried && now_.ratio / (1.0 + now_.ratio) <= kDrySolventFraction) r.dried = true;
      time = next;
      r.lowest_temperature_K = std::min(r.lowest_temperature_K, now_.temperature);
    }
    const double ratio = now_.ratio;
    const double temperature = now_.temperature;
    r.residual_solvent = ratio / (1.0 + ratio);
    r.end_temperature_K = temperature;
    r.vapour_fraction = air_.vapour_fraction;
    r.capillary_gain = samples.size() > 1 ? model::capillary_gain(samples).largest : 0.0;
    const double phi = model::polymer_volume_fraction(fluid_, ratio);
    const double eta = model::solvent_viscosity(fluid_, temperature) + model::polymer_viscosity(fluid_, phi, temperature);
    r.levelling_time_s = eta * 0.5 * diameter(ratio) / model::surface_tension(fluid_, temperature);
    const double loss = loss_rate(ratio, temperature);
    r.remaining_drying_time_s = loss > 0.0 ? std::min(ratio / loss, 1e6) : 1e6;
    close(r, flight);
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
  // Threads and the gas round them at one time.
  struct State {
    double ratio{};            ///< kg solvent per kg polymer
    double temperature{};      ///< of the threads
    double gas_temperature{};
    double gas_heat_W{};       ///< of gas and vapour, over the temperature of the room
  };
  // Sums kept beside the march, from the fluxes and not from its states.
  struct Sums {
    double vapour{};           ///< kg per kg polymer
    double heat_W{};           ///< that threads took from the gas: latent heat less what they gave by cooling
    double vapour_heat_W{};    ///< that vapour brought along, over the temperature of the room
    double distance_m{};
  };

  // What the threads take from the gas while they go from now_ to `ratio` and `temperature`, and the gas after it.
  [[nodiscard]] double heat_taken(double ratio, double temperature) const {
    const double evaporated = polymer_kg_s_ * (now_.ratio - ratio);
    return evaporated * model::latent_heat(fluid_, temperature) +
           polymer_kg_s_ * (fluid_.polymer_heat_capacity + ratio * fluid_.solvent_heat_capacity) * (temperature - now_.temperature);
  }
  [[nodiscard]] double vapour_heat(double ratio, double temperature) const {
    return polymer_kg_s_ * (now_.ratio - ratio) * fluid_.vapour_heat_capacity * (temperature - setup_.air.temperature_K);
  }
  [[nodiscard]] double gas_capacity(double ratio, double taken_up) const {
    const double gas = std::max(mixed_kg_s_ * taken_up - liquid_kg_s_, 1e-30);
    return gas * setup_.air.heat_capacity_J_kg_K + polymer_kg_s_ * (fluid_.initial.solvent_ratio - ratio) * fluid_.vapour_heat_capacity;
  }
  [[nodiscard]] double gas_heat(double ratio, double temperature) const {
    return now_.gas_heat_W - heat_taken(ratio, temperature) + vapour_heat(ratio, temperature);
  }
  // Air round threads with `ratio` left, at `temperature`.
  void set_air(double ratio, double temperature, double taken_up) {
    const double gas = std::max(mixed_kg_s_ * taken_up - liquid_kg_s_, 1e-30);
    const double vapour = polymer_kg_s_ * (fluid_.initial.solvent_ratio - ratio);
    const double moles_gas = gas / air_.molar_mass_kg_mol;
    const double moles_vapour = vapour / fluid_.solvent_molar_mass_kg_mol;
    air_.vapour_fraction = std::min((setup_.air.vapour_fraction * moles_gas + moles_vapour) / (moles_gas + moles_vapour), 0.95);
    air_.log_air_fraction = std::log1p(-air_.vapour_fraction);
    air_.temperature_K = std::max(setup_.air.temperature_K + gas_heat(ratio, temperature) / gas_capacity(ratio, taken_up), kColdest_K);
  }
  [[nodiscard]] model::SurfaceExchange<double> exchange(double ratio, double temperature) const {
    return model::surface_exchange(air_, fluid_, diameter(ratio), wind_, kSlantShare, temperature,
                                   model::polymer_volume_fraction(fluid_, ratio));
  }
  // Solvent lost per kg polymer and second.
  [[nodiscard]] double loss_rate(double ratio, double temperature) const {
    return exchange(ratio, temperature).evaporation_kg_m2_s * model::kPi * diameter(ratio) / per_length_;
  }
  // Temperature of the threads where heat from the gas pays for the evaporation; without: where both are equally warm.
  [[nodiscard]] double thread_temperature(double ratio, double taken_up, bool evaporates) {
    const auto missing = [&](double t) {
      set_air(ratio, t, taken_up);
      const auto x = exchange(ratio, t);
      const double cost = evaporates ? x.evaporation_kg_m2_s * model::latent_heat(fluid_, t) : 0.0;
      return (x.heat_W_m2 - cost) / x.heat_coefficient;
    };
    const double high = std::max(setup_.air.temperature_K, now_.temperature) + 20.0;
    // from the one found last, which is near; over the whole range where that leads nowhere
    const double guess = std::clamp(last_temperature_ > 0.0 ? last_temperature_ : now_.temperature, kColdest_K, high);
    auto root = solver::find_monotone_root(missing, {guess, kNearStep_K, kColdest_K, high, 8.0}, {1e-13, 0.0, 80});
    if (!root.found()) {
      if (missing(kColdest_K) <= 0.0) return kColdest_K;
      root = solver::find_root(missing, kColdest_K, high, {1e-13, 0.0, 80});
    }
    if (!root.found()) return now_.temperature;
    last_temperature_ = root.x;
    return root.x;
  }
  // One implicit step of drying.
  void dry(double taken_up, double step) {
    wind_ = std::max(kSlip * speed_ / taken_up, 0.05);
    const auto balance = [&](double x) {
      const double t = thread_temperature(x, taken_up, true);
      set_air(x, t, taken_up);
      return x - now_.ratio + step * loss_rate(x, t);
    };
    State next = now_;
    double lost = 0.0;
    if (balance(now_.ratio) > 0.0) {
      const double low = std::min(1e-9, 0.5 * now_.ratio);
      next.ratio = low;
      // near what the share lost per second in the step before would leave
      const double guess = std::clamp(now_.ratio / (1.0 + last_share_1_s_ * step), low, now_.ratio);
      const double first = std::max(0.05 * (now_.ratio - guess), 1e-6 * now_.ratio);
      auto root = solver::find_monotone_root(balance, {guess, first, low, now_.ratio, 4.0}, {1e-12, 0.0, 80});
      if (root.found()) {
        next.ratio = root.x;
      } else if (balance(low) < 0.0) {
        root = solver::find_root(balance, low, now_.ratio, {1e-12, 0.0, 80});
        next.ratio = root.found() ? root.x : now_.ratio;
      }
      last_share_1_s_ = (now_.ratio / next.ratio - 1.0) / step;
      next.temperature = thread_temperature(next.ratio, taken_up, true);
      set_air(next.ratio, next.temperature, taken_up);
      lost = next.ratio > low ? step * loss_rate(next.ratio, next.temperature) : now_.ratio - next.ratio;
    } else {  // moist air gives water to a thread that is colder than its dew point: held at what it has
      next.temperature = thread_temperature(next.ratio, taken_up, false);
      set_air(next.ratio, next.temperature, taken_up);
    }
    next.gas_temperature = air_.temperature_K;
    next.gas_heat_W = gas_heat(next.ratio, next.temperature);
    sums_.vapour += lost;
    sums_.heat_W += polymer_kg_s_ * (lost * model::latent_heat(fluid_, next.temperature) +
                                     (fluid_.polymer_heat_capacity + next.ratio * fluid_.solvent_heat_capacity) * (next.temperature - now_.temperature));
    sums_.vapour_heat_W += polymer_kg_s_ * lost * fluid_.vapour_heat_capacity * (next.temperature - setup_.air.temperature_K);
    now_ = next;
  }
  // Distance flown between two times, five points of Gauss.
  void travel(double from, double to) {
    sums_.distance_m += solver::integrate_gauss([&](double t) { return speed_ / mass_ratio(t); }, from, to, 5);
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
  // Mass, momentum and energy once more: states at the end against fluxes summed on the way, and the air taken up over the distance that
  // was flown against the speed that is left.
  void close(model::ThreadReport& r, double flight) const {
    const double start = fluid_.initial.solvent_ratio;
    r.mass_closure = start > 0.0 ? std::abs(start - now_.ratio - sums_.vapour) / start : 0.0;
    const double taken_up = mass_ratio(flight);
    const double by_distance = 1.0 + kEntrainment * sums_.distance_m / width_;
    const double brought = start_.gas_kg_s * exit_.jet_speed_m_s + liquid_kg_s_ * start_.liquid_speed_m_s;
    r.momentum_closure = brought > 0.0 ? std::abs(mixed_kg_s_ * by_distance * speed_ / taken_up - brought) / brought : 0.0;
    const double gas = gas_capacity(now_.ratio, taken_up) * (now_.gas_temperature - setup_.air.temperature_K);
    const double turned_over = polymer_kg_s_ * sums_.vapour * model::latent_heat(fluid_, now_.temperature);
    r.energy_closure = turned_over > 0.0 ? std::abs(gas + sums_.heat_W - sums_.vapour_heat_W) / turned_over : 0.0;
  }

  const Setup& setup_;
  const model::Fluid& fluid_;
  const ThreadStart& start_;
  model::Air air_;
  model::GasExit exit_;
  double liquid_kg_s_{}, mixed_kg_s_{}, polymer_kg_s_{}, speed_{}, width_{}, per_length_{}, wind_{}, thinning_{};
  double last_temperature_{};  ///< of the threads, where it was found last: the next one is near
  double last_share_1_s_{};    ///< of the solvent that was left, lost per second in the last step
  State now_;
  Sums sums_;
};

}  // namespace

void fly_threads(const Setup& setup, const ThreadStart& start, model::ThreadReport& report, int steps) {
  Flight(setup, start).run(report, std::max(steps, 2));
}

double humidity_factor(const Setup& setup, const ThreadStart& start) {
  if (!setup.fluid.water_is_solvent) return 1.0;
  const auto thinning = [&](double humidity) {
    Setup room = setup;
    room.input.room.relative_humidity = humidity;
    room.air = model::make_air(room.input, room.fluid);
    model::ThreadReport report;
    Flight flight(room, start);
    flight.run(report, kFlightSteps);
    return flight.thinning() / (1.0 + flight.thinning());
  };
  const double more = thinning(setup.input.room.relative_humidity) - thinning(kReferenceHumidity);
  return std::exp(-kMostThinning * more);
}

}  // namespace whorl::engine
