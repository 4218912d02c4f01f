#include "jet/thread_samples.hpp"

#include <algorithm>
#include <cmath>

#include "model/vector_length.hpp"

namespace whorl::jet {
namespace {

using P = PathState;
using J = model::JetState;

constexpr double kDrawnTurn = 0.3;    // [rad] in three stations: a circle drawn with some 60 looks round
constexpr double kMostPieces = 200.0; // of one step: an implicit march takes steps of many turns where a fibre floats

double turns_in(const P::Array& a, const P::Array& b, double stations) {
  return std::min(kMostPieces, stations * std::abs(b[P::kAngle] - a[P::kAngle]) / kDrawnTurn);
}

// Line speed of a station, in the frame of the vessel.
double speed_of(const model::JetContext& context, const JetSample& sample) {
  const auto& s = sample.state;
  const double omega = context.speed_rad_s;
  return model::vector_length(s[J::kVx] + omega * s[J::kY], s[J::kVy] - omega * s[J::kX], s[J::kVz]);
}

}  // namespace

JetSample sample_at(const model::JetContext& context, const SurfaceHistory& surface, const PathResult::Place& place,
                    double speed_m_s) {
  JetSample sample;
  const P::Array& p = place.state;
  const double omega = context.speed_rad_s;
  const double turned = p[P::kAngle] + omega * p[P::kTime];
  sample.angle_rad = turned;
  const double c = std::cos(turned);
  const double s = std::sin(turned);
  const double size = std::sqrt(p[P::kTr] * p[P::kTr] + p[P::kTa] * p[P::kTa] + p[P::kTz] * p[P::kTz]);
  const double outward = speed_m_s * p[P::kTr] / size;
  const double round = speed_m_s * p[P::kTa] / size + omega * p[P::kRadius];
  sample.time_s = p[P::kTime];
  auto& state = sample.state;
  state[J::kX] = c * p[P::kRadius];
  state[J::kY] = s * p[P::kRadius];
  state[J::kZ] = p[P::kZ];
  state[J::kVx] = c * outward - s * round;
  state[J::kVy] = s * outward + c * round;
  state[J::kVz] = speed_m_s * p[P::kTz] / size;
  state[J::kSolvent] = std::max(p[P::kSolvent], 0.0);
  state[J::kTemperature] = p[P::kTemperature];
  state[J::kArc] = place.arc_m;
  state[J::kDragWork] = p[P::kDragWork];
  sample.surface_ratio = surface.share_at(state[J::kSolvent]) * state[J::kSolvent];
  sample.stressed = true;
  return sample;
}

void ThreadSamples::add(const JetSample& sample, const P::Array& place) {
  if (!all.empty()) {
    const model::JetContext& context = search_.context;
    const JetSample before = all.back();
    const int pieces = 1 + static_cast<int>(turns_in(last_, place, 3.0));
    const double ua = std::log(speed_of(context, before)), ub = std::log(speed_of(context, sample));
    for (int k = 1; k < pieces; ++k) {
      const double x = static_cast<double>(k) / pieces;
      const double radius = last_[P::kRadius] + x * (place[P::kRadius] - last_[P::kRadius]);
      JetSample between =
          sample_at(context, search_.now.surface, search_.now.path.at_radius(radius), std::exp(ua + x * (ub - ua)));
      const auto mix = [x](double a, double b) { return a + x * (b - a); };
      between.chain_stress_Pa = mix(before.chain_stress_Pa, sample.chain_stress_Pa);
      between.strain_rate_1_s = mix(before.strain_rate_1_s, sample.strain_rate_1_s);
      between.tension_N = mix(before.tension_N, sample.tension_N);
      all.push_back(between);
    }
  }
  last_ = place;
  all.push_back(sample);
}

void ThreadSamples::add_step(const PathResult::Step& step, double speed_m_s) {
  const PathResult& path = search_.now.path;
  const int pieces = 3 * (1 + static_cast<int>(turns_in(step.state[0], step.state[3], 1.0)));
  for (int k = 0; k <= pieces; ++k) {
    if (k == 0 && step.from > path.thread_m) continue;
    const bool kept = 3 * k % pieces == 0;
    const P::Array q =
        kept ? step.state[static_cast<std::size_t>(3 * k / pieces)] : step.at(static_cast<double>(k) / pieces);
    JetSample sample = sample_at(search_.context, search_.now.surface,
                                 {step.from + (step.to - step.from) * k / pieces, q}, std::exp(q[P::kLogSpeed]));
    sample.solid = (path.solid || path.later_solid) && sample.state[J::kArc] >= path.solid_m;
    if (path.solid) sample.tension_N = q[P::kBody] / speed_m_s + q[P::kDrag];  // made a pull in add_beyond()
    all.push_back(sample);
  }
}

void ThreadSamples::add_beyond(double flow, double speed_m_s, double end_surface_N) {
  const PathResult& path = search_.now.path;
  const std::size_t first = all.size();
  for (const auto& step : path.step) {
    if (step.from >= path.thread_m) add_step(step, speed_m_s);
  }
  if (!path.solid) return;
  if (all.size() == first && !all.empty()) {  // it has landed where it solidifies
    all.push_back(all.back());
    all.back().solid = true;
    return;
  }
  double most = -1e300;  // a slack fibre does not push; limits as in model::end_pull
  for (std::size_t i = all.size(); i-- > first;) {
    JetSample& sample = all[i];
    most = std::max(most, sample.tension_N);
    sample.tension_N = end_surface_N + std::min(most - sample.tension_N, flow * speed_m_s);
  }
}

}  // namespace whorl::jet
