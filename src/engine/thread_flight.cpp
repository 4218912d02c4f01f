#include "whorl/engine/thread_flight.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "solver/dual.hpp"
#include "solver/quadrature.hpp"
#include "solver/root.hpp"
#include "whorl/jet/jet_report.hpp"
#include "whorl/model/breakup.hpp"
#include "whorl/model/splitting.hpp"

namespace whorl::engine {
namespace {

constexpr double kEntrainment = 0.32;   ///< Ricou & Spalding
constexpr double kSlip = 0.2;           ///< of the mean speed: turbulence of the gas past a thread
constexpr double kSlantShare = 0.5;     ///< wind at all angles: mean square of its normal component
constexpr double kFirstShare = 1e-6;    ///< of the flight: the first step
constexpr double kNearStep_K = 0.02;  ///< first step from a temperature that is near
// Newton's iteration is done when it moved by less: its error is then below rounding, which is the square of this.
constexpr double kMoved = 1e-7;      ///< of the solvent left
constexpr double kMoved_K = 1e-5;
constexpr int kMostIterations = 12;
constexpr double kColdest_K = 150.0;     ///< no property is asked for below
constexpr double kReferenceHumidity = 0.4;
constexpr double kMostThinning = 1.0;  ///< so that humidity never moves the diameter by more than a factor e

class Flight {
 public:
  Flight(const Setup& setup, const ThreadStart& start)
      : setup_(setup), fluid_(setup.fluid), start_(start), exit_(model::gas_exit(start.overpressure_Pa, setup.air)) {
    liquid_kg_s_ = start.liquid_m3_s * fluid_.initial.density_kg_m3;
    mixed_kg_s_ = start.gas_kg_s + liquid_kg_s_;
    speed_ = model::carry_speed_m_s(start.gas_kg_s, exit_.jet_speed_m_s, liquid_kg_s_, start.liquid_speed_m_s);
    width_ = std::sqrt(4.0 * mixed_kg_s_ / (model::kPi * setup.air.density_kg_m3 * std::max(speed_, 1e-9)));
    polymer_kg_s_ = start.liquid_m3_s * fluid_.initial.concentration_kg_m3;
    per_length_ = 0.25 * model::kPi * start.dry_diameter_m * start.dry_diameter_m * fluid_.polymer_density_kg_m3;
  }

  void run(model::ThreadReport& r, int steps, bool keep_profile);
  // int dt/(3 lambda) while the threads are liquid; nothing else of the flight, and not beyond.
  double thinning(int steps) {
    begin();
    double time = 0.0;
    double margin_before = 0.0;
    double sum = 0.0;
    const Steps plan(flight_time(), steps);
    for (int i = 0; i < steps; ++i) {
      const double next = plan.end_of(i);
      const double step = next - time;
      dry(mass_ratio(next), step, false);
      const Local here = local();
      const double margin = model::solid_margin(fluid_, here.phi, now_.temperature);
      const double liquid = margin < 0.0 ? liquid_share(margin_before, margin) * step : step;
      sum += liquid / (3.0 * std::max(here.relaxation_s, 1e-12));
      if (margin < 0.0) break;
      margin_before = margin;
      time = next;
    }
    return sum;
  }
  [[nodiscard]] std::size_t exchanges() const noexcept { return exchanges_; }

 private:
  // Ends of the steps, each longer than the one before by the same factor.
  class Steps {
   public:
    Steps(double flight, int count)
        : flight_(flight), growth_(std::pow(1.0 / kFirstShare, 1.0 / (count - 1))), count_(count) {}
    [[nodiscard]] double end_of(int i) const {
      return i + 1 == count_ ? flight_ : flight_ * kFirstShare * std::pow(growth_, i);
    }

