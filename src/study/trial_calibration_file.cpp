// The file of a calibration by trials: everything the law is made of, and what it makes of it for readers.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "whorl/io/calibration_file.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kMostTrials = 300;
constexpr std::size_t kMostHints = 10000;
constexpr double kMostLog = 100.0;  // of any ln d, exponent or setting in a file

// Reads a file, with its name in every refusal.
struct Reader {
  const std::string& file;
  [[noreturn]] void refuse(const std::string& where, const std::string& found, const std::string& allowed) const {
    throw InputError(file, where, found, allowed);
  }
  const Json& at(const Json& parent, const char* key, const std::string& where) const {
    if (!parent.is_object() || !parent.contains(key))
      refuse(where + "." + key, "missing", "a file written by 'whorl calibrate -o'");
    return parent[key];
  }
  std::string text(const Json& parent, const char* key, const std::string& where) const {
    const Json& v = at(parent, key, where);
    if (!v.is_string()) refuse(where + "." + key, "no text", "a text");
    return v.get<std::string>();
  }
  double number(const Json& v, const std::string& where, double least, double most) const {
    if (!v.is_number()) refuse(where, "no number", "a number");
    const double x = v.get<double>();
    if (!(x >= least && x <= most))
      refuse(where, io::number_text(x), io::number_text(least) + " to " + io::number_text(most));
    return x;
  }
  std::vector<double> numbers(const Json& v, const std::string& where, std::size_t count, double least,
                              double most) const {
    if (!v.is_array() || v.size() != count)
      refuse(where, "no list of " + std::to_string(count) + " numbers", "one per setting");
    std::vector<double> out;
    for (std::size_t i = 0; i < count; ++i)
      out.push_back(number(v[i], where + "[" + std::to_string(i) + "]", least, most));
    return out;
  }
  const Json& list(const Json& parent, const char* key, const std::string& where) const {
    const Json& v = at(parent, key, where);
    if (!v.is_array()) refuse(where + "." + key, "no list", "a list");
    return v;
  }
};

Json covariance_json(const LawExponents& e) {
  Json out = Json::array();
  for (const auto& row : e.covariance) out.push_back(row);
  return out;
}

}  // namespace

Json TrialCalibration::json() const {
  const TrialStudy& study = *study_;
  const StudyInput& input = study.input();
  Json law;
  law["settings"] = Json::array();
  const auto exponents = study.exponents();
  for (std::size_t k = 0; k < input.settings.size(); ++k) {
    const StudyExponent& e = exponents[k];
    Json one = {{"key", e.key},
                {"column", e.words},
                {"physical", input.settings[k].physical},
                {"centre_si", study.centre(k)},
                {"exponent", e.measured},
                {"exponent_sd", e.sd},
                {"low", e.low},
                {"high", e.high}};
    if (e.published) one["published"] = *e.published, one["published_sd"] = *e.published_sd;
    if (e.model) one["model"] = *e.model, one["not_explained_by_the_model"] = e.unexplained;
    law["settings"].push_back(one);
  }
  law["exponent_covariance"] = covariance_json(study.law().exponents());
  if (input.slopes) law["model_slopes"] = {{"threads", input.slopes->fine}, {"line", input.slopes->coarse}};
  law["probability_line"] = input.probability_line;
  law["stated_scatter"] = input.stated_scatter;
  law["scatter"] = study.law().scatter();
  law["remainder"] = study.law().remainder();
  law["trials"] = Json::array();
  const auto left = study.left_out();
  for (std::size_t i = 0; i < input.trials.size(); ++i) {
    const StudyTrial& t = input.trials[i];
    Json one = {{"name", t.name},
                {"settings", t.settings},
                {"ln_diameter_m", t.ln_diameter},
                {"variance", t.variance},
                {"batch", t.batch},
                {"ln_odds_threads", t.ln_odds_fine},
                {"left_out_ln_diameter_m", left[i].mean},
                {"left_out_sd", left[i].sd}};
    if (t.model)
      one["model"] = {{"ln_threads_m", t.model->ln_fine},
                      {"ln_line_m", t.model->ln_coarse},
                      {"probability_threads", t.model->probability_fine}};
    law["trials"].push_back(one);
  }
  law["laws"] = Json::array();
  for (const JudgedLaw& one : study.laws())
    law["laws"].push_back({{"law", law_words(one.kind)},
                           {"used", one.kind == study.winner()},
                           {"probability", one.probability},
                           {"left_out_rms_ln", one.left_out},
                           {"left_out_log_density", one.log_density}});
  law["used"] = law_words(study.winner());
  if (const auto fine = study.probability_fine(); !fine.empty()) law["probability_threads"] = fine;
  law["formula"] = law_formula(study);
  law["signs"] = signs_json();
  law["misfit"] = study.misfit();
  Json range = Json::array();
  for (const TrialRange& r : range_)
    range.push_back({{"key", r.key->path}, {"low_si", r.low}, {"high_si", r.high}, {"varies", r.varies}});
  return {{"law", law}, {"range", range}, {"remarks", remarks_}};
}

