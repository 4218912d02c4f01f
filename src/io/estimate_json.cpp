#include "io/estimate_json.hpp"

#include <nlohmann/json.hpp>
#include <string>

#include "whorl/io/outputs.hpp"

namespace whorl::io {

using Json = nlohmann::ordered_json;

Json results_json(const model::Estimate& estimate) {
  Json results = Json::object();
  for (const Output& output : outputs()) {
    const auto value = output_value(output, estimate);
    if (!value) continue;
    if (output.kind == OutputKind::boolean)
      results[std::string(output.column)] = *value != 0.0;
    else
      results[std::string(output.column)] = *value;
  }
  return results;
}

Json variant_json(const model::AirVariant& variant) {
  Json row{{"key", variant.key},
           {"change", variant.text},
           {"status", to_string(variant.status)},
           {"reached_collector", variant.reached_collector}};
  if (variant.reached_collector) {
    row["dry_diameter_um"] = 1e6 * variant.dry_diameter_m;
    row["residual_solvent"] = variant.residual_solvent;
    row["line_speed_m_s"] = variant.line_speed_m_s;
  }
  if (variant.status == model::Status::done) {
    row["end_radius_mm"] = 1e3 * variant.end_radius_m;
    row["turns"] = variant.turns;
  }
  return row;
}

}  // namespace whorl::io
