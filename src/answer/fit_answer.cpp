#include "answer/fit_answer.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::answer {
namespace {

using namespace document;
using Json = nlohmann::ordered_json;

std::string um(double metres) { return whorl::um(metres, 4); }

std::string shown(const std::string& key, double si, int digits = 3) {
  const io::Key* k = io::find_key(key);
  return k != nullptr ? io::value_text(*k, si, digits) : io::number_text(si, digits);
}

struct AimWord {
  const char* word;
  study::Aim aim;
  const char* text;
};
constexpr AimWord kAims[] = {
    {"parameters", study::Aim::parameters, "for the parameters"},
    {"diameter", study::Aim::setting, "for the diameter at the case's own setting"},
    {"region", study::Aim::region, "for the diameter over all candidates"},
    {"window", study::Aim::window, "for the boundary of the wanted diameter"},
};
const char* aim_text(study::Aim aim) {
  for (const AimWord& one : kAims) {
    if (aim == one.aim) return one.text;
  }
  return "";
}

// Within which settings the parameters were found, for the note that a case lies outside.
Json range_of(const study::LoadedCase& loaded, const io::TrialData& data, const std::vector<std::string>& used) {
  Json out = Json::array();
  for (const io::Key& key : io::numeric_keys()) {
    const std::string_view path = key.path;
    const auto begins = [&](std::string_view part) { return path.substr(0, part.size()) == part; };
    if (!(begins("solution.") || begins("vessel.") || begins("operation.") || begins("room.")) ||
        begins("solution.measured."))
      continue;
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

std::string within(const std::string& key, double low, double high) {
  return shown(key, low) + " to " + shown(key, high);
}

Section parameter_section(const study::Calibration& c) {
  Section section{"Parameters (90 % intervals)"};
  Table table{"", "", {{"", "key"}, {"", "fitted"}, {"", "interval"}, {"", "before"}, {"", "interval before"}}, {}};
  for (const auto& p : c.parameters) {
    table.rows.push_back({p.key, shown(p.key, p.value), within(p.key, p.low, p.high), shown(p.key, p.prior),
                          within(p.key, p.prior_low, p.prior_high)});
  }
  section.blocks.emplace_back(std::move(table));
  for (const auto& p : c.parameters) {
    if (p.at_limit)
      section.blocks.emplace_back(
          Sentence{p.key + ": far out in what was stated for it: the data and that statement disagree, or "
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
        pairs.rows.push_back({c.parameters[i].key, c.parameters[j].key, decimals_text(r)});
      }
    }
    section.blocks.emplace_back(std::move(pairs));
  }
  const auto known = std::count_if(c.information.begin(), c.information.end(), [](double s) { return s > 1.0; });
  section.blocks.emplace_back(Sentence{"The data tell " + std::to_string(known) + " of " +
                                       std::to_string(c.parameters.size()) +
                                       " combinations of these parameters better than they were known before."});
  for (const auto& pair : c.confounded) {
    section.blocks.emplace_back(Sentence{
        "They cannot tell " + c.parameters[pair.first].key + " from " + c.parameters[pair.second].key +
        ": both change the diameters of these trials in the same way (" + io::number_text(pair.correlation, 3) +
        "). Only their combined effect is known; vary a setting that parts them, or fix one."});
  }
  return section;
}

Section fitted_section(const study::Calibration& c) {
  Section section{"Trials"};
  Table table{"",
              "",
              {{"", "trial"}, {"", "measured", "um"}, {"", "case", "um"}, {"", "fitted", "um"}, {"", "ln(m/f)/sd"}},
              {}};
  for (std::size_t i = 0; i < c.used.size(); ++i) {
    table.rows.push_back({c.used[i], um(c.measured_m[i]), um(c.before_m[i]), um(c.after_m[i]),
                          signed_text(std::log(c.measured_m[i] / c.after_m[i]) / c.log_sd[i])});
  }
  section.blocks.emplace_back(std::move(table));
  std::string fit = "chi-square " + io::number_text(c.chi_square, 3) + " for " + std::to_string(c.used.size()) +
                    " trials and " + std::to_string(c.parameters.size()) +
                    (c.parameters.size() == 1 ? " parameter" : " parameters");
  if (c.widened > 1.0)
    fit += "; larger than the stated scatter allows: intervals widened by " + io::number_text(c.widened, 3);
  section.blocks.emplace_back(Sentence{fit});
  return section;
}

Section prediction_section(const study::Calibration& c) {
  Section section{"Prediction (root mean square of ln(measured/predicted))"};
  Table table{"", "", {{"", "by"}, {"", "these trials"}, {"", "settings left out"}}, {}};
  const auto put = [&](const char* name, const study::Prediction& p) {
    table.rows.push_back(
        {name, p.made || p.fitted > 0.0 ? percent(p.fitted) : "-", p.made ? percent(p.left_out) : p.reason});
  };
  put("uncalibrated model (the case as it stands)", c.uncalibrated);
  put("calibrated model", c.calibrated);
  put("power law of the settings that vary, no physics", c.regression);
  section.blocks.emplace_back(std::move(table));
  if (c.calibrated.made && c.regression.made) {
    const bool plain = c.regression.left_out < c.calibrated.left_out;
    section.blocks.emplace_back(Sentence{
        plain
            ? "On settings left out the plain power law predicts better than the calibrated model. Inside the range of "
              "these trials use it; it knows nothing of class, drying or other solutions."
            : "On settings left out the calibrated model predicts better than the plain power law."});
  }
  return section;
}

// Trials that are torn threads, and trials that are one line.
std::string held_against(AnswerCount answers) {
  if (answers.second == 0) return "torn threads";
  if (answers.first == 0) return "one line per orifice";
  return "torn threads in " + std::to_string(answers.first) + " trials, one line per orifice in " +
         std::to_string(answers.second);
}

}  // namespace

study::Aim aim_of(const std::string& word) {
  for (const AimWord& one : kAims) {
    if (word == one.word) return one.aim;
  }
  throw InputError("", "--aim", '"' + word + '"', "parameters, diameter, region or window");
}
std::vector<Basis> bases_of(const study::LoadedCase& loaded, const io::TrialData& data) {
  return {basis_of(loaded), {"trials", data.name.substr(data.name.rfind('/') + 1), data.digest, {}}};
}

Document fit_document(const study::LoadedCase& loaded, const io::TrialData& data, const study::Calibration& c,
                      double reproducibility, bool assumed, AnswerCount answers) {
  Document out{"Calibration of " + loaded.file.name + " with " + data.name, {}};
  out.blocks.emplace_back(Sentence{std::to_string(c.used.size()) + " of " + std::to_string(data.rows.size()) +
                                   " trials used; " + std::to_string(c.model_runs) +
                                   " model runs; scatter between repeated runs taken as " + percent(reproducibility)});
  if (assumed)
    out.blocks.emplace_back(Sentence{"Where a row states no standard deviation or count, " + percent(kUsualSpread) +
                                     " and " + io::number_text(kUsualCount) + " are assumed."});
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

Section next_section(const Suggested& next) {
  Section section{std::string("Next trials (") + aim_text(next.aim) + ")"};
  if (!next.trials.message.empty()) {
    section.blocks.emplace_back(Sentence{"none: " + next.trials.message});
    return section;
  }
  section.blocks.emplace_back(Sentence{std::to_string(next.trials.feasible) + " of " +
                                       std::to_string(next.candidates.size()) + " candidates give continuous fibre"});
  List list{"", "", {}};
  for (const study::NextTrial& t : next.trials.trials) {
    std::string text;
    for (const io::Key* key : next.keys) {
      const double value = io::to_display(*key, *key->get(next.candidates[t.candidate]));
      text += (text.empty() ? "" : "  ") + std::string(key->column) + " " + io::number_text(value, 6);
    }
    text +=
        "; expected " + um(t.diameter_m) + " um; with the trials above the interval shrinks to " + percent(t.narrowing);
    if (t.as_good > 0)
      text += "; " + std::to_string(t.as_good) + " of the other candidates would tell as much in its place";
    list.items.emplace_back(text);
  }
  section.blocks.emplace_back(std::move(list));
  return section;
}

Section law_on_top(const study::TrialStudy& study) {
  const auto used =
      std::find_if(study.laws().begin(), study.laws().end(), [&](const auto& l) { return l.kind == study.winner(); });
  Section section{"Law of the trials on top"};
  section.blocks.emplace_back(Sentence{std::string(study::law_words(study.winner())) +
                                       "; settings left out are missed by " + percent(used->left_out)});
  section.blocks.emplace_back(Sentence{study::law_formula(study)});
  if (const std::string misfit = study.misfit(); !misfit.empty())
    section.blocks.emplace_back(Sentence{"THIS DOES NOT HOLD: " + misfit + "."});
  return section;
}

Json fit_json(const study::LoadedCase& loaded, const io::TrialData& data, const study::Calibration& c) {
  Json j = {{"whorl_calibration", 1}};
  put_provenance(j, bases_of(loaded, data));
  j.update({{"case", loaded.file.name},
            {"case_sha256", loaded.file.hash},
            {"data", data.name},
            {"data_sha256", data.digest},
            {"polymer", loaded.file.input.solution.polymer},
            {"solvent", loaded.file.input.solution.solvent},
            {"converged", c.converged},
            {"message", c.message}});
  if (!c.converged) return j;
  Json parameters = Json::array();
  for (const auto& p : c.parameters) {
    parameters.push_back({{"key", p.key},
                          {"kind", engine::to_string(p.kind)},
                          {"value_si", p.value},
                          {"low_si", p.low},
                          {"high_si", p.high},
                          {"prior_si", p.prior},
                          {"prior_low_si", p.prior_low},
                          {"prior_high_si", p.prior_high},
                          {"text", shown(p.key, p.value, 6)},
                          {"z", p.z},
                          {"z_sd", p.z_sd},
                          {"far_out", p.at_limit}});
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
  for (const auto& p : c.confounded)
    pairs.push_back({c.parameters[p.first].key, c.parameters[p.second].key, p.correlation});
  j["confounded"] = pairs;
  Json trials = Json::array();
  for (std::size_t i = 0; i < c.used.size(); ++i)
    trials.push_back({{"name", c.used[i]},
                      {"measured_um", 1e6 * c.measured_m[i]},
                      {"before_um", 1e6 * c.before_m[i]},
                      {"after_um", 1e6 * c.after_m[i]},
                      {"log_sd", c.log_sd[i]}});
  j["trials"] = trials;
  j["not_used"] = c.not_used;
  j["chi_square"] = c.chi_square;
  j["widened"] = c.widened;
  const auto prediction = [](const study::Prediction& p) {
    Json out = {{"fitted", p.fitted}};
    if (p.made) {
      out["left_out"] = p.left_out;
    } else {
      out["reason"] = p.reason;
    }
    return out;
  };
  j["prediction"] = {{"uncalibrated", prediction(c.uncalibrated)},
                     {"calibrated", prediction(c.calibrated)},
                     {"power_law", prediction(c.regression)}};
  j["model_runs"] = c.model_runs;
  return j;
}

}  // namespace whorl::answer
