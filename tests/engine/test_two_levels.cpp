// Samples on two levels: against models whose answer is known, and against plain samples of real cases.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <map>
#include <set>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/two_levels.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/uncertain_inputs.hpp"
#include "whorl/study/uncertainty.hpp"

using namespace whorl;
using engine::Band;
using engine::Levels;
using engine::Sampler;
using engine::SpreadKind;
using engine::TwoLevels;
using engine::UncertainInput;
using engine::UncertainKind;
using Column = std::vector<std::optional<double>>;

namespace {

// As in test_uncertain.cpp.
constexpr double kZ95 = 1.6448536269514722;

// A standard normal number of each of three axes.
struct Normals {
  Sampler sampler;
  explicit Normals(const engine::SamplePlan& plan)
      : sampler({3, UncertainInput{"k", "", UncertainKind::property, {SpreadKind::normal, 0.0, 1.0}, "", {}}}, plan) {}
  [[nodiscard]] double at(std::size_t i, std::size_t axis) const {
    return engine::quantile(sampler.inputs()[axis].spread, sampler.unit(i, axis));
  }
};

// Two levels of a model of the three numbers.
struct Columns {
  Levels levels;
  Column cheap, full, plain;  // plain: in full of every sample
  std::vector<int> groups;
};
using Model = std::function<std::optional<double>(double, double, double)>;

Columns columns_of(const engine::SamplePlan& plan, const Model& cheap, const Model& full) {
  const Normals normals(plan);
  Columns out{engine::levels_of(plan), {}, {}, {}, {}};
  for (std::size_t i = 0; i < plan.size(); ++i) {
    const double a = normals.at(i, 0);
    const double b = normals.at(i, 1);
    const double c = normals.at(i, 2);
    out.cheap.push_back(cheap(a, b, c));
    out.plain.push_back(full(a, b, c));
    if (i % plan.points < out.levels.full) out.full.push_back(full(a, b, c));
    out.groups.push_back(0);
  }
  return out;
}

std::optional<Band> band_of(const Columns& c) { return engine::band_of(TwoLevels{c.levels, c.cheap, c.full, c.groups}); }

std::array<double, 3> values(const Band& band) { return {band.low, band.median, band.high}; }
std::array<double, 3> errors(const Band& band) { return {band.low_error, band.median_error, band.high_error}; }

struct Judged {
  int inside{}, numbers{};
  double square{}, stated{}, full_alone{};  // mean squares of error, of the stated error, and of the full samples alone
};

// The 5, 50 and 95 % quantiles over many seeds against the truth.
Judged judged(const std::array<double, 3>& truth, const Model& cheap, const Model& full, std::size_t samples) {
  Judged out;
  constexpr std::uint64_t kSeeds = 120;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const Columns c = columns_of(engine::plan_for(samples, seed), cheap, full);
    const Band band = band_of(c).value();
    const Band alone = engine::band_of(c.full, c.levels.replicates).value();
    for (std::size_t k = 0; k < 3; ++k) {
      const double off = std::log(values(band)[k] / truth[k]);
      const double stated = errors(band)[k] / values(band)[k];
      out.inside += std::abs(values(band)[k] - truth[k]) < 2.0 * errors(band)[k] ? 1 : 0;
      ++out.numbers;
      out.square += off * off;
      out.stated += std::min(stated * stated, 1.0);
      out.full_alone += std::pow(std::log(values(alone)[k] / truth[k]), 2);
    }
  }
  return out;
}

std::array<double, 3> lognormal(double middle, double sd) {
  return {std::exp(middle - sd * kZ95), std::exp(middle), std::exp(middle + sd * kZ95)};
}

}  // namespace

TEST_CASE("which samples are run in full", "[eq:two-level-distribution]") {
  const Levels usual = engine::levels_of(engine::plan_for(256));
  CHECK(usual.points == 32);
  CHECK(usual.full == 2);
  CHECK(usual.in_full() == 16);
  CHECK(engine::levels_of(engine::plan_for(128)).in_full() == 8);
  CHECK(engine::levels_of(engine::plan_for(16)).in_full() == 8);  // one of each replicate at least
  CHECK(engine::levels_of(engine::plan_for(4096)).full == 32);
}

