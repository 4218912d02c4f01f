// What the trials of a table show besides mean diameters: flow, class, which answer held; what is learned of it, and
// where it is said.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "model/normal.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/engine/outcomes.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/run_progress.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kMostTimedFactor = 20.0;  // a timed run further off is a slip of units
constexpr double kBeforeDribble = 0.9;     // of what leaves: of a run that ends in a dribble, no more is timed

struct SeenWord {
  const char* word;
  Seen seen;
};
constexpr SeenWord kSeenWords[] = {{"fibre", Seen::fibre},
                                   {"fibres", Seen::fibre},
                                   {"fiber", Seen::fibre},
                                   {"fibers", Seen::fibre},
                                   {"beads", Seen::beads},
                                   {"beaded", Seen::beads},
                                   {"beaded fibre", Seen::beads},
                                   {"beaded fibres", Seen::beads},
                                   {"beaded fiber", Seen::beads},
                                   {"drops", Seen::drops},
                                   {"droplets", Seen::drops},
                                   {"spray", Seen::drops},
                                   {"wet", Seen::wet},
                                   {"wet film", Seen::wet},
                                   {"film", Seen::wet},
                                   {"nothing", Seen::nothing},
                                   {"nothing arrived", Seen::nothing},
                                   {"none", Seen::nothing}};


struct Kind {
  const char* words;
  double model::Outcomes::*chance;
};
constexpr Kind kKinds[] = {{"even fibre", &model::Outcomes::even},
                           {"beads", &model::Outcomes::beaded},
                           {"drops", &model::Outcomes::drops},
                           {"wet film", &model::Outcomes::wet},
                           {"nothing", &model::Outcomes::none}};

}  // namespace

Seen seen_by_words(const std::string& words, const std::string& file, const std::string& where) {
  std::string plain;
  for (const char c : words)
    plain += c == '_' || c == '-' ? ' ' : c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  for (const SeenWord& one : kSeenWords) {
    if (plain == one.word) return one.seen;
  }
  throw InputError(file, where + ", seen", '"' + words.substr(0, 40) + '"',
                   "fibre, beads, drops, wet or nothing arrived");
}

TrialSigns signs_of(const io::TrialRow& row, const io::TrialData& data) {
  TrialSigns signs{row.thick_share, row.gas_flow_m3_s, row.yield, {}};
  if (!row.seen.empty()) signs.seen = seen_by_words(row.seen, data.name, row.name);
  return signs;
}

QuickRun quick_run(const model::CaseInput& input, const model::Library& library) {
  model::CaseInput quick = input;
  quick.model.tier = model::Tier::inertial;
  quick.numerics.relative_tolerance = std::max(quick.numerics.relative_tolerance, 1e-4);
  engine::EstimateOptions options;
  options.run_distribution = false;
  const model::Estimate e = engine::estimate(quick, library, options);
  QuickRun run;
  if (e.status != model::Status::done) return run;
  run.signs = ModelSigns{e.chance.probability, e.run.gas_supply_mean_m3_s, e.as_threads.outcomes,
                                 e.as_line.outcomes, e.outcomes};
  run.run = e.run;
  run.charge_kg = (input.operation.charge_volume_m3 - e.charge.spilled_volume_m3) * e.solution_density_kg_m3;
  const double fine = e.as_threads.diameter_m;
  // Broken lines have a size all the same, which fibre that was found there can be held against.
  double coarse = e.as_line.diameter_m;
  if (!(coarse > 0.0)) coarse = e.line_diameter_m;
  if (!(fine > 0.0) && !(coarse > 0.0)) return run;
  run.answers = TwoAnswers{std::log(fine > 0.0 ? fine : coarse), std::log(coarse > 0.0 ? coarse : fine),
                                   !(fine > 0.0)     ? 0.0
                                   : !(coarse > 0.0) ? 1.0
                                                     : e.chance.probability};
  return run;
}

std::optional<TwoAnswers> quick_answers(const model::CaseInput& input, const model::Library& library) {
  return quick_run(input, library).answers;
}

double TrialCalibration::flow_factor() const { return signs_.flow.runs > 0 ? std::exp(signs_.flow.ln_mean) : 1.0; }

model::CaseInput TrialCalibration::case_of(const LoadedCase& loaded, const io::TrialRow& row,
                                           const io::TrialData& data) const {
  model::CaseInput at = loaded.file.input;
  for (const auto& [key, value] : row.settings) key->set(at, value);
  try {
    io::validate(at, data.name);
  } catch (const InputError& error) {
    throw InputError(data.name, row.name + ", " + error.key(), error.found(), error.allowed());
  }
  at.model.discharge_factor *= flow_factor();
  return at;
}

