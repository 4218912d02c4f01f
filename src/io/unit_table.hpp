// Not installed: the one table of units. What a unit is in SI, its UCUM code, and the ending that a column takes from
// it.
#pragma once
#include <array>
#include <numbers>
#include <string_view>

namespace whorl::io {

/// si = scale * x + offset.
struct Unit {
  std::string_view unit;
  std::string_view si{};      ///< empty: never converted by this table
  double scale{1.0};
  double offset{0.0};
  std::string_view ucum{};    ///< UCUM 2.1, case-sensitive (ucum.org), from memory; empty: none needed
  std::string_view suffix{};  ///< "_mL_min"
  bool everyday{};            ///< converted without UDUNITS (common_units())
};

inline constexpr std::array kUnits{
    Unit{"1", "1", 1.0, 0.0, "1"},
    Unit{"", "", 1.0, 0.0, "1"},
    Unit{"%", "1", 0.01, 0.0, "%", "_percent", true},
    Unit{"percent", "", 1.0, 0.0, "%"},
    // length, area, volume
    Unit{"m", "m", 1.0, 0.0, "m", "_m"},
    Unit{"cm", "m", 1e-2, 0.0, "cm", "_cm", true},
    Unit{"mm", "m", 1e-3, 0.0, "mm", "_mm", true},
    Unit{"um", "m", 1e-6, 0.0, "um", "_um", true},
    Unit{"nm", "", 1.0, 0.0, "", "_nm"},
    Unit{"m3", "m3", 1.0, 0.0, "m3"},
    Unit{"mL", "m3", 1e-6, 0.0, "mL", "_mL", true},
    Unit{"ml", "", 1.0, 0.0, "mL"},
    // time, speed, flow
    Unit{"s", "s", 1.0, 0.0, "s", "_s"},
    Unit{"ms", "s", 1e-3, 0.0, "ms", "_ms", true},
    Unit{"min", "", 1.0, 0.0, "min"},
    Unit{"h", "", 1.0, 0.0, "h"},
    Unit{"1/s", "", 1.0, 0.0, "/s", "_1_s"},
    Unit{"rad/s", "rad/s", 1.0, 0.0, "rad/s"},
    Unit{"rpm", "rad/s", std::numbers::pi / 30.0, 0.0, "{rev}/min", "_rpm"},
    Unit{"m/s", "m/s", 1.0, 0.0, "m/s", "_m_s"},
    Unit{"m2/s", "m2/s", 1.0, 0.0, "m2/s", "_m2_s"},
    Unit{"cm2/s", "m2/s", 1e-4, 0.0, "", "", true},
    Unit{"m3/s", "m3/s", 1.0, 0.0, "m3/s"},
    Unit{"mL/min", "m3/s", 1e-6 / 60.0, 0.0, "mL/min", "_mL_min"},
    Unit{"L/min", "m3/s", 1e-3 / 60.0, 0.0, "L/min"},
    // mass, amount
    Unit{"kg", "kg", 1.0, 0.0, "kg"},
    Unit{"g", "", 1.0, 0.0, "g", "_g"},
    Unit{"kg/s", "kg/s", 1.0, 0.0, "kg/s"},
    Unit{"g/h", "", 1.0, 0.0, "g/h", "_g_h"},
    Unit{"mg/s", "", 1.0, 0.0, "mg/s", "_mg_s"},
    Unit{"g/(m2 s)", "", 1.0, 0.0, "", "_g_m2_s"},
    Unit{"kg/m3", "kg/m3", 1.0, 0.0, "kg/m3", "_kg_m3"},
    Unit{"g/mL", "kg/m3", 1e3, 0.0, "g/mL", "", true},
    Unit{"mg/m3", "kg/m3", 1e-6, 0.0, "", "", true},
    Unit{"kg/mol", "kg/mol", 1.0, 0.0, "kg/mol", "_kg_mol"},
    Unit{"g/mol", "kg/mol", 1e-3, 0.0, "g/mol", "", true},
    Unit{"kDa", "kg/mol", 1.0, 0.0, "kDa", "", true},
    Unit{"dL/g", "m3/kg", 0.1, 0.0, "", "", true},
    // pressure, force, viscosity, surface tension
    Unit{"Pa", "Pa", 1.0, 0.0, "Pa", "_Pa"},
    Unit{"hPa", "", 1.0, 0.0, "hPa"},
    Unit{"kPa", "Pa", 1e3, 0.0, "kPa", "_kPa", true},
    Unit{"MPa", "Pa", 1e6, 0.0, "MPa", "_MPa", true},
    Unit{"bar", "Pa", 1e5, 0.0, "", "", true},
    Unit{"uN", "", 1.0, 0.0, "", "_uN"},
    Unit{"Pa s", "Pa s", 1.0, 0.0, "Pa.s", "_Pa_s"},
    Unit{"mPa s", "Pa s", 1e-3, 0.0, "mPa.s", "_mPa_s", true},
    Unit{"Pa s^n", "Pa s^n"},
    Unit{"N/m", "N/m", 1.0, 0.0, "N/m"},
    Unit{"mN/m", "N/m", 1e-3, 0.0, "mN/m", "_mN_m", true},
    Unit{"mN/m/K", "N/m/K", 1e-3, 0.0, "", "", true},
    // temperature, energy
    Unit{"K", "K", 1.0, 0.0, "K", "_K"},
    Unit{"degC", "K", 1.0, 273.15, "Cel", "_degC", true},
    Unit{"J/kg", "J/kg", 1.0, 0.0, "", "_J_kg"},
    Unit{"kJ/kg", "J/kg", 1e3, 0.0, "", "", true},
    Unit{"kJ/mol", "J/mol", 1e3, 0.0, "", "", true},
};

/// Null where the table does not know it.
[[nodiscard]] constexpr const Unit* find_unit(std::string_view name) {
  for (const Unit& one : kUnits)
    if (one.unit == name) return &one;
  return nullptr;
}

}  // namespace whorl::io
