#include "whorl/study/trial_calibration.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "whorl/engine/estimate.hpp"
#include "whorl/engine/outcomes.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kMostTrials = 300;
constexpr double kMixedUnits = 300.0;            // largest over smallest in one column
constexpr double kUsualSpread = 0.36;            // of single fibres over their mean: median of published series
constexpr double kReach = 0.7, kNearest = 0.05;  // of ln(setting) to each side, for the model's own slope
constexpr double kNeverVaried = 0.5;             // spread of the exponent of a setting that was the same in every trial

// Without zeros behind: "+0.5".
std::string exponent_text(double x) { return (x < 0.0 ? "" : "+") + number_text(std::round(100.0 * x) / 100.0, 3); }

void check_units(const std::string& name, const std::string& column, const std::vector<double>& values) {
  double low = 0.0, high = 0.0;
  for (const double v : values) {
    if (!(v > 0.0)) continue;
    low = low > 0.0 ? std::min(low, v) : v;
    high = std::max(high, v);
  }
  if (low > 0.0 && high > kMixedUnits * low)
    throw InputError(name, column, "values that differ " + io::number_text(high / low, 2) + " times",
                     "one unit in a column");
}

std::string mean_heading() { return "diameter_mean"; }

}  // namespace

TrialCalibration::TrialCalibration(const LoadedCase* loaded, const io::TrialData& data, double stated_scatter,
                                   engine::RunCount* run_count)
    : name_(data.name) {
  const std::vector<const io::TrialRow*> rows = rows_to_learn(data);
  StudyInput input;
  input.stated_scatter = stated_scatter;
  take_settings(loaded, data, rows, input);
  bool gas = false, turns = loaded != nullptr;
  for (const auto& s : input.settings) {
    gas = gas || s.key == "operation.gas_overpressure";
    turns = turns || s.key == "operation.rotation_speed";
  }
  input.probability_line = gas ? (turns ? 0.3 : 0.05) : turns ? 0.8 : 0.2;

  if (loaded != nullptr) learn_signs(*loaded, data, input);
  engine::RunShare share(run_count, rows.size() + 2 * keys_.size());
  for (const auto* row : rows) input.trials.push_back(trial_of(loaded, *row, data, share));
  if (loaded != nullptr) {
    input.slopes = slopes_of(*loaded, input, share);
    // What never had a column is as in the case.
    for (const io::Key& key : io::numeric_keys()) {
      const std::string_view path = key.path;
      const auto begins = [&](std::string_view part) { return path.substr(0, part.size()) == part; };
      if (!(begins("solution.") || begins("vessel.") || begins("operation.") || begins("room.")) ||
          begins("solution.measured."))
        continue;
      if (std::any_of(range_.begin(), range_.end(), [&](const TrialRange& r) { return r.key == &key; })) continue;
      if (const auto value = key.get(loaded->file.input)) range_.push_back({&key, *value, *value, false});
    }
  }
  study_.emplace(std::move(input));
}

// Rows with a diameter, each once.
std::vector<const io::TrialRow*> TrialCalibration::rows_to_learn(const io::TrialData& data) {
  std::vector<const io::TrialRow*> rows;
  for (const io::TrialRow& row : data.rows) {
    if (!(row.mean_m > 0.0)) continue;
    const auto twin = std::find_if(rows.begin(), rows.end(), [&](const io::TrialRow* other) {
      return other->settings == row.settings && other->covariates == row.covariates && other->mean_m == row.mean_m &&
             other->sd_m == row.sd_m && other->batch == row.batch;
    });
    if (twin != rows.end()) {
      remarks_.push_back(row.name + " repeats " + (*twin)->name + " to the last digit: counted once");
      continue;
    }
    rows.push_back(&row);
  }
  if (rows.empty()) throw InputError(data.name, "", "no row with a diameter", "one trial or more");
  if (rows.size() > kMostTrials)
    throw InputError(data.name, "", std::to_string(rows.size()) + " trials", "at most 300");
  std::vector<double> diameters;
  for (const auto* row : rows) diameters.push_back(row->mean_m);
  check_units(data.name, mean_heading(), diameters);
  return rows;
}

