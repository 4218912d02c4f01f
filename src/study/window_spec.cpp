#include "whorl/study/window_spec.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <tuple>

#include "io/unit_text.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/magnitudes.hpp"
#include "whorl/study/usual_plane.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kDiameterExample = R"("1 um..3 um", "..3 um", "1 um.." or "2 um ± 0.3 um")";
constexpr const char* kClassWords = "any of continuous, beaded, drops, wet-landing, separated by commas";
constexpr const char* kLandingWords = "dry, firm, tacky, wet (separated by commas) or any";
constexpr std::size_t kMostSlices = 64;

std::vector<std::string> words(const std::string& text) {
  std::vector<std::string> list;
  std::size_t start = 0;
  while (start <= text.size()) {
    const auto comma = std::min(text.find(',', start), text.size());
    list.push_back(std::string(io::trimmed(std::string_view(text).substr(start, comma - start))));
    start = comma + 1;
  }
  return list;
}

std::vector<model::FibreClass> parse_classes(const std::string& text, const std::string& file,
                                             const std::string& where) {
  using model::FibreClass;
  std::vector<FibreClass> classes;
  for (const auto& word : words(text)) {
    bool known = false;
    for (const auto c : {FibreClass::continuous, FibreClass::beaded, FibreClass::drops, FibreClass::wet_landing}) {
      if (word != to_string(c)) continue;
      classes.push_back(c);
      known = true;
    }
    if (!known) throw InputError(file, where, io::in_quotes(word), kClassWords);
  }
  return classes;
}

std::vector<model::Landing> parse_landings(const std::string& text, const std::string& file, const std::string& where) {
  using model::Landing;
  if (io::trimmed(text) == "any") return {};
  std::vector<Landing> landings;
  for (const auto& word : words(text)) {
    bool known = false;
    for (const auto l : {Landing::dry, Landing::firm, Landing::tacky, Landing::wet}) {
      if (word != to_string(l)) continue;
      landings.push_back(l);
      known = true;
    }
    if (!known) throw InputError(file, where, io::in_quotes(word), kLandingWords);
  }
  return landings;
}

double positive(const std::string& text, const io::QuantityKind& kind, const std::string& file,
                const std::string& where) {
  const double value = io::parse_quantity(text, kind, {file, where}).value;
  if (!(value > 0.0))
    throw InputError(file, where, io::in_quotes(text), "more than zero, e.g. \"" + std::string(kind.example) + '"');
  return value;
}

// A text, or a list of texts joined by commas.
std::string words_of(const Json& value, const std::string& file, const std::string& where, const char* allowed) {
  if (value.is_string()) return value.get<std::string>();
  if (value.is_array() && !value.empty() &&
      std::all_of(value.begin(), value.end(), [](const Json& entry) { return entry.is_string(); })) {
    std::string text;
    for (const auto& entry : value) text += (text.empty() ? "" : ", ") + entry.get<std::string>();
    return text;
  }
  throw InputError(file, where, std::string("a JSON ") + value.type_name(), allowed);
}

const io::Key& key_named(const std::string& name, const std::string& file, const std::string& where) {
  if (const io::Key* key = io::find_key(name)) return *key;
  throw InputError(file, where, "no numeric key " + io::in_quotes(name),
                   "any numeric key of a case; nearest: " + io::nearest_key(name));
}

// A difference in the unit of the key: "50 rpm", "2 K" for a temperature, "1 point" for a key in percent, "0.1".
double parse_error(const io::Key& key, const std::string& text, const std::string& file, const std::string& where) {
  const std::string stated = std::string(io::trimmed(text));
  // The reader of "±" knows all of this; a value of 1 in the key's own unit stands in front.
  const std::string front = key.display_unit == "1" ? "1" : "1 " + std::string(key.display_unit);
  io::QuantityKind kind = io::kind_of(key);
  if (stated.empty()) throw InputError(file, where, "no value", "e.g. \"" + std::string(key.example) + '"');
  const auto quantity = io::parse_quantity(front + " ± " + stated, kind, {file, where});
  const double error = quantity.uncertainty ? quantity.uncertainty->stated / key.display_scale : 0.0;
  if (!(error > 0.0)) throw InputError(file, where, io::in_quotes(text), "more than zero");
  return error;
}

