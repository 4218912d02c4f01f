// What an estimate says first: at most twelve rows that fit a terminal of 80 columns.
#include "answer/estimate_statement.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "io/names.hpp"
#include "whorl/engine/classify.hpp"
#include "whorl/engine/line_band.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/model/run_progress.hpp"
#include "whorl/study/drier.hpp"
#include "whorl/study/lander.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::answer {
namespace {

std::string two(double value) { return number_text(value, 2); }
std::string um(double metres) { return two(1e6 * metres); }

// "about 0.5 um, 90 % between 0.12 and 2 um"
std::string size_of(const model::Answer& answer) {
  if (!(answer.diameter_m > 0.0)) {
    if (answer.fibre_class == model::FibreClass::dripping) return "no fibre, it drips";
    return answer.landing == model::Landing::none ? "no fibre: it floats, not set, and does not land" : "no fibre";
  }
  std::string text = "about " + um(answer.diameter_m) + " um";
  if (answer.low_m > 0.0) text += ", 90 % between " + um(answer.low_m) + " and " + um(answer.high_m) + " um";
  if (answer.fibre_class == model::FibreClass::drops) text += ", if it held together";
  else if (answer.landing == model::Landing::none) text += ", but it floats and does not land";
  return text;
}

std::string seen(const model::Estimate& e) {
  std::string text;
  for (const SeenOutcome& one : seen_outcomes(e.outcomes)) {
    if (one.chance < 0.01) continue;
    if (!text.empty()) text += ", ";
    text += one.words + (" " + one.percent);
  }
  const auto landing = [](const model::Answer& a) -> std::string {
    switch (a.landing) {
      case model::Landing::dry: return "dry";
      case model::Landing::firm: return "firm, but not yet dry inside";
      case model::Landing::tacky: return "tacky";
      case model::Landing::wet: return "wet";
      case model::Landing::none: break;
    }
    return {};
  };
  const std::string how = landing(e.torn ? e.as_threads : e.as_line);
  if (how.empty()) return text;
  if (!two_answers(e)) return text + "; lands " + how;
  return text + (e.torn ? "; threads land " : "; the line lands ") + how;
}

// "factor 1.5 from its draw, 1.4 from its viscosity"
std::string doubts_of_line(const model::Estimate& e, std::size_t most) {
  std::string text;
  std::size_t named = 0;
  for (const model::Doubt& doubt : e.line_doubts) {
    if (named == most || doubt.log_sd < 0.05) break;
    const char* words = io::doubt_words(doubt.key);
    text += named == 0 ? "factor " : ", ";
    text += two(std::exp(doubt.log_sd)) + " from ";
    text += words != nullptr ? words : doubt.key;
    ++named;
  }
  return text;
}

// The two or three things that decide the diameter.
std::string decided(const model::Estimate& e) {
  std::vector<std::string> parts;
  if (e.threads.predicted) {
    const bool open = e.as_threads.probability > 0.0 && e.as_threads.probability < 1.0;
    parts.push_back(std::string(open ? "gas with " : "gas leaves with ") + chance_text(e.run.share_with_gas) +
                    " of the mass, " + two(6e4 * e.run.gas_supply_mean_m3_s) + " normal L/min" +
                    (open ? ", if it tears" : ""));
  }
  // most is spun on the way to the settings of the case: they are not what decides
  const double before = 1.0 - e.run.share_at_full_settings;
  const bool starting = e.run.full_settings_time_s > 0.0 && before > 0.5;
  if (starting) parts.push_back(chance_text(before) + " leaves before full speed and pressure");
  if (const std::string doubts = doubts_of_line(e, starting ? 1 : 2); !doubts.empty())
    parts.push_back("line: " + doubts);
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : "; ") + part;
  return text;
}

