// Quantities as text: a number, a unit, an optional uncertainty. Units are those of UDUNITS-2, plus Da (as g/mol), cP
// and dyn.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "whorl/model/case.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::io {

/// Where a text stands, for error messages.
struct Where {
  std::string file;
  std::string key;
};

enum class Distribution { normal, uniform, lognormal };
[[nodiscard]] const char* to_string(Distribution value) noexcept;

/// What stands behind "±". The stated figure is one standard deviation of a normal value, that of the logarithm times
/// the median
/// (the value) of a lognormal one, and the half-width of a uniform one.
struct Uncertainty {
  double stated{};  ///< as written, in the SI unit of the value (relative figures multiplied by the value)
  double sd{};      ///< one standard deviation, in the SI unit of the value; stated / sqrt(3) when uniform
  Distribution distribution{Distribution::normal};
};

/// A number in SI with what is known of its uncertainty.
struct Quantity {
  double value{};
  std::optional<Uncertainty> uncertainty;
};

/// What kind of quantity is expected.
struct QuantityKind {
  std::string_view si_unit;  ///< "1": a plain number or a percentage; "Pa s^n": consistency of a power law
  std::string_view example;  ///< quoted in messages
  // The usual unit, whose conversion (si = scale * x + offset) is known without asking UDUNITS.
  std::string_view usual_unit{};
  double scale{1.0};
  double offset{0.0};
};

/// The one double for a physical value, however it was spelled: rounded to 12 digits in the usual unit of its kind,
/// where most stated values are short decimal numbers, so that a respelled value does not fall to the other side of a
/// rounding. Kinds without a usual unit: unchanged.
[[nodiscard]] double one_spelling(double value_si, const QuantityKind& kind);

/// Parses "1.2 Pa s", "22 degC", "45 %", "0.8", "1.2 Pa s ± 10 % (lognormal)".
/// "±", "+-" and "+/-" are the same. A figure in percent is relative, except after a value that is itself in
/// percent, where it must say "% of value" or "points".
/// Error: InputError with what was found and an example: no number, no unit, unknown unit, wrong dimension, not finite.
[[nodiscard]] Quantity parse_quantity(std::string_view text, const QuantityKind& kind, const Where& where);

/// A concentration with its basis.
struct StatedConcentration {
  model::Concentration concentration;
  bool basis_defaulted{};  ///< a bare "% w/v": taken as g per 100 mL of solvent
  std::optional<Uncertainty> uncertainty;
};

/// Parses "24 % w/v of solvent", "24 % w/v of solution", "24 % w/v", "15 wt%", "15 % w/w", "12 vol%", "12 % v/v",
/// "0.2 g/mL of solvent".
[[nodiscard]] StatedConcentration parse_concentration(std::string_view text, const Where& where);

/// "24 % w/v of solvent": the same in the form parse_concentration() takes.
[[nodiscard]] std::string concentration_text(const model::Concentration& concentration);
/// "% w/v of solvent" and so on.
[[nodiscard]] std::string basis_text(model::ConcentrationBasis basis);

/// Converts between two units that UDUNITS knows; angles and cycles count as a dimension of their own, so that
/// "Hz" is no rotation speed. Empty when either is unknown or they do not match.
/// Error: InputError when the UDUNITS database is missing.
[[nodiscard]] std::optional<double> convert(double value, const std::string& from, const std::string& to);

using whorl::number_text;  // numbers for people: model/number_text.hpp

/// The double nearest to the decimal number with `digits` significant digits: removes the noise of unit conversion.
[[nodiscard]] double tidy(double value, int digits = 12);

}  // namespace whorl::io
