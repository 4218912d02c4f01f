// What an estimate says first: at most twelve lines that fit a terminal of 80 columns.
#pragma once
#include <string>

#include "app/estimate.hpp"

namespace whorl::app {

[[nodiscard]] std::string estimate_answer(const LoadedCase& loaded, const model::Estimate& estimate);

/// Both answers, their probabilities and what they rest on, for machines.
void put_answers(nlohmann::ordered_json& json, const model::Estimate& estimate);

}  // namespace whorl::app
