// whorl materials: the property library with units, uncertainty and source.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "app/commands.hpp"
#include "app/page.hpp"
#include "app/provenance.hpp"
#include "io/keys.hpp"
#include "io/materials_file.hpp"
#include "io/units.hpp"
#include "model/error.hpp"
#include "model/materials.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;
using model::Library;
using model::Pair;
using model::Polymer;
using model::Property;
using model::Solvent;

constexpr const char* kCaution =
    "Exposure and flammability limits change and differ by country: the supplier's safety data sheet and the list in force "
    "where you work decide.";

/// How a property is shown: the unit it is stored in and the one people use.
struct Shown {
  std::string_view key;
  std::string_view label;
  const char* si_unit;
  const char* unit;         ///< "1": plain number
  std::string_view suffix;  ///< of the JSON name
};

template <typename Record>
struct Row {
  Shown shown;
  Property Record::*always;
  std::optional<Property> Record::*sometimes;

  [[nodiscard]] const Property* of(const Record& record) const {
    if (always != nullptr) return &(record.*always);
    const std::optional<Property>& value = record.*sometimes;
    return value ? &*value : nullptr;
  }
};

template <typename Record>
constexpr Row<Record> row(Property Record::*member, const Shown& shown) {
  return {shown, member, nullptr};
}
template <typename Record>
constexpr Row<Record> row(std::optional<Property> Record::*member, const Shown& shown) {
  return {shown, nullptr, member};
}

constexpr std::array kSolventRows{
    row(&Solvent::molar_mass, {"molar_mass", "molar mass", "kg/mol", "g/mol", "g_mol"}),
    row(&Solvent::density_25, {"density_25", "density at 25 degC", "kg/m3", "kg/m3", "kg_m3"}),
    row(&Solvent::density_slope, {"density_slope", "its change with temperature", "kg/m3/K", "kg/m3/K", "kg_m3_K"}),
    row(&Solvent::viscosity_25, {"viscosity_25", "viscosity at 25 degC", "Pa s", "mPa s", "mPa_s"}),
    row(&Solvent::viscosity_energy, {"viscosity_energy", "activation energy of viscosity", "J/mol", "kJ/mol", "kJ_mol"}),
    row(&Solvent::surface_tension_25, {"surface_tension_25", "surface tension at 25 degC", "N/m", "mN/m", "mN_m"}),
    row(&Solvent::surface_tension_slope,
        {"surface_tension_slope", "its change with temperature", "N/m/K", "mN/m/K", "mN_m_K"}),
    row(&Solvent::heat_capacity, {"heat_capacity", "heat capacity, liquid", "J/kg/K", "J/kg/K", "J_kg_K"}),
    row(&Solvent::vapour_heat_capacity,
        {"vapour_heat_capacity", "heat capacity, vapour", "J/kg/K", "J/kg/K", "J_kg_K"}),
    row(&Solvent::thermal_conductivity,
        {"thermal_conductivity", "thermal conductivity, liquid", "W/m/K", "W/m/K", "W_m_K"}),
    row(&Solvent::boiling_point, {"boiling_point", "boiling point at 101.325 kPa", "K", "degC", "degC"}),
    row(&Solvent::critical_temperature, {"critical_temperature", "critical temperature", "K", "degC", "degC"}),
    row(&Solvent::latent_heat_25, {"latent_heat_25", "heat of vaporisation at 25 degC", "J/kg", "kJ/kg", "kJ_kg"}),
    row(&Solvent::diffusivity_air_25,
        {"diffusivity_air_25", "diffusivity in air at 25 degC", "m2/s", "mm2/s", "mm2_s"}),
    row(&Solvent::glass_transition, {"glass_transition", "glass transition", "K", "degC", "degC"}),
    row(&Solvent::lower_flammability, {"lower_flammability", "lower flammability limit in air", "1", "%", "percent"}),
    row(&Solvent::upper_flammability, {"upper_flammability", "upper flammability limit in air", "1", "%", "percent"}),
    row(&Solvent::flash_point, {"flash_point", "flash point, closed cup", "K", "degC", "degC"}),
};

