#include "answer/wanted_chance.hpp"

#include <algorithm>
#include <cmath>

#include "model/normal.hpp"

namespace whorl::answer {
namespace {

double share_below(const model::Answer& answer, double size_m) {
  const double middle = answer.diameter_m;
  const double low = answer.low_m > 0.0 ? answer.low_m : middle;
  const double high = answer.high_m > 0.0 ? answer.high_m : middle;
  const double side = size_m < middle ? std::log(middle / low) : std::log(high / middle);
  if (!(side > 0.0)) return size_m >= middle ? 1.0 : 0.0;
  const double z = model::kNormal95 * std::log(size_m / middle) / side;
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

}  // namespace

double share_within(const model::Answer& answer, const WantedSize& wanted) {
  if (!(answer.diameter_m > 0.0)) return 0.0;
  const double below = wanted.most_m ? share_below(answer, *wanted.most_m) : 1.0;
  const double under = wanted.least_m && *wanted.least_m > 0.0 ? share_below(answer, *wanted.least_m) : 0.0;
  return std::max(0.0, below - under);
}

double chance_to_meet(const model::Answer& threads, const model::Answer& line, const WantedSize& wanted) {
  double sum = 0.0;
  for (const model::Answer* answer : {&threads, &line})
    sum += answer->probability * answer->outcomes.even * share_within(*answer, wanted);
  return std::min(1.0, sum);
}

}  // namespace whorl::answer
