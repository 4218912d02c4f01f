// whorl calibrate: fit what is uncertain to measured diameters, and say what to try next.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <nlohmann/json.hpp>
#include <ostream>
#include <set>

#include "app/answer.hpp"
#include "app/calibrate.hpp"
#include "app/commands.hpp"
#include "app/estimate.hpp"
#include "app/fit_answers.hpp"
#include "app/parallel.hpp"
#include "app/progress.hpp"
#include "app/provenance.hpp"
#include "app/stop_signals.hpp"
#include "app/sweep_spec.hpp"
#include "app/trial_calibration.hpp"
#include "app/uncertain_inputs.hpp"
#include "app/whole_file.hpp"
#include "app/window_spec.hpp"
#include "app/usual_plane.hpp"
#include "app/workbook.hpp"
#include "engine/calibrate.hpp"
#include "io/calibration_file.hpp"
#include "io/csv.hpp"
#include "io/keys.hpp"
#include "io/trial_data.hpp"
#include "io/units.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using document::Document;
using document::List;
using document::Section;
using document::Sentence;
using document::Table;
using Json = nlohmann::ordered_json;

constexpr double kUsualSpread = 0.25;  ///< of single diameters over their mean, where none is stated
constexpr double kUsualCount = 30.0;
constexpr std::size_t kMostTrialsOfALaw = 300;
constexpr double kUnstated = 0.3;      ///< sd of ln(factor) where nothing states one

std::string percent(double share, int digits = 3) { return io::number_text(100.0 * share, digits) + " %"; }
std::string two_decimals(const char* format, double value) {
  char text[32];
  std::snprintf(text, sizeof text, format, value);
  return text;
}
std::string um(double metres) { return io::number_text(1e6 * metres, 4); }

