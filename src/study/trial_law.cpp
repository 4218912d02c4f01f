#include "whorl/study/trial_law.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "model/normal.hpp"

namespace whorl::study {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kLogTwoPi = 1.8378770664093453;
constexpr double kRootTwoPi = 2.5066282746310002;
constexpr std::size_t kMostTrials = 300;
constexpr std::size_t kFewestForRemainder = 2;  // one trial alone tells no departure from a power law
constexpr double kNegligible = 1e-13;  // weight below which a cell of the grid is not carried further
constexpr int kScatterSteps = 7;
constexpr double kScatterReach = 2.2;  // standard deviations of ln(scatter) to each side

double phi(double z) { return model::normal_below(std::clamp(z, -37.0, 37.0)); }

// One cell: one belief at one size of scatter, remainder and shift between batches.
struct Cell {
  std::size_t belief{};
  double scatter{}, remainder{}, batch{};
  double weight{};   // after the trials
  MatrixXd inverse;  // of the covariance of the measured ln d
  VectorXd alpha;    // inverse * (measured - expected)
};

// A normal part of a mixture.
struct Part {
  double weight{}, mean{}, variance{};
};

// Safeguarded Newton on the distribution function.
double mixture_quantile(const std::vector<Part>& parts, double p) {
  double low = 1e300, high = -1e300, mean = 0.0;
  for (const Part& part : parts) {
    const double reach = 9.0 * std::sqrt(part.variance) + 1e-12;
    low = std::min(low, part.mean - reach);
    high = std::max(high, part.mean + reach);
    mean += part.weight * part.mean;
  }
  double x = mean;
  for (int round = 0; round < 60 && high - low > 1e-9; ++round) {
    double below = 0.0, density = 0.0;
    for (const Part& part : parts) {
      if (part.weight < 1e-8) continue;
      const double sd = std::max(std::sqrt(part.variance), 1e-9);
      const double z = (x - part.mean) / sd;
      below += part.weight * phi(z);
      density += part.weight * std::exp(-0.5 * z * z) / (sd * kRootTwoPi);
    }
    (below < p ? low : high) = x;
    const double step = density > 0.0 ? (p - below) / density : 0.0;
    const bool inside = density > 0.0 && x + step > low && x + step < high;
    if (inside && std::abs(step) < 1e-9) break;
    x = inside ? x + step : 0.5 * (low + high);
  }
  return x;
}

// Weights of logarithms of probabilities, and the logarithm of their sum.
double normalise(std::vector<double>& log_weight) {
  const double most = *std::max_element(log_weight.begin(), log_weight.end());
  double sum = 0.0;
  for (double& w : log_weight) sum += (w = std::exp(w - most));
  for (double& w : log_weight) w /= sum;
  return most + std::log(sum);
}

}  // namespace

struct TrialLaw::Inside {
  std::vector<LawTrial> trials;
  std::vector<LawBelief> beliefs;
  LawScatter scatter;
  std::vector<Cell> cells;
  double log_evidence{};

  [[nodiscard]] double linear(const LawBelief& belief, const std::vector<double>& a,
                              const std::vector<double>& b) const {
    double sum = 0.0;
    for (std::size_t k = 0; k < a.size(); ++k) sum += belief.exponent_sd[k] * belief.exponent_sd[k] * a[k] * b[k];
    return sum;
  }
  [[nodiscard]] double smooth(const std::vector<double>& a, const std::vector<double>& b) const {
    double sum = 0.0;
    for (std::size_t k = 0; k < a.size(); ++k) sum += (a[k] - b[k]) * (a[k] - b[k]);
    return std::exp(-0.5 * sum / (scatter.remainder_length * scatter.remainder_length));
  }
  // Covariance of the law at two settings.
  [[nodiscard]] double covariance(const Cell& cell, const std::vector<double>& a, int level_a, int batch_a,
                                  const std::vector<double>& b, int level_b, int batch_b) const {
    const LawBelief& belief = beliefs[cell.belief];
    double sum = linear(belief, a, b);
    if (level_a == level_b) sum += belief.level_sd * belief.level_sd;
    if (cell.remainder > 0.0) sum += cell.remainder * cell.remainder * smooth(a, b);
    if (batch_a >= 0 && batch_a == batch_b) sum += cell.batch * cell.batch;
    return sum;
  }
  void check() const;
  void fill();
  bool solve(Cell& cell, double& log_likelihood) const;
  [[nodiscard]] std::vector<Part> parts(const LawTarget& target, bool with_scatter) const;
};

