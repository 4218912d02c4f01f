#include "whorl/io/case_file.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <numbers>

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/unit_text.hpp"
#include "io/usual_ranges.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::io {
namespace {

constexpr std::size_t kLongestPath = 1000;
constexpr std::size_t kMostMaterialFiles = 20;

/// Is `path` a section, that is, the front part of a known key?
bool is_section(std::string_view path) {
  const auto inside = [&](std::string_view key) {
    return key.size() > path.size() && key.substr(0, path.size()) == path && key[path.size()] == '.';
  };
  return std::any_of(numeric_keys().begin(), numeric_keys().end(), [&](const Key& key) { return inside(key.path); });
}

const Key* exact_key(std::string_view path) {
  const Key* key = find_key(path);
  return key != nullptr && key->path == path ? key : nullptr;
}

const WordKey* exact_word_key(std::string_view path) {
  const WordKey* key = find_word_key(path);
  return key != nullptr && key->path == path ? key : nullptr;
}

[[noreturn]] void unknown_key(const std::string& full_path, const std::string& file) {
  const std::string path = key_text(full_path);
  static constexpr std::array<std::string_view, 11> kTop{"whorl_case", "purpose", "solution", "vessel",
                                                         "operation",  "room",    "model",    "numerics",
                                                         "materials",  "sweep",   "window"};
  if (path.find('.') == std::string::npos) {
    if (const std::string near = nearest_word(path, kTop); !near.empty())
      throw InputError(file, path, "unknown key", "nearest known key is '" + near + "'");
  }
  throw InputError(file, path, "unknown key", "nearest known key is '" + nearest_key(path) + "'");
}

std::string allowed_words(const WordKey& key) {
  std::string allowed;
  for (const Word& word : key.words) allowed += (allowed.empty() ? "" : ", ") + std::string(word.word);
  return allowed;
}

void check_word(const WordKey& key, const std::string& text, const std::string& file) {
  std::vector<std::string_view> words;
  for (const Word& word : key.words) words.push_back(word.word);
  if (std::find(words.begin(), words.end(), text) != words.end()) return;
  const std::string near = nearest_word(text, words);
  throw InputError(file, std::string(key.path),
                   "unknown word " + in_quotes(text) + (near.empty() ? "" : " (did you mean \"" + near + "\"?)"),
                   allowed_words(key));
}

void note_unusual(CaseFile& file, const std::optional<std::string>& note) {
  if (!note) return;
  file.notes.push_back(*note);
  file.unusual.push_back(*note);
}

// A number as stated, in a file or laid over it.
struct StatedNumber {
  double value{};  // SI
  std::optional<model::ConcentrationBasis> basis{};
  bool basis_defaulted{};
  std::optional<Uncertainty> uncertainty{};
};

StatedNumber stated_number(CaseFile& file, const Key& key, const std::string& text, const Where& where,
                           std::string_view example = {}) {
  QuantityKind kind = kind_of(key);
  if (!example.empty()) kind.example = example;
  const Quantity quantity = parse_quantity(text, kind, where);
  check_limits(key, quantity.value, in_quotes(text), where.file);
  note_unusual(file, magnitude_note(key, text, quantity.value));
  return {quantity.value, {}, false, quantity.uncertainty};
}

StatedNumber stated_concentration(CaseFile& file, const std::string& text, const Where& where) {
  const Key& key = *find_key("solution.concentration");
  const StatedConcentration stated = parse_concentration(text, where);
  check_limits(key, stated.concentration.value, in_quotes(text), where.file);
  note_unusual(file, magnitude_note(key, text, stated.concentration.value));
  return {stated.concentration.value, stated.concentration.basis, stated.basis_defaulted, stated.uncertainty};
}

void lay_stated(CaseFile& file, const Key& key, const StatedNumber& stated) {
  const auto before = key.get(file.input);
  if (const auto known = file.uncertainties.find(std::string(key.path)); known != file.uncertainties.end() && before)
    for (double* spread : {&known->second.sd, &known->second.stated})
      *spread = spread_of_changed(key, *spread, *before, stated.value);
  key.set(file.input, stated.value);
  if (stated.basis) {
    file.input.solution.concentration.basis = *stated.basis;
    file.concentration_basis_defaulted = stated.basis_defaulted;
  }
  if (stated.uncertainty) file.uncertainties[std::string(key.path)] = *stated.uncertainty;
}

class Reader {
 public:
  Reader(CaseFile& out, std::string folder) : out_(out), folder_(std::move(folder)) {}

