#include "whorl/engine/two_levels.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "engine/sample_runs.hpp"

namespace whorl::engine {
namespace {

constexpr std::size_t kLeastFull = 1;      // points of a replicate
constexpr std::size_t kCheapPerFull = 16;
constexpr std::size_t kLeastPairs = 3;     // of a group that is corrected apart
constexpr std::size_t kPairsOfAPart = 5;   // corrections seen in a part of a group
constexpr double kSteepest = 2.0;          // slope of full on cheap
constexpr std::size_t kMostSlopes = 64;    // pairs that the slope is taken from
constexpr std::size_t kLeastPath = 5;      // pairs that a path may lead through
constexpr double kClearlyBetter = 0.7;     // how much nearer the path has to come than the line to pairs left out
// What a pair is off the path through the others has, for independent scatter, 3/2 of its variance; the path itself
// carries 2/3 of it to the samples between the pairs. 1/3 is missing.
constexpr double kPathScatter = 0.47140452079103168;
constexpr double kNearly = 1e-7;           // of the whole width, for errors
constexpr std::size_t kNone = std::numeric_limits<std::size_t>::max();

// Every sum of one of `starts` and one of `steps`, together as heavy as `weight`.
struct Sums {
  std::vector<double> starts, steps;  // ascending
  double weight{};
};

double below(const Sums& sums, double at) {
  std::size_t count = 0;
  std::size_t k = sums.steps.size();
  for (const double start : sums.starts) {
    while (k > 0 && start + sums.steps[k - 1] > at) --k;
    if (k == 0) break;
    count += k;
  }
  const double sums_in_all = static_cast<double>(sums.starts.size()) * static_cast<double>(sums.steps.size());
  return static_cast<double>(count) / sums_in_all;
}

// A distribution made of sums.
class Mixture {
 public:
  void add(std::vector<double> starts, std::vector<double> steps, double weight) {
    if (starts.empty() || steps.empty() || !(weight > 0.0)) return;
    std::sort(starts.begin(), starts.end());
    std::sort(steps.begin(), steps.end());
    low_ = std::min(low_, starts.front() + steps.front());
    high_ = std::max(high_, starts.back() + steps.back());
    weight_ += weight;
    parts_.push_back({std::move(starts), std::move(steps), weight});
  }
  [[nodiscard]] double weight() const noexcept { return weight_; }
  [[nodiscard]] double share_below(double at) const {
    double sum = 0.0;
    for (const Sums& part : parts_) sum += part.weight * below(part, at);
    return sum / weight_;
  }
  // By halving, until nothing lies between; or nearly so, for an error.
  [[nodiscard]] double quantile(double p, double nearly = 0.0) const {
    double low = low_;
    double high = high_;
    if (share_below(low) >= p) return low;
    const double close = std::max(1e-13 * std::max(std::abs(low), std::abs(high)), nearly * (high - low));
    while (high - low > close) {
      const double middle = low + 0.5 * (high - low);
      if (middle <= low || middle >= high) break;
      (share_below(middle) >= p ? high : low) = middle;
    }
    return high;
  }

 private:
  std::vector<Sums> parts_;
  double weight_{};
  double low_{std::numeric_limits<double>::infinity()};
  double high_{-std::numeric_limits<double>::infinity()};
};

struct Pair {
  double cheap{};
  std::optional<double> full;
};

// What full adds to cheap: along a line, or along what the pairs themselves show.
class Correction {
 public:
  /// `follows`: whether along the path; decided here where it is not yet.
  Correction(const std::vector<Pair>& sorted, std::optional<bool>& follows) {
    for (const Pair& pair : sorted)
      if (pair.full) pairs_.push_back({pair.cheap, *pair.full - pair.cheap});
    tilt_ = slope() - 1.0;
    if (!follows) follows = pairs_.size() >= kLeastPath && path_is_better();
    follows_ = *follows;
  }

