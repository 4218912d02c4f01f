// Uncertain inputs, their sampling and the statistics of the samples.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <limits>
#include <random>
#include <set>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "io/names.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/uncertain.hpp"
#include "whorl/io/keys.hpp"

using namespace whorl;
using engine::Band;
using engine::KindSet;
using engine::SamplePlan;
using engine::Sampler;
using engine::Spread;
using engine::SpreadKind;
using engine::UncertainInput;
using engine::UncertainKind;

namespace {

// 5 and 95 % quantile of the standard normal distribution, NIST/SEMATECH e-Handbook, table 1.3.6.7.1: 1.645 (more digits from memory).
constexpr double kZ95 = 1.6448536269514722;

UncertainInput speed(const Spread& spread) {
  return {"operation.rotation_speed", "", UncertainKind::measurement, spread, "",
          [](model::CaseInput& c, double x) { c.operation.rotation_speed_rad_s = x; }};
}
UncertainInput pressure(const Spread& spread) {
  return {"operation.gas_overpressure", "", UncertainKind::measurement, spread, "",
          [](model::CaseInput& c, double x) { c.operation.gas_overpressure_Pa = x; }};
}

// Result y = speed^a pressure^b of a model that costs nothing.
model::Estimate power_product(const model::CaseInput& c) {
  model::Estimate e;
  e.status = model::Status::done;
  e.fibre_class = model::FibreClass::continuous;
  e.landing = model::Landing::dry;
  e.dry_diameter_m = std::pow(c.operation.rotation_speed_rad_s, -0.5) * std::pow(c.operation.gas_overpressure_Pa, 0.3);
  return e;
}

const engine::ResultFunction kDiameter{"dry_diameter", [](const model::Estimate& e) -> std::optional<double> {
                                         if (e.dry_diameter_m > 0.0) return e.dry_diameter_m;
                                         return {};
                                       }};

}  // namespace

TEST_CASE("quantiles of the three distributions", "[eq:spread-quantile]") {
  const Spread normal{SpreadKind::normal, 10.0, 2.0};
  CHECK(engine::quantile(normal, 0.5) == Approx(10.0).epsilon(1e-14));
  CHECK(engine::quantile(normal, 0.95) == Approx(10.0 + 2.0 * kZ95).epsilon(1e-12));
  const Spread lognormal{SpreadKind::lognormal, 3.0, 1.5};  // sd of the logarithm 0.5
  CHECK(engine::quantile(lognormal, 0.5) == Approx(3.0).epsilon(1e-14));
  CHECK(engine::quantile(lognormal, 0.05) == Approx(3.0 * std::exp(-0.5 * kZ95)).epsilon(1e-12));
  const Spread uniform{SpreadKind::uniform, 1.0, 0.3 / std::sqrt(3.0)};
  CHECK(engine::quantile(uniform, 0.25) == Approx(0.85).epsilon(1e-14));
  CHECK(engine::quantile({SpreadKind::normal, 4.0, 0.0}, 0.9) == 4.0);
}

TEST_CASE("distributions that are cut off", "[eq:spread-quantile]") {
  // half a normal distribution above its mean: the median is the 75 % quantile of the whole, z = 0.674490 (NIST table 1.3.6.7.1: 0.67)
  const Spread half{SpreadKind::normal, 0.0, 1.0, 0.0};
  CHECK(engine::quantile(half, 0.5) == Approx(0.6744897501960817).epsilon(1e-12));
  CHECK(engine::quantile(half, 1e-12) >= 0.0);
  const Spread swirl{SpreadKind::uniform, 0.9, 0.3 / std::sqrt(3.0), 0.0, 1.0};
  CHECK(engine::quantile(swirl, 0.5) == Approx(0.8).epsilon(1e-14));
  const Spread log_half{SpreadKind::lognormal, 2.0, 1.0, 2.0, 1e3};
  CHECK(engine::quantile(log_half, 0.5) == Approx(2.0 * std::exp(0.5 * 0.6744897501960817)).epsilon(1e-9));
  // nothing of the distribution inside: the end that is nearest
  CHECK(engine::quantile({SpreadKind::normal, -50.0, 0.01, 0.0, 1.0}, 0.5) == 0.0);
}