bool is_plane_axis(const SweptKey& swept) { return swept.axis.levels.empty() && swept.axis.points == 0; }

}  // namespace

std::pair<std::optional<double>, std::optional<double>> parse_diameter_range(const std::string& text,
                                                                             const std::string& file,
                                                                             const std::string& where) {
  const io::QuantityKind kind{"m", "1 um..3 um"};
  std::optional<double> low, high;
  const auto dots = text.find("..");
  if (dots == std::string::npos) {
    const io::Quantity quantity = io::parse_quantity(text, kind, {file, where});
    if (!quantity.uncertainty) throw InputError(file, where, io::in_quotes(text) + " is no range", kDiameterExample);
    low = quantity.value - quantity.uncertainty->stated;
    high = quantity.value + quantity.uncertainty->stated;
  } else {
    const std::string first = std::string(io::trimmed(std::string_view(text).substr(0, dots)));
    const std::string second = std::string(io::trimmed(std::string_view(text).substr(dots + 2)));
    if (!first.empty()) low = io::parse_quantity(first, kind, {file, where}).value;
    if (!second.empty()) high = io::parse_quantity(second, kind, {file, where}).value;
  }
  if ((!low && !high) || (low && !(*low > 0.0)) || (high && !(*high > 0.0)) || (low && high && !(*low < *high)))
    throw InputError(file, where, io::in_quotes(text),
                     std::string("two different ends above zero, the smaller first: ") + kDiameterExample);
  constexpr double kFinest_m = 2e-8;  // common practice, no source
  constexpr double kCoarsest_m = 5e-4;
  if ((high && *high < kFinest_m) || (low && *low > kCoarsest_m))
    note_magnitude("wanted diameter: " + io::in_quotes(text) +
                   " is far from what is spun (0.02 to 500 um); was it meant in um?");
  return {low, high};
}

WindowWishes parse_window_block(const Json& block, const std::string& file) {
  WindowWishes wishes;
  static const std::vector<std::string> known{"diameter",         "class", "landing",
                                              "least_throughput", "over",  "setting_error"};
  if (!block.is_object()) throw InputError(file, "window", std::string("a JSON ") + block.type_name(), "an object");
  for (const auto& [name, value] : block.items()) {
    const std::string where = "window." + name;
    if (name == "diameter") wishes.diameter = words_of(value, file, where, kDiameterExample);
    else if (name == "class") wishes.fibre_class = words_of(value, file, where, kClassWords);
    else if (name == "landing") wishes.landing = words_of(value, file, where, kLandingWords);
    else if (name == "least_throughput") wishes.least_throughput = words_of(value, file, where, "\"100 g/h\"");
    else if (name == "over") wishes.over = parse_vary_object(value, file, where);
    else if (name == "setting_error") {
      if (!value.is_object())
        throw InputError(file, where, std::string("a JSON ") + value.type_name(), "an object with one entry per key");
      for (const auto& [key, error] : value.items()) {
        const std::string here = where + "." + key;
        wishes.setting_errors.emplace_back(
            &key_named(key, file, here), error.is_number() ? error.dump() : words_of(error, file, here, "\"50 rpm\""));
      }
    } else {
      std::string allowed;
      for (const auto& word : known) allowed += (allowed.empty() ? "" : ", ") + word;
      throw InputError(file, where, "unknown key", allowed);
    }
  }
  // What is wrong in it is said before anything runs.
  if (wishes.diameter) (void)parse_diameter_range(*wishes.diameter, file, "window.diameter");
  if (wishes.fibre_class) (void)parse_classes(*wishes.fibre_class, file, "window.class");
  if (wishes.landing) (void)parse_landings(*wishes.landing, file, "window.landing");
  return wishes;
}

WindowWishes parse_window_options(const WindowOptionTexts& arguments) {
  WindowWishes wishes;
  wishes.diameter = arguments.diameter;
  wishes.fibre_class = arguments.fibre_class;
  wishes.landing = arguments.landing;
  wishes.least_throughput = arguments.least_throughput;
  for (const auto& text : arguments.over) wishes.over.push_back(parse_vary(text, "--over"));
  for (const auto& text : arguments.setting_error) {
    const auto equals = text.find('=');
    if (equals == std::string::npos)
      throw InputError("", "--setting-error", io::in_quotes(text) + " has no \"=\"", "\"rotation_speed=50 rpm\"");
    wishes.setting_errors.emplace_back(
        &key_named(std::string(io::trimmed(std::string_view(text).substr(0, equals))), "", "--setting-error"),
        std::string(io::trimmed(std::string_view(text).substr(equals + 1))));
  }
  return wishes;
}

