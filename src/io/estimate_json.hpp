// Parts of an estimate as JSON, the same from every program that writes them.
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "whorl/model/result.hpp"

namespace whorl::io {

/// Every output that the estimate has (io/outputs.hpp) under its column: numbers as numbers, yes and no as true and
/// false.
[[nodiscard]] nlohmann::ordered_json results_json(const model::Estimate& estimate);

/// The same jet in other air.
[[nodiscard]] nlohmann::ordered_json variant_json(const model::AirVariant& variant);

}  // namespace whorl::io
