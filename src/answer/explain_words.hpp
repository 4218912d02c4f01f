// Words, symbols and small numbers that the sentences of `whorl explain` share.
#pragma once
#include <cmath>
#include <string>
#include <vector>

#include "answer/explanation_text.hpp"

namespace whorl::answer::words {

using io::Equation;
using io::Heading;
using io::Paragraph;
using io::percent_change;
using io::Prose;
using io::ProseTable;
using io::quantity;
using io::signed_number;
using io::symbol;

/// Below this an elasticity counts as none: 10 % of the input moves the output by less than 0.1 %.
inline constexpr double kNone = 0.01;
/// Where two numbers count as alike.
inline constexpr double kAlike = 1.1;
/// A change of ln d beyond which a part of a split is none.
inline constexpr double kThousandfold = 6.9;
/// The order of the first responses.
enum : std::size_t { kDiameter, kFlow, kLineSpeed, kSolvent, kRunTime };

[[nodiscard]] inline std::string micrometres(double metres) {
  return metres < 1e-6 ? quantity(1e9 * metres, "nm") : quantity(1e6 * metres, "um");
}
[[nodiscard]] inline std::string percent(double share, int digits = 2) {
  return quantity(100.0 * share, "%", share >= 0.995 ? 3 : digits);
}
[[nodiscard]] inline std::string kilopascal(double pascal) { return quantity(1e-3 * pascal, "kPa"); }
[[nodiscard]] inline std::string watched(double value) { return signed_number(value, 3); }
[[nodiscard]] inline std::string ten_percent(double elasticity) {
  return io::percent_change(elasticity * std::log(1.1));
}

/// "line-speed" -> "line speed": the parts of splits and budgets.
[[nodiscard]] std::string words_of(const std::string& key);
/// "solution.measured.zero_shear_viscosity" -> "measured zero shear viscosity"
[[nodiscard]] std::string key_words(const std::string& key);
[[nodiscard]] std::string joined(const std::vector<std::string>& words, const char* last = " and ");

/// Whether any input has a derivative of the diameter: none has where the likelier answer lands as no fibre.
[[nodiscard]] bool diameter_known(const study::PointReport& report);
inline constexpr const char* kNoFibre =
    "The likelier answer lands no fibre here, so there is no dry diameter that an input could change.";

[[nodiscard]] double number_of(const model::Estimate& e, const std::string& group);
[[nodiscard]] double property_of(const model::Estimate& e, const std::string& key);

/// d_f = 2 sqrt(Q phi_p / (pi u_f E))
[[nodiscard]] io::Equation identity();
/// The law of torn threads that this case uses.
[[nodiscard]] io::Equation thread_law(model::ThreadLaw law);
inline const std::string kD = symbol("d_f", "d_\\mathrm{f}");
inline const std::string kQ = symbol("Q", "Q");
inline const std::string kU = symbol("u_f", "u_\\mathrm{f}");
inline const std::string kPhi = symbol("phi_p", "\\phi_\\mathrm{p}");
inline const std::string kE = symbol("E", "E");
inline const std::string kLnD = symbol("ln d_f", "\\ln d_\\mathrm{f}");

}  // namespace whorl::answer::words

namespace whorl::answer {

// What is uncertain at a point, and which doubt matters: explain_doubts.cpp.
void say_doubts(const study::PointReport& report, io::Prose& prose);
void say_sensitivity(const study::PointReport& report, io::Prose& prose);

}  // namespace whorl::answer
