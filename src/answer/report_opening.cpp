#include "answer/report_opening.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "answer/estimate_statement.hpp"
#include "answer/wanted_chance.hpp"
#include "whorl/engine/line_band.hpp"
#include "figures/figure_section.hpp"
#include "figures/figure_text.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/model/published_trends.hpp"
#include "whorl/study/window_spec.hpp"

namespace whorl::answer {
namespace {

using figures::Opening;
using figures::print_number;
using model::FibreClass;

// On paper map and picture stand side by side on 175 mm.
constexpr double kMapWidthMm = 110.0, kPictureWidthMm = 65.0, kTallMm = 72.0;

std::string um(double metres) { return print_number(1e6 * metres, 2); }

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
}

std::string unbroken_percent(std::string text) {
  replace_all(text, " %", "\u00a0%");
  return text;
}
std::string percent_of(double chance) { return unbroken_percent(chance_text(chance)); }

// A line of the terminal as a page sets it.
std::string typeset(std::string text) {
  replace_all(text, " um", "\u00a0\u00b5m");
  replace_all(text, " %", "\u00a0%");
  replace_all(text, " g/h", "\u00a0g/h");
  replace_all(text, "+-", "\u00b1");
  text = without_options(std::move(text));
  bool opens = true;
  for (std::size_t at = 0; (at = text.find('`', at)) != std::string::npos; opens = !opens)
    text.replace(at, 1, opens ? "\u201c" : "\u201d");
  if (!text.empty() && text.back() != '.') text += '.';
  return text;
}

// A word that may begin a sentence.
std::string begun(std::string text) {
  if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') text.front() = static_cast<char>(text.front() - 32);
  return text;
}

// "Rotation speed" inside a sentence.
std::string lowered(std::string name) {
  if (!name.empty() && name.front() >= 'A' && name.front() <= 'Z') name.front() = static_cast<char>(name.front() + 32);
  return name;
}

const char* words_of(bool torn) { return torn ? "threads torn by the gas" : "one unsplit line per orifice"; }

bool has_fibre(const model::Estimate& e) {
  const model::Answer& first = e.torn ? e.as_threads : e.as_line;
  return e.fibre_class != FibreClass::no_jet && e.fibre_class != FibreClass::dripping && first.diameter_m > 0.0;
}

void say_size(Opening& out, const model::Estimate& e) {
  if (!has_fibre(e)) {
    out.headline = e.fibre_class == FibreClass::dripping ? "It drips: no fibre at this setting"
                                                         : "No fibre at this setting";
    // how a slow liquid leaves stands before what becomes of it
    out.second = typeset(e.decided_by.empty() ? e.reason : e.decided_by.back());
    return;
  }
  const model::Answer& first = e.torn ? e.as_threads : e.as_line;
  const model::Answer& other = e.torn ? e.as_line : e.as_threads;
  const bool two = e.threads.predicted && other.diameter_m > 0.0 && other.probability > 0.0;
  const auto band = [&](const model::Answer& a) {
    const double low = a.low_m > 0.0 ? a.low_m : a.diameter_m;
    const double high = a.high_m > 0.0 ? a.high_m : a.diameter_m;
    out.bands.push_back({um(a.diameter_m) + "\u00a0\u00b5m" + (two ? ", " + percent_of(a.probability) : std::string()),
                         1e6 * a.diameter_m, 1e6 * low, 1e6 * high});
  };
  band(first);
  out.headline = "About " + um(first.diameter_m) + "\u00a0\u00b5m";
  if (first.low_m > 0.0) out.headline += ", could be " + um(first.low_m) + " to " + um(first.high_m);
  out.second = std::string("as ") + words_of(e.torn);
  if (two) {
    band(other);
    out.second = std::string("if it is ") + words_of(e.torn) + " (" + percent_of(first.probability) + "); or about " +
                 um(other.diameter_m) + "\u00a0\u00b5m";
    if (other.low_m > 0.0) out.second += ", " + um(other.low_m) + " to " + um(other.high_m) + ',';
    out.second += std::string(" as ") + words_of(!e.torn) + " (" + percent_of(other.probability) + ')';
  }
  out.extent = std::string("Dry diameter, 90 % ranges; it lies in the strong part of its band as likely as not. ") +
               (e.tier == "tension" ? "Computed with" : "Without") +
               " tension along the jet. Neighbouring jets are not in it.";
}

void say_outcomes(Opening& out, const model::Estimate& e) {
  for (const SeenOutcome& one : seen_outcomes(e.outcomes))
    if (one.chance >= 0.005)
      out.outcomes.push_back({one.key, one.words, unbroken_percent(one.percent), one.chance});
}

// The wanted size of the case's window block.
std::optional<WantedSize> wanted_size(const study::LoadedCase& loaded) {
  if (loaded.file.window_json.empty()) return {};
  const study::WindowWishes block =
      study::parse_window_block(nlohmann::ordered_json::parse(loaded.file.window_json), loaded.file.name);
  if (!block.diameter) return {};
  const auto [least, most] = study::parse_diameter_range(*block.diameter, loaded.file.name, "window.diameter");
  return WantedSize{least, most};
}

std::string wanted_words(const WantedSize& wanted) {
  if (wanted.least_m && wanted.most_m) return um(*wanted.least_m) + " to " + um(*wanted.most_m) + "\u00a0\u00b5m";
  if (wanted.most_m) return "at most " + um(*wanted.most_m) + "\u00a0\u00b5m";
  return "at least " + um(wanted.least_m.value_or(0.0)) + "\u00a0\u00b5m";
}

// A point of the map has no band of the line of its own: it takes the ratios of the case's.
model::Answer with_band(model::Answer answer, const model::Answer& own) {
  if (answer.low_m > 0.0 || !(own.low_m > 0.0)) return answer;
  answer.low_m = answer.diameter_m * own.low_m / own.diameter_m;
  answer.high_m = answer.diameter_m * own.high_m / own.diameter_m;
  return answer;
}

struct MapPoint {
  std::size_t row{};
  double value{};
};

std::string setting_words(const SweepData& sweep, const figures::MapFigure& map, std::size_t row) {
  const auto words = [&](const std::string& column, const figures::Quantified& quantity) {
    const std::string unit = figures::plain_unit(quantity.unit);
    std::string number = print_number(sweep.table.numbers(column)[row], 4);
    replace_all(number, "\u2009", "\u202f");  // groups of digits stay on one line
    return number + (unit.empty() ? "" : "\u00a0" + unit);
  };
  return words(map.x_column, map.x_quantity) + " and " + words(map.y_column, map.y_quantity);
}

// What the map says of turning the two settings.
std::string turn_words(const model::Estimate& e, const SweepData& sweep, const figures::MapFigure& map,
                       const std::optional<WantedSize>& wanted) {
  std::optional<MapPoint> best, finest, coarsest;
  for (std::size_t row = 0; row < sweep.estimates.size(); ++row) {
    const model::Estimate& point = sweep.estimates[row];
    if (point.status != model::Status::done) continue;
    if (wanted) {
      const double chance = chance_to_meet(with_band(point.as_threads, e.as_threads),
                                           with_band(point.as_line, e.as_line), *wanted);
      if (!best || chance > best->value) best = MapPoint{row, chance};
    }
    if (point.fibre_class != FibreClass::continuous || !(point.dry_diameter_m > 0.0)) continue;
    if (!finest || point.dry_diameter_m < finest->value) finest = MapPoint{row, point.dry_diameter_m};
    if (!coarsest || point.dry_diameter_m > coarsest->value) coarsest = MapPoint{row, point.dry_diameter_m};
  }
  if (wanted) {
    const double here = chance_to_meet(e.as_threads, e.as_line, *wanted);
    constexpr double kWorthIt = 0.05;
    if (!best || best->value < here + kWorthIt) return "no point of the map has a much better chance.";
    return setting_words(sweep, map, best->row) + " raise the chance to " + percent_of(best->value) + '.';
  }
  if (!finest) return "no point of the map gives even fibre.";
  if (finest->row == coarsest->row)
    return "even fibre on this map only at " + setting_words(sweep, map, finest->row) + ", about " +
           um(finest->value) + "\u00a0\u00b5m.";
  return "even fibre on this map goes from about " + um(finest->value) + "\u00a0\u00b5m at " +
         setting_words(sweep, map, finest->row) + " to " + um(coarsest->value) + "\u00a0\u00b5m at " +
         setting_words(sweep, map, coarsest->row) + '.';
}

// Settings with which one line goes another way in the model than in published trials.
std::string contrary(const study::LoadedCase& loaded, const model::Estimate& e) {
  if (e.torn) return {};
  const engine::LineDirections ours = engine::line_directions(loaded.file.input, loaded.library);
  constexpr double kNone = 0.1;
  std::string out;
  const auto look = [&](const char* key, const std::optional<double>& exponent, const char* words) {
    const model::PublishedTrend* published = model::published_trend(key, false);
    if (published == nullptr || !exponent || std::abs(published->exponent) <= kNone) return;
    const bool same = published->exponent > 0.0 ? *exponent > kNone : *exponent < -kNone;
    if (!same) out += (out.empty() ? "" : " and ") + std::string(words);
  };
  look("solution.concentration", ours.concentration, "polymer");
  look("operation.rotation_speed", ours.speed, "speed");
  return out;
}

void say_steps(Opening& out, const study::LoadedCase& loaded, const model::Estimate& e, const std::string& turn,
               const SweepData* sweep) {
  const document::Table answer = answer_table(loaded, e);
  const auto text = [&](const char* label) {
    for (const auto& row : answer.rows)
      if (std::get<std::string>(row[0]) == label) return typeset(std::get<std::string>(row[1]));
    return std::string();
  };
  const auto step = [&](const char* label, std::string words, bool warns = false) {
    if (!words.empty()) out.steps.push_back({label, std::move(words), warns});
  };
  step("Next", text("NEXT"));
  step("Trials", text("TRIALS"));
  step("Turn", turn);
  if (std::string published = text("PUBLISHED"); !published.empty()) {
    const std::string against = contrary(loaded, e);
    if (!against.empty())
      published += " The model does not go that way with " + against + ": test before you trust it.";
    step("Published trials", published, !against.empty());
  }
  step("Gives", text("OUTPUT"));
  out.caution = begun(typeset(io::one_caution(at_highest_pressure(loaded, sweep),
                                              loaded.library.solvent(loaded.file.input.solution.solvent))));
}

figures::Figure vessel(const study::LoadedCase& loaded, const model::Estimate& e,
                       const figures::FigureFormat& format) {
  const model::VesselInput& vessel = loaded.file.input.vessel;
  figures::SectionFigure section;
  section.bore_mm = 1e3 * vessel.bore_diameter_m;
  section.height_mm = 1e3 * vessel.height_m;
  section.wall_mm = 1e3 * vessel.wall_thickness_m;
  section.orifice_mm = 1e3 * vessel.orifice_diameter_m;
  section.orifice_height_mm = 1e3 * vessel.orifice_height_m.value_or(0.5 * vessel.height_m);
  section.opening_mm = 1e3 * vessel.lid_opening_diameter_m.value_or(0.0);
  section.layer_mm = 1e3 * e.charge.layer_thickness_m;
  if (e.run.breakthrough) {
    section.gas_layer_mm = 1e3 * e.run.breakthrough_layer_m;
    section.gas_after_s = e.run.breakthrough_time_s;
  }
  return figures::draw_section(section, format);
}

// The jet from above where one line is the likelier answer, else the vessel that tells why it is not.
void draw_picture(Opening& out, const study::LoadedCase& loaded, const model::Estimate& e) {
  figures::FigureFormat format;
  format.width_mm = kPictureWidthMm;
  format.height_mm = kTallMm;
  format.id = "opening-picture-";
  if (has_fibre(e) && !e.torn && e.jet.profile.size() >= 2) {
    figures::PathFigure path;
    add_jet(path, loaded, e, "");
    out.picture = figures::draw_path(path, format);
    out.picture_title = "The jet, from above";
    out.picture_words = std::string("As computed, in the frame that turns with the vessel; ") +
                        print_number(e.jet.turns, 2) + " turns" +
                        (e.jet.reached_collector ? "." : ". It does not reach the collector.");
    return;
  }
  out.picture = vessel(loaded, e, format);
  out.picture_title = "The vessel, in section";
  out.picture_words = "To scale; what would be too thin to see is drawn thicker.";
}

}  // namespace