TEST_CASE("a scrambled Sobol sequence keeps its equidistribution", "[eq:owen-scrambling]") {
  const std::vector<UncertainInput> inputs(5, speed({SpreadKind::uniform, 0.5, 0.1}));
  const Sampler sampler(inputs, {64, 3, 7});
  for (std::size_t replicate = 0; replicate < 3; ++replicate) {
    // one point in each of 64 equal intervals on every axis, and one in each cell of 8 x 8 on the first two: a (0, 6, 2) net
    std::set<std::size_t> cells;
    for (std::size_t axis = 0; axis < 5; ++axis) {
      std::set<std::size_t> strata;
      for (std::size_t i = 0; i < 64; ++i) strata.insert(static_cast<std::size_t>(64.0 * sampler.unit(64 * replicate + i, axis)));
      CHECK(strata.size() == 64);
    }
    for (std::size_t i = 0; i < 64; ++i) {
      const std::size_t k = 64 * replicate + i;
      cells.insert(8 * static_cast<std::size_t>(8.0 * sampler.unit(k, 0)) + static_cast<std::size_t>(8.0 * sampler.unit(k, 1)));
    }
    CHECK(cells.size() == 64);
  }
  // replicates are independent: the mean over 200 pairs of their correlation is 0 within four standard errors (one pair of
  // scramblings of the same points may well be correlated or anticorrelated)
  const Sampler many({inputs[0]}, {16, 400, 3});
  std::vector<double> correlation;
  for (std::size_t pair = 0; pair < 200; ++pair) {
    double sum = 0.0;
    for (std::size_t i = 0; i < 16; ++i) sum += (many.unit(32 * pair + i, 0) - 0.5) * (many.unit(32 * pair + 16 + i, 0) - 0.5) * 12.0 / 16.0;
    correlation.push_back(sum);
  }
  double mean = 0.0;
  double square = 0.0;
  for (const double r : correlation) {
    mean += r / 200.0;
    square += r * r / 200.0;
  }
  CHECK(std::abs(mean) < 4.0 * std::sqrt(square / 200.0));
  CHECK(sampler.unit(3, 0) != sampler.unit(64 + 3, 0));
  // every coordinate strictly inside
  for (std::size_t i = 0; i < sampler.size(); ++i) CHECK((sampler.unit(i, 4) > 0.0 && sampler.unit(i, 4) < 1.0));
}

TEST_CASE("owen scrambling of one point is uniform", "[eq:owen-scrambling]") {
  // mean and variance of 4,096 scramblings of the same point: 1/2 and 1/12, within four standard errors
  double sum = 0.0;
  double square = 0.0;
  constexpr int kCount = 4096;
  for (std::uint64_t key = 0; key < kCount; ++key) {
    const double u = engine::owen_scrambled(0x8000000000000000ULL, engine::mix_bits(key));
    sum += u;
    square += (u - 0.5) * (u - 0.5);
  }
  CHECK(std::abs(sum / kCount - 0.5) < 4.0 * std::sqrt(1.0 / 12.0 / kCount));
  CHECK(std::abs(square / kCount - 1.0 / 12.0) < 4.0 * std::sqrt(1.0 / 180.0 / kCount));
}

