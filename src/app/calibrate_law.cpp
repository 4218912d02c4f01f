// whorl calibrate without --fit: the law of the trials, what it rests on, what it says of new settings and what to try
// next.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <nlohmann/json.hpp>
#include <ostream>

#include "app/calibrate.hpp"
#include "app/page.hpp"
#include "app/parallel.hpp"
#include "app/provenance.hpp"
#include "app/trial_calibration.hpp"
#include "app/whole_file.hpp"
#include "app/workbook.hpp"
#include "io/case_file.hpp"
#include "io/csv.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr double kNinety = 1.6448536269514722;
constexpr std::size_t kMostTargets = 8;  // settings over which next trials are judged

std::string percent(double share) {
  const double p = 100.0 * share;
  return io::number_text(p >= 10.0 ? std::round(p) : p, p >= 10.0 ? 6 : 2) + " %";
}
std::string um(double ln_metres) { return io::number_text(1e6 * std::exp(ln_metres), 4); }

struct Predicted {
  std::string name;
  engine::LawPrediction law;
};

struct Suggestion {
  std::string text;
  std::vector<double> settings;
  Json json;
  double expected{}, narrowing{};
};

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
  return step > 0.0 ? step * std::round(display / step) : std::stod(io::number_text(display, 2));
}

class Report {
 public:
  Report(const CalibrateArguments& arguments, const LoadedCase* loaded, const io::TrialData& data,
         const TrialCalibration& calibration)
      : arguments_(arguments), loaded_(loaded), data_(data), calibration_(calibration), study_(calibration.study()) {
    for (const io::TrialRow& row : data.rows) {
      if (!(row.mean_m > 0.0)) predicted_.push_back({row.name, calibration.predict(row, data, loaded)});
    }
  }
  void suggest();
  [[nodiscard]] Json json() const;
  void print(std::ostream& out) const;
  [[nodiscard]] std::string residuals() const;

 private:
  // A wanted diameter that is named is what the trials are for.
  [[nodiscard]] std::string aim_word() const {
    return !arguments_.aim.empty() ? arguments_.aim : arguments_.diameter.empty() ? "diameter" : "window";
  }
  [[nodiscard]] double law_of(std::size_t trial) const;
  [[nodiscard]] double model_of(std::size_t trial) const;
  void print_laws(std::ostream& out) const;
  void print_directions(std::ostream& out) const;
  void print_trials(std::ostream& out) const;
  void print_next(std::ostream& out) const;

  const CalibrateArguments& arguments_;
  const LoadedCase* loaded_;
  const io::TrialData& data_;
  const TrialCalibration& calibration_;
  const engine::TrialStudy& study_;
  std::vector<Predicted> predicted_;
  std::vector<Suggestion> next_;
  std::string no_next_;
  double here_{}, after_{};  ///< sd of the law where it matters, before and after the next trials
};

double Report::law_of(std::size_t trial) const {
  const engine::StudyTrial& t = study_.input().trials[trial];
  return study_.predict(t.settings, t.model).median;
}

double Report::model_of(std::size_t trial) const {
  const auto& model = study_.input().trials[trial].model;
  if (!model) return study_.input().trials[trial].ln_diameter;
  return model->probability_fine >= 0.5 ? model->ln_fine : model->ln_coarse;
}

