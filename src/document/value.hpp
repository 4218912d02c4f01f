// Values of a document in words.
#pragma once
#include <string>

#include "document/document.hpp"

namespace whorl::document {

/// "12.3 g", "yes", "-" for nothing and for numbers that are none.
[[nodiscard]] std::string value_text(const Value& value, const std::string& unit = "", int digits = 4);

/// "61.1 degC ± 0.3 K"
[[nodiscard]] std::string value_text(const Quantity& row);

/// Note and source as they stand behind a value: "from the slope [source]".
[[nodiscard]] Text behind_text(const Quantity& row);

/// What a table of these rows needs: a row to show at all, and a column for where values are from.
struct Needed {
  bool any{}, behind{};
};
[[nodiscard]] Needed needed(const Quantities& quantities);

/// "speed [rpm]"
[[nodiscard]] Text heading_text(const Column& column);

/// Numbers and counts are set to the right.
[[nodiscard]] bool is_number(const Value& value) noexcept;

/// Of characters, not bytes: "±" is one.
[[nodiscard]] std::size_t width_of(std::string_view text) noexcept;

}  // namespace whorl::document
