#include "io/figure_text.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>

#include "io/keys.hpp"
#include "io/outputs.hpp"
#include "io/profile_table.hpp"

namespace whorl::io {
namespace {

struct Named {
  std::string_view column, name, symbol;
};

// Names and symbols where those of the tables of results are too long for an axis or have none.
constexpr std::array kNames{
    Named{"rotation_speed_rpm", "Rotation speed", "n"},
    Named{"gas_overpressure_MPa", "Gas overpressure", "p_g"},
    Named{"charge_volume_mL", "Charge", "V_0"},
    Named{"collection_distance_mm", "Collection distance", "l_c"},
    Named{"orifice_diameter_mm", "Orifice diameter", "d_o"},
    Named{"orifice_count", "Number of orifices", "N_o"},
    Named{"bore_diameter_mm", "Bore diameter", "d_b"},
    Named{"wall_thickness_mm", "Wall thickness", "L_o"},
    Named{"molar_mass_kg_mol", "Molar mass", "M_w"},
    Named{"concentration_percent", "Concentration", "c"},
    Named{"relative_humidity_percent", "Relative humidity", "RH"},
    Named{"dry_diameter_um", "Dry diameter", "d_f"},
    Named{"wet_diameter_um", "Diameter as landed", "d_w"},
    Named{"kinematic_bound_um", "Diameter at collector speed", "d_kin"},
    Named{"residual_solvent", "Solvent at landing", "w_s"},
    Named{"polymer_throughput_g_h", "Polymer throughput", "m_p"},
    Named{"wet_throughput_g_h", "Throughput of solution", "m_w"},
    Named{"orifice_flow_mL_min", "Flow of one orifice", "Q"},
    Named{"line_speed_m_s", "Line speed", "u_f"},
    Named{"drying_distance_mm", "Drying distance", "s_dry"},
    Named{"tension_ratio", "Tension over momentum flux", ""},
    Named{"run_diameter_mean_um", "Mean diameter over the run", "d_f"},
    Named{"thread_diameter_um", "Diameter of torn threads", "d_t"},
    Named{"line_diameter_um", "Diameter of one line", "d_l"},
    Named{"tearing_probability", "Probability of tearing", "P_t"},
    Named{"threads_per_orifice", "Threads per orifice", "N_t"},
    Named{"gas_weber", "Gas Weber number", "We_g"},
    Named{"share_with_gas", "Share of the mass with gas", ""},
    Named{"share_at_full_settings", "Share at full settings", ""},
    Named{"feed_rate_mL_min", "Feed", "Q_f"},
    Named{"run_time_s", "Run time", "t_run"},
    Named{"arc_length_mm", "Distance along the jet", "s"},
    Named{"time_ms", "Time in flight", "t"},
    Named{"radius_mm", "Distance from the axis", "r"},
    Named{"x_mm", "", "x"},
    Named{"y_mm", "", "y"},
    Named{"speed_m_s", "Speed", "u"},
    Named{"lab_speed_m_s", "Speed in the laboratory", "v"},
    Named{"diameter_um", "Diameter", "d"},
    Named{"temperature_degC", "Temperature", "T"},
    Named{"solvent_mass_fraction", "Solvent", "w_s"},
    Named{"surface_solvent_fraction", "Solvent at the surface", "w_s,surf"},
    Named{"viscosity_Pa_s", "Viscosity", "eta"},
    Named{"strain_rate_1_s", "Rate of stretching", "du/ds"},
    Named{"axial_stress_kPa", "Axial stress", "tau_ss - tau_rr"},
    Named{"tension_uN", "Tension", "F"},
    Named{"momentum_flux_uN", "Momentum flux", "q_m u"},
    Named{"evaporation_g_m2_s", "Evaporation", "n"},
    Named{"air_reynolds", "Reynolds number in air", "Re_a"},
    Named{"capillary_gain", "Capillary gain", "G"},
    Named{"glass_margin_K", "Above glass transition", "T - T_g"},
};

struct UnitSuffix {
  std::string_view suffix, unit;
};
// Longest first.
constexpr std::array kSuffixes{
    UnitSuffix{"_g_m2_s", "g/(m2 s)"}, UnitSuffix{"_mL_min", "mL/min"}, UnitSuffix{"_kg_mol", "kg/mol"}, UnitSuffix{"_kg_m3", "kg/m3"},
    UnitSuffix{"_percent", "%"},       UnitSuffix{"_mPa_s", "mPa s"},   UnitSuffix{"_Pa_s", "Pa s"},     UnitSuffix{"_mg_s", "mg/s"},
    UnitSuffix{"_mN_m", "mN/m"},       UnitSuffix{"_m2_s", "m2/s"},     UnitSuffix{"_degC", "degC"},     UnitSuffix{"_J_kg", "J/kg"},
    UnitSuffix{"_g_h", "g/h"},         UnitSuffix{"_m_s", "m/s"},       UnitSuffix{"_1_s", "1/s"},       UnitSuffix{"_rpm", "rpm"},
    UnitSuffix{"_MPa", "MPa"},         UnitSuffix{"_kPa", "kPa"},       UnitSuffix{"_um", "um"},         UnitSuffix{"_mm", "mm"},
    UnitSuffix{"_ms", "ms"},           UnitSuffix{"_mL", "mL"},         UnitSuffix{"_uN", "uN"},         UnitSuffix{"_Pa", "Pa"},
    UnitSuffix{"_nm", "nm"},           UnitSuffix{"_cm", "cm"},         UnitSuffix{"_m", "m"},           UnitSuffix{"_s", "s"},
    UnitSuffix{"_g", "g"},             UnitSuffix{"_K", "K"}};

struct Letter {
  std::string_view word, sign;
};
constexpr std::array kGreek{
    Letter{"alpha", "α"}, Letter{"beta", "β"},   Letter{"gamma", "γ"}, Letter{"delta", "δ"}, Letter{"epsilon", "ε"}, Letter{"eta", "η"},
    Letter{"theta", "θ"}, Letter{"kappa", "κ"},  Letter{"lambda", "λ"}, Letter{"mu", "μ"},   Letter{"nu", "ν"},      Letter{"xi", "ξ"},
    Letter{"pi", "π"},    Letter{"rho", "ρ"},    Letter{"sigma", "σ"}, Letter{"tau", "τ"},   Letter{"phi", "φ"},     Letter{"chi", "χ"},
    Letter{"psi", "ψ"},   Letter{"omega", "ω"},  Letter{"Omega", "Ω"}, Letter{"Delta", "Δ"}, Letter{"Pi", "Π"}};

std::string_view greek(std::string_view word) {
  const auto found = std::find_if(kGreek.begin(), kGreek.end(), [&](const Letter& l) { return l.word == word; });
  return found == kGreek.end() ? std::string_view{} : found->sign;
}

std::string words_of(std::string_view column) {
  std::string out(column);
  std::replace(out.begin(), out.end(), '_', ' ');
  if (!out.empty() && out.front() >= 'a' && out.front() <= 'z') out.front() = static_cast<char>(out.front() - 'a' + 'A');
  return out;
}

bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }

void add_run(RichText& out, std::string text, bool italic, int script) {
  if (!out.empty() && out.back().italic == italic && out.back().script == script) {
    out.back().text += text;
  } else {
    out.push_back({std::move(text), italic, script});
  }
}

}  // namespace

