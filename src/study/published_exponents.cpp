#include "whorl/study/published_exponents.hpp"

#include <vector>

#include "whorl/model/published_trends.hpp"

namespace whorl::study {
namespace {

// The trend of concentration is that of the mean of many studies; single ones run from 0.2 to 5.
constexpr std::string_view kConcentration = "solution.concentration";
constexpr double kConcentrationSpread = 0.6;

constexpr double kLnTorn = -14.80976;  // ln(0.37e-6)

std::vector<PublishedExponent> gather() {
  std::vector<PublishedExponent> out;
  for (const model::PublishedTrend& trend : model::published_trends()) {
    if (!trend.with_gas) continue;
    const double sd = trend.key == kConcentration ? kConcentrationSpread : trend.sd;
    PublishedExponent one{trend.key, trend.name, trend.exponent, sd, trend.exponent, sd, trend.source};
    if (const model::PublishedTrend* line = model::published_trend(trend.key, false); line != nullptr) {
      one.line = line->exponent;
      one.line_sd = line->sd;
    }
    out.push_back(one);
  }
  return out;
}

}  // namespace

std::span<const PublishedExponent> published_exponents() {
  static const std::vector<PublishedExponent> kExponents = gather();
  return kExponents;
}

const PublishedExponent* published_exponent(std::string_view key) {
  for (const PublishedExponent& one : published_exponents()) {
    if (one.key == key) return &one;
  }
  return nullptr;
}

PublishedLevel torn_level() { return {kLnTorn, 0.7}; }
PublishedLevel wide_level() { return {kLnTorn + 1.0, 2.5}; }

}  // namespace whorl::study
