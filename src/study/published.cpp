#include "whorl/study/published.hpp"

#include "whorl/model/published_trends.hpp"

namespace whorl::study {

std::string published_sentence(std::span<const std::string_view> keys, bool torn) {
  std::string text;
  for (const std::string_view key : keys) {
    const model::PublishedTrend* trend = model::published_trend(key, torn);
    if (trend == nullptr) continue;
    text += (text.empty() ? std::string() : std::string(", ")) + "more " + std::string(trend->name) + " " +
            std::string(trend->words) + " (" + std::string(trend->how_sure) + ")";
  }
  if (text.empty()) return text;
  return std::string("Published for ") + (torn ? "torn threads" : "unsplit lines") + ": " + text + ".";
}

}  // namespace whorl::study
