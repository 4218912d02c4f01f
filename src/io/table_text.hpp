// Tables as instruments and spreadsheets of other countries export them, made into plain CSV.
#pragma once
#include <string>
#include <string_view>

namespace whorl::io {

/// The text in UTF-8 without a byte order mark: UTF-16 by its mark; text that is no UTF-8 as Latin-1, in which
/// instruments write "µm".
[[nodiscard]] std::string utf8_text(std::string_view text);

/// Line ends of every age (CR LF, a lone CR) as line feeds, in UTF-8.
[[nodiscard]] std::string with_line_feeds(std::string_view text);

/// A cell without blanks, and without the carriage return of a line, at its ends.
[[nodiscard]] std::string trimmed_cell(std::string text);

/// In double quotes, cut after 40 bytes: for messages.
[[nodiscard]] std::string cited(const std::string& text);

/// The separator that a first line "sep=;" names (with which a spreadsheet is told); that line is taken off `text`.
/// Zero: there is none.
[[nodiscard]] char take_separator_line(std::string& text);

/// The text as comma-separated values with decimal points: line ends, a "sep=" line, and columns parted by semicolons
/// (named so, or a header with semicolons and no commas) are rewritten. Between semicolons a comma in a number is a
/// decimal one, unless numbers of the file have decimal points or "1,250" stands beside whole numbers in its column,
/// where it may part thousands: then it is left as it is. Other text is unchanged.
[[nodiscard]] std::string plain_csv(std::string_view text);

}  // namespace whorl::io
