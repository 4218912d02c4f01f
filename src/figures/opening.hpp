// The first screen of a report: the answer as a picture, what comes next, a map and one more picture.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "figures/figure_kinds.hpp"

namespace whorl::figures {

/// One of the answers on the ruler. All in micrometres.
struct RulerBand {
  std::string label;        ///< beside its mark: "1.6 µm, 66 %"
  double middle_um{}, low_um{}, high_um{};
};
/// A share of what may lie on the collector.
struct OutcomeShare {
  std::string key;          ///< even, beaded, drops, wet, none: its colour
  std::string words;        ///< "even fibre"
  std::string percent;      ///< "69 %"
  double share{};
};
struct OpeningStep {
  std::string label, text;
  bool warns{};             ///< marked with a triangle
};
struct Opening {
  std::string headline;     ///< "About 1.6 µm, could be 0.7 to 3.9"
  std::string second;       ///< sentence below; may be empty
  std::vector<RulerBand> bands;              ///< empty: no fibre, no ruler
  std::optional<double> least_um, most_um;   ///< wanted
  std::vector<OutcomeShare> outcomes;
  std::string extent;       ///< what the bands are
  std::string chance;       ///< "53 %"; empty: nothing is wanted
  std::string chance_of;    ///< "chance of even fibre of 4 to 8 µm"
  std::vector<OpeningStep> steps;
  std::string caution;
  std::optional<Figure> map, picture;
  std::string map_title, map_words, picture_title, picture_words;
  std::string map_link;     ///< id of the section in which points can be picked; empty: none
};

/// The bands on a logarithmic ruler. Places are per cent of the width, so that one drawing serves every screen.
[[nodiscard]] std::string html_ruler(const Opening& opening);
/// A bar of the outcomes, with its legend.
[[nodiscard]] std::string html_outcomes(const std::vector<OutcomeShare>& outcomes);
[[nodiscard]] std::string html_opening(const Opening& opening);

}  // namespace whorl::figures
