// whorl calibrate: fit what is uncertain to measured diameters, and say what to try next.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <nlohmann/json.hpp>
#include <ostream>
#include <set>

#include "answer/answer.hpp"
#include "answer/fit_answer.hpp"
#include "answer/provenance.hpp"
#include "app/calibrate.hpp"
#include "app/commands.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/whole_file.hpp"
#include "table/workbook.hpp"
#include "whorl/io/calibration_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/calibrate.hpp"
#include "whorl/study/case_runner.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/next_candidates.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/trial_calibration.hpp"
#include "whorl/study/uncertain_inputs.hpp"
#include "whorl/study/usual_plane.hpp"
#include "whorl/study/window_spec.hpp"

namespace whorl::app {
namespace {

using document::Document;
using document::Section;
using document::Sentence;
using Json = nlohmann::ordered_json;

constexpr std::size_t kMostTrialsOfALaw = 300;
constexpr double kUnstated = 0.3;      ///< sd of ln(factor) where nothing states one

std::vector<engine::UncertainInput> parameters_of(const study::LoadedCase& loaded, const io::TrialData& data,
                                                  const std::vector<std::string>& wanted) {
  const std::vector<engine::UncertainInput> known =
      study::uncertain_inputs(loaded.file, loaded.file.input, loaded.library);
  std::vector<engine::UncertainInput> out;
  std::string names;
  for (const auto& one : known) names += (names.empty() ? "" : ", ") + one.key;
  for (const std::string& name : wanted) {
    const io::Key* key = io::find_key(name);
    if (key == nullptr)
      throw InputError("", "--fit", '"' + name + '"',
                       names + ", or another numeric key (nearest: " + io::nearest_key(name) + ")");
    const std::string path(key->path);
    if (std::find(data.keys.begin(), data.keys.end(), key) != data.keys.end())
      throw InputError(data.name, std::string(key->column), "a column, and a parameter to fit", "one of the two");
    for (const auto& other : out) {
      if (other.key == path) throw InputError("", "--fit", '"' + name + "\" twice", "once");
    }
    const auto found = std::find_if(known.begin(), known.end(), [&](const auto& one) { return one.key == path; });
    if (found != known.end()) {
      out.push_back(*found);
      continue;
    }
    const auto value = key->get(loaded.file.input);
    if (path.rfind("model.", 0) != 0 || !value || !(*value > 0.0))
      throw InputError(loaded.file.name, path, "no uncertainty",
                       "a value with +-, e.g. \"" + std::string(key->example) + " +- 20 %\", or another parameter");
    engine::UncertainInput one;
    one.key = path;
    one.kind = engine::UncertainKind::model_form;
    one.spread = {engine::SpreadKind::lognormal, *value, kUnstated * *value, key->minimum, key->maximum};
    one.source = "nothing stated: a factor known to some 30 %";
    one.apply = [key](model::CaseInput& c, double x) { key->set(c, x); };
    out.push_back(std::move(one));
  }
  return out;
}

std::vector<study::Trial> trials_of(const study::LoadedCase& loaded, const io::TrialData& data, double reproducibility,
                                    bool& assumed) {
  std::vector<study::Trial> out;
  std::vector<const io::Key*> varying;
  for (std::size_t k = 0; k < data.keys.size(); ++k) {
    const bool same = std::all_of(data.rows.begin(), data.rows.end(), [&](const io::TrialRow& r) {
      return r.settings[k].second == data.rows.front().settings[k].second;
    });
    if (!same) varying.push_back(data.keys[k]);
  }
  for (const io::TrialRow& row : data.rows) {
    study::Trial t;
    t.name = row.name;
    t.input = loaded.file.input;
    for (const auto& [key, value] : row.settings) key->set(t.input, value);
    try {
      io::validate(t.input, data.name);
    } catch (const InputError& error) {
      throw InputError(data.name, row.name + ", " + error.key(), error.found(), error.allowed());
    }
    t.diameter_m = row.mean_m;
    const double spread = row.sd_m > 0.0 ? row.sd_m / row.mean_m : answer::kUsualSpread;
    const double count = row.count > 0.0 ? row.count : answer::kUsualCount;
    assumed = assumed || !(row.sd_m > 0.0) || !(row.count > 0.0);
    t.log_sd = std::hypot(spread / std::sqrt(count), reproducibility);
    for (const io::Key* key : varying) t.settings.push_back(*key->get(t.input));
    out.push_back(std::move(t));
  }
  return out;
}

std::vector<std::string> parted(const std::vector<std::string>& texts) {
  std::vector<std::string> out;
  for (const std::string& text : texts) {
    std::string one;
    for (const char c : text + ",") {
      if (c != ',') {
        if (c != ' ') one += c;
        continue;
      }
      if (!one.empty()) out.push_back(one);
      one.clear();
    }
  }
  return out;
}

// A full disk does not take the result from the screen.
void said_on_failure(const console::Streams& streams, int& exit, const std::function<void()>& write) {
  try {
    write();
  } catch (const table::OutputError& error) {
    streams.err << "whorl: " << error.what() << '\n';
    exit = console::kNotMet;
  }
}

}  // namespace

double share_of_text(const std::string& text, const char* option) {
  const double v = io::parse_quantity(text, {"1", "5 %"}, {"", option}).value;
  if (!(v >= 0.0 && v <= 2.0)) throw InputError("", option, '"' + text + '"', "0 to 200 %");
  return v;
}

void check_targets(const CalibrateArguments& arguments) {
  const table::Existing existing = table::existing_if(arguments.force);
  if (!arguments.output.empty()) table::check_target(arguments.output, "-o", existing);
  if (!arguments.residuals.empty()) table::check_table_target(arguments.residuals, "--residuals", existing);
}

void write_calibration(const CalibrateArguments& arguments, const Json& json, const console::Streams& streams,
                       int& exit) {
  if (arguments.output.empty()) return;
  said_on_failure(streams, exit, [&] {
    table::write_whole_file(arguments.output, "-o", json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n",
                            table::existing_if(arguments.force));
  });
}

void write_residuals(const CalibrateArguments& arguments, const study::LoadedCase& loaded, const io::TrialData& data,
                     const ResidualWords& words, const std::string& rows, const console::Streams& streams, int& exit) {
  if (arguments.residuals.empty()) return;
  io::TableMetadata table = answer::table_metadata(loaded, "Measured and calculated diameters", arguments.residuals);
  table.facts.emplace_back("trials", data.name.substr(data.name.rfind('/') + 1) + " sha256:" + data.digest);
  table.columns = {{"trial", "string", "", "", "name of the trial", true},
                   {"measured_um", "double", "um", "", "measured mean diameter", true},
                   {"before_um", "double", "um", "", words.before, true},
                   {"after_um", "double", "um", "", words.after, true},
                   {"log_sd", "double", "", "", words.log_sd, true},
                   {"residual", "double", "", "", "ln(measured/after) over log_sd", true}};
  said_on_failure(streams, exit, [&] {
    table::write_whole_table(arguments.residuals, "--residuals", answer::finish_metadata(std::move(table)), rows,
                             table::existing_if(arguments.force));
  });
}

int run_calibrate(const CalibrateArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  if (arguments.next_trials < 0 || arguments.next_trials > 50)
    throw InputError("", "--next-trials", std::to_string(arguments.next_trials), "0 to 50");
  if (arguments.fit.empty()) return learn_from_trials(arguments, streams);
  return fit_parameters(arguments, streams);
}

namespace {

// The rows of --residuals.
std::string residual_rows(const study::Calibration& c) {
  std::string text = "trial,measured_um,before_um,after_um,log_sd,residual\n";
  for (std::size_t i = 0; i < c.used.size(); ++i) {
    io::append_text(text, c.used[i]);
    for (const double v : {1e6 * c.measured_m[i], 1e6 * c.before_m[i], 1e6 * c.after_m[i], c.log_sd[i],
                           std::log(c.measured_m[i] / c.after_m[i]) / c.log_sd[i]}) {
      text += ',';
      io::append_number(text, v);
    }
    text += '\n';
  }
  return text;
}

Json next_json(const answer::Suggested& next, const std::string& aim) {
  Json list = Json::array();
  for (const auto& t : next.trials.trials) {
    Json one = Json::object();
    for (const io::Key* key : next.keys)
      one[std::string(key->column)] = io::tidy(io::to_display(*key, *key->get(next.candidates[t.candidate])));
    one["expected_um"] = 1e6 * t.diameter_m;
    one["narrowing"] = t.narrowing;
    one["as_good"] = t.as_good;
    list.push_back(one);
  }
  return {{"aim", aim}, {"message", next.trials.message}, {"feasible", next.trials.feasible}, {"trials", list}};
}

// Torn threads or one line: as all trials together say of each. Nothing is assumed where they do not tell.
std::pair<std::size_t, std::size_t> choose_answers(std::vector<study::Trial>& trials, const study::TrialStudy& study) {
  const std::vector<double> fine = study.probability_fine();
  std::pair<std::size_t, std::size_t> count{0, 0};
  for (study::Trial& t : trials) {
    for (std::size_t i = 0; i < fine.size(); ++i) {
      if (study.input().trials[i].name != t.name) continue;
      t.answer = fine[i] >= 0.5 ? study::HeldAgainst::threads : study::HeldAgainst::line;
    }
    count.first += t.answer == study::HeldAgainst::threads ? 1 : 0;
    count.second += t.answer == study::HeldAgainst::line ? 1 : 0;
  }
  return count;
}

// Of a fit that takes six rounds, each a step and its derivatives, and of the candidates for the next trials.
std::size_t usual_runs(std::size_t trials, std::size_t parameters, std::size_t candidates) {
  constexpr std::size_t kUsualRounds = 6;
  const std::size_t derivatives = 2 * parameters + 1;
  return trials * (2 + kUsualRounds * derivatives) + (candidates > 0 ? (candidates + 1) * derivatives : 0);
}

// Of one trial, on average.
double log_sd_of(const study::Calibration& c) {
  double log_sd = 0.0;
  for (const double s : c.log_sd) log_sd += s / static_cast<double>(c.log_sd.size());
  return log_sd * c.widened;
}

}  // namespace

int fit_parameters(const CalibrateArguments& arguments, const console::Streams& streams) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  run::check_threads(arguments.threads);
  const double reproducibility =
      share_of_text(arguments.reproducibility.empty() ? "5 %" : arguments.reproducibility, "--reproducibility");
  study::NextTrialsOptions wanted;
  wanted.aim = answer::aim_of(arguments.aim.empty() ? "parameters" : arguments.aim);
  study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
  // Hundreds of runs: without tension unless the case asks for it, as the law on top and `window` see it.
  const bool quick = !loaded.file.tier_stated && loaded.file.input.model.tier == model::Tier::tension;
  if (quick) loaded.file.input.model.tier = model::Tier::inertial;
  if (wanted.aim == study::Aim::window) wanted.limits = study::wanted_diameter(loaded, arguments.diameter);
  if (arguments.data.empty()) throw InputError("", "DATA", "missing", "a table of trials behind the case");
  io::TrialData data = table::read_trials(arguments.data, true);
  std::erase_if(data.rows, [](const io::TrialRow& row) { return !(row.mean_m > 0.0); });
  if (data.rows.empty()) throw InputError(data.name, "", "no row with a diameter", "one trial or more");
  check_targets(arguments);
  const auto parameters = parameters_of(loaded, data, parted(arguments.fit));
  bool assumed = false;
  auto trials = trials_of(loaded, data, reproducibility, assumed);
  std::pair<std::size_t, std::size_t> answers{0, 0};  // trials that are torn threads, and one line
  if (data.rows.size() <= kMostTrialsOfALaw) {
    const study::TrialCalibration unfitted(&loaded, data, arguments.reproducibility.empty() ? 0.0 : reproducibility);
    answers = choose_answers(trials, unfitted.study());
  }
  if (answers.first + answers.second > 0)
    wanted.answer = answers.first >= answers.second ? study::HeldAgainst::threads : study::HeldAgainst::line;
  run::StopSignals stop;
  run::Progress progress(run::progress_stream(streams.err));
  const engine::BatchRunner runner =
      run::parallel_runner(study::case_runner(loaded, {}), {arguments.threads, progress.run_count(), true});
  try {
    answer::Suggested suggested;
    if (arguments.next_trials > 0) suggested.candidates = study::candidates_of(loaded, arguments.over, suggested.keys);
    progress.run_count()->expect(usual_runs(trials.size(), parameters.size(), suggested.candidates.size()));
    const study::Calibration c = study::calibrate(trials, parameters, runner);
    std::optional<answer::Suggested> next;
    if (arguments.next_trials > 0 && c.converged) {
      next = std::move(suggested);
      next->aim = wanted.aim;
      wanted.count = static_cast<std::size_t>(arguments.next_trials);
      wanted.log_sd = log_sd_of(c);
      next->trials = study::next_trials(c, parameters, loaded.file.input, next->candidates, wanted, runner);
    }
    // What the fitted model still leaves over is learned on top of it.
    std::optional<study::TrialCalibration> law;
    if (c.converged && data.rows.size() <= kMostTrialsOfALaw) {
      study::LoadedCase fitted = loaded;
      for (std::size_t k = 0; k < parameters.size(); ++k) parameters[k].apply(fitted.file.input, c.parameters[k].value);
      law.emplace(&fitted, data, arguments.reproducibility.empty() ? 0.0 : reproducibility, progress.run_count());
    }
    progress.stop();
    int exit = law && law->study().misfit().empty() ? console::kDone : console::kNotMet;
    const auto file_json = [&] {
      Json j = answer::fit_json(loaded, data, c);
      if (law) j.update(law->json());
      return j;
    };
    if (c.converged) write_calibration(arguments, file_json(), streams, exit);
    if (c.converged)
      write_residuals(arguments, loaded, data,
                      {"computed diameter, case as it stands", "the same with the fitted parameters",
                       "standard deviation of ln(measured)"},
                      residual_rows(c), streams, exit);
    if (format == document::Format::json) {
      Json j = file_json();
      if (next) j["next_trials"] = next_json(*next, arguments.aim.empty() ? "parameters" : arguments.aim);
      streams.out << j.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
    } else {
      Document told = answer::fit_document(loaded, data, c, reproducibility, assumed, answers);
      if (next) told.blocks.emplace_back(answer::next_section(*next));
      if (law) told.blocks.emplace_back(answer::law_on_top(law->study()));
      if (quick)
        told.blocks.emplace_back(
            Section{"",
                    "",
                    {Sentence{"Fitted without tension along the jet (tier inertial), as the law on top and "
                              "window see it; --set model.tier=tension fits with it."}}});
      answer::write_answer(std::move(told), format, arguments.form.fragment, answer::bases_of(loaded, data),
                           streams.out);
    }
    return exit;
  } catch (const engine::Interrupted&) {
    progress.stop();
    streams.err << "whorl: interrupted; nothing was written\n";
    return console::kInterrupted;
  }
}

}  // namespace whorl::app
