#include "engine/published_series.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>

#include "whorl/study/calibrate.hpp"
#include "whorl/io/csv.hpp"

namespace whorl::published {
namespace {

struct Column {
  const char* column;
  const char* key;
};
constexpr Column kColumns[] = {{"overpressure_MPa", "operation.gas_overpressure"},
                               {"concentration", "solution.concentration"},
                               {"feed_mL_h", "operation.feed_rate"},
                               {"distance_mm", "operation.collection_distance"}};

double number(const std::string& text) { return text.empty() ? 0.0 : std::stod(text); }

// Beliefs that know no study.
double neutral_mean(const std::string& key) { return key == "solution.concentration" ? 1.0 : 0.0; }
double neutral_spread(const std::string& key) { return key == "solution.concentration" ? 0.6 : 0.15; }
constexpr double kNeutralLevel = -14.5087, kNeutralLevelSpread = 0.75;  // ln(0.5 um)
constexpr double kStudiesBelieved = 2.0, kSpreadsBelieved = 5.0;

}  // namespace

std::vector<Series> read_series(const std::string& file) {
  std::ifstream in(file);
  if (!in) throw std::runtime_error("cannot read " + file);
  std::string line, text;
  while (std::getline(in, line)) {
    if (line.empty() || line.front() != '#') text += line + "\n";
  }
  std::istringstream table(text);
  std::vector<std::string> header, cells;
  if (!io::read_csv_record(table, header, file)) throw std::runtime_error(file + ": empty");
  const auto at = [&](const char* name) {
    const auto found = std::find(header.begin(), header.end(), name);
    if (found == header.end()) throw std::runtime_error(file + ": no column " + name);
    return static_cast<std::size_t>(found - header.begin());
  };
  std::vector<std::string> order;
  std::map<std::string, std::vector<std::vector<std::string>>> rows;
  const auto set = std::find(header.begin(), header.end(), "set");
  while (io::read_csv_record(table, cells, file)) {
    if (set != header.end() && cells[static_cast<std::size_t>(set - header.begin())] != "gas") continue;
    if (rows[cells[at("doi")]].empty()) order.push_back(cells[at("doi")]);
    rows[cells[at("doi")]].push_back(cells);
  }
  std::vector<Series> out;
  for (const std::string& doi : order) {
    const auto& of = rows[doi];
    Series s;
    s.doi = doi;
    s.study = of.front()[at("study")];
    s.settings.resize(of.size());
    for (const Column& c : kColumns) {
      bool known = true, varies = false;
      for (const auto& row : of) {
        known = known && number(row[at(c.column)]) > 0.0;
        varies = varies || row[at(c.column)] != of.front()[at(c.column)];
      }
      if (!known || !varies) continue;
      s.keys.emplace_back(c.key);
      for (std::size_t i = 0; i < of.size(); ++i) s.settings[i].push_back(number(of[i][at(c.column)]));
    }
    for (const auto& row : of) s.ln_diameter.push_back(std::log(1e-9 * number(row[at("diameter_mean_nm")])));
    out.push_back(std::move(s));
  }
  return out;
}

namespace {

std::vector<std::vector<double>> centred_logs(const Series& s) {
  std::vector<std::vector<double>> x(s.settings.size(), std::vector<double>(s.keys.size()));
  for (std::size_t k = 0; k < s.keys.size(); ++k) {
    double sum = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) sum += x[i][k] = std::log(s.settings[i][k]);
    for (auto& row : x) row[k] -= sum / static_cast<double>(x.size());
  }
  return x;
}

}  // namespace

