// Calibration on a stand-in whose answers are known, and on the real model.
#include <Eigen/Dense>
#include <cmath>
#include <cstdlib>
#include <random>

#include "catch.hpp"
#include "whorl/study/calibrate.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"

using namespace whorl;
using study::Trial;

namespace {

// d = 5 um sqrt(discharge / draw) (speed/1000)^-0.3 (drag factor)^(0.2 ln(speed/1000)): a power law with two factors that only act together,
// and one that speed parts from them.
model::Estimate stand_in(const model::CaseInput& input) {
  model::Estimate e;
  const double speed = input.operation.rotation_speed_rad_s / 1000.0;
  if (input.operation.gas_overpressure_Pa > 4e5) {
    e.status = model::Status::not_converged;
    e.reason = "too much for a stand-in";
    return e;
  }
  e.status = model::Status::done;
  e.fibre_class = model::FibreClass::continuous;
  e.run.dry_diameter_mean_m = 5e-6 * std::sqrt(input.model.discharge_factor / input.model.excess_draw) * std::pow(speed, -0.3) *
                              std::pow(input.model.axial_drag_factor, 0.2 * std::log(speed));
  return e;
}

engine::UncertainInput factor(const char* key, double model::ModelInput::*field, double log_sd) {
  engine::UncertainInput one;
  one.key = key;
  one.kind = engine::UncertainKind::model_form;
  one.spread = {engine::SpreadKind::lognormal, 1.0, log_sd, 1e-3, 1e3};
  one.apply = [field](model::CaseInput& c, double x) { c.model.*field = x; };
  return one;
}

std::vector<Trial> trials(const std::vector<double>& speeds, double log_sd) {
  std::vector<Trial> out;
  for (const double w : speeds) {
    Trial t;
    t.name = "at " + std::to_string(w);
    t.input.operation.rotation_speed_rad_s = w;
    t.log_sd = log_sd;
    t.settings = {w};
    out.push_back(t);
  }
  return out;
}

const std::vector<double> kSpeeds{400.0, 600.0, 900.0, 1300.0, 1800.0, 2500.0};

}  // namespace

TEST_CASE("calibrate: known parameters come back, and the interval is the closed one", "[engine][calibrate][eq:calibration-posterior]") {
  const std::vector<engine::UncertainInput> parameters{factor("model.discharge_factor", &model::ModelInput::discharge_factor, 0.5),
                                                       factor("model.axial_drag_factor", &model::ModelInput::axial_drag_factor, 0.5)};
  auto data = trials(kSpeeds, 0.02);
  for (Trial& t : data) {
    model::CaseInput truth = t.input;
    truth.model.discharge_factor = 1.4;
    truth.model.axial_drag_factor = 0.7;
    t.diameter_m = stand_in(truth).run.dry_diameter_mean_m;
  }
  const auto runner = engine::serial_runner(stand_in);
  const study::Calibration c = study::calibrate(data, parameters, runner);
  REQUIRE(c.converged);
  // ln d is linear in z: the posterior is known in closed form
  Eigen::MatrixXd j(6, 2);
  Eigen::VectorXd r(6);
  for (Eigen::Index i = 0; i < 6; ++i) {
    const double speed = kSpeeds[static_cast<std::size_t>(i)] / 1000.0;
    j(i, 0) = 0.5 * 0.5 / 0.02;
    j(i, 1) = 0.5 * 0.2 * std::log(speed) / 0.02;
    r[i] = (0.5 * std::log(1.4) + 0.2 * std::log(speed) * std::log(0.7)) / 0.02;
  }
  const Eigen::MatrixXd precision = j.transpose() * j + Eigen::MatrixXd::Identity(2, 2);
  const Eigen::VectorXd z = precision.ldlt().solve(j.transpose() * r);
  const Eigen::MatrixXd covariance = precision.inverse();
  for (Eigen::Index k = 0; k < 2; ++k) {
    CHECK_THAT(c.parameters[static_cast<std::size_t>(k)].z, WithinAbs(z[k], 2e-4));
    for (Eigen::Index l = 0; l < 2; ++l) CHECK_THAT(c.covariance(k, l), WithinAbs(covariance(k, l), 1e-5));
  }
  CHECK_THAT(c.parameters[0].value, WithinRel(1.4, 0.02));
  CHECK_THAT(c.parameters[1].value, WithinRel(0.7, 0.1));
  CHECK(c.parameters[0].low < 1.4);
  CHECK(c.parameters[0].high > 1.4);
  CHECK(c.confounded.empty());
  CHECK(c.widened == 1.0);
  // exact data, and a power law in the speed is the truth: both predict
  CHECK(c.calibrated.left_out < 0.02);
  CHECK(c.regression.left_out < 1e-9);
  CHECK(c.uncalibrated.left_out > 0.1);
}

