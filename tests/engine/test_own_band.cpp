// An estimate lies inside the 90 % band that samples of its own doubts make: shipped cases and a design over everything; 300 points of it
// with WHORL_FULL=1 in the environment.
#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "catch.hpp"
#include "engine/hypercube.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/uncertain.hpp"

using namespace whorl;

namespace {

struct Number {
  const char* name;
  double (*get)(const model::Estimate&);
};
constexpr std::array kNumbers{Number{"headline", [](const model::Estimate& e) { return e.dry_diameter_m; }},
                              Number{"one line", [](const model::Estimate& e) { return e.line_diameter_m; }},
                              Number{"torn threads", [](const model::Estimate& e) { return e.threads.dry_diameter_m; }},
                              Number{"flow", [](const model::Estimate& e) { return e.orifice.flow_m3_s; }},
                              Number{"run time", [](const model::Estimate& e) { return e.run.run_time_s; }}};

struct Tally {
  int cases{}, numbers{}, outside{};
  std::string list;
};

void look(const std::string& name, model::CaseInput input, std::size_t samples, Tally& tally) {
  const model::Library& library = io::built_in_library();
  engine::EstimateOptions options;
  options.run_distribution = false;
  const model::Estimate e = engine::run_guarded([&](const model::CaseInput& c) { return engine::estimate(c, library, options); }, input);
  if (e.status != model::Status::done) return;
  ++tally.cases;
  const engine::Setup setup = engine::resolve(input, library);
  const engine::SamplePlan plan = engine::plan_for(samples);
  const engine::Sampler sampler(engine::join_uncertain(engine::uncertain_properties(setup), engine::uncertain_model_form(input)), plan);
  std::vector<engine::ResultFunction> results;
  for (const Number& number : kNumbers) {
    results.push_back({number.name, [&number](const model::Estimate& at) {
                         const double value = number.get(at);
                         return value > 0.0 ? std::optional(value) : std::nullopt;
                       }});
  }
  const auto runner = engine::serial_runner([&](const model::CaseInput& c) { return engine::estimate(c, library, options); });
  const engine::Spreadout out = engine::spread_out(input, sampler, {}, results, runner);
  for (std::size_t k = 0; k < kNumbers.size(); ++k) {
    const double value = kNumbers[k].get(e);
    if (!(value > 0.0)) continue;
    ++tally.numbers;
    const auto& band = out.bands[k];
    // the ends of a band from few samples are themselves known to their error only
    if (band && value >= band->low - band->low_error && value <= band->high + band->high_error) continue;
    ++tally.outside;
    char text[200];
    std::snprintf(text, sizeof text, "%s: %s %.4g, band ", name.c_str(), kNumbers[k].name, value);
    tally.list += text;
    if (band) {
      std::snprintf(text, sizeof text, "%.4g to %.4g (median %.4g, %zu of %zu samples)\n", band->low, band->high, band->median, band->count,
                    out.samples);
      tally.list += text;
    } else {
      tally.list += "of none\n";
    }
  }
}

bool full() {
  const char* text = std::getenv("WHORL_FULL");
  return text != nullptr && std::string(text) == "1";
}

void report(const char* what, const Tally& tally) {
  std::cout << what << ": " << tally.cases << " cases, " << tally.numbers << " numbers, " << tally.outside << " outside their band\n" << tally.list;
}

}  // namespace

TEST_CASE("shipped cases lie inside their own bands", "[engine][own-band]") {
  Tally tally;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(WHORL_SOURCE_DIR "/cases"))) {
    if (entry.path().extension() != ".json") continue;
    auto input = io::read_case_file(entry.path().string()).input;
    input.model.tier = model::Tier::inertial;
    input.model.drying = model::DryingModel::lumped;
    look(entry.path().stem().string(), input, full() ? 256 : 64, tally);
  }
  report("shipped cases", tally);
  CHECK(tally.cases >= 9);
  CHECK(tally.outside == 0);
}

TEST_CASE("a design over everything lies inside its own bands", "[engine][own-band]") {
  Tally tally;
  const testing::Hypercube design(io::built_in_library(), 300);
  const std::uint64_t every = full() ? 1 : 10;
  for (std::uint64_t i = 0; i < design.size(); i += every) {
    auto input = design.input(i);
    input.model.tier = model::Tier::inertial;
    input.model.drying = model::DryingModel::lumped;
    look("point " + std::to_string(i), input, 64, tally);
  }
  report("design", tally);
  CHECK(tally.cases >= static_cast<int>(design.size() / every * 9 / 10));
  CHECK(tally.outside == 0);
}
