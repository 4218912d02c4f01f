#include "whorl/model/published_trends.hpp"

#include <array>

namespace whorl::model {
namespace {

constexpr std::array kTrends{
    PublishedTrend{"operation.gas_overpressure", "overpressure", true, -0.2, 0.35, "finer",
                   "weak, and not in every solution",
                   "gas-only studies, pooled; rotation with gas: Alenezi et al., Appl. Phys. Rev. 6 (2019) 041401, "
                   "Mahalingam et al., Polymers 12 (2020) 1709"},
    PublishedTrend{"solution.concentration", "concentration", true, 1.3, 0.8, "coarser", "sure inside one study",
                   "gas-only studies, pooled"},
    PublishedTrend{"operation.feed_rate", "feed", true, 0.0, 0.1, "no effect", "sure: 51 studies",
                   "gas-only studies, pooled"},
    PublishedTrend{"vessel.orifice_diameter", "orifice", true, 0.3, 0.4, "coarser", "few studies",
                   "gas-only studies, pooled"},
    PublishedTrend{"operation.collection_distance", "distance", true, 0.1, 0.2, "no effect", "small either way",
                   "gas-only studies, pooled"},
    PublishedTrend{"operation.rotation_speed", "speed", true, 0.0, 0.5, "undecided",
                   "one study of rotation with gas says finer, without a number",
                   "Mahalingam et al., Polymers 12 (2020) 1709; docs/validation.md"},
    PublishedTrend{"room.relative_humidity", "humidity", true, -0.5, 0.5, "finer",
                   "water systems only, one study without a number", "docs/validation.md"},
    PublishedTrend{"operation.rotation_speed", "speed", false, -0.6, 0.4, "finer",
                   "mostly sets fed by a pump; with exceptions", "docs/validation.md, Table 5"},
    PublishedTrend{"solution.concentration", "concentration", false, 2.0, 1.0, "coarser", "sure of the direction",
                   "Xia, Lu & Liang, Fibers Polym. 21 (2020); docs/validation.md, Table 5"},
    PublishedTrend{"operation.feed_rate", "feed", false, 0.5, 0.15, "coarser", "sure: mass balance of one line",
                   "Fang et al., Polymer 88 (2016) 102"},
    PublishedTrend{"vessel.orifice_diameter", "orifice", false, 1.0, 0.5, "coarser", "by way of the flow",
                   "Fang et al., Polymer 88 (2016) 102"},
    PublishedTrend{"operation.collection_distance", "distance", false, -0.2, 0.4, "no effect", "slightly finer or none",
                   "Xia, Lu & Liang, Fibers Polym. 21 (2020)"},
};

}  // namespace

std::span<const PublishedTrend> published_trends() { return kTrends; }

const PublishedTrend* published_trend(std::string_view key, bool with_gas) {
  for (const PublishedTrend& trend : kTrends)
    if (trend.key == key && trend.with_gas == with_gas) return &trend;
  return nullptr;
}

}  // namespace whorl::model