TEST_CASE("sample quantile, definition 8", "[eq:sample-quantile]") {
  // R documentation, quantile(type = 8): m = (p + 1)/3; of 1..10: p = 0.25 gives 2.916667, p = 0.5 gives 5.5 (hand computed from that rule)
  const std::vector<double> ten{1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  CHECK(engine::sample_quantile(ten, 0.25) == Approx(2.9166666666666665));
  CHECK(engine::sample_quantile(ten, 0.5) == Approx(5.5));
  CHECK(engine::sample_quantile(ten, 0.0) == 1.0);
  CHECK(engine::sample_quantile(ten, 1.0) == 10.0);
  CHECK(engine::sample_quantile(std::vector<double>{4.0}, 0.95) == 4.0);
}

TEST_CASE("band of a lognormal product against its closed form", "[eq:replicate-error]") {
  // y = w^-0.5 p^0.3 with ln w, ln p normal: ln y normal with variance 0.25 s_w^2 + 0.09 s_p^2
  const model::CaseInput base;
  const std::vector<UncertainInput> inputs{speed({SpreadKind::lognormal, 1000.0, 300.0}), pressure({SpreadKind::lognormal, 1e5, 8e4})};
  const double s = std::sqrt(0.25 * 0.3 * 0.3 + 0.09 * 0.8 * 0.8);
  const double median = std::pow(1000.0, -0.5) * std::pow(1e5, 0.3);
  int inside = 0;
  int wide = 0;
  constexpr int kSeeds = 20;
  for (int seed = 1; seed <= kSeeds; ++seed) {
    const Sampler sampler(inputs, engine::plan_for(512, static_cast<std::uint64_t>(seed)));
    const auto out = engine::spread_out(base, sampler, {}, std::vector<engine::ResultFunction>{kDiameter}, engine::serial_runner(power_product));
    REQUIRE(out.bands.size() == 1);
    const Band band = out.bands[0].value();
    CHECK(band.count == 512);
    CHECK(out.not_converged == 0);
    // within 3 % whatever the seed (brute force of 512 would leave 2 % in the median and 4 % in the 95 % quantile, one sigma)
    CHECK(band.median == Approx(median).epsilon(0.03));
    CHECK(band.low == Approx(median * std::exp(-s * kZ95)).epsilon(0.05));
    CHECK(band.high == Approx(median * std::exp(s * kZ95)).epsilon(0.05));
    inside += std::abs(band.median - median) < 2.0 * band.median_error ? 1 : 0;
    inside += std::abs(band.low - median * std::exp(-s * kZ95)) < 2.0 * band.low_error ? 1 : 0;
    inside += std::abs(band.high - median * std::exp(s * kZ95)) < 2.0 * band.high_error ? 1 : 0;
    wide += band.median_error > 0.03 * band.median ? 1 : 0;
  }
  // The stated error is a standard error from 8 replicates: t of 7 degrees of freedom puts 91 % within two of them, 55 of 60; 48 is
  // three binomial standard deviations less. And it is no larger than it has to be.
  CHECK(inside >= 48);
  CHECK(wide == 0);
}

TEST_CASE("kinds are kept apart: what does not take part stays put", "[eq:model-form-spread]") {
  const model::CaseInput base = testing::plain_case();
  const auto setup = engine::resolve(base, io::built_in_library());
  auto all = engine::uncertain_properties(setup);
  auto form = engine::uncertain_model_form(base);
  CHECK(form.size() == 5);
  for (const auto& input : form) CHECK(input.kind == UncertainKind::model_form);
  all.insert(all.end(), form.begin(), form.end());
  const Sampler sampler(all, {16, 2, 1});
  const model::CaseInput only_form = sampler.sample(base, 5, {false, false, true});
  CHECK(only_form.solution.factors.vapour_pressure == 1.0);
  CHECK(only_form.model.axial_drag_factor != 1.0);
  CHECK(only_form.model.heat_transfer_factor == only_form.model.mass_transfer_factor);
  CHECK(only_form.model.excess_draw != 1.0);
  CHECK(only_form.model.breakup_threshold != base.model.breakup_threshold);
  for (const auto& input : form) {  // either way: a line may be laid slower than its jet flies, or drawn further
    if (input.key != "model.excess_draw") continue;
    CHECK(engine::quantile(input.spread, 0.05) == Approx(0.25));
    CHECK(engine::quantile(input.spread, 0.95) == Approx(4.0));
  }
  // gas that can go through an orifice brings its own doubts: when, how fine the threads, whether it tears at all
  model::CaseInput pushed = base;
  pushed.operation.gas_overpressure_Pa = 1e5;
  pushed.model.gas_breakthrough = model::GasBreakthrough::on;
  pushed.model.splitting = model::Splitting::on;
  const auto count = [&] { return engine::uncertain_model_form(pushed).size(); };
  CHECK(count() == 8);
  pushed.model.splitting = model::Splitting::off;
  CHECK(count() == 6);
  pushed.model.gas_breakthrough = model::GasBreakthrough::off;
  CHECK(count() == 5);
  const model::CaseInput only_property = sampler.sample(base, 5, {false, true, false});
  CHECK(only_property.model.axial_drag_factor == 1.0);
  CHECK(only_property.solution.factors.vapour_pressure != 1.0);
  CHECK(only_property.solution.measured.zero_shear_viscosity_Pa_s == base.solution.measured.zero_shear_viscosity_Pa_s);
  // the same sample has the same values whichever kinds take part
  const model::CaseInput every = sampler.sample(base, 5);
  CHECK(every.model.axial_drag_factor == only_form.model.axial_drag_factor);
  CHECK(every.solution.factors.vapour_pressure == only_property.solution.factors.vapour_pressure);
  CHECK(every.solution.measured.zero_shear_viscosity_Pa_s != base.solution.measured.zero_shear_viscosity_Pa_s);
}

TEST_CASE("every factor of the library is a key of the case file with the same limits, and moves its property", "[eq:library-spread]") {
  // PCL in chloroform: everything estimated, and it crystallises
  auto file = io::read_case_file(testing::case_path("pcl-chloroform"));
  file.input.model.tier = model::Tier::tension;  // extensibility counts there
  const auto library = io::built_in_library();
  const auto setup = engine::resolve(file.input, library);
  const auto inputs = engine::uncertain_properties(setup);
  CHECK(inputs.size() >= 16);
  const auto value_of = [](const engine::Setup& s, const std::string& property) {
    for (const auto& named : s.fluid.properties)
      if (named.key == property) return named.property.value;
    return std::numeric_limits<double>::quiet_NaN();
  };
  for (const UncertainInput& input : inputs) {
    INFO(input.key);
    const io::Key* key = io::find_key(input.key);
    REQUIRE(key != nullptr);
    CHECK(key->minimum == input.spread.low);
    CHECK(key->maximum == input.spread.high);
    model::CaseInput moved = file.input;
    input.apply(moved, 1.1);
    CHECK(key->get(moved) == 1.1);
    if (input.key == "model.shear_index_factor") {  // acts on the index 0.3 of full slope, of which entanglement has let a share set in
      const double index = value_of(setup, input.property);
      CHECK(value_of(engine::resolve(moved, library), input.property) == Approx(index + 0.03 * (1.0 - index) / 0.7).epsilon(1e-12));
      continue;
    }
    CHECK(value_of(engine::resolve(moved, library), input.property) ==
          Approx(1.1 * value_of(setup, input.property)).epsilon(1e-12));
  }
  // a relaxation time that follows from viscosity and modulus moves with the viscosity, and the modulus does not
  model::CaseInput thicker = file.input;
  thicker.solution.factors.zero_shear_viscosity = 2.0;
  const auto thick = engine::resolve(thicker, library);
  CHECK(value_of(thick, "relaxation_time") == Approx(2.0 * value_of(setup, "relaxation_time")).epsilon(1e-3));
  CHECK(value_of(thick, "modulus") == Approx(value_of(setup, "modulus")).epsilon(1e-12));
}

TEST_CASE("measured properties: the stated or usual doubt, as the case's own key", "[eq:library-spread]") {
  const auto file = io::read_case_file(testing::case_path("pvp-ethanol-measured"));
  const auto inputs = engine::uncertain_properties(engine::resolve(file.input, io::built_in_library()));
  const auto found = std::find_if(inputs.begin(), inputs.end(), [](const auto& i) { return i.property == "zero_shear_viscosity"; });
  REQUIRE(found != inputs.end());
  CHECK(found->key == "solution.measured.zero_shear_viscosity");
  CHECK(found->kind == UncertainKind::measurement);
  CHECK(found->spread.value == Approx(1.1));
  CHECK(found->spread.sd == Approx(0.055));
  for (const auto& input : inputs) {
    if (input.kind != UncertainKind::measurement) continue;
    const io::Key* key = io::find_key(input.key);
    REQUIRE(key != nullptr);
    CHECK(key->minimum == Approx(input.spread.low));
    CHECK(key->maximum == Approx(input.spread.high));
  }
}

TEST_CASE("failed samples are counted with their reasons, never dropped") {
  model::CaseInput base;
  base.operation.rotation_speed_rad_s = 1.0;
  const engine::CaseRunner half_fails = [](const model::CaseInput& c) {
    model::Estimate e = power_product(c);
    if (c.operation.rotation_speed_rad_s > 1.0) throw std::runtime_error("too fast");
    if (c.operation.rotation_speed_rad_s < 0.5) {
      e.fibre_class = model::FibreClass::dripping;
      e.landing = model::Landing::none;
      e.dry_diameter_m = 0.0;
    }
    return e;
  };
  base.operation.gas_overpressure_Pa = 1.0;
  const Sampler sampler({speed({SpreadKind::uniform, 1.0, 1.0 / std::sqrt(3.0)})}, engine::plan_for(256));
  const auto out = engine::spread_out(base, sampler, {}, std::vector<engine::ResultFunction>{kDiameter}, engine::serial_runner(half_fails));
  CHECK(out.samples == 256);
  CHECK(out.not_converged == 128);  // exactly: the replicates are stratified
  CHECK(out.reasons.at("failed: too fast") == 128);
  CHECK(out.classes.at(model::FibreClass::dripping).count == 64);
  CHECK(out.classes.at(model::FibreClass::dripping).value == 0.25);
  CHECK(out.classes.at(model::FibreClass::continuous).value == 0.25);
  CHECK(out.bands[0]->count == 64);
}

TEST_CASE("a stated doubt replaces the usual one; no width, no doubt") {
  const model::CaseInput base = testing::plain_case();
  UncertainInput stated{"model.excess_draw", "", UncertainKind::model_form, {SpreadKind::normal, 1.5, 0.1, 1.0, 1e3}, "case file",
                        [](model::CaseInput& c, double x) { c.model.excess_draw = x; }};
  UncertainInput exact{"room.air_swirl", "", UncertainKind::model_form, {SpreadKind::normal, 0.5, 0.0}, "case file",
                       [](model::CaseInput& c, double x) { c.room.air_swirl = x; }};
  const auto joined = engine::join_uncertain({stated, exact}, engine::uncertain_model_form(base));
  CHECK(joined.size() == 4);
  CHECK(joined[0].spread.value == 1.5);
  CHECK(std::none_of(joined.begin(), joined.end(), [](const auto& i) { return i.key == "room.air_swirl"; }));
  CHECK(engine::kind_of_key("model.relaxation_time_factor") == UncertainKind::property);
  CHECK(engine::kind_of_key("model.excess_draw") == UncertainKind::model_form);
  CHECK(engine::kind_of_key("room.air_swirl") == UncertainKind::model_form);
  CHECK(engine::kind_of_key("room.relative_humidity") == UncertainKind::measurement);
}

TEST_CASE("every doubt of a line has words of the bench") {
  const auto library = io::built_in_library();
  std::size_t asked = 0;
  const auto folder = std::filesystem::path(testing::case_path("pcl-chloroform")).parent_path();
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() != ".json") continue;
    auto file = io::read_case_file(entry.path().string());
    file.input.model.tier = model::Tier::tension;
    for (const double overpressure : {0.0, 2e5}) {
      file.input.operation.gas_overpressure_Pa = overpressure;
      auto doubts = engine::uncertain_properties(engine::resolve(file.input, library));
      for (auto& form : engine::uncertain_model_form(file.input)) doubts.push_back(std::move(form));
      for (const auto& doubt : doubts) {
        if (doubt.key == "model.thread_size_factor" || doubt.key == "model.tearing_quantile" ||
            doubt.key == "model.breakup_threshold")
          continue;  // no part in a line's diameter
        INFO(doubt.key << ' ' << doubt.property);
        CHECK(io::doubt_words(doubt.property.empty() ? doubt.key : doubt.property) != nullptr);
        ++asked;
      }
    }
  }
  CHECK(asked > 200);
  CHECK(io::doubt_words("vessel.height") == nullptr);
}