TrialCalibration::TrialCalibration(const Json& file, const std::string& name) : name_(name) {
  const Reader read{name_};
  const Json& law = read.at(file, "law", "");
  StudyInput input;
  const Json& settings = read.list(law, "settings", "law");
  for (std::size_t k = 0; k < settings.size(); ++k) {
    const std::string where = "law.settings[" + std::to_string(k) + "]";
    StudySetting s{read.text(settings[k], "key", where), read.text(settings[k], "column", where), false};
    const Json& physical = read.at(settings[k], "physical", where);
    if (!physical.is_boolean()) read.refuse(where + ".physical", "neither true nor false", "true or false");
    s.physical = physical.get<bool>();
    const io::Key* key = io::find_key(s.key);
    if (s.physical && (key == nullptr || key->path != s.key))
      read.refuse(where + ".key", s.key.substr(0, 60), "a numeric key of the case file");
    if (s.physical) {
      if (!covariates_.empty())
        read.refuse(where, "a setting of the model behind a covariate", "settings of the model first");
      keys_.push_back(key);
    } else {
      covariates_.push_back(s.words);
      covariate_column_.push_back(covariate_column_.size());
    }
    input.settings.push_back(std::move(s));
  }
  const std::size_t count = input.settings.size();
  if (law.contains("model_slopes")) {
    const Json& slopes = law["model_slopes"];
    input.slopes = ModelSlopes{
        read.numbers(read.at(slopes, "threads", "law.model_slopes"), "law.model_slopes.threads", count, -kMostLog,
                     kMostLog),
        read.numbers(read.at(slopes, "line", "law.model_slopes"), "law.model_slopes.line", count, -kMostLog, kMostLog)};
  }
  input.probability_line = read.number(read.at(law, "probability_line", "law"), "law.probability_line", 0.0, 1.0);
  input.stated_scatter = read.number(read.at(law, "stated_scatter", "law"), "law.stated_scatter", 0.0, 2.0);
  const Json& trials = read.list(law, "trials", "law");
  if (trials.empty() || trials.size() > kMostTrials)
    read.refuse("law.trials", std::to_string(trials.size()) + " trials", "1 to 300");
  for (std::size_t i = 0; i < trials.size(); ++i) {
    const std::string where = "law.trials[" + std::to_string(i) + "]";
    StudyTrial t;
    t.name = read.text(trials[i], "name", where).substr(0, 60);
    t.settings = read.numbers(read.at(trials[i], "settings", where), where + ".settings", count, 0.0, 1e15);
    t.ln_diameter =
        read.number(read.at(trials[i], "ln_diameter_m", where), where + ".ln_diameter_m", -kMostLog, kMostLog);
    t.variance = read.number(read.at(trials[i], "variance", where), where + ".variance", 0.0, kMostLog);
    t.batch = read.text(trials[i], "batch", where).substr(0, 60);
    t.ln_odds_fine =
        read.number(read.at(trials[i], "ln_odds_threads", where), where + ".ln_odds_threads", -kMostLog, kMostLog);
    if (trials[i].contains("model")) {
      const Json& m = trials[i]["model"];
      t.model = TwoAnswers{
          read.number(read.at(m, "ln_threads_m", where), where + ".model.ln_threads_m", -kMostLog, kMostLog),
          read.number(read.at(m, "ln_line_m", where), where + ".model.ln_line_m", -kMostLog, kMostLog),
          read.number(read.at(m, "probability_threads", where), where + ".model.probability_threads", 0.0, 1.0)};
    }
    input.trials.push_back(std::move(t));
  }
  if (law.contains("signs")) {
    const Json& signs = law["signs"];
    const std::string where = "law.signs";
    signs_.flow.ln_mean = read.number(read.at(signs, "ln_flow_factor", where), where + ".ln_flow_factor", -5.0, 5.0);
    signs_.flow.ln_sd = read.number(read.at(signs, "ln_flow_factor_sd", where), where + ".ln_flow_factor_sd", 0.0, 5.0);
    signs_.flow.runs =
        static_cast<std::size_t>(read.number(read.at(signs, "timed_runs", where), where + ".timed_runs", 0.0, 1e4));
    signs_.class_trials =
        static_cast<std::size_t>(read.number(read.at(signs, "class_trials", where), where + ".class_trials", 0.0, 1e4));
    const auto shift =
        read.numbers(read.at(signs, "class_shift", where), where + ".class_shift", signs_.classes.size(), -50.0, 50.0);
    std::copy(shift.begin(), shift.end(), signs_.classes.begin());
    const Json& hints = read.list(signs, "hints", where);
    if (hints.size() > kMostHints)
      read.refuse(where + ".hints", std::to_string(hints.size()) + " of them", "at most 10000");
    for (std::size_t i = 0; i < hints.size(); ++i) {
      const std::string at = where + ".hints[" + std::to_string(i) + "]";
      input.hints.push_back(
          {read.number(read.at(hints[i], "probability_threads", at), at + ".probability_threads", 0.0, 1.0),
           read.number(read.at(hints[i], "ln_odds_threads", at), at + ".ln_odds_threads", -kMostLog, kMostLog)});
    }
  }
  const Json& range = read.list(file, "range", "");
  for (std::size_t i = 0; i < range.size(); ++i) {
    const std::string where = "range[" + std::to_string(i) + "]";
    TrialRange r;
    const std::string key = read.text(range[i], "key", where);
    r.key = io::find_key(key);
    if (r.key == nullptr || r.key->path != key)
      read.refuse(where + ".key", key.substr(0, 60), "a numeric key of the case file");
    r.low = read.number(read.at(range[i], "low_si", where), where + ".low_si", -1e15, 1e15);
    r.high = read.number(read.at(range[i], "high_si", where), where + ".high_si", r.low, 1e15);
    const Json& varies = read.at(range[i], "varies", where);
    r.varies = varies.is_boolean() && varies.get<bool>();
    range_.push_back(r);
  }
  try {
    study_.emplace(std::move(input));
  } catch (const std::invalid_argument& error) {
    read.refuse("law", error.what(), "trials that a law can hold");
  }
}