std::vector<engine::UncertainInput> parameters_of(const LoadedCase& loaded, const io::TrialData& data, const std::vector<std::string>& wanted) {
  const std::vector<engine::UncertainInput> known = uncertain_inputs(loaded.file, loaded.file.input, loaded.library);
  std::vector<engine::UncertainInput> out;
  std::string names;
  for (const auto& one : known) names += (names.empty() ? "" : ", ") + one.key;
  for (const std::string& name : wanted) {
    const io::Key* key = io::find_key(name);
    if (key == nullptr) throw InputError("", "--fit", '"' + name + '"', names + ", or another numeric key (nearest: " + io::nearest_key(name) + ")");
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
      throw InputError(loaded.file.name, path, "no uncertainty", "a value with +-, e.g. \"" + std::string(key->example) + " +- 20 %\", or another parameter");
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

std::vector<engine::Trial> trials_of(const LoadedCase& loaded, const io::TrialData& data, double reproducibility, bool& assumed) {
  std::vector<engine::Trial> out;
  std::vector<const io::Key*> varying;
  for (std::size_t k = 0; k < data.keys.size(); ++k) {
    const bool same = std::all_of(data.rows.begin(), data.rows.end(),
                                  [&](const io::TrialRow& r) { return r.settings[k].second == data.rows.front().settings[k].second; });
    if (!same) varying.push_back(data.keys[k]);
  }
  for (const io::TrialRow& row : data.rows) {
    engine::Trial t;
    t.name = row.name;
    t.input = loaded.file.input;
    for (const auto& [key, value] : row.settings) key->set(t.input, value);
    try {
      io::validate(t.input, data.name);
    } catch (const InputError& error) {
      throw InputError(data.name, row.name + ", " + error.key(), error.found(), error.allowed());
    }
    t.diameter_m = row.mean_m;
    const double spread = row.sd_m > 0.0 ? row.sd_m / row.mean_m : kUsualSpread;
    const double count = row.count > 0.0 ? row.count : kUsualCount;
    assumed = assumed || !(row.sd_m > 0.0) || !(row.count > 0.0);
    t.log_sd = std::hypot(spread / std::sqrt(count), reproducibility);
    for (const io::Key* key : varying) t.settings.push_back(*key->get(t.input));
    out.push_back(std::move(t));
  }
  return out;
}

std::string shown(const std::string& key, double si, int digits = 3) {
  const io::Key* k = io::find_key(key);
  return k != nullptr ? io::value_text(*k, si, digits) : io::number_text(si, digits);
}

struct AimWord {
  const char* word;
  engine::Aim aim;
  const char* text;
};
constexpr AimWord kAims[] = {
    {"parameters", engine::Aim::parameters, "for the parameters"},
    {"diameter", engine::Aim::setting, "for the diameter at the case's own setting"},
    {"region", engine::Aim::region, "for the diameter over all candidates"},
    {"window", engine::Aim::window, "for the boundary of the wanted diameter"},
};
engine::Aim aim_of(const std::string& word) {
  for (const AimWord& one : kAims) {
    if (word == one.word) return one.aim;
  }
  throw InputError("", "--aim", '"' + word + '"', "parameters, diameter, region or window");
}
const char* aim_text(engine::Aim aim) {
  for (const AimWord& one : kAims) {
    if (aim == one.aim) return one.text;
  }
  return "";
}

// Within which settings the parameters were found, for the note that a case lies outside.
Json range_of(const LoadedCase& loaded, const io::TrialData& data, const std::vector<std::string>& used) {
  Json out = Json::array();
  for (const io::Key& key : io::numeric_keys()) {
    const std::string_view path = key.path;
    const auto begins = [&](std::string_view part) { return path.substr(0, part.size()) == part; };
    if (!(begins("solution.") || begins("vessel.") || begins("operation.") || begins("room.")) || begins("solution.measured.")) continue;
    std::optional<double> low, high;
    const auto column = std::find(data.keys.begin(), data.keys.end(), &key);
    if (column == data.keys.end()) {
      low = high = key.get(loaded.file.input);
    } else {
      const auto k = static_cast<std::size_t>(column - data.keys.begin());
      for (const io::TrialRow& row : data.rows) {
        if (std::find(used.begin(), used.end(), row.name) == used.end()) continue;
        const double v = row.settings[k].second;
        low = low ? std::min(*low, v) : v;
        high = high ? std::max(*high, v) : v;
      }
    }
    if (low) out.push_back({{"key", path}, {"low_si", *low}, {"high_si", *high}});
  }
  return out;
}

struct Suggested {
  engine::NextTrials trials;
  std::vector<const io::Key*> keys;
  std::vector<model::CaseInput> candidates;
  engine::Aim aim{};
};

std::string within(const std::string& key, double low, double high) { return shown(key, low) + " to " + shown(key, high); }

Section parameter_section(const engine::Calibration& c) {
  Section section{"Parameters (90 % intervals)"};
  Table table{"", "", {{"", "key"}, {"", "fitted"}, {"", "interval"}, {"", "before"}, {"", "interval before"}}, {}};
  for (const auto& p : c.parameters) {
    table.rows.push_back({p.key, shown(p.key, p.value), within(p.key, p.low, p.high), shown(p.key, p.prior),
                          within(p.key, p.prior_low, p.prior_high)});
  }
  section.blocks.emplace_back(std::move(table));
  for (const auto& p : c.parameters) {
    if (p.at_limit)
      section.blocks.emplace_back(Sentence{p.key + ": far out in what was stated for it: the data and that statement disagree, or "
                                                   "the model is wrong elsewhere"});
    if (p.z_sd > 0.9)
      section.blocks.emplace_back(Sentence{p.key + ": the data hardly narrow it: this is what was known before"});
  }
  if (c.parameters.size() > 1) {
    Table pairs{"", "Correlation after the fit.", {{"", ""}, {"", ""}, {"", "correlation"}}, {}};
    for (std::size_t i = 0; i < c.parameters.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const auto a = static_cast<Eigen::Index>(i), b = static_cast<Eigen::Index>(j);
        const double r = c.covariance(a, b) / std::sqrt(c.covariance(a, a) * c.covariance(b, b));
        pairs.rows.push_back({c.parameters[i].key, c.parameters[j].key, two_decimals("%.2f", r)});
      }
    }
    section.blocks.emplace_back(std::move(pairs));
  }
  const auto known = std::count_if(c.information.begin(), c.information.end(), [](double s) { return s > 1.0; });
  section.blocks.emplace_back(Sentence{"The data tell " + std::to_string(known) + " of " + std::to_string(c.parameters.size()) +
                                       " combinations of these parameters better than they were known before."});
  for (const auto& pair : c.confounded) {
    section.blocks.emplace_back(Sentence{
        "They cannot tell " + c.parameters[pair.first].key + " from " + c.parameters[pair.second].key +
        ": both change the diameters of these trials in the same way (" + io::number_text(pair.correlation, 3) +
        "). Only their combined effect is known; vary a setting that parts them, or fix one."});
  }
  return section;
}

Section fitted_section(const engine::Calibration& c) {
  Section section{"Trials"};
  Table table{"", "", {{"", "trial"}, {"", "measured", "um"}, {"", "case", "um"}, {"", "fitted", "um"}, {"", "ln(m/f)/sd"}}, {}};
  for (std::size_t i = 0; i < c.used.size(); ++i) {
    table.rows.push_back({c.used[i], um(c.measured_m[i]), um(c.before_m[i]), um(c.after_m[i]),
                          two_decimals("%+.2f", std::log(c.measured_m[i] / c.after_m[i]) / c.log_sd[i])});
  }
  section.blocks.emplace_back(std::move(table));
  std::string fit = "chi-square " + io::number_text(c.chi_square, 3) + " for " + std::to_string(c.used.size()) + " trials and " +
                    std::to_string(c.parameters.size()) + " parameters";
  if (c.widened > 1.0)
    fit += "; larger than the stated scatter allows: intervals widened by " + io::number_text(c.widened, 3);
  section.blocks.emplace_back(Sentence{fit});
  return section;
}

Section prediction_section(const engine::Calibration& c) {
  Section section{"Prediction (root mean square of ln(measured/predicted))"};
  Table table{"", "", {{"", "by"}, {"", "these trials"}, {"", "settings left out"}}, {}};
  const auto put = [&](const char* name, const engine::Prediction& p) {
    table.rows.push_back({name, p.made || p.fitted > 0.0 ? percent(p.fitted) : "-", p.made ? percent(p.left_out) : p.reason});
  };
  put("uncalibrated model (the case as it stands)", c.uncalibrated);
  put("calibrated model", c.calibrated);
  put("power law of the settings that vary, no physics", c.regression);
  section.blocks.emplace_back(std::move(table));
  if (c.calibrated.made && c.regression.made) {
    const bool plain = c.regression.left_out < c.calibrated.left_out;
    section.blocks.emplace_back(
        Sentence{plain ? "On settings left out the plain power law predicts better than the calibrated model. Inside the range of "
                         "these trials use it; it knows nothing of class, drying or other solutions."
                       : "On settings left out the calibrated model predicts better than the plain power law."});
  }
  return section;
}

Section next_section(const Suggested& next) {
  Section section{std::string("Next trials (") + aim_text(next.aim) + ")"};
  if (!next.trials.message.empty()) {
    section.blocks.emplace_back(Sentence{"none: " + next.trials.message});
    return section;
  }
  section.blocks.emplace_back(Sentence{std::to_string(next.trials.feasible) + " of " + std::to_string(next.candidates.size()) +
                                       " candidates give continuous fibre"});
  List list{"", "", {}};
  for (const engine::NextTrial& t : next.trials.trials) {
    std::string text;
    for (const io::Key* key : next.keys) {
      const double value = io::to_display(*key, *key->get(next.candidates[t.candidate]));
      text += (text.empty() ? "" : "  ") + std::string(key->column) + " " + io::number_text(value, 6);
    }
    text += "; expected " + um(t.diameter_m) + " um; with the trials above the interval shrinks to " + percent(t.narrowing);
    if (t.as_good > 0) text += "; " + std::to_string(t.as_good) + " of the other candidates would tell as much in its place";
    list.items.emplace_back(text);
  }
  section.blocks.emplace_back(std::move(list));
  return section;
}

Document fit_document(const LoadedCase& loaded, const io::TrialData& data, const engine::Calibration& c, double reproducibility,
                      bool assumed, AnswerCount answers) {
  Document out{"Calibration of " + loaded.file.name + " with " + data.name, {}};
  out.blocks.emplace_back(Sentence{std::to_string(c.used.size()) + " of " + std::to_string(data.rows.size()) + " trials used; " +
                                   std::to_string(c.model_runs) + " model runs; scatter between repeated runs taken as " +
                                   percent(reproducibility)});
  if (assumed)
    out.blocks.emplace_back(Sentence{"Where a row states no standard deviation or count, " + percent(kUsualSpread) + " and " +
                                     io::number_text(kUsualCount) + " are assumed."});
  if (answers.first + answers.second > 0)
    out.blocks.emplace_back(Sentence{"held against " + held_against(answers) + ", the answer that the trials show"});
  for (const std::string& why : c.not_used) out.blocks.emplace_back(Sentence{"not used: " + why});
  if (!c.converged) {
    out.blocks.emplace_back(Sentence{"The fit did not converge: " + c.message + ". No parameters are given."});
    return out;
  }
  out.blocks.emplace_back(parameter_section(c));
  out.blocks.emplace_back(fitted_section(c));
  out.blocks.emplace_back(prediction_section(c));
  return out;
}

// The law that the calibration file lays over the fitted model.
Section law_on_top(const engine::TrialStudy& study) {
  const auto used = std::find_if(study.laws().begin(), study.laws().end(), [&](const auto& l) { return l.kind == study.winner(); });
  Section section{"Law of the trials on top"};
  section.blocks.emplace_back(Sentence{std::string(engine::law_words(study.winner())) + "; settings left out are missed by " +
                                       percent(used->left_out)});
  section.blocks.emplace_back(Sentence{law_formula(study)});
  if (const std::string misfit = study.misfit(); !misfit.empty())
    section.blocks.emplace_back(Sentence{"THIS DOES NOT HOLD: " + misfit + "."});
  return section;
}

std::vector<Basis> bases_of(const LoadedCase& loaded, const io::TrialData& data) {
  return {basis_of(loaded), {"trials", data.name.substr(data.name.rfind('/') + 1), data.digest, {}}};
}

Json as_json(const LoadedCase& loaded, const io::TrialData& data, const engine::Calibration& c) {
  Json j = {{"whorl_calibration", 1}};
  put_provenance(j, bases_of(loaded, data));
  j.update({{"case", loaded.file.name}, {"case_sha256", loaded.file.hash}, {"data", data.name}, {"data_sha256", data.digest},
            {"polymer", loaded.file.input.solution.polymer}, {"solvent", loaded.file.input.solution.solvent}, {"converged", c.converged},
            {"message", c.message}});
  if (!c.converged) return j;
  Json parameters = Json::array();
  for (const auto& p : c.parameters) {
    parameters.push_back({{"key", p.key}, {"kind", engine::to_string(p.kind)}, {"value_si", p.value}, {"low_si", p.low}, {"high_si", p.high},
                          {"prior_si", p.prior}, {"prior_low_si", p.prior_low}, {"prior_high_si", p.prior_high}, {"text", shown(p.key, p.value, 6)},
                          {"z", p.z}, {"z_sd", p.z_sd}, {"far_out", p.at_limit}});
  }
  j["parameters"] = parameters;
  j["range"] = range_of(loaded, data, c.used);
  Json rows = Json::array();
  for (Eigen::Index a = 0; a < c.covariance.rows(); ++a) {
    Json row = Json::array();
    for (Eigen::Index b = 0; b < c.covariance.cols(); ++b) row.push_back(c.covariance(a, b));
    rows.push_back(row);
  }
  j["covariance_z"] = rows;
  j["information"] = c.information;
  Json pairs = Json::array();
  for (const auto& p : c.confounded) pairs.push_back({c.parameters[p.first].key, c.parameters[p.second].key, p.correlation});
  j["confounded"] = pairs;
  Json trials = Json::array();
  for (std::size_t i = 0; i < c.used.size(); ++i)
    trials.push_back({{"name", c.used[i]}, {"measured_um", 1e6 * c.measured_m[i]}, {"before_um", 1e6 * c.before_m[i]}, {"after_um", 1e6 * c.after_m[i]}, {"log_sd", c.log_sd[i]}});
  j["trials"] = trials;
  j["not_used"] = c.not_used;
  j["chi_square"] = c.chi_square;
  j["widened"] = c.widened;
  const auto prediction = [](const engine::Prediction& p) {
    Json out = {{"fitted", p.fitted}};
    if (p.made) {
      out["left_out"] = p.left_out;
    } else {
      out["reason"] = p.reason;
    }
    return out;
  };
  j["prediction"] = {{"uncalibrated", prediction(c.uncalibrated)}, {"calibrated", prediction(c.calibrated)}, {"power_law", prediction(c.regression)}};
  j["model_runs"] = c.model_runs;
  return j;
}

// Of a fit that takes six rounds, each a step and its derivatives, and of the candidates for the next trials.
std::size_t usual_runs(std::size_t trials, std::size_t parameters, std::size_t candidates) {
  constexpr std::size_t kUsualRounds = 6;
  const std::size_t derivatives = 2 * parameters + 1;
  return trials * (2 + kUsualRounds * derivatives) + (candidates > 0 ? (candidates + 1) * derivatives : 0);
}

}  // namespace