   private:
    double flight_, growth_;
    int count_;
  };
  // The liquid of the threads as it is now.
  struct Local {
    double phi{}, polymer_viscosity_Pa_s{}, relaxation_s{};
  };
  [[nodiscard]] Local local() const {
    Local here;
    here.phi = model::polymer_volume_fraction(fluid_, now_.ratio);
    here.polymer_viscosity_Pa_s = model::polymer_viscosity(fluid_, here.phi, now_.temperature);
    here.relaxation_s = model::relaxation_time(fluid_, here.phi, now_.temperature, here.polymer_viscosity_Pa_s);
    return here;
  }
  // Of a step in which the threads turn solid, linear between its ends.
  [[nodiscard]] static double liquid_share(double margin_before, double margin) {
    return margin_before > 0.0 ? margin_before / (margin_before - margin) : 0.0;
  }
  [[nodiscard]] double flight_time() const {
    // x + k x^2/(2 d) = u_m t
    const double distance = setup_.input.operation.collection_distance_m;
    return (distance + 0.5 * kEntrainment * distance * distance / width_) / std::max(speed_, 1e-9);
  }
  void begin() { now_ = {fluid_.initial.solvent_ratio, fluid_.charge_temperature_K, 0.0, 0.0}; }
  // Mass flow at this time over that where gas and liquid met.
  [[nodiscard]] double mass_ratio(double time) const {
    // m/m_0 = 1 + k x/d, dx/dt = u_m/(1 + k x/d)
    return std::sqrt(1.0 + 2.0 * kEntrainment * speed_ * time / width_);
  }
  template <class Real>
  [[nodiscard]] Real diameter(const Real& ratio) const {
    using std::sqrt;
    const Real area = per_length_ * (1.0 + ratio) / model::mixture_density(fluid_, ratio);
    return sqrt(4.0 * area / model::kPi);
  }
  // Threads and the gas round them at one time.
  struct State {
    double ratio{};            ///< kg solvent per kg polymer
    double temperature{};      ///< of the threads
    double gas_excess_K{};     ///< of the gas over the room; as a difference, for a little liquid in much gas changes
                               ///< it by less than the last digit of a temperature
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
  template <class Real>
  [[nodiscard]] Real heat_taken(const Real& ratio, const Real& temperature) const {
    const Real evaporated = polymer_kg_s_ * (now_.ratio - ratio);
    return evaporated * model::latent_heat(fluid_, temperature) +
           polymer_kg_s_ * (fluid_.polymer_heat_capacity + ratio * fluid_.solvent_heat_capacity) *
               (temperature - now_.temperature);
  }
  template <class Real>
  [[nodiscard]] Real vapour_heat(const Real& ratio, const Real& temperature) const {
    return polymer_kg_s_ * (now_.ratio - ratio) * fluid_.vapour_heat_capacity *
           (temperature - setup_.air.temperature_K);
  }
  template <class Real>
  [[nodiscard]] Real gas_capacity(const Real& ratio, double taken_up) const {
    const double gas = std::max(mixed_kg_s_ * taken_up - liquid_kg_s_, 1e-30);
    return gas * setup_.air.heat_capacity_J_kg_K +
           polymer_kg_s_ * (fluid_.initial.solvent_ratio - ratio) * fluid_.vapour_heat_capacity;
  }
  template <class Real>
  [[nodiscard]] Real gas_heat(const Real& ratio, const Real& temperature) const {
    return now_.gas_heat_W - heat_taken(ratio, temperature) + vapour_heat(ratio, temperature);
  }
  // Gas round threads with `ratio` left, at `temperature`.
  template <class Real>
  [[nodiscard]] model::GasState<Real> gas_round(const Real& ratio, const Real& temperature, double taken_up) const {
    using std::log1p;
    const double gas = std::max(mixed_kg_s_ * taken_up - liquid_kg_s_, 1e-30);
    const Real vapour = polymer_kg_s_ * (fluid_.initial.solvent_ratio - ratio);
    const double moles_gas = gas / setup_.air.molar_mass_kg_mol;
    const Real moles_vapour = vapour / fluid_.solvent_molar_mass_kg_mol;
    model::GasState<Real> out;
    out.vapour_fraction = (setup_.air.vapour_fraction * moles_gas + moles_vapour) / (moles_gas + moles_vapour);
    if (!(out.vapour_fraction < 0.95)) out.vapour_fraction = Real(0.95);
    out.log_air_fraction = log1p(-out.vapour_fraction);
    out.temperature_K = setup_.air.temperature_K + gas_heat(ratio, temperature) / gas_capacity(ratio, taken_up);
    if (!(out.temperature_K > kColdest_K)) out.temperature_K = Real(kColdest_K);
    return out;
  }
  template <class Real>
  [[nodiscard]] model::SurfaceExchange<Real> exchange(const model::GasState<Real>& gas, const Real& ratio,
                                                      const Real& temperature) const {
    ++exchanges_;
    return model::surface_exchange(setup_.air, gas, fluid_, diameter(ratio), Real(wind_), Real(kSlantShare),
                                   temperature, model::polymer_volume_fraction(fluid_, ratio));
  }
  // Solvent lost per kg polymer and second, by what leaves the surface.
  template <class Real>
  [[nodiscard]] Real loss_of(const model::SurfaceExchange<Real>& x, const Real& ratio) const {
    return x.evaporation_kg_m2_s * model::kPi * diameter(ratio) / per_length_;
  }
  [[nodiscard]] double loss_rate(double ratio, double temperature) const {
    return loss_of(exchange(gas_, ratio, temperature), ratio);
  }
  // What is missing in the heat that the threads take up, as kelvins of the gas.
  template <class Real>
  [[nodiscard]] Real heat_missing(const model::SurfaceExchange<Real>& x, const Real& temperature,
                                  bool evaporates) const {
    const Real cost = evaporates ? x.evaporation_kg_m2_s * model::latent_heat(fluid_, temperature) : Real(0.0);
    return (x.heat_W_m2 - cost) / x.heat_coefficient;
  }
  // Temperature of the threads where heat from the gas pays for the evaporation; without: where both are equally warm.
  [[nodiscard]] double thread_temperature(double ratio, double taken_up, bool evaporates) {
    const auto missing = [&](double t) {
      return heat_missing(exchange(gas_round(ratio, t, taken_up), ratio, t), t, evaporates);
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
  // End of an implicit step by Newton's iteration on both balances at once; false: not found near, or not a thread that
  // dries.
  [[nodiscard]] bool follow(double taken_up, double step, double low, State& next) {
    using D = solver::Dual<2>;
    double x = std::clamp(now_.ratio * (1.0 - trend_.lost_next() * step), 0.5 * now_.ratio, now_.ratio);
    double t = std::max(trend_.started ? trend_.temperature_next() : now_.temperature, kColdest_K);
    const double high = std::max(setup_.air.temperature_K, now_.temperature) + 20.0;
    for (int i = 0; i < kMostIterations; ++i) {
      const D ratio = D::independent(x, 0);
      const D temperature = D::independent(t, 1);
      const auto surface = exchange(gas_round(ratio, temperature, taken_up), ratio, temperature);
      const D heat = heat_missing(surface, temperature, true);
      const D solvent = ratio - now_.ratio + step * loss_of(surface, ratio);
      const double determinant = solvent.slope[0] * heat.slope[1] - solvent.slope[1] * heat.slope[0];
      const double dx = (solvent.slope[1] * heat.value - heat.slope[1] * solvent.value) / determinant;
      const double dt = (heat.slope[0] * solvent.value - solvent.slope[0] * heat.value) / determinant;
      if (!std::isfinite(dx) || !std::isfinite(dt)) return false;
      x = std::max(x + dx, 0.1 * x);
      t = std::clamp(t + dt, t - 30.0, t + 30.0);
      if (!(t > kColdest_K && t < high)) return false;
      if (std::abs(dx) < kMoved * x && std::abs(dt) < kMoved_K) {
        next.ratio = x;
        next.temperature = t;
        return x > low && x < now_.ratio;
      }
    }
    return false;
  }
  // The same by nested searches for roots, which hold where there is a limit in the way.
  double search(double taken_up, double step, double low, State& next) {
    const auto balance = [&](double x) {
      const double t = thread_temperature(x, taken_up, true);
      gas_ = gas_round(x, t, taken_up);
      return x - now_.ratio + step * loss_rate(x, t);
    };
    if (!(balance(now_.ratio) > 0.0)) {
      // moist air gives water to a thread that is colder than its dew point: held at what it has
      next.temperature = thread_temperature(next.ratio, taken_up, false);
      gas_ = gas_round(next.ratio, next.temperature, taken_up);
      return 0.0;
    }
    next.ratio = low;
    // near what the share lost per second in the step before would leave
    const double guess = std::clamp(now_.ratio * (1.0 - trend_.lost_next() * step), low, now_.ratio);
    const double first = std::max(0.05 * (now_.ratio - guess), 1e-6 * now_.ratio);
    auto root = solver::find_monotone_root(balance, {guess, first, low, now_.ratio, 4.0}, {1e-12, 0.0, 80});
    if (root.found()) {
      next.ratio = root.x;
    } else if (balance(low) < 0.0) {
      root = solver::find_root(balance, low, now_.ratio, {1e-12, 0.0, 80});
      next.ratio = root.found() ? root.x : now_.ratio;
    }
    next.temperature = thread_temperature(next.ratio, taken_up, true);
    gas_ = gas_round(next.ratio, next.temperature, taken_up);
    return next.ratio > low ? step * loss_rate(next.ratio, next.temperature) : now_.ratio - next.ratio;
  }
  // One implicit step of drying. `sums`: and what went through the surface meanwhile, by the fluxes.
  void dry(double taken_up, double step, bool sums = true);
  // Distance flown between two times, five points of Gauss.
  void travel(double from, double to) {
    sums_.distance_m += solver::integrate_gauss([&](double t) { return speed_ / mass_ratio(t); }, from, to, 5);
  }
  void add_sample(std::vector<model::ThreadSample>& samples, double time, const Local& here, double thinning) const {
    model::Thread thread;
    thread.radius_m = 0.5 * diameter(now_.ratio);
    thread.density_kg_m3 = model::mixture_density(fluid_, now_.ratio);
    thread.viscosity_Pa_s = model::solvent_viscosity(fluid_, now_.temperature) + here.polymer_viscosity_Pa_s;
    thread.surface_tension_N_m = model::surface_tension(fluid_, now_.temperature);
    // Torn at rates far above 1/lambda: the chains start stretched and relax.
    thread.relaxation_time_s = here.relaxation_s;
    thread.axial_stress_Pa = here.polymer_viscosity_Pa_s / here.relaxation_s * fluid_.extensibility *
                             std::exp(-std::min(thinning * 3.0, 700.0));
    samples.push_back({time, 1.0, thread});
  }
  [[nodiscard]] model::TornThreadStation station(double time, bool solid) const {
    const double phi = model::polymer_volume_fraction(fluid_, now_.ratio);
    model::TornThreadStation s;
    s.time_s = time;
    s.distance_m = sums_.distance_m;
    s.speed_m_s = speed_ / mass_ratio(time);
    s.diameter_m = diameter(now_.ratio);
    s.temperature_K = now_.temperature;
    s.solvent_mass_fraction = now_.ratio / (1.0 + now_.ratio);
    s.viscosity_Pa_s = model::solvent_viscosity(fluid_, now_.temperature) +
                       model::polymer_viscosity(fluid_, phi, now_.temperature);
    s.evaporation_kg_m2_s = loss_rate(now_.ratio, now_.temperature) * per_length_ / (model::kPi * s.diameter_m);
    s.gas_temperature_K = gas_.temperature_K;
    s.vapour_fraction = gas_.vapour_fraction;
    s.solid = solid;
    return s;
  }
  // Mass, momentum and energy once more: states at the end against fluxes summed on the way, and the air taken up over
  // the distance that was flown against the speed that is left.
  void close(model::ThreadReport& r, double flight) const;
  const Setup& setup_;
  const model::Fluid& fluid_;
  const ThreadStart& start_;
  model::GasExit exit_;
  model::GasState<double> gas_;  ///< round the threads
  double liquid_kg_s_{}, mixed_kg_s_{}, polymer_kg_s_{}, speed_{}, width_{}, per_length_{}, wind_{};
  double last_temperature_{};  ///< of the threads, where it was found last: the next one is near
  // Where the next step probably ends: the last three go on evenly, since steps grow evenly.
  struct Trend {
    bool started{};
    double lost[3]{};         ///< share of the solvent per second, last one first
    double temperature[3]{};
    void add(double share, double t) {
      for (int i = 2; i > 0; --i) {
        lost[i] = started ? lost[i - 1] : share;
        temperature[i] = started ? temperature[i - 1] : t;
      }
      lost[0] = share;
      temperature[0] = t;
      started = true;
    }
    [[nodiscard]] double lost_next() const { return std::max(3.0 * (lost[0] - lost[1]) + lost[2], 0.0); }
    [[nodiscard]] double temperature_next() const { return 3.0 * (temperature[0] - temperature[1]) + temperature[2]; }
  };
  Trend trend_;
  mutable std::size_t exchanges_{0};
  State now_;
  Sums sums_;
};

void Flight::run(model::ThreadReport& r, int steps, bool keep_profile) {
  const double flight = flight_time();
  r.carry_speed_m_s = speed_;
  r.flight_time_s = flight;
  r.wet_diameter_m = diameter(fluid_.initial.solvent_ratio);
  begin();
  std::vector<model::ThreadSample> samples;
  r.lowest_temperature_K = now_.temperature;
  double time = 0.0;
  double margin_before = 0.0;
  double thinning = 0.0;
  const Steps plan(flight, steps);
  samples.reserve(static_cast<std::size_t>(steps) + 1);
  add_sample(samples, 0.0, local(), thinning);
  for (int i = 0; i < steps; ++i) {
    const double next = plan.end_of(i);
    const double step = next - time;
    travel(time, next);
    dry(mass_ratio(next), step);
    if (!r.solidified) {
      const Local here = local();
      const double rate = 1.0 / (3.0 * std::max(here.relaxation_s, 1e-12));
      thinning += step * rate;
      add_sample(samples, next, here, thinning);
      const double margin = model::solid_margin(fluid_, here.phi, now_.temperature);
      if (margin < 0.0) {
        r.solidified = true;
        r.solidification_time_s = time + liquid_share(margin_before, margin) * step;
      }
      margin_before = margin;
    }
    if (keep_profile) r.profile.push_back(station(next, r.solidified));
    if (!r.dried && now_.ratio / (1.0 + now_.ratio) <= jet::kDrySolventFraction) r.dried = true;
    time = next;
    r.lowest_temperature_K = std::min(r.lowest_temperature_K, now_.temperature);
  }
  const double ratio = now_.ratio;
  const double temperature = now_.temperature;
  r.residual_solvent = ratio / (1.0 + ratio);
  r.end_temperature_K = temperature;
  r.vapour_fraction = gas_.vapour_fraction;
  r.capillary_gain = samples.size() > 1 ? model::capillary_gain(samples).largest : 0.0;
  const double phi = model::polymer_volume_fraction(fluid_, ratio);
  const double eta = model::solvent_viscosity(fluid_, temperature) + model::polymer_viscosity(fluid_, phi, temperature);
  r.levelling_time_s = eta * 0.5 * diameter(ratio) / model::surface_tension(fluid_, temperature);
  const double loss = loss_rate(ratio, temperature);
  r.remaining_drying_time_s = loss > 0.0 ? std::min(ratio / loss, 1e6) : 1e6;
  close(r, flight);
}

void Flight::close(model::ThreadReport& r, double flight) const {
  const double start = fluid_.initial.solvent_ratio;
  r.mass_closure = start > 0.0 ? std::abs(start - now_.ratio - sums_.vapour) / start : 0.0;
  const double taken_up = mass_ratio(flight);
  const double by_distance = 1.0 + kEntrainment * sums_.distance_m / width_;
  const double brought = start_.gas_kg_s * exit_.jet_speed_m_s + liquid_kg_s_ * start_.liquid_speed_m_s;
  r.momentum_closure =
      brought > 0.0 ? std::abs(mixed_kg_s_ * by_distance * speed_ / taken_up - brought) / brought : 0.0;
  const double gas = gas_capacity(now_.ratio, taken_up) * now_.gas_excess_K;
  const double turned_over = polymer_kg_s_ * sums_.vapour * model::latent_heat(fluid_, now_.temperature);
  r.energy_closure = turned_over > 0.0 ? std::abs(gas + sums_.heat_W - sums_.vapour_heat_W) / turned_over : 0.0;
}

void Flight::dry(double taken_up, double step, bool sums) {
  wind_ = std::max(kSlip * speed_ / taken_up, 0.05);
  State next = now_;
  double lost = 0.0;
  const double low = std::min(1e-9, 0.5 * now_.ratio);
  if (follow(taken_up, step, low, next)) {
    last_temperature_ = next.temperature;
    if (sums) {
      gas_ = gas_round(next.ratio, next.temperature, taken_up);
      lost = step * loss_rate(next.ratio, next.temperature);
    }
  } else {
    next = now_;
    lost = search(taken_up, step, low, next);
  }
  trend_.add((1.0 - next.ratio / now_.ratio) / step, next.temperature);
  next.gas_heat_W = gas_heat(next.ratio, next.temperature);
  next.gas_excess_K =
      std::max(next.gas_heat_W / gas_capacity(next.ratio, taken_up), kColdest_K - setup_.air.temperature_K);
  sums_.vapour += lost;
  sums_.heat_W += polymer_kg_s_ * (lost * model::latent_heat(fluid_, next.temperature) +
                                   (fluid_.polymer_heat_capacity + next.ratio * fluid_.solvent_heat_capacity) *
                                       (next.temperature - now_.temperature));
  sums_.vapour_heat_W +=
      polymer_kg_s_ * lost * fluid_.vapour_heat_capacity * (next.temperature - setup_.air.temperature_K);
  now_ = next;
}

}  // namespace

std::size_t fly_threads(const Setup& setup, const ThreadStart& start, model::ThreadReport& report, int steps,
                        bool keep_profile) {
  Flight flight(setup, start);
  flight.run(report, std::max(steps, 2), keep_profile);
  return flight.exchanges();
}

double humidity_factor(const Setup& setup, const ThreadStart& start) {
  if (!setup.fluid.water_is_solvent) return 1.0;
  if (setup.input.room.relative_humidity == kReferenceHumidity) return 1.0;  // the room of reference itself
  const auto levelled = [&](const Setup& room) {
    const double h = Flight(room, start).thinning(kFlightSteps);
    return h / (1.0 + h);
  };
  Setup reference = setup;
  reference.input.room.relative_humidity = kReferenceHumidity;
  reference.air = model::make_air(reference.input, reference.fluid);
  const double more = levelled(setup) - levelled(reference);
  return std::exp(-kMostThinning * more);
}

}  // namespace whorl::engine
