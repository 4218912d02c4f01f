#include "whorl/study/calibrate.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <set>

#include "model/normal.hpp"
#include "solver/least_squares.hpp"

namespace whorl::study {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kFar = 2.5;
constexpr double kConfounded = 0.95;

double at_z(const engine::UncertainInput& parameter, double z) {
  return engine::quantile(parameter.spread, std::clamp(model::normal_below(z), 1e-12, 1.0 - 1e-12));
}

model::CaseInput with(const model::CaseInput& base, const std::vector<engine::UncertainInput>& parameters,
                      const VectorXd& z) {
  model::CaseInput input = base;
  for (std::size_t k = 0; k < parameters.size(); ++k)
    parameters[k].apply(input, at_z(parameters[k], z[static_cast<Index>(k)]));
  return input;
}

// ln of the mean over the run, which a micrograph of the mat shows; nothing where there is no fibre. An answer that is
// not the headline has its first jet or its threads at full settings. Broken lines have a size all the same, which
// fibre that was found there can be held against.
std::optional<double> log_diameter(const model::Estimate& e, HeldAgainst answer) {
  if (e.status != model::Status::done) return {};
  double d = e.run.dry_diameter_mean_m;
  if (answer == HeldAgainst::threads && !e.torn) d = e.as_threads.diameter_m;
  if (answer == HeldAgainst::line) {
    d = e.line_run_mean_m;
    if (!(d > 0.0)) d = e.as_line.diameter_m > 0.0 ? e.as_line.diameter_m : e.line_diameter_m;
  }
  if (!(d > 0.0)) return {};
  return std::log(d);
}

// Classes whose diameter a micrograph shows: drops and what never lands have none.
bool lays_fibre(const model::Estimate& e, HeldAgainst answer) {
  if (answer != HeldAgainst::run_mean) return log_diameter(e, answer).has_value();
  return model::lands_as_fibre(e.fibre_class);
}

// Candidates for a trial: continuous fibre, by the answer that the trials showed.
bool lays_fibre_even(const model::Estimate& e, HeldAgainst answer) {
  const model::FibreClass c = answer == HeldAgainst::threads ? e.as_threads.fibre_class
                              : answer == HeldAgainst::line  ? e.as_line.fibre_class
                                                             : e.fibre_class;
  return c == model::FibreClass::continuous;
}

class Fit {
 public:
  Fit(const std::vector<Trial>& trials, const std::vector<engine::UncertainInput>& parameters,
      const engine::BatchRunner& runner, const CalibrateOptions& options)
      : trials_(trials), parameters_(parameters), runner_(runner), options_(options) {}

  // ln d of the trials at several z, one batch.
  std::vector<std::vector<std::optional<double>>> run(const std::vector<VectorXd>& points) {
    std::vector<model::CaseInput> cases;
    for (const VectorXd& z : points) {
      for (const Trial& t : trials_) cases.push_back(with(t.input, parameters_, z));
    }
    runs += cases.size();
    const std::vector<model::Estimate> estimates = runner_(cases);
    std::vector<std::vector<std::optional<double>>> out(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
      for (std::size_t j = 0; j < trials_.size(); ++j) 
        out[i].push_back(log_diameter(estimates[i * trials_.size() + j], trials_[j].answer));
    }
    return out;
  }