// Columns that vary become settings of the study.
void TrialCalibration::take_settings(const LoadedCase* loaded, const io::TrialData& data,
                                     const std::vector<const io::TrialRow*>& rows, StudyInput& input) {
  for (std::size_t k = 0; k < data.keys.size(); ++k) {
    std::vector<double> values;
    for (const auto* row : rows) values.push_back(row->settings[k].second);
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    range_.push_back({data.keys[k], *low, *high, *low != *high});
    const std::string column(data.keys[k]->column);
    if (*low == *high) {
      if (rows.size() > 1) remarks_.push_back(column + " is the same in every trial: nothing is learned of it");
      continue;
    }
    check_units(data.name, column, values);
    keys_.push_back(data.keys[k]);
    input.settings.push_back({std::string(data.keys[k]->path), column, loaded != nullptr});
  }
  for (std::size_t k = 0; k < data.covariates.size(); ++k) {
    std::vector<double> values;
    for (const auto* row : rows) values.push_back(row->covariates[k]);
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    const io::Covariate& c = data.covariates[k];
    if (*low == *high) {
      if (rows.size() > 1) remarks_.push_back(c.heading + " is the same in every trial: nothing is learned of it");
      continue;
    }
    check_units(data.name, c.heading, values);
    covariates_.push_back(c.heading);
    covariate_column_.push_back(k);
    input.settings.push_back({c.key != nullptr ? std::string(c.key->path) : c.heading, c.heading, false});
    if (loaded != nullptr) remarks_.push_back(c.heading + " is no setting of the model: a plain covariate");
  }
}

StudyTrial TrialCalibration::trial_of(const LoadedCase* loaded, const io::TrialRow& row, const io::TrialData& data,
                                      engine::RunShare& share) {
  StudyTrial t;
  t.name = row.name;
  t.settings = settings_of(row, data);
  t.ln_diameter = std::log(row.mean_m);
  const double spread = row.sd_m > 0.0 ? row.sd_m / row.mean_m : kUsualSpread;
  if (row.count > 0.0) t.variance = spread * spread / row.count;
  t.batch = row.batch;
  const TrialSigns signs = signs_of(row, data);
  if (loaded != nullptr) {
    const QuickRun run = quick_run(case_of(*loaded, row, data), loaded->library);
    t.model = run.answers;
    t.ln_odds_fine = ln_odds_threads(signs, run.signs ? &*run.signs : nullptr);
    ++model_runs_;
    share.one_more();
    if (!t.model) remarks_.push_back(row.name + ": the model has no diameter there; the trial is used without it");
  } else {
    t.ln_odds_fine = ln_odds_threads(signs, nullptr);
  }
  return t;
}

// The model's own slopes, each as a secant over the range of the trials about their centre.
ModelSlopes TrialCalibration::slopes_of(const LoadedCase& loaded, const StudyInput& input, engine::RunShare& share) {
  const TrialStudy centre([&] {
    StudyInput bare = input;
    for (auto& t : bare.trials) t.model.reset();
    return bare;
  }());
  ModelSlopes slopes;
  for (std::size_t k = 0; k < input.settings.size(); ++k) {
    slopes.fine.push_back(0.0);
    slopes.coarse.push_back(0.0);
    if (k >= keys_.size()) continue;
    double low = 1e300, high = 0.0;
    for (const auto& t : input.trials) low = std::min(low, t.settings[k]), high = std::max(high, t.settings[k]);
    model::CaseInput at[2] = {loaded.file.input, loaded.file.input};
    for (model::CaseInput& one : at) one.model.discharge_factor *= flow_factor();
    for (int side = 0; side < 2; ++side) {
      for (std::size_t j = 0; j < keys_.size(); ++j) keys_[j]->set(at[side], centre.centre(j));
      double value = side == 0 ? low : high;
      if (low > 0.0) {
        const double half = std::clamp(0.5 * std::log(high / low), kNearest, kReach);
        value =
            std::clamp(centre.centre(k) * std::exp(side == 0 ? -half : half), keys_[k]->minimum, keys_[k]->maximum);
      }
      keys_[k]->set(at[side], keys_[k]->whole ? std::round(value) : value);
    }
    std::optional<TwoAnswers> a, b;
    try {
      a = quick_answers(at[0], loaded.library);
      b = quick_answers(at[1], loaded.library);
    } catch (const InputError&) {
      // a corner that the case does not allow: no slope of the model
    }
    model_runs_ += 2;
    share.one_more();
    share.one_more();
    const double step = centre.coordinates(settings_of(at[1]))[k] - centre.coordinates(settings_of(at[0]))[k];
    if (!a || !b || !(step > 0.0)) continue;
    slopes.fine[k] = (b->ln_fine - a->ln_fine) / step;
    slopes.coarse[k] = (b->ln_coarse - a->ln_coarse) / step;
  }
  return slopes;
}

std::vector<double> TrialCalibration::settings_of(const model::CaseInput& input) const {
  std::vector<double> out;
  for (std::size_t k = 0; k < keys_.size(); ++k) {
    const auto value = keys_[k]->get(input);
    out.push_back(value ? *value : study_ ? study_->centre(k) : 0.0);
  }
  for (std::size_t k = 0; k < covariates_.size(); ++k) out.push_back(study_ ? study_->centre(keys_.size() + k) : 1.0);
  return out;
}

