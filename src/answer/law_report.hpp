// What the law of the trials rests on, what it says of new settings and what to try next.
#pragma once
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "document/document.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::answer {

/// What is asked of the law.
struct LawWishes {
  int next_trials{};
  std::string aim;                ///< "diameter", "region" or "window"; empty: diameter, or window where one is named
  std::string diameter;           ///< wanted, for aim "window"; empty: of the case's window block
  std::vector<std::string> over;  ///< candidates for the next trials, as --vary of sweep
  std::vector<std::string> step;  ///< KEY=VALUE: what gauge and motor resolve
};

struct PredictedRow {
  std::string name;
  study::LawPrediction law;
};

struct SuggestedTrial {
  std::string text;
  std::vector<double> settings;
  nlohmann::ordered_json json;
  double expected{}, narrowing{};
};

class LawReport {
 public:
  LawReport(const LawWishes& wishes, const study::LoadedCase* loaded, const io::TrialData& data,
            const study::TrialCalibration& calibration, engine::RunCount* run_count)
      : wishes_(wishes),
        loaded_(loaded),
        data_(data),
        calibration_(calibration),
        study_(calibration.study()),
        run_count_(run_count) {
    predict();
  }
  void suggest();
  [[nodiscard]] nlohmann::ordered_json json() const;
  [[nodiscard]] document::Document told() const;
  [[nodiscard]] std::string residuals() const;

 private:
  void predict();
  [[nodiscard]] std::vector<model::CaseInput> settable_cases(std::vector<const io::Key*>& keys) const;
  void choose_targets(const std::string& aim, const std::vector<model::CaseInput>& settable, engine::RunShare& share,
                      std::vector<std::vector<double>>& targets, std::vector<double>& weights) const;
  // A wanted diameter that is named is what the trials are for.
  [[nodiscard]] std::string aim_word() const {
    return !wishes_.aim.empty() ? wishes_.aim : wishes_.diameter.empty() ? "diameter" : "window";
  }
  [[nodiscard]] double law_of(std::size_t trial) const;
  [[nodiscard]] double model_of(std::size_t trial) const;
  [[nodiscard]] document::Section laws() const;
  [[nodiscard]] document::Section trials() const;
  void add_directions(document::Document& document) const;
  void add_next(document::Document& document) const;

  const LawWishes& wishes_;
  const study::LoadedCase* loaded_;
  const io::TrialData& data_;
  const study::TrialCalibration& calibration_;
  const study::TrialStudy& study_;
  engine::RunCount* run_count_;
  std::vector<PredictedRow> predicted_;
  std::vector<SuggestedTrial> next_;
  std::string no_next_;
  double here_{}, after_{};  ///< sd of the law where it matters, before and after the next trials
};

}  // namespace whorl::answer