TEST_CASE("calibrate: says when the data cannot tell two parameters apart", "[engine][calibrate]") {
  const std::vector<engine::UncertainInput> parameters{factor("model.discharge_factor", &model::ModelInput::discharge_factor, 0.4),
                                                       factor("model.excess_draw", &model::ModelInput::excess_draw, 0.4)};
  auto data = trials(kSpeeds, 0.02);
  for (Trial& t : data) {
    model::CaseInput truth = t.input;
    truth.model.discharge_factor = 2.0;
    t.diameter_m = stand_in(truth).run.dry_diameter_mean_m;
  }
  const study::Calibration c = study::calibrate(data, parameters, engine::serial_runner(stand_in));
  REQUIRE(c.converged);
  REQUIRE(c.confounded.size() == 1);
  CHECK_THAT(c.confounded[0].correlation, WithinAbs(-1.0, 1e-6));
  CHECK(c.information[1] < 1e-3);
  // the ratio is known, each alone is not: even priors share the change
  CHECK_THAT(c.parameters[0].value / c.parameters[1].value, WithinRel(2.0, 0.01));
  CHECK_THAT(c.parameters[0].value * c.parameters[1].value, WithinRel(1.0, 0.01));
  CHECK(c.parameters[0].z_sd > 0.6);
}

TEST_CASE("calibrate: trials without fibre are named, scatter widens, nothing fits nothing", "[engine][calibrate]") {
  const std::vector<engine::UncertainInput> parameters{factor("model.discharge_factor", &model::ModelInput::discharge_factor, 0.5)};
  auto data = trials(kSpeeds, 0.01);
  for (std::size_t i = 0; i < data.size(); ++i) {
    data[i].diameter_m = stand_in(data[i].input).run.dry_diameter_mean_m * (i % 2 == 0 ? 1.1 : 0.9);
  }
  data[3].input.operation.gas_overpressure_Pa = 5e5;
  const auto runner = engine::serial_runner(stand_in);
  const study::Calibration c = study::calibrate(data, parameters, runner);
  REQUIRE(c.converged);
  CHECK(c.used.size() == 5);
  REQUIRE(c.not_used.size() == 1);
  CHECK(c.not_used[0].find("too much for a stand-in") != std::string::npos);
  CHECK(c.widened > 5.0);
  CHECK_FALSE(study::calibrate(data, {}, runner).converged);
  for (Trial& t : data) t.input.operation.gas_overpressure_Pa = 5e5;
  const study::Calibration none = study::calibrate(data, parameters, runner);
  CHECK_FALSE(none.converged);
  CHECK(none.not_used.size() == 6);
}

TEST_CASE("calibrate: 90 % intervals hold the truth in 85 to 95 % of 400 replicates", "[engine][calibrate][eq:calibration-posterior]") {
  const std::vector<engine::UncertainInput> parameters{factor("model.discharge_factor", &model::ModelInput::discharge_factor, 0.4),
                                                       factor("model.axial_drag_factor", &model::ModelInput::axial_drag_factor, 0.4)};
  std::mt19937_64 random(11);
  std::normal_distribution<double> normal;
  study::CalibrateOptions options;
  options.leave_out = false;
  int held[2] = {0, 0};
  for (int replicate = 0; replicate < 400; ++replicate) {
    const double a = std::exp(0.4 * normal(random)), b = std::exp(0.4 * normal(random));
    auto data = trials(kSpeeds, 0.05);
    for (Trial& t : data) {
      model::CaseInput truth = t.input;
      truth.model.discharge_factor = a;
      truth.model.axial_drag_factor = b;
      t.diameter_m = stand_in(truth).run.dry_diameter_mean_m * std::exp(0.05 * normal(random));
    }
    const study::Calibration c = study::calibrate(data, parameters, engine::serial_runner(stand_in), options);
    REQUIRE(c.converged);
    held[0] += c.parameters[0].low <= a && a <= c.parameters[0].high;
    held[1] += c.parameters[1].low <= b && b <= c.parameters[1].high;
  }
  INFO("held: " << held[0] << " and " << held[1] << " of 400");
  for (const int h : held) {
    CHECK(h >= 340);
    CHECK(h <= 380);
  }
}

TEST_CASE("calibrate: the same with the real model", "[engine][calibrate][slow]") {
  // 400 replicates with WHORL_FULL=1 (minutes), else 6 that must converge
  const int replicates = std::getenv("WHORL_FULL") != nullptr ? 400 : 6;
  model::CaseInput base = io::read_case_file(testing::case_path("pvp-ethanol-measured")).input;
  base.model.drying = model::DryingModel::lumped;
  base.numerics.run_points = 2.0;
  const std::vector<engine::UncertainInput> parameters{factor("model.discharge_factor", &model::ModelInput::discharge_factor, 0.3)};
  const auto runner = engine::serial_runner([](const model::CaseInput& input) { return engine::estimate(input, io::built_in_library()); });
  std::mt19937_64 random(12);
  std::normal_distribution<double> normal;
  study::CalibrateOptions options;
  options.leave_out = false;
  int held = 0;
  for (int replicate = 0; replicate < replicates; ++replicate) {
    const double a = std::exp(0.3 * normal(random));
    std::vector<Trial> data;
    std::vector<model::CaseInput> truth;
    for (const double factor_of_speed : {0.8, 1.0, 1.2}) {
      Trial t;
      t.input = base;
      t.input.operation.rotation_speed_rad_s *= factor_of_speed;
      t.settings = {factor_of_speed};
      t.log_sd = 0.05;
      data.push_back(t);
      truth.push_back(t.input);
      truth.back().model.discharge_factor = a;
    }
    const auto estimates = runner(truth);
    for (std::size_t i = 0; i < data.size(); ++i) {
      REQUIRE(estimates[i].run.dry_diameter_mean_m > 0.0);
      data[i].diameter_m = estimates[i].run.dry_diameter_mean_m * std::exp(0.05 * normal(random));
    }
    const study::Calibration c = study::calibrate(data, parameters, runner, options);
    INFO(c.message);
    REQUIRE(c.converged);
    held += c.parameters[0].low <= a && a <= c.parameters[0].high;
  }
  INFO("held " << held << " of " << replicates);
  if (replicates == 400) {
    CHECK(held >= 340);
    CHECK(held <= 380);
  } else {
    CHECK(held >= 3);  // 6 at 90 %: fewer than 3 by chance once in 1,000 runs, and this sequence is fixed
  }
}

