// Random cases, each spelled twice: the same quantities in other units, in kelvin, in another form of the concentration.
#pragma once
#include <cmath>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "whorl/io/units.hpp"

namespace testing {

// A quantity of a case: its key, units that respell it and how many of them make one SI unit, and a range in the first
// unit.
struct Spelled {
  const char* section;
  const char* key;
  std::vector<std::pair<const char*, double>> units;  // per SI
  double low, high;
};

inline const std::vector<Spelled>& quantities() {
  static const std::vector<Spelled> all{
      {"solution", "molar_mass", {{"kg/mol", 1.0}, {"g/mol", 1e3}, {"kDa", 1.0}}, 20, 900},
      {"vessel", "bore_diameter", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}, {"um", 1e6}}, 30, 90},
      {"vessel", "height", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}}, 12, 40},
      {"vessel", "wall_thickness", {{"mm", 1e3}, {"um", 1e6}, {"cm", 1e2}}, 0.5, 5},
      {"vessel", "orifice_diameter", {{"mm", 1e3}, {"um", 1e6}, {"cm", 1e2}, {"m", 1.0}}, 0.1, 0.9},
      {"operation", "rotation_speed", {{"rpm", 30.0 / M_PI}, {"rad/s", 1.0}, {"rad/min", 60.0}}, 3000, 15000},
      {"operation",
       "gas_overpressure",
       {{"MPa", 1e-6}, {"kPa", 1e-3}, {"bar", 1e-5}, {"Pa", 1.0}, {"mbar", 1e-2}},
       0.01,
       0.3},
      {"operation", "charge_volume", {{"mL", 1e6}, {"cm3", 1e6}, {"L", 1e3}, {"uL", 1e9}}, 0.5, 8},
      {"operation", "collection_distance", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}}, 80, 300},
      {"room", "pressure", {{"kPa", 1e-3}, {"Pa", 1.0}, {"hPa", 1e-2}, {"mbar", 1e-2}}, 85, 105}};
  return all;
}

// A case out of values in SI and a choice of units; `digits` of every figure as typed.
inline std::string spelled(const std::vector<double>& si, const std::vector<std::size_t>& units, double celsius, bool kelvin,
                    double percent, bool fraction) {
  std::string text = "{\"whorl_case\": 1";
  for (const char* section : {"solution", "vessel", "operation", "room"}) {
    text += std::string(", \"") + section + "\": {";
    bool first = true;
    const auto add = [&](const std::string& key, const std::string& value) {
      text += (first ? "" : ", ") + ("\"" + key + "\": " + value);
      first = false;
    };
    if (std::string(section) == "solution") {
      add("polymer", "\"PS\"");
      add("solvent", "\"toluene\"");
      add("concentration", fraction ? "\"" + whorl::io::number_text(percent / 100.0, 14) + " g/mL of solvent ± 5 %\""
                                    : "\"" + whorl::io::number_text(percent, 14) + " % w/v of solvent +- 5 % of value\"");
    }
    if (std::string(section) == "vessel") add("orifice_count", "12");
    if (std::string(section) == "room")
      add("temperature", kelvin ? "\"" + whorl::io::number_text(celsius + 273.15, 14) + " K\""
                                : "\"" + whorl::io::number_text(celsius, 14) + " degC\"");
    for (std::size_t i = 0; i < quantities().size(); ++i) {
      const Spelled& q = quantities()[i];
      if (std::string(q.section) != section) continue;
      const auto& [unit, per_si] = q.units[units[i]];
      std::string value = whorl::io::number_text(si[i] * per_si, 14) + " " + unit;
      if (i % 3 == 1)
        value += units[i] % 2 == 0 ? " ± 2 %" : " +/- " + whorl::io::number_text(0.02 * si[i] * per_si, 14) + " " + unit;
      add(q.key, "\"" + value + "\"");
    }
    text += "}";
  }
  return text + "}";
}

class SpelledCases {
 public:
  explicit SpelledCases(unsigned seed) : random_(seed) {}

  std::pair<std::string, std::string> next() {
    std::vector<double> si;
    const std::vector<std::size_t> first(quantities().size(), 0);
    std::vector<std::size_t> other;
    for (const Spelled& q : quantities()) {
      // As typed: two to five digits in the first unit.
      const double typed = uniform(q.low, q.high);
      si.push_back(whorl::io::tidy(typed, 2 + static_cast<int>(random_() % 4)) / q.units[0].second);
      other.push_back(random_() % q.units.size());
    }
    const double celsius = std::round(uniform(10.0, 35.0) * 10.0) / 10.0;
    const double percent = std::round(uniform(10.0, 30.0) * 10.0) / 10.0;
    const bool even = count_++ % 2 == 0;
    return {spelled(si, first, celsius, false, percent, false), spelled(si, other, celsius, true, percent, even)};
  }

 private:
  double uniform(double low, double high) { return low + (high - low) * (static_cast<double>(random_()) / 4294967296.0); }

  std::mt19937 random_;
  int count_ = 0;
};

}  // namespace testing
