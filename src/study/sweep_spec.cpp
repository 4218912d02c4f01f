#include "whorl/study/sweep_spec.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

#include "io/unit_text.hpp"
#include "io/usual_ranges.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/magnitudes.hpp"

namespace whorl::study {
namespace {

using Json = nlohmann::ordered_json;  // keeps the order in which keys are written: it decides the order of the grid
using engine::DesignKind;
using engine::Spacing;

constexpr std::size_t kMaxListLength = 100'000;
constexpr const char* kVaryExample =
    R"("rotation_speed=4000 rpm..12000 rpm:9", "...:9 log", or a list "gas_overpressure=0 MPa, 0.1 MPa")";
constexpr const char* kDesigns = "grid, latin-hypercube or sobol";
constexpr const char* kSpacings = "linear or log";

const io::Key* key_named(const std::string& name, const std::string& file, const std::string& where) {
  if (const io::Key* key = io::find_key(name)) return key;
  throw InputError(file, where.empty() ? name : where + "." + name, "no numeric key " + io::in_quotes(name),
                   "any numeric key of a case; nearest: " + io::nearest_key(name));
}

// Text -> value in the display unit, free of the rounding of the unit conversion.
double display_value(const io::Key& key, const std::string& text, const std::string& file) {
  const double si = io::parse_value(key, text, file);
  if (const auto note = io::magnitude_note(key, text, si)) note_magnitude(*note);
  return engine::round_15_digits(io::to_display(key, si));
}

Spacing parse_spacing(const std::string& text, const std::string& file, const std::string& key) {
  if (text == "linear") return Spacing::linear;
  if (text == "log") return Spacing::logarithmic;
  throw InputError(file, key, io::in_quotes(text), kSpacings);
}

std::uint64_t parse_count(const std::string& text, const std::string& file, const std::string& key) {
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc() || end != text.data() + text.size() || value == 0 ||
      value > engine::kMaxDesignPoints)
    throw InputError(file, key, io::in_quotes(text) + " is not a number of points",
                     "a whole number from 1 to 1000000000");
  return value;
}

// JSON values of a quantity: a string with a unit, or a bare number for keys without one.
std::string value_text(const Json& value, const std::string& file, const std::string& where) {
  if (value.is_string()) return value.get<std::string>();
  if (value.is_number()) return value.dump();
  throw InputError(file, where, std::string("a JSON ") + value.type_name(), "a quantity such as \"12000 rpm\"");
}

std::uint64_t json_count(const Json& value, std::uint64_t low, const std::string& file, const std::string& where) {
  if (value.is_number_unsigned()) {
    const auto number = value.get<std::uint64_t>();
    if (number >= low && number <= engine::kMaxDesignPoints) return number;
  }
  throw InputError(
      file, where,
      value.is_structured() ? value.type_name() : value.dump(-1, ' ', true, Json::error_handler_t::replace),
      "a whole number from " + std::to_string(low) + " to 1000000000");
}

void refuse_unknown(const Json& object, const std::vector<std::string>& known, const std::string& file,
                    const std::string& where) {
  for (const auto& [name, unused] : object.items()) {
    if (std::find(known.begin(), known.end(), name) != known.end()) continue;
    std::string allowed;
    for (const auto& word : known) allowed += (allowed.empty() ? "" : ", ") + word;
    throw InputError(file, where + "." + name, "unknown key", allowed);
  }
}

}  // namespace