constexpr std::array kPolymerRows{
    row(&Polymer::density, {"density", "density", "kg/m3", "kg/m3", "kg_m3"}),
    row(&Polymer::glass_transition, {"glass_transition", "glass transition", "K", "degC", "degC"}),
    row(&Polymer::heat_capacity, {"heat_capacity", "heat capacity", "J/kg/K", "J/kg/K", "J_kg_K"}),
    row(&Polymer::entanglement_molar_mass,
        {"entanglement_molar_mass", "entanglement molar mass", "kg/mol", "kg/mol", "kg_mol"}),
    row(&Polymer::surface_tension, {"surface_tension", "surface tension near 25 degC", "N/m", "mN/m", "mN_m"}),
    row(&Polymer::melting_point, {"melting_point", "equilibrium melting point", "K", "degC", "degC"}),
    row(&Polymer::heat_of_fusion, {"heat_of_fusion", "heat of fusion of the crystal", "J/kg", "kJ/kg", "kJ_kg"}),
    row(&Polymer::repeat_molar_mass, {"repeat_molar_mass", "molar mass of the repeat unit", "kg/mol", "g/mol", "g_mol"}),
    row(&Polymer::thermal_expansion_melt,
        {"thermal_expansion_melt", "thermal expansion above the glass transition", "1/K", "1/K", "1_K"}),
};

constexpr std::array kPairRows{
    row(&Pair::martin_constant, {"martin_constant", "Martin constant", "1", "1", ""}),
    row(&Pair::flory_huggins_chi, {"flory_huggins_chi", "Flory-Huggins parameter", "1", "1", ""}),
};

double in_unit(double si, const Shown& shown) {
  if (std::string_view(shown.unit) == "1") return si;
  return io::convert(si, shown.si_unit, shown.unit).value_or(std::nan(""));
}

/// One standard deviation in the shown unit: of a temperature it is a difference.
double sd_in_unit(const Property& property, const Shown& shown) {
  const double sd = property.relative_sd * std::abs(property.value);
  return in_unit(sd, shown) - in_unit(0.0, shown);
}

std::string with_unit(double value, int digits, const char* unit) {
  std::string text = io::number_text(value, digits);
  if (std::string_view(unit) != "1") text += std::string(" ") + unit;
  return text;
}

std::string padded(std::string_view text, std::size_t width) {
  std::string line(text);
  if (line.size() < width) line.resize(width, ' ');
  return line;
}

/// `text` broken into lines of about 100 characters, each behind `indent`.
std::string wrapped(std::string_view text, const std::string& indent) {
  constexpr std::size_t kWidth = 100;
  std::string lines;
  while (!text.empty()) {
    std::size_t cut = text.size();
    if (cut > kWidth) {
      cut = text.rfind(' ', kWidth);
      if (cut == std::string_view::npos || cut == 0) cut = std::min(text.find(' '), text.size());
    }
    lines += indent + std::string(text.substr(0, cut)) + "\n";
    text.remove_prefix(std::min(text.size(), cut + 1));
  }
  return lines;
}

constexpr std::size_t kLabelWidth = 46;

template <typename Record, typename Rows>
void print_rows(const Record& record, const Rows& rows, std::ostream& out) {
  for (const auto& entry : rows) {
    const Property* property = entry.of(record);
    if (property == nullptr) continue;
    out << "  " << padded(entry.shown.label, kLabelWidth) << with_unit(in_unit(property->value, entry.shown), 5, entry.shown.unit)
        << " ± " << with_unit(sd_in_unit(*property, entry.shown), 2, std::string_view(entry.shown.unit) == "degC" ? "K" : entry.shown.unit)
        << '\n'
        << wrapped(property->source, "      ");
  }
}

std::string json_name(const Shown& shown) {
  return shown.suffix.empty() ? std::string(shown.key) : std::string(shown.key) + "_" + std::string(shown.suffix);
}

template <typename Record, typename Rows>
void rows_to_json(const Record& record, const Rows& rows, Json& json) {
  for (const auto& entry : rows)
    if (const Property* property = entry.of(record); property != nullptr)
      json[json_name(entry.shown)] = {{"value", io::tidy(in_unit(property->value, entry.shown))},
                                      {"sd", io::tidy(sd_in_unit(*property, entry.shown), 4)},
                                      {"source", property->source}};
}