  solver::LeastSquaresFit solve(const VectorXd& start) {
    const auto n = static_cast<Index>(trials_.size());
    const auto p = static_cast<Index>(parameters_.size());
    const auto fill = [&](const std::vector<std::optional<double>>& ln_d, const VectorXd& z, VectorXd& r) {
      for (Index i = 0; i < n; ++i) {
        const auto k = static_cast<std::size_t>(i);
        if (!ln_d[k]) return false;
        r[i] = (*ln_d[k] - std::log(trials_[k].diameter_m)) / trials_[k].log_sd;
      }
      r.tail(p) = z;
      return true;
    };
    const solver::Residuals residuals = [&](const VectorXd& z, VectorXd& r) {
      if (z.lpNorm<Eigen::Infinity>() > 6.0) return false;  // beyond any distribution
      last_z_ = z;
      last_ = run({z}).front();
      return fill(last_, z, r);
    };
    const solver::ResidualJacobian jacobian = [&](const VectorXd& z, MatrixXd& j) {
      std::vector<VectorXd> points;
      for (Index k = 0; k < p; ++k) {
        for (const double side : {1.0, -1.0}) {
          points.push_back(z);
          points.back()[k] += side * options_.difference;
        }
      }
      const bool known = last_z_.size() == p && last_z_ == z;
      if (!known) points.push_back(z);
      auto ln_d = run(points);
      if (known) ln_d.push_back(last_);
      j.setZero(n + p, p);
      for (Index k = 0; k < p; ++k) {
        for (Index i = 0; i < n; ++i) {
          const auto t = static_cast<std::size_t>(i);
          const auto up = ln_d[static_cast<std::size_t>(2 * k)][t], down = ln_d[static_cast<std::size_t>(2 * k + 1)][t],
                     here = ln_d.back()[t];
          double slope = 0.0;
          if (up && down) {
            slope = (*up - *down) / (2.0 * options_.difference);
          } else if (here && (up || down)) {
            slope = (up ? *up - *here : *here - *down) / options_.difference;
          } else {
            return false;
          }
          j(i, k) = slope / trials_[t].log_sd;
        }
        j(n + k, k) = 1.0;
      }
      return true;
    };
    solver::LeastSquaresOptions o;
    o.tolerance = options_.tolerance;
    o.first_step = 10.0;
    o.most_evaluations = options_.most_rounds;
    return solver::least_squares(residuals, start, n + p, o, jacobian);
  }

  std::size_t runs{};

 private:
  const std::vector<Trial>& trials_;
  const std::vector<engine::UncertainInput>& parameters_;
  const engine::BatchRunner& runner_;
  const CalibrateOptions& options_;
  VectorXd last_z_;                          // where the residuals were computed last, and ln d there
  std::vector<std::optional<double>> last_;
};

double rms(const std::vector<double>& x) {
  double sum = 0.0;
  for (const double v : x) sum += v * v;
  return x.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(x.size()));
}

// Trials at one setting are left out together.
std::vector<std::vector<std::size_t>> groups_of(const std::vector<Trial>& trials) {
  std::vector<std::vector<std::size_t>> groups;
  for (std::size_t i = 0; i < trials.size(); ++i) {
    const auto same = std::find_if(groups.begin(), groups.end(),
                                   [&](const auto& g) { return trials[g.front()].settings == trials[i].settings; });
    if (same == groups.end()) {
      groups.push_back({i});
    } else {
      same->push_back(i);
    }
  }
  return groups;
}

void regress(Calibration& out, const std::vector<Trial>& trials, const std::vector<std::vector<std::size_t>>& groups) {
  Prediction& r = out.regression;
  if (trials.empty() || trials.front().settings.empty()) {
    r.reason = "no setting varies";
    return;
  }
  if (groups.size() < 3) {
    r.reason = "fewer than three settings";
    return;
  }
  std::vector<std::vector<double>> every;
  for (const Trial& t : trials) every.push_back(t.settings);
  const std::vector<bool> logarithmic = logarithmic_settings(every);
  const auto predict = [&](const std::vector<std::size_t>& from, const std::vector<std::size_t>& at) {
    std::vector<std::vector<double>> x;
    std::vector<double> y, w;
    for (const std::size_t i : from) {
      x.push_back(trials[i].settings);
      y.push_back(std::log(trials[i].diameter_m));
      w.push_back(1.0 / trials[i].log_sd);
    }
    const PowerLaw c = fit_power_law(x, y, w, logarithmic);
    std::vector<double> off;
    for (const std::size_t i : at) off.push_back(std::log(trials[i].diameter_m) - power_law(c, trials[i].settings));
    return off;
  };
  std::vector<std::size_t> all(trials.size());
  for (std::size_t i = 0; i < all.size(); ++i) all[i] = i;
  r.made = true;
  r.fitted = rms(predict(all, all));
  std::vector<double> left;
  for (const auto& group : groups) {
    std::vector<std::size_t> rest;
    for (const std::size_t i : all) {
      if (std::find(group.begin(), group.end(), i) == group.end()) rest.push_back(i);
    }
    const auto off = predict(rest, group);
    left.insert(left.end(), off.begin(), off.end());
  }
  r.left_out = rms(left);
}

