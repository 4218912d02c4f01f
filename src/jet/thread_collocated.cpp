#include "jet/thread_collocated.hpp"

#include <algorithm>
#include <cmath>

#include "jet/drying_rounds.hpp"
#include "jet/thread_memory.hpp"
#include "jet/thread_start.hpp"
#include "jet/thread_stations.hpp"
#include "whorl/jet/tension_tolerances.hpp"

namespace whorl::jet {
namespace {

using P = PathState;

constexpr double kMemoryShare = 0.1;       // of the mesh error: what memory may add to it
constexpr double kSurely = 10.0;           // times what is allowed in the end: at the start, nothing is known well
constexpr double kSamePlace = 1e-13;       // of a radius: rounding
constexpr double kRoughPath = 1e-3;        // a first path serves only to be improved
constexpr double kHeatScale_K = 100.0;     // a change of the temperature by this counts like all of the solvent
constexpr int kMostRounds = 8;
constexpr std::size_t kFewestPlaces = 4;

P::Array at_orifice(const model::JetContext& context) {
  P::Array y{};
  y[P::kRadius] = context.outer_radius_m;
  y[P::kTr] = 1.0;
  y[P::kSolvent] = context.fluid->initial.solvent_ratio;
  y[P::kTemperature] = context.fluid->charge_temperature_K;
  return y;
}

}  // namespace

bool CollocatedThread::solve(const model::Jet& start, const TensionMemory* memory) {
  const PathAndSpeed self{[this](double tolerance) { return settle(tolerance); }, [this] { return speed(); }};
  const TensionOptions& options = search_.options;
  if (first_speeds(start, memory) && !surely_has_memory() &&
      settle_drying(search_, self, options.tolerance, options.confirm_drying) && take_over())
    return true;
  // how far the drying was off stays, as the guess of it that the other method starts with
  const double off = search_.now.drying_off;
  search_.now = {};
  search_.now.drying_off = off;
  search_.drying_known = false;
  search_.rounds = search_.drying_rounds = 0;
  search_.trouble.clear();
  return false;
}

// Speeds over the radius and the surface that they are known with. False: not a thread for this method.
bool CollocatedThread::first_speeds(const model::Jet& start, const TensionMemory* memory) {
  std::vector<double>& radius = thread_.radius;
  std::vector<double>& log_u = thread_.log_speed;
  SurfaceHistory& surface = search_.now.surface;
  const double outer = search_.context.outer_radius_m;
  if (memory != nullptr) {
    if (!memory->reached_collector || memory->cut_m > 0.0 || memory->pull_N != 0.0) return false;
    const double u0 = search_.context.exit_speed_m_s;
    for (std::size_t i = 0; i < memory->share.size(); ++i) {
      radius.push_back(outer + memory->share[i] * (memory->end_radius_m - outer));
      log_u.push_back(shifted_log_speed(memory->log_speed[i], u0, memory->exit_speed_m_s));
    }
    surface = memory->surface;
    if (search_.options.keep_steps) search_.kept = memory->steps;
    search_.drying_known = true;
  } else {
    if (!start.reached_collector || start.solidified) return false;
    for (const model::JetStation& s : start.profile) {
      if (!radius.empty() && s.radius_m <= radius.back() * (1.0 + kSamePlace)) continue;
      radius.push_back(radius.empty() ? outer : s.radius_m);
      log_u.push_back(std::log(s.speed_m_s));
    }
    surface = {};
    surface.start_ratio = search_.context.fluid->initial.solvent_ratio;
    if (search_.options.radial) follow_surface(start, surface);
  }
  if (radius.size() < kFewestPlaces) return false;
  log_u.front() = std::log(search_.context.exit_speed_m_s);
  const std::size_t points = radius.size();
  thread_.log_speed_slope.assign(points, 0.0);
  for (std::size_t i = 0; i < points; ++i) {
    const std::size_t a = i > 0 ? i - 1 : 0, b = std::min(i + 1, points - 1);
    thread_.log_speed_slope[i] = (log_u[b] - log_u[a]) / (radius[b] - radius[a]);
  }
  return true;
}

double CollocatedThread::most_memory() const { return kMemoryShare * mesh_or_usual(search_.options.mesh_tolerance); }

// Cheapest look first: the pull of the chains as charged against the momentum flux, at the composition of the charge
// and the speeds of the start.
bool CollocatedThread::surely_has_memory() const {
  const std::size_t points = thread_.radius.size();
  const model::JetContext& context = search_.context;
  StretchedThread t;
  t.radius = thread_.radius;
  t.log_speed = thread_.log_speed;
  t.at.assign(points, smooth_station(context, at_orifice(context), context.exit_speed_m_s));
  t.rate.resize(points);
  t.time.assign(points, 0.0);
  for (std::size_t i = 0; i < points; ++i) t.rate[i] = thread_.log_speed_slope[i] * std::exp(t.log_speed[i]);
  for (std::size_t i = 1; i < points; ++i)
    t.time[i] =
        t.time[i - 1] + (t.radius[i] - t.radius[i - 1]) * std::exp(-0.5 * (t.log_speed[i] + t.log_speed[i - 1]));
  return share_of_memory(t) > kSurely * most_memory();
}

// The settled thread, looked at once more: into search.now where it is liquid to the end and without memory.
bool CollocatedThread::take_over() {
  ThreadSolution& now = search_.now;
  if (now.path.end != PathEnd::collector || now.path.solid || now.path.later_solid) return false;
  const std::size_t n = thread_.radius.size();
  StretchedThread t;
  t.radius = thread_.radius;
  t.log_speed = thread_.log_speed;
  for (std::size_t i = 0; i < n; ++i) {
    const P::Array p = place(thread_.radius[i]);
    const double u = std::exp(thread_.log_speed[i]);
    t.at.push_back(smooth_station(search_.context, p, u));
    t.rate.push_back(u * p[P::kTr] * thread_.log_speed_slope[i]);
    t.time.push_back(p[P::kTime]);
  }
  if (!(share_of_memory(t) <= most_memory())) return false;
  const double outer = search_.context.outer_radius_m;
  now.end_radius_m = thread_.radius.back();
  now.share.clear();
  for (double r : thread_.radius) now.share.push_back((r - outer) / (now.end_radius_m - outer));
  now.state.log_speed = thread_.log_speed;
  now.state.pull.assign(n, 0.0);
  now.state.waist.assign(n, 0.0);
  stations_ = std::move(t.at);
  return true;
}

P::Array CollocatedThread::place(double radius) const {
  const PathResult& path = search_.now.path;
  if (radius <= search_.context.outer_radius_m) return path.step.front().state[0];
  return radius >= path.at_thread_end[P::kRadius] ? path.at_thread_end : path.at_radius(radius).state;
}

std::vector<P::Array> CollocatedThread::places() const {
  std::vector<P::Array> out(thread_.radius.size());
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = place(thread_.radius[i]);
  return out;
}

// Direction, speed and pull together on composition, temperature, climb and air of a path; then the path of what came
// out, until the two agree.
bool CollocatedThread::settle(double tolerance) {
  PathOptions how = search_.path_options(false);
  how.stop_at_solid = true;
  model::ThreadEnd end;
  end.taken_up = search_.options.end == model::JetEnd::taken_up;
  end.take_up_speed_m_s = search_.take_up_speed_m_s();
  const bool begun = !thread_.force.empty();
  PathOptions first = how;
  if (!begun) first.relative_tolerance = std::max(how.relative_tolerance, kRoughPath);
  if (!march(first)) return false;
  double& change = search_.now.change;
  for (int k = 0; k < kMostRounds; ++k) {
    if (!collocate(tolerance, k == 0 && !begun, end)) return false;
    ++search_.rounds;
    // what the equations took from the old path, on the new one
    const std::vector<P::Array> old = places();
    if (!march(how)) return false;
    change = change_from(old);
    if (change < tolerance) return true;
  }
  if (change < search_.options.fair_tolerance) return true;
  search_.trouble = "path and speed do not agree";
  return false;
}

bool CollocatedThread::collocate(double tolerance, bool adapt, const model::ThreadEnd& end) {
  const SpeedField lagged = speed();
  const auto station = [this, &lagged](double r) {
    return smooth_station(search_.context, place(r), std::exp(lagged.log_at(r)));
  };
  SmoothOptions solve;
  solve.tolerance = mesh_or_usual(search_.options.mesh_tolerance);
  solve.newton_tolerance = of_collocation(tolerance);
  if (thread_.force.empty()) first_guess(end);
  solve.adapt = adapt;
  const SmoothThread next = solve_smooth_thread(search_.context, station, end, thread_, solve);
  search_.count_newton(next.newton);
  if (!next.converged) {
    search_.trouble = "collocation: " + next.reason;
    return false;
  }
  thread_ = next;
  return true;
}

double CollocatedThread::change_from(const std::vector<P::Array>& old) const {
  double change = 0.0;
  const double start_ratio = search_.context.fluid->initial.solvent_ratio;
  const std::vector<P::Array> now = places();
  for (std::size_t i = 0; i < now.size(); ++i) {
    const P::Array& p = now[i];
    change = std::max({change, std::abs(p[P::kSolvent] - old[i][P::kSolvent]) / start_ratio,
                       std::abs(p[P::kTemperature] - old[i][P::kTemperature]) / kHeatScale_K,
                       std::abs(p[P::kTz] - old[i][P::kTz])});
    // the gas of the orifice blows by the place and the time
    if (search_.context.gas.blows()) change = std::max(change, std::abs(p[P::kAngle] - old[i][P::kAngle]));
  }
  return change;
}

bool CollocatedThread::march(const PathOptions& how) {
  PathResult& path = search_.now.path;
  PathOptions by = how;
  if (!search_.kept.path.empty()) by.steps = &search_.kept.path;
  by.stretch = search_.stretch();
  path = march_path(search_.context, speed(), search_.now.surface, by);
  search_.taken.path = path.taken;
  search_.taken.thread_m = path.thread_m;
  search_.count(path);
  if (path.end != PathEnd::collector) {
    search_.trouble = "does not reach the collector as a liquid";
    return false;
  }
  return true;
}

// Angle of the path, pull that belongs to the speeds.
void CollocatedThread::first_guess(const model::ThreadEnd& end) {
  thread_.radius.back() = search_.now.path.at_thread_end[P::kRadius];
  const std::size_t points = thread_.radius.size();
  if (end.taken_up) {
    const double gap = std::log(end.take_up_speed_m_s) - thread_.log_speed.back();
    const double whole = thread_.radius.back() - thread_.radius.front();
    for (std::size_t i = 0; i < points; ++i) {
      thread_.log_speed[i] += gap * (thread_.radius[i] - thread_.radius.front()) / whole;
      thread_.log_speed_slope[i] += gap / whole;
    }
  }
  for (std::size_t i = 0; i < points; ++i) {
    const P::Array p = place(thread_.radius[i]);
    const SmoothStation at = smooth_station(search_.context, p, std::exp(thread_.log_speed[i]));
    thread_.angle.push_back(std::atan2(p[P::kTa], p[P::kTr]));
    const double volume = at.flow_kg_s / at.density_kg_m3;
    thread_.force.push_back(at.surface_tension_N_m * std::sqrt(model::kPi * volume * std::exp(-thread_.log_speed[i])) +
                            3.0 * at.viscosity_Pa_s * volume * p[P::kTr] * thread_.log_speed_slope[i]);
  }
}

}  // namespace whorl::jet
