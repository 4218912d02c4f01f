// whorl recipe: the sheet for the bench: weigh-out, run, air, gas energy, rotor.
#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <nlohmann/json.hpp>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/provenance.hpp"
#include "answer/recipe_sheet.hpp"
#include "app/commands.hpp"
#include "console/page.hpp"
#include "document/from_io.hpp"
#include "io/sheet.hpp"
#include "run/progress.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/recipe.hpp"

namespace whorl::app {
namespace {

double option_value(const std::string& text, const char* option, const char* unit, const char* example, double least,
                    double most, bool above = false) {
  const io::Where where{"", std::string("--") + option};
  const double value = io::parse_quantity(text, {unit, example}, where).value;
  if (value > most || value < least || (above && value == least)) {
    throw InputError("", where.key, '"' + text + '"',
                     (above ? "above " : "") + io::number_text(least) + " to " + io::number_text(most) +
                         (std::strcmp(unit, "1") == 0 ? "" : " " + std::string(unit)) + ", e.g. \"" + example + '"');
  }
  return value;
}

study::RecipeOptions options_of(const RecipeArguments& a) {
  study::RecipeOptions o;
  o.runs = option_value(a.runs, "runs", "1", "3", 1.0, 1000.0);
  if (o.runs != std::floor(o.runs)) throw InputError("", "--runs", '"' + a.runs + '"', "a whole number from 1 to 1000");
  o.allowance = option_value(a.allowance, "allowance", "1", "10 %", 0.0, 5.0);
  o.interval_s = option_value(a.interval, "interval", "s", "30 min", 1.0, 7.0 * 86400.0);
  o.room_volume_m3 = option_value(a.room_volume, "room-volume", "m3", "30 m3", 0.1, 1e5);
  o.air_changes_1_s = option_value(a.air_changes, "air-changes", "s-1", "6 h-1", 0.0, 1.0);
  o.mixing_factor = option_value(a.mixing_factor, "mixing-factor", "1", "3", 1.0, 20.0);
  o.safety_factor = option_value(a.safety_factor, "safety-factor", "1", "4", 1.0, 100.0);
  if (!a.collector_height.empty())
    o.collector_height_m = option_value(a.collector_height, "collector-height", "m", "50 mm", 0.0, 100.0, true);
  o.rotor_material = a.rotor_material;
  return o;
}

std::string country_of(const std::string& text) {
  std::string code = text;
  for (char& c : code) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  if (code == "UK") code = "GB";
  const bool letters = code.size() == 2 && code[0] >= 'A' && code[0] <= 'Z' && code[1] >= 'A' && code[1] <= 'Z';
  if (!text.empty() && !letters)
    throw InputError("", "--country", '"' + text + '"', "two letters, e.g. DE, GB, US, CA, or EU");
  return code;
}

}  // namespace

int run_recipe(const RecipeArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  study::RecipeOptions options = options_of(arguments);
  const std::string country = country_of(arguments.country);
  const study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
  if (!arguments.page.empty()) table::check_target(arguments.page, "--page", table::existing_if(arguments.force));
  study::Recipe recipe;
  try {
    run::Progress progress(run::progress_stream(streams.err));
    options.run_count = progress.run_count();
    recipe = study::make_recipe(loaded, options);
  } catch (const InputError& error) {
    if (error.key() == "rotor-material") throw InputError("", "--rotor-material", error.found(), error.allowed());
    throw InputError(loaded.file.name, error.key(), error.found(), error.allowed());
  }
  const io::Sheet sheet = answer::sheet_of(loaded, recipe, options, country);
  if (!arguments.page.empty())
    table::write_whole_file(arguments.page, "--page", io::sheet_html(sheet), table::existing_if(arguments.force));
  if (format == document::Format::json) {
    nlohmann::ordered_json json = io::sheet_json(sheet);
    answer::put_provenance(json, {answer::basis_of(loaded)});
    json["case"] = loaded.file.name;
    json["case_sha256"] = loaded.file.hash;
    json["status"] = model::to_string(recipe.estimate.status);
    streams.out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  } else if (format == document::Format::html) {
    streams.out << io::sheet_html(sheet);  // the page for printing, with fields to fill in
  } else if (format == document::Format::text) {
    console::Page(streams.out).out() << io::sheet_text(sheet);
  } else {
    answer::write_answer(document::document_of(sheet), format, arguments.form.fragment, {}, streams.out);
  }
  return recipe.estimate.status == model::Status::done ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