// What published experiments say of overpressure, concentration and speed, and whether the model says the same.
std::string trends(const study::LoadedCase& loaded, const model::Estimate& e) {
  if (e.torn) return "finer with pressure, coarser with polymer (the model too); speed open";
  const engine::LineDirections model = engine::line_directions(loaded.file.input, loaded.library);
  const auto word = [](const std::optional<double>& exponent) -> std::string {
    constexpr double kNone = 0.1;
    if (!exponent) return "not known";
    return *exponent > kNone ? "coarser" : *exponent < -kNone ? "finer"
                                                              : "next to nothing";
  };
  const std::string polymer = loaded.file.input.solution.measured.zero_shear_viscosity_Pa_s
                                  ? "open, by how the viscosity follows"
                                  : word(model.concentration);
  return "coarser with polymer (model: " + polymer + "), finer with speed (model: " + word(model.speed) + ")";
}

// "the collector at 130 mm"
std::string turned(const study::WayToDry& way, const model::CaseInput& now) {
  const std::string to = io::value_text(*way.key, way.to, 3);
  if (way.key->path == "operation.collection_distance") return "the collector at " + to;
  if (way.key->path == "room.relative_humidity") return "air of " + to + " humidity";
  if (way.key->path == "room.temperature")
    return (now.solution.temperature_K ? "the room at " : "room and charge at ") + to;
  return "orifices of " + to;
}

// What would dry it, in numbers of the model; each knob alone, so many at most.
std::string drier(const study::LoadedCase& loaded, std::size_t most) {
  const model::CaseInput& input = loaded.file.input;
  std::vector<std::string> dries, fails;
  bool dry = true;
  for (const study::WayToDry& way : study::ways_to_dry(loaded, most)) {
    if (!way.dries()) {
      fails.push_back(turned(way, input));
      continue;
    }
    dries.push_back(turned(way, input) + " (now " + number_text(io::to_display(*way.key, way.from), 3) + ")");
    dry = dry && way.landing == model::Landing::dry;
  }
  const auto list = [](const std::vector<std::string>& parts) {
    std::string text;
    for (std::size_t i = 0; i < parts.size(); ++i)
      text += (i == 0 ? "" : i + 1 == parts.size() ? " or " : ", ") + parts[i];
    return text;
  };
  if (!dries.empty()) return (dry ? "; dry with " : "; firm with ") + list(dries);
  if (fails.empty()) return ": a solvent that dries faster";
  return ", also with " + list(fails) + ": a solvent that dries faster, or several at once";
}

// Where the line floats, and what would make it land, in numbers of the model; each knob alone.
std::string floating(const study::LoadedCase& loaded, const model::Estimate& e) {
  const model::CaseInput& input = loaded.file.input;
  const double gap = e.jet.end_radius_m - (0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m);
  std::string text = "the line floats ";
  text += gap > 0.0 ? number_text(std::round(1e3 * gap), 4) + " mm off the vessel" : std::string("at the vessel");
  std::string ways;
  for (const study::WayToLand& way : study::ways_to_land(loaded, gap)) {
    ways += ways.empty() ? "" : " or ";
    ways += (way.key->path == "operation.collection_distance" ? "with the collector at " : "at ") +
            io::value_text(*way.key, way.to, 5) + " (now " + number_text(io::to_display(*way.key, way.from), 5) + ")";
  }
  if (ways.empty()) return text + "; of nearer collectors and other speeds none alone makes it land";
  return text + "; it lands " + ways;
}

