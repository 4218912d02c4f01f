// Tables kept as workbooks of a spreadsheet program (Office Open XML, .xlsx): the first sheet as comma-separated text.
#pragma once
#include <string>

#include "whorl/io/trial_data.hpp"

namespace whorl::table {

/// True for the bytes of a zip archive, which a workbook is.
[[nodiscard]] bool is_workbook(const std::string& bytes);

/// The first sheet as CSV: rows up to the last with a cell, columns up to the last with a heading; numbers as stored,
/// with decimal points.
/// Valid: at most 16 MB of file and 64 MB of sheet; 10,000 rows, 200 columns
/// Error: InputError for a file that is no workbook, is damaged or larger, for a cell with an error, and where the
/// program was built without it
/// Source: ECMA-376 Part 1, SpreadsheetML (from memory)
[[nodiscard]] std::string workbook_csv(const std::string& bytes, const std::string& name);

/// Trials from a CSV table or a workbook.
/// Error: InputError
[[nodiscard]] io::TrialData read_trials(const std::string& path, bool physics);

}  // namespace whorl::table
