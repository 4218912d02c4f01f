// Which way the diameter goes with a knob in published experiments, and how sure that is. Printed beside the model's
// own direction.
#pragma once
#include <span>
#include <string_view>

namespace whorl::model {

/// Exponent n of d ~ knob^n inside one study.
struct PublishedTrend {
  std::string_view key;       ///< of the case file
  std::string_view name;      ///< for people
  bool with_gas{};            ///< holds where gas leaves with the liquid; else for lines without gas
  double exponent{};          ///< pooled over studies
  double sd{};                ///< between studies or solutions
  std::string_view words;     ///< "finer", "coarser", "no effect", "undecided"
  std::string_view how_sure;  ///< one phrase
  std::string_view source;
};

/// Eq: published-trends
/// Valid: inside one laboratory and solution; between laboratories sizes scatter by a factor 2 (one standard deviation
/// of ln d: 0.7)
/// Source: gas-only: own evaluation of 51 studies, exponents inside studies; 22 of them can be rerun (tools/thread-law
///         on tests/reference/gas_spun_diameters.csv) and give pressure -0.14 +- 0.11 (all rows) or 0.00 +- 0.07 (mean
///         of studies), concentration +1.5 +- 0.3 or +1.8 +- 0.3, feed 0.01 +- 0.02; rotation: docs/validation.md,
///         Table 5, with the papers there
[[nodiscard]] std::span<const PublishedTrend> published_trends();

/// The trend of a knob; nullptr where nothing is published.
[[nodiscard]] const PublishedTrend* published_trend(std::string_view key, bool with_gas);

}  // namespace whorl::model
