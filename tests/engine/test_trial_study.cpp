// Trials as a study: which law is used, what it says of the directions, and when it says that it does not hold.
#include <cmath>

#include "catch.hpp"
#include "engine/published_series.hpp"
#include "whorl/study/trial_study.hpp"

using namespace whorl;
using study::LawKind;
using study::StudyInput;
using study::TrialStudy;
using study::TwoAnswers;

namespace {

// Invented: PCL 80 kg/mol in chloroform, finer with speed and overpressure, coarser with concentration; a few per cent
// of noise.
double invented(double speed, double pressure, double concentration) {
  return std::log(1.8e-6 * std::pow(speed / 8000.0, -0.7) * std::pow(pressure / 0.1, -0.3) *
                  std::pow(concentration / 15.0, 1.4));
}
const double kNoise[] = {0.02, -0.03, 0.03, -0.02, 0.01};
const double kSettings[][3] = {{8000, 0.1, 15}, {12000, 0.1, 15}, {8000, 0.2, 15}, {12000, 0.2, 15}, {8000, 0.1, 20}};

StudyInput five_trials() {
  StudyInput in;
  in.settings = {{"operation.rotation_speed", "speed", true},
                 {"operation.gas_overpressure", "overpressure", true},
                 {"solution.concentration", "concentration", true}};
  for (int i = 0; i < 5; ++i) {
    const double* s = kSettings[i];
    in.trials.push_back({"trial", {s[0], s[1], s[2]}, invented(s[0], s[1], s[2]) + kNoise[i], 1e-4, "", {}, 0.0});
  }
  return in;
}

// A model whose every sign is wrong: coarser with overpressure, finer with concentration, and four times too coarse.
TwoAnswers wrong_model(double speed, double pressure, double concentration) {
  const double ln_d = std::log(7e-6 * std::pow(speed / 8000.0, 0.2) * std::pow(pressure / 0.1, 0.4) *
                               std::pow(concentration / 15.0, -1.0));
  return {ln_d, ln_d, 0.0};
}

}  // namespace

TEST_CASE("trial study: five trials turn every wrong sign and predict the sixth", "[engine][trial_law]") {
  StudyInput in = five_trials();
  const double truth = invented(10000, 0.15, 18);
  SECTION("without physics") {
    const TrialStudy study(in);
    CHECK_THAT(study.predict({10000, 0.15, 18}, {}).median, WithinAbs(truth, 0.1));
  }
  SECTION("with a model that is wrong everywhere") {
    for (auto& t : in.trials) t.model = wrong_model(t.settings[0], t.settings[1], t.settings[2]);
    in.slopes = study::ModelSlopes{{0.2, 0.4, -1.0}, {0.2, 0.4, -1.0}};
    const TrialStudy study(in);
    const auto p = study.predict({10000, 0.15, 18}, wrong_model(10000, 0.15, 18));
    CHECK_THAT(p.median, WithinAbs(truth, 0.1));
    CHECK(p.low < truth);
    CHECK(p.high > truth);
    const auto e = study.exponents();
    CHECK(e[0].measured < 0.0);
    CHECK(e[1].measured < 0.0);
    CHECK(e[2].measured > 0.0);
    CHECK(e[0].model == 0.2);
    CHECK_THAT(e[1].unexplained, WithinAbs(e[1].measured - 0.4, 1e-12));
    CHECK(study.winner() != LawKind::model);
    CHECK(study.misfit().empty());
  }
}

TEST_CASE("trial study: physics that holds is used where the trials do not reach", "[engine][trial_law]") {
  // A model with a bend: what is true here, up to a factor. Trials on one side of it, a setting beyond.
  const auto bend = [](double speed) {
    return -13.0 - 0.6 * std::log(speed / 8000.0) + 0.5 * std::log1p(std::exp(12.0 * (std::log(speed / 9500.0))));
  };
  StudyInput in;
  in.settings = {{"operation.rotation_speed", "speed", true}};
  for (const double speed : {6000.0, 6700.0, 7400.0, 8100.0, 8800.0, 9500.0, 10500.0})
    in.trials.push_back(
        {"trial", {speed}, bend(speed) + 0.4, 1e-4, "", TwoAnswers{bend(speed), bend(speed), 0.0}, 0.0});
  in.slopes = study::ModelSlopes{{-0.6}, {-0.6}};
  const TrialStudy with(in);
  for (auto& t : in.trials) t.model.reset();
  in.slopes.reset();
  const TrialStudy without(in);
  const double truth = bend(12000.0) + 0.4;
  const double off = std::abs(with.predict({12000.0}, TwoAnswers{bend(12000.0), bend(12000.0), 0.0}).median - truth);
  CHECK(off < 0.15);
  CHECK(off < std::abs(without.predict({12000.0}, {}).median - truth));
}

