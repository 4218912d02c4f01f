#include "whorl/study/trial_signs.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>

namespace whorl::study {
namespace {

// Own judgement, all of them.
constexpr double kThickShareDoubt = 0.05;             // what a count of thick fibres cannot tell
constexpr double kGasSpread = 0.7;                    // of ln(gas flow) about the model's, when gas goes through
constexpr double kHeldBack = 2.0, kHeldSpread = 1.5;  // the same when liquid holds it back: ln less, and its spread
constexpr double kMostGasOdds = 3.0, kMostOdds = 5.0;
constexpr double kClassDoubt = 0.05;                     // what is seen may be called by another name
constexpr double kFlowPrior = 0.3, kTimedScatter = 0.1;  // of ln(flow factor); of ln between timed runs
constexpr double kLeastChance = 0.02;
constexpr int kKinds = 5;

std::array<double, kKinds> listed(const model::Outcomes& o) { return {o.even, o.beaded, o.drops, o.wet, o.none}; }

int kind_of(Seen seen) {
  switch (seen) {
    case Seen::fibre: return 0;
    case Seen::beads: return 1;
    case Seen::drops: return 2;
    case Seen::wet: return 3;
    case Seen::nothing: return 4;
  }
  return 0;
}

double ln_normal(double x, double mean, double sd) { return -0.5 * (x - mean) * (x - mean) / (sd * sd) - std::log(sd); }

double gas_odds(double measured, double model) {
  if (!(measured > 0.0)) return -kMostGasOdds;
  const double x = std::log(measured / model);
  const double odds = ln_normal(x, 0.0, kGasSpread) - ln_normal(x, -kHeldBack, kHeldSpread);
  // More gas than the model has is no sign against gas that goes through.
  return std::clamp(x > 0.0 ? std::max(odds, 0.0) : odds, -kMostGasOdds, kMostGasOdds);
}

}  // namespace

double ln_odds_threads(const TrialSigns& signs, const ModelSigns* model) {
  double sum = 0.0;
  if (signs.thick_share)
    sum += std::log((1.0 - *signs.thick_share + kThickShareDoubt) / (*signs.thick_share + kThickShareDoubt));
  if (model != nullptr) {
    if (signs.gas_flow_m3_s && model->gas_flow_m3_s > 0.0) sum += gas_odds(*signs.gas_flow_m3_s, model->gas_flow_m3_s);
    if (signs.seen) {
      const auto kind = static_cast<std::size_t>(kind_of(*signs.seen));
      sum += std::log((listed(model->threads)[kind] + kClassDoubt) / (listed(model->line)[kind] + kClassDoubt));
    }
  }
  return std::clamp(sum, -kMostOdds, kMostOdds);
}

FlowFactor learn_flow(const std::vector<double>& ln_ratio) {
  FlowFactor out{0.0, kFlowPrior, ln_ratio.size()};
  if (ln_ratio.empty()) return out;
  const auto n = static_cast<double>(ln_ratio.size());
  double mean = 0.0, square = 0.0;
  for (const double r : ln_ratio) mean += r / n;
  for (const double r : ln_ratio) square += (r - mean) * (r - mean);
  // The usual scatter counts as two further runs.
  const double scatter2 = (square + 2.0 * kTimedScatter * kTimedScatter) / (n - 1.0 + 2.0);
  const double precision = 1.0 / (kFlowPrior * kFlowPrior) + n / scatter2;
  out.ln_mean = mean * (n / scatter2) / precision;
  out.ln_sd = std::sqrt(1.0 / precision);
  return out;
}

model::Outcomes shifted(const model::Outcomes& chances, const OutcomeShift& shift) {
  auto p = listed(chances);
  double sum = 0.0;
  for (std::size_t k = 0; k < p.size(); ++k) sum += p[k] = std::max(p[k], kLeastChance) * std::exp(shift[k]);
  for (double& v : p) v /= sum;
  return {p[0], p[1], p[2], p[3], p[4]};
}

std::vector<ClassTrial> class_trials(const TrialSigns& signs, const ModelSigns& model) {
  std::vector<ClassTrial> out;
  if (signs.seen) {
    ClassTrial t{model.either, {}, 1.0};
    t.seen[static_cast<std::size_t>(kind_of(*signs.seen))] = 1.0;
    out.push_back(t);
  }
  if (signs.yield) {
    if (*signs.yield > 0.0) out.push_back({model.either, {1.0, 1.0, 1.0, 1.0, 0.0}, *signs.yield});
    if (*signs.yield < 1.0) out.push_back({model.either, {0.0, 0.0, 0.0, 0.0, 1.0}, 1.0 - *signs.yield});
  }
  return out;
}

OutcomeShift learn_classes(const std::vector<ClassTrial>& trials) {
  OutcomeShift shift{};
  for (int round = 0; round < 200; ++round) {
    Eigen::VectorXd slope(kKinds);
    Eigen::MatrixXd curve = Eigen::MatrixXd::Identity(kKinds, kKinds);
    for (int k = 0; k < kKinds; ++k) slope[k] = -shift[static_cast<std::size_t>(k)];
    for (const ClassTrial& t : trials) {
      const auto p = listed(shifted(t.model, shift));
      double held = 0.0;
      for (std::size_t k = 0; k < p.size(); ++k) held += t.seen[k] * p[k];
      for (int a = 0; a < kKinds; ++a) {
        const auto i = static_cast<std::size_t>(a);
        slope[a] += t.weight * (t.seen[i] * p[i] / held - p[i]);
        for (int b = 0; b < kKinds; ++b)
          curve(a, b) += t.weight * ((a == b ? p[i] : 0.0) - p[i] * p[static_cast<std::size_t>(b)]);
      }
    }
    const Eigen::VectorXd step = curve.ldlt().solve(slope);
    double most = 0.0;
    for (int k = 0; k < kKinds; ++k) {
      shift[static_cast<std::size_t>(k)] += std::clamp(step[k], -1.0, 1.0);
      most = std::max(most, std::abs(step[k]));
    }
    if (most < 1e-10) break;
  }
  return shift;
}

}  // namespace whorl::study
