// Does a map hold together? First jets of shipped cases over speed and pressure, +-50 % round the case, or along a key:
//   branch_map CASE|all [SIDE]            SIDE x SIDE settings (21)
//   branch_map CASE KEY FROM TO STEPS     for instance: pmma-acetone-dry gas_overpressure_MPa 0.05 0.15 200
// Counts settings without an answer, on another tier, with a second value, and steps of the diameter above 10 % between
// neighbours that neither a second value nor another ending explains. `verbose` behind: one line per setting.
// Processor time of one core.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <map>
#include <string>
#include <vector>

#include "jets.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/jet.hpp"

namespace {

using namespace whorl;

double now_ms() {
  std::timespec t{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return 1e3 * static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_nsec);
}

struct Point {
  bool answered{}, substitute{}, second{}, arrives{};
  double diameter_m{}, free_m{}, held_m{};
  // Both ends beside the result, and what the neighbour says between them, to 5 %.
  [[nodiscard]] bool covers(double other_m) const {
    return free_m > 0.0 && held_m > 0.0 && other_m > 0.95 * std::min(free_m, held_m) &&
           other_m < 1.05 * std::max(free_m, held_m);
  }
  model::FibreClass kind{};
  std::string event;  // what would name a change: warnings that tell of another state
};

Point look(const model::CaseInput& input, const std::string& name, bool verbose, double& ms) {
  Point p;
  engine::EstimateOptions options;
  options.run_distribution = false;
  options.air_variants = false;
  const engine::Setup setup = engine::resolve(input, io::built_in_library());
  const double begin = now_ms();
  const model::Estimate e = engine::estimate(setup, options);
  const double took = now_ms() - begin;
  ms += took;
  p.answered = e.status == model::Status::done;
  p.held_m = e.jet.held_end_dry_diameter_m;
  if (p.held_m > 0.0) p.free_m = e.jet.collector_hold > 0.0 ? e.jet.free_end_dry_diameter_m : e.jet.dry_diameter_m;
  p.second = e.jet.free_end_dry_diameter_m > 0.0;
  p.arrives = e.jet.reached_collector;
  p.diameter_m = e.line_diameter_m;
  p.kind = e.as_line.fibre_class;
  std::string codes;
  for (const auto& w : e.warnings) {
    if (w.code == "tension-not-converged") p.substitute = true;
    for (const char* code : {"tension-not-converged", "tension-cut", "dragged-round", "caught", "free-end-not-found",
                             "held-by-balance", "balance-open"})
      if (w.code == code) codes += std::string(" ") + code;
  }
  // held-by-balance changes how the flight is known, not the diameter
  p.event = std::string(model::to_string(p.kind)) + (e.jet.free_end_failure.empty() ? "" : " free-end-not-found") +
            (e.jet.pulled_until_m > 0.0 ? " tension-cut" : "");
  if (verbose) {
    const double fastest = model::free_flight_speed(e.orifice.mean_speed_m_s, input.operation.rotation_speed_rad_s,
                                                    setup.vessel.outer_radius_m, setup.collector_radius_m());
    std::printf("%s %s %d %d d %.4g um u %.4g share %.3f freely %.4g um %.4g m/s solvent %.3f %s%s %.0f ms | %s\n",
                name.c_str(), p.answered ? "done" : "FAILED", p.arrives, e.jet.solidified, 1e6 * p.diameter_m,
                e.jet.end_speed_m_s, e.jet.end_speed_m_s / std::max(fastest, 1e-9), 1e6 * e.jet.free_end_dry_diameter_m,
                e.jet.free_end_speed_m_s, e.jet.residual_solvent, model::to_string(p.kind), codes.c_str(), took,
                p.answered ? e.jet.convergence.c_str() : e.reason.c_str());
  }
  return p;
}

struct Count {
  int points{}, unanswered{}, substitutes{}, seconds{}, steps{}, steps_named{}, steps_second{};
};

void step(const Point& a, const Point& b, const std::string& where, Count& count) {
  if (!(a.diameter_m > 0.0) || !(b.diameter_m > 0.0)) return;  // another ending: named by it
  if (a.kind == model::FibreClass::dripping || b.kind == model::FibreClass::dripping) return;  // no line
  if (std::abs(std::log(a.diameter_m / b.diameter_m)) <= 0.1) return;
  if (a.covers(b.diameter_m) || b.covers(a.diameter_m)) {
    ++count.steps_second;
  } else if (a.substitute != b.substitute || a.arrives != b.arrives || a.event != b.event) {
    ++count.steps_named;
    std::printf("  named  %s: %.4g to %.4g um,%s to%s\n", where.c_str(), 1e6 * a.diameter_m, 1e6 * b.diameter_m,
                a.event.c_str(), b.event.c_str());
  } else {
    ++count.steps;
    std::printf("  STEP   %s: %.4g to %.4g um,%s\n", where.c_str(), 1e6 * a.diameter_m, 1e6 * b.diameter_m,
                a.event.c_str());
  }
}

void say(const char* name, const Count& c, double ms) {
  std::printf(
      "%-22s %4d settings, %d without an answer, %d inertial in place, %d with a second value; steps above 10 %%: %d "
      "unexplained, %d named, "
      "%d with a second value; %.1f ms per setting\n",
      name, c.points, c.unanswered, c.substitutes, c.seconds, c.steps, c.steps_named, c.steps_second,
      ms / std::max(c.points, 1));
}

void add(const Point& p, Count& c) {
  ++c.points;
  c.unanswered += !p.answered;
  c.substitutes += p.substitute;
  c.seconds += p.second;
}

model::CaseInput read(const std::string& name) {
  return io::read_case_file(std::string(WHORL_SOURCE_DIR) + "/cases/" + name + ".json").input;
}

void map(const std::string& name, int side, bool verbose) {
  const model::CaseInput input = read(name);
  const auto at = [side](int i) { return 0.5 + static_cast<double>(i) / (side - 1); };
  const double middle = input.operation.gas_overpressure_Pa;
  std::vector<Point> all;
  double ms = 0.0;
  Count count;
  for (int i = 0; i < side; ++i) {
    for (int j = 0; j < (middle > 0.0 ? side : 1); ++j) {
      model::CaseInput now = input;
      now.operation.rotation_speed_rad_s *= at(i);
      now.operation.gas_overpressure_Pa = middle * at(j);
      char where[80];
      std::snprintf(where, sizeof where, "%s %.5g rpm %.5g MPa", name.c_str(),
                    now.operation.rotation_speed_rad_s * 30.0 / model::kPi, 1e-6 * now.operation.gas_overpressure_Pa);
      all.push_back(look(now, where, verbose, ms));
      add(all.back(), count);
      if (j > 0) step(all[all.size() - 2], all.back(), std::string(where) + " (pressure)", count);
      const std::size_t across = middle > 0.0 ? static_cast<std::size_t>(side) : 1;
      if (i > 0) step(all[all.size() - 1 - across], all.back(), std::string(where) + " (speed)", count);
    }
  }
  say(name.c_str(), count, ms);
}

// Value of a key that is swept, in the unit that its name ends in.
bool set(model::CaseInput& input, const std::string& key, double value) {
  if (key == "rotation_speed_rpm")
    input.operation.rotation_speed_rad_s = value * model::kPi / 30.0;
  else if (key == "gas_overpressure_MPa")
    input.operation.gas_overpressure_Pa = 1e6 * value;
  else if (key == "collection_distance_mm")
    input.operation.collection_distance_m = 1e-3 * value;
  else if (key == "relative_humidity")
    input.room.relative_humidity = value;
  else if (key == "orifice_diameter_mm")
    input.vessel.orifice_diameter_m = 1e-3 * value;
  else
    return false;
  return true;
}

int along(const std::string& name, const std::string& key, double from, double to, int steps, bool verbose) {
  const model::CaseInput input = read(name);
  Count count;
  double ms = 0.0;
  Point before;
  for (int i = 0; i <= steps; ++i) {
    model::CaseInput now = input;
    const double value = from + (to - from) * i / steps;
    if (!set(now, key, value)) return 2;
    char where[100];
    std::snprintf(where, sizeof where, "%s %s %.6g", name.c_str(), key.c_str(), value);
    const Point p = look(now, where, verbose, ms);
    add(p, count);
    if (i > 0) step(before, p, where, count);
    before = p;
  }
  say((name + " " + key).c_str(), count, ms);
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<std::string> words(argv + 1, argv + argc);
  const bool verbose = !words.empty() && words.back() == "verbose";
  if (verbose) words.pop_back();
  if (words.size() == 5)
    return along(words[0], words[1], std::atof(words[2].c_str()), std::atof(words[3].c_str()),
                 std::atoi(words[4].c_str()), verbose);
  if (words.empty() || words.size() > 2) {
    std::fprintf(stderr, "branch_map CASE|all [SIDE] [verbose] | CASE KEY FROM TO STEPS [verbose]\n");
    return 2;
  }
  const int side = words.size() > 1 ? std::max(2, std::atoi(words[1].c_str())) : 21;
  for (const char* name : bench::kCases)
    if (words[0] == "all" || words[0] == name) map(name, side, verbose);
  return 0;
}
