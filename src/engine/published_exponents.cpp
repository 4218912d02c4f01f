#include "engine/published_exponents.hpp"

#include <array>

namespace whorl::engine {
namespace {

constexpr std::string_view kGas = "51 studies of gas-driven spinning (325 points); 14 of them in tests/reference/published_trials.csv";
constexpr std::string_view kRotary = "abstracts of rotary studies: finer with speed in most, the finest at the lowest speed in some";

constexpr std::array<PublishedExponent, 6> kExponents{{
    {"operation.rotation_speed", "speed", -0.6, 0.4, -0.6, 0.4, kRotary},
    {"operation.gas_overpressure", "overpressure", -0.15, 0.35, -0.15, 0.35, kGas},
    {"solution.concentration", "concentration", 1.3, 0.6, 1.3, 0.6, kGas},
    {"feed", "feed", 0.0, 0.12, 0.5, 0.1, "gas: as above; one line: balance of mass"},
    {"operation.collection_distance", "distance", 0.1, 0.2, 0.1, 0.2, kGas},
    {"vessel.orifice_diameter", "orifice", 0.3, 0.3, 0.3, 0.3, "abstracts of rotary studies; one gas-driven study: 0.9"},
}};

constexpr double kLnTorn = -14.80976;  // ln(0.37e-6)

}  // namespace

std::span<const PublishedExponent> published_exponents() { return kExponents; }

const PublishedExponent* published_exponent(std::string_view key) {
  for (const PublishedExponent& one : kExponents) {
    if (one.key == key) return &one;
  }
  return nullptr;
}

PublishedLevel torn_level() { return {kLnTorn, 0.7}; }
PublishedLevel wide_level() { return {kLnTorn + 1.0, 2.5}; }

}  // namespace whorl::engine