  void read(const Document& document) {
    check_format_version(document, "whorl_case", "a case file of whorl", out_.name);
    for (const auto& [name, value] : document.items()) {
      if (name == "whorl_case") continue;
      if (name == "sweep" || name == "window") {
        if (!value.is_object())
          throw InputError(out_.name, name, shown(value) + " is no object", "an object: see docs");
        (name == "sweep" ? out_.sweep_json : out_.window_json) = value.dump();
      } else if (name == "materials") {
        read_materials(value);
      } else {
        read_value(name, value);
      }
    }
    check_required();
    out_.tier_stated = std::find(given_.begin(), given_.end(), "model.tier") != given_.end();
  }

 private:
  void read_value(const std::string& path, const Document& value) {
    if (const Key* key = exact_key(path); key != nullptr) {
      given_.push_back(path);
      read_number(*key, value);
    } else if (const WordKey* word = exact_word_key(path); word != nullptr) {
      given_.push_back(path);
      read_word(*word, value);
    } else if (is_section(path)) {
      if (!value.is_object())
        throw InputError(out_.name, path, shown(value) + " is no object", "an object, e.g. {" + example_in(path) + "}");
      for (const auto& [name, inner] : value.items()) read_value(path + "." + name, inner);
    } else {
      unknown_key(path, out_.name);
    }
  }

  static std::string example_in(const std::string& section) {
    for (const Key& key : numeric_keys()) {
      if (key.path.substr(0, section.size() + 1) != section + ".") continue;
      return in_quotes(key.path.substr(section.size() + 1)) + ": " + in_quotes(key.example);
    }
    return "...";
  }

  void read_number(const Key& key, const Document& value) {
    const std::string path(key.path);
    const Where where{out_.name, path};
    if (value.is_string()) {
      const std::string text(value.get_ref<const std::string&>());
      lay_stated(out_, key,
                 path == "solution.concentration" ? stated_concentration(out_, text, where)
                                                  : stated_number(out_, key, text, where));
      return;
    }
    if (path == "solution.concentration")
      throw InputError(out_.name, path, shown(value) + " has no basis",
                       "a text with the basis, e.g. " + in_quotes(key.example));
    const std::string found = shown(value);
    if (!value.is_number())
      throw InputError(out_.name, path, found + " is no quantity",
                       (key.si_unit == "1" ? "a number, e.g. " + std::string(key.example)
                                           : "a text with a unit, e.g. " + in_quotes(key.example)) +
                           (value.is_null() ? ", or leave the key out" : ""));
    if (key.si_unit != "1")
      throw InputError(out_.name, path, found + " has no unit", "a text with a unit, e.g. " + in_quotes(key.example));
    const double number = one_spelling(value.get<double>(), kind_of(key));
    check_limits(key, number, found, out_.name);
    note_unusual(out_, magnitude_note(key, found, number));
    key.set(out_.input, number);
  }

  void read_word(const WordKey& key, const Document& value) {
    const std::string path(key.path);
    if (key.words.empty()) {
      key.set(out_.input, trimmed(text_of(value, key.longest, out_.name, path)));
      return;
    }
    if (!value.is_string()) throw InputError(out_.name, path, shown(value) + " is no word", allowed_words(key));
    const auto& text = value.get_ref<const std::string&>();
    check_word(key, text, out_.name);
    key.set(out_.input, text);
  }