// ln(measured/predicted) of every trial with its setting left out: one Gauss-Newton step from the fit of all, where the
// derivatives are known. Exact for a linear model; the intervals rest on the same linearity, and no model runs are
// spent.
std::vector<double> left_out(const solver::LeastSquaresFit& best, const std::vector<std::vector<std::size_t>>& groups,
                             const std::vector<Trial>& trials) {
  const auto n = static_cast<Index>(trials.size());
  const Index p = best.jacobian.cols();
  std::vector<double> out;
  for (const auto& group : groups) {
    MatrixXd rest = best.jacobian.topRows(n);
    VectorXd residual = best.residual.head(n);
    for (const std::size_t i : group) {
      rest.row(static_cast<Index>(i)).setZero();
      residual[static_cast<Index>(i)] = 0.0;
    }
    const MatrixXd precision = rest.transpose() * rest + MatrixXd::Identity(p, p);
    const VectorXd step = -precision.ldlt().solve(rest.transpose() * residual + best.x);
    for (const std::size_t i : group) {
      const auto row = static_cast<Index>(i);
      out.push_back(-(best.residual[row] + best.jacobian.row(row).dot(step)) * trials[i].log_sd);
    }
  }
  return out;
}

}  // namespace

Calibration calibrate(const std::vector<Trial>& all, const std::vector<engine::UncertainInput>& parameters,
                      const engine::BatchRunner& runner, const CalibrateOptions& options) {
  Calibration out;
  const auto p = static_cast<Index>(parameters.size());
  const VectorXd zero = VectorXd::Zero(p);
  if (p == 0) {
    out.message = "no parameter to fit";
    return out;
  }
  // Which trials does the model know as fibre before anything is fitted?
  std::vector<Trial> trials;
  {
    std::vector<model::CaseInput> cases;
    for (const Trial& t : all) cases.push_back(with(t.input, parameters, zero));
    for (const Trial& t : all) cases.push_back(t.input);  // as the case stands
    const std::vector<model::Estimate> first = runner(cases);
    out.model_runs += cases.size();
    for (std::size_t i = 0; i < all.size(); ++i) {
      const auto as_stated = log_diameter(first[all.size() + i], all[i].answer);
      const bool known = log_diameter(first[i], all[i].answer).has_value();
      if (known && as_stated && lays_fibre(first[i], all[i].answer)) {
        trials.push_back(all[i]);
        out.before_m.push_back(std::exp(*as_stated));
        out.used.push_back(all[i].name);
        out.measured_m.push_back(all[i].diameter_m);
        out.log_sd.push_back(all[i].log_sd);
      } else {
        const model::Estimate& e = first[as_stated || !known ? i : all.size() + i];
        out.not_used.push_back(all[i].name + ": the model gives no fibre there (" +
                               (e.status == model::Status::done ? model::to_string(e.fibre_class) : e.reason) + ")");
      }
    }
  }
  if (trials.empty()) {
    out.message = "the model gives no fibre at any of the trials";
    return out;
  }
  Fit fit(trials, parameters, runner, options);
  const solver::LeastSquaresFit best = fit.solve(zero);
  out.model_runs += fit.runs;
  out.converged = best.converged;
  out.message = best.message;
  if (!best.converged) return out;

  const auto n = static_cast<Index>(trials.size());
  out.chi_square = best.residual.head(n).squaredNorm();
  const double freedom = std::max(1.0, static_cast<double>(n) - static_cast<double>(p));
  out.widened = n > p ? std::max(1.0, std::sqrt(out.chi_square / freedom)) : 1.0;
  const MatrixXd data = best.jacobian.topRows(n) / out.widened;
  const MatrixXd precision = data.transpose() * data + MatrixXd::Identity(p, p);
  out.covariance = precision.ldlt().solve(MatrixXd::Identity(p, p));
  const VectorXd singular = data.jacobiSvd().singularValues();
  for (Index k = 0; k < p; ++k) out.information.push_back(k < singular.size() ? singular[k] : 0.0);
  for (Index k = 0; k < p; ++k) {
    const auto i = static_cast<std::size_t>(k);
    FittedParameter f;
    f.key = parameters[i].key;
    f.kind = parameters[i].kind;
    f.z = best.x[k];
    f.z_sd = std::sqrt(out.covariance(k, k));
    f.prior = at_z(parameters[i], 0.0);
    f.prior_low = at_z(parameters[i], -model::kNormal95);
    f.prior_high = at_z(parameters[i], model::kNormal95);
    f.value = at_z(parameters[i], f.z);
    f.low = at_z(parameters[i], f.z - model::kNormal95 * f.z_sd);
    f.high = at_z(parameters[i], f.z + model::kNormal95 * f.z_sd);
    f.at_limit = std::abs(f.z) > kFar;
    out.parameters.push_back(f);
  }
  for (Index a = 0; a < p; ++a) {
    for (Index b = a + 1; b < p; ++b) {
      // of what the data say; the prior is independent and would hide it
      const MatrixXd j = data;
      const double size = j.col(a).norm() * j.col(b).norm();
      const double alike = size > 0.0 ? j.col(a).dot(j.col(b)) / size : 0.0;
      if (std::abs(alike) > kConfounded)
        out.confounded.push_back({static_cast<std::size_t>(a), static_cast<std::size_t>(b), alike});
    }
  }
  std::vector<double> before, after;
  for (Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    out.after_m.push_back(trials[k].diameter_m * std::exp(best.residual[i] * trials[k].log_sd));
    before.push_back(std::log(trials[k].diameter_m / out.before_m[k]));
    after.push_back(best.residual[i] * trials[k].log_sd);
  }
  out.uncalibrated = {true, "", rms(before), rms(before)};
  out.calibrated = {true, "", rms(after), 0.0};

  const auto groups = groups_of(trials);
  regress(out, trials, groups);
  if (!options.leave_out || groups.size() < 2) {
    out.calibrated.reason = groups.size() < 2 ? "one setting only" : "not asked for";
    out.calibrated.made = false;
    return out;
  }
  out.calibrated.left_out = rms(left_out(best, groups, trials));
  return out;
}