// Flow first: it moves the model with which everything else is held against.
void TrialCalibration::learn_signs(const LoadedCase& loaded, const io::TrialData& data, StudyInput& input) {
  std::vector<double> ln_ratio;
  for (const io::TrialRow& row : data.rows) {
    if (row.mass_kg.has_value() != row.seconds.has_value())
      remarks_.push_back(row.name + ": a timed run needs both, mass_out and run_time; not used");
    if (!row.mass_kg || !row.seconds) continue;
    if (loaded.file.input.operation.feed_rate_m3_s) {
      remarks_.push_back(row.name + ": a pump sets the flow; the timed run says nothing of the orifices");
      continue;
    }
    const QuickRun run = quick_run(case_of(loaded, row, data), loaded.library);
    ++model_runs_;
    const double most_kg = run.charge_kg * run.run.emptied_fraction;
    if (!(*row.mass_kg <= most_kg)) {
      remarks_.push_back(row.name +
                         ": more mass left than the model lets out of the vessel; the timed run is not used");
      continue;
    }
    if (model::before_the_dribble_s(run.run) > 0.0 && *row.mass_kg > kBeforeDribble * most_kg) {
      remarks_.push_back(row.name + ": by the model the last tenth only dribbles out, and its time tells next to "
                                    "nothing of the flow; the timed run is not used. Time the first " +
                         io::number_text(1e3 * kBeforeDribble * most_kg, 2) + " g");
      continue;
    }
    const double needed = model::time_when_left_s(run.run, *row.mass_kg / most_kg);
    if (!(needed > 0.0) || std::abs(std::log(needed / *row.seconds)) > std::log(kMostTimedFactor))
      throw InputError(data.name, row.name + ", mass_out and run_time",
                       io::number_text(needed / *row.seconds, 2) + " times the model's flow",
                       "mass and time of one run, in the units of their columns");
    ln_ratio.push_back(std::log(needed / *row.seconds));
  }
  signs_.flow = learn_flow(ln_ratio);
  std::vector<ClassTrial> classes;
  for (const io::TrialRow& row : data.rows) {
    const TrialSigns signs = signs_of(row, data);
    const bool sized = row.mean_m > 0.0;
    if (!signs.seen && !signs.yield && (sized || (!signs.thick_share && !signs.gas_flow_m3_s))) continue;
    const QuickRun run = quick_run(case_of(loaded, row, data), loaded.library);
    ++model_runs_;
    if (!run.signs) continue;
    const auto seen = class_trials(signs, *run.signs);
    if (!seen.empty()) ++signs_.class_trials;
    classes.insert(classes.end(), seen.begin(), seen.end());
    if (!sized) input.hints.push_back({run.signs->probability_fine, ln_odds_threads(signs, &*run.signs)});
  }
  signs_.classes = learn_classes(classes);
}

void TrialCalibration::lay_classes(model::Estimate& e) const {
  if (signs_.class_trials == 0) return;
  for (model::Outcomes* one : {&e.as_threads.outcomes, &e.as_line.outcomes}) {
    double sum = 0.0;
    for (const Kind& kind : kKinds) sum += one->*kind.chance;
    if (sum > 0.0) *one = shifted(*one, signs_.classes);
  }
  std::string text;
  e.outcomes = engine::mixed(e.as_threads.outcomes, e.as_line.outcomes, e.as_threads.probability);
  for (const Kind& kind : kKinds) {
    text += (text.empty() ? "" : ", ") + std::string(kind.words) + " " + whole_percent(e.outcomes.*kind.chance);
  }
  e.warnings.push_back({"chances-by-trials", "Chances of what lands, by " + std::to_string(signs_.class_trials) +
                                                 " trials that saw it: " + text +
                                                 "; the class is that of the model alone"});
}

std::vector<std::string> TrialCalibration::sign_notes() const {
  std::vector<std::string> out;
  if (signs_.flow.runs > 0) {
    const auto at = [&](double z) { return io::number_text(std::exp(signs_.flow.ln_mean + z * signs_.flow.ln_sd), 3); };
    out.push_back("calibrated: flow " + at(0.0) + " times the model's (90 %: " + at(-model::kNormal95) + " to " +
                  at(model::kNormal95) +
                  ") by " + std::to_string(signs_.flow.runs) + (signs_.flow.runs == 1 ? " timed run" : " timed runs") +
                  "; in model.discharge_factor");
  }
  if (signs_.class_trials > 0) {
    std::string text;
    for (std::size_t k = 0; k < signs_.classes.size(); ++k)
      text +=
          (k == 0 ? "" : ", ") + std::string(kKinds[k].words) + " " + io::number_text(std::exp(signs_.classes[k]), 2);
    out.push_back("calibrated: chances of what lands by " + std::to_string(signs_.class_trials) +
                  " trials that saw it, times: " + text);
  }
  return out;
}

Json TrialCalibration::signs_json() const {
  Json out = {{"timed_runs", signs_.flow.runs},
              {"ln_flow_factor", signs_.flow.ln_mean},
              {"ln_flow_factor_sd", signs_.flow.ln_sd},
              {"flow_factor", flow_factor()},
              {"class_trials", signs_.class_trials},
              {"class_shift", signs_.classes},
              {"hints", Json::array()}};
  for (const StudyHint& hint : study_->input().hints)
    out["hints"].push_back({{"probability_threads", hint.probability_fine}, {"ln_odds_threads", hint.ln_odds_fine}});
  return out;
}

}  // namespace whorl::study