Quantified quantified(std::string_view column) {
  Quantified out;
  std::string_view stem = column;
  for (const auto& suffix : kSuffixes) {
    if (stem.size() > suffix.suffix.size() && stem.ends_with(suffix.suffix)) {
      out.unit = suffix.unit;
      stem.remove_suffix(suffix.suffix.size());
      break;
    }
  }
  out.name = words_of(stem);
  // The tables know better than the suffix.
  if (const Output* output = find_output(column); output != nullptr) {
    out.unit = output->unit;
    out.symbol = output->symbol;
  } else {
    const auto columns = profile_columns();
    const auto found = std::find_if(columns.begin(), columns.end(), [&](const ProfileColumn& c) { return c.column == column; });
    if (found != columns.end()) {
      out.unit = found->unit;
      out.symbol = found->symbol;
    } else {
      for (const Key& key : numeric_keys()) {
        if (key.column != column) continue;
        out.unit = key.display_unit;
        out.name = words_of(key.path.substr(key.path.rfind('.') + 1));
      }
    }
  }
  const auto named = std::find_if(kNames.begin(), kNames.end(), [&](const Named& n) { return n.column == column; });
  if (named != kNames.end()) {
    out.name = named->name;
    out.symbol = named->symbol;
  }
  if (out.unit == "1") out.unit.clear();
  return out;
}

