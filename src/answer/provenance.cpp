#include "answer/provenance.hpp"

#include <filesystem>
#include <nlohmann/json.hpp>

#include "io/builtin_data.hpp"
#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/table.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/prose.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::answer {
namespace {

constexpr std::size_t kShown = 16;  ///< digits of a digest for people

std::vector<std::string>& options() {
  static std::vector<std::string> list;  // one command line, one process
  return list;
}

std::string without_folder(const std::string& path) { return path.substr(path.rfind('/') + 1); }  // npos + 1 is 0

// Names and options go to terminals, into XML, PDF and PNG.
std::string clean(const std::string& text) { return printable(text, Lines::joined); }

std::string options_text() {
  std::string text;
  for (const std::string& option : options()) text += (text.empty() ? "" : " ") + option;
  return text;
}

std::string named(const Basis& basis, const std::string& digest) {
  std::string text = basis.kind;
  for (const std::string& part : {clean(basis.name), digest})
    if (!part.empty()) text += ' ' + part;
  return text;
}

}  // namespace

std::string program_version() { return WHORL_VERSION; }
std::string program_and_version() { return "whorl " WHORL_VERSION; }

void use_options(std::vector<std::string> list) {
  for (std::string& option : list) option = clean(option);
  options() = std::move(list);
}

Basis basis_of(const study::LoadedCase& loaded) {
  std::string tier, drying;
  for (const io::WordKey& key : io::word_keys()) {
    if (key.path == "model.tier") tier = key.get(loaded.file.input);
    if (key.path == "model.drying") drying = key.get(loaded.file.input);
  }
  return {"case", clean(without_folder(loaded.file.name)), loaded.file.hash, tier + " tier, " + drying + " drying"};
}

Basis basis_of_file(const std::string& kind, const std::string& path) {
  std::error_code error;
  const bool again = std::filesystem::is_regular_file(path, error);
  return {kind,
          without_folder(path),
          again ? io::sha256_hex(io::read_bounded_file(path, io::kLargestTable, "a file", io::Named::by_user)) : "",
          {}};
}

Basis built_in_basis() {
  // Once: every command line has it in the text of --version, and the page runs many in one process.
  static const std::string digest = [] {
    std::string text;
    for (const auto& file : io::builtin_files()) text += file.text();
    return io::sha256_hex(text);
  }();
  return {"property library", "built-in", digest, {}};
}

std::string short_digest(std::string_view sha256) { return std::string(sha256.substr(0, kShown)); }

std::string provenance_text(const std::vector<Basis>& bases) {
  std::string text = program_and_version();
  for (const Basis& basis : bases)
    text += ", " + named(basis, short_digest(basis.sha256)) + (basis.model.empty() ? "" : ", " + basis.model);
  if (!options().empty()) text += ", options " + options_text();
  return text;
}

std::string provenance_line(const std::vector<Basis>& bases) { return '\n' + io::folded(provenance_text(bases), 2); }

void put_provenance(nlohmann::ordered_json& json, const std::vector<Basis>& bases) {
  json["program"] = "whorl";
  json["version"] = program_version();
  auto list = nlohmann::ordered_json::array();
  for (const Basis& basis : bases)
    list.push_back({{"kind", basis.kind}, {"name", basis.name}, {"sha256", basis.sha256}});
  json["based_on"] = list;
  json["options"] = options();
}

io::TableMetadata table_metadata(const study::LoadedCase& loaded, const std::string& title, const std::string& path) {
  io::TableMetadata table;
  table.url = without_folder(path);
  table.title = title + " of " + without_folder(loaded.file.name);
  table.description = loaded.file.input.purpose.empty() ? title + '.' : loaded.file.input.purpose;
  table.case_name = without_folder(loaded.file.name);
  table.case_sha256 = loaded.file.hash;
  table.program = "whorl";
  table.program_version = program_version();
  if (!options().empty()) table.facts.emplace_back("options", options_text());
  return table;
}

std::string finish_metadata(io::TableMetadata table) {
  std::string text = table.title + '\n' + table.program_version + '\n' + table.case_sha256 + '\n';
  for (const auto& [name, value] : table.facts) text += name + ' ' + value + '\n';
  table.identity = io::sha256_hex(text);
  return io::csvw_text(table);
}

figures::FigureOrigin figure_origin(const std::vector<Basis>& bases) {
  figures::FigureOrigin origin{program_and_version(), {}, options_text()};
  for (const Basis& basis : bases)
    origin.sources.push_back(named(basis, basis.sha256.empty() ? "" : "sha256:" + basis.sha256));
  return origin;
}

}  // namespace whorl::answer
