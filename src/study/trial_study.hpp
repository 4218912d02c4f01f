// The trials of a laboratory as a study: which law holds for them (physics, published exponents, their own power law,
// their mean), how good it is, and what it says of a new setting.
#pragma once
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "whorl/study/published_exponents.hpp"
#include "whorl/study/trial_law.hpp"

namespace whorl::study {

/// What the model says of one setting: ln of the diameter of torn threads and of one line [ln m], and which of them it
/// is. A model with one answer states it twice, with any probability.
struct TwoAnswers {
  double ln_fine{};
  double ln_coarse{};
  double probability_fine{};
};

/// A setting that varies over the trials.
struct StudySetting {
  std::string key;    ///< of the case file; for a plain covariate the name of its column
  std::string words;  ///< for messages: "rotation_speed_rpm"
  bool physical{};    ///< the model knows it
};

struct StudyTrial {
  std::string name;
  std::vector<double> settings;     ///< same order as the study's settings; 0 or more
  double ln_diameter{};             ///< ln m
  double variance{};                ///< known, of ln_diameter
  std::string batch;                ///< empty: none stated
  std::optional<TwoAnswers> model;  ///< empty: no physics, or no diameter there
  double ln_odds_fine{};  ///< what was seen besides the mean (thick fibres, gas) says of torn threads against one line
};

/// d ln d/d ln setting of the model about the centre of the trials, for the settings of the study.
struct ModelSlopes {
  std::vector<double> fine, coarse;
};

/// A trial without a diameter that says all the same which of the two answers held.
struct StudyHint {
  double probability_fine{};  ///< of the model
  double ln_odds_fine{};
};

enum class LawKind { turned, model, published, plain, mean };
/// "the model, its directions turned to the published ones" and so on.
[[nodiscard]] const char* law_words(LawKind kind) noexcept;

struct StudyInput {
  std::vector<StudySetting> settings;
  std::vector<StudyTrial> trials;
  std::vector<StudyHint> hints;
  std::optional<ModelSlopes> slopes;         ///< with physics
  double probability_line{0.05};             ///< one line rather than torn threads, where no physics says it
  double stated_scatter{};                   ///< between repeated trials as the user states it; 0: learned
  std::vector<PublishedExponent> exponents;  ///< empty: published_exponents(); others for a study left out
  std::optional<PublishedLevel> level;       ///< likewise
};

/// One way of predicting, judged.
struct JudgedLaw {
  LawKind kind{};
  double probability{};  ///< by evidence, among the laws tried
  double left_out{};     ///< root mean square of ln(measured/predicted), each setting from the others
  double log_density{};  ///< mean ln density of the same
};

/// Exponent of one setting before and after.
struct StudyExponent {
  std::string key, words;
  std::optional<double> model;
  std::optional<double> published, published_sd;
  double measured{}, sd{};  ///< after the trials, by the law that is used
  double low{}, high{};     ///< 90 %
  double unexplained{};     ///< measured - model: what the model cannot explain
};

class TrialStudy {
 public:
  /// Error: std::invalid_argument for no trials, or more than 300
  explicit TrialStudy(StudyInput input);

  [[nodiscard]] const StudyInput& input() const { return input_; }
  [[nodiscard]] LawKind winner() const { return winner_; }
  [[nodiscard]] const std::vector<JudgedLaw>& laws() const { return judged_; }
  [[nodiscard]] const TrialLaw& law() const { return *law_; }
  [[nodiscard]] std::vector<StudyExponent> exponents() const;
  /// Probability that one trial was torn threads, after all of them. Empty without two answers.
  [[nodiscard]] std::vector<double> probability_fine() const;
  /// The same at a new setting.
  [[nodiscard]] std::optional<double> probability_fine(const std::optional<TwoAnswers>& model) const;
  [[nodiscard]] std::vector<LeftOut> left_out() const { return left_out_; }

  /// ln d at a setting. `variance`: more doubt from outside (settings that never varied).
  [[nodiscard]] LawPrediction predict(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                                      double variance = 0.0) const;
  [[nodiscard]] double narrowing(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                                 const std::vector<std::vector<double>>& further) const;
  /// Empty: the law holds the trials as well as their scatter allows; else the sentence that says it does not.
  [[nodiscard]] std::string misfit() const;

  /// ln of a setting about the centre; for a setting that is zero somewhere ln(1 + value/smallest).
  [[nodiscard]] std::vector<double> coordinates(const std::vector<double>& settings) const;
  [[nodiscard]] double centre(std::size_t setting) const;
  /// Added to a setting that is zero in some trial, so that it has a logarithm; else 0.
  [[nodiscard]] double shift(std::size_t setting) const { return smallest_[setting]; }

 private:
  struct Candidate {
    LawKind kind{};
    double odds{};
    std::vector<LawBelief> beliefs;
    /// Per belief: a trial is fine when the model's probability of it is above a hidden threshold, evenly distributed
    /// and the same for all trials; here the interval it lies in. Empty: one answer.
    std::vector<std::pair<double, double>> threshold;
  };
  void find_centres();
  [[nodiscard]] std::vector<Candidate> candidates() const;
  [[nodiscard]] Candidate with_physics(LawKind kind) const;
  [[nodiscard]] Candidate without_physics() const;
  [[nodiscard]] Candidate plain(bool exponents) const;
  [[nodiscard]] double expected(LawKind kind, bool fine, const std::vector<double>& x,
                                const std::optional<TwoAnswers>& model) const;
  [[nodiscard]] LawTarget target(const std::vector<double>& settings, const std::optional<TwoAnswers>& model,
                                 double variance) const;
  [[nodiscard]] const PublishedExponent* published(std::size_t setting) const;

  StudyInput input_;
  std::vector<LawTrial> trials_;
  std::vector<double> centre_, smallest_;  ///< smallest_ 0: logarithmic
  std::vector<double> lowest_;             ///< below it a logarithmic setting counts as this
  double model_level_fine_{}, model_level_coarse_{};
  bool physics_{};
  LawKind winner_{};
  Candidate used_;
  std::vector<JudgedLaw> judged_;
  std::vector<LeftOut> left_out_;
  std::unique_ptr<TrialLaw> law_;
};

}  // namespace whorl::study