TEST_CASE("share of marked samples and its error", "[eq:replicate-share]") {
  // two replicates of four: 1 of 4 and 3 of 4; mean 0.5, standard error of the mean of (0.25, 0.75) = 0.25
  const engine::Share share = engine::share_of({true, false, false, false, true, true, true, false}, 2);
  CHECK(share.count == 4);
  CHECK(share.value == 0.5);
  CHECK(share.error == Approx(0.25));
}

TEST_CASE("share of few samples: all on one side is not without error", "[eq:replicate-share][eq:wilson]") {
  // 0 of 20: 0 to 0.1611 (Newcombe, Statist. Med. 17 (1998) 857, table I, Wilson, from memory)
  const engine::Share none = engine::share_of(std::vector<bool>(20, false), 2);
  CHECK(none.low == 0.0);
  CHECK(none.high == Approx(0.1611).margin(5e-5));
  CHECK(none.error == Approx(0.5 / 21.0));  // Wilson's interval of one standard deviation ends at 1/(N + 1)
  const engine::Share all = engine::share_of(std::vector<bool>(20, true), 2);
  CHECK(all.low == Approx(1.0 - 0.1611).margin(5e-5));
  CHECK(all.high == 1.0);
  CHECK(all.error == none.error);
  // replicates that agree by chance do not know it exactly either
  CHECK(engine::share_of({true, false, true, false}, 2).error == Approx(0.1));

  // a share that is known, from few samples, over and over: Wilson's interval holds it 95 times in 100 on the average of all
  // shares, and 93 times at 0.1 with 16 independent samples (0, 1, 2 or 3 of them: binomial distribution)
  const UncertainInput one{"operation.rotation_speed", "", UncertainKind::measurement,
                           {SpreadKind::uniform, 0.5, 1.0 / std::sqrt(12.0), 0.0, 1.0}, "", {}};
  const UncertainInput other{"operation.gas_overpressure", "", UncertainKind::measurement, one.spread, "", {}};
  for (const double truth : {0.02, 0.1, 0.5, 0.95}) {
    CAPTURE(truth);
    int held = 0;
    constexpr int kSeeds = 400;
    for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
      const Sampler sampler({one, other}, engine::plan_for(16, seed));
      std::vector<bool> marked;
      for (std::size_t i = 0; i < sampler.size(); ++i) marked.push_back(sampler.unit(i, 1) < truth);
      const engine::Share share = engine::share_of(marked, sampler.plan().replicates);
      CHECK(share.error >= 0.5 / 17.0 - 1e-12);
      held += share.low <= truth && truth <= share.high ? 1 : 0;
    }
    CHECK(held >= 0.93 * kSeeds);
  }
}