SweptKey parse_vary(const std::string& text, const std::string& option) {
  const auto equals = text.find('=');
  if (equals == std::string::npos) throw InputError("", option, io::in_quotes(text) + " has no \"=\"", kVaryExample);
  const std::string name = std::string(io::trimmed(std::string_view(text).substr(0, equals)));
  const std::string values = std::string(io::trimmed(std::string_view(text).substr(equals + 1)));
  const io::Key* key = key_named(name, "", option);
  if (values.empty()) throw InputError("", option + " " + name, "no values", kVaryExample);

  SweptKey swept{key, {}};
  swept.axis.whole = key->whole;
  const auto dots = values.find("..");
  if (dots == std::string::npos) {
    std::size_t start = 0;
    while (start <= values.size()) {
      const auto comma = std::min(values.find(',', start), values.size());
      swept.axis.levels.push_back(
          display_value(*key, std::string(io::trimmed(std::string_view(values).substr(start, comma - start))), option));
      if (swept.axis.levels.size() > kMaxListLength)
        throw InputError("", option + " " + name, "a list of more than 100000 values", "a shorter list or a range");
      start = comma + 1;
    }
    return swept;
  }

  std::string rest = std::string(io::trimmed(std::string_view(values).substr(dots + 2)));
  for (const char* word : {"log", "linear"}) {
    const std::string ending = std::string(" ") + word;
    if (rest.size() > ending.size() && rest.compare(rest.size() - ending.size(), ending.size(), ending) == 0) {
      swept.axis.spacing = parse_spacing(word, "", option);
      rest = std::string(io::trimmed(std::string_view(rest).substr(0, rest.size() - ending.size())));
      break;
    }
  }
  if (const auto colon = rest.rfind(':'); colon != std::string::npos) {
    swept.axis.points =
        parse_count(std::string(io::trimmed(std::string_view(rest).substr(colon + 1))), "", option + " " + name);
    rest = std::string(io::trimmed(std::string_view(rest).substr(0, colon)));
  }
  swept.axis.from = display_value(*key, std::string(io::trimmed(std::string_view(values).substr(0, dots))), option);
  swept.axis.to = display_value(*key, rest, option);
  return swept;
}

DesignKind parse_design(const std::string& text, const std::string& file, const std::string& key) {
  for (const DesignKind kind : {DesignKind::grid, DesignKind::latin_hypercube, DesignKind::sobol})
    if (text == engine::to_string(kind)) return kind;
  throw InputError(file, key, io::in_quotes(text), kDesigns);
}

std::vector<SweptKey> parse_vary_object(const Json& vary, const std::string& file, const std::string& path) {
  std::vector<SweptKey> keys;
  if (!vary.is_object())
    throw InputError(file, path, std::string("a JSON ") + vary.type_name(), "an object with one entry per varied key");
  for (const auto& [name, value] : vary.items()) {
    const io::Key* key = key_named(name, file, path);
    const std::string where = path + "." + name;
    SweptKey swept{key, {}};
    swept.axis.whole = key->whole;
    if (value.is_array()) {
      if (value.empty() || value.size() > kMaxListLength)
        throw InputError(file, where, "a list of " + std::to_string(value.size()) + " values", "1 to 100000 values");
      for (const auto& entry : value)
        swept.axis.levels.push_back(display_value(*key, value_text(entry, file, where), file));
    } else if (value.is_object()) {
      refuse_unknown(value, {"from", "to", "points", "spacing"}, file, where);
      for (const char* end : {"from", "to"})
        if (!value.contains(end))
          throw InputError(file, where, std::string("no \"") + end + '"', "a range with \"from\" and \"to\"");
      swept.axis.from = display_value(*key, value_text(value["from"], file, where + ".from"), file);
      swept.axis.to = display_value(*key, value_text(value["to"], file, where + ".to"), file);
      if (value.contains("points")) swept.axis.points = json_count(value["points"], 1, file, where + ".points");
      if (value.contains("spacing")) {
        if (!value["spacing"].is_string())
          throw InputError(file, where + ".spacing", value["spacing"].type_name(), kSpacings);
        swept.axis.spacing = parse_spacing(value["spacing"].get<std::string>(), file, where + ".spacing");
      }
    } else {
      throw InputError(file, where, std::string("a JSON ") + value.type_name(),
                       R"(a list ["0 MPa", "0.1 MPa"] or a range {"from": "0 MPa", "to": "0.2 MPa", "points": 5})");
    }
    keys.push_back(std::move(swept));
  }
  return keys;
}

SweepSpec parse_sweep_block(const Json& block, const std::string& file) {
  SweepSpec spec;
  if (!block.is_object())
    throw InputError(file, "sweep", std::string("a JSON ") + block.type_name(),
                     "an object with \"vary\", \"design\", \"points\", \"seed\"");
  refuse_unknown(block, {"vary", "design", "points", "seed"}, file, "sweep");
  if (block.contains("design")) {
    if (!block["design"].is_string()) throw InputError(file, "sweep.design", block["design"].type_name(), kDesigns);
    spec.design = parse_design(block["design"].get<std::string>(), file, "sweep.design");
  }
  if (block.contains("points")) spec.points = json_count(block["points"], 1, file, "sweep.points");
  if (block.contains("seed")) spec.seed = json_count(block["seed"], 0, file, "sweep.seed");
  if (!block.contains("vary")) return spec;

  spec.keys = parse_vary_object(block["vary"], file, "sweep.vary");
  return spec;
}

