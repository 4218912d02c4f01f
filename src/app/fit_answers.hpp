// Which of the two answers each trial of a fit is held against.
#pragma once
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "engine/calibrate.hpp"
#include "engine/trial_study.hpp"

namespace whorl::app {

/// Trials that are torn threads, and trials that are one line.
using AnswerCount = std::pair<std::size_t, std::size_t>;

/// Torn threads or one line: as all trials together say of each. Nothing is assumed where they do not tell.
AnswerCount choose_answers(std::vector<engine::Trial>& trials, const engine::TrialStudy& study);

/// "torn threads", "one line per orifice", or how many of either.
[[nodiscard]] std::string held_against(AnswerCount answers);

}  // namespace whorl::app