TEST_CASE("bands of the real model: quasi-Monte Carlo against brute force") {
  // an everyday case, well mixed so that it is cheap; brute force with a stream of its own
  auto file = io::read_case_file(testing::case_path("pcl-chloroform"));
  file.input.model.tier = model::Tier::inertial;
  file.input.model.drying = model::DryingModel::lumped;
  const auto library = io::built_in_library();
  const auto setup = engine::resolve(file.input, library);
  auto inputs = engine::uncertain_properties(setup);
  const auto form = engine::uncertain_model_form(file.input);
  inputs.insert(inputs.end(), form.begin(), form.end());
  const engine::CaseRunner run = [&](const model::CaseInput& c) { return engine::estimate(c, library, {false, false, false, false}); };
  const std::vector<engine::ResultFunction> results{
      kDiameter, {"flow", [](const model::Estimate& e) -> std::optional<double> { return e.orifice.flow_m3_s; }}};

  const Sampler sampler(inputs, engine::plan_for(256));
  const auto quasi = engine::spread_out(file.input, sampler, {}, results, engine::serial_runner(run));
  REQUIRE(quasi.bands[0].has_value());

  std::mt19937_64 stream(20);
  std::uniform_real_distribution<double> unit(1e-12, 1.0);
  const std::size_t brute_count = std::getenv("WHORL_FULL") != nullptr ? 20000 : 1500;
  std::array<std::vector<double>, 2> brute;
  std::size_t continuous = 0;
  for (std::size_t i = 0; i < brute_count; ++i) {
    model::CaseInput c = file.input;
    for (const auto& input : inputs) input.apply(c, engine::quantile(input.spread, unit(stream)));
    const model::Estimate e = engine::run_guarded(run, c);
    if (e.status != model::Status::done) continue;
    continuous += e.fibre_class == model::FibreClass::continuous ? 1 : 0;
    for (std::size_t k = 0; k < 2; ++k)
      if (const auto value = results[k].get(e)) brute[k].push_back(*value);
  }
  for (std::size_t k = 0; k < 2; ++k) {
    std::sort(brute[k].begin(), brute[k].end());
    const auto n = static_cast<double>(brute[k].size());
    // standard error of a brute-force quantile: half the distance of the quantiles one binomial standard deviation to either side
    const auto brute_error = [&](double p) {
      const double d = std::sqrt(p * (1.0 - p) / n);
      return 0.5 * (engine::sample_quantile(brute[k], p + d) - engine::sample_quantile(brute[k], p - d));
    };
    const Band& band = *quasi.bands[k];
    const auto agrees = [&](double p, double value, double error) {
      const double reference = engine::sample_quantile(brute[k], p);
      INFO(results[k].key << " p " << p << ": " << value << " +- " << error << ", brute " << reference << " +- " << brute_error(p));
      // four joint standard errors (six comparisons; the error from 8 replicates is itself uncertain by a quarter)
      CHECK(std::abs(value - reference) < 4.0 * std::hypot(error, brute_error(p)));
      // and is no more than three times that of as many independent samples (8 replicates know it to a quarter, one sigma)
      CHECK(error < 3.0 * brute_error(p) * std::sqrt(n / 256.0));
    };
    agrees(0.05, band.low, band.low_error);
    agrees(0.5, band.median, band.median_error);
    agrees(0.95, band.high, band.high_error);
  }
  const double share = static_cast<double>(continuous) / static_cast<double>(brute_count);
  const auto found = quasi.classes.find(model::FibreClass::continuous);
  const double quasi_share = found == quasi.classes.end() ? 0.0 : found->second.value;
  const double quasi_error = found == quasi.classes.end() ? 0.0 : found->second.error;
  INFO("continuous " << quasi_share << " +- " << quasi_error << ", brute " << share);
  CHECK(std::abs(quasi_share - share) <
        4.0 * std::hypot(quasi_error, std::sqrt(std::max(share * (1.0 - share), 1e-4) / static_cast<double>(brute_count))));
}
