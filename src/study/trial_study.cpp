#include "whorl/study/trial_study.hpp"
#include "model/normal.hpp"
#include "whorl/model/number_text.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

namespace whorl::study {
namespace {

// A power law has no value at zero: no setting counts as less than the smallest trial over this.
constexpr double kFarthestBelow = 10.0;
constexpr double kPlainSpread = 1.5;  // of exponents where nothing is believed beforehand
constexpr double kPlainLevelSpread = 3.0;
constexpr double kWideShare = 0.15;       // of the belief that the level is far from where it is expected
constexpr double kWidestScatter = 0.45;   // 97 % point of the scatter believed (LawScatter)
constexpr double kWidestMiss = 0.69;      // a factor of two, root mean square, on trials left out
constexpr double kThresholdSteps = 10.0;  // thresholds between one line and torn threads that are told apart

double rms_left_out(const std::vector<LeftOut>& left, const std::vector<LawTrial>& trials) {
  double sum = 0.0;
  for (std::size_t i = 0; i < left.size(); ++i)
    sum += (trials[i].ln_diameter - left[i].mean) * (trials[i].ln_diameter - left[i].mean);
  return std::sqrt(sum / static_cast<double>(left.size()));
}

double dot(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0.0;
  for (std::size_t k = 0; k < a.size(); ++k) sum += a[k] * b[k];
  return sum;
}

double stepped(double probability);

// Share of the thresholds of an interval below the model's probability of torn threads.
double share_fine(const std::pair<double, double>& threshold, const std::optional<TwoAnswers>& model) {
  const double p = model ? stepped(model->probability_fine) : 1.0;
  return std::clamp((p - threshold.first) / (threshold.second - threshold.first), 0.0, 1.0);
}

double stepped(double probability) {
  return std::round(kThresholdSteps * std::clamp(probability, 0.0, 1.0)) / kThresholdSteps;
}

}  // namespace

const char* law_words(LawKind kind) noexcept {
  switch (kind) {
    case LawKind::turned: return "model turned to the published directions, corrected by the trials";
    case LawKind::model: return "model with its own directions, corrected by the trials";
    case LawKind::published: return "published exponents, corrected by the trials";
    case LawKind::plain: return "power law of the trials alone";
    case LawKind::mean: return "mean of the trials";
  }
  return "";
}

TrialStudy::TrialStudy(StudyInput input) : input_(std::move(input)) {
  if (input_.trials.empty()) throw std::invalid_argument("trial study: no trials");
  find_centres();
  std::map<std::string, int> batches;
  for (const StudyTrial& t : input_.trials) {
    int batch = -1;
    if (!t.batch.empty()) batch = batches.emplace(t.batch, static_cast<int>(batches.size())).first->second;
    trials_.push_back({coordinates(t.settings), t.ln_diameter, t.variance, batch});
  }
  if (batches.size() < 2) {
    for (LawTrial& t : trials_) t.batch = -1;
  }
  double fine = 0.0, coarse = 0.0, count = 0.0;
  for (std::size_t i = 0; i < trials_.size(); ++i) {
    if (!input_.slopes || !input_.trials[i].model) continue;
    fine += input_.trials[i].model->ln_fine - dot(input_.slopes->fine, trials_[i].x);
    coarse += input_.trials[i].model->ln_coarse - dot(input_.slopes->coarse, trials_[i].x);
    count += 1.0;
  }
  physics_ = count > 0.0;
  if (physics_) {
    model_level_fine_ = fine / count;
    model_level_coarse_ = coarse / count;
  }
  std::vector<Candidate> every = candidates();
  double most = -1e300;
  std::vector<double> score;
  for (Candidate& one : every) {
    TrialLaw law(trials_, one.beliefs);
    const std::vector<LeftOut> left = law.left_out();
    JudgedLaw judged{one.kind, 0.0, rms_left_out(left, trials_), 0.0};
    for (const LeftOut& l : left) judged.log_density += l.log_density / static_cast<double>(left.size());
    judged_.push_back(judged);
    score.push_back(std::log(one.odds) + law.log_evidence());
    if (score.back() <= most) continue;
    most = score.back();
    winner_ = one.kind;
    used_ = one;
    left_out_ = left;
    law_ = std::make_unique<TrialLaw>(std::move(law));
  }
  double sum = 0.0;
  for (const double s : score) sum += std::exp(s - most);
  for (std::size_t i = 0; i < score.size(); ++i) judged_[i].probability = std::exp(score[i] - most) / sum;
}

void TrialStudy::find_centres() {
  const std::size_t count = input_.settings.size();
  centre_.assign(count, 0.0);
  smallest_.assign(count, 0.0);
  lowest_.assign(count, 0.0);
  for (std::size_t k = 0; k < count; ++k) {
    bool zero = false;
    double least = 0.0;
    for (const StudyTrial& t : input_.trials) {
      const double v = t.settings[k];
      if (!(v >= 0.0)) throw std::invalid_argument("trial study: a setting below zero");
      zero = zero || v == 0.0;
      if (v > 0.0) least = least > 0.0 ? std::min(least, v) : v;
    }
    if (zero) smallest_[k] = least > 0.0 ? least : 1.0;
    lowest_[k] = least / kFarthestBelow;
  }
  std::vector<double> sum(count);
  for (const StudyTrial& t : input_.trials) {
    const std::vector<double> x = coordinates(t.settings);
    for (std::size_t k = 0; k < count; ++k) sum[k] += x[k];
  }
  for (std::size_t k = 0; k < count; ++k) centre_[k] = sum[k] / static_cast<double>(input_.trials.size());
}

std::vector<double> TrialStudy::coordinates(const std::vector<double>& settings) const {
  std::vector<double> x(settings.size());
  for (std::size_t k = 0; k < x.size(); ++k) {
    const double v = settings[k];
    const double raw = smallest_[k] > 0.0 ? std::log1p(v / smallest_[k]) : std::log(std::max(v, lowest_[k]));
    x[k] = raw - centre_[k];
  }
  return x;
}

double TrialStudy::centre(std::size_t setting) const {
  return smallest_[setting] > 0.0 ? smallest_[setting] * std::expm1(centre_[setting]) : std::exp(centre_[setting]);
}

const PublishedExponent* TrialStudy::published(std::size_t setting) const {
  const std::string& key = input_.settings[setting].key;
  if (input_.exponents.empty()) return published_exponent(key);
  for (const PublishedExponent& one : input_.exponents) {
    if (one.key == key) return &one;
  }
  return nullptr;
}

// ln d that a law expects at coordinates x before the trials.
double TrialStudy::expected(LawKind kind, bool fine, const std::vector<double>& x,
                            const std::optional<TwoAnswers>& model) const {
  if (kind == LawKind::plain || kind == LawKind::mean) return wide_level().mean;
  double sum = 0.0;
  if (kind == LawKind::published) {
    sum = input_.level ? input_.level->mean : torn_level().mean;
    for (std::size_t k = 0; k < x.size(); ++k) {
      if (const PublishedExponent* one = published(k)) sum += (fine ? one->torn : one->line) * x[k];
    }
    return sum;
  }
  const std::vector<double>& slope = fine ? input_.slopes->fine : input_.slopes->coarse;
  sum = fine ? model_level_fine_ : model_level_coarse_;
  for (std::size_t k = 0; k < x.size(); ++k) {
    const PublishedExponent* one = kind == LawKind::turned ? published(k) : nullptr;
    sum += (one != nullptr ? (fine ? one->torn : one->line) : slope[k]) * x[k];
  }
  if (!model) return sum;
  return sum + (fine ? model->ln_fine - model_level_fine_ : model->ln_coarse - model_level_coarse_) - dot(slope, x);
}

TrialStudy::Candidate TrialStudy::with_physics(LawKind kind) const {
  Candidate out;
  out.kind = kind;
  out.odds = kind == LawKind::turned ? 0.4 : 0.16;
  // The model's probability of torn threads orders the trials; the threshold between the two answers is unknown but
  // one.
  std::vector<double> steps{0.0, 1.0};
  bool two = false;
  for (const StudyTrial& t : input_.trials) {
    if (!t.model) continue;
    steps.push_back(stepped(t.model->probability_fine));
    two = two || std::abs(t.model->ln_fine - t.model->ln_coarse) > 1e-12;
  }
  for (const StudyHint& hint : input_.hints) steps.push_back(stepped(hint.probability_fine));
  std::sort(steps.begin(), steps.end());
  steps.erase(std::unique(steps.begin(), steps.end()), steps.end());
  if (!two) steps = {0.0, 1.0};
  for (std::size_t s = 0; s + 1 < steps.size(); ++s) {
    LawBelief belief;
    belief.weight = steps[s + 1] - steps[s];
    double ln_odds = 0.0;
    std::size_t fine_count = 0;
    for (std::size_t i = 0; i < trials_.size(); ++i) {
      const auto& model = input_.trials[i].model;
      const bool fine = !two || !model || stepped(model->probability_fine) >= steps[s + 1];
      fine_count += fine ? 1 : 0;
      belief.expected.push_back(expected(kind, fine, trials_[i].x, model));
      belief.level.push_back(fine ? 0 : 1);
      ln_odds += fine && two ? input_.trials[i].ln_odds_fine : 0.0;
    }
    for (const StudyHint& hint : input_.hints)
      ln_odds += two && stepped(hint.probability_fine) >= steps[s + 1] ? hint.ln_odds_fine : 0.0;
    belief.weight *= std::exp(std::clamp(ln_odds, -50.0, 50.0));
    const bool mostly_fine = 2 * fine_count >= trials_.size();
    for (std::size_t k = 0; k < input_.settings.size(); ++k) {
      const PublishedExponent* one = published(k);
      const double own = mostly_fine ? input_.slopes->fine[k] : input_.slopes->coarse[k];
      belief.exponent.push_back(one != nullptr && kind == LawKind::turned ? (mostly_fine ? one->torn : one->line)
                                                                          : own);
      belief.exponent_sd.push_back(one == nullptr ? kUnpublishedSpread : mostly_fine ? one->torn_sd : one->line_sd);
    }
    for (const bool wide : {false, true}) {
      LawBelief copy = belief;
      copy.weight *= wide ? kWideShare : 1.0 - kWideShare;
      copy.level_sd = wide ? wide_level().sd : kPhysicsLevelSpread;
      out.beliefs.push_back(std::move(copy));
      out.threshold.emplace_back(steps[s], steps[s + 1]);
    }
  }
  if (!two) out.threshold.clear();
  return out;
}

TrialStudy::Candidate TrialStudy::without_physics() const {
  Candidate out;
  out.kind = LawKind::published;
  out.odds = physics_ ? 0.4 : 0.96;
  bool two = false;
  for (std::size_t k = 0; k < input_.settings.size(); ++k) {
    const PublishedExponent* one = published(k);
    two = two || (one != nullptr && one->torn != one->line);
  }
  const double level_sd = input_.level ? input_.level->sd : torn_level().sd;
  double ln_odds = 0.0;
  for (const StudyTrial& t : input_.trials) ln_odds += t.ln_odds_fine;
  for (const StudyHint& hint : input_.hints) ln_odds += hint.ln_odds_fine;
  for (const bool fine : {true, false}) {
    if (!fine && !two) continue;
    for (const bool wide : {false, true}) {
      LawBelief belief;
      belief.weight = (wide ? kWideShare : 1.0 - kWideShare) * (!two   ? 1.0
                                                                : fine ? 1.0 - input_.probability_line
                                                                       : input_.probability_line);
      if (!(belief.weight > 0.0)) continue;
      if (two && fine) belief.weight *= std::exp(std::clamp(ln_odds, -50.0, 50.0));
      belief.level_sd = wide ? wide_level().sd : level_sd;
      for (const LawTrial& t : trials_) {
        belief.expected.push_back(expected(out.kind, fine, t.x, {}));
        belief.level.push_back(0);
      }
      for (std::size_t k = 0; k < input_.settings.size(); ++k) {
        const PublishedExponent* one = published(k);
        belief.exponent.push_back(one == nullptr ? 0.0 : fine ? one->torn : one->line);
        belief.exponent_sd.push_back(one == nullptr ? kUnpublishedSpread : fine ? one->torn_sd : one->line_sd);
      }
      out.beliefs.push_back(std::move(belief));
    }
  }
  return out;
}

TrialStudy::Candidate TrialStudy::plain(bool exponents) const {
  Candidate out;
  out.kind = exponents ? LawKind::plain : LawKind::mean;
  out.odds = 0.02;
  LawBelief belief;
  belief.level_sd = kPlainLevelSpread;
  belief.expected.assign(trials_.size(), wide_level().mean);
  belief.level.assign(trials_.size(), 0);
  belief.exponent.assign(input_.settings.size(), 0.0);
  belief.exponent_sd.assign(input_.settings.size(), exponents ? kPlainSpread : 0.0);
  out.beliefs.push_back(std::move(belief));
  return out;
}

std::vector<TrialStudy::Candidate> TrialStudy::candidates() const {
  std::vector<Candidate> out;
  if (physics_) {
    out.push_back(with_physics(LawKind::turned));
    out.push_back(with_physics(LawKind::model));
  }
  out.push_back(without_physics());
  if (!input_.settings.empty()) out.push_back(plain(true));
  out.push_back(plain(false));
  return out;
}

LawTarget TrialStudy::target(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                             double variance) const {
  LawTarget out;
  out.x = coordinates(settings);
  out.variance = variance;
  for (std::size_t h = 0; h < used_.beliefs.size(); ++h) {
    std::vector<LawBranch> branches;
    if (winner_ == LawKind::published) {
      // Told apart by their exponents: the expectation of the belief itself.
      double sum = input_.level ? input_.level->mean : torn_level().mean;
      sum += dot(used_.beliefs[h].exponent, out.x);
      branches.push_back({1.0, sum, 0});
    } else if (used_.threshold.empty()) {
      branches.push_back({1.0, expected(winner_, true, out.x, model), 0});
    } else {
      const double fine = share_fine(used_.threshold[h], model);
      branches.push_back({fine, expected(winner_, true, out.x, model), 0});
      branches.push_back({1.0 - fine, expected(winner_, false, out.x, model), 1});
    }
    out.branches.push_back(std::move(branches));
  }
  return out;
}

LawPrediction TrialStudy::predict(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                                  double variance) const {
  return law_->predict(target(settings, model, variance));
}

double TrialStudy::narrowing(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                             const std::vector<std::vector<double>>& further) const {
  std::vector<std::vector<double>> x;
  for (const auto& one : further) x.push_back(coordinates(one));
  return law_->narrowing(target(settings, model, 0.0), x);
}

std::vector<StudyExponent> TrialStudy::exponents() const {
  const LawExponents after = law_->exponents();
  std::vector<double> fine = probability_fine();
  double share = 1.0;
  if (!fine.empty()) {
    share = 0.0;
    for (const double f : fine) share += f / static_cast<double>(fine.size());
  }
  std::vector<StudyExponent> out;
  for (std::size_t k = 0; k < input_.settings.size(); ++k) {
    StudyExponent e;
    e.key = input_.settings[k].key;
    e.words = input_.settings[k].words;
    if (physics_) e.model = share * input_.slopes->fine[k] + (1.0 - share) * input_.slopes->coarse[k];
    if (const PublishedExponent* one = published(k)) {
      e.published = share >= 0.5 ? one->torn : one->line;
      e.published_sd = share >= 0.5 ? one->torn_sd : one->line_sd;
    }
    e.measured = after.mean[k];
    e.sd = after.sd[k];
    e.low = e.measured - model::kNormal95 * e.sd;
    e.high = e.measured + model::kNormal95 * e.sd;
    e.unexplained = e.measured - e.model.value_or(0.0);
    out.push_back(std::move(e));
  }
  return out;
}

std::vector<double> TrialStudy::probability_fine() const {
  if (used_.threshold.empty()) return {};
  const std::vector<double> weight = law_->belief_weights();
  std::vector<double> out(trials_.size());
  for (std::size_t h = 0; h < weight.size(); ++h) {
    for (std::size_t i = 0; i < out.size(); ++i) out[i] += used_.beliefs[h].level[i] == 0 ? weight[h] : 0.0;
  }
  return out;
}

std::optional<double> TrialStudy::probability_fine(const std::optional<TwoAnswers>& model) const {
  if (used_.threshold.empty()) return {};
  const std::vector<double> weight = law_->belief_weights();
  double sum = 0.0;
  for (std::size_t h = 0; h < weight.size(); ++h) sum += weight[h] * share_fine(used_.threshold[h], model);
  return sum;
}

std::string TrialStudy::misfit() const {
  const double scatter = law_->scatter();
  const double miss = rms_left_out(left_out_, trials_);
  // Scatter of repeated trials at one setting, where there are any.
  double squares = 0.0;
  int free = 0;
  std::vector<bool> done(trials_.size());
  for (std::size_t i = 0; i < trials_.size(); ++i) {
    if (done[i]) continue;
    double sum = 0.0, square = 0.0;
    int count = 0;
    for (std::size_t j = i; j < trials_.size(); ++j) {
      if (trials_[j].x != trials_[i].x || trials_[j].batch != trials_[i].batch) continue;
      done[j] = true;
      sum += trials_[j].ln_diameter;
      square += trials_[j].ln_diameter * trials_[j].ln_diameter;
      ++count;
    }
    squares += std::max(0.0, square - sum * sum / count);
    free += count - 1;
  }
  const int rest = static_cast<int>(trials_.size()) - free - static_cast<int>(input_.settings.size()) - 1;
  if (free >= 2 && rest >= 1 && squares > 0.0) {
    const double limit = model::fisher_point(rest, free, 0.99);
    if (miss * miss > limit * squares / free) {
      return fmt::format("trials left out are missed by {}, repeated trials scatter by {}: the law does not hold",
                         whole_percent(miss), whole_percent(std::sqrt(squares / free)));
    }
  }
  if (input_.stated_scatter > 0.0 && trials_.size() >= 4 && scatter > 2.5 * input_.stated_scatter &&
      miss > 2.5 * input_.stated_scatter) {
    return fmt::format("the trials scatter by {} about the law, stated is {}: the law does not hold",
                       whole_percent(scatter), whole_percent(input_.stated_scatter));
  }
  if (scatter > kWidestScatter || (trials_.size() >= 4 && miss > kWidestMiss)) {
    return fmt::format(
        "the trials scatter by {} about the law and are missed by {} when left out; published series stay below {}",
        whole_percent(scatter), whole_percent(miss), whole_percent(kWidestScatter));
  }
  return {};
}

}  // namespace whorl::study