void Report::suggest() {
  if (arguments_.next_trials == 0) return;
  const std::string aim = aim_word();
  if (aim == "parameters") throw InputError("", "--aim", "\"parameters\" without --fit", "diameter, region or window");
  if (loaded_ == nullptr) {
    no_next_ = "a table without a case has no settings to choose from; give rows without diameter to predict";
    return;
  }
  std::vector<const io::Key*> keys;
  std::vector<model::CaseInput> candidates = candidates_of(*loaded_, arguments_.over, keys);
  const auto steps = steps_of(arguments_.step);
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
  // Where the diameter matters, with weights.
  std::vector<std::vector<double>> targets;
  std::vector<double> weights;
  if (aim == "diameter") {
    targets.push_back(calibration_.settings_of(loaded_->file.input));
    weights.push_back(1.0);
  } else if (aim == "region" || aim == "window") {
    const engine::DiameterLimits limits =
        aim == "window" ? wanted_diameter(*loaded_, arguments_.diameter) : engine::DiameterLimits{};
    const std::size_t every = std::max<std::size_t>(1, settable.size() / kMostTargets);
    for (std::size_t i = 0; i < settable.size(); i += aim == "window" ? 1 : every) {
      double weight = 1.0;
      if (aim == "window") {
        const engine::LawPrediction p = calibration_.predict(settable[i], loaded_->file.input, loaded_->library);
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
  // With the answer that the model has at the case's own setting.
  const std::vector<std::optional<engine::TwoAnswers>> target_models(
      targets.size(), study_.input().slopes ? quick_answers(loaded_->file.input, loaded_->library) : std::nullopt);
  std::vector<double> variance;
  double weight_sum = 0.0, before = 0.0;
  for (std::size_t t = 0; t < targets.size(); ++t) {
    const engine::LawPrediction p = study_.predict(targets[t], target_models[t]);
    const double sd = 0.5 * (p.law_high - p.law_low) / kNinety;
    variance.push_back(sd * sd);
    before += weights[t] * variance[t];
    weight_sum += weights[t];
  }
  std::vector<std::vector<double>> chosen;
  for (int round = 0; round < arguments_.next_trials; ++round) {
    double best = 1e300;
    std::size_t which = 0;
    for (std::size_t c = 0; c < settable.size(); ++c) {
      auto with = chosen;
      with.push_back(calibration_.settings_of(settable[c]));
      double after = 0.0;
      for (std::size_t t = 0; t < targets.size(); ++t) {
        const double share = study_.narrowing(targets[t], target_models[t], with);
        after += weights[t] * variance[t] * share * share;
      }
      if (after >= best * (1.0 - 1e-9)) continue;
      best = after;
      which = c;
    }
    if (settable.empty()) break;
    chosen.push_back(calibration_.settings_of(settable[which]));
    Suggestion s;
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

Json Report::json() const {
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
    const engine::StudyTrial& t = study_.input().trials[i];
    j["trials"].push_back({{"name", t.name},
                           {"measured_um", 1e6 * std::exp(t.ln_diameter)},
                           {"before_um", 1e6 * std::exp(model_of(i))},
                           {"after_um", 1e6 * std::exp(law_of(i))},
                           {"left_out_um", 1e6 * std::exp(left[i].mean)},
                           {"log_sd", std::hypot(study_.law().scatter(), std::sqrt(t.variance))}});
  }
  if (!predicted_.empty()) {
    j["predictions"] = Json::array();
    for (const Predicted& p : predicted_)
      j["predictions"].push_back({{"name", p.name},
                                  {"diameter_um", 1e6 * std::exp(p.law.median)},
                                  {"low_um", 1e6 * std::exp(p.law.low)},
                                  {"high_um", 1e6 * std::exp(p.law.high)},
                                  {"ln_sd", p.law.sd}});
  }
  if (arguments_.next_trials > 0) {
    j["next_trials"] = {{"aim", aim_word()}, {"message", no_next_}, {"trials", Json::array()}};
    for (const Suggestion& s : next_) j["next_trials"]["trials"].push_back(s.json);
  }
  j["model_runs"] = calibration_.model_runs();
  return j;
}

void Report::print_laws(std::ostream& out) const {
  char line[256];
  out << "\nLAW: " << engine::law_words(study_.winner()) << '\n';
  out << "  left out: root mean square of ln(measured/predicted) for settings kept aside\n"
      << "     evidence  left out  law\n";
  for (const engine::JudgedLaw& law : study_.laws()) {
    std::snprintf(line, sizeof line, "  %s %8s %9s  %s", law.kind == study_.winner() ? "->" : "  ", percent(law.probability).c_str(),
                  percent(law.left_out).c_str(), engine::law_words(law.kind));
    out << line << '\n';
  }
  out << "  " << law_formula(study_) << '\n';
  std::snprintf(line, sizeof line, "  scatter of one trial about the law: %s", percent(study_.law().scatter()).c_str());
  out << line << '\n';
}

void Report::print_directions(std::ostream& out) const {
  const auto exponents = study_.exponents();
  if (exponents.empty()) return;
  char line[256];
  out << "\nDIRECTIONS, n of d ~ setting^n (90 % intervals)\n"
      << "  setting                   measured                        model  published\n";
  for (const engine::StudyExponent& e : exponents) {
    const std::string direction = e.high < 0.0       ? "finer"
                                  : e.low > 0.0      ? "coarser"
                                  : e.measured < 0.0 ? "finer?"
                                                     : "coarser?";
    std::string model = "-", published = "-", unexplained = "-";
    if (e.model) {
      std::snprintf(line, sizeof line, "%+.2f", *e.model);
      model = line;
      std::snprintf(line, sizeof line, "%+.2f", e.unexplained);
      unexplained = line;
    }
    if (e.published) {
      std::snprintf(line, sizeof line, "%+.2f +- %.2f", *e.published, *e.published_sd);
      published = line;
    }
    std::snprintf(line, sizeof line, "  %-25.25s %+.2f (%+.2f to %+.2f) %-8s %5s  %s", e.words.c_str(), e.measured, e.low, e.high, direction.c_str(),
                  model.c_str(), published.c_str());
    out << line << '\n';
    if (e.model) out << "    the model cannot explain " << unexplained << " of it\n";
  }
}

void Report::print_trials(std::ostream& out) const {
  char line[256];
  const auto left = study_.left_out();
  const auto fine = study_.probability_fine();
  out << "\nTRIALS (um)          measured   model     law  left out (90 %)" << (fine.empty() ? "" : "           torn") << '\n';
  for (std::size_t i = 0; i < study_.input().trials.size(); ++i) {
    const engine::StudyTrial& t = study_.input().trials[i];
    const std::string band = um(left[i].mean) + " (" + um(left[i].mean - kNinety * left[i].sd) + " to " + um(left[i].mean + kNinety * left[i].sd) + ")";
    std::snprintf(line, sizeof line, "  %-18.18s %8s %7s %7s  %-24s %6s", t.name.c_str(), um(t.ln_diameter).c_str(),
                  t.model ? um(model_of(i)).c_str() : "-", um(law_of(i)).c_str(), band.c_str(), fine.empty() ? "" : percent(fine[i]).c_str());
    std::string shown = line;
    shown.erase(shown.find_last_not_of(' ') + 1);
    out << shown << '\n';
  }
}

void Report::print_next(std::ostream& out) const {
  if (arguments_.next_trials == 0) return;
  out << "\nNEXT TRIALS\n";
  if (!no_next_.empty()) {
    out << "  none: " << no_next_ << '\n';
    return;
  }
  for (std::size_t i = 0; i < next_.size(); ++i)
    out << "  " << i + 1 << "." << next_[i].text << "   expected " << um(next_[i].expected)
        << " um; the law's doubt shrinks to " << percent(next_[i].narrowing) << '\n';
  out << "  The law is known within " << percent(std::expm1(kNinety * here_))
      << " (90 %) there, after these trials within " << percent(std::expm1(kNinety * after_))
      << ". Further trials will not narrow a single run below " << percent(std::expm1(kNinety * study_.law().scatter()))
      << ".\n";
}

void Report::print(std::ostream& out) const {
  out << "CALIBRATION" << (loaded_ != nullptr ? " OF " + loaded_->file.name : std::string()) << " WITH " << data_.name
      << '\n'
      << "  " << study_.input().trials.size() << " trials";
  if (loaded_ != nullptr) out << "; " << calibration_.model_runs() << " quick model runs (no tension, first jet)";
  out << '\n';
  for (const std::string& remark : calibration_.remarks()) out << "  " << remark << '\n';
  for (const std::string& note : calibration_.sign_notes()) out << "  " << note.substr(note.find(": ") + 2) << '\n';
  for (const io::TrialRow& row : data_.rows) {
    if (!row.seen.empty() && !(row.mean_m > 0.0)) out << "  " << row.name << ": " << row.seen << " seen, no diameter\n";
  }
  print_laws(out);
  if (const std::string misfit = study_.misfit(); !misfit.empty()) out << "  THIS DOES NOT HOLD: " << misfit << ".\n";
  print_directions(out);
  print_trials(out);
  if (!predicted_.empty()) {
    out << "\nPREDICTIONS (rows without diameter)\n";
    for (const Predicted& p : predicted_)
      out << "  " << p.name << ": " << um(p.law.median) << " um (90 %: " << um(p.law.low) << " to " << um(p.law.high)
          << ")\n";
  }
  print_next(out);
}

std::string Report::residuals() const {
  std::string text = "trial,measured_um,before_um,after_um,log_sd,residual\n";
  for (std::size_t i = 0; i < study_.input().trials.size(); ++i) {
    const engine::StudyTrial& t = study_.input().trials[i];
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

}  // namespace

int learn_from_trials(const CalibrateArguments& arguments, const Streams& streams) {
  check_threads(arguments.threads);
  const double stated =
      arguments.reproducibility.empty() ? 0.0 : share_of_text(arguments.reproducibility, "--reproducibility");
  if (arguments.next_trials < 0 || arguments.next_trials > 50)
    throw InputError("", "--next-trials", std::to_string(arguments.next_trials), "0 to 50");
  std::optional<LoadedCase> loaded;
  const bool table_alone = arguments.data.empty();
  if (!table_alone) loaded = load_case(arguments.case_file);
  const LoadedCase* with = loaded ? &*loaded : nullptr;
  const io::TrialData data = read_trials(table_alone ? arguments.case_file : arguments.data, !table_alone);
  const Existing existing = existing_if(arguments.force);
  if (!arguments.output.empty()) check_target(arguments.output, "-o", existing);
  if (!arguments.residuals.empty()) check_table_target(arguments.residuals, "--residuals", existing);
  const TrialCalibration calibration(with, data, stated);
  Report report(arguments, with, data, calibration);
  if (loaded)
    loaded->file.input.model.discharge_factor *= calibration.flow_factor();  // from here on as laid over a case
  report.suggest();
  int exit = calibration.study().misfit().empty() ? kDone : kNotMet;
  const Json json = report.json();
  if (!arguments.output.empty())
    said_on_failure(streams, exit, [&] {
      write_whole_file(arguments.output, "-o", json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n",
                       existing);
    });
  if (!arguments.residuals.empty() && with != nullptr) {
    io::TableMetadata table = table_metadata(*with, "Measured and calculated diameters", arguments.residuals);
    table.facts.emplace_back("trials", data.name.substr(data.name.rfind('/') + 1) + " sha256:" + data.digest);
    table.columns = {{"trial", "string", "", "", "name of the trial", true},
                     {"measured_um", "double", "um", "", "measured mean diameter", true},
                     {"before_um", "double", "um", "", "diameter of the model alone", true},
                     {"after_um", "double", "um", "", "diameter by the law of the trials", true},
                     {"log_sd", "double", "", "", "standard deviation of ln(measured) about the law", true},
                     {"residual", "double", "", "", "ln(measured/after) over log_sd", true}};
    said_on_failure(streams, exit, [&] {
      write_whole_table(arguments.residuals, "--residuals", finish_metadata(std::move(table)), report.residuals(),
                        existing);
    });
  }
  if (arguments.json) {
    streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
  } else {
    Page page(streams.out);
    report.print(page.out());
    std::vector<Basis> bases;
    if (with != nullptr) bases.push_back(basis_of(*with));
    bases.push_back({"trials", data.name.substr(data.name.rfind('/') + 1), data.digest, {}});
    page.out() << provenance_line(bases);
  }
  return exit;
}

}  // namespace whorl::app
