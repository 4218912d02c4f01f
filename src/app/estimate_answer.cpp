#include "app/estimate_answer.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "io/cautions.hpp"
#include "io/prose.hpp"
#include "model/constants.hpp"
#include "model/published_trends.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kColumns = 80;
constexpr std::size_t kIndent = 11;

std::string two(double value) { return io::number_text(value, 2); }
std::string percent(double share) {
  if (share > 0.0 && share < 0.01) return "under 1 %";
  if (share < 1.0 && share > 0.99) return "over 99 %";
  return io::number_text(std::round(100.0 * share), 3) + " %";
}
std::string um(double metres) { return two(1e6 * metres); }

// "LABEL      text", folded under itself.
std::string row(const std::string& label, const std::string& text) {
  std::string out = label + std::string(kIndent - std::min(label.size() + 1, kIndent), ' ') + ' ';
  std::size_t column = out.size();
  std::size_t at = 0;
  while (at < text.size()) {
    std::size_t end = text.find(' ', at);
    if (end == std::string::npos) end = text.size();
    const std::size_t length = end - at;
    if (column + length > kColumns && column > kIndent) {
      while (!out.empty() && out.back() == ' ') out.pop_back();
      out += '\n' + std::string(kIndent, ' ');
      column = kIndent;
    }
    out.append(text, at, length);
    column += length;
    if (end < text.size()) {
      out += ' ';
      ++column;
    }
    at = end + 1;
  }
  return out + '\n';
}

const char* name_of(bool torn) { return torn ? "torn threads" : "one line per orifice"; }

// "about 0.5 um, could be 0.12 to 2 um (90 %)"
std::string size_of(const model::Answer& answer) {
  if (!(answer.diameter_m > 0.0)) return "no fibre";
  std::string text = "about " + um(answer.diameter_m) + " um";
  if (answer.low_m > 0.0) text += ", could be " + um(answer.low_m) + " to " + um(answer.high_m) + " um (90 %)";
  return text;
}

std::string seen(const model::Estimate& e) {
  struct Row {
    double chance;
    const char* words;
  };
  std::vector<Row> rows{{e.outcomes.even, "even fibre"}, {e.outcomes.beaded, "fibre with beads"}, {e.outcomes.drops, "drops"},
                        {e.outcomes.wet, "wet, flows together"}, {e.outcomes.none, "nothing that lands"}};
  std::stable_sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.chance > b.chance; });
  std::string text;
  for (const Row& r : rows) {
    if (r.chance < 0.005) continue;
    if (!text.empty()) text += ", ";
    text += r.words + (" " + percent(r.chance));
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
  return how.empty() ? text : text + "; lands " + how;
}

std::string gas_text(const model::Estimate& e) {
  const model::RunSummary& run = e.run;
  return "goes through after " + two(run.breakthrough_time_s) + " s, for " + percent(run.share_with_gas) + " of the mass; the supply must hold " +
         two(6e4 * run.gas_supply_mean_m3_s) + " normal L/min, " + two(6e4 * run.gas_supply_most_m3_s) + " at most";
}

std::string decided(const model::Estimate& e) {
  std::string text;
  if (e.threads.predicted) {
    text += "whether gas tears the liquid: " + percent(e.as_threads.probability) + " (gas for " + percent(e.chance.share_with_gas) +
            " of the mass, gas Weber number " + two(e.chance.gas_weber) + " over the " + two(e.chance.critical_weber) + " that tears)";
  }
  std::size_t named = 0;
  for (const model::Doubt& doubt : e.line_doubts) {
    if (named == 2) break;
    std::string words = doubt.key;
    std::replace(words.begin(), words.end(), '_', ' ');
    if (const std::size_t dot = words.find('.'); dot != std::string::npos) words = words.substr(dot + 1);
    text += (text.empty() ? "for a line " : named == 0 ? "; for a line " : ", ") + words + " (" + two(std::exp(doubt.log_sd)) + " times either way)";
    ++named;
  }
  return text;
}

std::string trends(const model::Estimate& e) {
  const bool gas = e.torn;
  std::string text;
  const auto add = [&](const char* key, const char* model) {
    const model::PublishedTrend* trend = model::published_trend(key, gas);
    if (trend == nullptr) return;
    text += (text.empty() ? "" : "; ") + std::string("more ") + std::string(trend->name) + ": " + std::string(trend->words) + " (model " + model + ")";
  };
  add("operation.gas_overpressure", gas ? "finer" : "coarser");
  add("solution.concentration", gas ? "coarser" : "finer unless fed by a pump");
  add("operation.rotation_speed", gas ? "undecided" : "near zero, either way");
  return text;
}

std::string next_step(const LoadedCase& loaded, const model::Estimate& e) {
  const double p = e.as_threads.probability;
  const bool open = e.threads.predicted && p > 0.05 && p < 0.95 && e.line_diameter_m > 0.0;
  if (open) {
    return "a micrograph of a first run tells which answer holds (" + um(e.threads.dry_diameter_m) + " or " + um(e.line_diameter_m) +
           " um); so do the mass that leaves in a timed run and a gas meter. Then `whorl calibrate`";
  }
  if (!loaded.file.input.solution.measured.zero_shear_viscosity_Pa_s) return "measure the viscosity of the solution: it decides flow and run";
  return "spin once at this setting, measure diameters, then `whorl calibrate`";
}

}  // namespace

