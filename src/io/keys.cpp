#include "whorl/io/keys.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <vector>

#include "io/unit_text.hpp"
#include "io/usual_ranges.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

std::string_view last_part(std::string_view path) {
  const std::size_t dot = path.rfind('.');
  return dot == std::string_view::npos ? path : path.substr(dot + 1);
}

template <typename Table>
auto* find_in(const Table& table, std::string_view name) {
  const typename Table::value_type* found = nullptr;
  for (const auto& entry : table)
    if (entry.path == name) return &entry;
  for (const auto& entry : table) {
    if (last_part(entry.path) != name) continue;
    if (found != nullptr) return static_cast<const typename Table::value_type*>(nullptr);
    found = &entry;
  }
  return found;
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Edits (insert, delete, replace, swap of neighbours) that turn `a` into `b`, upper and lower case alike.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  constexpr std::size_t kLongest = 128;
  a = a.substr(0, kLongest);
  b = b.substr(0, kLongest);
  std::vector<std::size_t> before(b.size() + 1), row(b.size() + 1), next(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    next[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = lower(a[i - 1]) == lower(b[j - 1]);
      next[j] = std::min({row[j] + 1, next[j - 1] + 1, row[j - 1] + (same ? 0U : 1U)});
      if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]))
        next[j] = std::min(next[j], before[j - 2] + 1);
    }
    std::swap(before, row);
    std::swap(row, next);
  }
  return row[b.size()];
}

std::string allowed_text(const Key& key) {
  std::string text = key.whole ? "a whole number, " : "";
  return text + limits_text(key) + ", e.g. " + in_quotes(key.example);
}

}  // namespace

const Key* find_key(std::string_view name) {
  const Key* key = find_in(numeric_keys(), name);
  return key != nullptr && key->path != name && !keys_meant(name).empty() ? nullptr : key;
}
const WordKey* find_word_key(std::string_view name) { return find_in(word_keys(), name); }

namespace {

// What is set or measured at the bench, not of the model.
bool is_setting(std::string_view path, bool or_measured) {
  const auto in = [&](std::string_view section) { return path.substr(0, section.size()) == section; };
  return in("operation.") || in("room.") || in("vessel.") ||
         (in("solution.") && (or_measured || !in("solution.measured.")));
}

}  // namespace

std::string keys_meant(std::string_view name) {
  if (name.empty() || name.find('.') != std::string_view::npos) return {};
  std::string all;
  std::size_t count = 0;
  bool exact = false;
  for (const Key& key : numeric_keys()) {
    const bool same = last_part(key.path) == name;
    if (!same && !(is_setting(key.path, false) && last_part(key.path).find(name) != std::string_view::npos)) continue;
    exact = exact || same;
    all += (count++ == 0 ? "" : " or ") + std::string(key.path);
  }
  return exact && count > 1 ? all : std::string();
}

namespace {

// What benches call a key that no spelling leads to: common practice, no source.
constexpr std::array<std::pair<std::string_view, std::string_view>, 15> kBenchNames{{
    {"rpm", "operation.rotation_speed"},
    {"gap", "operation.collection_distance"},
    {"mw", "solution.molar_mass"},
    {"Mw", "solution.molar_mass"},
    {"rh", "room.relative_humidity"},
    {"RH", "room.relative_humidity"},
    {"nozzle_diameter", "vessel.orifice_diameter"},
    {"hole_diameter", "vessel.orifice_diameter"},
    {"orifice_length", "vessel.wall_thickness"},
    {"nozzle_length", "vessel.wall_thickness"},
    {"hole_length", "vessel.wall_thickness"},
    {"nozzles", "vessel.orifice_count"},
    {"nozzle_count", "vessel.orifice_count"},
    {"holes", "vessel.orifice_count"},
    {"hole_count", "vessel.orifice_count"},
}};

}  // namespace

