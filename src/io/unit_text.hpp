// Not installed: pieces of text handling that units, keys, readers and options share.
#pragma once
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace whorl::io {

enum class UnitMatch { converted, unknown, wrong_dimension };

/// Everyday units whose conversion is a matter of definition: si = scale * x + offset. They spare most runs the 7 ms
/// that UDUNITS takes to read its database; a test holds each against UDUNITS.
struct CommonUnit {
  std::string_view unit{};
  std::string_view si_unit{};
  double scale{};
  double offset{};
};
[[nodiscard]] std::span<const CommonUnit> common_units();

/// Thread-safe conversion by the table of plain units, and what that does not know through UDUNITS (on the page: not at all);
/// `value` is set only when converted.
[[nodiscard]] UnitMatch convert_unit(double number, const std::string& from, const std::string& to, double& value);
/// By the table of plain units alone, and through UDUNITS alone.
[[nodiscard]] UnitMatch convert_plain_unit(double number, const std::string& from, const std::string& to,
                                           double& value);
[[nodiscard]] UnitMatch convert_database_unit(double number, const std::string& from, const std::string& to,
                                              double& value);
/// Every name in the table of plain units, with every prefix it takes.
[[nodiscard]] std::vector<std::string> plain_unit_names();

/// Without spaces and tabs at both ends.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// Typographic spaces and the minus sign replaced by plain ones, trimmed.
[[nodiscard]] std::string plain_text(std::string_view text);

/// In double quotes, control characters blanked, cut after 80 bytes: for messages.
[[nodiscard]] std::string in_quotes(std::string_view text);

/// A key of a file as it may stand in a message: control characters blanked, cut after 80 bytes.
[[nodiscard]] std::string key_text(std::string_view key);

}  // namespace whorl::io
