// What `calibrate --fit` found, for people and for machines.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <utility>
#include <vector>

#include "answer/provenance.hpp"
#include "document/document.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/study/calibrate.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_study.hpp"

namespace whorl::answer {

inline constexpr double kUsualSpread = 0.25;  ///< of single diameters over their mean, where none is stated
inline constexpr double kUsualCount = 30.0;

/// Next trials, with what they were chosen from.
struct Suggested {
  study::NextTrials trials;
  std::vector<const io::Key*> keys;
  std::vector<model::CaseInput> candidates;
  study::Aim aim{};
};

/// Trials that show torn threads, and one line.
using AnswerCount = std::pair<std::size_t, std::size_t>;

/// Error: InputError for a word that is no aim
[[nodiscard]] study::Aim aim_of(const std::string& word);
[[nodiscard]] std::vector<Basis> bases_of(const study::LoadedCase& loaded, const io::TrialData& data);

[[nodiscard]] document::Document fit_document(const study::LoadedCase& loaded, const io::TrialData& data,
                                              const study::Calibration& c, double reproducibility, bool assumed,
                                              AnswerCount answers);
[[nodiscard]] document::Section next_section(const Suggested& next);
/// The law that the calibration file lays over the fitted model.
[[nodiscard]] document::Section law_on_top(const study::TrialStudy& study);
/// What the calibration file holds.
[[nodiscard]] nlohmann::ordered_json fit_json(const study::LoadedCase& loaded, const io::TrialData& data,
                                              const study::Calibration& c);

}  // namespace whorl::answer
