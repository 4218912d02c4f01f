// The one table of input keys: the reader, the JSON Schema, sweeps, CSV headers and the docs page all come from it.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "whorl/io/units.hpp"
#include "whorl/model/case.hpp"

namespace whorl::io {

/// A numeric key of the case file.
struct Key {
  std::string_view path;          ///< "operation.rotation_speed"
  std::string_view si_unit;       ///< UDUNITS spelling of the stored value, "rad/s"; "1" for plain numbers
  std::string_view display_unit;  ///< unit of CSV columns and messages, "rpm"; "1" for plain numbers
  std::string_view column;        ///< CSV column and JSON result name, "rotation_speed_rpm"
  std::string_view example;       ///< "12000 rpm"
  double minimum;                 ///< documented limit, SI, inclusive
  double maximum;
  bool required;
  bool whole;                     ///< must be a whole number
  std::string_view description;
  std::optional<double> (*get)(const model::CaseInput&);  ///< SI; empty when not given
  void (*set)(model::CaseInput&, double);                 ///< SI
  double display_scale;           ///< SI = display_scale * display + display_offset; held against UDUNITS by a test
  double display_offset;
  std::string_view fallback;      ///< what holds when the key is left out, for people; empty for required keys
};

/// One allowed word of a word key.
struct Word {
  std::string_view word;     ///< as written in the case file
  std::string_view meaning;  ///< one line for the docs
};

/// A key that takes a word or a free text.
struct WordKey {
  std::string_view path;
  std::span<const Word> words;  ///< empty: free text
  std::size_t longest;          ///< bytes, free text only
  bool required;
  std::string_view example;
  std::string_view description;
  std::string_view fallback;
  std::string (*get)(const model::CaseInput&);
  void (*set)(model::CaseInput&, std::string_view);  ///< the word must be one of `words`
};

/// All numeric keys in the order of the case file.
[[nodiscard]] std::span<const Key> numeric_keys();

/// All word and text keys in the order of the case file.
[[nodiscard]] std::span<const WordKey> word_keys();

/// By full path or by its last part where that is unique ("rotation_speed"). nullptr when unknown.
[[nodiscard]] const Key* find_key(std::string_view name);
[[nodiscard]] const WordKey* find_word_key(std::string_view name);

/// The full paths that a last part may mean when there are several, joined by " or "; empty when it is one key or none.
/// A word inside the last part of another setting counts ("pressure" in gas_overpressure): the wrong one would run
/// without a complaint.
[[nodiscard]] std::string keys_meant(std::string_view name);

/// The known key (numeric or word) nearest in spelling to `name`, for error messages.
[[nodiscard]] std::string nearest_key(std::string_view name);

/// The candidate nearest in spelling to `name`; empty when none is near enough to be a likely slip.
[[nodiscard]] std::string nearest_word(std::string_view name, std::span<const std::string_view> candidates);

/// SI <-> display unit of a key.
[[nodiscard]] double to_display(const Key& key, double value_si);
[[nodiscard]] double from_display(const Key& key, double display_value);

/// "5 to 500 mm": the documented limits in the display unit.
[[nodiscard]] std::string limits_text(const Key& key);

/// "12000 rpm": a value in the display unit, at most `digits` significant digits.
[[nodiscard]] std::string value_text(const Key& key, double value_si, int digits = 6);

/// What stands behind "±" of a value that is changed: it keeps its share of the value, or its width where the unit has
/// its zero elsewhere, or the value was 0.
[[nodiscard]] double spread_of_changed(const Key& key, double spread, double from, double to);

/// What parse_quantity() needs to know of a key.
[[nodiscard]] QuantityKind kind_of(const Key& key);

/// Throws unless the SI value is finite, inside the limits and whole where it must be. `found` is quoted in the
/// message.
void check_limits(const Key& key, double value_si, const std::string& found, const std::string& file);

/// Parses "12000 rpm" (or a bare number for keys of unit 1) for this key into SI; checks dimension and limits.
/// The concentration takes "20 %" here: its basis is the one the case states.
/// Error: InputError naming `file`, the key, the value, an example of what is allowed.
[[nodiscard]] double parse_value(const Key& key, std::string_view text, const std::string& file);

}  // namespace whorl::io
