#include "whorl/io/materials_file.hpp"

#include <cmath>
#include <set>

#include "io/builtin_data.hpp"
#include "io/json_document.hpp"
#include "io/unit_text.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

using model::Origin;
using model::Property;

constexpr std::size_t kLongestText = 2000;

// One object of a materials file with the path that leads to it; every key asked for is ticked off.
class Reader {
 public:
  Reader(const Document& object, std::string file, std::string path)
      : object_(object), file_(std::move(file)), path_(std::move(path)) {
    if (!object_.is_object()) fail("", shown(object_), "an object {...}");
  }

  [[nodiscard]] bool has(const char* key) {
    known_.insert(key);
    return object_.contains(key);
  }
  [[nodiscard]] const Document& at(const char* key, const char* allowed) {
    if (!has(key)) fail(key, "is missing", allowed);
    return object_.at(key);
  }
  [[nodiscard]] std::string text(const char* key) {
    return text_of(at(key, "a text"), kLongestText, file_, where(key));
  }
  [[nodiscard]] std::string optional_text(const char* key) { return has(key) ? text(key) : std::string(); }
  [[nodiscard]] bool flag(const char* key) {
    const Document& value = at(key, "true or false");
    if (!value.is_boolean()) fail(key, shown(value), "true or false");
    return value.get<bool>();
  }
  [[nodiscard]] double number(const char* key) {
    const Document& value = at(key, "a number");
    if (!value.is_number()) fail(key, shown(value), "a number");
    return value.get<double>();
  }

  /// "value unit" as text, or a plain number for a quantity without unit; SI, inside [low, high].
  [[nodiscard]] double quantity(const char* key, const char* unit, const char* example, double low, double high) {
    const Document& value = at(key, example);
    double si = 0.0;
    if (value.is_number() && std::string_view(unit) == "1") {
      si = value.get<double>();
    } else if (value.is_string()) {
      const Quantity parsed = parse_quantity(value.get<std::string>(), {unit, example}, {file_, where(key)});
      if (parsed.uncertainty)
        fail(key, shown(value) + " has its uncertainty inside", "the value alone; \"uncertainty\" is a key of its own");
      si = parsed.value;
    } else {
      fail(key, shown(value), example);
    }
    if (!(si >= low && si <= high)) {
      fail(key, shown(value) + " is outside the limits",
           number_text(low) + " to " + number_text(high) +
               (std::string_view(unit) == "1" ? "" : std::string(" ") + unit));
    }
    return si;
  }

  /// Object with value, uncertainty and source.
  [[nodiscard]] Property property(const char* key, const char* unit, const char* example, double low, double high) {
    Reader inner(at(key, R"({"value": ..., "uncertainty": ..., "source": ...})"), file_, where(key));
    Property out;
    out.value = inner.quantity("value", unit, example, low, high);
    out.relative_sd = inner.quantity("uncertainty", "1", "5 %", 0.0, 10.0);
    out.source = inner.text("source");
    out.origin = Origin::library;
    inner.finish();
    return out;
  }
  [[nodiscard]] std::optional<Property> optional_property(const char* key, const char* unit, const char* example,
                                                          double low, double high) {
    if (!has(key)) return std::nullopt;
    return property(key, unit, example, low, high);
  }

  template <class Each>
  void list(const char* key, const Each& each) {
    if (!has(key)) return;
    const Document& array = object_.at(key);
    if (!array.is_array()) fail(key, shown(array), "a list [...]");
    std::size_t index = 0;
    for (const Document& item : array) each(item, where(key) + "[" + std::to_string(index++) + "]");
  }

  /// Unknown keys are errors, with the nearest known one.
  void finish() const {
    for (const auto& [key, value] : object_.items()) {
      if (known_.contains(key)) continue;
      std::vector<std::string_view> candidates(known_.begin(), known_.end());
      const std::string near = nearest_word(key, candidates);
      throw InputError(file_, key_text(where(key.c_str())), "is not a key of this record",
                       near.empty() ? "see docs/properties.md" : "perhaps \"" + near + "\"");
    }
  }