void print_solvent(const Solvent& solvent, std::ostream& out) {
  out << solvent.id << ": " << solvent.name << " (solvent" << (solvent.cas.empty() ? "" : ", CAS " + solvent.cas) << ")\n";
  print_rows(solvent, kSolventRows, out);
  for (const Solvent::Antoine& set : solvent.antoine)
    out << "  " << padded("vapour pressure", kLabelWidth) << "log10(p/Pa) = " << io::number_text(set.a, 6) << " - "
        << io::number_text(set.b, 6) << "/(T/K " << (set.c < 0.0 ? "- " : "+ ") << io::number_text(std::abs(set.c), 7)
        << "), " << io::number_text(set.t_min_K) << " to " << io::number_text(set.t_max_K) << " K, ± "
        << io::number_text(100.0 * set.relative_sd, 2) << " %\n"
        << wrapped(set.source, "      ");
  out << "  " << padded("mixes with water", kLabelWidth) << (solvent.water_miscible ? "yes" : "no") << '\n';
  if (!solvent.water_miscibility_note.empty()) out << wrapped(solvent.water_miscibility_note, "      ");
  for (const model::ExposureLimit& limit : solvent.exposure_limits)
    out << "  " << padded("exposure limit, " + limit.kind, kLabelWidth)
        << with_unit(limit.mass_concentration_kg_m3 * 1e6, 4, "mg/m3") << ", " << limit.body << ", " << limit.date << '\n'
        << wrapped(limit.source, "      ");
  if (solvent.exposure_limits.empty())
    out << "  " << padded("exposure limit", kLabelWidth) << "none listed here, which does not mean that there is none\n";
  if (!solvent.lower_flammability)
    out << "  " << padded("flammability limits", kLabelWidth) << "none listed here, which does not mean that it cannot burn\n";
  if (!solvent.hazard_note.empty()) out << "  hazards\n" << wrapped(solvent.hazard_note, "      ");
  out << wrapped(kCaution, "  ");
}

Json solvent_json(const Solvent& solvent) {
  Json json = {{"kind", "solvent"}, {"id", solvent.id}, {"name", solvent.name}, {"cas", solvent.cas}};
  rows_to_json(solvent, kSolventRows, json);
  json["antoine"] = Json::array();
  for (const Solvent::Antoine& set : solvent.antoine)
    json["antoine"].push_back({{"form", "log10(p/Pa) = a - b/(T/K + c)"},
                               {"a", set.a},
                               {"b", set.b},
                               {"c", set.c},
                               {"t_min_K", set.t_min_K},
                               {"t_max_K", set.t_max_K},
                               {"relative_sd", io::tidy(set.relative_sd)},
                               {"source", set.source}});
  json["water_miscible"] = solvent.water_miscible;
  json["water_miscibility_note"] = solvent.water_miscibility_note;
  json["exposure_limits"] = Json::array();
  for (const model::ExposureLimit& limit : solvent.exposure_limits)
    json["exposure_limits"].push_back({{"concentration_mg_m3", io::tidy(limit.mass_concentration_kg_m3 * 1e6, 6)},
                                       {"kind", limit.kind},
                                       {"body", limit.body},
                                       {"date", limit.date},
                                       {"source", limit.source}});
  json["hazard_note"] = solvent.hazard_note;
  json["caution"] = kCaution;
  return json;
}

void print_polymer(const Polymer& polymer, std::ostream& out) {
  out << polymer.id << ": " << polymer.name << " (polymer)\n";
  print_rows(polymer, kPolymerRows, out);
  out << "  " << padded("entanglement convention", kLabelWidth) << polymer.entanglement_convention << '\n';
}

Json polymer_json(const Polymer& polymer) {
  Json json = {{"kind", "polymer"}, {"id", polymer.id}, {"name", polymer.name}};
  rows_to_json(polymer, kPolymerRows, json);
  json["entanglement_convention"] = polymer.entanglement_convention;
  return json;
}

/// What a pair still lacks for an estimate without measured values.
std::vector<std::string> to_measure(const Pair* pair) {
  std::vector<std::string> list;
  if (pair == nullptr || !pair->mark_houwink)
    list.emplace_back("solution.measured.zero_shear_viscosity (no intrinsic viscosity known for this pair)");
  if (pair == nullptr || !pair->flory_huggins_chi)
    list.emplace_back("solution.measured.flory_huggins_chi (else a stated assumption with a warning)");
  if (pair == nullptr || pair->diffusion.empty())
    list.emplace_back("solution.measured.solvent_diffusivity (else estimated)");
  return list;
}

