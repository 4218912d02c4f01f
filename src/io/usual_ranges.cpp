#include "io/usual_ranges.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <string>

#include "io/unit_text.hpp"

namespace whorl::io {
namespace {

struct Usual {
  std::string_view path;
  double low, high;  // SI
};

// Common practice, no source; wide, so that what is merely bold is not called a slip.
constexpr std::array kUsual{
    Usual{"solution.molar_mass", 2.0, 10'000.0},  // 2 kg/mol to 10,000 kg/mol
    Usual{"solution.concentration", 0.003, 0.7},
    Usual{"solution.temperature", 263.15, 423.15},  // -10 to 150 degC
    Usual{"vessel.bore_diameter", 5e-3, 0.4},
    Usual{"vessel.height", 2e-3, 0.3},
    Usual{"vessel.wall_thickness", 5e-5, 2e-2},
    Usual{"vessel.orifice_diameter", 2e-5, 4e-3},
    Usual{"operation.rotation_speed", 10.0, 8000.0},  // about 100 to 76,000 rpm
    Usual{"operation.gas_overpressure", 5e2, 3e6},
    Usual{"operation.charge_volume", 1e-7, 2e-3},  // 0.1 mL to 2 L
    Usual{"operation.collection_distance", 5e-3, 2.0},
    Usual{"room.temperature", 268.15, 323.15},
    Usual{"room.pressure", 5e4, 1.2e5},
    Usual{"room.relative_humidity", 0.02, 1.0},
    Usual{"solution.measured.density", 500.0, 3000.0},
    Usual{"solution.measured.zero_shear_viscosity", 5e-4, 300.0},
    Usual{"solution.measured.surface_tension", 5e-3, 0.1},
    Usual{"solution.measured.relaxation_time", 1e-7, 10.0},
    Usual{"solution.measured.solvent_diffusivity", 1e-13, 2e-8},
    Usual{"operation.spin_up_time", 0.02, 300.0},
    Usual{"operation.pressure_rise_time", 5e-3, 120.0},
    Usual{"operation.feed_rate", 1e-11, 2e-5},     // 0.6 uL/min to 1.2 L/min
    Usual{"operation.gas_supply", 1e-5, 2e-2},     // 0.6 to 1200 L/min
};

// Units that stand for one another in a slip, nearest in spelling first. The figure stays what it is.
constexpr std::array kMeant = std::to_array<std::string_view>({
    "MPa",  "mPa",   "kPa",  "Pa",    "bar", "mbar", "um",     "mm",    "cm",  "m",  "nm",    "rpm",
    "Hz",   "rad/s", "mL",   "uL",    "L",   "cm3",  "kg/mol", "g/mol", "kDa", "Da", "mPa s", "Pa s",
    "mN/m", "N/m",   "g/mL", "kg/m3", "ms",  "us",   "s",      "degC",  "K",   "%",  "1",     "degF",
    "mL/min", "L/min", "m2/s"});

std::string bound(const Key& key, double si) { return value_text(key, si, 3); }

// The figure in front of the unit, as typed; empty when there is none.
std::string figure_of(std::string_view text) {
  const std::size_t end = text.find_first_not_of("+-0123456789.eE");
  std::string figure(text.substr(0, end));
  while (!figure.empty() && (figure.back() == 'e' || figure.back() == 'E')) figure.pop_back();
  return figure;
}

// Its value, whatever the locale of the process.
double value_of(const std::string& figure) {
  const char* first = figure.data();
  const char* last = first + figure.size();
  if (first != last && *first == '+') ++first;
  double value = 0.0;
  std::from_chars(first, last, value);
  return value;
}

// "10.000 rpm" of somebody who writes thousands with a point.
std::string thousands_meant(const Key& key, std::string_view stated, double low, double high) {
  std::string text = plain_text(stated);
  text.erase(0, text.find_first_not_of("\"' "));
  std::string figure = figure_of(text);
  const std::size_t point = figure.find('.');
  if (point == std::string::npos || point == 0 || point > 3 || figure.size() != point + 4 || figure.front() == '0')
    return {};
  std::string unit(trimmed(std::string_view(text).substr(figure.size())));
  while (!unit.empty() && (unit.back() == '"' || unit.back() == '\'')) unit.pop_back();
  figure.erase(point, 1);
  const auto si = convert(value_of(figure), unit, std::string(key.si_unit));
  return si && *si >= low && *si <= high ? figure + " " + unit : std::string();
}

}  // namespace

std::optional<std::string> magnitude_note(const Key& key, std::string_view stated, double value_si) {
  const auto* usual =
      std::find_if(kUsual.begin(), kUsual.end(), [&](const Usual& each) { return each.path == key.path; });
  if (usual == kUsual.end() || value_si == 0.0 || (value_si >= usual->low && value_si <= usual->high)) return {};
  std::string note = std::string(key.path) + ": " + in_quotes(stated) + " is " + value_text(key, value_si) + ", far " +
                     (value_si < usual->low ? "below" : "above") + " what is in use (" + bound(key, usual->low) +
                     " to " + bound(key, usual->high) + ")";
  if (key.path == "solution.concentration") {
    const std::string figure = figure_of(plain_text(stated));
    const double number = value_of(figure);
    if (number > 0.0 && number >= usual->low && number <= usual->high)
      note += "; was " + number_text(100.0 * number) + " % meant?";
    return note;
  }
  std::string meant = thousands_meant(key, stated, usual->low, usual->high);
  if (meant.empty()) meant = likely_meant(key, stated, value_si);
  return meant.empty() ? note : note + "; was " + in_quotes(meant) + " meant?";
}

std::string likely_meant(const Key& key, std::string_view stated, double value_si) {
  const auto* usual =
      std::find_if(kUsual.begin(), kUsual.end(), [&](const Usual& each) { return each.path == key.path; });
  if (usual == kUsual.end() || key.path == "solution.concentration" || key.si_unit == "Pa s^n") return {};
  std::string text = plain_text(stated);
  text.erase(0, text.find_first_not_of("\"' "));
  const std::string figure = figure_of(text);
  if (figure.empty()) return {};
  const double number = value_of(figure);
  for (const std::string_view unit : kMeant) {
    const auto si = convert(number, std::string(unit), std::string(key.si_unit));
    if (!si || std::abs(*si - value_si) <= 1e-9 * std::abs(value_si) || *si < usual->low || *si > usual->high) continue;
    return figure + (unit == "1" ? "" : " " + std::string(unit));
  }
  return {};
}

}  // namespace whorl::io