  void read_materials(const Document& value) {
    const std::string allowed = "a list of file names, e.g. [\"my_materials.json\"]";
    if (!value.is_array()) throw InputError(out_.name, "materials", shown(value) + " is no list", allowed);
    if (value.size() > kMostMaterialFiles)
      throw InputError(out_.name, "materials", "has " + std::to_string(value.size()) + " entries", "at most 20 files");
    for (std::size_t i = 0; i < value.size(); ++i) {
      const std::string key = "materials[" + std::to_string(i) + "]";
      const std::string name = text_of(value[i], kLongestPath, out_.name, key);
      const std::string path = (std::filesystem::path(folder_) / name).string();
      std::string text;
      try {
        text = read_text_file(path, Named::in_a_file);
      } catch (const InputError& error) {
        throw InputError(out_.name, key, path + " " + error.found(), error.allowed());
      }
      out_.material_digests += "materials " + sha256_hex(sorted_text(parse_document(text, path))) + "\n";
      out_.material_files.push_back(path);
    }
  }

  void check_required() const {
    const auto given = [&](std::string_view path) {
      return std::find(given_.begin(), given_.end(), path) != given_.end();
    };
    const auto missing = [&](std::string_view path, std::string_view example) {
      throw InputError(out_.name, std::string(path), "key is missing", "e.g. " + in_quotes(example));
    };
    for (const WordKey& key : word_keys())
      if (key.required && !given(key.path)) missing(key.path, key.example);
    for (const Key& key : numeric_keys())
      if (key.required && !given(key.path)) missing(key.path, key.example);
  }

