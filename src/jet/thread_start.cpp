#include "jet/thread_start.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <utility>

#include "jet/thread_mesh.hpp"

namespace whorl::jet {
namespace {

constexpr double kSamePlace = 1e-13;      // of a radius: rounding
constexpr double kDrynessWeight = 2.0;    // of a change of phi against one of ln u, for the nodes of a start
constexpr double kEvenMesh = 4.0;         // weight of the nodes as they lay against new ones
constexpr double kLeastSpeed2 =
    0.25;  // of the square of the speed at the orifice: a thread that is slower stands still
constexpr double kMostShare = 2.0;        // X at the surface over its mean: more is a division of two rests
constexpr double kSameDryness = 1e-9, kNoSolvent = 1e-9, kLeastRatio = 1e-12;

}  // namespace

double shifted_log_speed(double log_speed, double exit_speed_m_s, double exit_speed_there_m_s) {
  const double own = exit_speed_m_s * exit_speed_m_s;
  const double shift = own - exit_speed_there_m_s * exit_speed_there_m_s;
  return 0.5 * std::log(std::max(std::exp(2.0 * log_speed) + shift, kLeastSpeed2 * exit_speed_m_s * exit_speed_m_s));
}

void follow_surface(const model::Jet& start, SurfaceHistory& surface) {
  surface.freezing_ratio = -1.0;
  std::vector<double> dryness{0.0}, share{1.0};
  for (const model::JetStation& s : start.profile) {
    if (s.solid && surface.freezing_ratio < 0.0) surface.freezing_ratio = std::max(s.solvent_ratio, kLeastRatio);
    const double q = surface.dryness(s.solvent_ratio);
    if (q <= dryness.back() + kSameDryness) continue;
    const double x = s.surface_solvent_fraction;
    dryness.push_back(q);
    const bool wet = x < 1.0 && s.solvent_ratio > kNoSolvent;
    share.push_back(wet ? std::clamp(x / (1.0 - x) / s.solvent_ratio, 0.0, kMostShare) : 1.0);
  }
  if (dryness.size() > 1) surface.share = Curve(std::move(dryness), std::move(share));
}

bool start_from_flight(ThreadSearch& search, const model::Jet& start) {
  const model::JetContext& context = search.context;
  ThreadSolution& now = search.now;
  const double outer = context.outer_radius_m;
  double farthest = 0.0;
  for (const model::JetStation& s : start.profile) farthest = std::max(farthest, s.radius_m);
  if (!start.reached_collector) now.cut_m = outer + search.options.stalled_share * (farthest - outer);
  std::vector<double> radius, log_u, phi, arc;
  for (const model::JetStation& s : start.profile) {
    if (s.solid && radius.size() >= 2) break;
    if (now.cut_m > 0.0 && s.radius_m > now.cut_m && radius.size() >= 2) break;
    if (!radius.empty() && s.radius_m <= radius.back() * (1.0 + kSamePlace)) continue;
    arc.push_back(s.arc_length_m);
    radius.push_back(radius.empty() ? outer : s.radius_m);
    log_u.push_back(std::log(s.speed_m_s));
    phi.push_back(s.polymer_volume_fraction);
  }
  if (arc.size() < 2) return false;
  now.surface.start_ratio = context.fluid->initial.solvent_ratio;
  if (search.options.radial) follow_surface(start, now.surface);
  log_u[0] = std::log(context.exit_speed_m_s);
  now.end_radius_m = now.cut_m > 0.0 ? std::min(radius.back(), now.cut_m) : radius.back();
  std::vector<double> change(arc.size(), 0.0);
  for (std::size_t i = 1; i < arc.size(); ++i) {
    change[i] = std::abs(log_u[i] - log_u[i - 1]) + kDrynessWeight * std::abs(phi[i] - phi[i - 1]) +
                (arc[i] - arc[i - 1]) / arc.back();
  }
  now.share = lay_nodes(outer, radius, change, search.options.cells);
  const std::size_t nodes = now.share.size();
  now.state.log_speed.resize(nodes);
  for (std::size_t i = 0; i < nodes; ++i) now.state.log_speed[i] = interpolate(radius, log_u, search.radius_of(i));
  now.state.pull.assign(nodes, 0.0);
  now.state.waist.assign(nodes, 0.0);
  return true;
}

void start_from_memory(ThreadSearch& search, const TensionMemory& memory) {
  ThreadSolution& now = search.now;
  now.share = memory.share;
  now.state = {memory.log_speed, memory.pull, memory.waist};
  const double u0 = search.context.exit_speed_m_s;
  for (double& y : now.state.log_speed) y = shifted_log_speed(y, u0, memory.exit_speed_m_s);
  now.state.log_speed[0] = std::log(u0);
  now.end_radius_m = memory.end_radius_m;
  now.cut_m = memory.cut_m;
  now.path.solid = memory.solid_end;
  now.pull_N = memory.pull_N;
  search.pull_slope = memory.pull_slope;
  now.surface = memory.surface;
  search.drying_known = true;
  if (search.options.keep_steps) search.kept = memory.steps;
  if (now.share.size() != search.options.cells + 1) {
    const std::vector<double> radius = search.radii();
    std::vector<double> change(radius.size(), 0.0);
    // where the nodes were
    for (std::size_t i = 1; i < radius.size(); ++i) change[i] = kEvenMesh / static_cast<double>(radius.size());
    resample(search, radius, change, search.options.cells);
  } else if (memory.factor != nullptr) {
    search.factor = *memory.factor;
  }
}

void leave_memory(ThreadSearch& search, bool smooth, TensionMemory& memory) {
  const ThreadSolution& now = search.now;
  memory.exit_speed_m_s = search.context.exit_speed_m_s;
  memory.end_radius_m = now.end_radius_m;
  memory.cut_m = now.cut_m;
  memory.reached_collector = now.path.end == PathEnd::collector;
  memory.solid_end = now.path.solid;
  memory.pull_N = now.pull_N;
  memory.pull_slope = search.pull_slope;
  memory.taken_up = search.options.end == model::JetEnd::taken_up;
  const double turning = search.context.speed_rad_s * search.context.collector_radius_m;
  const double held = search.options.take_up_speed_m_s;
  memory.take_up_share = held > 0.0 ? held / turning : 1.0;
  memory.smooth = smooth;
  memory.unsettled = search.plainly_slow;
  memory.share = now.share;
  memory.log_speed = now.state.log_speed;
  memory.pull = now.state.pull;
  memory.waist = now.state.waist;
  memory.surface = now.surface;
  memory.steps = search.taken;
  memory.factor = search.factor.cells > 0 ? std::make_shared<const ThreadFactor>(std::move(search.factor)) : nullptr;
}

}  // namespace whorl::jet
