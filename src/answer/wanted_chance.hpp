// The chance that fibre of a wanted size lands: both answers, each with its probability and its band.
#pragma once
#include <optional>

#include "whorl/model/result.hpp"

namespace whorl::answer {

/// Limits of the dry diameter in metres; none: open on that side.
struct WantedSize {
  std::optional<double> least_m, most_m;
};

/// Share of an answer's fibre within the limits: ln d normal about the middle, each side as wide as its half of the
/// 90 % band. 0 without a fibre.
[[nodiscard]] double share_within(const model::Answer& answer, const WantedSize& wanted);

/// Chance of even fibre within the limits: the sum over the answers of p(answer) p(even | answer) share_within(answer).
/// Valid: doubts of one setting; outcome and size taken as independent
/// Source: total probability
[[nodiscard]] double chance_to_meet(const model::Answer& threads, const model::Answer& line, const WantedSize& wanted);

}  // namespace whorl::answer
