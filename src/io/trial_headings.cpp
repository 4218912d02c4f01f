#include "whorl/io/trial_headings.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <utility>
#include <vector>

#include "io/table_text.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

struct Spelling {
  std::string_view word;
  std::string_view key;
};
// Common practice, no source.
constexpr std::array kSpellings{Spelling{"speed", "operation.rotation_speed"},
                                Spelling{"rotation", "operation.rotation_speed"},
                                Spelling{"rotational_speed", "operation.rotation_speed"},
                                Spelling{"rotating_speed", "operation.rotation_speed"},
                                Spelling{"spinning_speed", "operation.rotation_speed"},
                                Spelling{"spin_speed", "operation.rotation_speed"},
                                Spelling{"rotation_speed", "operation.rotation_speed"},
                                Spelling{"pressure", "operation.gas_overpressure"},
                                Spelling{"overpressure", "operation.gas_overpressure"},
                                Spelling{"gas_pressure", "operation.gas_overpressure"},
                                Spelling{"air_pressure", "operation.gas_overpressure"},
                                Spelling{"gas_overpressure", "operation.gas_overpressure"},
                                Spelling{"concentration", "solution.concentration"},
                                Spelling{"conc", "solution.concentration"},
                                Spelling{"polymer_concentration", "solution.concentration"},
                                Spelling{"feed", "operation.feed_rate"},
                                Spelling{"feed_rate", "operation.feed_rate"},
                                Spelling{"flow_rate", "operation.feed_rate"},
                                Spelling{"flow", "operation.feed_rate"},
                                Spelling{"injection_rate", "operation.feed_rate"},
                                Spelling{"distance", "operation.collection_distance"},
                                Spelling{"working_distance", "operation.collection_distance"},
                                Spelling{"collector_distance", "operation.collection_distance"},
                                Spelling{"collection_distance", "operation.collection_distance"},
                                Spelling{"orifice", "vessel.orifice_diameter"},
                                Spelling{"orifice_diameter", "vessel.orifice_diameter"},
                                Spelling{"nozzle_diameter", "vessel.orifice_diameter"},
                                Spelling{"needle_diameter", "vessel.orifice_diameter"},
                                Spelling{"temperature", "room.temperature"},
                                Spelling{"room_temperature", "room.temperature"},
                                Spelling{"humidity", "room.relative_humidity"},
                                Spelling{"relative_humidity", "room.relative_humidity"},
                                Spelling{"rh", "room.relative_humidity"}};

struct DiameterWord {
  std::string_view word;
  TrialColumn meaning;
};
constexpr std::array kDiameters{
    DiameterWord{"diameter_mean", TrialColumn::mean},  DiameterWord{"mean_diameter", TrialColumn::mean},
    DiameterWord{"fibre_diameter", TrialColumn::mean}, DiameterWord{"fiber_diameter", TrialColumn::mean},
    DiameterWord{"diameter_sd", TrialColumn::sd},      DiameterWord{"diameter", TrialColumn::mean}};
// Beside a mean diameter these mean that of the fibres, and no setting. Common practice, no source.
constexpr std::array kSpreads{"sd", "std", "std_dev", "stdev", "st_dev", "standard_deviation"};
constexpr std::array kCounts{"diameter_count",   "count", "n_measured", "n", "n_fibres", "n_fibers",
                             "number_of_fibres", "number_of_fibers"};

// "rotation_speed (rpm)" or "... [rpm]": name and unit.
std::pair<std::string, std::string> parted(const std::string& heading) {
  for (const char* ends : {"()", "[]"}) {
    const auto open = heading.find(ends[0]);
    if (open == std::string::npos || heading.back() != ends[1]) continue;
    return {trimmed_cell(heading.substr(0, open)), trimmed_cell(heading.substr(open + 1, heading.size() - open - 2))};
  }
  return {heading, ""};
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (auto at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
    text.replace(at, from.size(), to);
}

// "Mean  diameter" -> "mean_diameter".
std::string plain(std::string name) {
  for (char& c : name) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    if (c == ' ' || c == '-') c = '_';
  }
  replace_all(name, "__", "_");
  return name;
}