Prior fit_prior(const std::vector<Series>& all, const std::string& without) {
  // The level is one more coordinate, always 1.
  std::vector<std::string> names{"level"};
  for (const Column& c : kColumns) names.emplace_back(c.key);
  std::map<std::string, double> mean, spread;
  for (const std::string& name : names) {
    mean[name] = name == "level" ? kNeutralLevel : neutral_mean(name);
    spread[name] = name == "level" ? kNeutralLevelSpread : neutral_spread(name);
  }
  const auto before_mean = mean, before_spread = spread;
  for (int round = 0; round < 60; ++round) {
    std::map<std::string, std::vector<std::pair<double, double>>> seen;  // mean and variance per study
    for (const Series& s : all) {
      if (s.study == without) continue;
      const auto x = centred_logs(s);
      std::vector<std::string> of = s.keys;
      of.emplace_back("level");
      study::LawBelief belief;
      for (const std::string& k : of) {
        belief.exponent.push_back(mean[k]);
        belief.exponent_sd.push_back(spread[k]);
      }
      std::vector<study::LawTrial> trials;
      for (std::size_t i = 0; i < x.size(); ++i) {
        auto row = x[i];
        row.push_back(1.0);
        double expected = 0.0;
        for (std::size_t k = 0; k < row.size(); ++k) expected += belief.exponent[k] * row[k];
        trials.push_back({row, s.ln_diameter[i], 0.0, -1});
        belief.expected.push_back(expected);
        belief.level.push_back(0);
      }
      const study::LawExponents after = study::TrialLaw(trials, {belief}).exponents();
      for (std::size_t k = 0; k < of.size(); ++k) seen[of[k]].emplace_back(after.mean[k], after.sd[k] * after.sd[k]);
    }
    for (const std::string& name : names) {
      const double count = static_cast<double>(seen[name].size());
      double sum = kStudiesBelieved * before_mean.at(name);
      for (const auto& one : seen[name]) sum += one.first;
      mean[name] = sum / (count + kStudiesBelieved);
      double square = kSpreadsBelieved * before_spread.at(name) * before_spread.at(name);
      for (const auto& [m, v] : seen[name]) square += (m - mean[name]) * (m - mean[name]) + v;
      spread[name] = std::sqrt(square / (count + kSpreadsBelieved));
    }
  }
  Prior out;
  out.level = {mean["level"], spread["level"]};
  for (const Column& c : kColumns) {
    const study::PublishedExponent* known = study::published_exponent(c.key);
    out.exponents.push_back(
        {c.key, known->words, mean[c.key], spread[c.key], mean[c.key], spread[c.key], "other studies"});
    if (known->torn != known->line) {  // one line: from the balance of mass, not from these studies
      out.exponents.back().line = known->line;
      out.exponents.back().line_sd = known->line_sd;
    }
  }
  return out;
}

double Draws::uniform() {
  state_ ^= state_ << 13U;
  state_ ^= state_ >> 7U;
  state_ ^= state_ << 17U;
  return static_cast<double>(state_ >> 11U) * 0x1.0p-53;
}
double Draws::normal() {
  const double u = std::max(uniform(), 1e-300), v = uniform();
  return std::sqrt(-2.0 * std::log(u)) * std::cos(6.283185307179586 * v);
}
std::size_t Draws::below(std::size_t count) {
  return std::min(count - 1, static_cast<std::size_t>(uniform() * static_cast<double>(count)));
}
std::vector<std::size_t> Draws::some(std::size_t count, std::size_t of) {
  std::vector<std::size_t> all(of);
  for (std::size_t i = 0; i < of; ++i) all[i] = i;
  for (std::size_t i = 0; i < count; ++i) std::swap(all[i], all[i + below(of - i)]);
  all.resize(count);
  return all;
}

namespace {

study::StudyInput study_of(const std::vector<std::string>& keys) {
  study::StudyInput input;
  for (const std::string& key : keys) input.settings.push_back({key, key, false});
  return input;
}

// Least squares on the logarithms about their centre, of least norm where the trials tell less.
double regression(std::vector<std::vector<double>> x, const std::vector<double>& y, std::vector<double> at) {
  for (std::size_t k = 0; k < at.size(); ++k) {
    double sum = 0.0;
    for (const auto& row : x) sum += std::log(row[k]);
    const double centre = std::exp(sum / static_cast<double>(x.size()));
    for (auto& row : x) row[k] /= centre;
    at[k] /= centre;
  }
  return study::power_law(
      study::fit_power_law(x, y, std::vector<double>(y.size(), 1.0), std::vector<bool>(at.size(), true)), at);
}

// What a law of normal beliefs with chosen numbers, no physics and no study behind it, predicts: the level of 0.37 um
// within a factor e^0.75, overpressure -0.2 +- 0.4, concentration 1.3 +- 0.7, feed 0 +- 0.25, distance 0.1 +- 0.25,
// scatter about 0.2 within a factor e^0.5 (own judgement; the bar that the law has to pass).
double chosen_beliefs(const std::vector<std::string>& keys, const std::vector<std::vector<double>>& x,
                      const std::vector<double>& y, const std::vector<double>& at) {
  const std::map<std::string, std::pair<double, double>> chosen{{"operation.gas_overpressure", {-0.2, 0.4}},
                                                                {"solution.concentration", {1.3, 0.7}},
                                                                {"operation.feed_rate", {0.0, 0.25}},
                                                                {"operation.collection_distance", {0.1, 0.25}}};
  constexpr double kLevel = -14.8098, kLevelSpread = 0.75;  // ln(0.37 um)
  study::LawBelief belief;
  study::LawTarget target;
  belief.level_sd = kLevelSpread;
  std::vector<study::LawTrial> trials(y.size());
  belief.expected.assign(y.size(), kLevel);
  belief.level.assign(y.size(), 0);
  double expected = kLevel;
  for (std::size_t k = 0; k < keys.size(); ++k) {
    const auto [mean, sd] = chosen.at(keys[k]);
    belief.exponent.push_back(mean);
    belief.exponent_sd.push_back(sd);
    double centre = 0.0;
    for (const auto& row : x) centre += std::log(row[k]) / static_cast<double>(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
      trials[i].x.push_back(std::log(x[i][k]) - centre);
      belief.expected[i] += mean * trials[i].x.back();
    }
    target.x.push_back(std::log(at[k]) - centre);
    expected += mean * target.x.back();
  }
  for (std::size_t i = 0; i < y.size(); ++i) trials[i].ln_diameter = y[i];
  target.branches = {{{1.0, expected, 0}}};
  study::LawScatter scatter;
  scatter.median = 0.2;
  scatter.log_sd = 0.5;
  scatter.remainder = {0.0};
  scatter.remainder_weight = {1.0};
  return study::TrialLaw(trials, {belief}, scatter).predict(target).mean;
}

}  // namespace

