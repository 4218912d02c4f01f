// The start of a jet from that on the other side of a third.
#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "whorl/jet/tension.hpp"

namespace whorl::jet {
namespace {

double mirrored(double one, double about) { return 2.0 * about - one; }

void mirror(const std::vector<double>& one, std::vector<double>& about) {
  for (std::size_t i = 0; i < about.size(); ++i) about[i] = mirrored(one[i], about[i]);
}

bool match(const TensionMemory& a, const TensionMemory& b) {
  return a.exit_speed_m_s > 0.0 && b.exit_speed_m_s > 0.0 && a.reached_collector == b.reached_collector &&
         a.taken_up == b.taken_up && a.solid_end == b.solid_end && a.smooth == b.smooth &&
         !a.held_by_balance && !b.held_by_balance &&
         (a.cut_m > 0.0) == (b.cut_m > 0.0) && a.share.size() == b.share.size() &&
         a.log_speed.size() == b.log_speed.size() && a.pull.size() == b.pull.size() &&
         a.waist.size() == b.waist.size() && a.surface.share.size() == b.surface.share.size() &&
         (a.surface.freezing_ratio > 0.0) == (b.surface.freezing_ratio > 0.0);
}

// False: the places would not stay in order.
bool mirror(const SurfaceHistory& one, SurfaceHistory& about) {
  if (about.freezing_ratio > 0.0) about.freezing_ratio = mirrored(one.freezing_ratio, about.freezing_ratio);
  if (about.share.empty()) return true;
  std::vector<double> place = about.share.places(), share;
  for (std::size_t i = 0; i < place.size(); ++i) {
    const double at = one.share.places()[i];
    share.push_back(std::max(mirrored(one.share.at(at), about.share.at(place[i])), 0.0));
    place[i] = mirrored(at, place[i]);
    if (i > 0 && !(place[i] > place[i - 1])) return false;
  }
  about.share = Curve(std::move(place), std::move(share));
  return !(about.freezing_ratio > about.start_ratio);
}

}  // namespace

TensionMemory mirror_image(const TensionMemory& one, const TensionMemory& about) {
  if (!match(one, about)) return about;
  TensionMemory out = about;
  out.exit_speed_m_s = mirrored(one.exit_speed_m_s, about.exit_speed_m_s);
  out.end_radius_m = mirrored(one.end_radius_m, about.end_radius_m);
  out.cut_m = mirrored(one.cut_m, about.cut_m);
  out.pull_N = std::max(mirrored(one.pull_N, about.pull_N), 0.0);
  out.take_up_share = mirrored(one.take_up_share, about.take_up_share);
  mirror(one.log_speed, out.log_speed);
  mirror(one.pull, out.pull);
  mirror(one.waist, out.waist);
  const bool whole = mirror(one.surface, out.surface) && out.exit_speed_m_s > 0.0 && out.end_radius_m > 0.0 &&
                     out.take_up_share > 0.0 && !(out.cut_m < 0.0);
  return whole ? out : about;
}

}  // namespace whorl::jet