std::vector<double> TrialCalibration::settings_of(const io::TrialRow& row, const io::TrialData& data) const {
  std::vector<double> out;
  for (const io::Key* key : keys_) {
    const auto found =
        std::find_if(row.settings.begin(), row.settings.end(), [&](const auto& s) { return s.first == key; });
    out.push_back(found->second);
  }
  for (const std::size_t k : covariate_column_) out.push_back(row.covariates[k]);
  (void)data;
  return out;
}

double TrialCalibration::outside_variance(const model::CaseInput& input) const {
  double variance = 0.0;
  for (const TrialRange& r : range_) {
    const auto value = r.key->get(input);
    if (!value || r.varies || !(r.low > 0.0) || !(*value > 0.0)) continue;
    const double off = kNeverVaried * std::log(*value / r.low);
    variance += off * off;
  }
  return variance;
}

model::CaseInput TrialCalibration::nominal_at(const model::CaseInput& input, const model::CaseInput& nominal) const {
  model::CaseInput at = nominal;
  for (const TrialRange& r : range_) {
    if (const auto value = r.key->get(input)) r.key->set(at, *value);
  }
  return at;
}

LawPrediction TrialCalibration::predict(const model::CaseInput& input, const model::CaseInput& nominal,
                                                const model::Library& library) const {
  return study_->predict(settings_of(input), physics_at(input, nominal, library), outside_variance(input));
}

std::optional<TwoAnswers> TrialCalibration::physics_at(const model::CaseInput& input, const model::CaseInput& nominal,
                                                       const model::Library& library) const {
  if (!study_->input().slopes) return {};
  return quick_answers(nominal_at(input, nominal), library);
}

LawPrediction TrialCalibration::predict(const io::TrialRow& row, const io::TrialData& data,
                                                const LoadedCase* loaded) const {
  std::optional<TwoAnswers> model;
  double variance = 0.0;
  if (loaded != nullptr) {
    const model::CaseInput at = case_of(*loaded, row, data);
    model = quick_answers(at, loaded->library);
    variance = outside_variance(at);
  }
  return study_->predict(settings_of(row, data), model, variance);
}

namespace {

void scale(model::Population& p, double factor) {
  for (double* v : {&p.mean_m, &p.mass_mean_m, &p.least_m, &p.most_m}) *v *= factor;
}

}  // namespace

void TrialCalibration::lay_over(model::Estimate& e, const model::CaseInput& input,
                                const std::optional<TwoAnswers>& model) const {
  if (e.status != model::Status::done) return;
  if (const auto fine = study_->probability_fine(model)) {
    e.as_threads.probability = *fine;
    e.as_line.probability = 1.0 - *fine;
    e.outcomes = engine::mixed(e.as_threads.outcomes, e.as_line.outcomes, *fine);
  }
  lay_classes(e);
  if (!(e.dry_diameter_m > 0.0)) return;
  const LawPrediction p = study_->predict(settings_of(input), model, outside_variance(input));
  const double d = std::exp(p.median);
  const double before = e.run.dry_diameter_mean_m > 0.0 ? e.run.dry_diameter_mean_m : e.dry_diameter_m;
  const double factor = d / before;
  e.dry_diameter_m *= factor;
  for (double* v : {&e.run.dry_diameter_mean_m, &e.run.dry_diameter_sd_m, &e.run.dry_diameter_min_m,
                    &e.run.dry_diameter_max_m, &e.run.single_low_m, &e.run.single_high_m})
    *v *= factor;
  for (model::RunPoint& point : e.run.points) {
    for (double* v : {&point.dry_diameter_m, e.torn ? &point.thread_diameter_m : &point.line_diameter_m}) *v *= factor;
  }
  scale(e.run.lines, factor);
  scale(e.run.threads, factor);
  if (e.torn) {
    model::ThreadReport& t = e.threads;
    for (double* v : {&t.dry_diameter_m, &t.wet_diameter_m, &t.thread_weber}) *v *= factor;
    t.threads /= factor * factor;  // of the same liquid
  } else {
    for (double* v : {&e.line_diameter_m, &e.line_run_mean_m, &e.jet.wet_diameter_m}) *v *= factor;
  }
  model::Answer& answer = e.torn ? e.as_threads : e.as_line;
  answer.diameter_m = d;
  answer.low_m = std::exp(p.low);
  answer.high_m = std::exp(p.high);
  const std::string misfit = study_->misfit();
  e.warnings.push_back(
      {"calibrated-by-trials", "Diameters are those of " + std::to_string(study_->input().trials.size()) + " trials (" +
                                   law_words(study_->winner()) + "): " + um(d) + " um, 90 % of single trials " +
                                   um(answer.low_m) + " to " + um(answer.high_m) + " um; the model alone has " +
                                   um(before) + " um"});
  if (!misfit.empty()) e.warnings.push_back({"trials-misfit", "The calibration does not hold: " + misfit});
}