Score judge(const Series& series, const Prior& prior, std::size_t trials, std::size_t draws, std::uint64_t seed) {
  Draws random(seed);
  Score out{series.study, trials, series.ln_diameter.size(), 0.0, 0.0, 0.0, 0.0, 0.0};
  double count = 0.0;
  for (std::size_t draw = 0; draw < draws; ++draw) {
    const std::vector<std::size_t> chosen = random.some(trials, series.ln_diameter.size());
    study::StudyInput input = study_of(series.keys);
    input.exponents = prior.exponents;
    input.level = prior.level;
    std::vector<std::vector<double>> x;
    std::vector<double> y;
    double mean = 0.0;
    for (const std::size_t i : chosen) {
      input.trials.push_back({"", series.settings[i], series.ln_diameter[i], 0.0, "", {}, 0.0});
      x.push_back(series.settings[i]);
      y.push_back(series.ln_diameter[i]);
      mean += y.back() / static_cast<double>(trials);
    }
    const study::TrialStudy study(std::move(input));
    for (std::size_t i = 0; i < series.ln_diameter.size(); ++i) {
      if (std::find(chosen.begin(), chosen.end(), i) != chosen.end()) continue;
      const double truth = series.ln_diameter[i];
      const study::LawPrediction p = study.predict(series.settings[i], {});
      const double r = regression(x, y, series.settings[i]);
      const double c = chosen_beliefs(series.keys, x, y, series.settings[i]);
      out.law += (truth - p.median) * (truth - p.median);
      out.chosen += (truth - c) * (truth - c);
      out.regression += (truth - r) * (truth - r);
      out.mean += (truth - mean) * (truth - mean);
      out.coverage += truth >= p.low && truth <= p.high ? 1.0 : 0.0;
      count += 1.0;
    }
  }
  out.law = std::sqrt(out.law / count);
  out.chosen = std::sqrt(out.chosen / count);
  out.regression = std::sqrt(out.regression / count);
  out.mean = std::sqrt(out.mean / count);
  out.coverage /= count;
  return out;
}

double prior_coverage(const Series& series, const Prior& prior) {
  const auto x = centred_logs(series);
  double inside = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    study::LawBelief belief;
    study::LawTarget target;
    target.x = x[i];
    double expected = prior.level.mean;
    belief.level_sd = prior.level.sd;
    for (std::size_t k = 0; k < series.keys.size(); ++k) {
      const auto one = std::find_if(prior.exponents.begin(), prior.exponents.end(),
                                    [&](const auto& e) { return e.key == series.keys[k]; });
      belief.exponent.push_back(one->torn);
      belief.exponent_sd.push_back(one->torn_sd);
      expected += one->torn * x[i][k];
    }
    target.branches = {{{1.0, expected, 0}}};
    const study::LawPrediction p = study::TrialLaw({}, {belief}).predict(target);
    inside += series.ln_diameter[i] >= p.low && series.ln_diameter[i] <= p.high ? 1.0 : 0.0;
  }
  return inside / static_cast<double>(x.size());
}