RichText rich_symbol(std::string_view symbol) {
  RichText out;
  if (symbol == "du/ds") return {{"d", false, 0}, {"u", true, 0}, {"/d", false, 0}, {"s", true, 0}};
  if (symbol == "dT_dew") return {{"Δ", false, 0}, {"T", true, 0}, {"dew", false, -1}};
  int script = 0;
  for (std::size_t at = 0; at < symbol.size();) {
    const char c = symbol[at];
    if (c == '_') {
      script = -1;
      ++at;
    } else if (is_letter(c)) {
      std::size_t end = at;
      while (end < symbol.size() && is_letter(symbol[end])) ++end;
      const std::string_view word = symbol.substr(at, end - at);
      const std::string_view sign = greek(word);
      add_run(out, std::string(sign.empty() ? word : sign), script == 0, script);
      at = end;
    } else {
      if (c == ' ' || c == '/' || c == '(' || c == ')') script = 0;
      add_run(out, c == ' ' ? std::string("\u00a0") : c == '-' ? std::string("−") : std::string(1, c), false, script);
      ++at;
    }
  }
  return out;
}

RichText rich_unit(std::string_view unit) {
  if (unit == "1/s") return {{"s", false, 0}, {"−1", false, 1}};
  RichText out;
  std::string word;
  const auto flush = [&] {
    if (word.empty()) return;
    if (word == "degC") word = "°C";
    if (word.size() > 1 && word.front() == 'u') word = "µ" + word.substr(1);
    add_run(out, word, false, 0);
    word.clear();
  };
  for (std::size_t at = 0; at < unit.size(); ++at) {
    const char c = unit[at];
    if (is_letter(c)) {
      word += c;
      continue;
    }
    const bool power = std::isdigit(static_cast<unsigned char>(c)) != 0 && !word.empty();
    flush();
    add_run(out, c == ' ' ? std::string("\u00a0") : std::string(1, c), false, power ? 1 : 0);
  }
  flush();
  return out;
}

RichText rich_quotient(const Quantified& quantity) {
  RichText out = rich_symbol(quantity.symbol);
  if (quantity.unit.empty()) return out;
  RichText unit = rich_unit(quantity.unit);
  if (out.empty()) return unit;
  const bool quotient = quantity.unit.find('/') != std::string::npos && quantity.unit != "1/s";
  out.push_back({quotient ? " / (" : " / ", false, 0});
  for (auto& run : unit) out.push_back(std::move(run));
  if (quotient) out.push_back({")", false, 0});
  return out;
}

RichText rich_label(const Quantified& quantity) {
  RichText out;
  const RichText rest = rich_quotient(quantity);
  if (quantity.name.empty()) return rest;
  std::string name = quantity.name;
  if (!rest.empty()) name += quantity.symbol.empty() ? " / " : " ";
  out.push_back({name, false, 0});
  out.insert(out.end(), rest.begin(), rest.end());
  return out;
}

std::string plain_unit(std::string_view unit) { return unit == "1" ? std::string() : unstyled(rich_unit(unit)); }

std::string caption_label(const Quantified& quantity) {
  std::string out = quantity.name;
  if (!out.empty() && out.front() >= 'A' && out.front() <= 'Z' && (out.size() < 2 || !std::isupper(static_cast<unsigned char>(out[1]))))
    out.front() = static_cast<char>(out.front() - 'A' + 'a');
  return out;
}

std::string print_number(double value, int digits) {
  std::array<char, 64> buffer{};
  // Shortest text of the value rounded to the digits: through the general format, then fixed.
  const auto general = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, digits);
  double rounded = 0.0;
  std::from_chars(buffer.data(), general.ptr, rounded);
  const double size = std::abs(rounded);
  if (size != 0.0 && (size >= 1e7 || size < 1e-4)) {
    const auto shortest = std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded, std::chars_format::scientific);
    std::string text(buffer.data(), shortest.ptr);
    return text.front() == '-' ? "−" + text.substr(1) : text;
  }
  const auto fixed = std::to_chars(buffer.data(), buffer.data() + buffer.size(), rounded, std::chars_format::fixed);
  std::string text(buffer.data(), fixed.ptr);
  const bool negative = !text.empty() && text.front() == '-';
  if (negative) text.erase(0, 1);
  const std::size_t point = std::min(text.find('.'), text.size());
  if (point >= 5)
    for (std::size_t at = point; at > 3; at -= 3) text.insert(at - 3, "\u2009");
  return negative ? "−" + text : text;
}

}  // namespace whorl::io
