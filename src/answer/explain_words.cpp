#include "answer/explain_words.hpp"

#include <algorithm>

#include "io/names.hpp"

namespace whorl::answer::words {

std::string words_of(const std::string& key) {
  const io::PartName* part = io::part_name(key);
  return part == nullptr ? key : std::string(part->words);
}

std::string key_words(const std::string& key) {
  if (key == "solution.temperature") return "charge temperature";
  if (key == "vessel.height") return "vessel height";
  std::string out = key;
  if (out == "room.temperature" || out == "room.pressure") out = "room.room_" + out.substr(5);
  if (const auto dot = out.find('.'); dot != std::string::npos) out.erase(0, dot + 1);
  std::replace(out.begin(), out.end(), '.', ' ');
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

std::string joined(const std::vector<std::string>& words, const char* last) {
  std::string out;
  for (std::size_t i = 0; i < words.size(); ++i) out += (i == 0 ? "" : i + 1 == words.size() ? last : ", ") + words[i];
  return out;
}

bool diameter_known(const study::PointReport& report) {
  const auto& rows = report.elasticities.rows;
  return std::any_of(rows.begin(), rows.end(), [](const auto& row) {
    return row.made && row.slopes.size() > kDiameter && row.slopes[kDiameter].known;
  });
}

double number_of(const model::Estimate& e, const std::string& group) {
  for (const auto& one : e.groups)
    if (one.key == group) return one.value;
  return NAN;
}
double property_of(const model::Estimate& e, const std::string& key) {
  for (const auto& named : e.properties)
    if (named.key == key) return named.property.value;
  return NAN;
}

io::Equation identity() {
  return {"d_f = 2 sqrt(Q phi_p / (pi u_f E))",
          "d_\\mathrm{f} = 2\\sqrt{\\frac{Q\\,\\phi_\\mathrm{p}}{\\pi\\,u_\\mathrm{f}\\,E}}", "diameter"};
}

io::Equation thread_law(model::ThreadLaw law) {
  switch (law) {
    case model::ThreadLaw::weber:
      return {"d_t = 12 sigma sqrt(phi_p) / (rho_g u_g^2)",
              "d_\\mathrm{t} = \\frac{12\\,\\sigma\\sqrt{\\phi_\\mathrm{p}}}{\\rho_\\mathrm{g}u_\\mathrm{g}^2}",
              "threads"};
    case model::ThreadLaw::cascade:
      return {"d_t = 0.725 (sigma/rho_g)^(3/5) (u_g^3/d_o)^(-2/5) sqrt(phi_p)",
              "d_\\mathrm{t} = "
              "0.725\\left(\\frac{\\sigma}{\\rho_\\mathrm{g}}\\right)^{3/"
              "5}\\left(\\frac{u_\\mathrm{g}^3}{d_\\mathrm{o}}\\right)^{-2/5}\\sqrt{\\phi_\\mathrm{p}}",
              "threads"};
    case model::ThreadLaw::length: break;
  }
  return {
      "d_t = sqrt(l sigma phi_p / (rho_g u_g^2)), l = 10 um",
      "d_\\mathrm{t} = \\sqrt{\\frac{\\ell\\,\\sigma\\,\\phi_\\mathrm{p}}{\\rho_\\mathrm{g}u_\\mathrm{g}^2}},\\qquad "
      "\\ell = 10\\,\\mu\\mathrm{m}",
      "threads"};
}

}  // namespace whorl::answer::words