std::pair<double, std::string> usual_setting_error(const io::Key& key, double middle) {
  const std::string_view path = key.path;
  const std::string practice = "usual one assumed: common practice, no source";
  if (path == "operation.rotation_speed") return {0.01 * middle, "1 % of the middle of the range; " + practice};
  if (path == "operation.gas_overpressure")
    return {0.005, "0.005 MPa, a gauge of class 1 to 1.6 on 0.4 MPa; " + practice};
  if (path == "operation.collection_distance") return {2.0, "2 mm; " + practice};
  if (path == "operation.charge_volume") return {0.02 * middle, "2 % of the middle of the range; " + practice};
  if (path == "solution.concentration")
    return {0.01 * middle, "1 % of the middle of the range (weighing, losses of solvent); " + practice};
  if (path == "vessel.orifice_diameter") return {0.02 * middle, "2 % of the middle of the range; " + practice};
  if (path == "room.temperature" || path == "solution.temperature") return {1.0, "1 K; " + practice};
  if (path == "room.relative_humidity") return {3.0, "3 points; " + practice};
  return {0.01 * std::abs(middle), "1 % of the middle of the range; " + practice};
}

namespace {

// What is wanted: by the options, else by the block.
WindowTarget target_of(const WindowWishes& block, const WindowWishes& options, const std::string& name) {
  WindowTarget target;
  const auto either = [&](const std::optional<std::string>& option,
                          const std::optional<std::string>& stated) -> const std::optional<std::string>& {
    return option ? option : stated;
  };
  const auto place = [&](const std::optional<std::string>& option, const char* flag, const char* key) {
    return option ? std::pair<std::string, std::string>{"", flag} : std::pair<std::string, std::string>{name, key};
  };
  if (const auto& text = either(options.diameter, block.diameter)) {
    const auto [where_file, where] = place(options.diameter, "--diameter", "window.diameter");
    std::tie(target.least_diameter_m, target.most_diameter_m) = parse_diameter_range(*text, where_file, where);
  }
  if (const auto& text = either(options.fibre_class, block.fibre_class)) {
    const auto [where_file, where] = place(options.fibre_class, "--class", "window.class");
    target.classes = parse_classes(*text, where_file, where);
  }
  if (const auto& text = either(options.landing, block.landing)) {
    const auto [where_file, where] = place(options.landing, "--landing", "window.landing");
    target.landings = parse_landings(*text, where_file, where);
  } else if (target.classes == std::vector{model::FibreClass::wet_landing}) {
    target.landings.clear();  // asked for a wet landing: dry cannot be meant
  }
  if (const auto& text = either(options.least_throughput, block.least_throughput)) {
    const auto [where_file, where] = place(options.least_throughput, "--least-throughput", "window.least_throughput");
    target.least_throughput_kg_s = positive(*text, {"kg/s", "100 g/h"}, where_file, where);
  }
  return target;
}

// Setting errors: usual ones, those of the case, of the block, of the options.
void state_errors(const WindowWishes& block, const WindowWishes& options, const io::CaseFile& file, WindowSpec& spec) {
  const std::string& name = file.name;
  for (PlaneAxis& axis : spec.plane) {
    const double middle = 0.5 * (axis.from + axis.to);
    std::tie(axis.setting_error, axis.error_source) = usual_setting_error(*axis.key, middle);
    if (const auto stated = file.uncertainties.find(std::string(axis.key->path));
        stated != file.uncertainties.end() && stated->second.sd > 0.0) {
      axis.setting_error = io::tidy(stated->second.sd / axis.key->display_scale);
      axis.error_source = "± of the case";
    }
    const auto take = [&](const WindowWishes& wishes, const std::string& where_file, const std::string& where,
                          const char* source) {
      for (const auto& [key, text] : wishes.setting_errors) {
        if (key != axis.key) continue;
        axis.setting_error = io::tidy(
            parse_error(*key, text, where_file, where + (where_file.empty() ? "" : "." + std::string(key->path))));
        axis.error_source = source;
      }
    };
    take(block, name, "window.setting_error", "window block of the case");
    take(options, "", "--setting-error", "--setting-error");
    if (!(axis.setting_error > 0.0)) axis.setting_error = 0.01 * (axis.to - axis.from);
  }
  for (const WindowWishes* wishes : {&block, &options})
    for (const auto& [key, text] : wishes->setting_errors) {
      if (key == spec.plane[0].key || key == spec.plane[1].key) continue;
      if (wishes == &options)
        throw InputError(
            "", "--setting-error", std::string(key->path) + " does not span the plane",
            "one of " + std::string(spec.plane[0].key->path) + ", " + std::string(spec.plane[1].key->path));
    }
}

}  // namespace