TEST_CASE("calibrate: power law", "[engine][calibrate][eq:power-law]") {
  // d = 3 x^-0.5 y^0.25 comes back
  std::vector<std::vector<double>> x;
  std::vector<double> y, w;
  for (const double a : {1.0, 2.0, 4.0}) {
    for (const double b : {1.0, 3.0}) {
      x.push_back({a, b});
      y.push_back(std::log(3.0) - 0.5 * std::log(a) + 0.25 * std::log(b));
      w.push_back(1.0 + a);
    }
  }
  const study::PowerLaw law = study::fit_power_law(x, y, w, study::logarithmic_settings(x));
  const Eigen::VectorXd& c = law.coefficients;
  CHECK_THAT(c[0], WithinRel(std::log(3.0), 1e-12));
  CHECK_THAT(c[1], WithinRel(-0.5, 1e-12));
  CHECK_THAT(c[2], WithinRel(0.25, 1e-12));
  // more coefficients than the settings tell: of least norm, and finite
  const study::PowerLaw two = study::fit_power_law({{2.0, 3.0}, {2.0, 3.0}}, {1.0, 1.0}, {1.0, 1.0}, {true, true});
  CHECK(two.coefficients.allFinite());
  CHECK_THAT(study::power_law(two, {2.0, 3.0}), WithinRel(1.0, 1e-12));
  // a setting that is zero in one trial enters as it is in all of them: d = 2 exp(0.7 p) x^-0.5 comes back
  x = {{1.0, 0.0}, {2.0, 0.1}, {4.0, 0.2}, {3.0, 0.05}};
  y.clear();
  for (const auto& row : x) y.push_back(std::log(2.0) - 0.5 * std::log(row[0]) + 0.7 * row[1]);
  const study::PowerLaw mixed = study::fit_power_law(x, y, {1.0, 1.0, 1.0, 1.0}, study::logarithmic_settings(x));
  CHECK(mixed.logarithmic == std::vector<bool>{true, false});
  CHECK_THAT(mixed.coefficients[1], WithinRel(-0.5, 1e-10));
  CHECK_THAT(mixed.coefficients[2], WithinRel(0.7, 1e-10));
}

TEST_CASE("next trials: as good as the best of all subsets", "[engine][calibrate][eq:next-trials]") {
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  for (int round = 0; round < 20; ++round) {
    Eigen::MatrixXd slopes(8, 2);
    for (Eigen::Index i = 0; i < 8; ++i) {
      for (Eigen::Index j = 0; j < 2; ++j) slopes(i, j) = normal(random);
    }
    const Eigen::MatrixXd precision = Eigen::MatrixXd::Identity(2, 2);
    Eigen::VectorXd target(2);
    target << normal(random), normal(random);
    for (const auto aim : {study::Aim::parameters, study::Aim::setting, study::Aim::region}) {
      // over the region: the mean over all eight candidates
      const Eigen::MatrixXd goal = aim == study::Aim::region ? Eigen::MatrixXd(slopes.transpose() * slopes / 8.0) : Eigen::MatrixXd(target * target.transpose());
      const auto value = [&](const std::vector<std::size_t>& chosen) {
        Eigen::MatrixXd m = precision;
        for (const std::size_t c : chosen) m += slopes.row(static_cast<Eigen::Index>(c)).transpose() * slopes.row(static_cast<Eigen::Index>(c)) / 0.25;
        return aim == study::Aim::parameters ? -std::log(m.determinant()) : double((m.inverse() * goal).trace());
      };
      double best = 1e300;
      for (std::size_t a = 0; a < 8; ++a) {
        for (std::size_t b = a; b < 8; ++b) {
          for (std::size_t c = b; c < 8; ++c) best = std::min(best, value({a, b, c}));
        }
      }
      const double found = value(study::choose_trials(precision, slopes, goal, 3, aim, 0.5));
      // exchange of one at a time may stay in a local best: within 2 % of the range it can change
      CHECK(found <= best + 0.02 * std::abs(best) + 1e-12);
    }
  }
}