  // Where a cheap value comes to lie.
  [[nodiscard]] double moved(double cheap) const {
    return cheap + (follows_ ? on_path(cheap, kNone) : tilt_ * cheap);
  }
  // What one of the pairs that have the result leaves over.
  [[nodiscard]] double left_over(std::size_t j) const {
    const SeenAt& pair = pairs_[j];
    return follows_ ? kPathScatter * (pair.added - on_path(pair.cheap, j)) : pair.added - tilt_ * pair.cheap;
  }

 private:
  struct SeenAt {
    double cheap{}, added{};
  };

  [[nodiscard]] bool path_is_better() const {
    double sum = 0.0;
    for (const SeenAt& pair : pairs_) sum += pair.added - tilt_ * pair.cheap;
    const auto others = static_cast<double>(pairs_.size() - 1);
    double off_line = 0.0;
    double off_path = 0.0;
    for (std::size_t j = 0; j < pairs_.size(); ++j) {
      const double level = pairs_[j].added - tilt_ * pairs_[j].cheap;
      off_line += std::abs(level - (sum - level) / others);  // the line through the others
      off_path += std::abs(pairs_[j].added - on_path(pairs_[j].cheap, j));
    }
    return off_path < kClearlyBetter * off_line;
  }

  // Median of the slopes between pairs, which one pair that is far off does not move.
  [[nodiscard]] double slope() const {
    const std::size_t every = std::max<std::size_t>((pairs_.size() + kMostSlopes - 1) / kMostSlopes, 1);
    std::vector<double> slopes;
    for (std::size_t i = 0; i < pairs_.size(); i += every)
      for (std::size_t j = 0; j < i; j += every)
        if (pairs_[i].cheap > pairs_[j].cheap)
          slopes.push_back(1.0 + (pairs_[i].added - pairs_[j].added) / (pairs_[i].cheap - pairs_[j].cheap));
    if (slopes.size() < kLeastPairs) return 1.0;
    std::sort(slopes.begin(), slopes.end());
    return std::clamp(sample_quantile(slopes, 0.5), 0.0, kSteepest);
  }

  // Straight between neighbours, level beyond the last. Pairs in ascending order.
  [[nodiscard]] double on_path(double cheap, std::size_t but) const {
    const auto after = static_cast<std::size_t>(
        std::upper_bound(pairs_.begin(), pairs_.end(), cheap, [](double x, const SeenAt& p) { return x < p.cheap; }) -
        pairs_.begin());
    std::size_t above = after;
    std::size_t below = after;  // one past it
    if (above == but) ++above;
    if (below > 0 && below - 1 == but) --below;
    if (below == 0 && above >= pairs_.size()) return 0.0;
    if (below == 0) return pairs_[above].added;
    if (above >= pairs_.size()) return pairs_[below - 1].added;
    const SeenAt& a = pairs_[below - 1];
    const SeenAt& b = pairs_[above];
    return a.added + (b.added - a.added) * (cheap - a.cheap) / (b.cheap - a.cheap);
  }

  std::vector<SeenAt> pairs_;
  double tilt_{};
  bool follows_{};
};

// Samples of one group: each that was run cheaply alone is moved, and scattered by all that is left over near it.
void add_moved(Mixture& mixture, std::vector<double> alone, std::vector<Pair> pairs, std::optional<bool>& follows) {
  if (pairs.empty() || alone.empty()) return;
  std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.cheap < b.cheap; });
  std::sort(alone.begin(), alone.end());
  const Correction correction(pairs, follows);
  const std::size_t parts = std::max<std::size_t>(pairs.size() / kPairsOfAPart, 1);
  std::size_t pair = 0;
  std::size_t sample = 0;
  std::size_t seen = 0;  // pairs with the result
  for (std::size_t part = 0; part < parts; ++part) {
    std::size_t pair_end = pairs.size();
    std::size_t sample_end = alone.size();
    if (part + 1 < parts) {
      pair_end = (part + 1) * pairs.size() / parts;
      if (!(pairs[pair_end - 1].cheap < pairs[pair_end].cheap)) continue;  // equal ones stay together
      const double edge = 0.5 * (pairs[pair_end - 1].cheap + pairs[pair_end].cheap);
      sample_end = static_cast<std::size_t>(std::upper_bound(alone.begin(), alone.end(), edge) - alone.begin());
    }
    std::vector<double> starts, steps;
    for (std::size_t i = sample; i < sample_end; ++i) starts.push_back(correction.moved(alone[i]));
    for (std::size_t i = pair; i < pair_end; ++i)
      if (pairs[i].full) steps.push_back(correction.left_over(seen++));
    const double have = static_cast<double>(steps.size()) / static_cast<double>(pair_end - pair);
    mixture.add(std::move(starts), std::move(steps), have * static_cast<double>(sample_end - sample));
    pair = pair_end;
    sample = sample_end;
  }
}

