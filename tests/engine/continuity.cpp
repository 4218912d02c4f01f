#include "engine/continuity.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <optional>
#include <utility>

#include "whorl/engine/estimate.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"

namespace whorl::testing {
namespace {

constexpr std::array kNumbers{"flow", "diameter of the headline", "diameter of torn threads", "diameter of one line",
                              "mean diameter of the run"};
constexpr std::size_t kCount = kNumbers.size();
constexpr std::size_t kThreads = 2;
constexpr std::size_t kOneLine = 3;

constexpr double kFineSteps = 400.0;  ///< over a factor 2, for which the limits are meant

struct Place {
  double at{};  ///< of the key, display unit
  std::array<double, kCount> numbers{};
  double free_m{}, held_m{};  ///< both ends of one line, where both are reported; else 0
  std::vector<std::pair<std::string, std::string>> names;  ///< what is named, and its name here
  // What the neighbour says lies between them, to 5 %.
  [[nodiscard]] bool covers(double other_m) const {
    return free_m > 0.0 && held_m > 0.0 && other_m > 0.95 * std::min(free_m, held_m) && other_m < 1.05 * std::max(free_m, held_m);
  }
};

std::string yes(bool value) { return value ? "yes" : "no"; }

// Which words the report uses for this place: where one of them changes, so does the answer, and the page says it.
void name_events(const model::Estimate& e, Place& p) {
  const auto add = [&](const char* what, std::string name) { p.names.emplace_back(what, std::move(name)); };
  const auto warned = [&](const char* code) {
    return std::any_of(e.warnings.begin(), e.warnings.end(), [&](const model::Warning& w) { return w.code == code; });
  };
  add("status", model::to_string(e.status));
  add("answer first", e.torn ? "torn threads" : "one line");
  add("class of one line", model::to_string(e.as_line.fibre_class));
  add("one line lands", model::to_string(e.as_line.landing));
  add("class of threads", model::to_string(e.as_threads.fibre_class));
  add("threads land", model::to_string(e.as_threads.landing));
  add("gas goes through from the start", yes(e.orifice.gas_flow_kg_s > 0.0));
  add("gas goes through", yes(e.run.breakthrough));
  add("threads", yes(e.threads.predicted));
  add("orifices covered", yes(e.charge.orifice_wet));
  add("spills", yes(e.charge.spilled_volume_m3 > 1e-12));
  add("jet arrives", yes(e.jet.reached_collector));
  add("jet ends", e.jet.reason.substr(0, e.jet.reason.find_first_of(",;0123456789")));
  add("gas goes through at full settings", yes(std::any_of(e.run.points.begin(), e.run.points.end(), [&](const model::RunPoint& point) {
        return point.orifice.gas_flow_kg_s > 0.0 && point.time_s >= e.run.full_settings_time_s;
      })));
  add("moments at which a line lands", std::to_string(std::count_if(e.run.points.begin(), e.run.points.end(), [](const model::RunPoint& point) {
        return point.line_diameter_m > 0.0;
      })));
  add("jet solid", e.jet.solidified ? e.jet.solidification_kind : "no");
  add("caught", yes(warned("caught")));
  add("tension fell back", yes(warned("tension-not-converged")));
  add("tension cut", yes(warned("tension-cut")));
}

Place place_of(const model::Estimate& e, double at) {
  Place p;
  p.at = at;
  p.numbers = {e.orifice.flow_m3_s, e.dry_diameter_m, e.threads.dry_diameter_m, e.line_diameter_m, e.run.dry_diameter_mean_m};
  p.held_m = e.jet.held_end_dry_diameter_m;
  if (p.held_m > 0.0) p.free_m = e.jet.collector_hold > 0.0 ? e.jet.free_end_dry_diameter_m : e.jet.dry_diameter_m;
  name_events(e, p);
  return p;
}

// Change of a number from one place to the other, as the larger over the smaller less 1.
double change(const Place& a, const Place& b, std::size_t k) {
  const double x = a.numbers[k];
  const double y = b.numbers[k];
  if (!(x > 0.0) && !(y > 0.0)) return 0.0;
  if (!(x > 0.0) || !(y > 0.0)) return 1e300;
  return std::max(x, y) / std::min(x, y) - 1.0;
}

double limit(std::size_t k) { return k == 0 ? kFlowStep : kDiameterStep; }

std::string events_between(const Place& a, const Place& b) {
  std::string out;
  for (std::size_t i = 0; i < a.names.size(); ++i) {
    if (a.names[i].second == b.names[i].second) continue;
    out += (out.empty() ? "" : "; ") + a.names[i].first + ": " + a.names[i].second + ", " + b.names[i].second;
  }
  return out;
}

class Walker {
 public:
  Walker(const model::CaseInput& input, const model::Library& library, const WalkOptions& options)
      : input_(input), library_(library), options_(options) {}