// Micro signs, and "mL_h" for "mL/h".
std::string plain_unit(std::string unit) {
  replace_all(unit, "\xC2\xB5", "u");
  replace_all(unit, "\xCE\xBC", "u");
  replace_all(unit,
              "\xC2\xB0"
              "C",
              "degC");
  return unit;
}

bool percent_unit(const std::string& unit) {
  for (const std::string_view word :
       {"%", "wt%", "w%", "wt %", "% w/v", "w/v %", "w/v%", "%w/v", "% w/w", "vol%", "percent", "wt_percent", "pct",
        "wt", "wt_pct", "w_v", "w_w", "percent_w_v", "percent_w_w"}) {
    if (unit == word) return true;
  }
  return false;
}

std::optional<std::pair<double, double>> unit_scale(const std::string& unit, const Key& key) {
  if (unit == key.display_unit) return std::pair{key.display_scale, key.display_offset};
  std::vector<std::string> spellings{unit};
  std::string slashed = unit;
  std::replace(slashed.begin(), slashed.end(), '_', '/');
  spellings.push_back(slashed);
  if (unit == "C") spellings = {"degC"};
  if (percent_unit(unit)) spellings = {"%"};
  for (const std::string& one : spellings) {
    if (one == key.display_unit) return std::pair{key.display_scale, key.display_offset};
    const auto zero = convert(0.0, one, std::string(key.si_unit)), first = convert(1.0, one, std::string(key.si_unit));
    if (zero && first) return std::pair{*first - *zero, *zero};
  }
  return {};
}

TrialHeading setting(const Key& key, std::pair<double, double> scale) {
  return {TrialColumn::setting, &key, scale.first, scale.second};
}

std::optional<TrialHeading> diameter(const std::string& name, const std::string& unit, const std::string& heading,
                                     const std::string& file) {
  for (const DiameterWord& one : kDiameters) {
    if (name.rfind(one.word, 0) != 0) continue;
    const std::string rest = name.substr(one.word.size());
    if (!rest.empty() && (rest.front() != '_' || !unit.empty())) continue;
    const std::string u = rest.empty() ? plain_unit(unit) : rest.substr(1);
    const auto scale = u.empty() ? std::nullopt : convert(1.0, u, "m");
    const std::string word = one.meaning == TrialColumn::sd ? "diameter_sd" : "diameter_mean";
    if (!scale)
      throw InputError(file, heading, u.empty() ? "no unit" : "unit " + cited(u),
                       word + "_um, " + word + "_nm or \"" + word + " (um)\"");
    return TrialHeading{one.meaning, nullptr, *scale, 0.0};
  }
  return {};
}

// "SD (nm)", "std_dev_um".
std::optional<TrialHeading> spread(std::string name, const std::string& unit, const std::string& heading,
                                   const std::string& file) {
  replace_all(name, ".", "");
  for (const std::string_view word : kSpreads) {
    if (name.rfind(word, 0) != 0) continue;
    const std::string rest = name.substr(word.size());
    if (rest.empty()) return diameter("diameter_sd", unit, heading, file);
    if (rest.front() == '_' && unit.empty() && convert(1.0, rest.substr(1), "m"))
      return diameter("diameter_sd" + rest, unit, heading, file);
  }
  return {};
}