SweepSpec combine(std::optional<SweepSpec> block, const SpecOverrides& overrides, const std::string& file) {
  SweepSpec spec;
  if (overrides.vary.empty() && block) spec = std::move(*block);
  for (const auto& text : overrides.vary) spec.keys.push_back(parse_vary(text));
  if (overrides.design) spec.design = parse_design(*overrides.design, "", "--design");
  if (overrides.points) spec.points = parse_count(std::to_string(*overrides.points), "", "--points");
  if (overrides.seed) spec.seed = *overrides.seed;
  if (spec.keys.empty())
    throw InputError(file, "sweep", "nothing to vary",
                     std::string("a \"sweep\" block in the case, or --vary ") + kVaryExample);
  return spec;
}

engine::Design make_design(const SweepSpec& spec, const std::string& file) {
  const bool grid = spec.design == DesignKind::grid;
  std::vector<engine::Axis> axes;
  for (std::size_t k = 0; k < spec.keys.size(); ++k) {
    const auto& [key, axis] = spec.keys[k];
    const std::string where(key->path);
    for (std::size_t other = 0; other < k; ++other)
      if (spec.keys[other].key == key) throw InputError(file, where, "varied twice", "each key once");
    axes.push_back(axis);
    if (!axis.levels.empty()) continue;
    if (axis.from == axis.to) throw InputError(file, where, "both ends of the range are equal", "two different ends");
    if (axis.spacing == Spacing::logarithmic && !(axis.from > 0.0 && axis.to > 0.0))
      throw InputError(file, where, "a logarithmic range that touches or crosses 0 " + std::string(key->display_unit),
                       "two ends above zero, or linear spacing");
    if (grid && axis.points < 2)
      throw InputError(file, where, axis.points == 0 ? "a range without a number of points" : "a range of one point",
                       "2 points or more for a range of a grid, e.g. \"...:9\" or \"points\": 9");
    if (!grid && axis.points != 0)
      throw InputError(
          file, where, "a number of points for one key",
          std::string("no such number in a ") + engine::to_string(spec.design) + " design: --points sets the total");
    if (grid && axis.whole) {
      const double step = (axis.to - axis.from) / static_cast<double>(axis.points - 1);
      if (axis.spacing == Spacing::linear && step != std::floor(step))
        throw InputError(file, where, "steps of " + io::format_number(step),
                         "a range whose steps are whole numbers, or a list");
      if (axis.spacing == Spacing::logarithmic)
        throw InputError(file, where, "a logarithmic range of whole numbers", "linear spacing, or a list");
    }
  }
  if (grid && spec.points != 0)
    throw InputError(file, "points", "a total number of points for a grid",
                     "points per range for a grid; --points for latin-hypercube and sobol");
  if (grid && engine::grid_size(axes) == 0)
    throw InputError(file, "sweep", "a grid of more than 1000000000 points", "fewer points");
  if (!grid && spec.points == 0)
    throw InputError(file, "points",
                     std::string("a ") + engine::to_string(spec.design) + " design without a number of points",
                     "--points N or \"points\": N");
  return engine::Design(spec.design, std::move(axes), spec.points, spec.seed);
}

std::vector<model::CaseInput> cases_of(const SweepSpec& spec, const engine::Design& design,
                                       const model::CaseInput& base) {
  std::vector<model::CaseInput> out;
  std::vector<double> values(spec.keys.size());
  for (std::uint64_t i = 0; i < design.size(); ++i) {
    design.point(i, values);
    out.push_back(base);
    for (std::size_t k = 0; k < values.size(); ++k) {
      const io::Key& key = *spec.keys[k].key;
      key.set(out.back(), io::from_display(key, values[k]));
    }
  }
  return out;
}

std::string axis_text(const SweptKey& swept, DesignKind design) {
  const engine::Axis& axis = swept.axis;
  std::string text = std::string(swept.key->column) + ": ";
  if (!axis.levels.empty()) {
    text += "list";
    for (std::size_t i = 0; i < axis.levels.size(); ++i)
      text += (i == 0 ? " " : ", ") + io::format_number(axis.levels[i]);
    return text;
  }
  text += io::format_number(axis.from) + " to " + io::format_number(axis.to);
  if (design == DesignKind::grid) text += " in " + std::to_string(axis.points) + " points";
  return text + ", " + engine::to_string(axis.spacing);
}

}  // namespace whorl::study
