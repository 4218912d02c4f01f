#include "app/fit_answers.hpp"

namespace whorl::app {

AnswerCount choose_answers(std::vector<engine::Trial>& trials, const engine::TrialStudy& study) {
  const std::vector<double> fine = study.probability_fine();
  AnswerCount count{0, 0};
  for (engine::Trial& t : trials) {
    for (std::size_t i = 0; i < fine.size(); ++i) {
      if (study.input().trials[i].name != t.name) continue;
      t.answer = fine[i] >= 0.5 ? engine::HeldAgainst::threads : engine::HeldAgainst::line;
    }
    count.first += t.answer == engine::HeldAgainst::threads ? 1 : 0;
    count.second += t.answer == engine::HeldAgainst::line ? 1 : 0;
  }
  return count;
}

std::string held_against(AnswerCount answers) {
  if (answers.second == 0) return "torn threads";
  if (answers.first == 0) return "one line per orifice";
  return "torn threads in " + std::to_string(answers.first) + " trials, one line per orifice in " +
         std::to_string(answers.second);
}

}  // namespace whorl::app
