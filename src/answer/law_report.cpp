#include "answer/law_report.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "answer/provenance.hpp"
#include "model/normal.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/study/next_candidates.hpp"

namespace whorl::answer {
namespace {

using namespace document;
using Json = nlohmann::ordered_json;

constexpr std::size_t kMostTargets = 8;  // settings over which next trials are judged

std::string percent(double share) { return share < 0.1 ? whorl::percent(share, 2) : whole_percent(share); }
std::string um(double ln_metres) { return whorl::um(std::exp(ln_metres), 4); }

// Steps in display units that a bench sets: common practice, no source; --step has the last word.
std::map<const io::Key*, double> steps_of(const std::vector<std::string>& texts) {
  std::map<const io::Key*, double> out;
  const auto put = [&](const char* key, double display) { out[io::find_key(key)] = display; };
  put("operation.rotation_speed", 100.0);
  put("operation.gas_overpressure", 0.01);
  put("solution.concentration", 0.5);
  put("operation.collection_distance", 5.0);
  for (const std::string& text : texts) {
    const auto equals = text.find('=');
    const io::Key* key = equals == std::string::npos ? nullptr : io::find_key(text.substr(0, equals));
    if (key == nullptr) throw InputError("", "--step", '"' + text + '"', "KEY=VALUE, e.g. rotation_speed=250 rpm");
    const double zero = key->display_offset;
    const double si = io::parse_quantity(text.substr(equals + 1), io::kind_of(*key), {"", "--step"}).value;
    const double step = (si - zero) / key->display_scale;
    if (!(step > 0.0)) throw InputError("", "--step", '"' + text + '"', "more than 0");
    out[key] = step;
  }
  return out;
}

double rounded(double display, double step) {
  return step > 0.0 ? step * std::round(display / step) : io::tidy(display, 2);
}

std::string interval(double low, double high) { return um(low) + " to " + um(high); }

}  // namespace

void LawReport::predict() {
  engine::RunShare share(run_count_);
  for (const io::TrialRow& row : data_.rows) {
    if (row.mean_m > 0.0) continue;
    predicted_.push_back({row.name, calibration_.predict(row, data_, loaded_)});
    share.one_more();
  }
}

double LawReport::law_of(std::size_t trial) const {
  const study::StudyTrial& t = study_.input().trials[trial];
  return study_.predict(t.settings, t.model).median;
}

double LawReport::model_of(std::size_t trial) const {
  const auto& model = study_.input().trials[trial].model;
  if (!model) return study_.input().trials[trial].ln_diameter;
  return model->probability_fine >= 0.5 ? model->ln_fine : model->ln_coarse;
}

void LawReport::suggest() {
  if (wishes_.next_trials == 0) return;
  const std::string aim = aim_word();
  if (aim == "parameters") throw InputError("", "--aim", "\"parameters\" without --fit", "diameter, region or window");
  if (loaded_ == nullptr) {
    no_next_ = "a table without a case has no settings to choose from; give rows without diameter to predict";
    return;
  }
  std::vector<const io::Key*> keys;
  const std::vector<model::CaseInput> settable = settable_cases(keys);
  const auto rounds = static_cast<std::size_t>(wishes_.next_trials);
  engine::RunShare share(run_count_, settable.size() * ((aim == "window" ? 1 : 0) + rounds));
  std::vector<std::vector<double>> targets;
  std::vector<double> weights;
  choose_targets(aim, settable, share, targets, weights);
  // With the answer that the model has at the case's own setting.
  const std::vector<std::optional<study::TwoAnswers>> target_models(
      targets.size(),
      study_.input().slopes ? study::quick_answers(loaded_->file.input, loaded_->library) : std::nullopt);
  std::vector<double> variance;
  double weight_sum = 0.0, before = 0.0;
  for (std::size_t t = 0; t < targets.size(); ++t) {
    const study::LawPrediction p = study_.predict(targets[t], target_models[t]);
    const double sd = 0.5 * (p.law_high - p.law_low) / model::kNormal95;
    variance.push_back(sd * sd);
    before += weights[t] * variance[t];
    weight_sum += weights[t];
  }
  std::vector<std::vector<double>> chosen;
  for (int round = 0; round < wishes_.next_trials; ++round) {
    double best = 1e300;
    std::size_t which = 0;
    for (std::size_t c = 0; c < settable.size(); ++c) {
      auto with = chosen;
      with.push_back(calibration_.settings_of(settable[c]));
      double after = 0.0;
      for (std::size_t t = 0; t < targets.size(); ++t) {
        const double narrower = study_.narrowing(targets[t], target_models[t], with);
        after += weights[t] * variance[t] * narrower * narrower;
      }
      share.one_more();
      if (after >= best * (1.0 - 1e-9)) continue;
      best = after;
      which = c;
    }
    if (settable.empty()) break;
    chosen.push_back(calibration_.settings_of(settable[which]));
    SuggestedTrial s;
    s.settings = chosen.back();
    s.json = Json::object();
    for (const io::Key* key : keys) {
      const double display = io::to_display(*key, *key->get(settable[which]));
      s.text += "  " + std::string(key->column) + " " + io::number_text(display, 6);
      s.json[std::string(key->column)] = io::tidy(display);
    }
    s.expected = calibration_.predict(settable[which], loaded_->file.input, loaded_->library).median;
    s.narrowing = before > 0.0 ? std::sqrt(best / before) : 1.0;
    s.json["expected_um"] = 1e6 * std::exp(s.expected);
    s.json["narrowing"] = s.narrowing;
    next_.push_back(std::move(s));
  }
  here_ = std::sqrt(before / weight_sum);
  after_ = next_.empty() ? here_ : here_ * next_.back().narrowing;
}

// Candidates rounded to what gauge and motor resolve, each once.
std::vector<model::CaseInput> LawReport::settable_cases(std::vector<const io::Key*>& keys) const {
  std::vector<model::CaseInput> candidates = study::candidates_of(*loaded_, wishes_.over, keys);
  const auto steps = steps_of(wishes_.step);
  std::vector<model::CaseInput> settable;
  for (model::CaseInput& c : candidates) {
    for (const io::Key* key : keys) {
      const auto step = steps.find(key);
      key->set(c, io::from_display(*key, rounded(io::to_display(*key, key->get(c).value_or(0.0)),
                                                 step == steps.end() ? 0.0 : step->second)));
    }
    try {
      io::validate(c, loaded_->file.name);
    } catch (const InputError&) {
      continue;  // rounded out of the limits
    }
    const bool known = std::any_of(settable.begin(), settable.end(), [&](const model::CaseInput& other) {
      return std::all_of(keys.begin(), keys.end(), [&](const io::Key* key) { return key->get(other) == key->get(c); });
    });
    if (!known) settable.push_back(c);
  }
  return settable;
}

// Where the diameter matters, with weights.
void LawReport::choose_targets(const std::string& aim, const std::vector<model::CaseInput>& settable,
                               engine::RunShare& share, std::vector<std::vector<double>>& targets,
                               std::vector<double>& weights) const {
  if (aim == "diameter") {
    targets.push_back(calibration_.settings_of(loaded_->file.input));
    weights.push_back(1.0);
  } else if (aim == "region" || aim == "window") {
    const study::DiameterLimits limits =
        aim == "window" ? study::wanted_diameter(*loaded_, wishes_.diameter) : study::DiameterLimits{};
    const std::size_t every = std::max<std::size_t>(1, settable.size() / kMostTargets);
    for (std::size_t i = 0; i < settable.size(); i += aim == "window" ? 1 : every) {
      double weight = 1.0;
      if (aim == "window") {
        const study::LawPrediction p = calibration_.predict(settable[i], loaded_->file.input, loaded_->library);
        share.one_more();
        weight = 0.0;
        for (const auto& limit : {limits.least_m, limits.most_m}) {
          const double off = limit ? (p.median - std::log(*limit)) / p.sd : 9.0;
          weight += std::exp(-0.5 * off * off) / p.sd;
        }
      }
      targets.push_back(calibration_.settings_of(settable[i]));
      weights.push_back(weight);
    }
    while (targets.size() > kMostTargets) {
      const auto least = std::min_element(weights.begin(), weights.end()) - weights.begin();
      targets.erase(targets.begin() + least);
      weights.erase(weights.begin() + least);
    }
  } else {
    throw InputError("", "--aim", '"' + aim + '"', "diameter, region or window");
  }
}

Json LawReport::json() const {
  Json j = {{"whorl_calibration", 2}};
  std::vector<Basis> bases;
  if (loaded_ != nullptr) bases.push_back(basis_of(*loaded_));
  bases.push_back({"trials", data_.name.substr(data_.name.rfind('/') + 1), data_.digest, {}});
  put_provenance(j, bases);
  j["case"] = loaded_ != nullptr ? loaded_->file.name : "";
  j["case_sha256"] = loaded_ != nullptr ? loaded_->file.hash : "";
  j["data"] = data_.name;
  j["data_sha256"] = data_.digest;
  j["polymer"] = loaded_ != nullptr ? loaded_->file.input.solution.polymer : "";
  j["solvent"] = loaded_ != nullptr ? loaded_->file.input.solution.solvent : "";
  j["converged"] = true;
  j.update(calibration_.json());
  j["trials"] = Json::array();
  const auto left = study_.left_out();
  for (std::size_t i = 0; i < study_.input().trials.size(); ++i) {
    const study::StudyTrial& t = study_.input().trials[i];
    j["trials"].push_back({{"name", t.name},
                           {"measured_um", 1e6 * std::exp(t.ln_diameter)},
                           {"before_um", 1e6 * std::exp(model_of(i))},
                           {"after_um", 1e6 * std::exp(law_of(i))},
                           {"left_out_um", 1e6 * std::exp(left[i].mean)},
                           {"log_sd", std::hypot(study_.law().scatter(), std::sqrt(t.variance))}});
  }
  if (!predicted_.empty()) {
    j["predictions"] = Json::array();
    for (const PredictedRow& p : predicted_)
      j["predictions"].push_back({{"name", p.name},
                                  {"diameter_um", 1e6 * std::exp(p.law.median)},
                                  {"low_um", 1e6 * std::exp(p.law.low)},
                                  {"high_um", 1e6 * std::exp(p.law.high)},
                                  {"ln_sd", p.law.sd}});
  }
  if (wishes_.next_trials > 0) {
    j["next_trials"] = {{"aim", aim_word()}, {"message", no_next_}, {"trials", Json::array()}};
    for (const SuggestedTrial& s : next_) j["next_trials"]["trials"].push_back(s.json);
  }
  j["model_runs"] = calibration_.model_runs();
  return j;
}

Section LawReport::laws() const {
  Section section{"Law: " + std::string(study::law_words(study_.winner()))};
  Table table{"",
              "Left out: root mean square of ln(measured/predicted) for settings kept aside.",
              {{"", ""}, {"", "evidence"}, {"", "left out"}, {"", "law"}},
              {}};
  for (const study::JudgedLaw& law : study_.laws()) {
    table.rows.push_back({law.kind == study_.winner() ? "->" : "", percent(law.probability), percent(law.left_out),
                          std::string(study::law_words(law.kind))});
  }
  section.blocks.emplace_back(std::move(table));
  section.blocks.emplace_back(Sentence{study::law_formula(study_)});
  section.blocks.emplace_back(Sentence{"scatter of one trial about the law: " + percent(study_.law().scatter())});
  if (const std::string misfit = study_.misfit(); !misfit.empty())
    section.blocks.emplace_back(Sentence{"THIS DOES NOT HOLD: " + misfit + "."});
  return section;
}

void LawReport::add_directions(Document& document) const {
  const auto exponents = study_.exponents();
  if (exponents.empty()) return;
  Section section{"Directions, n of d ~ setting^n (90 % intervals)"};
  Table table{"", "", {{"", "setting"}, {"", "measured"}, {"", ""}, {"", "model"}, {"", "published"}}, {}};
  for (const study::StudyExponent& e : exponents) {
    const std::string direction = e.high < 0.0       ? "finer"
                                  : e.low > 0.0      ? "coarser"
                                  : e.measured < 0.0 ? "finer?"
                                                     : "coarser?";
    const std::string measured =
        signed_text(e.measured) + " (" + signed_text(e.low) + " to " + signed_text(e.high) + ")";
    const std::string published =
        e.published ? signed_text(*e.published) + " +- " + io::number_text(*e.published_sd, 2) : "-";
    table.rows.push_back({e.words, measured, direction, e.model ? signed_text(*e.model) : "-", published});
  }
  section.blocks.emplace_back(std::move(table));
  for (const study::StudyExponent& e : exponents) {
    if (e.model)
      section.blocks.emplace_back(
          Sentence{e.words + ": the model cannot explain " + signed_text(e.unexplained) + " of it"});
  }
  document.blocks.emplace_back(std::move(section));
}

Section LawReport::trials() const {
  const auto left = study_.left_out();
  const auto fine = study_.probability_fine();
  Section section{"Trials"};
  Table table{
      "",
      "",
      {{"", "trial"}, {"", "measured", "um"}, {"", "model", "um"}, {"", "law", "um"}, {"", "left out (90 %)", "um"}},
      {}};
  if (!fine.empty()) table.columns.push_back({"", "torn"});
  for (std::size_t i = 0; i < study_.input().trials.size(); ++i) {
    const study::StudyTrial& t = study_.input().trials[i];
    const std::string band = um(left[i].mean) + " (" +
                             interval(left[i].mean - model::kNormal95 * left[i].sd,
                                      left[i].mean + model::kNormal95 * left[i].sd) + ")";
    std::vector<document::Value> row{t.name, um(t.ln_diameter), t.model ? um(model_of(i)) : "-", um(law_of(i)), band};
    if (!fine.empty()) row.emplace_back(percent(fine[i]));
    table.rows.push_back(std::move(row));
  }
  section.blocks.emplace_back(std::move(table));
  return section;
}

void LawReport::add_next(Document& document) const {
  if (wishes_.next_trials == 0) return;
  Section section{"Next trials"};
  if (!no_next_.empty()) {
    section.blocks.emplace_back(Sentence{"none: " + no_next_});
    document.blocks.emplace_back(std::move(section));
    return;
  }
  List list{"", "", {}};
  for (const SuggestedTrial& s : next_) {
    list.items.emplace_back(s.text.substr(2) + "; expected " + um(s.expected) + " um; the law's doubt shrinks to " +
                            percent(s.narrowing));
  }
  section.blocks.emplace_back(std::move(list));
  section.blocks.emplace_back(Sentence{
      "The law is known within " + percent(std::expm1(model::kNormal95 * here_)) +
      " (90 %) there, after these trials within " +
      percent(std::expm1(model::kNormal95 * after_)) + ". Further trials will not narrow a single run below " +
      percent(std::expm1(model::kNormal95 * study_.law().scatter())) + "."});
  document.blocks.emplace_back(std::move(section));
}

Document LawReport::told() const {
  Document out{
      "Calibration" + (loaded_ != nullptr ? " of " + loaded_->file.name : std::string()) + " with " + data_.name, {}};
  std::string counts = std::to_string(study_.input().trials.size()) + " trials";
  if (loaded_ != nullptr)
    counts += "; " + std::to_string(calibration_.model_runs()) + " quick model runs (no tension, first jet)";
  out.blocks.emplace_back(Sentence{counts});
  for (const std::string& remark : calibration_.remarks()) out.blocks.emplace_back(Sentence{remark});
  for (const std::string& note : calibration_.sign_notes())
    out.blocks.emplace_back(Sentence{note.substr(note.find(": ") + 2)});
  for (const io::TrialRow& row : data_.rows) {
    if (!row.seen.empty() && !(row.mean_m > 0.0))
      out.blocks.emplace_back(Sentence{row.name + ": " + row.seen + " seen, no diameter"});
  }
  out.blocks.emplace_back(laws());
  add_directions(out);
  out.blocks.emplace_back(trials());
  if (!predicted_.empty()) {
    Section section{"Predictions (rows without diameter)"};
    Table table{"", "", {{"", "row"}, {"", "diameter", "um"}, {"", "90 %", "um"}}, {}};
    for (const PredictedRow& p : predicted_)
      table.rows.push_back({p.name, um(p.law.median), interval(p.law.low, p.law.high)});
    section.blocks.emplace_back(std::move(table));
    out.blocks.emplace_back(std::move(section));
  }
  add_next(out);
  return out;
}

std::string LawReport::residuals() const {
  std::string text = "trial,measured_um,before_um,after_um,log_sd,residual\n";
  for (std::size_t i = 0; i < study_.input().trials.size(); ++i) {
    const study::StudyTrial& t = study_.input().trials[i];
    const double sd = std::hypot(study_.law().scatter(), std::sqrt(t.variance));
    io::append_text(text, t.name);
    for (const double v : {1e6 * std::exp(t.ln_diameter), 1e6 * std::exp(model_of(i)), 1e6 * std::exp(law_of(i)), sd,
                           (t.ln_diameter - law_of(i)) / sd}) {
      text += ',';
      io::append_number(text, v);
    }
    text += '\n';
  }
  return text;
}

}  // namespace whorl::answer
