#include "answer/materials_answer.hpp"

#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/everyday_names.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

namespace whorl::answer {
namespace {

using namespace document;
using model::Library;
using model::Pair;
using model::Polymer;
using model::Property;
using model::Solvent;

constexpr const char* kCaution =
    "Exposure and flammability limits change and differ by country: the supplier's safety data sheet and the list in "
    "force "
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
    row(&Solvent::viscosity_energy,
        {"viscosity_energy", "activation energy of viscosity", "J/mol", "kJ/mol", "kJ_mol"}),
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
    row(&Polymer::repeat_molar_mass,
        {"repeat_molar_mass", "molar mass of the repeat unit", "kg/mol", "g/mol", "g_mol"}),
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

std::string json_name(const Shown& shown) {
  return shown.suffix.empty() ? std::string(shown.key) : std::string(shown.key) + "_" + std::string(shown.suffix);
}

template <typename Record, typename Rows>
Quantities quantities_of(const Record& record, const Rows& rows) {
  Quantities quantities;
  for (const auto& entry : rows) {
    const Property* property = entry.of(record);
    if (property == nullptr) continue;
    Quantity row{json_name(entry.shown), entry.shown.label, io::tidy(in_unit(property->value, entry.shown)),
                 entry.shown.unit, 5};
    row.sd = io::tidy(sd_in_unit(*property, entry.shown), 4);
    if (row.unit == "degC") row.sd_unit = "K";
    row.source = property->source;
    quantities.rows.push_back(row);
  }
  return quantities;
}

Table vapour_pressure(const Solvent& solvent) {
  Table table{"antoine", "Vapour pressure: log10(p/Pa) = a - b/(T/K + c)", {}, {}};
  table.columns = {
      {"form", {}},           {"a", "a", "", 6},   {"b", "b", "", 6}, {"c", "c", "", 6},   {"t_min_K", "from", "K"},
      {"t_max_K", "to", "K"}, {"relative_sd", {}}, {"", "±"},         {"source", "source"}};
  for (const Solvent::Antoine& set : solvent.antoine)
    table.rows.push_back({"log10(p/Pa) = a - b/(T/K + c)", set.a, set.b, set.c, set.t_min_K, set.t_max_K,
                          io::tidy(set.relative_sd), percent(set.relative_sd, 2), set.source});
  return table;
}

Table exposure_limits(const Solvent& solvent) {
  Table table{"exposure_limits", "Exposure limits", {}, {}};
  table.columns = {{"concentration_mg_m3", "limit", "mg/m3"},
                   {"kind", "kind"},
                   {"body", "set by"},
                   {"date", "date"},
                   {"source", "source"}};
  for (const model::ExposureLimit& limit : solvent.exposure_limits)
    table.rows.push_back(
        {io::tidy(limit.mass_concentration_kg_m3 * 1e6, 6), limit.kind, limit.body, limit.date, limit.source});
  return table;
}

Document solvent_document(const Solvent& solvent) {
  Document document{
      solvent.id + ": " + solvent.name + " (solvent" + (solvent.cas.empty() ? "" : ", CAS " + solvent.cas) + ")", {}};
  auto& blocks = document.blocks;
  blocks.emplace_back(Quantities{
      {fact("kind", "solvent"), fact("id", solvent.id), fact("name", solvent.name), fact("cas", solvent.cas)}});
  blocks.emplace_back(quantities_of(solvent, kSolventRows));
  blocks.emplace_back(vapour_pressure(solvent));
  blocks.emplace_back(
      Quantities{{{"water_miscible", "mixes with water", solvent.water_miscible},
                  {"water_miscibility_note", solvent.water_miscibility_note.empty() ? Text() : Text("note on it"),
                   solvent.water_miscibility_note}}});
  blocks.emplace_back(exposure_limits(solvent));
  if (solvent.exposure_limits.empty())
    blocks.emplace_back(Sentence{"No exposure limit is listed here, which does not mean that there is none."});
  if (!solvent.lower_flammability)
    blocks.emplace_back(Sentence{"No flammability limits are listed here, which does not mean that it cannot burn."});
  blocks.emplace_back(
      Section{"Hazards", "", {Sentence{solvent.hazard_note, "hazard_note"}, Sentence{kCaution, "caution"}}});
  return document;
}

Document polymer_document(const Polymer& polymer) {
  Document document{polymer.id + ": " + polymer.name + " (polymer)", {}};
  document.blocks.emplace_back(
      Quantities{{fact("kind", "polymer"), fact("id", polymer.id), fact("name", polymer.name)}});
  Quantities rows = quantities_of(polymer, kPolymerRows);
  rows.rows.push_back({"entanglement_convention", "entanglement convention", polymer.entanglement_convention});
  document.blocks.emplace_back(rows);
  return document;
}

/// What a pair still lacks for an estimate without measured values.
std::vector<Text> to_measure(const Pair* pair) {
  std::vector<Text> list;
  // first in every case: nothing that is estimated decides as much
  const bool known = pair != nullptr && pair->mark_houwink;
  list.emplace_back(std::string("solution.measured.zero_shear_viscosity (else ") +
                    (known ? "estimated, factor 2 to 4 in thick solutions)"
                           : "other solvents of the polymer stand in, factor 5)"));
  if (pair == nullptr || !pair->flory_huggins_chi)
    list.emplace_back("solution.measured.flory_huggins_chi (else a stated assumption with a warning)");
  if (pair == nullptr || pair->diffusion.empty())
    list.emplace_back("solution.measured.solvent_diffusivity (else estimated)");
  return list;
}

Section intrinsic_viscosity(const Pair::MarkHouwink& law) {
  Section section{"Intrinsic viscosity", "mark_houwink"};
  section.blocks.emplace_back(Sentence{Text().symbol("[eta] = K M^a", "[\\eta] = K M^a").add(", M in g/mol")});
  Quantities rows{
      {{"k_dL_g", Text().symbol("K", "K"), io::tidy(law.k_m3_kg * 10.0 / std::pow(1000.0, law.exponent)), "dL/g"},
       {"exponent", Text().symbol("a", "a"), law.exponent},
       {"temperature_degC", "temperature", io::tidy(law.temperature_K - 273.15), "degC"}}};
  const bool bounded = law.m_max_kg_mol > 0.0;
  rows.rows.push_back({"m_min_kg_mol", bounded ? "from molar mass" : Text(), law.m_min_kg_mol, "kg/mol", 6});
  rows.rows.push_back({"m_max_kg_mol", bounded ? "to molar mass" : Text(), law.m_max_kg_mol, "kg/mol", 6});
  rows.rows.push_back(fact("relative_sd", io::tidy(law.relative_sd)));
  rows.rows.push_back({"", "uncertain by", "± " + percent(law.relative_sd, 2)});
  rows.rows.push_back({"source", "source", law.source});
  section.blocks.emplace_back(rows);
  return section;
}

Table diffusion(const Pair& pair) {
  Table table{"diffusion", "Mutual diffusion", {}, {}};
  table.columns = {{"solvent_mass_fraction", "solvent mass fraction"},
                   {"diffusivity_m2_s", "diffusivity", "m2/s", 3},
                   {"temperature_K", "temperature", "K", 5}};
  for (const Pair::DiffusionPoint& point : pair.diffusion)
    table.rows.push_back({point.solvent_mass_fraction, io::tidy(point.diffusivity_m2_s, 6), point.temperature_K});
  return table;
}

/// Entries by id, the last one of each: later files replace earlier records.
template <typename Record, typename Find>
std::vector<const Record*> in_force(const std::vector<Record>& records, Find find) {
  std::vector<const Record*> list;
  for (const Record& record : records)
    if (find(record) == &record) list.push_back(&record);
  return list;
}

/// What is known of a pair, in a few words.
std::string known_of(const Pair& pair) {
  if (!pair.soluble) return "not soluble";
  std::string known;
  if (pair.mark_houwink) known += ", viscosity";
  if (pair.flory_huggins_chi) known += ", interaction";
  if (!pair.diffusion.empty()) known += ", diffusion";
  return known.empty() ? "soluble; viscosity must be measured" : known.substr(2);
}

}  // namespace

[[noreturn]] void unknown_name(const Library& library, const std::string& name) {
  std::vector<std::string_view> names;
  for (const Polymer& p : library.polymers) names.emplace_back(p.id);
  for (const Solvent& s : library.solvents) names.emplace_back(s.id);
  std::string near = model::polymer_meant(library, name);
  if (near.empty()) near = model::solvent_meant(library, name);
  if (!near.empty()) throw InputError("", "", '"' + name + "\" is called '" + near + "' in the library", near);
  constexpr std::size_t kShort = 5;  // of abbreviations the nearest one is another substance
  if (name.size() >= kShort) near = io::nearest_word(name, names);
  throw InputError("", "", "no material \"" + name + "\" in the library",
                   near.empty() ? "a name that 'whorl materials' lists" : "nearest known name is '" + near + "'");
}

Document pair_document(const Pair& pair) {
  Document document{pair.polymer + " in " + pair.solvent + ": " +
                        (pair.soluble ? "soluble" : "NOT soluble, a case with this pair is refused"),
                    {}};
  auto& blocks = document.blocks;
  blocks.emplace_back(Quantities{{fact("kind", "pair"), fact("polymer", pair.polymer), fact("solvent", pair.solvent),
                                  fact("soluble", pair.soluble)}});
  blocks.emplace_back(Sentence{pair.note, "note"});
  blocks.emplace_back(quantities_of(pair, kPairRows));
  if (pair.mark_houwink) blocks.emplace_back(intrinsic_viscosity(*pair.mark_houwink));
  Section known{pair.diffusion.empty() ? "" : "Diffusion",
                "",
                {diffusion(pair), Sentence{pair.diffusion_source, "diffusion_source"}}};
  blocks.emplace_back(known);
  const std::vector<Text> missing = pair.soluble ? to_measure(&pair) : std::vector<Text>{};
  blocks.emplace_back(
      Section{missing.empty() ? "" : "Still to measure for an estimate", "", {List{"to_measure", {}, missing}}});
  return document;
}

Document unknown_pair(const std::string& polymer, const std::string& solvent) {
  Document document{polymer + " in " + solvent + ": no data on this pair, not even whether it dissolves", {}};
  document.blocks.emplace_back(
      Quantities{{fact("kind", "pair"), fact("polymer", polymer), fact("solvent", solvent), fact("known", false)}});
  document.blocks.emplace_back(
      Section{"To measure for an estimate", "", {List{"to_measure", {}, to_measure(nullptr)}}});
  return document;
}

Document list_all(const Library& library) {
  Document document{"Property library", {}};
  Table polymers{"polymers", "Polymers", {{"id", "polymer"}, {"name", "name"}}, {}};
  for (const Polymer* p : in_force(library.polymers, [&](const Polymer& x) { return library.polymer(x.id); }))
    polymers.rows.push_back({p->id, p->name});
  Table solvents{
      "solvents", "Solvents", {{"id", "solvent"}, {"name", "name"}, {"cas", "CAS"}, {"", "boils at", "degC", 3}}, {}};
  for (const Solvent* s : in_force(library.solvents, [&](const Solvent& x) { return library.solvent(x.id); }))
    solvents.rows.push_back({s->id, s->name, s->cas, s->boiling_point.value - 273.15});
  Table pairs{"pairs",
              "Pairs (viscosity: intrinsic viscosity known, so that the viscosity of a solution can be estimated)",
              {{"polymer", "polymer"},
               {"solvent", "solvent"},
               {"soluble", {}},
               {"intrinsic_viscosity", {}},
               {"flory_huggins_chi", {}},
               {"diffusion", {}},
               {"", "known"}},
              {}};
  for (const Pair* p : in_force(library.pairs, [&](const Pair& x) { return library.pair(x.polymer, x.solvent); }))
    pairs.rows.push_back({p->polymer, p->solvent, p->soluble, p->mark_houwink.has_value(),
                          p->flory_huggins_chi.has_value(), !p->diffusion.empty(), known_of(*p)});
  document.blocks = {
      Section{"", "", {polymers}}, Section{"", "", {solvents}}, Section{"", "", {pairs}},
      Sentence{"'whorl materials NAME' or 'whorl materials POLYMER SOLVENT' shows values, uncertainty and sources."}};
  return document;
}

Document show_one(const Library& library, const std::string& name) {
  if (const Solvent* solvent = library.solvent(name); solvent != nullptr && library.polymer(name) == nullptr)
    return solvent_document(*solvent);
  if (const Polymer* polymer = library.polymer(name)) return polymer_document(*polymer);
  unknown_name(library, name);
}

}  // namespace whorl::answer
