// trial_law_tables [FILE [DRAWS [LAWS [SEED]]]]: rebuilds the published exponents and the tables of docs/calibrate.md
// from a table of published points.
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <exception>

#include "engine/published_series.hpp"

using namespace whorl;

namespace {

void print_prior(const published::Prior& prior) {
  std::printf("| setting | exponent of these studies | believed by the program |\n|---|---|---|\n");
  for (const auto& one : prior.exponents) {
    const study::PublishedExponent* used = study::published_exponent(one.key);
    std::printf("| %s | %+.2f +- %.2f | %+.2f +- %.2f |\n", std::string(one.words).c_str(), one.torn, one.torn_sd,
                used->torn, used->torn_sd);
  }
  std::printf("| level | %.2f um, factor %.1f | %.2f um, factor %.1f |\n\n", 1e6 * std::exp(prior.level.mean),
              std::exp(prior.level.sd), 1e6 * std::exp(study::torn_level().mean), std::exp(study::torn_level().sd));
}

void print_series(const std::vector<published::Series>& all, std::size_t draws, std::uint64_t seed) {
  std::printf(
      "| study (points) | trials | law | normal beliefs, chosen | regression | mean of the trials | in the 90 %% interval "
      "|\n|---|---|---|---|---|---|---|\n");
  for (const std::size_t trials : {3U, 5U, 8U}) {
    double law = 0.0, chosen = 0.0, regression = 0.0, mean = 0.0, coverage = 0.0, count = 0.0;
    for (const auto& series : all) {
      if (series.ln_diameter.size() < 9) continue;
      const published::Score s = judge(series, fit_prior(all, series.study), trials, draws, seed);
      std::printf("| %s (%zu) | %zu | %.2f | %.2f | %.2f | %.2f | %.0f %% |\n", s.study.c_str(), s.points, trials, s.law,
                  s.chosen, s.regression, s.mean, 100.0 * s.coverage);
      law += s.law, chosen += s.chosen, regression += s.regression, mean += s.mean, coverage += s.coverage, count += 1.0;
    }
    std::printf("| **mean of the series** | %zu | **%.3f** | %.3f | %.3f | %.3f | %.0f %% |\n", trials, law / count,
                chosen / count, regression / count, mean / count, 100.0 * coverage / count);
  }
  std::printf("\n");
}

}  // namespace

int main(int argc, char** argv) try {
  const std::string file = argc > 1 ? argv[1] : WHORL_SOURCE_DIR "/tests/reference/gas_spun_diameters.csv";
  const std::size_t draws = argc > 2 ? static_cast<std::size_t>(std::atol(argv[2])) : 200;
  const auto all = published::read_series(file);
  print_prior(published::fit_prior(all));
  const std::uint64_t seed = argc > 4 ? static_cast<std::uint64_t>(std::atol(argv[4])) : 1;
  print_series(all, draws, seed);
  double inside = 0.0, points = 0.0;
  for (const auto& series : all) {
    const double n = static_cast<double>(series.ln_diameter.size());
    inside += n * prior_coverage(series, fit_prior(all, series.study));
    points += n;
  }
  std::printf("Before any trial, study by study left out: %.0f %% of %.0f points in the 90 %% band.\n\n",
              100.0 * inside / points, points);
  std::printf("| invented laws | law | regression | in the 90 %% interval |\n|---|---|---|---|\n");
  for (const auto& r : published::recover(argc > 3 ? static_cast<std::size_t>(std::atol(argv[3])) : 200, seed))
    std::printf("| after %zu trials | %.1f %% | %.1f %% | %.0f %% |\n", r.trials, 100.0 * r.law, 100.0 * r.regression,
                100.0 * r.coverage);
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "%s\n", error.what());
  return 1;
}