TEST_CASE("trial study: which of two answers holds is learned, and trials may fall on both sides",
          "[engine][trial_law]") {
  published::Draws random(3);
  StudyInput in;
  in.settings = {{"operation.gas_overpressure", "overpressure", true}};
  // The model tears above 0.2 MPa with growing probability; in truth it does so above 0.15 MPa already.
  const auto model = [](double p) {
    return TwoAnswers{std::log(0.5e-6) - 0.2 * std::log(p / 0.1), std::log(12e-6),
                      1.0 / (1.0 + std::pow(0.2 / p, 4.0))};
  };
  for (const double p : {0.05, 0.1, 0.14, 0.16, 0.22, 0.3}) {
    const TwoAnswers m = model(p);
    in.trials.push_back({"trial", {p}, (p > 0.15 ? m.ln_fine : m.ln_coarse) + 0.1 * random.normal(), 0.0, "", m, 0.0});
  }
  in.slopes = study::ModelSlopes{{-0.2}, {0.0}};
  const TrialStudy study(in);
  const auto fine = study.probability_fine();
  REQUIRE(fine.size() == 6);
  CHECK(fine[2] < 0.1);
  CHECK(fine[3] > 0.9);
  CHECK(study.predict({0.25}, model(0.25)).median < std::log(1e-6));
  CHECK(study.predict({0.08}, model(0.08)).median > std::log(6e-6));
}

TEST_CASE("trial study: a law that does not hold says so", "[engine][trial_law]") {
  // Every corner of a cube; what is added has the sign of all three settings together, which no power law can follow.
  const auto corners = [](double off) {
    StudyInput in = five_trials();
    in.trials.clear();
    for (int i = 0; i < 8; ++i) {
      const double n = i & 1 ? 12000.0 : 8000.0, p = i & 2 ? 0.2 : 0.1, c = i & 4 ? 20.0 : 15.0;
      const bool odd = ((i & 1) + (i / 2 & 1) + (i / 4 & 1)) % 2 == 1;
      in.trials.push_back({"corner", {n, p, c}, invented(n, p, c) + (odd ? off : -off), 1e-4, "", {}, 0.0});
    }
    return in;
  };
  CHECK(TrialStudy(corners(0.05)).misfit().empty());
  CHECK_FALSE(TrialStudy(corners(1.0)).misfit().empty());
  StudyInput stated = corners(0.2);
  CHECK(TrialStudy(stated).misfit().empty());
  stated.stated_scatter = 0.02;
  CHECK_FALSE(TrialStudy(stated).misfit().empty());
}

TEST_CASE("trial study: settings at zero, plain covariates and no setting at all", "[engine][trial_law]") {
  StudyInput in;
  in.settings = {{"operation.gas_overpressure", "overpressure", false}, {"humidity", "humidity", false}};
  in.trials = {{"a", {0.0, 30.0}, -14.0, 0.0, "", {}, 0.0},
               {"b", {1e5, 30.0}, -14.2, 0.0, "", {}, 0.0},
               {"c", {2e5, 50.0}, -14.5, 0.0, "", {}, 0.0}};
  const TrialStudy study(in);
  CHECK(std::isfinite(study.predict({0.0, 40.0}, {}).mean));
  CHECK(study.predict({3e5, 50.0}, {}).mean < study.predict({0.0, 30.0}, {}).mean);
  StudyInput none;
  none.trials = {{"a", {}, -14.0, 0.0, "", {}, 0.0}, {"b", {}, -14.2, 0.0, "", {}, 0.0}};
  const TrialStudy repeats(none);
  CHECK_THAT(repeats.predict({}, {}).median, WithinAbs(-14.1, 0.05));
}