double share_of_text(const std::string& text, const char* option) {
  const double v = io::parse_quantity(text, {"1", "5 %"}, {"", option}).value;
  if (!(v >= 0.0 && v <= 2.0)) throw InputError("", option, '"' + text + '"', "0 to 200 %");
  return v;
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

// What is wanted: said here, else in the window block of the case.
engine::DiameterLimits wanted_diameter(const LoadedCase& loaded, const std::string& option) {
  std::string text = option, file, where = "--diameter";
  if (text.empty() && !loaded.file.window_json.empty()) {
    const WindowWishes block = parse_window_block(nlohmann::ordered_json::parse(loaded.file.window_json), loaded.file.name);
    if (block.diameter) text = *block.diameter;
    file = loaded.file.name;
    where = "window.diameter";
  }
  if (text.empty()) throw InputError("", "--diameter", "missing", "the wanted diameter, e.g. \"3 um..5 um\", here or as diameter in the case's window block");
  const auto [least, most] = parse_diameter_range(text, file, where);
  return {least, most};
}

// A full disk does not take the result from the screen.
void said_on_failure(const Streams& streams, int& exit, const std::function<void()>& write) {
  try {
    write();
  } catch (const OutputError& error) {
    streams.err << "whorl: " << error.what() << '\n';
    exit = kNotMet;
  }
}

// Where to look: what the user names, else speed and pressure about the case.
std::vector<model::CaseInput> candidates_of(const LoadedCase& loaded, const std::vector<std::string>& over, std::vector<const io::Key*>& keys) {
  std::vector<model::CaseInput> out;
  if (!over.empty()) {
    SpecOverrides overrides;
    overrides.vary = over;
    const SweepSpec sweep = combine({}, overrides, loaded.file.name);
    const engine::Design design = make_design(sweep, loaded.file.name);
    if (design.size() > 2000) throw InputError("", "--over", std::to_string(design.size()) + " candidates", "at most 2000");
    for (const SweptKey& key : sweep.keys) keys.push_back(key.key);
    for (std::uint64_t i = 0; i < design.size(); ++i) {
      model::CaseInput c = loaded.file.input;
      std::vector<double> values(keys.size());
      design.point(i, values);
      for (std::size_t k = 0; k < keys.size(); ++k) keys[k]->set(c, io::from_display(*keys[k], values[k]));
      io::validate(c, loaded.file.name);
      out.push_back(c);
    }
    return out;
  }
  const auto [speed, pressure] = usual_plane(loaded.file.input);
  keys = {speed.key, pressure.key};
  for (int i = 0; i < 7; ++i) {
    for (int j = 0; j < 5; ++j) {
      model::CaseInput c = loaded.file.input;
      speed.key->set(c, io::from_display(*speed.key, speed.from + (speed.to - speed.from) * i / 6.0));
      pressure.key->set(c, io::from_display(*pressure.key, pressure.from + (pressure.to - pressure.from) * j / 4.0));
      try {
        io::validate(c, loaded.file.name);
        out.push_back(c);
      } catch (const InputError&) {
        // outside the documented limits: no candidate
      }
    }
  }
  return out;
}

int run_calibrate(const CalibrateArguments& arguments, const Streams& streams) {
  begin_command();
  if (arguments.fit.empty()) return learn_from_trials(arguments, streams);
  return fit_parameters(arguments, streams);
}

int fit_parameters(const CalibrateArguments& arguments, const Streams& streams) {
  const document::Format format = answer_format(arguments.json, arguments.form);
  check_threads(arguments.threads);
  const double reproducibility = share_of_text(arguments.reproducibility.empty() ? "5 %" : arguments.reproducibility, "--reproducibility");
  if (arguments.next_trials < 0 || arguments.next_trials > 50) throw InputError("", "--next-trials", std::to_string(arguments.next_trials), "0 to 50");
  engine::NextTrialsOptions wanted;
  wanted.aim = aim_of(arguments.aim.empty() ? "parameters" : arguments.aim);
  LoadedCase loaded = load_case(arguments.case_file);
  // Hundreds of runs: without tension unless the case asks for it, as the law on top and `window` see it.
  const bool quick = !loaded.file.tier_stated && loaded.file.input.model.tier == model::Tier::tension;
  if (quick) loaded.file.input.model.tier = model::Tier::inertial;
  if (wanted.aim == engine::Aim::window) wanted.limits = wanted_diameter(loaded, arguments.diameter);
  if (arguments.data.empty()) throw InputError("", "DATA", "missing", "a table of trials behind the case");
  io::TrialData data = read_trials(arguments.data, true);
  std::erase_if(data.rows, [](const io::TrialRow& row) { return !(row.mean_m > 0.0); });
  if (data.rows.empty()) throw InputError(data.name, "", "no row with a diameter", "one trial or more");
  const Existing existing = existing_if(arguments.force);
  if (!arguments.output.empty()) check_target(arguments.output, "-o", existing);
  if (!arguments.residuals.empty()) check_table_target(arguments.residuals, "--residuals", existing);
  const auto parameters = parameters_of(loaded, data, parted(arguments.fit));
  bool assumed = false;
  auto trials = trials_of(loaded, data, reproducibility, assumed);
  AnswerCount answers{0, 0};
  if (data.rows.size() <= kMostTrialsOfALaw) {
    const TrialCalibration unfitted(&loaded, data, arguments.reproducibility.empty() ? 0.0 : reproducibility);
    answers = choose_answers(trials, unfitted.study());
  }
  if (answers.first + answers.second > 0)
    wanted.answer = answers.first >= answers.second ? engine::HeldAgainst::threads : engine::HeldAgainst::line;
  StopSignals stop;
  Progress progress(progress_stream(streams.err));
  const engine::BatchRunner runner = parallel_runner(case_runner(loaded, {}), {arguments.threads, progress.run_count(), true});
  try {
    Suggested suggested;
    if (arguments.next_trials > 0) suggested.candidates = candidates_of(loaded, arguments.over, suggested.keys);
    progress.run_count()->expect(usual_runs(trials.size(), parameters.size(), suggested.candidates.size()));
    const engine::Calibration c = engine::calibrate(trials, parameters, runner);
    std::optional<Suggested> next;
    if (arguments.next_trials > 0 && c.converged) {
      next = std::move(suggested);
      next->aim = wanted.aim;
      double log_sd = 0.0;
      for (const double s : c.log_sd) log_sd += s / static_cast<double>(c.log_sd.size());
      wanted.count = static_cast<std::size_t>(arguments.next_trials);
      wanted.log_sd = log_sd * c.widened;
      next->trials = engine::next_trials(c, parameters, loaded.file.input, next->candidates, wanted, runner);
    }
    // What the fitted model still leaves over is learned on top of it.
    std::optional<TrialCalibration> law;
    if (c.converged && data.rows.size() <= kMostTrialsOfALaw) {
      LoadedCase fitted = loaded;
      for (std::size_t k = 0; k < parameters.size(); ++k) parameters[k].apply(fitted.file.input, c.parameters[k].value);
      law.emplace(&fitted, data, arguments.reproducibility.empty() ? 0.0 : reproducibility, progress.run_count());
    }
    progress.stop();
    int exit = law && law->study().misfit().empty() ? kDone : kNotMet;
    const auto file_json = [&] {
      Json j = as_json(loaded, data, c);
      if (law) j.update(law->json());
      return j;
    };
    if (!arguments.output.empty() && c.converged) said_on_failure(streams, exit, [&] { write_whole_file(arguments.output, "-o", file_json().dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n", existing); });
    if (!arguments.residuals.empty() && c.converged) {
      io::TableMetadata table = table_metadata(loaded, "Measured and calculated diameters", arguments.residuals);
      table.facts.emplace_back("trials", data.name.substr(data.name.rfind('/') + 1) + " sha256:" + data.digest);
      table.columns = {{"trial", "string", "", "", "name of the trial", true},
                       {"measured_um", "double", "um", "", "measured mean diameter", true},
                       {"before_um", "double", "um", "", "computed diameter, case as it stands", true},
                       {"after_um", "double", "um", "", "the same with the fitted parameters", true},
                       {"log_sd", "double", "", "", "standard deviation of ln(measured)", true},
                       {"residual", "double", "", "", "ln(measured/after) over log_sd", true}};
      std::string text = "trial,measured_um,before_um,after_um,log_sd,residual\n";
      for (std::size_t i = 0; i < c.used.size(); ++i) {
        io::append_text(text, c.used[i]);
        for (const double v : {1e6 * c.measured_m[i], 1e6 * c.before_m[i], 1e6 * c.after_m[i], c.log_sd[i], std::log(c.measured_m[i] / c.after_m[i]) / c.log_sd[i]}) {
          text += ',';
          io::append_number(text, v);
        }
        text += '\n';
      }
      said_on_failure(streams, exit, [&] { write_whole_table(arguments.residuals, "--residuals", finish_metadata(std::move(table)), text, existing); });
    }
    if (format == document::Format::json) {
      Json j = file_json();
      if (next) {
        Json list = Json::array();
        for (const auto& t : next->trials.trials) {
          Json one = Json::object();
          for (const io::Key* key : next->keys) one[std::string(key->column)] = io::tidy(io::to_display(*key, *key->get(next->candidates[t.candidate])));
          one["expected_um"] = 1e6 * t.diameter_m;
          one["narrowing"] = t.narrowing;
          one["as_good"] = t.as_good;
          list.push_back(one);
        }
        j["next_trials"] = {{"aim", arguments.aim.empty() ? "parameters" : arguments.aim}, {"message", next->trials.message}, {"feasible", next->trials.feasible}, {"trials", list}};
      }
      streams.out << j.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    } else {
      Document answer = fit_document(loaded, data, c, reproducibility, assumed, answers);
      if (next) answer.blocks.emplace_back(next_section(*next));
      if (law) answer.blocks.emplace_back(law_on_top(law->study()));
      if (quick)
        answer.blocks.emplace_back(Section{"", "", {Sentence{"Fitted without tension along the jet (tier inertial), as the law on top and "
                                                             "window see it; --set model.tier=tension fits with it."}}});
      write_answer(std::move(answer), format, arguments.form.fragment, bases_of(loaded, data), streams.out);
    }
    return exit;
  } catch (const engine::Interrupted&) {
    progress.stop();
    streams.err << "whorl: interrupted; nothing was written\n";
    return kInterrupted;
  }
}

}  // namespace whorl::app