std::optional<TrialHeading> measured(const std::string& name, const std::string& unit) {
  const auto in = [&](std::string_view word, const char* si) -> std::optional<double> {
    if (name.rfind(word, 0) != 0) return {};
    std::string u = unit;
    if (u.empty() && name.size() > word.size() + 1 && name[word.size()] == '_') u = name.substr(word.size() + 1);
    if (u.empty()) return {};
    std::string slashed = plain_unit(u);
    if (const auto whole = convert(1.0, slashed, si)) return whole;
    std::replace(slashed.begin(), slashed.end(), '_', '/');
    return convert(1.0, slashed, si);
  };
  if (const auto s = in("mass_out", "kg")) return TrialHeading{TrialColumn::mass, nullptr, *s, 0.0};
  if (const auto s = in("run_time", "s")) return TrialHeading{TrialColumn::seconds, nullptr, *s, 0.0};
  for (const char* word : {"gas_flow_rate", "gas_flow", "air_flow_rate", "air_flow"}) {
    if (const auto s = in(word, "m3/s")) return TrialHeading{TrialColumn::gas_flow, nullptr, *s, 0.0};
  }
  const bool of_hundred = unit.empty() || percent_unit(unit);
  if (name == "yield_percent" || (name == "yield" && !unit.empty() && of_hundred))
    return TrialHeading{TrialColumn::yield, nullptr, 0.01, 0.0};
  if (name == "thick_share" && !unit.empty() && of_hundred)
    return TrialHeading{TrialColumn::thick_share, nullptr, 0.01, 0.0};
  if (name == "thick_share_percent") return TrialHeading{TrialColumn::thick_share, nullptr, 0.01, 0.0};
  return {};
}

}  // namespace

TrialHeading understood_heading(const std::string& heading, const std::string& file, bool physics) {
  const auto [given, given_unit] = parted(heading);
  const std::string name = plain(given), unit = plain_unit(given_unit);
  if (name == "label" || name == "trial" || name == "sample") return {TrialColumn::label};
  if (name == "notes" || name == "note" || name == "remarks" || name == "doi" || name == "source")
    return {TrialColumn::ignored};
  if (name == "batch" || name == "lot" || name == "day") return {TrialColumn::batch};
  if (name == "class_seen" || name == "seen") return {TrialColumn::seen};
  if (name == "diameter_list") return {TrialColumn::list};
  if (std::find(kCounts.begin(), kCounts.end(), name) != kCounts.end()) return {TrialColumn::count};
  if (const auto d = diameter(name, unit, heading, file)) return *d;
  if (const auto d = spread(name, unit, heading, file)) return *d;
  if (const auto m = measured(name, unit)) return *m;
  for (const Key& key : numeric_keys()) {
    if (unit.empty() && given == key.column) return setting(key, {key.display_scale, key.display_offset});
  }
  // "pressure" in a table of trials is that of the gas, not of the room.
  const Key* key = name == "pressure" ? nullptr : find_key(given);
  // Usual spellings, with the unit in brackets or behind the name.
  std::string tail = unit;
  if (key == nullptr) {
    for (const Spelling& one : kSpellings) {
      const bool whole = name == one.word;
      const bool with_unit = unit.empty() && name.size() > one.word.size() + 1 && name.rfind(one.word, 0) == 0 &&
                             name[one.word.size()] == '_';
      if (!whole && !with_unit) continue;
      const Key* candidate = find_key(one.key);
      const std::string rest = whole ? unit : given.substr(one.word.size() + 1);
      if (with_unit && !unit_scale(rest, *candidate)) continue;
      key = candidate;
      tail = rest;
      break;
    }
  }
  if (key != nullptr) {
    if (tail.empty() && key->display_unit != "1") {
      if (!physics) return {TrialColumn::covariate, key};
      throw InputError(file, heading, "no unit",
                       std::string(key->column) + " or \"" + given + " (" + std::string(key->display_unit) + ")\"");
    }
    const auto scale =
        tail.empty() ? std::optional(std::pair{key->display_scale, key->display_offset}) : unit_scale(tail, *key);
    if (!scale) throw InputError(file, heading, "unit " + cited(tail), "a unit of " + std::string(key->display_unit));
    return setting(*key, *scale);
  }
  // A slip of the pen must not become a covariate where the model knows the setting.
  if (!physics) return {TrialColumn::covariate};
  const std::string nearest = nearest_key(given);
  std::vector<std::string_view> columns;
  for (const Key& one : numeric_keys()) columns.push_back(one.column);
  if (const std::string slip = nearest_word(given, columns); !slip.empty())
    throw InputError(
        file, heading, "unknown column",
        slip + ", or another name for a setting that the model does not know (nearest key: " + nearest + ")");
  return {TrialColumn::covariate};
}

}  // namespace whorl::io
