#include "document/value.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/io/units.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::document {
namespace {

bool has_unit(const std::string& unit) { return !unit.empty() && unit != "1"; }

}  // namespace

std::string value_text(const Value& value, const std::string& unit, int digits) {
  std::string text;
  if (const bool* yes = std::get_if<bool>(&value)) return *yes ? "yes" : "no";
  if (const auto* words = std::get_if<std::string>(&value)) return printable(*words, Lines::joined);
  if (const auto* count = std::get_if<std::int64_t>(&value)) text = std::to_string(*count);
  if (const double* number = std::get_if<double>(&value); number != nullptr && std::isfinite(*number))
    text = io::number_text(*number, digits);
  if (text.empty()) return "-";
  return has_unit(unit) ? text + ' ' + unit : text;
}

std::string value_text(const Quantity& row) {
  std::string text = value_text(row.value, row.unit, row.digits);
  if (row.sd && std::isfinite(*row.sd))
    text += " ± " + value_text(*row.sd, row.sd_unit.empty() ? row.unit : row.sd_unit, 2);
  return text;
}

Text behind_text(const Quantity& row) {
  Text text = row.behind;
  if (!row.source.empty()) text.add((text.empty() ? "[" : " [") + row.source + ']');
  return text;
}

Text heading_text(const Column& column) {
  Text text = column.label;
  if (has_unit(column.unit)) text.add(" [" + column.unit + ']');
  return text;
}

bool is_number(const Value& value) noexcept {
  return std::holds_alternative<double>(value) || std::holds_alternative<std::int64_t>(value);
}

std::size_t width_of(std::string_view text) noexcept {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

Needed needed(const Quantities& quantities) {
  Needed out;
  for (const Quantity& row : quantities.rows) {
    if (row.label.empty()) continue;
    out.any = true;
    out.behind = out.behind || !behind_text(row).empty();
  }
  return out;
}

}  // namespace whorl::document