  [[noreturn]] void fail(const char* key, const std::string& found, const std::string& allowed) const {
    throw InputError(file_, where(key), found, allowed);
  }
  [[nodiscard]] std::string where(const char* key) const {
    if (*key == '\0') return path_;
    return path_.empty() ? key : path_ + "." + key;
  }
  [[nodiscard]] const std::string& file() const { return file_; }

 private:
  const Document& object_;
  std::string file_;
  std::string path_;
  std::set<std::string, std::less<>> known_;
};

double exposure_concentration(Reader& reader, double molar_mass) {
  const Document& value = reader.at("concentration", "\"10 mg/m3\" or \"2 ppm\"");
  if (!value.is_string()) reader.fail("concentration", shown(value), "\"10 mg/m3\" or \"2 ppm\"");
  const std::string text = value.get<std::string>();
  // ppm by volume at 25 degC and 101.325 kPa
  if (text.size() > 3 && text.substr(text.size() - 3) == "ppm") {
    const double ppm =
        parse_quantity(text.substr(0, text.size() - 3), {"1", "2"}, {reader.file(), reader.where("concentration")})
            .value;
    return ppm * 1e-6 * model::kStandardAtmosphere_Pa * molar_mass /
           (model::kGasConstant_J_mol_K * model::kReferenceTemperature_K);
  }
  return reader.quantity("concentration", "kg/m3", "10 mg/m3", 0.0, 100.0);
}

model::Solvent read_solvent(const Document& object, const std::string& file, const std::string& path) {
  Reader r(object, file, path);
  model::Solvent s;
  s.id = r.text("id");
  s.name = r.text("name");
  s.cas = r.optional_text("cas");
  s.molar_mass = r.property("molar_mass", "kg/mol", "119.38 g/mol", 1e-3, 1.0);
  s.density_25 = r.property("density_25", "kg/m3", "1480 kg/m3", 300.0, 4000.0);
  s.density_slope = r.property("density_slope", "kg/m3/K", "-1.9 kg/m3/K", -10.0, 0.0);
  s.viscosity_25 = r.property("viscosity_25", "Pa s", "0.54 mPa s", 1e-5, 10.0);
  s.viscosity_energy = r.property("viscosity_energy", "J/mol", "7.4 kJ/mol", 0.0, 1e5);
  s.surface_tension_25 = r.property("surface_tension_25", "N/m", "26.7 mN/m", 1e-3, 0.2);
  s.surface_tension_slope = r.property("surface_tension_slope", "N/m/K", "-0.13 mN/m/K", -1e-3, 0.0);
  s.heat_capacity = r.property("heat_capacity", "J/kg/K", "960 J/kg/K", 100.0, 1e4);
  s.vapour_heat_capacity = r.property("vapour_heat_capacity", "J/kg/K", "550 J/kg/K", 100.0, 1e4);
  s.thermal_conductivity = r.property("thermal_conductivity", "W/m/K", "0.117 W/m/K", 0.01, 10.0);
  r.list("antoine", [&](const Document& item, const std::string& at) {
    Reader a(item, file, at);
    const std::string form = a.text("form");
    if (form != "log10(p/Pa) = a - b/(T/K + c)") a.fail("form", in_quotes(form), "\"log10(p/Pa) = a - b/(T/K + c)\"");
    model::Solvent::Antoine set;
    set.a = a.number("a");
    set.b = a.number("b");
    set.c = a.number("c");
    set.t_min_K = a.quantity("t_min", "K", "250 K", 50.0, 1000.0);
    set.t_max_K = a.quantity("t_max", "K", "350 K", 50.0, 1000.0);
    set.relative_sd = a.quantity("uncertainty", "1", "2 %", 0.0, 10.0);
    set.source = a.text("source");
    a.finish();
    s.antoine.push_back(set);
  });
  if (s.antoine.empty()) r.fail("antoine", "is missing", "at least one vapour-pressure set");
  s.boiling_point = r.property("boiling_point", "K", "334.3 K", 200.0, 700.0);
  s.critical_temperature = r.property("critical_temperature", "K", "536 K", 250.0, 1200.0);
  s.latent_heat_25 = r.property("latent_heat_25", "J/kg", "262 kJ/kg", 1e4, 1e7);
  s.diffusivity_air_25 = r.property("diffusivity_air_25", "m2/s", "0.09 cm2/s", 1e-7, 1e-3);
  s.glass_transition = r.property("glass_transition", "K", "106 K", 20.0, 300.0);
  s.water_miscible = r.flag("water_miscible");
  s.water_miscibility_note = r.optional_text("water_miscibility_note");
  r.list("exposure_limits", [&](const Document& item, const std::string& at) {
    Reader e(item, file, at);
    model::ExposureLimit limit;
    limit.mass_concentration_kg_m3 = exposure_concentration(e, s.molar_mass.value);
    limit.kind = e.text("kind");
    limit.body = e.text("body");
    limit.country = e.optional_text("country");
    limit.date = e.text("date");
    limit.source = e.text("source");
    e.finish();
    s.exposure_limits.push_back(limit);
  });
  s.lower_flammability = r.optional_property("lower_flammability", "1", "2.5 %", 0.0, 1.0);
  s.upper_flammability = r.optional_property("upper_flammability", "1", "13 %", 0.0, 1.0);
  s.flash_point = r.optional_property("flash_point", "K", "13 degC", 100.0, 600.0);
  s.hazard_note = r.text("hazard_note");
  r.finish();
  return s;
}

