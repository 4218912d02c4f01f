// What published studies say of the diameter before a laboratory has made a trial of its own.
#pragma once
#include <span>
#include <string_view>

#include "whorl/study/trial_law.hpp"

namespace whorl::study {

/// d ln(diameter) / d ln(setting), mean and spread between studies.
struct PublishedExponent {
  std::string_view key;      ///< of the case file
  std::string_view words;    ///< "overpressure"
  double torn{}, torn_sd{};  ///< where gas tears the liquid into threads
  double line{}, line_sd{};  ///< where one line leaves every orifice
  std::string_view source;
};

/// The published trends (model/published_trends.hpp) as a belief about one more laboratory.
/// Eq: published-exponents
/// Valid: within one laboratory and one solution; signs of single studies differ
/// Error: spreads as given
/// Source: of every trend its own; rebuilt from tests/reference/gas_spun_diameters.csv by
/// tests/engine/trial_law_tables.cpp
[[nodiscard]] std::span<const PublishedExponent> published_exponents();
/// By key or column; null where nothing is published.
[[nodiscard]] const PublishedExponent* published_exponent(std::string_view key);

/// Level of ln(diameter in m) where no physics places it.
struct PublishedLevel {
  double mean{}, sd{};
};
[[nodiscard]] PublishedLevel torn_level();   ///< gas-torn threads
[[nodiscard]] PublishedLevel wide_level();   ///< any fibre

/// Doubts that are not exponents.
inline constexpr double kUnpublishedSpread = 0.5;   ///< of the exponent of a setting nobody published
inline constexpr double kPhysicsLevelSpread =
    0.8;  ///< of ln d about the model, between laboratories: a factor 3.7 at 90 %

}  // namespace whorl::study