class OneResult {
 public:
  explicit OneResult(const TwoLevels& result) : r_(result) {
    log_ = true;
    for (const auto* values : {&r_.cheap, &r_.full})
      for (const auto& value : *values) log_ = log_ && (!value || (*value > 0.0 && (!r_.fraction || *value < 1.0)));
  }

  [[nodiscard]] double shown(double t) const {
    if (!r_.fraction) return log_ ? std::exp(t) : t;
    return log_ ? 1.0 / (1.0 + std::exp(-t)) : std::clamp(t, 0.0, 1.0);
  }

  // Of all replicates, or of all but one: first of all, which decides how to correct.
  [[nodiscard]] Mixture mixture(std::size_t left_out = kNone) {
    std::array<std::vector<double>, 3> alone;  // 2: without the result when run cheaply
    std::array<std::vector<Pair>, 3> pairs;
    std::vector<double> known;
    const auto group_of = [&](std::size_t i) { return !r_.cheap[i] ? 2 : static_cast<std::size_t>(r_.groups[i]); };
    for (std::size_t r = 0; r < r_.levels.replicates; ++r) {
      if (r == left_out) continue;
      for (std::size_t point = 0; point < r_.levels.points; ++point) {
        const std::size_t i = r * r_.levels.points + point;
        const std::size_t group = group_of(i);
        const double cheap = r_.cheap[i] ? scaled(*r_.cheap[i]) : 0.0;
        if (point >= r_.levels.full) {
          alone[group].push_back(cheap);
          continue;
        }
        const auto& full = r_.full[r * r_.levels.full + point];
        pairs[group].push_back({cheap, full ? std::optional(scaled(*full)) : std::nullopt});
        if (full) known.push_back(scaled(*full));
      }
    }
    if (pairs[0].size() < kLeastPairs || pairs[1].size() < kLeastPairs) {  // too few to be corrected apart
      alone[0].insert(alone[0].end(), alone[1].begin(), alone[1].end());
      pairs[0].insert(pairs[0].end(), pairs[1].begin(), pairs[1].end());
      alone[1].clear();
      pairs[1].clear();
    }
    Mixture mixture;
    const auto count = static_cast<double>(known.size());
    mixture.add(std::move(known), {0.0}, count);
    for (std::size_t group = 0; group < 3; ++group) {
      add_moved(mixture, std::move(alone[group]), std::move(pairs[group]), follows_[group]);
    }
    return mixture;
  }

 private:
  [[nodiscard]] double scaled(double value) const {
    if (!log_) return value;
    return r_.fraction ? std::log(value / (1.0 - value)) : std::log(value);
  }

  const TwoLevels& r_;
  bool log_{};
  std::array<std::optional<bool>, 3> follows_;  // of each group
};

// Whether full and cheap are the same wherever both were run.
bool never_differs(const TwoLevels& result) {
  bool same = true;
  for (std::size_t r = 0; r < result.levels.replicates; ++r)
    for (std::size_t point = 0; point < result.levels.full; ++point)
      same = same && result.cheap[r * result.levels.points + point] == result.full[r * result.levels.full + point];
  return same;
}