void TrialLaw::Inside::check() const {
  if (beliefs.empty() || trials.size() > kMostTrials)
    throw std::invalid_argument("trial law: no belief, or too many trials");
  const std::size_t k = beliefs.front().exponent_sd.size();
  for (const LawTrial& t : trials) {
    if (t.x.size() != k) throw std::invalid_argument("trial law: coordinates");
  }
  for (const LawBelief& b : beliefs) {
    if (b.exponent_sd.size() != k || b.expected.size() != trials.size() || b.level.size() != trials.size())
      throw std::invalid_argument("trial law: a belief of another size");
  }
}

bool TrialLaw::Inside::solve(Cell& cell, double& log_likelihood) const {
  const auto n = static_cast<Index>(trials.size());
  if (n == 0) {
    log_likelihood = 0.0;
    return true;
  }
  const LawBelief& belief = beliefs[cell.belief];
  MatrixXd k(n, n);
  VectorXd r(n);
  for (Index i = 0; i < n; ++i) {
    const auto a = static_cast<std::size_t>(i);
    r[i] = trials[a].ln_diameter - belief.expected[a];
    for (Index j = 0; j <= i; ++j) {
      const auto b = static_cast<std::size_t>(j);
      k(i, j) = k(j, i) = covariance(cell, trials[a].x, belief.level[a], trials[a].batch, trials[b].x, belief.level[b],
                                     trials[b].batch);
    }
    k(i, i) += cell.scatter * cell.scatter + trials[a].variance;
  }
  const Eigen::LLT<MatrixXd> factor(k);
  if (factor.info() != Eigen::Success) return false;
  cell.inverse = factor.solve(MatrixXd::Identity(n, n));
  cell.alpha = cell.inverse * r;
  double log_determinant = 0.0;
  for (Index i = 0; i < n; ++i) log_determinant += 2.0 * std::log(factor.matrixLLT()(i, i));
  log_likelihood = -0.5 * (r.dot(cell.alpha) + log_determinant + static_cast<double>(n) * kLogTwoPi);
  return true;
}

