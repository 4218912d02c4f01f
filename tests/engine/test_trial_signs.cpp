// What trials show besides a mean diameter.
#include <cmath>

#include "catch.hpp"
#include "whorl/study/trial_signs.hpp"
#include "whorl/study/trial_study.hpp"

using namespace whorl;
using study::ModelSigns;
using study::Seen;
using study::TrialSigns;

namespace {

ModelSigns model_signs() {
  ModelSigns m;
  m.probability_fine = 0.5;
  m.gas_flow_m3_s = 1e-3;
  m.threads = {0.9, 0.1, 0.0, 0.0, 0.0};
  m.line = {0.1, 0.1, 0.8, 0.0, 0.0};
  m.either = {0.5, 0.1, 0.4, 0.0, 0.0};
  return m;
}

}  // namespace

TEST_CASE("trial signs: thick fibres, gas and class speak for the answer that has them",
          "[engine][trial_law][eq:trial-signs]") {
  const ModelSigns m = model_signs();
  const auto odds = [&](const TrialSigns& s) { return study::ln_odds_threads(s, &m); };
  CHECK(odds({}) == 0.0);
  CHECK_THAT(odds({0.0, {}, {}, {}}), WithinAbs(std::log(1.05 / 0.05), 1e-12));
  CHECK_THAT(odds({1.0, {}, {}, {}}), WithinAbs(std::log(0.05 / 1.05), 1e-12));
  CHECK(odds({{}, 1e-3, {}, {}}) > 0.5);
  CHECK(odds({{}, 1e-4, {}, {}}) < -1.0);
  CHECK(odds({{}, 0.0, {}, {}}) == -3.0);
  CHECK(odds({{}, 1.0, {}, {}}) >= 0.0);
  CHECK_THAT(odds({{}, {}, {}, Seen::fibre}), WithinAbs(std::log(0.95 / 0.15), 1e-12));
  CHECK_THAT(odds({{}, {}, {}, Seen::drops}), WithinAbs(std::log(0.05 / 0.85), 1e-12));
  CHECK(odds({{}, {}, 0.3, {}}) == 0.0);
  CHECK(study::ln_odds_threads({{}, 0.0, {}, Seen::drops}, nullptr) == 0.0);
}

TEST_CASE("trial signs: timed runs give the flow factor of a normal mean",
          "[engine][trial_law][eq:trial-flow-factor]") {
  const auto none = study::learn_flow({});
  CHECK(none.ln_mean == 0.0);
  CHECK(none.ln_sd == 0.3);
  // One run: scatter 0.1, prior 0.3, so that 9 tenths of it are believed.
  const auto one = study::learn_flow({0.2});
  CHECK_THAT(one.ln_mean, WithinAbs(0.2 * 0.9, 1e-12));
  CHECK_THAT(one.ln_sd, WithinAbs(std::sqrt(0.009), 1e-12));
  const auto many = study::learn_flow(std::vector<double>(50, -0.5));
  CHECK_THAT(many.ln_mean, WithinAbs(-0.5, 0.01));
  const auto wide = study::learn_flow({-0.6, 0.6, 0.0});
  CHECK(wide.ln_sd > study::learn_flow({0.01, -0.01, 0.0}).ln_sd);
}

TEST_CASE("trial signs: classes that are seen move the chances at other settings",
          "[engine][trial_law][eq:trial-classes]") {
  const ModelSigns m = model_signs();
  std::vector<study::ClassTrial> trials;
  CHECK(study::learn_classes(trials) == study::OutcomeShift{});
  for (int i = 0; i < 6; ++i) {
    for (const auto& t : study::class_trials({{}, {}, {}, Seen::fibre}, m)) trials.push_back(t);
  }
  const auto shift = study::learn_classes(trials);
  CHECK(shift[0] > 0.3);
  CHECK(shift[2] < -0.3);
  // At the maximum of the posterior its slope is zero: seen less expected equals the shift.
  const model::Outcomes p = study::shifted(m.either, shift);
  CHECK_THAT(6.0 * (1.0 - p.even), WithinAbs(shift[0], 1e-8));
  CHECK_THAT(-6.0 * p.drops, WithinAbs(shift[2], 1e-8));
  CHECK_THAT(p.even + p.beaded + p.drops + p.wet + p.none, WithinAbs(1.0, 1e-12));
  const auto half = study::class_trials({{}, {}, 0.25, {}}, m);
  REQUIRE(half.size() == 2);
  CHECK(study::learn_classes({half[0], half[1]})[4] > 0.0);
}

TEST_CASE("trial signs: a trial without diameter helps to tell which answer holds", "[engine][trial_law]") {
  study::StudyInput in;
  in.settings = {{"operation.gas_overpressure", "overpressure", true}};
  // Sizes between the two answers say nothing; what was seen elsewhere does.
  for (const double p : {0.1, 0.2})
    in.trials.push_back(
        {"trial", {p}, std::log(2e-6), 0.0, "", study::TwoAnswers{std::log(1e-6), std::log(4e-6), 0.5}, 0.0});
  in.slopes = study::ModelSlopes{{0.0}, {0.0}};
  const auto fine = [&](double ln_odds) {
    study::StudyInput with = in;
    with.hints.push_back({0.5, ln_odds});
    return study::TrialStudy(with).probability_fine(study::TwoAnswers{std::log(1e-6), std::log(4e-6), 0.5});
  };
  if (fine(0.0)) {
    CHECK(*fine(3.0) > *fine(0.0) + 0.2);
    CHECK(*fine(-3.0) < *fine(0.0) - 0.2);
  } else {
    FAIL("a study with two answers has no probability of them");
  }
}
