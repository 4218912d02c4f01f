// The normal distribution's points that intervals use.
#pragma once

namespace whorl::model {

/// 95 % point of the standard normal distribution: an interval of 90 % reaches so many standard deviations to each
/// side.
/// Source: any table, e.g. Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.5 (from memory)
inline constexpr double kNormal95 = 1.6448536269514722;

}  // namespace whorl::model
