#include "whorl/model/diameters.hpp"

#include <algorithm>
#include <cmath>

#include "model/normal.hpp"

namespace whorl::model {
namespace {

struct Moments {
  double mean{}, sd{};
};

Moments moments(std::span<const double> x) {
  Moments m;
  for (const double v : x) m.mean += v;
  m.mean /= static_cast<double>(x.size());
  if (x.size() < 2) return m;
  double sum = 0.0;
  for (const double v : x) sum += (v - m.mean) * (v - m.mean);
  m.sd = std::sqrt(sum / static_cast<double>(x.size() - 1));
  return m;
}

double quantile(const std::vector<double>& sorted, double q) {
  const double at = q * static_cast<double>(sorted.size() - 1);
  const auto i = static_cast<std::size_t>(at);
  return i + 1 < sorted.size() ? sorted[i] + (at - static_cast<double>(i)) * (sorted[i + 1] - sorted[i])
                               : sorted.back();
}

std::vector<double> sorted_copy(std::span<const double> x) {
  std::vector<double> out(x.begin(), x.end());
  std::sort(out.begin(), out.end());
  return out;
}

}  // namespace

AndersonDarling anderson_darling(std::span<const double> values) {
  AndersonDarling out;
  const std::size_t n = values.size();
  const Moments m = moments(values);
  if (n < 8 || !(m.sd > 1e-12 * std::abs(m.mean))) return out;
  const std::vector<double> x = sorted_copy(values);
  const auto count = static_cast<double>(n);
  double sum = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double below = std::max(normal_below(x[i], m.mean, m.sd), 1e-300);
    const double above = std::max(normal_above(x[n - 1 - i], m.mean, m.sd), 1e-300);
    sum += (2.0 * static_cast<double>(i) + 1.0) * (std::log(below) + std::log(above));
  }
  const double a = (-count - sum / count) * (1.0 + 0.75 / count + 2.25 / (count * count));
  out.made = true;
  out.statistic = a;
  if (a >= 0.6) {
    out.p_value = a < 153.0 ? std::exp(1.2937 - 5.709 * a + 0.0186 * a * a) : 0.0;
  } else if (a > 0.34) {
    out.p_value = std::exp(0.9177 - 4.279 * a - 1.38 * a * a);
  } else if (a > 0.2) {
    out.p_value = 1.0 - std::exp(-8.318 + 42.796 * a - 59.938 * a * a);
  } else {
    out.p_value = 1.0 - std::exp(-13.436 + 101.14 * a - 223.73 * a * a);
  }
  return out;
}

Interval mean_interval(double mean, double sd, std::size_t count, double level) {
  if (count < 2) return {mean, mean};
  const auto n = static_cast<double>(count);
  const double t = student_point(n - 1.0, 0.5 + 0.5 * level);
  const double half = t * sd / std::sqrt(n);
  return {mean - half, mean + half};
}

std::size_t measurements_needed(double mean, double sd, double share, double level) {
  const double ratio = sd / (share * mean);
  double n = 2.0;
  for (int round = 0; round < 50; ++round) {  // t depends on n
    const double t = student_point(std::max(n - 1.0, 1.0), 0.5 + 0.5 * level);
    const double next = std::clamp(std::ceil(t * t * ratio * ratio), 2.0, 1e9);
    if (next == n) break;
    n = round < 25 ? next : std::max(n, next);  // two neighbours may alternate: the larger holds
  }
  return static_cast<std::size_t>(n);
}

Histogram histogram(std::span<const double> values) {
  Histogram out;
  const std::vector<double> x = sorted_copy(values);
  const double range = x.back() - x.front();
  const double step = 2.0 * (quantile(x, 0.75) - quantile(x, 0.25)) / std::cbrt(static_cast<double>(x.size()));
  const double wanted = step > 0.0 && range > 0.0 ? std::ceil(range / step) : 5.0;
  const auto bins = static_cast<std::size_t>(std::clamp(wanted, 5.0, 60.0));
  out.width = range > 0.0 ? range / static_cast<double>(bins) : 0.1 * x.front() / static_cast<double>(bins);
  out.start = range > 0.0 ? x.front() : x.front() - 0.5 * out.width * static_cast<double>(bins);
  out.count.assign(bins, 0);
  for (const double v : x) {
    const auto k = static_cast<std::size_t>(std::max(0.0, (v - out.start) / out.width));
    ++out.count[std::min(k, bins - 1)];
  }
  return out;
}