namespace {

constexpr double kAsGood = 1e-3;  ///< relative, of a standard deviation: nobody measures the difference

// What an aim makes small, given the information that there is; smaller is better.
double aim_value(const MatrixXd& precision, const MatrixXd& goal, Aim aim) {
  const Eigen::LDLT<MatrixXd> solved(precision);
  if (aim == Aim::parameters) return -solved.vectorD().array().log().sum();
  return solved.solve(goal).trace();
}

// The same as a standard deviation.
double aim_sd(const MatrixXd& precision, const MatrixXd& goal, Aim aim) {
  const double value = aim_value(precision, goal, aim);
  return aim == Aim::parameters ? std::exp(0.5 * value / static_cast<double>(precision.rows()))
                                : std::sqrt(std::max(0.0, value));
}

MatrixXd with_trial(const MatrixXd& precision, const MatrixXd& slopes, std::size_t candidate, double log_sd,
                    double sign = 1.0) {
  const auto row = slopes.row(static_cast<Index>(candidate));
  return precision + sign / (log_sd * log_sd) * row.transpose() * row;
}

}  // namespace

std::vector<std::size_t> choose_trials(const MatrixXd& precision, const MatrixXd& slopes, const MatrixXd& goal,
                                       std::size_t count, Aim aim, double log_sd) {
  const auto candidates = static_cast<std::size_t>(slopes.rows());
  const auto value = [&](const MatrixXd& m) { return aim_value(m, goal, aim); };
  const auto plus = [&](const MatrixXd& m, std::size_t c, double sign) {
    return with_trial(m, slopes, c, log_sd, sign);
  };
  const auto exchange = [&](std::vector<std::size_t>& some, MatrixXd& information) {
    for (int pass = 0; pass < 20; ++pass) {
      bool better = false;
      for (std::size_t& one : some) {
        const MatrixXd without = plus(information, one, -1.0);
        double least = value(information) - 1e-12 * (1.0 + std::abs(value(information)));
        std::optional<std::size_t> best;
        for (std::size_t c = 0; c < candidates; ++c) {
          const double v = value(plus(without, c, 1.0));
          if (v < least) {
            least = v;
            best = c;
          }
        }
        if (!best) continue;
        one = *best;
        information = plus(without, one, 1.0);
        better = true;
      }
      if (!better) break;
    }
  };
  std::vector<std::size_t> chosen;
  MatrixXd now = precision;
  for (std::size_t k = 0; k < count; ++k) {
    std::size_t best = 0;
    double least = 1e300;
    for (std::size_t c = 0; c < candidates; ++c) {
      const double v = value(plus(now, c, 1.0));
      if (v < least) {
        least = v;
        best = c;
      }
    }
    chosen.push_back(best);
    now = plus(now, best, 1.0);
  }
  exchange(chosen, now);
  // one exchange at a time may stay in a local best: other starts, each a repeated candidate
  const std::size_t stride = std::max<std::size_t>(1, candidates / 40);
  for (std::size_t first = 0; first < candidates; first += stride) {
    std::vector<std::size_t> other(count, first);
    MatrixXd information = precision;
    for (std::size_t k = 0; k < count; ++k) information = plus(information, first, 1.0);
    exchange(other, information);
    if (value(information) < value(now) - 1e-9 * std::abs(value(now))) {
      now = information;
      chosen = other;
    }
  }
  return chosen;
}

