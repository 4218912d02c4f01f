// The JSON Schema and the key tables in docs/ against the reader.
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>
#include <string>

#include "catch.hpp"
#include "io/case_schema.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/keys.hpp"

using namespace whorl;
using nlohmann::json;

namespace {

std::string file_text(const std::string& path) {
  std::ifstream stream(std::string(WHORL_SOURCE_DIR "/") + path, std::ios::binary);
  REQUIRE(stream);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

/// Paths of all values in a schema; sections are checked to be closed.
void collect(const json& schema, const std::string& prefix, std::set<std::string>& paths, std::set<std::string>& required) {
  CHECK(schema.at("additionalProperties") == false);
  for (const auto& [name, inner] : schema.at("properties").items()) {
    const std::string path = prefix.empty() ? name : prefix + "." + name;
    if (inner.contains("properties"))
      collect(inner, path, paths, required);
    else
      paths.insert(path);
  }
  if (schema.contains("required"))
    for (const auto& name : schema.at("required"))
      if (!schema.at("properties").at(name.get<std::string>()).contains("properties"))
        required.insert(prefix.empty() ? name.get<std::string>() : prefix + "." + name.get<std::string>());
}

const json& at_path(const json& schema, const std::string& path) {
  const json* at = &schema;
  std::stringstream parts(path);
  for (std::string part; std::getline(parts, part, '.');) at = &at->at("properties").at(part);
  return *at;
}

}  // namespace

TEST_CASE("docs/case.schema.json is what the reader's table gives", "[io][schema]") {
  // After a change of keys: whorl check --schema > docs/case.schema.json
  CHECK(file_text("docs/case.schema.json") == io::case_schema_text());
}

TEST_CASE("docs/formats/case.md holds the tables of keys", "[io][schema]") {
  // After a change of keys: put the output of whorl check --key-table between the two marks.
  const std::string page = file_text("docs/formats/case.md");
  const std::string begin = "<!-- key table: begin -->\n";
  const std::size_t from = page.find(begin);
  const std::size_t to = page.find("<!-- key table: end -->");
  REQUIRE(from != std::string::npos);
  REQUIRE(to != std::string::npos);
  CHECK(page.substr(from + begin.size(), to - from - begin.size()) == io::key_table_markdown());
}

TEST_CASE("schema and reader know the same keys", "[io][schema]") {
  const json schema = json::parse(io::case_schema_text());
  std::set<std::string> in_schema, required_in_schema;
  collect(schema, "", in_schema, required_in_schema);
  std::set<std::string> in_reader{"whorl_case", "materials", "sweep", "window"}, required_in_reader{"whorl_case"};
  for (const io::Key& key : io::numeric_keys()) {
    in_reader.insert(std::string(key.path));
    if (key.required) required_in_reader.insert(std::string(key.path));
  }
  for (const io::WordKey& key : io::word_keys()) {
    in_reader.insert(std::string(key.path));
    if (key.required) required_in_reader.insert(std::string(key.path));
  }
  CHECK(in_schema == in_reader);
  CHECK(required_in_schema == required_in_reader);
}

TEST_CASE("patterns of the schema accept what the reader accepts and refuse bare numbers", "[io][schema]") {
  const json schema = json::parse(io::case_schema_text());
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    const json& entry = at_path(schema, std::string(key.path));
    const json& text = entry.contains("anyOf") ? entry.at("anyOf").at(1) : entry;
    const std::regex pattern(text.at("pattern").get<std::string>());
    for (const auto& example : entry.at("examples")) CHECK(std::regex_match(example.get<std::string>(), pattern));
    CHECK_FALSE(std::regex_match(std::string("twelve mm"), pattern));
    CHECK_FALSE(std::regex_match(std::string("0,5 mm"), pattern));
    CHECK(std::regex_match(std::string("12"), pattern) == (key.si_unit == "1" && key.path != "solution.concentration"));
  }
  const std::regex concentration(at_path(schema, "solution.concentration").at("pattern").get<std::string>());
  for (const char* good : {"20 % w/v of solvent", "20% w/v", "15 wt%", "15 % w/w", "12 vol%", "12 % v/v",
                           "0.2 g/mL of solvent", "20 % w/v of solvent ± 1 points"}) {
    CAPTURE(good);
    CHECK(std::regex_match(std::string(good), concentration));
    CHECK_NOTHROW(io::parse_concentration(good, {"file", "solution.concentration"}));
  }
  for (const char* bad : {"20 %", "0.2", "20 % w/v of water", "0.2 g/mL", "wt%"}) {
    CAPTURE(bad);
    CHECK_FALSE(std::regex_match(std::string(bad), concentration));
    CHECK_THROWS(io::parse_concentration(bad, {"file", "solution.concentration"}));
  }
}

TEST_CASE("a case made of the schema's examples is valid", "[io][schema]") {
  json document = {{"whorl_case", 1}};
  const auto put = [&](std::string_view path, const json& value) {
    json* at = &document;
    std::stringstream parts{std::string(path)};
    for (std::string part; std::getline(parts, part, '.');) at = &(*at)[part];
    *at = value;
  };
  for (const io::WordKey& key : io::word_keys()) put(key.path, std::string(key.example));
  for (const io::Key& key : io::numeric_keys()) put(key.path, std::string(key.example));
  const io::CaseFile file = io::read_case_text(document.dump(), "examples");
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    CHECK(key.get(file.input));
  }
}