// Shares of the ends, without one replicate or with all.
std::map<int, double> ends_without(const Ends& ends, std::size_t left_out) {
  const Levels& levels = ends.levels;
  std::map<int, double> out;
  std::map<std::pair<int, int>, double> alone;      // kind and end of those that were run cheaply only
  std::map<int, std::map<int, double>> became;      // ends of the full ones of a kind
  double samples = 0.0;
  for (std::size_t r = 0; r < levels.replicates; ++r) {
    if (r == left_out) continue;
    for (std::size_t point = 0; point < levels.points; ++point) {
      const std::size_t i = r * levels.points + point;
      samples += 1.0;
      if (point >= levels.full) {
        alone[{ends.kinds[i], ends.cheap[i]}] += 1.0;
        continue;
      }
      const int in_full = ends.full[r * levels.full + point];
      out[in_full] += 1.0;
      became[ends.kinds[i]][in_full] += 1.0;
    }
  }
  for (const auto& [kind_and_end, count] : alone) {
    const auto found = became.find(kind_and_end.first);
    if (found == became.end()) {
      out[kind_and_end.second] += count;
      continue;
    }
    double pairs = 0.0;
    for (const auto& [in_full, many] : found->second) pairs += many;
    for (const auto& [in_full, many] : found->second) out[in_full] += count * many / pairs;
  }
  for (auto& [end, share] : out) share /= samples;
  return out;
}

constexpr int kNowhere = -1;  // no result, or lands nowhere
int class_of(const SampleEnd& end) { return end.done ? static_cast<int>(end.fibre_class) : kNowhere; }
int landing_of(const SampleEnd& end) {
  return end.done && end.landing != model::Landing::none ? static_cast<int>(end.landing) : kNowhere;
}
// Samples that end in the same way when run cheaply are of one kind.
int kind_of(const SampleEnd& end) { return 64 * class_of(end) + 2 * landing_of(end) + (end.torn ? 1 : 0); }

template <class Of>
std::vector<int> each(const std::vector<SampleEnd>& ends, Of of) {
  std::vector<int> out;
  for (const SampleEnd& end : ends) out.push_back(of(end));
  return out;
}

}  // namespace

Levels levels_of(const SamplePlan& plan) noexcept {
  return {plan.replicates, plan.points, std::min(plan.points, std::max(kLeastFull, plan.points / kCheapPerFull))};
}

std::optional<Band> band_of(const TwoLevels& result) {
  const auto has = [](const auto& value) { return value.has_value(); };
  const auto in_full = static_cast<std::size_t>(std::count_if(result.full.begin(), result.full.end(), has));
  if (in_full == 0) return {};
  if (never_differs(result)) {
    auto band = band_of(result.cheap, result.levels.replicates);
    if (band) band->in_full = in_full;
    return band;
  }
  OneResult one(result);
  const Mixture all = one.mixture();
  std::vector<Mixture> without;
  for (std::size_t r = 0; r < result.levels.replicates; ++r) {
    Mixture mixture = one.mixture(r);
    if (mixture.weight() > 0.0) without.push_back(std::move(mixture));
  }
  Band band;
  const bool full_alone = std::none_of(result.cheap.begin(), result.cheap.end(), has);
  band.count = full_alone ? in_full : static_cast<std::size_t>(std::lround(all.weight()));
  band.in_full = in_full;
  const auto put = [&](double p, double& value, double& error) {
    const double at = all.quantile(p);
    value = one.shown(at);
    if (without.size() < 2) return;
    std::vector<double> shares, moved;
    for (const Mixture& mixture : without) {
      shares.push_back(mixture.share_below(at));
      moved.push_back(one.shown(mixture.quantile(p, kNearly)));
    }
    // Along the distribution, and of the quantile itself: at its ends, where a few full samples decide, the first is
    // too small.
    const double share_error = std::max(jackknife_error(shares), 0.5 / static_cast<double>(result.cheap.size()));
    const double along = 0.5 * (one.shown(all.quantile(std::min(1.0, p + share_error), kNearly)) -
                                one.shown(all.quantile(std::max(0.0, p - share_error), kNearly)));
    error = std::max(along, jackknife_error(moved));
  };
  put(0.5, band.median, band.median_error);
  put(0.05, band.low, band.low_error);
  put(0.95, band.high, band.high_error);
  return band;
}

