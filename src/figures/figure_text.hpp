// What stands on axes: names, symbols and units of the columns of results, as print sets them.
#pragma once
#include <string>
#include <string_view>

#include "figures/svg.hpp"

namespace whorl::figures {

/// "dry_diameter_um" -> name "Dry diameter", symbol d_f, unit "um".
struct Quantified {
  std::string name;      ///< for people, first letter capital
  std::string symbol;    ///< plain spelling, "d_f"; may be empty
  std::string unit;      ///< plain spelling, "um"; empty or "1": none
};

/// Looks a column up among results, profile columns and input keys; a column nobody knows keeps its own words, with the
/// unit that its suffix says.
[[nodiscard]] Quantified quantified(std::string_view column);

/// "d_f" with an italic d and an upright subscript f; "eta_0" with a Greek letter.
/// Source: ISO 80000-1: symbols of quantities italic, subscripts that describe upright
[[nodiscard]] RichText rich_symbol(std::string_view symbol);

/// "um" -> "µm", "degC" -> "°C", "1/s" -> "s" with superscript -1, "kg/m3" -> "kg/m" with superscript 3.
[[nodiscard]] RichText rich_unit(std::string_view unit);

/// "Dry diameter d_f / µm": quotient of quantity and unit, so that the axis shows plain numbers; parentheses round a
/// unit that is itself a quotient.
[[nodiscard]] RichText rich_label(const Quantified& quantity);
/// The symbol and unit alone: "d_f / µm"; the unit alone when there is no symbol.
[[nodiscard]] RichText rich_quotient(const Quantified& quantity);

/// Plain text of a label: "dry diameter d_f in um", for captions.
[[nodiscard]] std::string caption_label(const Quantified& quantity);

/// "rotation_speed_rpm" -> "speed": the shortest usual name, for captions and legends ("Dry diameter").
[[nodiscard]] std::string plain_unit(std::string_view unit);

/// Number as print sets it: a real minus sign, a thin space between groups of three digits from five digits on, at most
/// `digits` significant digits.
[[nodiscard]] std::string print_number(double value, int digits = 6);

}  // namespace whorl::figures
