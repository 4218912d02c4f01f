// Published series and invented laws, to rebuild what calibrate believes beforehand and to judge it. Used by the tests
// and by tests/engine/trial_law_tables.cpp.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "whorl/study/trial_study.hpp"

namespace whorl::published {

struct Series {
  std::string study, doi;
  std::vector<std::string> keys;              ///< settings that vary, as TrialStudy names them
  std::vector<std::vector<double>> settings;  ///< per point
  std::vector<double> ln_diameter;            ///< ln m
};

/// tests/reference/gas_spun_diameters.csv or a file like it.
[[nodiscard]] std::vector<Series> read_series(const std::string& file);

/// Exponents and level of other laboratories.
struct Prior {
  std::vector<study::PublishedExponent> exponents;
  study::PublishedLevel level;
};
/// Means and spreads between studies by expectation-maximisation, with weak beliefs that know no study (exponents 0,
/// concentration 1). A study of the given name is left out.
[[nodiscard]] Prior fit_prior(const std::vector<Series>& all, const std::string& without = {});

/// Numbers that do not depend on the library of the compiler.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : state_(seed * 2654435761U + 88172645463325252U) {}
  double uniform();  ///< 0 to 1
  double normal();
  std::size_t below(std::size_t count);
  std::vector<std::size_t> some(std::size_t count, std::size_t of);  ///< different ones

 private:
  std::uint64_t state_;
};

struct Score {
  std::string study;
  std::size_t trials{}, points{};
  double law{}, chosen{}, regression{}, mean{};  ///< root mean square of ln(measured/predicted)
  double coverage{};                   ///< of the 90 % intervals
};
/// `draws` times so many random points as trials, the rest predicted; prior of the other studies.
[[nodiscard]] Score judge(const Series& series, const Prior& prior, std::size_t trials, std::size_t draws,
                          std::uint64_t seed);
/// Share of the points of one study in the 90 % band of the prior of the others, before any trial.
[[nodiscard]] double prior_coverage(const Series& series, const Prior& prior);

struct Recovery {
  std::size_t trials{};
  double law{}, regression{};  ///< median of |ln(next/predicted)|
  double coverage{};
};
/// Whose exponents the invented laws are drawn from: the program's own beliefs, or a summary of published studies that
/// it was not built on (speed evenly from -0.3 to -1.0, concentration 1.3 +- 0.3, overpressure -0.2 +- 0.35, feed 0 +-
/// 0.1 or 0.5, orifice 0.3, distance about 0).
enum class Drawn { believed, summary };
/// Laws drawn so, noise 5 to 15 %, three or four settings that vary; the next trial predicted.
[[nodiscard]] std::vector<Recovery> recover(std::size_t laws, std::uint64_t seed, Drawn drawn = Drawn::believed);

}  // namespace whorl::published
