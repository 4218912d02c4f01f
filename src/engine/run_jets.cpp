#include "whorl/engine/run_jets.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "whorl/engine/jet_variants.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/splitting.hpp"

namespace whorl::engine {
namespace {


double normal_share(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

// Diameter below which a share of the fibre length lies, single fibres scattering about every point.
double single_quantile(const std::vector<model::RunPoint>& points, double share) {
  double low = 1e300;
  double high = 0.0;
  for (const auto& point : points) {
    if (!(point.fibre_length_weight > 0.0)) continue;
    low = std::min(low, std::log(point.dry_diameter_m));
    high = std::max(high, std::log(point.dry_diameter_m));
  }
  if (!(low <= high)) return 0.0;
  low -= 4.0 * kSingleFibreSd;
  high += 4.0 * kSingleFibreSd;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    double below = 0.0;
    for (const auto& point : points) {
      if (point.fibre_length_weight > 0.0)
        below += point.fibre_length_weight * normal_share((middle - std::log(point.dry_diameter_m)) / kSingleFibreSd);
    }
    (below < share ? low : high) = middle;
  }
  return std::exp(0.5 * (low + high));
}

// Sums of one population.
struct Sums {
  double length{}, mass{}, diameter_length{}, diameter_mass{}, least{1e300}, most{};
  void add(double weight, double volume, double d) {
    length += weight;
    mass += volume;
    diameter_length += weight * d;
    diameter_mass += volume * d;
    least = std::min(least, d);
    most = std::max(most, d);
  }
  [[nodiscard]] model::Population of(double all_length, double all_mass) const {
    model::Population out;
    if (!(length > 0.0)) return out;
    out.length_share = length / all_length;
    out.mass_share = mass / all_mass;
    out.mean_m = diameter_length / length;
    out.mass_mean_m = diameter_mass / mass;
    out.least_m = least;
    out.most_m = most;
    return out;
  }
};

}  // namespace

double thread_diameter_m(const Setup& setup, const model::OrificeFlow& flow) {
  if (setup.input.model.splitting == model::Splitting::off || !(flow.gas_flow_kg_s > 0.0)) return 0.0;
  const model::GasExit exit = model::gas_exit(flow.gas_overpressure_Pa, setup.air);
  const auto& fluid = setup.fluid;
  return setup.input.model.thread_size_factor *
         model::torn_thread_m(
             setup.input.model.thread_law,
             {model::expanded_gas_density_kg_m3(exit, setup.air), exit.jet_speed_m_s, fluid.surface_tension_N_m,
              fluid.initial.concentration_kg_m3 / fluid.polymer_density_kg_m3, 2.0 * setup.vessel.orifice_radius_m});
}

namespace {

// Gas that goes through before full settings: from then on to the end, or for a while.
void take_gas_of_start(const SpinUp& start, double charge_m3, model::RunSummary& run) {
  if (!start.first_gas.goes()) return;
  const bool later = run.breakthrough && !start.lasting_gas.goes();
  if (!later) {
    run.breakthrough_lasts = start.lasting_gas.goes();
    const StartGas& from = run.breakthrough_lasts ? start.lasting_gas : start.first_gas;
    run.breakthrough = true;
    run.breakthrough_time_s = from.time_s;
    run.breakthrough_left = std::min(from.volume_m3 / charge_m3, 1.0);
    run.breakthrough_layer_m = from.layer_m;
  }
  if (start.first_gas.time_s < run.breakthrough_time_s) run.early_gas_time_s = start.first_gas.time_s;
}

}  // namespace

void compose_run(const Setup& setup, const SpinUp& start, const RunDown& down, model::Estimate& e) {
  const double charge = setup.input.operation.charge_volume_m3 - e.charge.spilled_volume_m3;
  model::RunSummary run = down.summary;
  const double orifices = setup.vessel.orifice_count;
  run.full_settings_time_s = start.full_time_s;
  run.run_time_s += start.full_time_s;
  run.breakthrough_time_s += start.full_time_s;
  const double began = start.volume_left_m3;
  const double left_later = std::max(began - run.heel_volume_m3, 0.0);
  const double left = setup.input.operation.feed_rate_m3_s ? left_later : std::max(charge - run.heel_volume_m3, 1e-300);
  run.share_at_full_settings = left_later / left;
  run.emptied_fraction = left / charge;
  run.polymer_mass_kg = left * setup.fluid.initial.concentration_kg_m3;
  run.breakthrough_left *= began / charge;
  double with_gas = start.with_gas_m3;
  if (run.breakthrough) with_gas += std::max(run.breakthrough_left * charge - run.heel_volume_m3, 0.0);
  take_gas_of_start(start, charge, run);
  run.share_with_gas = std::clamp(with_gas / left, 0.0, 1.0);

  std::vector<model::RunPoint> points;
  for (const StartMoment& moment : start.moments) {
    model::RunPoint point;
    point.time_s = moment.time_s;
    point.charge_volume_m3 = moment.volume_m3;
    point.emptied_fraction = (charge - moment.volume_m3) / charge;
    point.orifice = moment.orifice.flow;
    point.volume_m3 = moment.leaving_m3;
    point.rotation_speed_rad_s = moment.setup.input.operation.rotation_speed_rad_s;
    points.push_back(point);
  }
  for (std::size_t i = 0; i < run.points.size(); ++i) {
    model::RunPoint point = run.points[i];
    point.time_s += start.full_time_s;
    point.emptied_fraction = (charge - point.charge_volume_m3) / charge;
    point.volume_m3 = down.volume_weights[i];
    point.rotation_speed_rad_s = setup.input.operation.rotation_speed_rad_s;
    points.push_back(point);
  }
  // too little for a moment of its own left in the start: counted with the first at full settings
  if (start.moments.empty() && !points.empty() && !setup.input.operation.feed_rate_m3_s)
    points.front().volume_m3 += std::max(charge - began, 0.0);
  run.points = std::move(points);
  double mass = 0.0;
  double gas_mass = start.gas_mass_kg;
  double gas_time = start.gas_time_s;
  for (const auto& point : run.points) {
    mass += point.volume_m3;
    run.mean_speed_rad_s += point.volume_m3 * point.rotation_speed_rad_s;
    run.mean_overpressure_Pa += point.volume_m3 * point.orifice.gas_overpressure_Pa;
    run.gas_supply_most_m3_s = std::max(run.gas_supply_most_m3_s, normal_gas_flow_m3_s(setup, point.orifice));
  }
  for (std::size_t i = start.moments.size(); i < run.points.size(); ++i) {
    const auto& point = run.points[i];
    if (!(point.orifice.gas_flow_kg_s > 0.0)) continue;
    const double seconds = point.volume_m3 / (orifices * point.orifice.flow_m3_s);
    gas_mass += orifices * point.orifice.gas_flow_kg_s * seconds;
    gas_time += seconds;
  }
  if (mass > 0.0) {
    run.mean_speed_rad_s /= mass;
    run.mean_overpressure_Pa /= mass;
  }
  if (gas_time > 0.0)
    run.gas_supply_mean_m3_s = model::normal_flow_m3_s(gas_mass / gas_time, setup.air.molar_mass_kg_mol);
  run.gas_supply_most_m3_s = std::max(run.gas_supply_most_m3_s, run.gas_supply_mean_m3_s);
  e.run = std::move(run);
}

namespace {

bool with_gas(const model::RunPoint& point) { return point.thread_diameter_m > 0.0; }

// Whether the threads are finer than the line, which thins with the root of its flow: in 386 moments of the nine cases,
// over pressure and speed, it came to 0.64 of that at the least.
bool surely_finer(const model::RunPoint& point, const model::Estimate& e) {
  constexpr double kSurely = 0.5;
  return point.thread_diameter_m <
         kSurely * e.line_diameter_m * std::sqrt(point.orifice.flow_m3_s / e.orifice.flow_m3_s);
}

// Of a diameter that is known without tension, what tension may make of it at the least. Source: own choice
constexpr double kTension = 0.8;

// How thin a line can be at this moment with tension for all that is known without it: a collector that holds it lays
// it at its own speed. In the inertial tier nothing is left open.
double least_line_m(const Setup& setup, const model::RunPoint& point, const model::Estimate& e) {
  if (setup.input.model.tier == model::Tier::inertial) return std::numeric_limits<double>::infinity();
  return kTension * e.kinematic_bound_m * std::sqrt(point.orifice.flow_m3_s / (e.orifice.flow_m3_s * e.excess_draw));
}

// Of a line that was followed without tension: whether the threads are finer than it with tension, too.
bool threads_stay_finer(const Setup& setup, const model::RunPoint& point, const model::Jet& line) {
  const model::ModelInput& m = setup.input.model;
  if (m.tier == model::Tier::inertial || line.status != model::Status::done || !ends_as_fibre(line)) return true;
  const double draw = model::excess_draw(m.excess_draw, m.flapping_draw, line.air_weber);
  return point.thread_diameter_m < kTension * line.dry_diameter_m / std::sqrt(draw);
}

// Whether threads are finer than lines of the run, by a rough look at those.
class Glance {
 public:
  // Clearly so at this moment. Not looked where the line seen last, thinned with the root of its flow, would be finer.
  [[nodiscard]] bool shows_finer_threads(const Setup& setup, const model::RunPoint& point) {
    const double flow = point.orifice.flow_m3_s;
    if (flow_m3_s_ > 0.0 && !clearly_finer(point, diameter_m_ * std::sqrt(flow / flow_m3_s_))) return false;
    jet::JetOptions options = jet_options(setup);
    options.relative_tolerance = std::max(options.relative_tolerance, kRough);
    options.only_diameter = true;
    const model::Jet line = jet::solve_inertial_jet(setup.jet_context(point.orifice), options);
    if (line.status != model::Status::done) return false;
    const model::ModelInput& m = setup.input.model;
    diameter_m_ = line.dry_diameter_m / std::sqrt(model::excess_draw(m.excess_draw, m.flapping_draw, line.air_weber));
    flow_m3_s_ = flow;
    return clearly_finer(point, diameter_m_);
  }