std::map<int, Share> shares_of(const Ends& ends) {
  const Levels& levels = ends.levels;
  const auto all = ends_without(ends, kNone);
  std::map<int, std::vector<double>> without;
  for (const auto& [end, share] : all) without[end].assign(levels.replicates, 0.0);
  for (std::size_t r = 0; r < levels.replicates; ++r)
    for (const auto& [end, share] : ends_without(ends, r))
      if (const auto found = without.find(end); found != without.end()) found->second[r] = share;
  // What no full sample showed may still be: half of one.
  const double unseen = 0.5 / static_cast<double>(levels.in_full());
  std::map<int, Share> out;
  for (const auto& [end, value] : all) {
    const double error = std::hypot(jackknife_error(without[end]), unseen);
    // as many independent samples as would have this error
    const double samples = std::clamp(value * (1.0 - value) / (error * error), static_cast<double>(levels.in_full()),
                                      static_cast<double>(levels.samples()));
    Share& share = out[end] = share_with_error(value, error, samples);
    share.count = static_cast<std::size_t>(std::lround(value * static_cast<double>(levels.samples())));
    share.total = levels.samples();
  }
  return out;
}

Spreadout spread_out_on_two_levels(const model::CaseInput& base, const Sampler& sampler, const KindSet& kinds,
                                   std::span<const ResultFunction> results, const BatchRunner& runner,
                                   const std::function<model::CaseInput(const model::CaseInput&)>& cheaply) {
  const Levels levels = levels_of(sampler.plan());
  if (levels.full == levels.points) return spread_out(base, sampler, kinds, results, runner);
  std::vector<std::size_t> every(levels.samples()), some;
  for (std::size_t i = 0; i < every.size(); ++i) {
    every[i] = i;
    if (i % levels.points < levels.full) some.push_back(i);
  }
  const auto sample = [&](std::size_t i) { return sampler.sample(base, i, kinds); };
  const SampleRuns full = run_samples(some, sample, results, runner);
  std::vector<ResultFunction> stand_ins(results.begin(), results.end());
  for (ResultFunction& result : stand_ins)
    if (result.cheap) result.get = result.cheap;
  const SampleRuns cheap = run_samples(every, [&](std::size_t i) { return cheaply(sample(i)); }, stand_ins, runner);

  Spreadout out;
  out.samples = levels.samples();
  out.in_full = levels.in_full();
  out.not_converged = full.not_converged;
  out.reasons = full.reasons;
  const std::vector<int> kinds_of_end = each(cheap.ends, kind_of);
  const auto shares = [&](auto of) {
    const std::vector<int> of_cheap = each(cheap.ends, of);
    const std::vector<int> of_full = each(full.ends, of);
    return shares_of({levels, kinds_of_end, of_cheap, of_full});
  };
  for (const auto& [end, share] : shares(class_of)) {
    if (end == kNowhere) out.no_result = share;
    else out.classes[static_cast<model::FibreClass>(end)] = share;
  }
  for (const auto& [end, share] : shares(landing_of))
    if (end != kNowhere) out.landings[static_cast<model::Landing>(end)] = share;
  const std::vector<int> groups = each(cheap.ends, [](const SampleEnd& end) { return end.torn ? 1 : 0; });
  for (std::size_t k = 0; k < results.size(); ++k)
    out.bands.push_back(band_of(TwoLevels{levels, cheap.values[k], full.values[k], groups, results[k].fraction}));
  return out;
}

}  // namespace whorl::engine