namespace {

struct Knob {
  const char* key;
  double low, high;
};
constexpr Knob kSpeed{"operation.rotation_speed", 6000.0, 12000.0}, kPressure{"operation.gas_overpressure", 0.05, 0.3},
    kConcentration{"solution.concentration", 10.0, 20.0}, kDistance{"operation.collection_distance", 80.0, 250.0},
    kOrifice{"vessel.orifice_diameter", 0.2, 0.8}, kFeed{"operation.feed_rate", 1.0, 10.0};
const std::vector<std::vector<Knob>> kRigs{{kSpeed, kPressure, kConcentration},
                                           {kSpeed, kPressure, kConcentration, kDistance},
                                           {kSpeed, kPressure, kConcentration, kOrifice},
                                           {kPressure, kConcentration, kFeed},
                                           {kSpeed, kPressure, kConcentration, kFeed}};
constexpr double kLineShare = 0.3;  // of the invented rigs whose feed matters
constexpr std::size_t kLevels = 4;  // per setting, evenly in the logarithm

double believed_exponent(const std::string& key, bool line, Draws& random) {
  const study::PublishedExponent* one = study::published_exponent(key);
  return line ? one->line + one->line_sd * random.normal() : one->torn + one->torn_sd * random.normal();
}

// Spreads of orifice and distance are not part of that summary: own judgement.
double summary_exponent(const std::string& key, bool line, Draws& random) {
  if (key == kSpeed.key) return -0.3 - 0.7 * random.uniform();
  if (key == kConcentration.key) return 1.3 + 0.3 * random.normal();
  if (key == kPressure.key) return -0.2 + 0.35 * random.normal();
  if (key == kFeed.key) return (line ? 0.5 : 0.0) + 0.1 * random.normal();
  if (key == kOrifice.key) return 0.3 + 0.15 * random.normal();
  return 0.1 * random.normal();
}

double median(std::vector<double> x) {
  std::nth_element(x.begin(), x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2), x.end());
  return x[x.size() / 2];
}

}  // namespace

std::vector<Recovery> recover(std::size_t laws, std::uint64_t seed, Drawn drawn) {
  Draws random(seed);
  std::vector<Recovery> out;
  std::map<std::size_t, std::vector<double>> law, plain;
  std::map<std::size_t, double> inside, count;
  constexpr std::size_t kNext = 10;  // next trials per law, so that the median hangs less on which one it is
  for (std::size_t l = 0; l < laws; ++l) {
    const std::vector<Knob>& rig = kRigs[l % kRigs.size()];
    std::vector<std::string> keys;
    std::vector<double> exponent;
    const bool line = random.uniform() < kLineShare;
    for (const Knob& knob : rig) {
      keys.emplace_back(knob.key);
      exponent.push_back(drawn == Drawn::believed ? believed_exponent(knob.key, line, random)
                                                  : summary_exponent(knob.key, line, random));
    }
    const double noise = 0.05 + 0.1 * random.uniform();
    const double level = study::torn_level().mean + study::torn_level().sd * random.normal();
    std::vector<std::vector<double>> settings;
    std::vector<double> y;
    for (std::size_t i = 0; i < 8 + kNext; ++i) {
      std::vector<double> at;
      double sum = level + noise * random.normal();
      for (std::size_t k = 0; k < rig.size(); ++k) {
        const double part = static_cast<double>(random.below(kLevels)) / (kLevels - 1);
        at.push_back(rig[k].low * std::pow(rig[k].high / rig[k].low, part));
        sum += exponent[k] * std::log(rig[k].high / rig[k].low) * (part - 0.5);
      }
      settings.push_back(at);
      y.push_back(sum);
    }
    for (const std::size_t trials : {3U, 5U, 8U}) {
      study::StudyInput input = study_of(keys);
      input.probability_line = kLineShare;
      for (std::size_t i = 0; i < trials; ++i) input.trials.push_back({"", settings[i], y[i], 0.0, "", {}, 0.0});
      const study::TrialStudy study(std::move(input));
      const std::vector<std::vector<double>> x(settings.begin(),
                                               settings.begin() + static_cast<std::ptrdiff_t>(trials));
      const std::vector<double> known(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(trials));
      for (std::size_t next = 8; next < 8 + kNext; ++next) {
        const study::LawPrediction p = study.predict(settings[next], {});
        law[trials].push_back(std::abs(y[next] - p.median));
        plain[trials].push_back(std::abs(y[next] - regression(x, known, settings[next])));
        inside[trials] += y[next] >= p.low && y[next] <= p.high ? 1.0 : 0.0;
        count[trials] += 1.0;
      }
    }
  }
  for (const auto& [trials, errors] : law)
    out.push_back({trials, median(errors), median(plain[trials]), inside[trials] / count[trials]});
  return out;
}

}  // namespace whorl::published