TEST_CASE("two levels of a lognormal model: quantiles and their stated errors against the closed form",
          "[eq:two-level-distribution][eq:jackknife-error]") {
  // full: level shifted by 0.3, slope 0.9, and scatter of its own that the cheap level does not see
  const Model cheap = [](double a, double, double) { return std::exp(0.8 * a); };
  const Model full = [](double a, double b, double) { return std::exp(0.3 + 0.72 * a + 0.1 * b); };
  const double sd = std::hypot(0.72, 0.1);
  for (const std::size_t samples : {128U, 256U}) {
    INFO(samples);
    const Judged j = judged(lognormal(0.3, sd), cheap, full, samples);
    INFO("inside " << j.inside << " of " << j.numbers << ", rms " << std::sqrt(j.square / j.numbers) << ", stated "
                   << std::sqrt(j.stated / j.numbers) << ", full alone " << std::sqrt(j.full_alone / j.numbers));
    // t of 7 degrees of freedom: 91 %
    CHECK(j.inside > 0.85 * j.numbers);
    // neither too small nor so large that it could not fail
    CHECK(j.stated > 0.7 * j.square);
    CHECK(j.stated < 4.0 * j.square);
    // and the full samples alone are at least twice as far off
    CHECK(j.full_alone > 4.0 * j.square);
  }
}

TEST_CASE("two levels: a correction that is no straight line", "[eq:two-level-distribution]") {
  // thin ones are thinner still in full: ln y = ln x + 0.6 min(0, ln x + 0.5), which keeps the order
  const auto moved = [](double log_x) { return log_x + 0.6 * std::min(0.0, log_x + 0.5); };
  const Model cheap = [](double a, double, double) { return std::exp(0.8 * a); };
  const Model full = [moved](double a, double b, double) { return std::exp(moved(0.8 * a) + 0.02 * b); };
  const Judged j = judged({std::exp(moved(-0.8 * kZ95)), 1.0, std::exp(moved(0.8 * kZ95))}, cheap, full, 256);
  INFO("inside " << j.inside << " of " << j.numbers << ", rms " << std::sqrt(j.square / j.numbers) << ", stated "
                 << std::sqrt(j.stated / j.numbers) << ", full alone " << std::sqrt(j.full_alone / j.numbers));
  CHECK(j.inside > 0.85 * j.numbers);
  CHECK(j.stated < 4.0 * j.square);
  CHECK(j.full_alone > 4.0 * j.square);
}

TEST_CASE("two levels: where the cheap one knows nothing, errors say so", "[eq:jackknife-error]") {
  const Model cheap = [](double, double, double c) { return std::exp(0.5 * c); };
  const Model full = [](double a, double, double) { return std::exp(0.5 * a); };
  const Judged j = judged(lognormal(0.0, 0.5), cheap, full, 256);
  INFO("inside " << j.inside << " of " << j.numbers << ", rms " << std::sqrt(j.square / j.numbers) << ", stated "
                 << std::sqrt(j.stated / j.numbers));
  CHECK(j.inside > 0.80 * j.numbers);
  const Model none = [](double, double, double) { return std::optional<double>(); };
  const Judged alone = judged(lognormal(0.0, 0.5), none, full, 256);
  INFO("full alone: inside " << alone.inside << " of " << alone.numbers);
  CHECK(alone.inside > 0.80 * alone.numbers);
}

TEST_CASE("two levels that are one: the band of all samples", "[eq:two-level-distribution]") {
  const Model same = [](double a, double b, double) { return std::exp(a + b); };
  const Columns c = columns_of(engine::plan_for(128), same, same);
  const Band two = band_of(c).value();
  const Band one = engine::band_of(c.cheap, 8).value();
  CHECK(values(two) == values(one));
  CHECK(errors(two) == errors(one));
  CHECK(two.count == 128);
  CHECK(two.in_full == 8);
}

TEST_CASE("two levels: results that one level has and the other has not", "[eq:two-level-distribution]") {
  const Model cheap = [](double a, double, double) { return std::exp(a); };
  SECTION("in full alone: the full samples") {
    const Model none = [](double, double, double) { return std::optional<double>(); };
    const Columns c = columns_of(engine::plan_for(256), none, cheap);
    const Band band = band_of(c).value();
    CHECK(band.count == 16);
    CHECK(band.in_full == 16);
    CHECK(values(band)[1] == Approx(engine::band_of(c.full, 8)->median).epsilon(0.2));
  }
  SECTION("cheaply alone: none") {
    const Model none = [](double, double, double) { return std::optional<double>(); };
    CHECK_FALSE(band_of(columns_of(engine::plan_for(256), cheap, none)).has_value());
  }
  SECTION("the upper half has none in full") {
    const Model half = [](double a, double, double) { return a < 0.0 ? std::optional(1.5 * std::exp(a)) : std::nullopt; };
    double count = 0.0;
    double median = 0.0;
    constexpr std::uint64_t kSeeds = 40;
    for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
      const Band band = band_of(columns_of(engine::plan_for(512, seed), cheap, half)).value();
      count += static_cast<double>(band.count) / kSeeds;
      median += std::log(band.median / 1.5) / kSeeds;
    }
    CHECK(count == Approx(256.0).margin(20.0));
    // median of what has one: the 25 % quantile, -0.674 (NIST/SEMATECH e-Handbook, table 1.3.6.7.1)
    CHECK(median == Approx(-0.674).margin(0.08));
  }
  SECTION("the lower half has none when run cheaply") {
    const Model half = [](double a, double, double) { return a > 0.0 ? std::optional(std::exp(a)) : std::nullopt; };
    const Model all = [](double a, double, double) { return std::exp(a); };
    double median = 0.0;
    constexpr std::uint64_t kSeeds = 40;
    for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
      const Band band = band_of(columns_of(engine::plan_for(512, seed), half, all)).value();
      CHECK(band.count == 512);
      median += std::log(band.median) / kSeeds;
    }
    CHECK(median == Approx(0.0).margin(0.1));
  }
}

