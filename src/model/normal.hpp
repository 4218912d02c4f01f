// Points and shares of the distributions that intervals use.
#pragma once

namespace whorl::model {

/// 95 % point of the standard normal distribution: an interval of 90 % reaches so many standard deviations to each
/// side.
/// Source: any table, e.g. Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.5 (from memory)
inline constexpr double kNormal95 = 1.6448536269514722;

/// Share of a normal distribution below or above x, and the point below which a share lies. Boost.Math's: its templates are compiled
/// here, once.
[[nodiscard]] double normal_below(double x, double mean = 0.0, double sd = 1.0);
[[nodiscard]] double normal_above(double x, double mean, double sd);
[[nodiscard]] double normal_point(double share);
/// Points of Student's t and of Fisher's F below which a share lies.
[[nodiscard]] double student_point(double freedom, double share);
[[nodiscard]] double fisher_point(double freedom_above, double freedom_below, double share);

}  // namespace whorl::model