  void turn(const io::Key& key, Walk& out) {
    const std::optional<double> value = value_of(key);
    if (!value) {
      out.left_out.emplace_back(key.path);
      return;
    }
    out.keys.emplace_back(key.path);
    const std::vector<double> at = values(key, *value);
    std::optional<Place> before;
    for (const double x : at) {
      std::optional<Place> here = go(key, x, out);
      if (before && here) compare(key, *before, *here, out);
      before = std::move(here);
    }
  }

 private:
  // In the display unit; of what the library says where the case does not.
  std::optional<double> value_of(const io::Key& key) {
    if (const auto stated = key.get(input_)) return io::to_display(key, *stated);
    if (key.path == "solution.temperature") return io::to_display(key, input_.room.temperature_K);
    if (key.path == "vessel.orifice_height") return io::to_display(key, 0.5 * input_.vessel.height_m);
    static constexpr std::string_view kMeasured = "solution.measured.";
    if (!key.path.starts_with(kMeasured)) return {};
    const engine::Setup setup = engine::resolve(input_, library_);
    for (const auto& named : setup.fluid.properties)
      if (named.key == key.path.substr(kMeasured.size())) return io::to_display(key, named.property.value);
    return {};
  }

  [[nodiscard]] std::vector<double> values(const io::Key& key, double value) const {
    std::vector<double> out;
    const double root = std::sqrt(2.0);
    for (int i = 0; i <= options_.steps; ++i) {
      const double share = static_cast<double>(i) / options_.steps;
      double x = value != 0.0 ? value / root * std::pow(2.0, share) : share * example(key);
      x = std::clamp(x, io::to_display(key, key.minimum), io::to_display(key, key.maximum));
      if (key.whole) x = std::round(x);
      if (out.empty() || x != out.back()) out.push_back(x);
    }
    return out;
  }
  static double example(const io::Key& key) {
    try {
      return io::to_display(key, io::parse_value(key, key.example, ""));
    } catch (const InputError&) {
      return 0.0;
    }
  }

  // Empty: the parts of the case contradict each other there.
  std::optional<Place> go(const io::Key& key, double x, Walk& out) {
    try {
      model::CaseInput here = input_;
      key.set(here, io::from_display(key, x));
      io::validate(here, "");
      ++out.estimates;
      const model::Estimate e = engine::estimate(here, library_);
      if (e.status != model::Status::done) ++out.unanswered;
      return place_of(e, x);
    } catch (const InputError&) {
      ++out.refused;
      return {};
    }
  }

  void compare(const io::Key& key, const Place& before, const Place& here, Walk& out) {
    const std::string coarse = events_between(before, here);
    for (std::size_t k = 0; k < kCount; ++k) {
      if (change(before, here, k) <= limit(k)) continue;
      Step step;
      step.key = key.path;
      step.number = kNumbers[k];
      Place a = before;
      Place b = here;
      for (int i = 0; i < options_.halvings && !key.whole && change(a, b, k) > limit(k); ++i) {
        std::optional<Place> middle = go(key, 0.5 * (a.at + b.at), out);
        if (!middle) break;
        (change(a, *middle, k) > change(*middle, b, k) ? b : a) = std::move(*middle);
      }
      step.below = a.at;
      step.above = b.at;
      step.from = a.numbers[k];
      step.to = b.numbers[k];
      step.sudden = change(a, b, k) > limit(k);
      // a slope that fine steps would not call a step
      if (!step.sudden && !key.whole && std::log1p(change(before, here, k)) * options_.steps < std::log1p(limit(k)) * kFineSteps) continue;
      step.event = step.sudden ? events_between(a, b) : coarse;
      if (key.whole && step.event.empty()) step.event = "a whole number";
      const auto line = [&](const Place& p) { return p.numbers[kOneLine]; };
      if (step.event.empty() && k != 0 && k != kThreads && (a.covers(line(b)) || b.covers(line(a)))) step.event = "free and held end beside it";
      out.steps.push_back(std::move(step));
    }
  }

  const model::CaseInput& input_;
  const model::Library& library_;
  const WalkOptions& options_;
};

}  // namespace

Walk walk(const model::CaseInput& input, const model::Library& library, const WalkOptions& options) {
  Walk out;
  Walker walker(input, library, options);
  for (const io::Key& key : io::numeric_keys())
    if (!options.wanted || options.wanted(key)) walker.turn(key, out);
  return out;
}

std::string text_of(const Step& step) {
  char text[300];
  std::snprintf(text, sizeof text, "%s at %.7g to %.7g: %s %.4g to %.4g, %s", step.key.c_str(), step.below, step.above, step.number.c_str(),
                step.from, step.to, step.sudden ? "a jump" : "steep");
  return std::string(text) + (step.event.empty() ? "; nothing is named" : " (" + step.event + ")");
}

}  // namespace whorl::testing