model::Polymer read_polymer(const Document& object, const std::string& file, const std::string& path) {
  Reader r(object, file, path);
  model::Polymer p;
  p.id = r.text("id");
  p.name = r.text("name");
  p.density = r.property("density", "kg/m3", "1190 kg/m3", 300.0, 5000.0);
  p.glass_transition = r.property("glass_transition", "K", "378 K", 100.0, 900.0);
  p.heat_capacity = r.property("heat_capacity", "J/kg/K", "1400 J/kg/K", 100.0, 1e4);
  p.entanglement_molar_mass = r.property("entanglement_molar_mass", "kg/mol", "10 kg/mol", 0.1, 1000.0);
  p.entanglement_convention = r.text("entanglement_convention");
  p.surface_tension = r.optional_property("surface_tension", "N/m", "41 mN/m", 1e-3, 0.2);
  p.melting_point = r.optional_property("melting_point", "K", "342 K", 200.0, 900.0);
  p.heat_of_fusion = r.optional_property("heat_of_fusion", "J/kg", "140 kJ/kg", 1e3, 1e6);
  p.repeat_molar_mass = r.optional_property("repeat_molar_mass", "kg/mol", "100 g/mol", 1e-3, 10.0);
  p.thermal_expansion_melt = r.optional_property("thermal_expansion_melt", "K-1", "5.7e-4 K-1", 0.0, 1e-2);
  r.finish();
  return p;
}