void print_pair(const Pair& pair, std::ostream& out) {
  out << pair.polymer << " in " << pair.solvent << ": " << (pair.soluble ? "soluble" : "NOT soluble, a case with this pair is refused") << '\n';
  if (!pair.note.empty()) out << wrapped(pair.note, "  ");
  if (pair.mark_houwink) {
    const Pair::MarkHouwink& law = *pair.mark_houwink;
    const double k_dl_g = law.k_m3_kg * 10.0 / std::pow(1000.0, law.exponent);
    out << "  " << padded("intrinsic viscosity [eta] = K M^a", kLabelWidth) << "K = " << io::number_text(k_dl_g, 4)
        << " dL/g (M in g/mol), a = " << io::number_text(law.exponent, 4) << ", at "
        << io::number_text(law.temperature_K - 273.15, 4) << " degC";
    if (law.m_max_kg_mol > 0.0)
      out << ", " << io::number_text(law.m_min_kg_mol) << " to " << io::number_text(law.m_max_kg_mol) << " kg/mol";
    out << ", ± " << io::number_text(100.0 * law.relative_sd, 2) << " %\n" << wrapped(law.source, "      ");
  }
  print_rows(pair, kPairRows, out);
  if (!pair.diffusion.empty()) {
    out << "  " << padded("mutual diffusion", kLabelWidth) << pair.diffusion.size() << " points\n";
    out << "      solvent mass fraction   D [m2/s]   T [K]\n";
    for (const Pair::DiffusionPoint& point : pair.diffusion)
      out << "      " << padded(io::number_text(point.solvent_mass_fraction, 4), 24)
          << padded(io::number_text(point.diffusivity_m2_s, 3), 11) << io::number_text(point.temperature_K, 5) << '\n';
    out << wrapped(pair.diffusion_source, "      ");
  }
  if (!pair.soluble) return;
  for (const std::string& key : to_measure(&pair)) out << "  to measure: " << key << '\n';
}

Json pair_json(const Pair& pair) {
  Json json = {{"kind", "pair"}, {"polymer", pair.polymer}, {"solvent", pair.solvent}, {"soluble", pair.soluble}, {"note", pair.note}};
  if (pair.mark_houwink) {
    const Pair::MarkHouwink& law = *pair.mark_houwink;
    json["mark_houwink"] = {{"k_dL_g", io::tidy(law.k_m3_kg * 10.0 / std::pow(1000.0, law.exponent))},
                            {"exponent", law.exponent},
                            {"temperature_degC", io::tidy(law.temperature_K - 273.15)},
                            {"m_min_kg_mol", law.m_min_kg_mol},
                            {"m_max_kg_mol", law.m_max_kg_mol},
                            {"relative_sd", io::tidy(law.relative_sd)},
                            {"source", law.source}};
  }
  rows_to_json(pair, kPairRows, json);
  json["diffusion"] = Json::array();
  for (const Pair::DiffusionPoint& point : pair.diffusion)
    json["diffusion"].push_back({{"solvent_mass_fraction", point.solvent_mass_fraction},
                                 {"diffusivity_m2_s", io::tidy(point.diffusivity_m2_s, 6)},
                                 {"temperature_K", point.temperature_K}});
  json["diffusion_source"] = pair.diffusion_source;
  json["to_measure"] = pair.soluble ? to_measure(&pair) : std::vector<std::string>{};
  return json;
}

/// Entries by id, the last one of each: later files replace earlier records.
template <typename Record, typename Find>
std::vector<const Record*> in_force(const std::vector<Record>& records, Find find) {
  std::vector<const Record*> list;
  for (const Record& record : records)
    if (find(record) == &record) list.push_back(&record);
  return list;
}

int list_all(const Library& library, bool as_json, std::ostream& out) {
  const auto polymers = in_force(library.polymers, [&](const Polymer& p) { return library.polymer(p.id); });
  const auto solvents = in_force(library.solvents, [&](const Solvent& s) { return library.solvent(s.id); });
  const auto pairs = in_force(library.pairs, [&](const Pair& p) { return library.pair(p.polymer, p.solvent); });
  if (as_json) {
    Json json = {{"polymers", Json::array()}, {"solvents", Json::array()}, {"pairs", Json::array()}};
    for (const Polymer* p : polymers) json["polymers"].push_back({{"id", p->id}, {"name", p->name}});
    for (const Solvent* s : solvents) json["solvents"].push_back({{"id", s->id}, {"name", s->name}, {"cas", s->cas}});
    for (const Pair* p : pairs)
      json["pairs"].push_back({{"polymer", p->polymer},
                               {"solvent", p->solvent},
                               {"soluble", p->soluble},
                               {"intrinsic_viscosity", p->mark_houwink.has_value()},
                               {"flory_huggins_chi", p->flory_huggins_chi.has_value()},
                               {"diffusion", !p->diffusion.empty()}});
    out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    return kDone;
  }
  constexpr std::size_t kIdWidth = 20;
  out << "Polymers\n";
  for (const Polymer* p : polymers) out << "  " << padded(p->id, kIdWidth) << p->name << '\n';
  out << "Solvents\n";
  for (const Solvent* s : solvents)
    out << "  " << padded(s->id, kIdWidth) << s->name << ", boils at " << io::number_text(s->boiling_point.value - 273.15, 3)
        << " degC\n";
  out << "Pairs (viscosity: intrinsic viscosity known, so that the viscosity of a solution can be estimated)\n";
  for (const Pair* p : pairs) {
    out << "  " << padded(p->polymer, 8) << padded(p->solvent, kIdWidth);
    std::string known;
    if (!p->soluble) {
      known = "not soluble";
    } else {
      if (p->mark_houwink) known += ", viscosity";
      if (p->flory_huggins_chi) known += ", interaction";
      if (!p->diffusion.empty()) known += ", diffusion";
      known = known.empty() ? "soluble; viscosity must be measured" : known.substr(2);
    }
    out << known << '\n';
  }
  out << "'whorl materials NAME' or 'whorl materials POLYMER SOLVENT' shows values, uncertainty and sources.\n";
  return kDone;
}

