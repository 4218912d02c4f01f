#include "explorer/explorer.hpp"

#include <exception>
#include <nlohmann/json.hpp>

#include "engine/estimate.hpp"
#include "io/case_file.hpp"
#include "io/cautions.hpp"
#include "io/estimate_json.hpp"
#include "io/keys.hpp"
#include "io/materials_file.hpp"
#include "io/outputs.hpp"
#include "io/profile_table.hpp"
#include "model/error.hpp"

namespace whorl::explorer {
namespace {

using Json = nlohmann::ordered_json;

std::string text_of(const Json& json) { return json.dump(-1, ' ', false, Json::error_handler_t::replace); }

template <class Work>
std::string guarded(const Work& work) {
  try {
    return text_of(work());
  } catch (const InputError& error) {
    return text_of({{"error", {{"key", error.key()}, {"found", error.found()}, {"allowed", error.allowed()}, {"text", error.what()}}}});
  } catch (const std::exception& error) {
    return text_of({{"error", {{"key", ""}, {"found", error.what()}, {"allowed", ""}, {"text", error.what()}}}});
  }
}

struct Loaded {
  io::CaseFile file;
  model::Library library;
};

Loaded load(std::string_view case_text, const std::string& name) {
  Loaded loaded{io::read_case_text(case_text, name), io::built_in_library()};
  for (const auto& file : loaded.file.material_files) io::add_materials_file(loaded.library, file);
  io::apply_settings(loaded.file, {"model.tier=inertial"}, "the explorer");  // what follows a slider at once; --set on the command line
  return loaded;
}

// What the page draws, column by column: all columns of all stations would take longer to write than the jet to solve.
bool is_drawn(std::string_view column) {
  return column == "x_mm" || column == "y_mm" || column == "arc_length_mm" || column == "diameter_um";
}

Json profile_json(const std::vector<model::JetStation>& profile) {
  Json columns = Json::object();
  for (const auto& column : io::profile_columns()) {
    if (!is_drawn(column.column)) continue;
    Json values = Json::array();
    for (const auto& station : profile) values.push_back((column.get(station) - column.offset) * column.scale);
    columns[std::string(column.column)] = std::move(values);
  }
  return columns;
}

}  // namespace

std::string describe(std::string_view case_text, const std::string& name) {
  return guarded([&] {
    const Loaded loaded = load(case_text, name);
    const auto& solution = loaded.file.input.solution;
    Json keys = Json::object();
    for (const io::Key& key : io::numeric_keys()) {
      Json row{{"unit", key.display_unit},
               {"minimum", io::tidy(io::to_display(key, key.minimum))},
               {"maximum", io::tidy(io::to_display(key, key.maximum))},
               {"whole", key.whole},
               {"limits", io::limits_text(key)},
               {"description", key.description}};
      if (key.path == "solution.concentration") row["unit"] = io::basis_text(solution.concentration.basis);
      if (const auto value = key.get(loaded.file.input)) row["value"] = io::tidy(io::to_display(key, *value));
      keys[std::string(key.path)] = row;
    }
    Json outputs = Json::object();
    for (const io::Output& output : io::outputs()) {
      outputs[std::string(output.column)] = {{"symbol", output.symbol}, {"unit", output.unit}, {"description", output.description}};
    }
    const model::Solvent* solvent = loaded.library.solvent(solution.solvent);
    return Json{{"program", "whorl"},
                {"version", WHORL_VERSION},
                {"case", name},
                {"purpose", loaded.file.input.purpose},
                {"polymer", solution.polymer},
                {"solvent", solvent != nullptr ? solvent->name : solution.solvent},
                {"molar_mass_kg_mol", solution.molar_mass_kg_mol},
                {"case_sha256", loaded.file.hash},
                {"keys", keys},
                {"outputs", outputs}};
  });
}

std::string estimate(std::string_view case_text, const std::string& name, const Extent& extent) {
  return guarded([&] {
    const Loaded loaded = load(case_text, name);
    const model::CaseInput& input = loaded.file.input;
    engine::EstimateOptions options;
    options.keep_profile = extent.profile;
    options.run_distribution = extent.whole_run;
    options.air_variants = extent.whole_run;
    const model::Estimate e = engine::estimate(input, loaded.library, options);

    Json json{{"case_sha256", loaded.file.hash}, {"status", to_string(e.status)}, {"reason", e.reason}, {"tier", e.tier},
              {"drying", e.drying_model}, {"whole_run", extent.whole_run}};
    json["collector_radius_mm"] =
        1e3 * (0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m + input.operation.collection_distance_m);
    json["vessel_radius_mm"] = 1e3 * (0.5 * input.vessel.bore_diameter_m + input.vessel.wall_thickness_m);
    if (e.status == model::Status::done) {
      json["class"] = to_string(e.fibre_class);
      json["landing"] = to_string(e.landing);
      json["decided_by"] = e.decided_by;
    }
    json["results"] = io::results_json(e);
    json["steps"] = e.jet.work.steps;
    Json variants = Json::array();
    for (const auto& variant : e.air_variants) variants.push_back(io::variant_json(variant));
    json["air_variants"] = std::move(variants);
    if (e.gas.run_mean_with_m > 0.0) json["run_mean_with_gas_um"] = 1e6 * e.gas.run_mean_with_m;
    Json warnings = Json::array();
    for (const auto& warning : e.warnings) warnings.push_back({{"code", warning.code}, {"text", warning.text}});
    json["warnings"] = std::move(warnings);
    json["notes"] = loaded.file.notes;
    const model::Solvent* solvent = loaded.library.solvent(input.solution.solvent);
    json["cautions"] = io::short_cautions(input, solvent);
    json["full_cautions"] = io::full_cautions(input, solvent);
    if (extent.profile && e.status == model::Status::done) json["profile"] = profile_json(e.jet.profile);
    return json;
  });
}

}  // namespace whorl::explorer
