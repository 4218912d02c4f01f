// Statistics of measured diameters. One measurement where a fibre crosses a line or a field of view: the sample is
// weighted by length.
#pragma once
#include <cstddef>
#include <span>
#include <vector>

namespace whorl::model {

/// Anderson-Darling test of a normal distribution with mean and standard deviation from the sample.
/// Eq: anderson-darling
///   A2 = -n - 1/n sum (2i - 1)[ln F(x_i) + ln(1 - F(x_{n+1-i}))],  A* = A2 (1 + 0.75/n + 2.25/n2)
/// Valid: n >= 8; p-value an approximation in A*, critical values 0.631, 0.752, 1.035 at 10, 5 and 1 %
/// Error: `made` is false below 8 values or without spread
/// Source: D'Agostino & Stephens, Goodness-of-Fit Techniques (1986), table 4.7 and section 4.8.5 (from memory)
struct AndersonDarling {
  bool made{};
  double statistic{};  ///< A*
  double p_value{};
};
[[nodiscard]] AndersonDarling anderson_darling(std::span<const double> values);

/// Interval of a mean, with the chance `level` of covering it: mean +- t(n-1) s/sqrt(n).
/// Eq: mean-interval
/// Valid: independent measurements; close to normal, or many
/// Source: Student
struct Interval {
  double low{}, high{};
};
[[nodiscard]] Interval mean_interval(double mean, double sd, std::size_t count, double level);

/// Measurements after which the mean is known to +- `share` of itself at this level, for the scatter seen: n = (t
/// s/(share mean))^2.
/// Eq: measurements-needed
/// Source: mean-interval solved for n
[[nodiscard]] std::size_t measurements_needed(double mean, double sd, double share, double level);

/// Bins of equal width, by Freedman & Diaconis: 2 (quartile range)/n^(1/3), at least 5 and at most 60 of them.
/// Eq: histogram-bins
/// Source: Freedman & Diaconis, Z. Wahrscheinlichkeitstheorie 57 (1981) 453 (from memory)
struct Histogram {
  double start{}, width{};
  std::vector<std::size_t> count;
};
[[nodiscard]] Histogram histogram(std::span<const double> values);

struct DiameterSummary {
  std::size_t count{};
  double mean_m{}, sd_m{};               ///< sd with n - 1; 0 for a single value
  double geometric_mean_m{}, geometric_sd{1.0};
  double least_m{}, lower_quartile_m{}, median_m{}, upper_quartile_m{}, most_m{};
  double mass_mean_m{};                  ///< sqrt(<d^2>): the even fibre of the same mass per length
  Interval mean_95_m, geometric_95_m;
  AndersonDarling normal, lognormal;
  std::size_t needed_5_percent{};        ///< measurements for the mean to +- 5 % at 95 %
};
/// Eq: diameter-summary
/// Valid: at least one value, all positive
/// Source: definitions; quantiles by linear interpolation of the order statistics (type 7 of Hyndman & Fan 1996)
[[nodiscard]] DiameterSummary summarise_diameters(std::span<const double> values_m);

/// Largest distance between the share of measurements below a diameter and a model's cumulative curve through
/// (diameter, share).
/// Eq: kolmogorov-distance
/// Source: Kolmogorov
[[nodiscard]] double kolmogorov_distance(std::span<const double> values_m, std::span<const double> curve_m,
                                         std::span<const double> share);

/// One of two populations that a list of diameters may belong to.
struct PopulationModel {
  double median_m{};
  double log_sd{};  ///< doubt of its median for a laboratory: standard deviation of ln d
};
/// Which of two populations a list belongs to.
struct PopulationChoice {
  double probability_first{};  ///< of the whole list, after seeing it
  double share_first{};        ///< of the measurements that lie nearer to the first
};
/// Bayes' rule on the geometric mean of the list, whose own error is geometric sd/sqrt(n); each measurement goes to the
/// nearer median, in ln.
/// Eq: population-choice
/// Valid: both medians positive, 0 <= prior <= 1; the populations a factor 2 or more apart
/// Source: Bayes; normal in ln d: own choice
[[nodiscard]] PopulationChoice choose_population(std::span<const double> values_m, double prior_first,
                                                 const PopulationModel& first, const PopulationModel& second);

}  // namespace whorl::model