 private:
  static constexpr double kRough = 1e-3;  // relative tolerance: leaves up to 0.5 % of the diameter
  static constexpr double kMargin = 0.98;
  [[nodiscard]] static bool clearly_finer(const model::RunPoint& point, double line_m) {
    return point.thread_diameter_m < kMargin * line_m;
  }
  double flow_m3_s_{}, diameter_m_{};  // seen last
};

// Points whose line need not be known.
std::vector<bool> left_out(Lines lines, std::size_t starting, const model::Estimate& e) {
  const auto& points = e.run.points;
  std::vector<bool> out(points.size(), false);
  if (lines == Lines::all) return out;
  for (std::size_t i = 0; i < points.size(); ++i) {
    out[i] = with_gas(points[i]) && surely_finer(points[i], e);
  }
  if (lines == Lines::where_close) return out;
  // Each jet at full settings starts from the one before: one of them to the last digit means all of them.
  const auto full = static_cast<std::ptrdiff_t>(starting);
  for (std::size_t i = starting; i < points.size(); ++i) {
    if (!with_gas(points[i]) || out[i]) continue;
    std::fill(out.begin() + full, out.end(), false);
    break;
  }
  return out;
}

}  // namespace

std::vector<Solved> follow_run(const Setup& setup, const SpinUp& start, jet::TensionMemory near, Lines lines,
                               RunShare& run_count, model::Estimate& e) {
  std::vector<Solved> solved;
  const model::ModelInput& m = setup.input.model;
  double sum = 0.0;
  double mean = 0.0;
  bool all_lines = true;
  Glance glance;
  mark_threads(setup, start, e);
  const std::vector<bool> spare = left_out(lines, start.moments.size(), e);
  // without one of them there is no mean of all lines, and the others need not be known for it
  const bool spares = std::find(spare.begin(), spare.end(), true) != spare.end();
  for (std::size_t i = 0; i < e.run.points.size(); ++i) {
    model::RunPoint& point = e.run.points[i];
    if (spare[i]) {
      all_lines = false;
      continue;
    }
    const bool starting = i < start.moments.size();
    Setup quick = starting ? start.moments[i].setup : setup;
    quick.input.model.tier = model::Tier::inertial;
    run_count.one_more();
    // a line that is only held against threads need not be known better than they are
    const bool held_against = !starting && lines == Lines::where_close && with_gas(point) &&
                              point.thread_diameter_m < least_line_m(setup, point, e);
    if (spares && (held_against || (starting && with_gas(point) && lines == Lines::where_close)) &&
        glance.shows_finer_threads(quick, point))
      continue;
    const auto line = [&](const Setup& now, jet::TensionMemory& from) {
      jet::JetOptions options = jet_options(now);
      options.brief = true;
      return solve_jet(now, now.jet_context(point.orifice), options, from,
                       lines == Lines::where_close ? jet::Effort::line : jet::Effort::companion)
          .jet;
    };
    jet::TensionMemory none;
    model::Jet jet;
    if (starting || held_against) jet = line(quick, none);
    // one that is finer than they are is what lands
    if (!starting && (!held_against || !threads_stay_finer(setup, point, jet))) {
      jet = line(setup, near);
      if (m.tier == model::Tier::tension) solved.push_back({point.orifice.flow_m3_s, near});
    }
    point.jet_status = jet.status;
    point.work = jet.work;
    point.reached_collector = jet.reached_collector;
    if (jet.status != model::Status::done) {
      e.warnings.push_back({"run-point-not-converged", "One moment of the run did not converge (" + jet.reason +
                                                           "); it is left out of the distribution."});
      continue;
    }
    const double draw = model::excess_draw(m.excess_draw, m.flapping_draw, jet.air_weber);
    point.excess_draw = draw;
    point.line_speed_m_s = jet.end_speed_m_s * draw;
    if (!ends_as_fibre(jet)) continue;
    point.line_diameter_m = jet.dry_diameter_m / std::sqrt(draw);
    // length of fibre laid while this share of the charge leaves one orifice
    point.line_length_weight = point.volume_m3 / point.orifice.flow_m3_s * point.line_speed_m_s;
    sum += point.line_length_weight;
    mean += point.line_length_weight * point.line_diameter_m;
  }
  if (sum > 0.0) {
    for (auto& point : e.run.points) point.line_length_weight /= sum;
    if (all_lines) e.line_run_mean_m = mean / sum;
  }
  return solved;
}

void mark_threads(const Setup& setup, const SpinUp& start, model::Estimate& e) {
  for (std::size_t i = 0; i < e.run.points.size(); ++i) {
    model::RunPoint& point = e.run.points[i];
    const Setup& now = i < start.moments.size() ? start.moments[i].setup : setup;
    point.thread_diameter_m = thread_diameter_m(now, point.orifice) * e.threads.humidity_factor;
  }
}

void summarise_run(bool torn, model::Estimate& e) {
  model::RunSummary& run = e.run;
  double length = 0.0;
  double mass = 0.0;
  for (auto& point : run.points) {
    // gas that only just comes on tears nothing finer than the line that is there
    const bool finer = !(point.line_diameter_m > 0.0 && point.thread_diameter_m >= point.line_diameter_m);
    point.torn = torn && point.thread_diameter_m > 0.0 && finer;
    point.dry_diameter_m = point.torn ? point.thread_diameter_m : point.line_diameter_m;
    point.fibre_length_weight =
        point.dry_diameter_m > 0.0 ? point.volume_m3 / (point.dry_diameter_m * point.dry_diameter_m) : 0.0;
    length += point.fibre_length_weight;
    if (point.dry_diameter_m > 0.0) mass += point.volume_m3;
  }
  if (!(length > 0.0)) return;
  Sums lines;
  Sums threads;
  Sums all;
  for (auto& point : run.points) {
    if (!(point.dry_diameter_m > 0.0)) continue;
    point.fibre_length_weight /= length;
    (point.torn ? threads : lines).add(point.fibre_length_weight, point.volume_m3, point.dry_diameter_m);
    all.add(point.fibre_length_weight, point.volume_m3, point.dry_diameter_m);
  }
  run.lines = lines.of(1.0, mass);
  run.threads = threads.of(1.0, mass);
  run.dry_diameter_mean_m = all.diameter_length;
  run.dry_diameter_min_m = all.least;
  run.dry_diameter_max_m = all.most;
  double variance = 0.0;  // in a second pass: the difference of two means of squares would keep half the digits
  for (const auto& point : run.points) {
    const double off = point.dry_diameter_m - run.dry_diameter_mean_m;
    variance += point.fibre_length_weight * off * off;
  }
  // One diameter all along has no spread; what the weights leave of it is rounding.
  constexpr double kRounding = 1e-12;
  const double sd = std::sqrt(variance);
  run.dry_diameter_sd_m = sd > kRounding * run.dry_diameter_mean_m ? sd : 0.0;
  run.single_low_m = single_quantile(run.points, 0.05);
  run.single_high_m = single_quantile(run.points, 0.95);
}

}  // namespace whorl::engine