TEST_CASE("two levels: shares of ends", "[eq:two-level-share]") {
  // cheap: 0 below 0.5, 1 above. In full a fifth of the 0 are 2: shares 0.55, 0.31, 0.14 (P(a < 0.5) = 0.6915, the table above).
  constexpr double kBelow = 0.691462461274013;
  const std::map<int, double> truth{{0, 0.8 * kBelow}, {1, 1.0 - kBelow}, {2, 0.2 * kBelow}};
  int inside = 0;
  int held = 0;
  int numbers = 0;
  std::map<int, double> mean;
  constexpr int kSeeds = 200;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const engine::SamplePlan plan = engine::plan_for(256, seed);
    const Normals normals(plan);
    const Levels levels = engine::levels_of(plan);
    std::vector<int> cheap, full;
    for (std::size_t i = 0; i < plan.size(); ++i) {
      const int end = normals.at(i, 0) < 0.5 ? 0 : 1;
      cheap.push_back(end);
      if (i % plan.points < levels.full) full.push_back(end == 0 && normals.sampler.unit(i, 1) < 0.2 ? 2 : end);
    }
    const auto shares = engine::shares_of({levels, cheap, cheap, full});
    double sum = 0.0;
    for (const auto& [end, share] : shares) {
      sum += share.value;
      CHECK(share.error >= 0.5 / 16.0);
      CHECK(share.total == 256);
    }
    CHECK(sum == Approx(1.0));
    for (const auto& [end, share] : truth) {
      const auto found = shares.find(end);
      const double value = found == shares.end() ? 0.0 : found->second.value;
      const double error = found == shares.end() ? 0.5 / 16.0 : found->second.error;
      mean[end] += value / kSeeds;
      inside += std::abs(value - share) < 2.0 * error ? 1 : 0;
      held += found == shares.end() || (found->second.low <= share && share <= found->second.high) ? 1 : 0;
      ++numbers;
    }
  }
  for (const auto& [end, share] : truth) CHECK(mean[end] == Approx(share).margin(0.015));
  INFO(inside << " and " << held << " of " << numbers);
  CHECK(inside > 0.85 * numbers);
  CHECK(held > 0.9 * numbers);
}

TEST_CASE("two levels: the same samples on both, an equal number of every replicate", "[eq:two-level-distribution]") {
  model::CaseInput base;
  base.model.tier = model::Tier::tension;
  const Sampler sampler({UncertainInput{"operation.rotation_speed", "", UncertainKind::measurement,
                                        {SpreadKind::lognormal, 1000.0, 300.0}, "",
                                        [](model::CaseInput& c, double x) { c.operation.rotation_speed_rad_s = x; }}},
                        engine::plan_for(256));
  std::multiset<double> in_full, cheaply;
  const engine::CaseRunner run = [&](const model::CaseInput& c) {
    const bool tension = c.model.tier == model::Tier::tension;
    (tension ? in_full : cheaply).insert(c.operation.rotation_speed_rad_s);
    model::Estimate e;
    e.status = model::Status::done;
    e.fibre_class = model::FibreClass::continuous;
    e.dry_diameter_m = (tension ? 2.0 : 1.0) / c.operation.rotation_speed_rad_s;
    return e;
  };
  const std::vector<engine::ResultFunction> results{
      {"d", [](const model::Estimate& e) { return std::optional(e.dry_diameter_m); }}};
  const auto out = engine::spread_out_on_two_levels(base, sampler, {}, results, engine::serial_runner(run),
                                                    [](model::CaseInput c) {
                                                      c.model.tier = model::Tier::inertial;
                                                      return c;
                                                    });
  CHECK(in_full.size() == 16);
  CHECK(cheaply.size() == 256);
  std::size_t expected = 0;
  for (std::size_t i = 0; i < 256; ++i)
    if (i % 32 < 2) expected += in_full.count(sampler.sample(base, i).operation.rotation_speed_rad_s);
  CHECK(expected == 16);
  CHECK(std::includes(cheaply.begin(), cheaply.end(), in_full.begin(), in_full.end()));
  CHECK(out.samples == 256);
  CHECK(out.in_full == 16);
  CHECK(out.bands[0]->median == Approx(2.0 / 1000.0).epsilon(0.03));  // all corrections are the same: as good as 256 samples
  CHECK(out.bands[0]->median_error < 0.03 * out.bands[0]->median);
}

