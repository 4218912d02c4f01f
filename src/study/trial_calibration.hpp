// What a laboratory learned from its trials, laid over every estimate of its cases: the law, the model it was learned
// with, its file.
#pragma once
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/estimate.hpp"
#include "whorl/engine/run_count.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/model/materials.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/trial_signs.hpp"
#include "whorl/study/trial_study.hpp"

namespace whorl::study {

struct LoadedCase;

/// Diameters of both answers at one setting, from a quick run (no tension, first jet). Empty where the model gives no
/// diameter.
[[nodiscard]] std::optional<TwoAnswers> quick_answers(const model::CaseInput& input,
                                                              const model::Library& library);

/// The same run with what else it says of a trial.
struct QuickRun {
  std::optional<TwoAnswers> answers;
  std::optional<ModelSigns> signs;  ///< empty: no result
  model::RunSummary run;            ///< the emptying
  double charge_kg{};
};
[[nodiscard]] QuickRun quick_run(const model::CaseInput& input, const model::Library& library);

/// What was seen, by the words of a table.
/// Error: InputError
[[nodiscard]] Seen seen_by_words(const std::string& words, const std::string& file, const std::string& where);

/// Of a row.
/// Error: InputError for words that are no class
[[nodiscard]] TrialSigns signs_of(const io::TrialRow& row, const io::TrialData& data);

/// What the trials say besides the law of diameters.
struct LearnedSigns {
  FlowFactor flow;
  OutcomeShift classes{};
  std::size_t class_trials{};  ///< that saw a class or a yield
};

/// Settings of the trials: beyond them the law is extrapolated.
struct TrialRange {
  const io::Key* key{};
  double low{}, high{};  ///< SI
  bool varies{};
};

class TrialCalibration {
 public:
  /// Learns. `loaded`: the case of the trials, null for a table alone. `stated_scatter` 0: learned. `run_count` counts
  /// the model runs.
  /// Error: InputError for a table that says nothing, mixed units, a setting of a case that the model refuses
  TrialCalibration(const LoadedCase* loaded, const io::TrialData& data, double stated_scatter,
                   engine::RunCount* run_count = nullptr);
  /// From a file.
  /// Error: InputError
  TrialCalibration(const nlohmann::ordered_json& file, const std::string& name);

  [[nodiscard]] const TrialStudy& study() const { return *study_; }
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] const std::vector<std::string>& remarks() const { return remarks_; }
  [[nodiscard]] const std::vector<TrialRange>& range() const { return range_; }
  [[nodiscard]] const std::vector<const io::Key*>& keys() const { return keys_; }
  [[nodiscard]] std::size_t model_runs() const { return model_runs_; }
  [[nodiscard]] const LearnedSigns& signs() const { return signs_; }
  /// Factor on model.discharge_factor by timed runs; 1 without any.
  [[nodiscard]] double flow_factor() const;

  /// Settings of a case, of a row.
  [[nodiscard]] std::vector<double> settings_of(const model::CaseInput& input) const;
  [[nodiscard]] std::vector<double> settings_of(const io::TrialRow& row, const io::TrialData& data) const;
  /// ln d at the settings of `input`. The physics is that of `nominal`, the case without samples of its doubts.
  [[nodiscard]] LawPrediction predict(const model::CaseInput& input, const model::CaseInput& nominal,
                                              const model::Library& library) const;
  [[nodiscard]] LawPrediction predict(const io::TrialRow& row, const io::TrialData& data,
                                              const LoadedCase* loaded) const;

  /// The case with the answer first that the trials make the likelier one (beyond its own tearing_quantile).
  [[nodiscard]] model::CaseInput with_headline(model::CaseInput input, const std::optional<TwoAnswers>& model) const;
  /// The two answers of the model at the settings of `input`; none for a law without physics.
  [[nodiscard]] std::optional<TwoAnswers> physics_at(const model::CaseInput& input, const model::CaseInput& nominal,
                                                     const model::Library& library) const;
  /// Diameters of an estimate as the trials have them; a warning says so.
  void lay_over(model::Estimate& estimate, const model::CaseInput& input,
                const std::optional<TwoAnswers>& model) const;
  /// Notes for a case: which law, directions, what lies outside the trials.
  [[nodiscard]] std::vector<std::string> notes(const model::CaseInput& input) const;

  /// What timed runs and classes taught; empty without any.
  [[nodiscard]] std::vector<std::string> sign_notes() const;

  /// Prior, trials, posterior, range, without provenance.
  [[nodiscard]] nlohmann::ordered_json json() const;

 private:
  [[nodiscard]] std::vector<const io::TrialRow*> rows_to_learn(const io::TrialData& data);
  void take_settings(const LoadedCase* loaded, const io::TrialData& data, const std::vector<const io::TrialRow*>& rows,
                     StudyInput& input);
  [[nodiscard]] StudyTrial trial_of(const LoadedCase* loaded, const io::TrialRow& row, const io::TrialData& data,
                                    engine::RunShare& share);
  [[nodiscard]] ModelSlopes slopes_of(const LoadedCase& loaded, const StudyInput& input, engine::RunShare& share);
  void learn_signs(const LoadedCase& loaded, const io::TrialData& data, StudyInput& input);
  void lay_classes(model::Estimate& estimate) const;
  [[nodiscard]] nlohmann::ordered_json signs_json() const;
  [[nodiscard]] model::CaseInput case_of(const LoadedCase& loaded, const io::TrialRow& row,
                                         const io::TrialData& data) const;
  [[nodiscard]] model::CaseInput nominal_at(const model::CaseInput& input, const model::CaseInput& nominal) const;
  [[nodiscard]] double outside_variance(const model::CaseInput& input) const;

  std::string name_;
  std::vector<const io::Key*> keys_;           ///< that vary and the model knows, first in the settings of the study
  std::vector<std::string> covariates_;        ///< then these columns
  std::vector<std::size_t> covariate_column_;  ///< of them in the table
  std::vector<TrialRange> range_;
  std::vector<std::string> remarks_;
  std::optional<TrialStudy> study_;
  LearnedSigns signs_;
  std::size_t model_runs_{};
};

/// engine::estimate with the trials of the case's calibration laid over it.
[[nodiscard]] model::Estimate calibrated_estimate(const LoadedCase& loaded, const model::CaseInput& input,
                                                  const engine::EstimateOptions& options);

/// Lays a calibration file over a case: fitted parameters, or what trials taught. Says so in its notes; the digest
/// becomes part of the case's.
/// Error: InputError for a file that is neither, or of another polymer or solvent
void lay_calibration(LoadedCase& loaded, const std::string& path);
/// Per setting of the trials: measured, model and published exponent, and the part that the model cannot explain.
[[nodiscard]] std::string measured_directions(const LoadedCase& loaded);
/// "diameter_um = 1.62 (rotation_speed_rpm/9600)^-0.72 ...": the law as a power law about the centre of the trials,
/// settings in the units of their columns. Where the law has bends of the model or a remainder it is their tangent
/// there.
[[nodiscard]] std::string law_formula(const TrialStudy& study);
/// The law at the case's own setting.
[[nodiscard]] nlohmann::ordered_json calibrated_json(const LoadedCase& loaded);

/// "overpressure -0.31 (-0.52 to -0.10); model +0.40, published -0.20 +- 0.35"
[[nodiscard]] std::string exponent_text(const StudyExponent& exponent);

}  // namespace whorl::study
