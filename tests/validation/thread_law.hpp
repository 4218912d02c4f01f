// The laws of torn threads against published diameters of gas-driven spinning: sizes and exponents, study by study.
#pragma once
#include <string>
#include <vector>

#include "whorl/model/splitting.hpp"

namespace whorl::validation {

/// One published setting with what the model needs of its gas and liquid.
struct Point {
  std::string study;   ///< DOI, or the label where there is none
  std::string label;   ///< first author and year
  std::string liquid;  ///< polymer and solvent: exponents are taken inside one liquid
  double concentration{}, overpressure_Pa{}, feed_m3_s{}, distance_m{}, bore_m{};  ///< 0: not stated
  double diameter_m{};                                                             ///< published mean
  double diameter_sd_m{};  ///< between fibres at this setting; 0: not stated
  model::TearingFlow flow;
};

/// Rows of the set `gas` that state concentration, overpressure and diameter. `liquids`: what the property library lacks.
/// Error: InputError naming file and row
[[nodiscard]] std::vector<Point> read_points(const std::string& points, const std::string& liquids);

/// A law to be judged: the three of the model and two to compare with.
enum class Law { length, weber, cascade, constant, one_line };
[[nodiscard]] const char* name_of(Law law);
[[nodiscard]] double diameter_m(Law law, const Point& point);
inline constexpr Law kLaws[] = {Law::length, Law::weber, Law::cascade, Law::constant, Law::one_line};

/// Sizes. Every study has one weight, whatever its number of rows.
struct SizeScore {
  int rows{}, studies{};
  double ratio{};                   ///< geometric mean model/published
  double within_2{}, within_2_3{};  ///< share of studies whose mean lies within that factor
  // study by study left out: a factor on the law is fitted to the others
  double rms_log{};     ///< root mean square of ln(published/law)
  double holds_own{};   ///< share held by 1.645 x the rms of the others
  double holds_band{};  ///< share held by the model's factor of 4
};
[[nodiscard]] SizeScore size_score(Law law, const std::vector<Point>& points);

/// The constant of the default law on these points, as a factor on a law: ln of the mean factor and its standard error.
struct Fit {
  double log_factor{}, error{};
};
[[nodiscard]] Fit fit_factor(Law law, const std::vector<Point>& points);

/// What is varied.
enum class Knob { concentration, overpressure, feed, distance, bore };
inline constexpr Knob kKnobs[] = {Knob::concentration, Knob::overpressure, Knob::feed, Knob::distance, Knob::bore};
[[nodiscard]] const char* name_of(Knob knob);

/// Exponent n of d ~ knob^n inside one study, all knobs that it varied fitted together, with a level for every liquid.
struct Exponent {
  std::string study, label;
  Knob knob{};
  int rows{};
  double value{}, error{};  ///< published
  double model{};           ///< the law on the same rows
};
[[nodiscard]] std::vector<Exponent> exponents(Law law, const std::vector<Point>& points);

/// Mean of studies that scatter by more than their errors.
struct Pooled {
  int studies{};
  double value{}, error{};
  double between{};  ///< standard deviation between studies
  double model{};    ///< mean of the model's exponents with the same weights
};
/// Source: DerSimonian & Laird, Control. Clin. Trials 7 (1986) 177 (from memory)
[[nodiscard]] Pooled pooled(Knob knob, const std::vector<Exponent>& all);
/// All rows together, a level for every study and liquid; the error counts studies, not rows.
[[nodiscard]] Pooled over_rows(Law law, Knob knob, const std::vector<Point>& points);

}  // namespace whorl::validation
