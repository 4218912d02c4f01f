// A sheet of numbers for the bench: sections of rows, written as text, as a printable page, or as JSON.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "whorl/io/fit_text.hpp"

namespace whorl::io {

/// One number with what stands behind it.
struct SheetRow {
  std::string key;               ///< for machines: "polymer_mass"
  std::string label;             ///< for people
  std::optional<double> number;  ///< in `unit`; empty: not computed, `note` says why
  std::string unit;              ///< "" for plain numbers
  std::string formula;           ///< plain text; empty for inputs
  std::string source;            ///< of formula or value
  std::string note;              ///< what to bear in mind
  bool to_fill_in{};             ///< the page leaves a field for the figure read at the bench
  int digits{4};                 ///< significant digits for people
  bool exceeded{};               ///< a limit that is exceeded: named again at the top
};

struct SheetSection {
  std::string title;
  std::string intro;
  std::vector<SheetRow> rows;
  std::string closing;
};

struct Sheet {
  std::string title;
  std::string purpose;                  ///< free text of the user
  std::vector<std::string> facts;       ///< lines below the title
  std::vector<SheetSection> sections;
  std::vector<std::string> steps;       ///< with a box to tick on the page
  std::vector<std::string> cautions;
  std::string made_by;                  ///< program, version, hash of the case
};

/// "12.3 g", "not stated": as people read it.
[[nodiscard]] std::string row_value_text(const SheetRow& row);

[[nodiscard]] std::string sheet_text(const Sheet& sheet, std::size_t width = kTextColumns);

/// One self-contained page for printing on A4 or Letter: no script, nothing from the network. All text is escaped.
[[nodiscard]] std::string sheet_html(const Sheet& sheet);

/// {"title", "sections": [{"title", "rows": [{"key", "value", "unit", "formula", "source", "note", "exceeded"}]}],
/// "cautions"}
[[nodiscard]] nlohmann::ordered_json sheet_json(const Sheet& sheet);

/// Text as the content or a double-quoted attribute of HTML.
[[nodiscard]] std::string html_escaped(std::string_view text);

}  // namespace whorl::io