TEST_CASE("two levels of real cases against plain samples") {
  // As many plain ones as the clock allows; WHORL_FULL=1: the whole number.
  const bool whole = std::getenv("WHORL_FULL") != nullptr;
  int inside = 0;
  int numbers = 0;
  std::string far;
  for (const char* name : {"pvp-ethanol-measured", "peo-water-training"}) {
    const auto loaded = study::load_case(testing::case_path(name));
    const auto inputs = study::uncertain_inputs(loaded.file, loaded.file.input, loaded.library);
    std::vector<const io::Output*> outputs;
    for (const io::Output& output : io::outputs())
      if (output.kind == io::OutputKind::number) outputs.push_back(&output);
    const auto results = study::result_functions(outputs);
    engine::EstimateOptions one;
    one.run_distribution = false;
    one.closeness = engine::Closeness::sample;
    const auto runner = engine::serial_runner([&](const model::CaseInput& c) { return engine::estimate(c, loaded.library, one); });
    const auto plain = engine::spread_out(loaded.file.input, Sampler(inputs, engine::plan_for(whole ? 20000 : 512, 77)), {}, results, runner);
    for (std::uint64_t seed = 1; seed <= (whole ? 8U : 2U); ++seed) {
      const auto two = engine::spread_out_on_two_levels(loaded.file.input, Sampler(inputs, engine::plan_for(128, seed)), {},
                                                        results, runner, [](model::CaseInput c) {
                                                          c.model.tier = model::Tier::inertial;
                                                          c.model.drying = model::DryingModel::lumped;
                                                          return c;
                                                        });
      CHECK(two.in_full == 8);
      for (std::size_t k = 0; k < results.size(); ++k) {
        if (!plain.bands[k] || !two.bands[k]) continue;
        for (std::size_t q = 0; q < 3; ++q) {
          const double off = std::abs(values(*two.bands[k])[q] - values(*plain.bands[k])[q]);
          const double error = std::hypot(errors(*two.bands[k])[q], errors(*plain.bands[k])[q]);
          ++numbers;
          // rounding beside a number that no doubt moves
          const bool in = off <= 2.0 * error + 1e-9 * std::abs(values(*plain.bands[k])[q]);
          inside += in ? 1 : 0;
          if (!in) far += std::string(name) + ' ' + results[k].key + (q == 0 ? " p05 " : q == 1 ? " median " : " p95 ") +
                          std::to_string(off / error) + '\n';
        }
      }
      for (const auto& [fibre_class, share] : plain.classes) {
        const auto found = two.classes.find(fibre_class);
        const double value = found == two.classes.end() ? 0.0 : found->second.value;
        CHECK(std::abs(value - share.value) < 3.0 * std::hypot(share.error, std::max(0.5 / 8.0, found == two.classes.end() ? 0.0 : found->second.error)));
      }
    }
  }
  INFO(inside << " of " << numbers << "\n" << far);
  CHECK(numbers > 500);
  CHECK(inside > 0.85 * numbers);  // plain samples of the same number: 0.90 to 0.94
}

TEST_CASE("two levels: a share stays between none and all, however steep the correction", "[engine][eq:two-level-distribution]") {
  // a fraction near one on both levels, in full with the smaller remainder; corrected in its logarithm it went to 1.96
  const auto logistic = [](double t) { return 1.0 / (1.0 + std::exp(-t)); };
  Columns c = columns_of(
      engine::plan_for(64), [&](double a, double, double) { return std::optional(logistic(-2.0 + 2.0 * a)); },
      [&](double a, double b, double) { return std::optional(logistic(1.0 + 3.0 * a + b)); });
  for (const bool zeros : {false, true}) {
    if (zeros) c.cheap[1] = c.full[1] = 0.0;
    const auto band =
        engine::band_of(TwoLevels{c.levels, c.cheap, c.full, c.groups, true}).value();
    INFO(band.low << ' ' << band.median << ' ' << band.high);
    CHECK(band.low >= 0.0);
    CHECK(band.high <= 1.0);
    CHECK(band.low < band.median);
    CHECK(band.median < band.high);
  }
}