void TrialLaw::Inside::fill() {
  const bool batches = std::any_of(trials.begin(), trials.end(), [](const LawTrial& t) { return t.batch >= 0; });
  // From a handful of trials a remainder can hardly be told from scatter, but it says that each of them may stand apart
  // from the law: the beliefs about exponents give way more slowly, and intervals are wider.
  const bool varies = !beliefs.front().exponent_sd.empty() && trials.size() >= kFewestForRemainder;
  const std::vector<double> shifts = batches ? scatter.batch : std::vector<double>{0.0};
  std::vector<double> log_weight;
  std::vector<Cell> every;
  double belief_sum = 0.0;
  for (const LawBelief& b : beliefs) belief_sum += b.weight;
  double step_sum = 0.0, remainder_sum = 0.0;
  for (int s = 0; s < kScatterSteps; ++s) {
    const double z = kScatterReach * (2.0 * s / (kScatterSteps - 1) - 1.0);
    step_sum += std::exp(-0.5 * z * z);
  }
  for (const double w : scatter.remainder_weight) remainder_sum += w;
  for (std::size_t b = 0; b < beliefs.size(); ++b) {
    if (!(beliefs[b].weight > 0.0)) continue;
    for (int s = 0; s < kScatterSteps; ++s) {
      const double z = kScatterReach * (2.0 * s / (kScatterSteps - 1) - 1.0);
      for (std::size_t m = 0; m < scatter.remainder.size(); ++m) {
        if (!varies && m > 0) break;
        for (const double shift : shifts) {
          Cell cell{b, scatter.median * std::exp(scatter.log_sd * z), scatter.remainder[m], shift, 0.0, {}, {}};
          double log_likelihood = 0.0;
          if (!solve(cell, log_likelihood)) continue;
          const double share = varies ? scatter.remainder_weight[m] / remainder_sum : 1.0;
          const double before = beliefs[b].weight / belief_sum * std::exp(-0.5 * z * z) / step_sum * share /
                                static_cast<double>(shifts.size());
          log_weight.push_back(std::log(before) + log_likelihood);
          every.push_back(std::move(cell));
        }
      }
    }
  }
  if (every.empty()) throw std::invalid_argument("trial law: trials that no belief can hold");
  log_evidence = normalise(log_weight);
  double kept = 0.0;
  for (std::size_t i = 0; i < every.size(); ++i) kept += log_weight[i] > kNegligible ? log_weight[i] : 0.0;
  for (std::size_t i = 0; i < every.size(); ++i) {
    if (!(log_weight[i] > kNegligible)) continue;
    every[i].weight = log_weight[i] / kept;
    cells.push_back(std::move(every[i]));
  }
}

std::vector<Part> TrialLaw::Inside::parts(const LawTarget& target, bool with_scatter) const {
  const auto n = static_cast<Index>(trials.size());
  std::vector<Part> out;
  VectorXd c(n);
  for (const Cell& cell : cells) {
    const LawBelief& belief = beliefs[cell.belief];
    for (const LawBranch& branch : target.branches[cell.belief]) {
      if (!(branch.share > 0.0)) continue;
      for (Index i = 0; i < n; ++i) {
        const auto a = static_cast<std::size_t>(i);
        c[i] = covariance(cell, target.x, branch.level, target.batch, trials[a].x, belief.level[a], trials[a].batch);
      }
      double variance =
          linear(belief, target.x, target.x) + belief.level_sd * belief.level_sd + cell.remainder * cell.remainder;
      variance += cell.batch * cell.batch - c.dot(cell.inverse * c);
      variance = std::max(variance, 0.0) + target.variance + (with_scatter ? cell.scatter * cell.scatter : 0.0);
      out.push_back({cell.weight * branch.share, branch.expected + c.dot(cell.alpha), variance});
    }
  }
  return out;
}

TrialLaw::TrialLaw(std::vector<LawTrial> trials, std::vector<LawBelief> beliefs, const LawScatter& scatter)
    : inside_(std::make_unique<Inside>()) {
  inside_->trials = std::move(trials);
  inside_->beliefs = std::move(beliefs);
  inside_->scatter = scatter;
  inside_->check();
  inside_->fill();
}
TrialLaw::~TrialLaw() = default;
TrialLaw::TrialLaw(TrialLaw&&) noexcept = default;
TrialLaw& TrialLaw::operator=(TrialLaw&&) noexcept = default;

double TrialLaw::log_evidence() const { return inside_->log_evidence; }

std::vector<double> TrialLaw::belief_weights() const {
  std::vector<double> out(inside_->beliefs.size());
  for (const Cell& cell : inside_->cells) out[cell.belief] += cell.weight;
  return out;
}

