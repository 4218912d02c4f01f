#include "document/escape.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cstdint>

#include "io/sheet.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::document {
namespace {

struct Known {
  std::string_view text, latex;
};
// What pdflatex needs said in another way, ASCII first.
constexpr std::array kLatex{
    Known{"+-", "$\\pm$"},
    Known{"\\", "\\textbackslash{}"},
    Known{"~", "\\textasciitilde{}"},
    Known{"^", "\\textasciicircum{}"},
    Known{"<", "$<$"},
    Known{">", "$>$"},
    Known{"|", "$\\vert$"},
    Known{"\"", "{\\textquotedbl}"},
    Known{"`", "{\\textasciigrave}"},
    Known{"&", "\\&"},
    Known{"%", "\\%"},
    Known{"$", "\\$"},
    Known{"#", "\\#"},
    Known{"_", "\\_\\allowbreak{}"},
    Known{"{", "\\{"},
    Known{"}", "\\}"},
    Known{"[", "{[}"},  // after "\\" it would begin an argument
    Known{"]", "{]}"},
    Known{"*", "{*}"},  // so would this
    Known{"±", "$\\pm$"},
    Known{"°", "\\textdegree{}"},
    Known{"µ", "\\textmu{}"},
    Known{"·", "$\\cdot$"},
    Known{"×", "$\\times$"},
    Known{"²", "$^{2}$"},
    Known{"³", "$^{3}$"},
    Known{"½", "\\textonehalf{}"},
    Known{"–", "--"},
    Known{"—", "---"},
    Known{"‘", "`"},
    Known{"’", "'"},
    Known{"“", "``"},
    Known{"”", "''"},
    Known{"…", "\\dots{}"},
    Known{"−", "$-$"},
    Known{"≤", "$\\le$"},
    Known{"≥", "$\\ge$"},
    Known{"≈", "$\\approx$"},
    Known{"→", "$\\to$"},
    Known{"∞", "$\\infty$"},
    Known{"α", "$\\alpha$"},
    Known{"β", "$\\beta$"},
    Known{"γ", "$\\gamma$"},
    Known{"η", "$\\eta$"},
    Known{"λ", "$\\lambda$"},
    Known{"μ", "$\\mu$"},
    Known{"ρ", "$\\rho$"},
    Known{"σ", "$\\sigma$"},
    Known{"χ", "$\\chi$"},
};

// One character of text that printable() let through, so that its bytes are good.
struct Character {
  std::uint32_t code{};
  std::size_t bytes{1};
};
Character first_of(std::string_view text) {
  const auto at = [&](std::size_t i) { return static_cast<std::uint32_t>(static_cast<unsigned char>(text[i])); };
  const std::size_t bytes = at(0) < 0x80 ? 1 : at(0) < 0xE0 ? 2 : at(0) < 0xF0 ? 3 : 4;
  std::uint32_t code = bytes == 1 ? at(0) : at(0) & (0x7FU >> bytes);
  for (std::size_t i = 1; i < bytes; ++i) code = (code << 6U) | (at(i) & 0x3FU);
  return {code, bytes};
}

// Latin letters with accents that T1 has.
bool in_t1(std::uint32_t code) {
  if (code < 0xC0 || code > 0x17E) return false;
  constexpr std::array<std::uint32_t, 12> kMissing{0xD7,  0xF7,  0x126, 0x127, 0x138, 0x13F,
                                                   0x140, 0x149, 0x166, 0x167, 0x14A, 0x14B};
  return std::find(kMissing.begin(), kMissing.end(), code) == kMissing.end();
}

}  // namespace

std::string latex_escaped(std::string_view text) {
  const std::string clean = printable(text, Lines::joined);
  std::string out;
  for (std::string_view rest = clean; !rest.empty();) {
    const auto known =
        std::find_if(kLatex.begin(), kLatex.end(), [&](const Known& k) { return rest.starts_with(k.text); });
    if (known != kLatex.end()) {
      out += known->latex;
      rest.remove_prefix(known->text.size());
      continue;
    }
    if (rest.starts_with("--") || rest.starts_with(",,")) {  // would become a dash, a quotation mark
      out += rest.substr(0, 1);
      out += "{}";
      rest.remove_prefix(1);
      continue;
    }
    const Character next = first_of(rest);
    if (next.code < 0x80 || in_t1(next.code)) {
      out += rest.substr(0, next.bytes);
    } else if (next.code == 0xA0) {
      out += '~';
    } else {
      out += fmt::format("{{[}}U+{:04X}{{]}}", static_cast<unsigned>(next.code));
    }
    rest.remove_prefix(next.bytes);
  }
  return out;
}

std::string markdown_escaped(std::string_view text) {
  std::string out;
  for (const char c : printable(text, Lines::joined)) {
    if (std::string_view("\\`*_[]<>|$&~#").find(c) != std::string_view::npos) out += '\\';
    out += c;
  }
  return out;
}

std::string html_escaped(std::string_view text) { return io::html_escaped(printable(text, Lines::joined)); }

}  // namespace whorl::document