[[noreturn]] void unknown_name(const Library& library, const std::string& name) {
  std::vector<std::string_view> names;
  for (const Polymer& p : library.polymers) names.emplace_back(p.id);
  for (const Solvent& s : library.solvents) names.emplace_back(s.id);
  const std::string near = io::nearest_word(name, names);
  throw InputError("", "", "no material \"" + name + "\" in the library",
                   near.empty() ? "a name that 'whorl materials' lists" : "nearest known name is '" + near + "'");
}

int show_one(const Library& library, const std::string& name, bool as_json, std::ostream& out) {
  const Polymer* polymer = library.polymer(name);
  const Solvent* solvent = library.solvent(name);
  if (polymer == nullptr && solvent == nullptr) unknown_name(library, name);
  if (as_json) {
    out << (polymer != nullptr ? polymer_json(*polymer) : solvent_json(*solvent)).dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    return kDone;
  }
  if (polymer != nullptr) print_polymer(*polymer, out);
  if (solvent != nullptr) print_solvent(*solvent, out);
  return kDone;
}

int show_pair(const Library& library, const std::string& first, const std::string& second, bool as_json, std::ostream& out) {
  const bool swapped = library.polymer(first) == nullptr && library.polymer(second) != nullptr;
  const std::string& polymer = swapped ? second : first;
  const std::string& solvent = swapped ? first : second;
  if (library.polymer(polymer) == nullptr) unknown_name(library, polymer);
  if (library.solvent(solvent) == nullptr) unknown_name(library, solvent);
  const Pair* pair = library.pair(polymer, solvent);
  if (pair != nullptr) {
    if (as_json)
      out << pair_json(*pair).dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
    else
      print_pair(*pair, out);
    return kDone;
  }
  if (as_json) {
    out << Json{{"kind", "pair"}, {"polymer", polymer}, {"solvent", solvent}, {"known", false}, {"to_measure", to_measure(nullptr)}}.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
        << '\n';
  } else {
    out << polymer << " in " << solvent << ": no data on this pair, not even whether it dissolves\n";
    for (const std::string& key : to_measure(nullptr)) out << "  to measure: " << key << '\n';
  }
  return kNotMet;
}

}  // namespace

int run_materials(const MaterialsOptions& options, const Streams& streams) {
  if (options.names.size() > 2)
    throw InputError("", "", std::to_string(options.names.size()) + " names given", "none, one material, or a polymer and a solvent");
  Library library = io::built_in_library();
  for (const std::string& path : options.add) io::add_materials_file(library, path);
  std::ostringstream out;  // nothing is written before all of it is known to be good
  int exit = kDone;
  if (options.names.empty())
    exit = list_all(library, options.json, out);
  else if (options.names.size() == 1)
    exit = show_one(library, options.names[0], options.json, out);
  else
    exit = show_pair(library, options.names[0], options.names[1], options.json, out);
  std::vector<Basis> bases{built_in_basis()};
  for (const std::string& path : options.add) bases.push_back(basis_of_file("materials", path));
  if (options.json) {
    Json json = Json::parse(out.str());
    put_provenance(json, bases);
    streams.out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  } else {
    Page(streams.out).out() << out.str() << provenance_line(bases);
  }
  return exit;
}

}  // namespace whorl::app
