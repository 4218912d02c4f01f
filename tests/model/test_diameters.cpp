// Statistics of measured diameters against published values and closed forms.
#include <cmath>
#include <random>
#include <vector>

#include "catch.hpp"
#include "whorl/model/diameters.hpp"

using namespace whorl::model;

TEST_CASE("diameters: moments of NIST StRD univariate data", "[model][eq:diameter-summary]") {
  // NIST Statistical Reference Datasets, univariate (from memory): NumAcc1 is 10000001, 10000003, 10000002: mean 10000002, sd 1
  const DiameterSummary s = summarise_diameters(std::vector<double>{10000001.0, 10000003.0, 10000002.0});
  CHECK(s.mean_m == 10000002.0);
  CHECK_THAT(s.sd_m, WithinRel(1.0, 1e-9));
  CHECK(s.median_m == 10000002.0);
  // NumAcc3: 1000000.2 with 1000000.1 and 1000000.3 alternating, 1001 values: mean 1000000.2, sd 0.1
  std::vector<double> x{1000000.2};
  for (int i = 0; i < 500; ++i) {
    x.push_back(1000000.1);
    x.push_back(1000000.3);
  }
  const DiameterSummary n = summarise_diameters(x);
  CHECK_THAT(n.mean_m, WithinRel(1000000.2, 1e-13));
  CHECK_THAT(n.sd_m, WithinRel(0.1, 1e-8));
}

TEST_CASE("diameters: geometric mean and interval by hand", "[model][eq:diameter-summary][eq:mean-interval]") {
  // 1, 2, 4: geometric mean 2, ln sd = ln 2
  const DiameterSummary s = summarise_diameters(std::vector<double>{1.0, 2.0, 4.0});
  CHECK_THAT(s.geometric_mean_m, WithinRel(2.0, 1e-14));
  CHECK_THAT(s.geometric_sd, WithinRel(2.0, 1e-12));
  CHECK_THAT(s.mass_mean_m, WithinRel(std::sqrt(7.0), 1e-14));
  // t(9 degrees of freedom, 97.5 %) = 2.262 (any table)
  const Interval i = mean_interval(10.0, 2.0, 10, 0.95);
  CHECK_THAT(i.high - 10.0, WithinRel(2.262 * 2.0 / std::sqrt(10.0), 2e-4));
  CHECK_THAT(10.0 - i.low, WithinRel(i.high - 10.0, 1e-12));
  CHECK(summarise_diameters(std::vector<double>{3.0}).sd_m == 0.0);
}

TEST_CASE("diameters: measurements needed", "[model][eq:measurements-needed]") {
  // many: (1.96 x 0.3/0.05)^2 = 138.3; with t one or two more
  const std::size_t n = measurements_needed(1.0, 0.3, 0.05, 0.95);
  CHECK(n >= 139);
  CHECK(n <= 142);
  // it is enough, and two fewer are not
  const auto half = [](std::size_t k) { return mean_interval(1.0, 0.3, k, 0.95).high - 1.0; };
  CHECK(half(n) <= 0.05);
  CHECK(half(n - 2) > 0.05);
  CHECK(measurements_needed(1.0, 0.0, 0.05, 0.95) == 2);
}

TEST_CASE("diameters: Anderson-Darling rejects at its published levels", "[model][eq:anderson-darling]") {
  // D'Agostino & Stephens table 4.7: A* above 0.631, 0.752, 1.035 in 10, 5, 1 % of normal samples. 20,000 samples: sd of the shares
  // 0.2, 0.15, 0.07 %; limits at 4 sd
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal(5.0, 1.0);
  const int samples = 20000;
  int over10 = 0, over5 = 0, over1 = 0, p5 = 0;
  std::vector<double> x(40);
  for (int k = 0; k < samples; ++k) {
    for (double& v : x) v = normal(random);
    const AndersonDarling t = anderson_darling(x);
    over10 += t.statistic > 0.631;
    over5 += t.statistic > 0.752;
    over1 += t.statistic > 1.035;
    p5 += t.p_value < 0.05;
  }
  CHECK_THAT(over10 / double(samples), WithinAbs(0.10, 0.0085));
  CHECK_THAT(over5 / double(samples), WithinAbs(0.05, 0.0062));
  CHECK_THAT(over1 / double(samples), WithinAbs(0.01, 0.0028));
  CHECK_THAT(p5 / double(samples), WithinAbs(0.05, 0.0062));
  // strongly log-normal values are no normal ones, and their logarithms are
  for (double& v : x) v = std::exp(normal(random));
  const DiameterSummary s = summarise_diameters(x);
  CHECK(s.normal.p_value < 0.01);
  CHECK(s.lognormal.p_value > 0.01);
  CHECK_FALSE(anderson_darling(std::vector<double>(20, 1.0)).made);
}

