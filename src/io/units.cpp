#include "whorl/io/units.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <utility>

#include "io/unit_table.hpp"
#include "io/unit_text.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::io {
namespace {

constexpr std::size_t kEveryday = static_cast<std::size_t>(
    std::count_if(kUnits.begin(), kUnits.end(), [](const Unit& unit) { return unit.everyday; }));
constexpr auto kCommonUnits = [] {
  std::array<CommonUnit, kEveryday> out{};
  std::size_t at = 0;
  for (const Unit& unit : kUnits)
    if (unit.everyday) out[at++] = {unit.unit, unit.si, unit.scale, unit.offset};
  return out;
}();

void replace_all(std::string& text, std::string_view what, std::string_view by) {
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
    text.replace(at, what.size(), by);
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// Number at the start of `text`; `rest` is what follows, trimmed.
double leading_number(std::string_view text, std::string_view& rest, const std::string& found,
                      const std::string& allowed, const Where& where) {
  const auto fail = [&](const std::string& reason) {
    throw InputError(where.file, where.key, found + reason, allowed);
  };
  std::string_view digits = text;
  if (!digits.empty() && digits.front() == '+') digits.remove_prefix(1);
  const std::size_t first = !digits.empty() && digits.front() == '-' ? 1 : 0;
  const bool number = digits.size() > first && (is_digit(digits[first]) ||
                                                (digits[first] == '.' && digits.size() > first + 1 &&
                                                 is_digit(digits[first + 1])));
  if (!number) {
    for (const std::string_view word : {"nan", "inf", "NaN", "Inf", "NAN", "INF"})
      if (digits.substr(first, word.size()) == word) fail(" is not a finite number");
    fail(" does not start with a number");
  }
  double value{};
  const char* end = digits.data() + digits.size();
  const auto read = std::from_chars(digits.data(), end, value);
  if (read.ec == std::errc::result_out_of_range) fail(" has a number too large or too small for a double");
  rest = std::string_view(read.ptr, static_cast<std::size_t>(end - read.ptr));
  if (!rest.empty() && rest.front() == ',') fail(" has a comma in the number (write 12000, 0.5)");
  rest = trimmed(rest);
  if (!rest.empty() && is_digit(rest.front()) && rest.substr(0, 2) != "1/")
    fail(" has two numbers (write 12000, not 12 000)");
  return value;
}

/// Only what a unit is made of, so that UDUNITS' own grammar for dates, references and factors stays out.
bool looks_like_unit(std::string_view unit) {
  if (unit.substr(0, 2) == "1/") unit.remove_prefix(2);
  for (std::size_t i = 0; i < unit.size(); ++i) {
    const char c = unit[i];
    const bool plain = is_letter(c) || is_digit(c) || static_cast<unsigned char>(c) >= 0x80 ||
                       std::string_view(" %*./^-+()\"'_").find(c) != std::string_view::npos;
    if (!plain) return false;
    if (is_digit(c)) {
      // A digit is an exponent: right after a symbol, a sign, a caret or another digit. "Pa.s^0.6" would be read as 6
      // Pa.
      if (i == 0) return false;
      const char before = unit[i - 1];
      if (!is_letter(before) && !is_digit(before) && before != '^' && before != '-' && before != '+' && before != ')')
        return false;
    }
  }
  for (const std::string_view word : {"since", "after", "from", "ref", "lg", "ln", "BZ", "dBZ"}) {
    const std::size_t at = unit.find(word);
    if (at == std::string_view::npos) continue;
    const bool starts = at == 0 || !is_letter(unit[at - 1]);
    const std::size_t end = at + word.size();
    const bool ends = end == unit.size() || !is_letter(unit[end]);
    if (starts && ends) return false;
  }
  return true;
}

/// "Pa s^n", "mPa.s^n", "kPa*s^n": the pressure unit in front, or empty when it is not of that form.
std::string consistency_pressure(std::string_view unit) {
  std::string text(unit);
  replace_all(text, "·", ".");
  for (const std::string_view tail : {" s^n", ".s^n", "*s^n", " s**n"}) {
    if (text.size() > tail.size() && std::string_view(text).substr(text.size() - tail.size()) == tail)
      return text.substr(0, text.size() - tail.size());
  }
  return {};
}

UnitMatch to_si(double number, std::string_view unit, std::string_view si_unit, double& value) {
  if (si_unit == "Pa s^n") {
    const std::string pressure = consistency_pressure(unit);
    if (pressure.empty()) return UnitMatch::wrong_dimension;
    return convert_unit(number, pressure, "Pa", value);
  }
  if (unit == si_unit) {
    value = number;
    return UnitMatch::converted;
  }
  for (const CommonUnit& common : kCommonUnits) {
    if (unit != common.unit || si_unit != common.si_unit) continue;
    value = common.scale * number + common.offset;
    return UnitMatch::converted;
  }
  if (!looks_like_unit(unit)) return UnitMatch::unknown;
  return convert_unit(number, std::string(unit), std::string(si_unit), value);
}

struct Split {
  std::string_view value;
  std::string_view spread;  ///< empty: none given
  bool given{};
};

Split split_at_spread(std::string_view text) {
  for (const std::string_view sign : {"±", "+/-", "+-"}) {
    if (const std::size_t at = text.find(sign); at != std::string_view::npos)
      return {trimmed(text.substr(0, at)), trimmed(text.substr(at + sign.size())), true};
  }
  return {trimmed(text), {}, false};
}

constexpr int kStatedDigits =
    12;  ///< of a stated value: more than any balance has, less than a conversion between units spoils
constexpr double kStatedSteps = 1e9;   ///< of a unit with an offset, where a value near zero has no digits of its own

/// Trailing "(uniform)" and the like.
Distribution take_distribution(std::string_view& spread, const std::string& found, const Where& where) {
  if (spread.empty() || spread.back() != ')') return Distribution::normal;
  const std::size_t open = spread.rfind('(');
  if (open == std::string_view::npos) return Distribution::normal;
  const std::string_view word = trimmed(spread.substr(open + 1, spread.size() - open - 2));
  Distribution distribution{};
  if (word == "normal")
    distribution = Distribution::normal;
  else if (word == "uniform")
    distribution = Distribution::uniform;
  else if (word == "lognormal")
    distribution = Distribution::lognormal;
  else
    return Distribution::normal;  // part of a unit: "J/(kg K)"
  spread = trimmed(spread.substr(0, open));
  if (spread.empty())
    throw InputError(where.file, where.key, found + " has no figure behind ±", "a figure, e.g. ± 10 %");
  return distribution;
}

/// The spread behind "±" in the SI unit of the value. `in_percent`: the value itself was stated in percent.
/// `step`: the SI value of the unit in which it is rounded.
Uncertainty parse_spread(std::string_view spread, double value, bool in_percent, std::string_view si_unit,
                         std::string_view value_unit, double step, const std::string& found, const Where& where) {
  const std::string allowed =
      in_percent ? "± 2 points (percentage points) or ± 5 % of value, then (normal), (uniform) or (lognormal)"
                 : "± 10 % or ± a value in a unit of the same kind, then (normal), (uniform) or (lognormal)";
  Uncertainty uncertainty;
  uncertainty.distribution = take_distribution(spread, found, where);
  std::string_view unit;
  const double number = leading_number(spread, unit, found + " (behind ±)", allowed, where);
  if (number < 0.0) throw InputError(where.file, where.key, found + " has a negative figure behind ±", allowed);
  if (unit == "% of value" || (unit == "%" && !in_percent)) {
    uncertainty.stated = number / 100.0 * std::abs(value);
  } else if (in_percent && (unit == "points" || unit == "percentage points")) {
    uncertainty.stated = number / 100.0;
  } else if (in_percent && unit == "%") {
    throw InputError(where.file, where.key, found + ": ± in % of a value in % can be read in two ways", allowed);
  } else if (unit.empty() && si_unit == "1" && !in_percent) {
    uncertainty.stated = number;
  } else {
    if (unit.empty()) unit = value_unit;  // "1.2 ± 0.1 Pa s" is refused before; "1.2 Pa s ± 0.1" means the same unit
    double at{}, zero{};
    const UnitMatch match = to_si(number, unit, si_unit, at);
    if (match != UnitMatch::converted || to_si(0.0, unit, si_unit, zero) != UnitMatch::converted)
      throw InputError(where.file, where.key, found + ": unit '" + std::string(unit) + "' behind ± does not fit",
                       allowed);
    uncertainty.stated = at - zero;  // a difference: the offset of degC drops out
  }
  uncertainty.stated =
      step * tidy(uncertainty.stated / step, kStatedDigits);  // "± 10 %" of 0.2 mm and "± 20 um" are one doubt
  if (!std::isfinite(uncertainty.stated))
    throw InputError(where.file, where.key, found + " has no finite figure behind ±", allowed);
  if (uncertainty.distribution == Distribution::lognormal && value <= 0.0)
    throw InputError(where.file, where.key, found + ": lognormal needs a positive value", "(normal) or (uniform)");
  uncertainty.sd =
      uncertainty.distribution == Distribution::uniform ? uncertainty.stated / std::sqrt(3.0) : uncertainty.stated;
  return uncertainty;
}

}  // namespace

double one_spelling(double value_si, const QuantityKind& kind) {
  if (kind.usual_unit.empty() && kind.si_unit != "1") return value_si;
  const double shown = (value_si - kind.offset) / kind.scale;
  const double rounded =
      kind.offset == 0.0 ? tidy(shown, kStatedDigits) : std::round(shown * kStatedSteps) / kStatedSteps;
  return kind.scale * rounded + kind.offset;
}

std::span<const CommonUnit> common_units() { return kCommonUnits; }

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::string plain_text(std::string_view text) {
  std::string plain(text);
  replace_all(plain, "\u00A0", " ");  // no-break space
  replace_all(plain, "\u202F", " ");  // narrow no-break space
  replace_all(plain, "\u2009", " ");  // thin space
  replace_all(plain, "\u2212", "-");  // minus sign
  replace_all(plain, "\u207B", "-");  // exponents as superscripts
  for (const auto& [superscript, digit] :
       {std::pair{"\u2070", "0"}, std::pair{"\u00B9", "1"}, std::pair{"\u00B2", "2"}, std::pair{"\u00B3", "3"},
        std::pair{"\u2074", "4"}, std::pair{"\u2075", "5"}, std::pair{"\u2076", "6"}})
    replace_all(plain, superscript, digit);
  return std::string(trimmed(plain));
}

std::string in_quotes(std::string_view raw) {
  const std::string text = printable(raw, Lines::joined);
  std::string shown = "\"";
  std::size_t length = 0;
  for (const char c : text) {
    if (++length > 80) {
      // Cut between characters, not inside one.
      while (!shown.empty() && (static_cast<unsigned char>(shown.back()) & 0xC0U) == 0x80U) shown.pop_back();
      if (!shown.empty() && static_cast<unsigned char>(shown.back()) >= 0xC0U) shown.pop_back();
      shown += "...";
      break;
    }
    shown += c;
  }
  return shown + "\"";
}

std::string key_text(std::string_view key) {
  const std::string quoted = in_quotes(key);
  return quoted.substr(1, quoted.size() - 2);
}

const char* to_string(Distribution value) noexcept {
  switch (value) {
    case Distribution::normal: return "normal";
    case Distribution::uniform: return "uniform";
    case Distribution::lognormal: return "lognormal";
  }
  return "";
}

Quantity parse_quantity(std::string_view raw, const QuantityKind& kind, const Where& where) {
  const std::string text = plain_text(raw);
  const std::string found = in_quotes(raw);
  const bool plain_number = kind.si_unit == "1";
  const std::string allowed =
      (plain_number ? std::string("a number or a percentage, e.g. ") : std::string("a number with a unit, e.g. ")) +
      in_quotes(kind.example);
  const Split split = split_at_spread(text);
  if (split.value.empty()) throw InputError(where.file, where.key, found + " does not start with a number", allowed);
  if (split.given && split.spread.empty())
    throw InputError(where.file, where.key, found + " has no figure behind ±", "a figure, e.g. ± 10 %");
  std::string_view unit;
  const double number = leading_number(split.value, unit, found, allowed, where);
  Quantity quantity;
  if (unit.empty()) {
    if (!plain_number) throw InputError(where.file, where.key, found + " has no unit", allowed);
    quantity.value = number;
  } else {
    UnitMatch match = UnitMatch::converted;
    if (unit == kind.usual_unit)
      quantity.value = kind.scale * number + kind.offset;
    else
      match = to_si(number, unit, kind.si_unit, quantity.value);
    switch (match) {
      case UnitMatch::converted: break;
      case UnitMatch::unknown:
        throw InputError(where.file, where.key, found + " has an unknown unit '" + std::string(unit) + "'", allowed);
      case UnitMatch::wrong_dimension:
        throw InputError(where.file, where.key,
                         found + ": unit '" + std::string(unit) + "' does not fit (wanted: " +
                             (plain_number ? "a plain number or %" : "a unit like " + std::string(kind.si_unit)) + ")",
                         allowed);
    }
  }
  if (!std::isfinite(quantity.value))
    throw InputError(where.file, where.key, found + " is not a finite number", allowed);
  quantity.value = one_spelling(quantity.value, kind);
  if (split.given)
    quantity.uncertainty = parse_spread(split.spread, quantity.value, plain_number && !unit.empty(), kind.si_unit, unit,
                                        kind.scale, found, where);
  return quantity;
}

StatedConcentration parse_concentration(std::string_view raw, const Where& where) {
  using model::ConcentrationBasis;
  const std::string text = plain_text(raw);
  const std::string found = in_quotes(raw);
  const std::string allowed =
      "\"24 % w/v of solvent\", \"24 % w/v of solution\", \"15 wt%\", \"12 vol%\" or \"0.24 g/mL of solvent\"";
  const Split split = split_at_spread(text);
  if (split.given && split.spread.empty())
    throw InputError(where.file, where.key, found + " has no figure behind ±", "a figure, e.g. ± 5 % of value");
  std::string_view rest;
  const double number = leading_number(split.value, rest, found, allowed, where);
  // One space between words, so that "%  w/v" and "%w/v" read alike.
  std::string words;
  for (const char c : rest) {
    if (c == '\t' || c == ' ') {
      if (!words.empty() && words.back() != ' ') words += ' ';
    } else {
      if (!words.empty() && words.back() == '%' && c != ' ') words += ' ';
      words += c;
    }
  }
  StatedConcentration stated;
  auto& [basis, value] = stated.concentration;
  bool in_percent = true;
  struct Form {
    std::string_view words;
    ConcentrationBasis basis;
    bool defaulted;
  };
  static constexpr std::array<Form, 15> kForms{{{"% w/v of solvent", ConcentrationBasis::w_v_of_solvent, false},
                                                {"% w/v of solution", ConcentrationBasis::w_v_of_solution, false},
                                                {"% w/v", ConcentrationBasis::w_v_of_solvent, true},
                                                {"% (w/v) of solvent", ConcentrationBasis::w_v_of_solvent, false},
                                                {"% (w/v) of solution", ConcentrationBasis::w_v_of_solution, false},
                                                {"% (w/v)", ConcentrationBasis::w_v_of_solvent, true},
                                                {"wt%", ConcentrationBasis::mass, false},
                                                {"wt %", ConcentrationBasis::mass, false},
                                                {"% wt", ConcentrationBasis::mass, false},
                                                {"% w/w", ConcentrationBasis::mass, false},
                                                {"% (w/w)", ConcentrationBasis::mass, false},
                                                {"vol%", ConcentrationBasis::volume, false},
                                                {"vol %", ConcentrationBasis::volume, false},
                                                {"% v/v", ConcentrationBasis::volume, false},
                                                {"% (v/v)", ConcentrationBasis::volume, false}}};
  bool known = false;
  for (const Form& form : kForms) {
    if (words != form.words) continue;
    basis = form.basis;
    stated.basis_defaulted = form.defaulted;
    value = number / 100.0;
    known = true;
    break;
  }
  if (!known) {
    for (const auto& [tail, tail_basis] :
         {std::pair<std::string_view, ConcentrationBasis>{" of solvent", ConcentrationBasis::w_v_of_solvent},
          std::pair<std::string_view, ConcentrationBasis>{" of solution", ConcentrationBasis::w_v_of_solution}}) {
      if (words.size() <= tail.size() || std::string_view(words).substr(words.size() - tail.size()) != tail) continue;
      const std::string unit = words.substr(0, words.size() - tail.size());
      double grams_per_ml{};
      if (!looks_like_unit(unit) || convert_unit(number, unit, "g/mL", grams_per_ml) != UnitMatch::converted)
        throw InputError(where.file, where.key, found + ": '" + unit + "' is no mass per volume", allowed);
      basis = tail_basis;
      value = grams_per_ml;
      in_percent = false;
      known = true;
    }
  }
  if (!known) {
    std::string reason = " does not say what the concentration is based on";
    if (words.empty()) reason = " has no unit and no basis";
    double ignored{};
    if (!words.empty() && words.front() != '%' && looks_like_unit(words) &&
        convert_unit(number, words, "g/mL", ignored) == UnitMatch::converted)
      reason = " does not say whether it is per volume of solvent or of solution";
    throw InputError(where.file, where.key, found + reason, allowed);
  }
  if (!std::isfinite(value)) throw InputError(where.file, where.key, found + " is not a finite number", allowed);
  value = tidy(100.0 * value, kStatedDigits) / 100.0;
  if (split.given) {
    if (in_percent) {
      stated.uncertainty = parse_spread(split.spread, value, true, "1", "%", 0.01, found, where);
    } else {
      // Mass per volume: the stored fraction is the figure in g/mL.
      stated.uncertainty = parse_spread(split.spread, value, false, "g/mL", "g/mL", 0.01, found, where);
    }
  }
  return stated;
}

std::string basis_text(model::ConcentrationBasis basis) {
  switch (basis) {
    case model::ConcentrationBasis::w_v_of_solvent: return "% w/v of solvent";
    case model::ConcentrationBasis::w_v_of_solution: return "% w/v of solution";
    case model::ConcentrationBasis::mass: return "wt%";
    case model::ConcentrationBasis::volume: return "vol%";
  }
  return "";
}

std::string concentration_text(const model::Concentration& concentration) {
  return number_text(concentration.value * 100.0, 12) + " " + basis_text(concentration.basis);
}

std::optional<double> convert(double value, const std::string& from, const std::string& to) {
  double converted{};
  if (from == to) return value;
  if ((from != "1" && !looks_like_unit(from)) || convert_unit(value, from, to, converted) != UnitMatch::converted)
    return std::nullopt;
  return converted;
}

double tidy(double value, int digits) {
  if (!std::isfinite(value)) return value;
  const std::string text = number_text(value, digits);
  double read{};
  std::from_chars(text.data(), text.data() + text.size(), read);
  return read;
}

}  // namespace whorl::io
