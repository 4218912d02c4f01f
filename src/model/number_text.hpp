// Numbers as sentences and tables for people show them: one place for every room. (Here, as the text of errors and
// warnings is made in every room, from the model up.)
#pragma once
#include <string>

namespace whorl {

/// At most `digits` significant digits, without zeros behind: "0.1", "3360", "12000", "1e-09". Of a number below a
/// million no power of ten is shown: "3360", not "3.36e+03".
[[nodiscard]] std::string number_text(double value, int digits = 6);

/// Always so many places behind the point: "0.50", and with its sign: "+0.50".
[[nodiscard]] std::string decimals_text(double value, int decimals = 2);
[[nodiscard]] std::string signed_text(double value, int decimals = 2);

/// A share in per cent: "12.5 %", to significant digits; and to the nearest whole one: "12 %".
[[nodiscard]] std::string percent(double share, int digits = 3);
[[nodiscard]] std::string whole_percent(double share);

/// A length in micrometres, without its unit: "5.24".
[[nodiscard]] std::string um(double metres, int digits = 3);

/// With its unit, below one micrometre in nanometres: "5.24 um", "850 nm".
[[nodiscard]] std::string micrometres(double metres, int digits = 3);

/// Whole millimetres: "95 mm".
[[nodiscard]] std::string millimetres(double metres);

}  // namespace whorl
