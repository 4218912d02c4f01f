// whorl check: validate case files without running them.
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>
#include <string>
#include <utility>

#include "answer/answer.hpp"
#include "answer/provenance.hpp"
#include "app/commands.hpp"
#include "console/page.hpp"
#include "io/case_schema.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/window_spec.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;
using document::List;
using document::Quantities;
using document::Section;

/// A case with everything that was checked.
struct Checked {
  io::CaseFile file;
  std::optional<study::SweepSpec> sweep;
  std::uint64_t sweep_points{};
};

/// All that `estimate`, `sweep` and `window` would refuse before they compute anything, in their words.
Checked checked(const std::string& path, const study::CaseOverlay& over) {
  study::LoadedCase loaded = study::load_case(path, over);
  study::check_resolves(loaded);
  Checked result;
  if (!loaded.file.sweep_json.empty()) {
    result.sweep = study::combine(study::parse_sweep_block(Json::parse(loaded.file.sweep_json), path), {}, path);
    result.sweep_points = study::make_design(*result.sweep, path).size();
  }
  if (!loaded.file.window_json.empty())
    (void)study::window_spec(study::parse_window_block(Json::parse(loaded.file.window_json), path), {}, loaded.file);
  result.file = std::move(loaded.file);
  return result;
}

/// A case as it was understood: what people read, and the same keys for machines.
Section section_of(const Checked& checked) {
  const io::CaseFile& file = checked.file;
  Quantities values;
  Section uncertainties{{}, "uncertainties"};
  uncertainties.for_machines = true;
  Quantities given;
  for (const io::WordKey& key : io::word_keys()) {
    const std::string text = key.get(file.input);
    if (!text.empty()) given.rows.push_back({"", std::string(key.path), text});
    values.rows.push_back({std::string(key.path), {}, text});
  }
  values.rows.push_back(
      {"concentration_basis", {}, std::string(io::basis_text(file.input.solution.concentration.basis))});
  for (const io::Key& key : io::numeric_keys()) {
    const std::string column(key.column);
    const std::optional<double> value = key.get(file.input);
    const auto spread = file.uncertainties.find(std::string(key.path));
    const bool doubted = spread != file.uncertainties.end();
    if (value) {
      std::string text = key.path == "solution.concentration"
                             ? io::concentration_text(file.input.solution.concentration)
                             : io::value_text(key, *value);
      if (doubted)
        text += " ± " + io::number_text(spread->second.stated / key.display_scale, 4) +
                (key.display_unit == "1"   ? ""
                 : key.display_unit == "%" ? " points"
                                           : " " + std::string(key.display_unit)) +
                " (" + io::to_string(spread->second.distribution) + ")";
      given.rows.push_back({"", std::string(key.path), text});
      values.rows.push_back({column, {}, io::tidy(io::to_display(key, *value))});
    }
    if (doubted)
      uncertainties.blocks.emplace_back(
          Section{{},
                  column,
                  {Quantities{{{"sd", {}, io::tidy(spread->second.sd / key.display_scale)},
                               {"distribution", {}, std::string(io::to_string(spread->second.distribution))}}}}});
  }
  List materials{"materials", {}, {}};
  materials.for_machines = true;
  for (const std::string& path : file.material_files) {
    given.rows.push_back({"", "materials", path});
    materials.items.emplace_back(path);
  }
  Section sweep{{}, "sweep"};
  if (checked.sweep) {
    List axes{"vary", {}, {}};
    axes.for_machines = true;
    const std::string design(engine::to_string(checked.sweep->design));
    given.rows.push_back({"", "sweep", design + ", " + std::to_string(checked.sweep_points) + " points"});
    for (const study::SweptKey& key : checked.sweep->keys) {
      axes.items.emplace_back(study::axis_text(key, checked.sweep->design));
      given.rows.push_back({"", "sweep.vary", study::axis_text(key, checked.sweep->design)});
    }
    sweep.blocks = {
        Quantities{{{"design", {}, design}, {"points", {}, static_cast<std::int64_t>(checked.sweep_points)}}}, axes};
    sweep.for_machines = true;
  }
  given.rows.push_back({"", "hash", std::string(answer::short_digest(file.hash))});
  List notes{"notes", "note", {}};
  for (const std::string& note : file.notes) notes.items.emplace_back(note);

  Section section{file.name + ": OK"};
  section.blocks = {Quantities{{{"file", {}, file.name}, {"ok", {}, true}, {"hash", {}, file.hash}}}, given,
                    Section{{}, "values", {values}, false, true}, uncertainties, materials};
  if (checked.sweep) section.blocks.emplace_back(sweep);
  section.blocks.emplace_back(notes);
  return section;
}

/// For machines only: for people the reason goes to the diagnostics.
Section refused(const std::string& path, const InputError& error) {
  Section section{{},
                  "",
                  {Quantities{{{"file", {}, path},
                               {"ok", {}, false},
                               {"key", {}, error.key()},
                               {"found", {}, error.found()},
                               {"allowed", {}, error.allowed()}}}}};
  return section;
}

// Schema and table of keys have one form each, which may be asked for by name, and are not about a case.
void refuse_beside_lists(const CheckOptions& options, document::Format format) {
  const std::string list = options.schema ? "--schema" : "--key-table";
  const std::string form = options.schema ? "json" : "markdown";
  const std::string allowed = list + " alone (it prints " + (options.schema ? "JSON" : "Markdown") + ")";
  if (options.schema && options.key_table) throw InputError("", list, "together with --key-table", "one of the two");
  if (!options.cases.empty())
    throw InputError("", list, "together with " + options.cases.front(), allowed + ", or the case without it");
  if (options.form.fragment) throw InputError("", list, "together with --fragment", allowed);
  const bool asked = options.json || !options.form.format.empty();
  if (asked && format != document::format_of(form))
    throw InputError("", list, "together with " + (options.json ? "--json" : "--format " + options.form.format),
                     allowed);
}

}  // namespace

int run_check(const CheckOptions& options, const console::Streams& streams) {
  const document::Format format = answer::answer_format(options.json, options.form);
  if (options.schema || options.key_table) {
    refuse_beside_lists(options, format);
    streams.out << (options.schema ? io::case_schema_text() : io::key_table_markdown());
    return console::kDone;
  }
  if (options.cases.empty()) throw InputError("", "", "no case file given", "whorl check CASE...");
  int exit = console::kDone;
  Section cases{{}, "cases", {}, true};
  for (const std::string& path : options.cases) {
    try {
      cases.blocks.emplace_back(section_of(checked(path, options.overlay)));
    } catch (const InputError& error) {
      exit = console::kBadInput;
      streams.err << console::message_text(std::string("whorl: ") + error.what()) << '\n';
      if (format == document::Format::json) cases.blocks.emplace_back(refused(path, error));
    }
  }
  if (cases.blocks.empty()) return exit;
  document::Text title("Case files");
  if (cases.blocks.size() == 1) title = std::exchange(std::get<Section>(cases.blocks.front()).title, {});
  answer::write_answer({title, {cases}}, format, options.form.fragment, {},
               streams.out);  // every case has its digest beside it
  return exit;
}

}  // namespace whorl::app