void lay_calibration(LoadedCase& loaded, const std::string& path) {
  const std::string text = io::read_text_file(path);
  const Json json = io::parse_document(text, path);
  const bool trials = json.is_object() && json.contains("whorl_calibration") &&
                      json["whorl_calibration"].is_number_integer() && json["whorl_calibration"].get<long>() == 2;
  if (!trials) {
    io::apply_calibration(loaded.file, io::read_calibration_text(text, path));
    if (!json.contains("law")) return;
  }
  const Reader read{path};
  const std::string polymer = read.text(json, "polymer", ""), solvent = read.text(json, "solvent", "");
  const auto& solution = loaded.file.input.solution;
  if (polymer.empty())
    read.refuse("polymer", "none: made from a table without a case", "a calibration made with a case");
  if (polymer != solution.polymer || solvent != solution.solvent)
    read.refuse("polymer, solvent", polymer + " in " + solvent,
                "those of the case " + loaded.file.name + ": " + solution.polymer + " in " + solution.solvent);
  const auto calibration = std::make_shared<const TrialCalibration>(json, path);
  const io::Key* discharge = io::find_key("model.discharge_factor");
  double& factor = loaded.file.input.model.discharge_factor;
  factor = std::clamp(factor * calibration->flow_factor(), discharge->minimum, discharge->maximum);
  for (const std::string& note : calibration->notes(loaded.file.input)) loaded.file.notes.push_back(note);
  loaded.file.canonical_text += "case = " + loaded.file.hash + "\ncalibration = " + io::sha256_hex(text) + "\n";
  loaded.file.hash = io::sha256_hex(loaded.file.canonical_text);
  loaded.trials = calibration;
}

Json calibrated_json(const LoadedCase& loaded) {
  const TrialCalibration& c = *loaded.trials;
  const LawPrediction p = c.predict(loaded.file.input, loaded.file.input, loaded.library);
  const TrialStudy& study = c.study();
  Json exponents = Json::array();
  for (const auto& e : study.exponents()) {
    Json one = {{"key", e.key}, {"measured", e.measured}, {"low", e.low}, {"high", e.high}};
    if (e.published) one["published"] = *e.published;
    if (e.model) one["model"] = *e.model, one["not_explained_by_the_model"] = e.unexplained;
    exponents.push_back(one);
  }
  return {{"law", law_words(study.winner())},
          {"trials", study.input().trials.size()},
          {"diameter_um", 1e6 * std::exp(p.median)},
          {"low_um", 1e6 * std::exp(p.low)},
          {"high_um", 1e6 * std::exp(p.high)},
          {"law_low_um", 1e6 * std::exp(p.law_low)},
          {"law_high_um", 1e6 * std::exp(p.law_high)},
          {"exponents", exponents},
          {"misfit", study.misfit()}};
}

}  // namespace whorl::study