std::string exponent_text(const StudyExponent& e) {
  std::string out =
      e.words + " " + exponent_text(e.measured) + " (" + exponent_text(e.low) + " to " + exponent_text(e.high) + ")";
  std::string beside;
  if (e.model) beside = "model " + exponent_text(*e.model);
  if (e.published)
    beside += (beside.empty() ? "" : ", ") + ("published " + exponent_text(*e.published)) + " +- " +
              io::number_text(*e.published_sd, 2);
  return beside.empty() ? out : out + "; " + beside;
}

std::vector<std::string> TrialCalibration::notes(const model::CaseInput& input) const {
  std::vector<std::string> out;
  out.push_back("calibrated: diameters by " + std::to_string(study_->input().trials.size()) + " trials of " + name_ +
                ", " + law_words(study_->winner()));
  for (const auto& e : study_->exponents()) out.push_back("calibrated: d ~ setting^n measured: " + exponent_text(e));
  if (const std::string misfit = study_->misfit(); !misfit.empty()) out.push_back("calibrated: " + misfit);
  for (const std::string& note : sign_notes()) out.push_back(note);
  std::string outside;
  for (const TrialRange& r : range_) {
    const auto value = r.key->get(input);
    if (!value) continue;
    const double rounding = 1e-9 * std::max(std::abs(*value), std::abs(r.high));
    if (*value >= r.low - rounding && *value <= r.high + rounding) continue;
    outside += (outside.empty() ? "" : "; ") + std::string(r.key->path) + " = " + io::value_text(*r.key, *value, 4) +
               " (trials: " + io::value_text(*r.key, r.low, 4) +
               (r.high > r.low ? " to " + io::value_text(*r.key, r.high, 4) : "") + ")";
  }
  if (!outside.empty()) out.push_back("outside the trials of " + name_ + ", which is extrapolated: " + outside);
  return out;
}

std::string law_formula(const TrialStudy& study) {
  const auto& settings = study.input().settings;
  // Mean of the logarithms of the diameters belongs to the centre of the settings.
  double level = 0.0;
  for (const auto& t : study.input().trials)
    level += study.predict(t.settings, t.model).median / static_cast<double>(study.input().trials.size());
  std::string out = "diameter_um = " + io::number_text(1e6 * std::exp(level), 4);
  const auto exponents = study.exponents();
  for (std::size_t k = 0; k < settings.size(); ++k) {
    const io::Key* key = io::find_key(settings[k].key);
    const bool column_of_key = key != nullptr && settings[k].words == key->column;
    const bool from_zero = study.shift(k) > 0.0;
    const auto shown = [&](double v) { return io::number_text(column_of_key ? io::to_display(*key, v) : v, 4); };
    const std::string top =
        from_zero ? "(" + settings[k].words + " + " + shown(study.shift(k)) + ")" : settings[k].words;
    out += " (" + top + "/" + shown(study.centre(k) + study.shift(k)) + ")^" + exponent_text(exponents[k].measured);
  }
  return out;
}

std::string measured_directions(const LoadedCase& loaded) {
  const TrialStudy& study = loaded.trials->study();
  std::string out = "Measured in " + std::to_string(study.input().trials.size()) + " trials (" +
                    law_words(study.winner()) + "), exponent n of d ~ setting^n with 90 % intervals: ";
  bool first = true;
  for (const auto& e : study.exponents()) {
    out += (first ? "" : ". ") + exponent_text(e);
    if (e.model) out += "; the model cannot explain " + exponent_text(e.unexplained);
    first = false;
  }
  return out + ". The split above is that of the model alone.";
}

model::CaseInput TrialCalibration::with_headline(model::CaseInput input,
                                                 const std::optional<TwoAnswers>& model) const {
  if (!model) return input;
  const auto fine = study_->probability_fine(model);
  if (fine) input.model.tearing_quantile = *fine > input.model.tearing_quantile ? 0.0 : 1.0;
  return input;
}

model::Estimate calibrated_estimate(const LoadedCase& loaded, const model::CaseInput& input,
                                    const engine::EstimateOptions& options) {
  if (!loaded.trials) return engine::estimate(input, loaded.library, options);
  const TrialCalibration& trials = *loaded.trials;
  const auto model = trials.physics_at(input, loaded.file.input, loaded.library);
  model::Estimate e = engine::estimate(trials.with_headline(input, model), loaded.library, options);
  trials.lay_over(e, input, model);
  return e;
}

}  // namespace whorl::study