LawPrediction TrialLaw::predict(const LawTarget& target) const {
  if (target.branches.size() != inside_->beliefs.size())
    throw std::invalid_argument("trial law: branches of another number of beliefs");
  LawPrediction out;
  const auto moments = [](const std::vector<Part>& parts, double& mean, double& sd) {
    mean = 0.0;
    for (const Part& p : parts) mean += p.weight * p.mean;
    double variance = 0.0;
    for (const Part& p : parts) variance += p.weight * (p.variance + (p.mean - mean) * (p.mean - mean));
    sd = std::sqrt(variance);
  };
  const std::vector<Part> law = inside_->parts(target, false), trial = inside_->parts(target, true);
  moments(law, out.mean, out.law_sd);
  moments(trial, out.mean, out.sd);
  out.median = mixture_quantile(law, 0.5);
  out.low = mixture_quantile(trial, 0.05);
  out.high = mixture_quantile(trial, 0.95);
  out.law_low = mixture_quantile(law, 0.05);
  out.law_high = mixture_quantile(law, 0.95);
  return out;
}

LawExponents TrialLaw::exponents() const {
  const Inside& in = *inside_;
  const auto n = static_cast<Index>(in.trials.size());
  const std::size_t count = in.beliefs.front().exponent_sd.size();
  const auto p = static_cast<Index>(count);
  MatrixXd x(n, p);
  for (Index i = 0; i < n; ++i) {
    for (Index k = 0; k < p; ++k) x(i, k) = in.trials[static_cast<std::size_t>(i)].x[static_cast<std::size_t>(k)];
  }
  VectorXd mean = VectorXd::Zero(p);
  MatrixXd second = MatrixXd::Zero(p, p);
  for (const Cell& cell : in.cells) {
    const LawBelief& belief = in.beliefs[cell.belief];
    VectorXd prior(p), variance(p);
    for (Index k = 0; k < p; ++k) {
      const auto i = static_cast<std::size_t>(k);
      prior[k] = belief.exponent[i];
      variance[k] = belief.exponent_sd[i] * belief.exponent_sd[i];
    }
    const MatrixXd dx = variance.asDiagonal() * x.transpose();
    const VectorXd here = prior + dx * cell.alpha;
    MatrixXd covariance = -dx * cell.inverse * dx.transpose();
    covariance.diagonal() += variance;
    mean += cell.weight * here;
    second += cell.weight * (covariance + here * here.transpose());
  }
  second -= mean * mean.transpose();
  LawExponents out;
  for (Index k = 0; k < p; ++k) {
    out.mean.push_back(mean[k]);
    out.sd.push_back(std::sqrt(std::max(second(k, k), 0.0)));
    out.covariance.emplace_back();
    for (Index j = 0; j < p; ++j) out.covariance.back().push_back(second(k, j));
  }
  return out;
}

double TrialLaw::scatter() const {
  double sum = 0.0;
  for (const Cell& cell : inside_->cells) sum += cell.weight * cell.scatter * cell.scatter;
  return std::sqrt(sum);
}

double TrialLaw::remainder() const {
  double sum = 0.0;
  for (const Cell& cell : inside_->cells) sum += cell.weight * cell.remainder * cell.remainder;
  return std::sqrt(sum);
}

