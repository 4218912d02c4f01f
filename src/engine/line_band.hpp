// How far the diameter of one line per orifice can be trusted: every doubt moved by one standard deviation, one at a
// time.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "whorl/model/case.hpp"
#include "whorl/model/materials.hpp"

namespace whorl::engine {

/// What one doubt does to ln d of one line.
struct BandPart {
  std::string key;       ///< of the case
  std::string property;  ///< it stands for; empty for a setting or a factor of the model
  double log_sd{};       ///< |change of ln d| for one standard deviation
};
struct LineBand {
  bool made{};
  double log_sd{};              ///< root of the sum of squares
  std::vector<BandPart> parts;  ///< largest first
};
/// Measured, library and model-form doubts of engine/uncertain.hpp, each at 16 and 84 % of its distribution; ln d from
/// the first jet without tension and well mixed. A side on which nothing lands is left out.
/// Eq: line-band
/// Valid: doubts that act one by one; `estimate --uncertainty` samples them together
/// Source: propagation of uncertainty to first order, JCGM 100:2008
[[nodiscard]] LineBand line_band(const model::CaseInput& input, const model::Library& library);

/// d ln d/d ln knob of one line per orifice, for the first jet without tension and well mixed.
struct LineDirections {
  std::optional<double> speed;          ///< rotation speed
  std::optional<double>
      concentration;  ///< solids, whatever the basis; absent where the viscosity is measured and would not follow
  std::optional<double> overpressure;   ///< absent without overpressure
};
/// Central differences over +-3 %; a knob is left out where nothing lands on one side.
/// Valid: the sign of a trend, beside what is published (model/published_trends.hpp)
[[nodiscard]] LineDirections line_directions(const model::CaseInput& input, const model::Library& library);

}  // namespace whorl::engine
