// Budgets and splits: what made the line speed, and why the diameter of one line changed.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "answer/figure_data.hpp"
#include "io/names.hpp"
#include "whorl/model/error.hpp"

namespace whorl::answer {
namespace {

using Json = nlohmann::ordered_json;

}  // namespace

figures::SplitFigure budget_figure(const Json& budget, const std::string& about) {
  figures::SplitFigure figure;
  struct Name {
    const char* key;
    const char* text;
  };
  for (const Name& name :
       {Name{"centrifugal", "rotation"}, Name{"air_drag", "air"}, Name{"gas", "gas of the orifice"},
        Name{"viscous", "viscous pull"}, Name{"elastic", "elastic pull"}, Name{"surface_tension", "surface tension"},
        Name{"gravity", "gravity"}, Name{"solid_constraint", "pull of the solid"}}) {
    const double value = 1e-3 * budget.value(name.key, 0.0);
    if (value != 0.0) figure.parts.push_back({name.text, value, false});
  }
  double largest = 0.0;
  for (const auto& part : figure.parts) largest = std::max(largest, std::abs(part.value));
  std::erase_if(figure.parts,
                [&](const figures::SplitFigure::Part& part) { return std::abs(part.value) < 1e-5 * largest; });
  figure.total = 1e-3 * budget.value("total", 0.0);
  figure.total_name = "together";
  figure.quantity = {"Change of kinetic energy", "", "kJ/kg"};
  if (figure.parts.empty()) figure.parts.push_back({"nothing", 0.0, false});
  figure.title = "What made the line speed";
  figure.about = about;
  return figure;
}

figures::SplitFigure split_figure(const NamedJson& before, const NamedJson& after, const std::string& about) {
  const auto number_at = [](const NamedJson& from, const char* name, const std::string& path) {
    const Json::json_pointer place(path);
    if (!from.json.contains(place) || !from.json.at(place).is_number())
      throw InputError(from.file, "--kind split", std::string("an estimate without ") + name,
                       "two estimates whose jets land as fibre");
    const double value = from.json.at(place).get<double>();
    if (!(value > 0.0))
      throw InputError(from.file, "--kind split", std::string(name) + " that is not positive",
                       "two estimates whose jets land as fibre");
    return value;
  };
  const auto number = [&](const NamedJson& from, const char* name) {
    std::string path = "/results/";
    path += name;
    return number_at(from, name, path);
  };
  const auto ratio = [&](const char* name) { return std::log(number(after, name) / number(before, name)); };
  // Polymer volume per volume of solution: of the density as measured, where it was.
  const auto solids = [&](const NamedJson& from) {
    return number(from, "polymer_mass_fraction") * number(from, "solution_density_kg_m3") /
           number_at(from, "polymer_density", "/properties/polymer_density/value");
  };
  const auto draw = [](const NamedJson& from) { return from.json.at("results").value("draw_factor", 1.0); };
  figures::SplitFigure figure;
  figure.parts.push_back({"throughput", 0.5 * ratio("orifice_flow_mL_min"), false});
  figure.parts.push_back({"polymer content", 0.5 * std::log(solids(after) / solids(before)), false});
  figure.parts.push_back({"line speed", -0.5 * ratio("line_speed_m_s"), false});
  if (draw(before) != draw(after))
    figure.parts.push_back({"excess draw", -0.5 * std::log(draw(after) / draw(before)), false});
  figure.total = ratio("line_diameter_um");
  figure.total_name = "one line";
  figure.quantity = {"Change of ln d_f", "", ""};
  figure.quantity.name = "Change of ln(diameter)";
  figure.title = "Why the diameter of one line changed";
  figure.about = about;
  return figure;
}

figures::SplitFigure split_figure(const Json& explained, const std::string& file) {
  const auto refuse = [&](const std::string& found) {
    throw InputError(file, "--kind split", found,
                     "the output of whorl explain CASE_A CASE_B --json, or of one case with --between");
  };
  if (!explained.contains("split")) refuse("an explanation of one point");
  try {
    const Json& split = explained.at("split");
    if (!split.at("made").get<bool>()) refuse("no split: " + split.value("reason", std::string("no reason given")));
    figures::SplitFigure figure;
    figure.total = split.at("d_ln_diameter").get<double>();
    const auto add = [&](const Json& part, bool inner) {
      const std::string key = part.at("key").get<std::string>();
      const io::PartName* name = io::part_name(key);
      figure.parts.push_back({name == nullptr || name->label.empty() ? key : std::string(name->label),
                              part.at("d_ln_diameter").get<double>(), inner});
    };
    for (const Json& part : split.at("diameter")) {
      const double value = part.at("d_ln_diameter").get<double>();
      const std::string key = part.at("key").get<std::string>();
      if (key == "excess-draw" && value == 0.0) continue;
      add(part, false);
      if (std::abs(value) < 5e-4 || (key != "throughput" && key != "line-speed")) continue;
      const Json& inner = split.at(key == "throughput" ? "throughput" : "line_speed");
      double largest = 0.0;
      for (const Json& one : inner) largest = std::max(largest, std::abs(one.at("d_ln_diameter").get<double>()));
      double shown = 0.0;
      for (const Json& one : inner) {
        const double size = one.at("d_ln_diameter").get<double>();
        if (std::abs(size) < 0.02 * largest) continue;
        add(one, true);
        shown += size;
      }
      // What is too small for a bar of its own, together, so that the inner bars end where the outer one does; left out
      // where it would be no wider than a line.
      if (std::abs(value - shown) > 0.005 * largest) figure.parts.push_back({"all else", value - shown, true});
    }
    figure.total_name = "one line";
    figure.quantity = {"Change of ln(diameter)", "", ""};
    figure.title = "Why the diameter of one line changed";
    figure.about = "from " + explained.at("from").value("name", std::string("A")) + " to " +
                   explained.at("to").value("name", std::string("B"));
    return figure;
  } catch (const Json::exception&) {
    refuse("a damaged explanation");
  }
  return {};
}

}  // namespace whorl::answer