  CaseFile& out_;
  std::string folder_;
  std::vector<std::string> given_;
};

std::string shown_value(std::string_view path, double value_si) {
  return value_text(*find_key(path), value_si);
}

void check_geometry(const model::CaseInput& input, const std::string& file) {
  const model::VesselInput& vessel = input.vessel;
  const double radius = 0.5 * vessel.orifice_diameter_m;
  const double height = vessel.orifice_height_m.value_or(0.5 * vessel.height_m);
  if (vessel.orifice_diameter_m > vessel.height_m)
    throw InputError(
        file, "vessel.orifice_diameter",
        shown_value("vessel.orifice_diameter", vessel.orifice_diameter_m) + " is wider than the vessel is high",
        "at most vessel.height = " + shown_value("vessel.height", vessel.height_m));
  // Rounding of "1 mm" - "0.5 mm" must not refuse an orifice that just touches the floor.
  constexpr double kRounding = 1e-12;
  if (height < radius * (1.0 - kRounding) || height + radius > vessel.height_m * (1.0 + kRounding))
    throw InputError(file, "vessel.orifice_height",
                     shown_value("vessel.orifice_height", height) + " puts part of the orifice outside the bore",
                     shown_value("vessel.orifice_height", radius) + " to " +
                         shown_value("vessel.orifice_height", vessel.height_m - radius) +
                         " (half an orifice from floor and lid)");
  if (vessel.lid_opening_diameter_m && *vessel.lid_opening_diameter_m >= vessel.bore_diameter_m)
    throw InputError(file, "vessel.lid_opening_diameter",
                     shown_value("vessel.lid_opening_diameter", *vessel.lid_opening_diameter_m) + " leaves no lid",
                     "less than vessel.bore_diameter = " + shown_value("vessel.bore_diameter", vessel.bore_diameter_m));
  const double wall_area = std::numbers::pi * vessel.bore_diameter_m * vessel.height_m;
  const double room_for = wall_area / (vessel.orifice_diameter_m * vessel.orifice_diameter_m);
  if (vessel.orifice_count > room_for)
    throw InputError(file, "vessel.orifice_count",
                     shown_value("vessel.orifice_count", vessel.orifice_count) + " orifices do not fit into the wall",
                     "at most " + number_text(std::floor(room_for)) + " of this diameter");
  const double bore_volume =
      0.25 * std::numbers::pi * vessel.bore_diameter_m * vessel.bore_diameter_m * vessel.height_m;
  if (input.operation.charge_volume_m3 > bore_volume)
    throw InputError(file, "operation.charge_volume",
                     shown_value("operation.charge_volume", input.operation.charge_volume_m3) +
                         " is more than the vessel holds",
                     "at most " + shown_value("operation.charge_volume", bore_volume));
}

void check_solution(const model::CaseInput& input, const std::string& file) {
  using model::ConcentrationBasis;
  using model::ShearModel;
  const model::SolutionInput& solution = input.solution;
  const model::Concentration& concentration = solution.concentration;
  const bool fraction =
      concentration.basis == ConcentrationBasis::mass || concentration.basis == ConcentrationBasis::volume;
  if (fraction && concentration.value > 0.95)
    throw InputError(file, "solution.concentration",
                     in_quotes(concentration_text(concentration)) + " leaves no solvent",
                     "at most 95 " + basis_text(concentration.basis));
  const model::MeasuredProperties& measured = solution.measured;
  const std::string section = "solution.measured.";
  const auto need = [&](const std::optional<double>& value, const std::string& name, const char* shear_model) {
    if (value) return;
    const Key* key = find_key(section + name);
    throw InputError(file, section + name, "key is missing: shear_model \"" + std::string(shear_model) + "\" needs it",
                     "e.g. " + in_quotes(key->example));
  };
  switch (measured.shear_model) {
    case ShearModel::automatic:
    case ShearModel::newtonian: break;
    case ShearModel::power_law:
      need(measured.power_law_consistency_Pa_sn, "power_law_consistency", "power-law");
      need(measured.shear_power_index, "shear_power_index", "power-law");
      break;
    case ShearModel::carreau_yasuda:
      need(measured.shear_time_constant_s, "shear_time_constant", "carreau-yasuda");
      need(measured.shear_power_index, "shear_power_index", "carreau-yasuda");
      need(measured.shear_yasuda_exponent, "shear_yasuda_exponent", "carreau-yasuda");
      break;
    case ShearModel::cross:
      need(measured.shear_time_constant_s, "shear_time_constant", "cross");
      need(measured.shear_power_index, "shear_power_index", "cross");
      break;
  }
  if (measured.infinite_shear_viscosity_Pa_s && measured.zero_shear_viscosity_Pa_s &&
      *measured.infinite_shear_viscosity_Pa_s >= *measured.zero_shear_viscosity_Pa_s)
    throw InputError(
        file, section + "infinite_shear_viscosity",
        shown_value(section + "infinite_shear_viscosity", *measured.infinite_shear_viscosity_Pa_s) +
            " is not below the viscosity at rest",
        "less than zero_shear_viscosity = " +
            shown_value(section + "zero_shear_viscosity", *measured.zero_shear_viscosity_Pa_s));
}

// "+-" of measured properties, for the model: relative.
void note_doubts(CaseFile& file) {
  static constexpr std::string_view kMeasured = "solution.measured.";
  for (const auto& [path, uncertainty] : file.uncertainties) {
    if (!path.starts_with(kMeasured)) continue;
    const Key* key = find_key(path);
    const auto value = key == nullptr ? std::nullopt : key->get(file.input);
    if (value && *value != 0.0) {
      file.input.solution.measured.relative_sd[path.substr(kMeasured.size())] = uncertainty.sd / std::abs(*value);
    }
  }
}

void renew_digest(CaseFile& file) {
  file.canonical_text = canonical_text(file.input);
  for (const auto& [path, uncertainty] : file.uncertainties)
    file.canonical_text +=
        path + " sd = " + number_text(uncertainty.sd, 17) + " " + to_string(uncertainty.distribution) + "\n";
  file.canonical_text += file.material_digests;
  file.hash = sha256_hex(file.canonical_text);
}

void note_defaults(CaseFile& file) {
  const model::CaseInput& input = file.input;
  if (file.concentration_basis_defaulted)
    file.notes.push_back("solution.concentration: \"% w/v\" taken as " +
                         basis_text(input.solution.concentration.basis) +
                         " (bench convention); write \"% w/v of solution\" for the formal one");
  if (!input.solution.temperature_K)
    file.notes.push_back("solution.temperature: not given, charge at room temperature (" +
                         shown_value("room.temperature", input.room.temperature_K) + ")");
  if (!input.vessel.orifice_height_m)
    file.notes.push_back("vessel.orifice_height: not given, half the vessel height (" +
                         shown_value("vessel.height", 0.5 * input.vessel.height_m) + ")");
  if (input.operation.rotation_speed_rad_s == 0.0 && input.operation.gas_overpressure_Pa == 0.0)
    file.notes.push_back("operation: neither rotation nor gas overpressure");
  const model::MeasuredProperties& measured = input.solution.measured;
  const auto unused = [&](const std::optional<double>& value, const char* name, const char* word) {
    if (value)
      file.notes.push_back("solution.measured." + std::string(name) + ": no effect with shear_model \"" + word + "\"");
  };
  if (measured.shear_model == model::ShearModel::newtonian) {
    unused(measured.shear_time_constant_s, "shear_time_constant", "newtonian");
    unused(measured.shear_power_index, "shear_power_index", "newtonian");
    unused(measured.shear_yasuda_exponent, "shear_yasuda_exponent", "newtonian");
    unused(measured.infinite_shear_viscosity_Pa_s, "infinite_shear_viscosity", "newtonian");
    unused(measured.power_law_consistency_Pa_sn, "power_law_consistency", "newtonian");
  } else if (measured.shear_model == model::ShearModel::power_law) {
    unused(measured.shear_time_constant_s, "shear_time_constant", "power-law");
    unused(measured.shear_yasuda_exponent, "shear_yasuda_exponent", "power-law");
  } else if (measured.shear_model == model::ShearModel::carreau_yasuda) {
    unused(measured.power_law_consistency_Pa_sn, "power_law_consistency", "carreau-yasuda");
  } else if (measured.shear_model == model::ShearModel::cross) {
    unused(measured.shear_yasuda_exponent, "shear_yasuda_exponent", "cross");
    unused(measured.power_law_consistency_Pa_sn, "power_law_consistency", "cross");
  }
  const model::CaseInput standard;
  for (const Key& key : numeric_keys()) {
    if (key.path.substr(0, 6) != "model.") continue;
    const double value = *key.get(input);
    if (value != *key.get(standard))
      file.notes.push_back(std::string(key.path) + ": " + value_text(key, value) + " instead of " +
                           value_text(key, *key.get(standard)));
  }
}

}  // namespace