namespace {

// What is to be known over all candidates, or where the wanted diameter ends. False: none of them is near it.
bool weigh(const Calibration& calibration, const NextTrialsOptions& options, const std::vector<VectorXd>& slopes,
           const std::vector<double>& expected, MatrixXd& goal) {
  double sum = 0.0;
  for (std::size_t i = 0; i < slopes.size(); ++i) {
    double weight = 1.0;
    if (options.aim == Aim::window) {
      weight = 0.0;
      const double variance = slopes[i].dot(calibration.covariance * slopes[i]) + options.log_sd * options.log_sd;
      for (const auto& limit : {options.limits.least_m, options.limits.most_m}) {
        if (limit)
          weight += std::exp(-0.5 * std::pow(expected[i] - std::log(*limit), 2) / variance) / std::sqrt(variance);
      }
    }
    goal += weight * slopes[i] * slopes[i].transpose();
    sum += weight;
  }
  if (!(sum > 1e-6 * static_cast<double>(slopes.size()))) return false;
  goal /= sum;
  return true;
}

}  // namespace

namespace {

// The parameters as fitted, and each moved up and down.
std::vector<VectorXd> moved_points(const Calibration& calibration, double difference) {
  const auto p = static_cast<Index>(calibration.parameters.size());
  VectorXd z(p);
  for (Index k = 0; k < p; ++k) z[k] = calibration.parameters[static_cast<std::size_t>(k)].z;
  std::vector<VectorXd> points{z};
  for (Index k = 0; k < p; ++k) {
    for (const double side : {1.0, -1.0}) {
      points.push_back(z);
      points.back()[k] += side * difference;
    }
  }
  return points;
}

}  // namespace

