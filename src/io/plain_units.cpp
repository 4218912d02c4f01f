// Units of a laboratory without UDUNITS: their products, quotients and powers, with the metric prefixes. What is known here is
// converted here, on the command line as on the page, so that both have the same factor to the last bit; UDUNITS answers for
// the rest, and the page refuses it as it refuses a misspelt unit. A test holds every name against UDUNITS.
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "io/unit_text.hpp"
#include "whorl/model/constants.hpp"

namespace whorl::io {
namespace {

using model::kPi;

enum Dimension { kMetre, kKilogram, kSecond, kKelvin, kMole, kRadian, kDimensions };

struct Unit {
  double scale{1.0};
  std::array<int, kDimensions> powers{};
  double offset{};  ///< of a temperature scale, alone in its text
};

struct Named {
  std::string_view name;
  double scale;
  std::array<int, kDimensions> powers;
  bool prefixed;
  double offset{};
};

constexpr std::array<int, kDimensions> kPressure{-1, 1, -2, 0, 0, 0};
constexpr std::array<int, kDimensions> kLength{1, 0, 0, 0, 0, 0};
constexpr std::array<int, kDimensions> kVolume{3, 0, 0, 0, 0, 0};
constexpr std::array<int, kDimensions> kMass{0, 1, 0, 0, 0, 0};
constexpr std::array<int, kDimensions> kTime{0, 0, 1, 0, 0, 0};
constexpr std::array<int, kDimensions> kTemperature{0, 0, 0, 1, 0, 0};
constexpr std::array<int, kDimensions> kAngle{0, 0, 0, 0, 0, 1};
constexpr std::array<int, kDimensions> kTurning{0, 0, -1, 0, 0, 1};
constexpr std::array<int, kDimensions> kViscosity{-1, 1, -1, 0, 0, 0};
constexpr std::array<int, kDimensions> kForce{1, 1, -2, 0, 0, 0};
constexpr std::array<int, kDimensions> kEnergy{2, 1, -2, 0, 0, 0};

constexpr std::array kNamed{
    Named{"m", 1.0, kLength, true},
    Named{"metre", 1.0, kLength, true},
    Named{"meter", 1.0, kLength, true},
    Named{"micron", 1e-6, kLength, false},
    Named{"in", 0.0254, kLength, false},
    Named{"inch", 0.0254, kLength, false},
    Named{"ft", 0.3048, kLength, false},
    Named{"g", 1e-3, kMass, true},
    Named{"gram", 1e-3, kMass, true},
    Named{"s", 1.0, kTime, true},
    Named{"sec", 1.0, kTime, false},
    Named{"second", 1.0, kTime, true},
    Named{"min", 60.0, kTime, false},
    Named{"minute", 60.0, kTime, false},
    Named{"h", 3600.0, kTime, false},
    Named{"hr", 3600.0, kTime, false},
    Named{"hour", 3600.0, kTime, false},
    Named{"d", 86400.0, kTime, false},
    Named{"day", 86400.0, kTime, false},
    Named{"K", 1.0, kTemperature, true},
    Named{"kelvin", 1.0, kTemperature, true},
    Named{"degC", 1.0, kTemperature, false, 273.15},
    Named{"\u00b0C", 1.0, kTemperature, false, 273.15},
    Named{"celsius", 1.0, kTemperature, false, 273.15},
    Named{"degF", 5.0 / 9.0, kTemperature, false, 459.67 * 5.0 / 9.0},
    Named{"\u00b0F", 5.0 / 9.0, kTemperature, false, 459.67 * 5.0 / 9.0},
    Named{"mol", 1.0, {0, 0, 0, 0, 1, 0}, true},
    Named{"mole", 1.0, {0, 0, 0, 0, 1, 0}, true},
    Named{"Da", 1e-3, {0, 1, 0, 0, -1, 0}, true},
    Named{"dalton", 1e-3, {0, 1, 0, 0, -1, 0}, true},
    Named{"Pa", 1.0, kPressure, true},
    Named{"pascal", 1.0, kPressure, true},
    Named{"bar", 1e5, kPressure, true},
    Named{"atm", 101325.0, kPressure, false},
    Named{"psi", 6894.757293168361, kPressure, false},
    Named{"torr", 101325.0 / 760.0, kPressure, false},
    Named{"Torr", 101325.0 / 760.0, kPressure, false},
    Named{"mmHg", 133.322387415, kPressure, false},
    Named{"N", 1.0, kForce, true},
    Named{"dyn", 1e-5, kForce, true},
    Named{"dyne", 1e-5, kForce, true},
    Named{"J", 1.0, kEnergy, true},
    Named{"cal", 4.1868, kEnergy, true},
    Named{"W", 1.0, {2, 1, -3, 0, 0, 0}, true},
    Named{"P", 0.1, kViscosity, true},
    Named{"poise", 0.1, kViscosity, true},
    Named{"St", 1e-4, {2, 0, -1, 0, 0, 0}, true},
    Named{"L", 1e-3, kVolume, true},
    Named{"l", 1e-3, kVolume, true},
    Named{"litre", 1e-3, kVolume, true},
    Named{"liter", 1e-3, kVolume, true},
    Named{"Hz", 1.0, {0, 0, -1, 0, 0, 0}, true},
    Named{"hertz", 1.0, {0, 0, -1, 0, 0, 0}, true},
    Named{"rad", 1.0, kAngle, true},
    Named{"radian", 1.0, kAngle, true},
    Named{"deg", kPi / 180.0, kAngle, false},
    Named{"degree", kPi / 180.0, kAngle, false},
    Named{"turn", 2.0 * kPi, kAngle, false},
    Named{"revolution", 2.0 * kPi, kAngle, false},
    Named{"rev", 2.0 * kPi, kAngle, false},
    Named{"rpm", 2.0 * kPi / 60.0, kTurning, false},
    Named{"rps", 2.0 * kPi, kTurning, false},
    Named{"%", 0.01, {}, false},
    Named{"percent", 0.01, {}, false},
};

struct Prefix {
  std::string_view name;
  double scale;
};
constexpr std::array kPrefixes{
    Prefix{"T", 1e12},      Prefix{"G", 1e9},       Prefix{"M", 1e6},    Prefix{"k", 1e3},    Prefix{"h", 1e2},
    Prefix{"da", 1e1},      Prefix{"d", 1e-1},      Prefix{"c", 1e-2},   Prefix{"m", 1e-3},   Prefix{"u", 1e-6},
    Prefix{"\u00b5", 1e-6}, Prefix{"\u03bc", 1e-6}, Prefix{"n", 1e-9},   Prefix{"p", 1e-12},  Prefix{"micro", 1e-6},
    Prefix{"milli", 1e-3},  Prefix{"centi", 1e-2},  Prefix{"kilo", 1e3}, Prefix{"mega", 1e6}, Prefix{"nano", 1e-9}};

/// "microgram", but not "microN", which is a micron to those who do not look at capitals.
bool goes_with(const Prefix& prefix, const Named& unit) {
  constexpr std::size_t kWord = 4;  // letters
  return unit.prefixed && (prefix.name.size() < kWord || unit.name.size() >= kWord);
}

const Named* named(std::string_view name) {
  for (const Named& each : kNamed)
    if (each.name == name) return &each;
  return nullptr;
}

/// "kPa", and as people write it out: "minutes", "litres".
std::optional<Unit> symbol(std::string_view name) {
  for (const bool plural : {false, true}) {
    if (plural && (name.size() < 4 || name.back() != 's')) break;
    const std::string_view one = plural ? name.substr(0, name.size() - 1) : name;
    if (const Named* found = named(one)) return Unit{found->scale, found->powers, found->offset};
    for (const Prefix& prefix : kPrefixes) {
      if (one.substr(0, prefix.name.size()) != prefix.name) continue;
      const Named* found = named(one.substr(prefix.name.size()));
      if (found != nullptr && goes_with(prefix, *found)) return Unit{prefix.scale * found->scale, found->powers, 0.0};
    }
  }
  return std::nullopt;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool ends_symbol(char c) { return is_digit(c) || std::string_view(" .*/^()-+").find(c) != std::string_view::npos; }

class Reader {
 public:
  explicit Reader(std::string_view text) : text_(text) {}

  std::optional<Unit> whole() {
    auto unit = product();
    if (!unit || at_ != text_.size() || (unit->offset != 0.0 && factors_ != 1)) return std::nullopt;
    return unit;
  }

 private:
  void skip_spaces() {
    while (at_ < text_.size() && text_[at_] == ' ') ++at_;
  }

  std::optional<Unit> product() {
    auto result = factor();
    while (result) {
      skip_spaces();
      if (at_ == text_.size() || text_[at_] == ')') break;
      const bool divide = text_[at_] == '/';
      if (divide || text_[at_] == '.' || text_[at_] == '*') ++at_;
      const auto next = factor();
      if (!next || next->offset != 0.0 || result->offset != 0.0) return std::nullopt;
      result->scale = divide ? result->scale / next->scale : result->scale * next->scale;
      for (std::size_t i = 0; i < kDimensions; ++i) result->powers[i] += divide ? -next->powers[i] : next->powers[i];
    }
    return result;
  }

  std::optional<Unit> factor() {
    skip_spaces();
    if (at_ == text_.size()) return std::nullopt;
    std::optional<Unit> unit;
    if (text_[at_] == '(') {
      if (++depth_ > kDeepest) return std::nullopt;
      ++at_;
      unit = product();
      if (!unit || at_ == text_.size() || text_[at_] != ')') return std::nullopt;
      ++at_;
      --depth_;
    } else if (text_[at_] == '1') {
      ++at_;
      return Unit{};
    } else {
      const std::size_t start = at_;
      while (at_ < text_.size() && !ends_symbol(text_[at_])) ++at_;
      unit = symbol(text_.substr(start, at_ - start));
      ++factors_;
    }
    return unit ? power(*unit) : unit;
  }

  std::optional<Unit> power(Unit unit) {
    if (at_ < text_.size() && text_[at_] == '^') ++at_;
    else if (text_.substr(at_, 2) == "**") at_ += 2;
    const bool negative = at_ < text_.size() && text_[at_] == '-';
    if (negative || (at_ < text_.size() && text_[at_] == '+')) ++at_;
    if (at_ == text_.size() || !is_digit(text_[at_])) return negative ? std::nullopt : std::optional<Unit>(unit);
    int exponent = text_[at_++] - '0';
    if (at_ < text_.size() && is_digit(text_[at_])) return std::nullopt;
    if (negative) exponent = -exponent;
    if (exponent != 1) unit.offset = 0.0;
    unit.scale = std::pow(unit.scale, exponent);
    for (int& each : unit.powers) each *= exponent;
    return unit;
  }

  static constexpr int kDeepest = 4;
  std::string_view text_;
  std::size_t at_{};
  int factors_{};
  int depth_{};
};

std::optional<Unit> unit_of(std::string text) {
  const auto replace = [&text](std::string_view what, std::string_view by) {
    for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
      text.replace(at, what.size(), by);
  };
  replace("\u00b7", ".");
  replace("\u00b2", "2");
  replace("\u00b3", "3");
  if (text == "1") return Unit{};
  return Reader(text).whole();
}

}  // namespace

std::vector<std::string> plain_unit_names() {
  std::vector<std::string> names;
  for (const Named& each : kNamed) {
    names.emplace_back(each.name);
    for (const Prefix& prefix : kPrefixes)
      if (goes_with(prefix, each)) names.push_back(std::string(prefix.name) + std::string(each.name));
  }
  return names;
}

UnitMatch convert_plain_unit(double number, const std::string& from, const std::string& to, double& value) {
  const auto source = unit_of(from);
  if (!source) return UnitMatch::unknown;
  const auto target = unit_of(to);
  if (!target) return UnitMatch::unknown;
  if (source->powers != target->powers) return UnitMatch::wrong_dimension;
  value = (source->scale * number + source->offset - target->offset) / target->scale;
  return UnitMatch::converted;
}

}  // namespace whorl::io