std::vector<LeftOut> TrialLaw::left_out() const {
  const Inside& in = *inside_;
  std::vector<LeftOut> out(in.trials.size());
  std::vector<bool> done(in.trials.size());
  for (std::size_t first = 0; first < in.trials.size(); ++first) {
    if (done[first]) continue;
    std::vector<Index> group;
    for (std::size_t i = first; i < in.trials.size(); ++i) {
      if (in.trials[i].x != in.trials[first].x) continue;
      group.push_back(static_cast<Index>(i));
      done[i] = true;
    }
    const auto g = static_cast<Index>(group.size());
    // Given a cell, the trials left out are normal with covariance (inverse_GG)^-1 about measured - covariance alpha_G;
    // a cell that took its weight from them gives it back.
    std::vector<double> log_weight;
    std::vector<VectorXd> means;
    std::vector<MatrixXd> covariances;
    for (const Cell& cell : in.cells) {
      MatrixXd precision(g, g);
      VectorXd alpha(g), measured(g);
      for (Index i = 0; i < g; ++i) {
        const auto a = group[static_cast<std::size_t>(i)];
        alpha[i] = cell.alpha[a];
        measured[i] = in.trials[static_cast<std::size_t>(a)].ln_diameter;
        for (Index j = 0; j < g; ++j) precision(i, j) = cell.inverse(a, group[static_cast<std::size_t>(j)]);
      }
      const Eigen::LLT<MatrixXd> factor(precision);
      covariances.emplace_back(factor.solve(MatrixXd::Identity(g, g)));
      const VectorXd off = covariances.back() * alpha;
      means.emplace_back(measured - off);
      double log_determinant = 0.0;
      for (Index i = 0; i < g; ++i) log_determinant -= 2.0 * std::log(factor.matrixLLT()(i, i));
      const double log_density = -0.5 * (alpha.dot(off) + log_determinant + static_cast<double>(g) * kLogTwoPi);
      log_weight.push_back(std::log(cell.weight) - log_density);
    }
    normalise(log_weight);
    for (Index i = 0; i < g; ++i) {
      const auto a = static_cast<std::size_t>(group[static_cast<std::size_t>(i)]);
      double mean = 0.0, second = 0.0, density = 0.0;
      for (std::size_t c = 0; c < log_weight.size(); ++c) {
        const double m = means[c][i], v = covariances[c](i, i), off = in.trials[a].ln_diameter - m;
        mean += log_weight[c] * m;
        second += log_weight[c] * (v + m * m);
        density += log_weight[c] * std::exp(-0.5 * off * off / v) / (kRootTwoPi * std::sqrt(v));
      }
      out[a] = {mean, std::sqrt(std::max(second - mean * mean, 0.0)), std::log(std::max(density, 1e-300))};
    }
  }
  return out;
}

double TrialLaw::narrowing(const LawTarget& target, const std::vector<std::vector<double>>& x) const {
  const Inside& in = *inside_;
  const auto n = static_cast<Index>(in.trials.size());
  const auto more = static_cast<Index>(x.size());
  double before = 0.0, after = 0.0;
  for (const Cell& cell : in.cells) {
    const LawBelief& belief = in.beliefs[cell.belief];
    const auto& branches = target.branches[cell.belief];
    const int level = std::max_element(branches.begin(), branches.end(), [](const LawBranch& a, const LawBranch& b) {
                        return a.share < b.share;
                      })->level;
    const auto with = [&](const std::vector<double>& a, const std::vector<double>& b) {
      return in.covariance(cell, a, level, -1, b, level, -1);
    };
    // Covariance after the trials so far, of the target and the further settings.
    MatrixXd c(n, more + 1);
    MatrixXd now(more + 1, more + 1);
    for (Index j = 0; j <= more; ++j) {
      const std::vector<double>& at = j == 0 ? target.x : x[static_cast<std::size_t>(j - 1)];
      for (Index i = 0; i < n; ++i) {
        const auto a = static_cast<std::size_t>(i);
        c(i, j) = in.covariance(cell, in.trials[a].x, belief.level[a], in.trials[a].batch, at, level, -1);
      }
      for (Index k = 0; k <= j; ++k)
        now(j, k) = now(k, j) = with(at, k == 0 ? target.x : x[static_cast<std::size_t>(k - 1)]);
    }
    now -= c.transpose() * cell.inverse * c;
    const double here = std::max(now(0, 0), 0.0);
    before += cell.weight * here;
    if (more == 0) {
      after += cell.weight * here;
      continue;
    }
    MatrixXd known = now.bottomRightCorner(more, more);
    known.diagonal().array() += cell.scatter * cell.scatter;
    const VectorXd cross = now.bottomLeftCorner(more, 1);
    after += cell.weight * std::max(here - cross.dot(known.ldlt().solve(cross)), 0.0);
  }
  return before > 0.0 ? std::sqrt((after + target.variance) / (before + target.variance)) : 1.0;
}

}  // namespace whorl::study
