// The one table of numeric input keys: the reader, the JSON Schema, sweeps, CSV headers and the docs page all come from it.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "model/case.hpp"

namespace whorl::io {

struct Key {
  std::string_view path;          ///< "operation.rotation_speed"
  std::string_view si_unit;       ///< UDUNITS spelling of the stored value, "rad/s"; "1" for plain numbers
  std::string_view display_unit;  ///< unit of CSV columns and messages, "rpm"
  std::string_view column;        ///< CSV column and JSON result name, "rotation_speed_rpm"
  std::string_view example;       ///< "12000 rpm"
  double minimum;                 ///< documented limit, SI, inclusive
  double maximum;
  bool required;
  bool whole;                     ///< must be a whole number
  std::string_view description;
  std::optional<double> (*get)(const model::CaseInput&);  ///< SI; empty when not given
  void (*set)(model::CaseInput&, double);                 ///< SI
};

/// All numeric keys in the order of the case file.
[[nodiscard]] std::span<const Key> numeric_keys();

/// By full path or by its last part where that is unique ("rotation_speed"). nullptr when unknown.
[[nodiscard]] const Key* find_key(std::string_view name);

/// The known key nearest in spelling to `name`, for error messages.
[[nodiscard]] std::string nearest_key(std::string_view name);

/// SI <-> display unit of a key.
[[nodiscard]] double to_display(const Key& key, double si_value);
[[nodiscard]] double from_display(const Key& key, double display_value);

/// Parses "12000 rpm" (or a bare number for keys of unit 1) for this key into SI; checks dimension and limits.
/// Error: InputError naming `file`, the key, the value, an example of what is allowed.
[[nodiscard]] double parse_value(const Key& key, std::string_view text, const std::string& file);

}  // namespace whorl::io
