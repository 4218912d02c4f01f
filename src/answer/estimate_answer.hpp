// What an estimate says first: at most twelve lines that fit a terminal of 80 columns.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

/// One line of the answer: what it is about, and what is said.
struct AnswerRow {
  std::string label;
  std::string text;
};
[[nodiscard]] std::vector<AnswerRow> answer_rows(const study::LoadedCase& loaded, const model::Estimate& estimate);

/// The rows as text, folded at 80 columns; `all`: also where that takes more than twelve lines.
[[nodiscard]] std::string estimate_answer(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                          bool all = false);

/// Both answers, their probabilities and what they rest on, for machines.
void put_answers(nlohmann::ordered_json& json, const model::Estimate& estimate);

}  // namespace whorl::answer