void validate(const model::CaseInput& input, const std::string& file) {
  for (const Key& key : numeric_keys()) {
    const std::optional<double> value = key.get(input);
    const bool inside =
        value && *value >= key.minimum && *value <= key.maximum && (!key.whole || *value == std::floor(*value));
    if (value && !inside) check_limits(key, *value, value_text(key, *value), file);
  }
  check_geometry(input, file);
  check_solution(input, file);
}

std::string canonical_text(const model::CaseInput& input) {
  std::string text = "whorl_case 1\n";
  for (const WordKey& key : word_keys())
    if (key.path != "purpose") text += std::string(key.path) + " = " + key.get(input) + "\n";
  text += "solution.concentration basis = " + basis_text(input.solution.concentration.basis) + "\n";
  for (const Key& key : numeric_keys())
    if (const std::optional<double> value = key.get(input); value)
      text += std::string(key.path) + " = " + number_text(*value, 17) + "\n";
  return text;
}

namespace {

// "20 %", "20 % ± 1 points": a concentration without a basis keeps the one of the case.
bool names_no_basis(const std::string& text) {
  std::string plain = plain_text(text);
  for (const char* sign : {"±", "+-", "+/-"})
    if (const auto at = plain.find(sign, 1); at != std::string::npos) plain.erase(at);
  const auto unit = plain.find_first_not_of("+-.0123456789eE");
  const std::string_view rest =
      unit == std::string::npos ? std::string_view() : trimmed(std::string_view(plain).substr(unit));
  return rest.empty() || rest == "%";
}

// One setting of a numeric key. A note when it changes something; empty: it does not.
std::string lay_number_over(CaseFile& file, const Key& key, const std::string& text, const std::string& option) {
  const std::string path(key.path);
  const bool concentration = key.path == "solution.concentration";
  const bool bare = concentration && names_no_basis(text);
  const std::size_t notes = file.notes.size();
  const std::size_t unusual = file.unusual.size();
  const Where where{option, path};
  const StatedNumber stated = concentration && !bare
                                  ? stated_concentration(file, text, where)
                                  : stated_number(file, key, text, where, concentration ? "20 %" : "");
  const auto known = file.uncertainties.find(path);
  const bool same_spread =
      !stated.uncertainty || (known != file.uncertainties.end() && known->second.sd == stated.uncertainty->sd &&
                              known->second.distribution == stated.uncertainty->distribution);
  const bool same_basis = !stated.basis || *stated.basis == file.input.solution.concentration.basis;
  if (key.get(file.input) == stated.value && same_spread && same_basis) {
    file.notes.resize(notes);
    file.unusual.resize(unusual);
    return {};
  }
  lay_stated(file, key, stated);
  std::string note =
      concentration ? concentration_text(file.input.solution.concentration) : value_text(key, stated.value);
  if (const auto laid = file.uncertainties.find(path); laid != file.uncertainties.end()) {
    note += " ± " + number_text(laid->second.stated / key.display_scale) +
            (key.display_unit == "1" ? "" : " " + std::string(key.display_unit));
    if (laid->second.distribution != Distribution::normal)
      note += std::string(" (") + to_string(laid->second.distribution) + ')';
  }
  return note;
}

}  // namespace