TEST_CASE("diameters: Anderson-Darling of a published sample, against SciPy", "[model][eq:anderson-darling]") {
  // Fifty two-digit numbers of a telephone book: Conover, Practical Nonparametric Statistics (1980), pages 364 and 195, the example of the
  // IMSL documentation of this test, read there in part, completed from memory. The statistic by scipy.stats.anderson 1.10.1:
  // 0.33387422507 (normal), 0.79982078296 (of the logarithms); the factor for n = 50 as in the theory page.
  const std::vector<double> x{23, 36, 54, 61, 73, 23, 37, 54, 61, 73, 24, 40, 56, 62, 74, 27, 42, 57, 63, 75, 29, 43, 57, 64, 77,
                              31, 43, 58, 65, 81, 32, 44, 58, 66, 87, 33, 45, 58, 68, 89, 33, 48, 58, 68, 93, 35, 48, 59, 70, 97};
  const double factor = 1.0 + 0.75 / 50.0 + 2.25 / 2500.0;
  const DiameterSummary s = summarise_diameters(x);
  CHECK_THAT(s.mean_m, WithinRel(55.04, 1e-14));
  CHECK_THAT(s.normal.statistic, WithinRel(0.33387422507 * factor, 1e-9));
  CHECK_THAT(s.lognormal.statistic, WithinRel(0.79982078296 * factor, 1e-9));
  CHECK(s.normal.p_value > 0.05);     // "fails to reject ... at the .05 level", IMSL
  CHECK(s.lognormal.p_value < 0.05);  // 0.812 is above 0.752
}

TEST_CASE("diameters: histogram holds every value, by the stated rule", "[model][eq:histogram-bins]") {
  // 0..99: quartile range 49.5, n^(1/3) 4.64: width 21.3, so 99/21.3 = 4.6 -> 5 bins
  std::vector<double> x(100);
  for (std::size_t i = 0; i < 100; ++i) x[i] = static_cast<double>(i);
  const Histogram h = histogram(x);
  CHECK(h.count.size() == 5);
  std::size_t sum = 0;
  for (const std::size_t c : h.count) sum += c;
  CHECK(sum == 100);
  CHECK(h.count.front() == 20);
  const Histogram same = histogram(std::vector<double>{2.0, 2.0, 2.0});
  std::size_t total = 0;
  for (const std::size_t c : same.count) total += c;
  CHECK(total == 3);
  CHECK(same.width > 0.0);
}

TEST_CASE("diameters: Kolmogorov distance by hand", "[model][eq:kolmogorov-distance]") {
  // uniform curve 0..1; values 0.2 and 0.4: steps 0 -> 1/2 at 0.2, 1/2 -> 1 at 0.4: largest gap 1 - 0.4
  const std::vector<double> d{0.0, 1.0}, share{0.0, 1.0};
  CHECK_THAT(kolmogorov_distance(std::vector<double>{0.2, 0.4}, d, share), WithinRel(0.6, 1e-14));
  CHECK_THAT(kolmogorov_distance(std::vector<double>{0.5}, d, share), WithinRel(0.5, 1e-14));
  CHECK_THAT(kolmogorov_distance(std::vector<double>{5.0}, d, share), WithinRel(1.0, 1e-14));
}

TEST_CASE("diameters: values that are all alike have no spread, and tell no number that is needed",
          "[model][eq:diameter-summary]") {
  const DiameterSummary s = summarise_diameters(std::vector<double>(40, 0.1e-6));  // 0.1 has no exact double
  CHECK(s.sd_m == 0.0);
  CHECK(s.geometric_sd == 1.0);
  CHECK(s.needed_5_percent == 0);
}