std::string estimate_answer(const LoadedCase& loaded, const model::Estimate& e) {
  const auto& input = loaded.file.input;
  std::string out = row("CASE", input.solution.polymer + ", " + io::number_text(input.solution.molar_mass_kg_mol, 4) + " kg/mol, " +
                                    io::concentration_text(input.solution.concentration) + " in " + input.solution.solvent + "; " +
                                    io::number_text(std::round(input.operation.rotation_speed_rad_s * 30.0 / model::kPi), 6) + " rpm, " +
                                    io::number_text(1e-6 * input.operation.gas_overpressure_Pa, 3) + " MPa");
  if (e.status != model::Status::done) {
    out += row("ANSWER", "NOT CONVERGED: " + e.reason + ". No numbers are reported for this setting.");
    return out;
  }
  const model::Answer& first = e.torn ? e.as_threads : e.as_line;
  const bool nothing = e.fibre_class == model::FibreClass::no_jet || e.fibre_class == model::FibreClass::dripping;
  if (nothing) {
    out += row("ANSWER", std::string(to_string(e.fibre_class)) + ": " + (e.decided_by.empty() ? e.reason : e.decided_by.front()));
  } else {
    const bool two_answers = e.threads.predicted && e.as_threads.probability > 0.0;
    out += row("DIAMETER", size_of(first) + (two_answers ? std::string(": ") + name_of(e.torn) + ", probability " + percent(first.probability)
                                                           : std::string(": ") + name_of(e.torn)));
    if (two_answers) {
      const model::Answer& other = e.torn ? e.as_line : e.as_threads;
      out += row("OR", size_of(other) + ": " + name_of(!e.torn) + ", probability " + percent(other.probability));
    }
  }
  if (!nothing) out += row("SEEN", seen(e));
  if (e.orifice.flow_m3_s > 0.0) {
    out += row("OUTPUT", two(3.6e6 * e.run.polymer_throughput_kg_s) + " g/h of polymer at first; " + percent(e.run.emptied_fraction) +
                             " of the charge leaves in " + two(e.run.run_time_s) + " s (" + two(1e3 * e.run.polymer_mass_kg) + " g of polymer)");
  }
  if (e.threads.predicted) out += row("GAS", gas_text(e));
  if (!nothing) {
    if (const std::string text = decided(e); !text.empty()) out += row("DECIDED BY", text);
    out += row("PUBLISHED", trends(e));
    out += row("NEXT", next_step(loaded, e));
  }
  for (const auto& caution : io::short_cautions(input, loaded.library.solvent(input.solution.solvent))) out += row("CAUTION", caution);
  return out;
}

void put_answers(Json& json, const model::Estimate& e) {
  const auto answer = [](const char* name, const model::Answer& a) {
    Json row{{"answer", name}, {"probability", a.probability}, {"class", to_string(a.fibre_class)}, {"landing", to_string(a.landing)}};
    if (a.diameter_m > 0.0) row["diameter_um"] = 1e6 * a.diameter_m;
    if (a.low_m > 0.0) {
      row["diameter_low_um"] = 1e6 * a.low_m;
      row["diameter_high_um"] = 1e6 * a.high_m;
    }
    row["outcomes"] = {{"even", a.outcomes.even}, {"beaded", a.outcomes.beaded}, {"drops", a.outcomes.drops}, {"wet", a.outcomes.wet},
                       {"nothing", a.outcomes.none}};
    return row;
  };
  Json answers = Json::array();
  const Json threads = answer("torn threads", e.as_threads);
  const Json line = answer("one line per orifice", e.as_line);
  if (e.threads.predicted && e.torn) answers.push_back(threads);
  answers.push_back(line);
  if (e.threads.predicted && !e.torn) answers.push_back(threads);
  json["answers"] = answers;
  if (e.threads.predicted) {
    json["tearing"] = {{"probability", e.chance.probability},      {"by_share", e.chance.by_share},
                       {"by_weber", e.chance.by_weber},            {"by_supply", e.chance.by_supply},
                       {"share_with_gas", e.chance.share_with_gas}, {"gas_weber", e.chance.gas_weber},
                       {"critical_weber", e.chance.critical_weber}, {"ohnesorge", e.chance.ohnesorge},
                       {"mass_closure", e.threads.mass_closure},   {"momentum_closure", e.threads.momentum_closure},
                       {"energy_closure", e.threads.energy_closure}};
  }
  Json doubts = Json::array();
  for (const model::Doubt& doubt : e.line_doubts) doubts.push_back({{"key", doubt.key}, {"log_sd", doubt.log_sd}});
  json["line_doubts"] = doubts;
  Json trends = Json::array();
  for (const model::PublishedTrend& t : model::published_trends()) {
    if (t.with_gas != e.torn) continue;
    trends.push_back({{"key", std::string(t.key)}, {"published", std::string(t.words)}, {"exponent", t.exponent}, {"sd", t.sd},
                      {"how_sure", std::string(t.how_sure)}, {"source", std::string(t.source)}});
  }
  json["published_trends"] = trends;
}

}  // namespace whorl::app
