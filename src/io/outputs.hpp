// The one table of numeric results: CSV columns, JSON result keys, metadata and the docs page all come from it.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "whorl/model/result.hpp"

namespace whorl::io {

enum class OutputKind { number, whole, boolean };

struct Output {
  std::string_view column;       ///< CSV column and JSON result key, unit as a suffix: "dry_diameter_um"
  std::string_view symbol;       ///< "d_f"
  std::string_view unit;         ///< of the column, UDUNITS spelling; "1" for plain numbers
  OutputKind kind;
  double scale;                  ///< column value = (SI value - offset) * scale
  double offset;                 ///< in SI; not zero for degrees Celsius only
  double typical;                ///< typical size in the unit of the column, for tolerances of comparisons
  std::string_view description;
  std::optional<double> (*get)(const model::Estimate&);  ///< SI; empty where the estimate has no such number
};

/// All numeric outputs in the order of the columns.
[[nodiscard]] std::span<const Output> outputs();

/// nullptr when unknown.
[[nodiscard]] const Output* find_output(std::string_view column);

/// Value of an output in the unit of its column. Empty when the estimate is not `done`, when the number does not exist
/// for this class of result, or when it is not finite: numbers that are not results are never written.
[[nodiscard]] std::optional<double> output_value(const Output& output, const model::Estimate& estimate);

/// The same as a table in Markdown: docs/formats/sweep.md has it.
[[nodiscard]] std::string output_table_markdown();

/// The UCUM code of a unit in the spelling used here ("Pa s" -> "Pa.s"); empty when there is none in the table.
[[nodiscard]] std::string_view ucum_code(std::string_view unit);

}  // namespace whorl::io
