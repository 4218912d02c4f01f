// Not installed: the one table of names for people. Columns on an axis or in a legend, with their symbols, and the
// parts of splits and budgets, and what is doubtful; tables of results keep the sentences that explain a column.
#pragma once
#include <string_view>

namespace whorl::io {

struct ColumnName {
  std::string_view column, name, symbol;
};
/// Null: the tables of results say enough.
[[nodiscard]] const ColumnName* column_name(std::string_view column);

/// A part of a change or a budget: in sentences, and beside a bar.
struct PartName {
  std::string_view key, words, label;
};
/// Null for a key that is none.
[[nodiscard]] const PartName* part_name(std::string_view key);

/// What may make a line finer or coarser than computed, as the bench says it, to go behind "from": the property, or the
/// key where a doubt stands for no property. Null for one that no line depends on.
[[nodiscard]] const char* doubt_words(std::string_view property_or_key);

}  // namespace whorl::io