Opening report_opening(const study::LoadedCase& loaded, const model::Estimate& e, const SweepData* sweep) {
  Opening out;
  say_size(out, e);
  if (has_fibre(e)) say_outcomes(out, e);
  const std::optional<WantedSize> wanted = wanted_size(loaded);
  if (wanted) {
    if (wanted->least_m) out.least_um = 1e6 * *wanted->least_m;
    if (wanted->most_m) out.most_um = 1e6 * *wanted->most_m;
    out.chance = percent_of(chance_to_meet(e.as_threads, e.as_line, *wanted));
    out.chance_of = "chance of even fibre of " + wanted_words(*wanted);
  }
  std::string turn;
  if (sweep != nullptr) {
    const figures::MapFigure map = map_figure(*sweep, "", "", "");
    figures::FigureFormat format;
    format.width_mm = kMapWidthMm;
    format.height_mm = kTallMm;
    format.id = "opening-map-";
    out.map = figures::draw_map(map, format);
    out.map_title = "Where to set " + lowered(map.x_quantity.name) + " and " +
                    lowered(map.y_quantity.name);
    out.map_words = "Likelier dry diameter at " + std::to_string(map.z.size()) +
                    " computed points; hatched where fibre is not even and dry. Cross: this setting.";
    out.map_link = "explore";
    turn = turn_words(e, *sweep, map, wanted);
  }
  say_steps(out, loaded, e, turn, sweep);
  draw_picture(out, loaded, e);
  return out;
}

model::CaseInput at_highest_pressure(const study::LoadedCase& loaded, const SweepData* sweep) {
  model::CaseInput most = loaded.file.input;
  if (sweep == nullptr) return most;
  for (const model::Estimate& at : sweep->estimates)
    most.operation.gas_overpressure_Pa = std::max(most.operation.gas_overpressure_Pa, at.orifice.gas_overpressure_Pa);
  return most;
}

}  // namespace whorl::answer