model::Pair read_pair(const Document& object, const std::string& file, const std::string& path) {
  Reader r(object, file, path);
  model::Pair p;
  p.polymer = r.text("polymer");
  p.solvent = r.text("solvent");
  p.soluble = r.flag("soluble");
  p.note = r.optional_text("note");
  if (r.has("mark_houwink")) {
    Reader m(r.at("mark_houwink", "an object"), file, r.where("mark_houwink"));
    model::Pair::MarkHouwink law;
    law.exponent = m.number("exponent");
    if (!(law.exponent >= 0.4 && law.exponent <= 2.0)) m.fail("exponent", number_text(law.exponent), "0.4 to 2");
    // Tabulated for [eta] in dL/g with M in g/mol; here [eta] in m3/kg with M in kg/mol.
    const double k_m3_kg = m.quantity("k", "m3/kg", "4.8e-5 dL/g", 1e-12, 1.0);
    law.k_m3_kg = k_m3_kg * std::pow(1000.0, law.exponent);
    law.temperature_K = m.quantity("temperature", "K", "25 degC", 200.0, 500.0);
    law.m_min_kg_mol = m.has("m_min") ? m.quantity("m_min", "kg/mol", "50 kg/mol", 0.0, 1e5) : 0.0;
    law.m_max_kg_mol = m.has("m_max") ? m.quantity("m_max", "kg/mol", "1000 kg/mol", 0.0, 1e5) : 0.0;
    law.relative_sd = m.quantity("uncertainty", "1", "10 %", 0.0, 10.0);
    law.source = m.text("source");
    m.finish();
    p.mark_houwink = law;
  }
  p.martin_constant = r.optional_property("martin_constant", "1", "0.35", 0.01, 3.0);
  p.flory_huggins_chi = r.optional_property("flory_huggins_chi", "1", "0.45", -2.0, 3.0);
  if (r.has("diffusion")) {
    Reader d(r.at("diffusion", "an object"), file, r.where("diffusion"));
    d.list("points", [&](const Document& item, const std::string& at) {
      const bool good =
          item.is_array() && item.size() == 3 && item[0].is_number() && item[1].is_number() && item[2].is_number();
      if (!good) throw InputError(file, at, shown(item), "[solvent mass fraction, log10(D / (cm2/s)), T / K]");
      model::Pair::DiffusionPoint point{item[0].get<double>(), std::pow(10.0, item[1].get<double>()) * 1e-4,
                                        item[2].get<double>()};
      if (!(point.solvent_mass_fraction > 0.0 && point.solvent_mass_fraction < 1.0) || !(point.temperature_K > 150.0)) {
        throw InputError(file, at, shown(item), "0 < mass fraction < 1, T above 150 K");
      }
      p.diffusion.push_back(point);
    });
    p.diffusion_source = d.text("source");
    d.finish();
  }
  r.finish();
  return p;
}

}  // namespace

void add_materials_text(model::Library& library, std::string_view text, const std::string& name) {
  const Document document = parse_document(text, name);
  check_format_version(document, "whorl_materials", "a materials file", name);
  Reader top(document, name, "");
  static_cast<void>(top.has("whorl_materials"));
  model::Library added = library;  // nothing changes unless the whole file is good
  top.list("solvents", [&](const Document& item, const std::string& at) {
    added.solvents.push_back(read_solvent(item, name, at));
  });
  top.list("polymers", [&](const Document& item, const std::string& at) {
    added.polymers.push_back(read_polymer(item, name, at));
  });
  top.list("pairs",
           [&](const Document& item, const std::string& at) { added.pairs.push_back(read_pair(item, name, at)); });
  top.finish();
  for (std::size_t i = library.pairs.size(); i < added.pairs.size(); ++i) {
    const std::string at = "pairs[" + std::to_string(i - library.pairs.size()) + "]";
    const auto known = [&](bool found, const std::string& key, const std::string& id, const char* kind) {
      if (found) return;
      throw InputError(name, at + "." + key,
                       "no " + std::string(kind) + " " + in_quotes(id) + " in the library or in this file",
                       "the id of a known " + std::string(kind));
    };
    known(added.polymer(added.pairs[i].polymer) != nullptr, "polymer", added.pairs[i].polymer, "polymer");
    known(added.solvent(added.pairs[i].solvent) != nullptr, "solvent", added.pairs[i].solvent, "solvent");
  }
  library = std::move(added);
}

void add_materials_file(model::Library& library, const std::string& path) {
  add_materials_text(library, read_text_file(path), path);
}

const model::Library& built_in_library() {
  static const model::Library library = [] {
    model::Library read;
    for (const BuiltinFile& file : builtin_files()) add_materials_text(read, file.text(), std::string(file.name));
    return read;
  }();
  return library;
}

}  // namespace whorl::io