std::string next_step(const study::LoadedCase& loaded, const model::Estimate& e) {
  if (e.outcomes.drops > 0.5)
    return "drops are likelier than fibre: more polymer, a higher molar mass or a solvent that dries faster. All of "
           "it: --full";
  if (e.dry_diameter_m > 0.0 && e.dry_diameter_m < engine::kFinestPublished_m)
    return "more charge or feed: hardly anything leaves an orifice, and no fibre as fine as this was found published. "
           "All of it: --full";
  if (e.outcomes.wet > 0.5) return "it most likely lands wet" + drier(loaded, 4) + ". All of it: --full";
  const bool fed = loaded.file.input.operation.feed_rate_m3_s.has_value();  // then no timed run tells of the orifices
  const double p = e.as_threads.probability;
  const bool open = e.threads.predicted && p > 0.05 && p < 0.95 && e.line_diameter_m > 0.0;
  if (open) {
    const std::string sizes =
        "micrograph (" + um(e.threads.dry_diameter_m) + " or " + um(e.line_diameter_m) + " um?)";
    if (e.landing == model::Landing::tacky)
      return "it lands tacky" + drier(loaded, 1) + ". Then a " + sizes + " and `whorl calibrate`. All of it: --full";
    return "a first " + sizes + (fed ? "" : ", a timed run") +
           " or a gas meter tells which answer holds; then `whorl calibrate`. All of it: --full";
  }
  if (!e.torn && e.as_line.landing == model::Landing::none) return floating(loaded, e) + ". All of it: --full";
  if (!loaded.file.input.solution.measured.zero_shear_viscosity_Pa_s)
    return std::string("measure the viscosity of the solution: it decides ") +
           (fed ? "whether the line holds together" : "flow and run") + ". All of it: --full";
  return "spin once at this setting, measure diameters, then `whorl calibrate`. All of it: --full";
}

// What the sizes rest on once a laboratory has trials of its own.
std::string trials_text(const study::TrialCalibration& trials) {
  const study::TrialStudy& study = trials.study();
  const std::size_t count = study.input().trials.size();
  std::string out = "sizes by " + std::to_string(count) + (count == 1 ? " trial" : " trials") +
                    " of your own: " + study::law_words(study.winner());
  if (const std::string misfit = study.misfit(); !misfit.empty()) out += ". THIS DOES NOT HOLD: " + misfit;
  return out;
}

}  // namespace

std::vector<SeenOutcome> seen_outcomes(const model::Outcomes& o) {
  std::vector<SeenOutcome> all{{"even", "even fibre", o.even},
                               {"beaded", "fibre with beads", o.beaded},
                               {"drops", "drops", o.drops},
                               {"wet", "wet film", o.wet},
                               {"none", "nothing lands", o.none}};
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.chance > b.chance; });
  // rounded down, and what is missing in the sum to those that lose most
  constexpr double kHair = 1e-9;
  double sum = 0.0;
  std::vector<SeenOutcome*> told;
  for (SeenOutcome& one : all) {
    one.percent = chance_text(one.chance);
    if (one.chance < 0.01 || one.chance > 0.99) continue;
    told.push_back(&one);
    sum += one.chance;
  }
  const auto whole = [](const SeenOutcome* one) { return std::floor(100.0 * one->chance + kHair); };
  double missing = std::round(100.0 * sum - kHair);
  for (const SeenOutcome* one : told) missing -= whole(one);
  std::stable_sort(told.begin(), told.end(), [&](const SeenOutcome* a, const SeenOutcome* b) {
    return 100.0 * a->chance - whole(a) > 100.0 * b->chance - whole(b) + kHair;
  });
  for (SeenOutcome* one : told) {
    one->percent = number_text(whole(one) + (missing > 0.5 ? 1.0 : 0.0), 3) + " %";
    missing -= 1.0;
  }
  return all;
}

std::string duration_text(double seconds, int digits) {
  if (seconds < 180.0) return number_text(seconds, digits) + " s";
  if (seconds < 10800.0) return number_text(seconds / 60.0, digits) + " min";
  if (seconds < 172800.0) return number_text(seconds / 3600.0, digits) + " h";
  return number_text(seconds / 86400.0, digits) + " days";
}

std::string chance_text(double chance) {
  if (chance > 0.0 && chance < 0.01) return "under 1 %";
  constexpr double kRounding = 1e-9;
  if (chance < 1.0 - kRounding && chance > 0.99) return "over 99 %";
  return whole_percent(chance);
}

