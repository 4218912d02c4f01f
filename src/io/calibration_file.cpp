#include "whorl/io/calibration_file.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "model/normal.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {
using Json = nlohmann::ordered_json;

std::string text_of(const Json& parent, const char* key, const std::string& file) {
  if (!parent.contains(key) || !parent[key].is_string())
    throw InputError(file, key, parent.contains(key) ? "no text" : "missing", "a text");
  return parent[key].get<std::string>();
}
double number_of(const Json& parent, const char* key, const std::string& where, const std::string& file) {
  if (!parent.contains(key) || !parent[key].is_number())
    throw InputError(file, where + "." + key, parent.contains(key) ? "no number" : "missing", "a number");
  return parent[key].get<double>();
}
}  // namespace

CalibrationFile read_calibration_text(const std::string& text, const std::string& name) {
  const Json json = parse_document(text, name);
  CalibrationFile out;
  out.name = name;
  out.digest = sha256_hex(text);
  if (!json.is_object() || !json.contains("whorl_calibration"))
    throw InputError(name, "whorl_calibration", "missing", "a file written by 'whorl calibrate -o'");
  if (!json["whorl_calibration"].is_number_integer() || json["whorl_calibration"].get<long>() != 1)
    throw InputError(name, "whorl_calibration", json["whorl_calibration"].dump().substr(0, 40), "1");
  out.version = text_of(json, "version", name);
  out.polymer = text_of(json, "polymer", name);
  out.solvent = text_of(json, "solvent", name);
  out.case_hash = text_of(json, "case_sha256", name);
  out.data_digest = text_of(json, "data_sha256", name);
  if (!json.contains("parameters") || !json["parameters"].is_array() || json["parameters"].empty())
    throw InputError(name, "parameters", "missing or empty", "a list of parameters");
  for (std::size_t i = 0; i < json["parameters"].size(); ++i) {
    const Json& one = json["parameters"][i];
    const std::string where = "parameters[" + std::to_string(i) + "]";
    if (!one.is_object()) throw InputError(name, where, "no object", "{\"key\": ..., \"value_si\": ...}");
    CalibratedValue v;
    v.key = text_of(one, "key", name);
    const Key* key = find_key(v.key);
    if (key == nullptr || key->path != v.key)
      throw InputError(name, where + ".key", '"' + v.key.substr(0, 60) + '"', "a numeric key of the case file");
    v.value = number_of(one, "value_si", where, name);
    v.low = number_of(one, "low_si", where, name);
    v.high = number_of(one, "high_si", where, name);
    check_limits(*key, v.value, number_text(v.value), name);
    if (!(v.low <= v.value && v.value <= v.high))
      throw InputError(name, where, "an interval that does not hold its value", "low_si <= value_si <= high_si");
    for (const CalibratedValue& other : out.values) {
      if (other.key == v.key) throw InputError(name, where + ".key", '"' + v.key + "\" twice", "once");
    }
    out.values.push_back(v);
  }
  if (!json.contains("range")) return out;
  if (!json["range"].is_array()) throw InputError(name, "range", "no list", "a list of settings");
  for (std::size_t i = 0; i < json["range"].size(); ++i) {
    const Json& one = json["range"][i];
    const std::string where = "range[" + std::to_string(i) + "]";
    if (!one.is_object())
      throw InputError(name, where, "no object", "{\"key\": ..., \"low_si\": ..., \"high_si\": ...}");
    CalibratedRange r{text_of(one, "key", name), number_of(one, "low_si", where, name),
                      number_of(one, "high_si", where, name)};
    const Key* key = find_key(r.key);
    if (key == nullptr || key->path != r.key)
      throw InputError(name, where + ".key", '"' + r.key.substr(0, 60) + '"', "a numeric key of the case file");
    if (!(r.low <= r.high)) throw InputError(name, where, "low_si above high_si", "low_si <= high_si");
    out.range.push_back(std::move(r));
  }
  return out;
}

CalibrationFile read_calibration_file(const std::string& path) {
  return read_calibration_text(read_text_file(path), path);
}

void apply_calibration(CaseFile& file, const CalibrationFile& calibration) {
  if (file.input.solution.polymer != calibration.polymer || file.input.solution.solvent != calibration.solvent)
    throw InputError(
        calibration.name, "polymer, solvent", calibration.polymer + " in " + calibration.solvent,
        "those of the case " + file.name + ": " + file.input.solution.polymer + " in " + file.input.solution.solvent);
  for (const CalibratedValue& v : calibration.values) {
    const Key* key = find_key(v.key);
    key->set(file.input, v.value);
    const double sd = 0.5 * (v.high - v.low) / model::kNormal95;
    if (sd > 0.0) {
      file.uncertainties[v.key] = {sd, sd, Distribution::normal};
      constexpr std::string_view kMeasured = "solution.measured.";
      if (v.key.rfind(kMeasured, 0) == 0 && v.value != 0.0)
        file.input.solution.measured.relative_sd[v.key.substr(kMeasured.size())] = sd / std::abs(v.value);
    }
    file.notes.push_back("calibrated: " + v.key + " = " + value_text(*key, v.value, 4) +
                         " (90 %: " + value_text(*key, v.low, 3) + " to " + value_text(*key, v.high, 3) + ") from " +
                         calibration.name);
  }
  std::string outside;
  for (const CalibratedRange& r : calibration.range) {
    const Key* key = find_key(r.key);
    const auto value = key->get(file.input);
    if (!value) continue;
    const double rounding = 1e-9 * std::max({std::abs(*value), std::abs(r.low), std::abs(r.high)});
    if (*value >= r.low - rounding && *value <= r.high + rounding) continue;
    outside += (outside.empty() ? "" : "; ") + r.key + " = " + value_text(*key, *value, 4) +
               " (trials: " + value_text(*key, r.low, 4) +
               (r.high > r.low ? " to " + value_text(*key, r.high, 4) : "") + ")";
  }
  if (!outside.empty())
    file.notes.push_back("outside the trials of " + calibration.name + ", which is extrapolated: " + outside);
  validate(file.input, file.name);
  file.canonical_text = canonical_text(file.input);
  for (const auto& [path, uncertainty] : file.uncertainties)
    file.canonical_text +=
        path + " sd = " + number_text(uncertainty.sd, 17) + " " + to_string(uncertainty.distribution) + "\n";
  file.canonical_text += "case = " + file.hash + "\ncalibration = " + calibration.digest + "\n";
  file.hash = sha256_hex(file.canonical_text);
}

}  // namespace whorl::io
