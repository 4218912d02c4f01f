#include "whorl/model/number_text.hpp"

#include <fmt/core.h>

#include <cmath>

namespace whorl {
namespace {

// "1.98e+04" -> "19800"
std::string written_out(const std::string& text, std::size_t e) {
  const bool negative = text.front() == '-';
  std::string digits;
  for (const char c : text.substr(0, e))
    if (c >= '0' && c <= '9') digits.push_back(c);
  digits.resize(static_cast<std::size_t>(std::stoi(text.substr(e + 1))) + 1, '0');
  return negative ? '-' + digits : digits;
}

}  // namespace

std::string number_text(double value, int digits) {
  const std::string text = fmt::format("{:.{}g}", value, digits);
  const auto e = text.find("e+");
  // few digits of a number of up to six places are still a number of the bench
  return e != std::string::npos && std::stoi(text.substr(e + 1)) < 6 ? written_out(text, e) : text;
}

std::string decimals_text(double value, int decimals) { return fmt::format("{:.{}f}", value, decimals); }

std::string signed_text(double value, int decimals) { return fmt::format("{:+.{}f}", value, decimals); }

std::string percent(double share, int digits) { return number_text(100.0 * share, digits) + " %"; }

std::string whole_percent(double share) { return fmt::format("{:.0f} %", 100.0 * share); }

std::string um(double metres, int digits) { return number_text(1e6 * metres, digits); }

std::string micrometres(double metres, int digits) {
  return metres < 1e-6 ? number_text(1e9 * metres, digits) + " nm" : um(metres, digits) + " um";
}

std::string millimetres(double metres) { return fmt::format("{:.0f} mm", 1e3 * metres); }

}  // namespace whorl