void apply_settings(CaseFile& file, const std::vector<std::string>& settings, const std::string& option) {
  bool changed = false;
  for (const std::string& setting : settings) {
    const auto equals = setting.find('=');
    const std::string example = "\"rotation_speed=9000 rpm\" or \"model.tier=inertial\"";
    if (equals == std::string::npos) throw InputError("", option, in_quotes(setting) + " has no \"=\"", example);
    const std::string name(trimmed(std::string_view(setting).substr(0, equals)));
    const std::string text(trimmed(std::string_view(setting).substr(equals + 1)));
    if (const Key* key = find_key(name)) {
      const std::string note = lay_number_over(file, *key, text, option);
      if (note.empty()) continue;
      file.notes.push_back("set by " + option + ": " + std::string(key->path) + " = " + note);
      changed = true;
    } else if (const WordKey* word = find_word_key(name)) {
      if (word->words.empty()) {
        (void)text_of(Document(text), word->longest, option, std::string(word->path));
      } else {
        check_word(*word, text, option);
      }
      file.tier_stated = file.tier_stated || word->path == "model.tier";
      if (word->get(file.input) == text) continue;
      word->set(file.input, text);
      file.notes.push_back("set by " + option + ": " + std::string(word->path) + " = " + text);
      changed = changed || word->path != "purpose";  // no part of a case's digest
    } else if (const std::string candidates = keys_meant(name); !candidates.empty()) {
      throw InputError("", option, in_quotes(name) + " may mean more than one key", candidates);
    } else {
      throw InputError("", option, "no key " + in_quotes(name), "any key of a case; nearest: " + nearest_key(name));
    }
  }
  if (!changed) return;
  validate(file.input, file.name);
  note_doubts(file);
  renew_digest(file);
}

CaseFile read_case_text(std::string_view text, const std::string& name, const std::string& folder) {
  CaseFile file;
  file.name = printable(name, Lines::joined);
  Reader reader(file, folder);
  reader.read(parse_document(text, name));
  validate(file.input, name);
  note_doubts(file);
  note_defaults(file);
  renew_digest(file);
  return file;
}

CaseFile read_case_file(const std::string& path) {
  return read_case_text(read_text_file(path), path, std::filesystem::path(path).parent_path().string());
}

}  // namespace whorl::io
