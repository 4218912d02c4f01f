// Internal to io: pieces of text handling that units, keys and readers share.
#pragma once
#include <string>
#include <string_view>

namespace whorl::io {

enum class UnitMatch { converted, unknown, wrong_dimension };

/// Thread-safe conversion through UDUNITS; `value` is set only when converted.
[[nodiscard]] UnitMatch convert_unit(double number, const std::string& from, const std::string& to, double& value);

/// Without spaces and tabs at both ends.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// Typographic spaces and the minus sign replaced by plain ones, trimmed.
[[nodiscard]] std::string plain_text(std::string_view text);

/// In double quotes, control characters blanked, cut after 80 bytes: for messages.
[[nodiscard]] std::string in_quotes(std::string_view text);

/// A key of a file as it may stand in a message: control characters blanked, cut after 80 bytes.
[[nodiscard]] std::string key_text(std::string_view key);

}  // namespace whorl::io