WindowSpec window_spec(const WindowWishes& block, const WindowWishes& options, const io::CaseFile& file) {
  WindowSpec spec;
  const std::string& name = file.name;
  spec.target = target_of(block, options, name);
  const auto& over = options.over.empty() ? block.over : options.over;
  const std::string over_place = options.over.empty() ? "window.over" : "--over";
  const std::string over_file = options.over.empty() ? name : std::string();
  std::vector<PlaneAxis> plane;
  for (const SweptKey& swept : over) {
    const std::string where = over_place + " " + std::string(swept.key->path);
    for (const PlaneAxis& other : plane)
      if (other.key == swept.key) throw InputError(over_file, where, "named twice", "each key once");
    for (const SweptKey& other : spec.slices)
      if (other.key == swept.key) throw InputError(over_file, where, "named twice", "each key once");
    if (!is_plane_axis(swept)) {
      spec.slices.push_back(swept);
      continue;
    }
    const engine::Axis& axis = swept.axis;
    const bool logarithmic = axis.spacing == engine::Spacing::logarithmic;
    if (!(axis.from < axis.to))
      throw InputError(over_file, where, "a range whose ends are equal or turned round", "the smaller end first");
    if (logarithmic && !(axis.from > 0.0))
      throw InputError(over_file, where, "a logarithmic range from 0", "an end above zero, or linear spacing");
    if (swept.key->whole)
      throw InputError(over_file, where, "whole numbers have no boundary between them",
                       "a list, e.g. \"orifice_count=12, 24, 48\"");
    plane.push_back({swept.key, axis.from, axis.to, logarithmic, 0.0, {}, false});
  }
  if (plane.size() > 2)
    throw InputError(over_file, over_place, std::to_string(plane.size()) + " ranges without a number of points",
                     "two of them span the plane; give the others levels, e.g. \"...:3\" or a list");
  for (const UsualRange& usual : usual_plane(file.input)) {
    if (plane.size() == 2) break;
    const auto is_key = [&](const auto& other) { return other.key == usual.key; };
    if (std::any_of(plane.begin(), plane.end(), is_key) || std::any_of(spec.slices.begin(), spec.slices.end(), is_key))
      continue;
    plane.push_back({usual.key, usual.from, usual.to, false, 0.0, {}, true});
  }
  if (plane.size() != 2)
    throw InputError(over_file, over_place, "fewer than two ranges",
                     "two ranges without a number of points, e.g. \"rotation_speed=4000 rpm..12000 rpm\"");
  std::size_t count = 1;
  for (const SweptKey& slice : spec.slices) {
    const engine::Axis& axis = slice.axis;
    const std::uint64_t levels = engine::grid_size(std::vector<engine::Axis>{axis});
    if (axis.levels.empty() && (axis.points < 2 || axis.from == axis.to ||
                                (axis.spacing == engine::Spacing::logarithmic && !(axis.from > 0.0 && axis.to > 0.0))))
      throw InputError(over_file, over_place + " " + std::string(slice.key->path),
                       "a range without two different levels",
                       "two points or more between different ends, above zero where logarithmic");
    if (levels == 0 || levels > kMostSlices || count * levels > kMostSlices)
      throw InputError(over_file, over_place + " " + std::string(slice.key->path), "more than 64 planes",
                       "fewer levels");
    count *= static_cast<std::size_t>(levels);
  }
  // The axis named first is drawn across; the usual order where both are usual.
  std::copy(plane.begin(), plane.end(), spec.plane.begin());

  state_errors(block, options, file, spec);
  return spec;
}

}  // namespace whorl::study
