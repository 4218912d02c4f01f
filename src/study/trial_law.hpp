// A law of ln(diameter) learned from a handful of trials: what is believed beforehand, and what the trials make of it.
// Closed form.
#pragma once
#include <cstddef>
#include <memory>
#include <vector>

namespace whorl::study {

/// One measured diameter at one setting, in the coordinates of the law.
struct LawTrial {
  std::vector<double> x;  ///< logarithms of the settings, about their centre
  double ln_diameter{};
  double variance{};  ///< of ln_diameter that is known: of a mean over single fibres
  int batch{-1};      ///< trials of one batch share an unknown shift; -1: no batches
};

/// One complete belief about the trials before they are looked at. Its expectation may come from physics, from
/// published exponents or from both; what is uncertain about it is a level and an exponent per coordinate.
struct LawBelief {
  double weight{1.0};
  std::vector<double> expected;     ///< ln d of every trial
  std::vector<int> level;           ///< trials with the same number share one unknown level
  double level_sd{};                ///< of ln d
  std::vector<double> exponent;     ///< in `expected` at the centre, per coordinate; only to report total exponents
  std::vector<double> exponent_sd;  ///< between studies
};

/// What is believed of scatter and remainder: a grid, so that everything else is closed form.
struct LawScatter {
  double median{0.10};                            ///< of ln d between repeated trials
  double log_sd{0.8};                             ///< of ln(scatter)
  std::vector<double> remainder{0.0, 0.15, 0.4};  ///< sd of the smooth part that no power law holds
  std::vector<double> remainder_weight{0.8, 0.1, 0.1};
  double remainder_length{0.3};              ///< change of ln(setting) over which it forgets
  std::vector<double> batch{0.1, 0.2, 0.4};  ///< sd between batches, alike probable
};

/// One way in which a new setting may come out under a belief.
struct LawBranch {
  double share{1.0};
  double expected{};  ///< ln d
  int level{};
};
struct LawTarget {
  std::vector<double> x;
  std::vector<std::vector<LawBranch>> branches;  ///< per belief, shares summing to 1
  double variance{};                             ///< more doubt about ln d, from outside the law
  int batch{-1};                                 ///< of the trials; -1: another one
};

struct LawPrediction {
  double mean{}, sd{};   ///< of ln d, with the scatter of one trial
  double median{};       ///< what to state: where two answers are open, the mean lies between them
  double low{}, high{};  ///< 5 and 95 % of it
  double law_sd{};       ///< of the law itself, without the scatter
  double law_low{}, law_high{};
};

/// Exponents after the trials.
struct LawExponents {
  std::vector<double> mean, sd;
  std::vector<std::vector<double>> covariance;
};

/// A trial that was predicted from the others.
struct LeftOut {
  double mean{}, sd{}, log_density{};
};

/// ln d_i = expected_i + level + sum_k delta_k x_ik + remainder(x_i) + batch + scatter, all Gaussian given the size of
/// scatter and remainder; these are averaged over a grid by evidence, and so are the beliefs.
/// Eq: trial-law
/// Valid: 0 to 300 trials; every belief and target of the same number of coordinates
/// Error: none for valid input; std::invalid_argument otherwise
/// Source: Gaussian linear model with a Gaussian-process remainder, Rasmussen & Williams, Gaussian Processes for
/// Machine Learning (2006), ch. 2 (from memory)
class TrialLaw {
 public:
  TrialLaw(std::vector<LawTrial> trials, std::vector<LawBelief> beliefs, const LawScatter& scatter = {});
  ~TrialLaw();
  TrialLaw(TrialLaw&&) noexcept;
  TrialLaw& operator=(TrialLaw&&) noexcept;

  /// ln of the probability density of the measured ln d under all beliefs together.
  [[nodiscard]] double log_evidence() const;
  /// Probability of every belief after the trials.
  [[nodiscard]] std::vector<double> belief_weights() const;
  [[nodiscard]] LawPrediction predict(const LawTarget& target) const;
  [[nodiscard]] LawExponents exponents() const;
  /// Root mean square of the scatter after the trials, and of the remainder.
  [[nodiscard]] double scatter() const;
  [[nodiscard]] double remainder() const;
  /// Every trial from the others; those at one setting are left out together.
  [[nodiscard]] std::vector<LeftOut> left_out() const;
  /// Standard deviation of the law at `target` with further trials at the settings `x` over the one without them;
  /// measured as well as the others.
  [[nodiscard]] double narrowing(const LawTarget& target, const std::vector<std::vector<double>>& x) const;

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace whorl::study
