// Descriptions of the case file made from the key table.
#pragma once
#include <string>

namespace whorl::io {

/// JSON Schema (2020-12) of case files, as kept in docs/case.schema.json.
[[nodiscard]] std::string case_schema_text();

/// The tables of keys in docs/formats/case.md.
[[nodiscard]] std::string key_table_markdown();

}  // namespace whorl::io
