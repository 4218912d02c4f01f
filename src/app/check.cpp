// whorl check: validate case files without running them.
#include <algorithm>
#include <cstddef>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <ostream>
#include <string>

#include "app/commands.hpp"
#include "app/estimate.hpp"
#include "app/page.hpp"
#include "app/provenance.hpp"
#include "app/sweep_spec.hpp"
#include "app/window_spec.hpp"
#include "engine/setup.hpp"
#include "io/case_file.hpp"
#include "io/case_schema.hpp"
#include "io/keys.hpp"
#include "model/error.hpp"
#include "model/printable.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

std::string padded(std::string_view text, std::size_t width) {
  std::string line(text);
  line.resize(std::max(width, line.size()), ' ');
  return line;
}

/// A case with everything that was checked.
struct Checked {
  io::CaseFile file;
  std::optional<SweepSpec> sweep;
  std::uint64_t sweep_points{};
};

/// All that `estimate`, `sweep` and `window` would refuse before they compute anything, in their words.
Checked checked(const std::string& path) {
  LoadedCase loaded = load_case(path);
  try {
    (void)engine::resolve(loaded.file.input, loaded.library);
  } catch (const InputError& error) {
    throw InputError(path, error.key(), error.found(), error.allowed());  // the model does not know the file
  }
  Checked result;
  if (!loaded.file.sweep_json.empty()) {
    result.sweep = combine(parse_sweep_block(Json::parse(loaded.file.sweep_json), path), {}, path);
    result.sweep_points = make_design(*result.sweep, path).size();
  }
  if (!loaded.file.window_json.empty())
    (void)window_spec(parse_window_block(Json::parse(loaded.file.window_json), path), {}, loaded.file);
  result.file = std::move(loaded.file);
  return result;
}

void print_text(const Checked& checked, std::ostream& out) {
  const io::CaseFile& file = checked.file;
  constexpr std::size_t kWidth = 46;
  out << file.name << ": OK\n";
  for (const io::WordKey& key : io::word_keys())
    if (const std::string text = key.get(file.input); !text.empty())
      out << "  " << padded(key.path, kWidth) << text << '\n';
  for (const io::Key& key : io::numeric_keys()) {
    const std::optional<double> value = key.get(file.input);
    if (!value) continue;
    out << "  " << padded(key.path, kWidth)
        << (key.path == "solution.concentration" ? io::concentration_text(file.input.solution.concentration)
                                                 : io::value_text(key, *value));
    if (const auto spread = file.uncertainties.find(std::string(key.path)); spread != file.uncertainties.end())
      out << " ± " << io::number_text(spread->second.stated / key.display_scale, 4)
          << (key.display_unit == "1" ? "" : key.display_unit == "%" ? " points" : " " + std::string(key.display_unit))
          << " (" << io::to_string(spread->second.distribution) << ")";
    out << '\n';
  }
  for (const std::string& path : file.material_files) out << "  " << padded("materials", kWidth) << printable(path, Lines::joined) << '\n';
  if (checked.sweep) {
    out << "  " << padded("sweep", kWidth) << engine::to_string(checked.sweep->design) << ", " << checked.sweep_points
        << " points\n";
    for (const SweptKey& key : checked.sweep->keys)
      out << "  " << padded("sweep.vary", kWidth) << axis_text(key, checked.sweep->design) << '\n';
  }
  out << "  " << padded("hash", kWidth) << short_digest(file.hash) << '\n';
  for (const std::string& note : file.notes) out << "  note: " << note << '\n';
}

Json as_json(const Checked& checked) {
  const io::CaseFile& file = checked.file;
  Json values = Json::object();
  for (const io::WordKey& key : io::word_keys()) values[std::string(key.path)] = key.get(file.input);
  values["concentration_basis"] = io::basis_text(file.input.solution.concentration.basis);
  Json uncertainties = Json::object();
  for (const io::Key& key : io::numeric_keys()) {
    const std::string column(key.column);
    if (const std::optional<double> value = key.get(file.input); value)
      values[column] = io::tidy(io::to_display(key, *value));
    const auto spread = file.uncertainties.find(std::string(key.path));
    if (spread == file.uncertainties.end()) continue;
    uncertainties[column] = {{"sd", io::tidy(spread->second.sd / key.display_scale)},
                             {"distribution", io::to_string(spread->second.distribution)}};
  }
  Json json = {{"file", file.name}, {"ok", true}, {"hash", file.hash}, {"values", values}};
  json["uncertainties"] = uncertainties;
  json["materials"] = file.material_files;
  if (checked.sweep) {
    Json axes = Json::array();
    for (const SweptKey& key : checked.sweep->keys) axes.push_back(axis_text(key, checked.sweep->design));
    json["sweep"] = {{"design", engine::to_string(checked.sweep->design)}, {"points", checked.sweep_points}, {"vary", axes}};
  }
  json["notes"] = file.notes;
  return json;
}

}  // namespace

int run_check(const CheckOptions& options, const Streams& streams) {
  if (options.schema) {
    streams.out << io::case_schema_text();
    return kDone;
  }
  if (options.key_table) {
    streams.out << io::key_table_markdown();
    return kDone;
  }
  if (options.cases.empty()) throw InputError("", "", "no case file given", "whorl check CASE...");
  int exit = kDone;
  bool printed = false;
  Json all = Json::array();
  for (const std::string& path : options.cases) {
    try {
      const Checked file = checked(path);
      if (options.json)
        all.push_back(as_json(file));
      else
        print_text(file, Page(streams.out).out());
      printed = true;
    } catch (const InputError& error) {
      exit = kBadInput;
      streams.err << message_text(std::string("whorl: ") + error.what()) << '\n';
      if (options.json)
        all.push_back({{"file", path},
                       {"ok", false},
                       {"key", error.key()},
                       {"found", error.found()},
                       {"allowed", error.allowed()}});
    }
  }
  if (options.json) {
    Json json;
    put_provenance(json, {});  // every case has its digest beside it
    json["cases"] = all;
    streams.out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  } else if (printed) {
    Page(streams.out).out() << provenance_line({});
  }
  return exit;
}

}  // namespace whorl::app
