// Comma-separated values after RFC 4180, with LF line ends and '.' as the decimal sign whatever the locale.
#pragma once
#include <istream>
#include <string>
#include <string_view>
#include <vector>

namespace whorl::io {

/// Appends the shortest decimal text that reads back as the same double; nothing when the value is not finite, so that
/// a cell without a result stays empty. Negative zero is written as 0.
void append_number(std::string& line, double value);

/// The same as a string.
[[nodiscard]] std::string format_number(double value);

/// Appends a text cell. Line breaks, tabs and other control characters become spaces, so that one record is one line.
/// Text that a spreadsheet would run as a formula (first character = + - or @) gets an apostrophe in front. Quotes are
/// added where RFC 4180 asks for them.
void append_text(std::string& line, std::string_view text);

/// Reads one record, quoted line breaks included; LF and CRLF both end a record. False at the end of the input.
/// Error: InputError naming `file` and the record when a quote is not closed or text follows a closing quote.
[[nodiscard]] bool read_csv_record(std::istream& input, std::vector<std::string>& cells, const std::string& file);

/// Splits one line (without its line end). False when the quoting is broken.
[[nodiscard]] bool split_csv_line(std::string_view line, std::vector<std::string>& cells);

}  // namespace whorl::io
