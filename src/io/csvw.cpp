#include "whorl/io/csvw.hpp"

#include <nlohmann/json.hpp>

#include "io/json_document.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kNotOurs = "not a metadata file of a whorl table";

Json datatype(const TableColumn& column) {
  if (column.values.empty()) return column.datatype;
  std::string pattern;
  for (const auto& value : column.values) pattern += (pattern.empty() ? "" : "|") + value;
  return Json{{"base", column.datatype}, {"format", pattern}};
}

Json column_json(const TableColumn& column) {
  Json json{{"name", column.name}, {"titles", column.name}, {"datatype", datatype(column)}};
  if (column.required) json["required"] = true;
  json["dc:description"] = column.description;
  if (!column.symbol.empty()) json["schema:alternateName"] = column.symbol;
  if (!column.unit.empty()) {
    json["schema:unitText"] = column.unit;
    if (const auto code = ucum_code(column.unit); !code.empty()) json["schema:unitCode"] = "UCUM:" + std::string(code);
  }
  return json;
}

// Text from a case file may hold anything: bytes that are not UTF-8 are replaced, never an exception.
std::string written(const Json& json) {
  std::string text = json.dump(2, ' ', false, Json::error_handler_t::replace);
  text.push_back('\n');
  return text;
}

// With the limits of every JSON file that comes from outside (size, depth, keys).
Json document(const std::string& text, const std::string& file) {
  try {
    return parse_document(text, file);
  } catch (const InputError& error) {
    throw InputError(file, "", std::string(kNotOurs) + ": " + error.found(), "the metadata that the sweep wrote");
  }
}

}  // namespace

std::string csvw_text(const TableMetadata& table) {
  Json facts = Json::array();
  for (const auto& [name, value] : table.facts)
    facts.push_back({{"@type", "schema:PropertyValue"}, {"schema:name", name}, {"schema:value", value}});
  Json columns = Json::array();
  for (const auto& column : table.columns) columns.push_back(column_json(column));

  Json json{
      {"@context", "http://www.w3.org/ns/csvw"},
      {"url", table.url},
      {"dc:title", table.title},
      {"dc:description", table.description},
      {"schema:identifier", "sha256:" + table.identity},
      {"schema:creator", Json{{"@type", "schema:SoftwareApplication"},
                              {"schema:name", table.program},
                              {"schema:softwareVersion", table.program_version}}},
      {"schema:isBasedOn", Json{{"@type", "schema:MediaObject"},
                                {"schema:name", table.case_name},
                                {"schema:sha256", table.case_sha256}}},
      {"schema:additionalProperty", std::move(facts)},
      {"dialect", Json{{"encoding", "utf-8"}, {"lineTerminators", "\n"}, {"header", true}}},
      {"tableSchema", Json{{"columns", std::move(columns)}, {"primaryKey", table.columns.front().name}}},
  };
  return written(json);
}

std::string csvw_of_whole(const std::string& share, const std::string& file, const std::string& url,
                          const std::pair<std::string, std::string>& fact) {
  try {
    Json json = document(share, file);
    json.at("url") = url;
    for (auto& property : json.at("schema:additionalProperty"))
      if (property.at("schema:name").get<std::string>() == fact.first) property.at("schema:value") = fact.second;
    return written(json);
  } catch (const Json::exception&) {
    throw InputError(file, "", kNotOurs, "");
  }
}

std::string csvw_file(const std::string& table_file) { return table_file + "-metadata.json"; }

TableIdentity read_csvw_identity(const std::string& text, const std::string& file) {
  TableIdentity found;
  try {
    const Json json = document(text, file);
    const std::string identity = json.at("schema:identifier").get<std::string>();
    const std::string prefix = "sha256:";
    if (identity.rfind(prefix, 0) != 0) throw InputError(file, "schema:identifier", kNotOurs, "");
    found.identity = identity.substr(prefix.size());
    found.program_version = json.at("schema:creator").at("schema:softwareVersion").get<std::string>();
    found.case_name = json.at("schema:isBasedOn").at("schema:name").get<std::string>();
    found.case_sha256 = json.at("schema:isBasedOn").at("schema:sha256").get<std::string>();
    for (const auto& fact : json.at("schema:additionalProperty"))
      found.facts.emplace_back(fact.at("schema:name").get<std::string>(), fact.at("schema:value").get<std::string>());
  } catch (const Json::exception&) {
    throw InputError(file, "", kNotOurs, "");
  }
  return found;
}

std::vector<TableColumn> read_csvw_columns(const std::string& text, const std::string& file) {
  std::vector<TableColumn> columns;
  try {
    const Json json = document(text, file);
    for (const auto& one : json.at("tableSchema").at("columns")) {
      const Json& type = one.at("datatype");
      TableColumn column;
      column.name = one.at("name").get<std::string>();
      column.datatype = (type.is_object() ? type.at("base") : type).get<std::string>();
      column.unit = one.value("schema:unitText", std::string());
      column.symbol = one.value("schema:alternateName", std::string());
      column.description = one.value("dc:description", std::string());
      column.required = one.value("required", false);
      columns.push_back(std::move(column));
    }
  } catch (const Json::exception&) {
    throw InputError(file, "tableSchema", kNotOurs, "");
  }
  return columns;
}

}  // namespace whorl::io