NextTrials next_trials(const Calibration& calibration, const std::vector<engine::UncertainInput>& parameters,
                       const model::CaseInput& target, const std::vector<model::CaseInput>& candidates,
                       const NextTrialsOptions& options, const engine::BatchRunner& runner) {
  NextTrials out;
  const Aim aim = options.aim;
  if (aim == Aim::window && !options.limits.least_m && !options.limits.most_m) {
    out.message = "no diameter is wanted";
    return out;
  }
  const auto p = static_cast<Index>(parameters.size());
  const std::vector<VectorXd> points = moved_points(calibration, options.difference);
  std::vector<model::CaseInput> settings = candidates;
  settings.push_back(target);
  std::vector<model::CaseInput> cases;
  for (const auto& setting : settings) {
    for (const VectorXd& at : points) cases.push_back(with(setting, parameters, at));
  }
  const auto estimates = runner(cases);
  out.model_runs = cases.size();
  std::vector<VectorXd> slopes;
  std::vector<std::size_t> which;
  std::vector<double> expected;  // ln d
  MatrixXd goal = MatrixXd::Zero(p, p);
  for (std::size_t s = 0; s < settings.size(); ++s) {
    const std::size_t first = s * points.size();
    const bool is_target = s + 1 == settings.size();
    const auto here = log_diameter(estimates[first], options.answer);
    VectorXd slope(p);
    bool good = here.has_value() && (is_target || lays_fibre_even(estimates[first], options.answer));
    for (Index k = 0; k < p && good; ++k) {
      const auto up = log_diameter(estimates[first + 1 + 2 * static_cast<std::size_t>(k)], options.answer);
      const auto down = log_diameter(estimates[first + 2 + 2 * static_cast<std::size_t>(k)], options.answer);
      good = up && down;
      if (good) slope[k] = (*up - *down) / (2.0 * options.difference);
    }
    if (!good) {
      if (is_target && aim == Aim::setting) {
        out.message = "the model gives no fibre at the case's own setting: aim at the parameters instead";
        return out;
      }
      continue;
    }
    if (is_target) {
      if (aim == Aim::setting) goal = slope * slope.transpose();
    } else {
      slopes.push_back(slope);
      which.push_back(s);
      expected.push_back(*here);
    }
  }
  out.feasible = slopes.size();
  if (slopes.empty()) {
    out.message = "no candidate gives continuous fibre";
    return out;
  }
  if ((aim == Aim::region || aim == Aim::window) && !weigh(calibration, options, slopes, expected, goal)) {
    out.message = "the wanted diameter is far from that of every candidate: its limits are not in doubt there";
    return out;
  }
  MatrixXd rows(static_cast<Index>(slopes.size()), p);
  for (std::size_t i = 0; i < slopes.size(); ++i) rows.row(static_cast<Index>(i)) = slopes[i].transpose();
  const MatrixXd precision = calibration.covariance.ldlt().solve(MatrixXd::Identity(p, p));
  auto chosen = choose_trials(precision, rows, goal, options.count, aim, options.log_sd);
  MatrixXd all = precision;
  for (const std::size_t c : chosen) all = with_trial(all, rows, c, options.log_sd);
  const double before = aim_sd(precision, goal, aim);
  const double after = aim_sd(all, goal, aim);
  // Of several that tell as much, the one whose diameter is farthest from what was measured or is going to be: it also
  // tests the model.
  std::vector<double> seen;
  for (const double d : calibration.measured_m) seen.push_back(std::log(d));
  const auto apart = [&](std::size_t c) {
    double least = 1e300;
    for (const double d : seen) least = std::min(least, std::abs(expected[c] - d));
    return least;
  };
  MatrixXd now = precision;
  for (std::size_t& c : chosen) {
    const MatrixXd without = with_trial(all, rows, c, options.log_sd, -1.0);
    std::vector<std::size_t> alike{c};
    for (std::size_t other = 0; other < slopes.size(); ++other) {
      if (other != c && aim_sd(with_trial(without, rows, other, options.log_sd), goal, aim) <= after * (1.0 + kAsGood))
        alike.push_back(other);
    }
    c = *std::max_element(alike.begin(), alike.end(),
                          [&](std::size_t a, std::size_t b) { return apart(a) < apart(b); });
    all = with_trial(without, rows, c, options.log_sd);
    now = with_trial(now, rows, c, options.log_sd);
    seen.push_back(expected[c]);
    out.trials.push_back(
        {which[c], std::exp(expected[c]), before > 0.0 ? aim_sd(now, goal, aim) / before : 1.0, alike.size() - 1});
  }
  return out;
}

}  // namespace whorl::study
