// whorl check: validate case files without running them.
#include <algorithm>
#include <cstddef>
#include <map>
#include <nlohmann/json.hpp>
#include <ostream>
#include <string>

#include "app/commands.hpp"
#include "io/case_file.hpp"
#include "io/case_schema.hpp"
#include "io/keys.hpp"
#include "model/error.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

std::string padded(std::string_view text, std::size_t width) {
  std::string line(text);
  line.resize(std::max(width, line.size()), ' ');
  return line;
}

void print_text(const io::CaseFile& file, std::ostream& out) {
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
  for (const std::string& path : file.material_files) out << "  " << padded("materials", kWidth) << path << '\n';
  if (!file.sweep_json.empty()) out << "  " << padded("sweep", kWidth) << "given\n";
  out << "  " << padded("hash", kWidth) << file.hash.substr(0, 16) << '\n';
  for (const std::string& note : file.notes) out << "  note: " << note << '\n';
}

Json as_json(const io::CaseFile& file) {
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
  Json all = Json::array();
  for (const std::string& path : options.cases) {
    try {
      const io::CaseFile file = io::read_case_file(path);
      if (options.json)
        all.push_back(as_json(file));
      else
        print_text(file, streams.out);
    } catch (const InputError& error) {
      exit = kBadInput;
      streams.err << "whorl: " << error.what() << '\n';
      if (options.json)
        all.push_back({{"file", path},
                       {"ok", false},
                       {"key", error.key()},
                       {"found", error.found()},
                       {"allowed", error.allowed()}});
    }
  }
  if (options.json) streams.out << Json{{"cases", all}}.dump(2) << '\n';
  return exit;
}

}  // namespace whorl::app