DiameterSummary summarise_diameters(std::span<const double> values_m) {
  DiameterSummary s;
  s.count = values_m.size();
  const std::vector<double> x = sorted_copy(values_m);
  std::vector<double> logs(x.size());
  double squares = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    logs[i] = std::log(x[i]);
    squares += x[i] * x[i];
  }
  const bool spread = x.back() > x.front();
  Moments plain = moments(x);
  Moments log = moments(logs);
  if (!spread) plain.sd = log.sd = 0.0;  // what the sums leave is rounding
  s.mean_m = plain.mean;
  s.sd_m = plain.sd;
  s.geometric_mean_m = std::exp(log.mean);
  s.geometric_sd = std::exp(log.sd);
  s.least_m = x.front();
  s.lower_quartile_m = quantile(x, 0.25);
  s.median_m = quantile(x, 0.5);
  s.upper_quartile_m = quantile(x, 0.75);
  s.most_m = x.back();
  s.mass_mean_m = std::sqrt(squares / static_cast<double>(x.size()));
  s.mean_95_m = mean_interval(plain.mean, plain.sd, s.count, 0.95);
  const Interval g = mean_interval(log.mean, log.sd, s.count, 0.95);
  s.geometric_95_m = {std::exp(g.low), std::exp(g.high)};
  s.normal = anderson_darling(x);
  s.lognormal = anderson_darling(logs);
  s.needed_5_percent = spread ? measurements_needed(s.mean_m, s.sd_m, 0.05, 0.95) : 0;
  return s;
}

double kolmogorov_distance(std::span<const double> values_m, std::span<const double> curve_m,
                           std::span<const double> share) {
  const std::vector<double> x = sorted_copy(values_m);
  const auto below = [&](double d) {
    if (d <= curve_m.front()) return d < curve_m.front() ? 0.0 : share.front();
    if (d >= curve_m.back()) return 1.0;
    const auto i = static_cast<std::size_t>(std::upper_bound(curve_m.begin(), curve_m.end(), d) - curve_m.begin());
    const double w = (d - curve_m[i - 1]) / (curve_m[i] - curve_m[i - 1]);
    return share[i - 1] + w * (share[i] - share[i - 1]);
  };
  double distance = 0.0;
  const auto n = static_cast<double>(x.size());
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double f = below(x[i]);
    distance =
        std::max({distance, std::abs(f - static_cast<double>(i) / n), std::abs(static_cast<double>(i + 1) / n - f)});
  }
  return distance;
}

PopulationChoice choose_population(std::span<const double> values, double prior, const PopulationModel& first,
                                   const PopulationModel& second) {
  PopulationChoice out;
  const double n = static_cast<double>(values.size());
  double sum = 0.0;
  for (const double v : values) sum += std::log(v);
  const double mean = sum / n;
  double squares = 0.0;
  std::size_t nearer = 0;
  const double a = std::log(first.median_m);
  const double b = std::log(second.median_m);
  for (const double v : values) {
    const double x = std::log(v);
    squares += (x - mean) * (x - mean);
    if (std::abs(x - a) < std::abs(x - b)) ++nearer;
  }
  const double error2 = values.size() > 1 ? squares / (n - 1.0) / n : 0.0;
  const auto log_likelihood = [&](double at, double sd) {
    const double variance = sd * sd + error2;
    return -0.5 * (mean - at) * (mean - at) / variance - 0.5 * std::log(variance);
  };
  const double odds = log_likelihood(a, first.log_sd) - log_likelihood(b, second.log_sd);
  out.probability_first = prior <= 0.0   ? 0.0
                          : prior >= 1.0 ? 1.0
                                         : 1.0 / (1.0 + (1.0 - prior) / prior * std::exp(-odds));
  out.share_first = static_cast<double>(nearer) / n;
  return out;
}

}  // namespace whorl::model