std::string without_options(std::string text) {
  const auto replace = [&](const std::string& from, const std::string& to) {
    if (const std::size_t at = text.find(from); at != std::string::npos) text.replace(at, from.size(), to);
  };
  replace(" All of it: --full", "");
  replace(": see --cautions", ". In full below");
  return text;
}

const char* name_of_answer(bool torn) { return torn ? "torn threads" : "unsplit line"; }

// not where the case states which of them holds
bool two_answers(const model::Estimate& e) {
  return e.threads.predicted && e.as_threads.probability > 0.0 && e.as_threads.probability < 1.0;
}

document::Table answer_table(const study::LoadedCase& loaded, const model::Estimate& e) {
  const auto& input = loaded.file.input;
  document::Table out{"in_short", {}, {{"label", "about"}, {"text", "what is expected"}}, {}};
  const auto row = [&](std::string label, std::string text) {
    out.rows.push_back({std::move(label), std::move(text)});
  };
  row("CASE", input.solution.polymer + " " + number_text(input.solution.molar_mass_kg_mol, 4) + " kg/mol, " +
                  io::concentration_text(input.solution.concentration) + " in " + input.solution.solvent + ", " +
                  number_text(std::round(input.operation.rotation_speed_rad_s * 30.0 / model::kPi), 6) + " rpm, " +
                  number_text(1e-6 * input.operation.gas_overpressure_Pa, 3) + " MPa");
  if (e.status != model::Status::done) {
    row("ANSWER", "NOT CONVERGED: " + e.reason + ". No numbers are reported for this setting.");
    return out;
  }
  const model::Answer& first = e.torn ? e.as_threads : e.as_line;
  const bool nothing = e.fibre_class == model::FibreClass::no_jet || e.fibre_class == model::FibreClass::dripping;
  if (nothing) {
    row("ANSWER",
        std::string(to_string(e.fibre_class)) + ": " + (e.decided_by.empty() ? e.reason : e.decided_by.front()));
  } else {
    row("DIAMETER", size_of(first) + "; " + name_of_answer(e.torn) +
                        (two_answers(e) ? " (" + chance_text(first.probability) + ")" : std::string()));
    if (two_answers(e)) {
      const model::Answer& other = e.torn ? e.as_line : e.as_threads;
      row("OR", size_of(other) + "; " + name_of_answer(!e.torn) + " (" + chance_text(other.probability) + ")");
    }
  }
  if (!nothing) row("SEEN", seen(e));
  if (e.orifice.flow_m3_s > 0.0) {
    const double rate = e.run.run_time_s > 0.0 ? 3.6e6 * e.run.polymer_mass_kg / e.run.run_time_s : 0.0;
    // a run with gas ends in a long dribble: its time alone would mislead
    const double most = loaded.file.input.operation.feed_rate_m3_s ? 0.0 : model::before_the_dribble_s(e.run);
    row("OUTPUT", two(1e3 * e.run.polymer_mass_kg) + " g polymer in " + duration_text(e.run.run_time_s) +
                      (most > 0.0 ? " (90 % in " + duration_text(most) + ")" : std::string()) + ", " +
                      chance_text(e.run.emptied_fraction) + " of the charge, " + two(rate) + " g/h");
  }
  if (!nothing) {
    if (const std::string text = decided(e); !text.empty()) row("DECIDED BY", text);
    row("PUBLISHED", trends(loaded, e));
    if (loaded.trials) {
      row("TRIALS", trials_text(*loaded.trials));
    } else {
      row("NEXT", next_step(loaded, e));
    }
  }
  if (nothing) {
    const char* what = e.fibre_class == model::FibreClass::dripping
                           ? "more speed or overpressure, or a thinner solution"
                       : e.charge.orifice_wet ? "more charge, speed or overpressure, or a larger orifice"
                                              : "more charge or speed, or orifices nearer to the floor";
    row("NEXT", std::string(what) + ". All of it: --full");
  }
  row("CAUTION", io::one_caution(input, loaded.library.solvent(input.solution.solvent)));
  return out;
}

}  // namespace whorl::answer