std::string nearest_key(std::string_view name) {
  constexpr std::size_t kLeastPart = 3;  // letters that say something
  const std::string_view wanted = last_part(name);
  if (const std::string several = keys_meant(wanted); !several.empty()) return several;
  for (const auto& [bench, path] : kBenchNames)
    if (wanted == bench) return std::string(path);
  // "diameter": which of them is not ours to say
  std::string all;
  std::size_t count = 0;
  bool exact = false;
  for (const Key& entry : numeric_keys()) {
    exact = exact || last_part(entry.path) == wanted;
    if (wanted.size() < kLeastPart || !is_setting(entry.path, true) ||
        last_part(entry.path).find(wanted) == std::string_view::npos)
      continue;
    all += (count++ == 0 ? "" : " or ") + std::string(entry.path);
  }
  if (!exact && count > 1) return all;
  std::size_t best = static_cast<std::size_t>(-1);
  std::string_view nearest;
  const auto consider = [&](std::string_view path) {
    // A right name in the wrong section is a likelier slip than a wrong name in the right one.
    const std::size_t whole = 2 * edit_distance(name, path);
    const std::size_t part = 2 * edit_distance(last_part(name), last_part(path)) + 1;
    // "viscosity" means some "..._viscosity" rather than "density".
    const bool inside = wanted.size() >= kLeastPart && last_part(path).find(last_part(name)) != std::string_view::npos;
    const std::size_t distance = std::min({whole, part, inside ? std::size_t{4} : part});
    if (distance < best) {
      best = distance;
      nearest = path;
    }
  };
  for (const Key& entry : numeric_keys()) consider(entry.path);
  for (const WordKey& entry : word_keys()) consider(entry.path);
  return std::string(nearest);
}

std::string nearest_word(std::string_view name, std::span<const std::string_view> candidates) {
  std::size_t best = std::max<std::size_t>(2, name.size() / 2) + 1;
  std::string_view nearest;
  for (const std::string_view candidate : candidates) {
    const std::size_t distance = edit_distance(name, candidate);
    if (distance < best) {
      best = distance;
      nearest = candidate;
    }
  }
  return std::string(nearest);
}

double to_display(const Key& key, double value_si) { return (value_si - key.display_offset) / key.display_scale; }
double from_display(const Key& key, double display_value) {
  return key.display_scale * display_value + key.display_offset;
}

std::string value_text(const Key& key, double value_si, int digits) {
  std::string text = number_text(to_display(key, value_si), digits);
  if (key.display_unit != "1") text += " " + std::string(key.display_unit);
  return text;
}

std::string limits_text(const Key& key) {
  std::string text = number_text(to_display(key, key.minimum)) + " to " + number_text(to_display(key, key.maximum));
  if (key.display_unit != "1") text += " " + std::string(key.display_unit);
  return text;
}

void check_limits(const Key& key, double value_si, const std::string& found, const std::string& file) {
  // Rounding of the unit conversion must not push a value that sits on a limit over it.
  constexpr double kRounding = 1e-12;
  const double slack_low = kRounding * std::abs(key.minimum);
  const double slack_high = kRounding * std::abs(key.maximum);
  const std::string path(key.path);
  if (!std::isfinite(value_si)) throw InputError(file, path, found + " is not a finite number", allowed_text(key));
  const bool below = value_si < key.minimum - slack_low;
  if (below || value_si > key.maximum + slack_high) {
    const std::string meant = likely_meant(key, found, value_si);
    throw InputError(file, path,
                     found + (below ? " is below the limit" : " is above the limit") +
                         (meant.empty() ? "" : " (was \"" + meant + "\" meant?)"),
                     allowed_text(key));
  }
  if (key.whole && value_si != std::floor(value_si))
    throw InputError(file, path, found + " is not a whole number", allowed_text(key));
}

double spread_of_changed(const Key& key, double spread, double from, double to) {
  const bool share = from != to && from != 0.0 && key.display_offset == 0.0;
  return share ? spread * std::abs(to / from) : spread;
}

QuantityKind kind_of(const Key& key) {
  return {key.si_unit, key.example, key.display_unit == "1" ? std::string_view{} : key.display_unit, key.display_scale,
          key.display_offset};
}

double parse_value(const Key& key, std::string_view text, const std::string& file) {
  const Where where{file, std::string(key.path)};
  const bool concentration = key.path == "solution.concentration";
  QuantityKind kind = kind_of(key);
  if (concentration) kind.example = "20 %";
  if (concentration) {
    for (const std::string_view basis : {"w/", "wt", "vol", "v/v", "of sol"})
      if (text.find(basis) != std::string_view::npos)
        throw InputError(file, where.key, in_quotes(text) + " names a basis",
                         "a percentage in the basis of the case, e.g. \"20 %\"");
  }
  const Quantity quantity = parse_quantity(text, kind, where);
  if (quantity.uncertainty)
    throw InputError(file, where.key, in_quotes(text) + " has an uncertainty",
                     "a plain value here, e.g. " + in_quotes(kind.example));
  check_limits(key, quantity.value, in_quotes(text), file);
  return quantity.value;
}

}  // namespace whorl::io
