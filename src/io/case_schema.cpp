#include "io/case_schema.hpp"

#include <string_view>
#include <vector>

#include "io/json_document.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::io {
namespace {

// A number, then a unit that does not start like the rest of a number; what the unit must be, the reader knows.
constexpr const char* kNumber = R"(^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?)";
constexpr const char* kUnit = R"(\s*[^\s0-9.,].*$)";
constexpr const char* kOptionalUnit = R"((\s*[^\s0-9.,].*)?$)";
constexpr const char* kBasis =
    R"(\s*(%\s*(w/v|\(w/v\))(\s+of\s+(solvent|solution))?|wt\s*%|%\s*wt|%\s*(w/w|\(w/w\))|vol\s*%|)"
    R"(%\s*(v/v|\(v/v\))|[^\s0-9.,%].*\s+of\s+(solvent|solution))\s*((±|\+-|\+/-).*)?$)";

Document numeric_schema(const Key& key) {
  Document schema;
  schema["description"] = std::string(key.description);
  if (key.path == "solution.concentration") {
    schema["type"] = "string";
    schema["pattern"] = std::string(kNumber) + kBasis;
    schema["examples"] = {"24 % w/v of solvent", "24 % w/v of solution", "15 wt%", "12 vol%", "0.24 g/mL of solvent"};
  } else if (key.si_unit == "1") {
    const Document number = {{"type", key.whole ? "integer" : "number"},
                             {"minimum", key.minimum},
                             {"maximum", key.maximum}};
    const Document text = {{"type", "string"}, {"pattern", std::string(kNumber) + kOptionalUnit}};
    schema["anyOf"] = {number, text};
    schema["examples"] = {std::string(key.example)};
  } else {
    schema["type"] = "string";
    schema["pattern"] = std::string(kNumber) + kUnit;
    schema["examples"] = {std::string(key.example)};
  }
  schema["$comment"] = "limits: " + limits_text(key);
  if (!key.fallback.empty())
    schema["$comment"] = schema["$comment"].get<std::string>() + "; left out: " + std::string(key.fallback);
  return schema;
}

Document word_schema(const WordKey& key) {
  Document schema;
  schema["description"] = std::string(key.description);
  if (key.words.empty()) {
    schema["type"] = "string";
    schema["minLength"] = 1;
    schema["maxLength"] = key.longest;
  } else {
    Document words = Document::array();
    for (const Word& word : key.words) words.push_back(std::string(word.word));
    schema["enum"] = words;
  }
  schema["examples"] = {std::string(key.example)};
  return schema;
}

/// The object schema that holds the key `path`, made on the way; `name` becomes the last part.
Document& parent_of(Document& root, std::string_view path, std::string& name) {
  Document* at = &root;
  for (std::size_t dot = path.find('.'); dot != std::string_view::npos; dot = path.find('.')) {
    const std::string section(path.substr(0, dot));
    Document& inner = (*at)["properties"][section];
    if (inner.is_null())
      inner = {{"type", "object"}, {"additionalProperties", false}, {"properties", Document::object()}};
    at = &inner;
    path.remove_prefix(dot + 1);
  }
  name = std::string(path);
  return *at;
}

void add(Document& root, std::string_view path, bool required, const Document& schema) {
  std::string name;
  Document& parent = parent_of(root, path, name);
  parent["properties"][name] = schema;
  if (!required) return;
  parent["required"].push_back(name);
  // A section with required keys is required itself.
  if (const std::size_t dot = path.find('.'); dot != std::string_view::npos) {
    const std::string section(path.substr(0, dot));
    Document& list = root["required"];
    bool listed = false;
    for (const Document& entry : list) listed = listed || entry == section;
    if (!listed) list.push_back(section);
  }
}

}  // namespace

std::string case_schema_text() {
  Document root;
  root["$schema"] = "https://json-schema.org/draft/2020-12/schema";
  root["title"] = "whorl case file, format version 1";
  root["description"] =
      "Quantities are texts with a unit. Made from the key table of the reader by 'whorl check --schema'; do not edit.";
  root["type"] = "object";
  root["additionalProperties"] = false;
  root["required"] = {"whorl_case"};
  root["properties"]["whorl_case"] = {{"const", 1}, {"description", "format version"}};
  for (const WordKey& key : word_keys()) add(root, key.path, key.required, word_schema(key));
  for (const Key& key : numeric_keys()) add(root, key.path, key.required, numeric_schema(key));
  root["properties"]["materials"] = {{"type", "array"},
                                     {"maxItems", 20},
                                     {"items", {{"type", "string"}, {"minLength", 1}}},
                                     {"description", "files with further material data, relative to the case file"},
                                     {"examples", Document::array({Document::array({"my_materials.json"})})}};
  root["properties"]["sweep"] = {{"type", "object"}, {"description", "what 'whorl sweep' varies"}};
  root["properties"]["window"] = {{"type", "object"},
                                  {"description", "what 'whorl window' looks for, and over which settings"}};
  return root.dump(2) + "\n";
}

std::string key_table_markdown() {
  std::string text;
  std::string section = "?";
  const auto section_of = [](std::string_view path) {
    const std::size_t dot = path.rfind('.');
    return std::string(dot == std::string_view::npos ? std::string_view{} : path.substr(0, dot));
  };
  std::vector<std::string> sections;
  const auto remember = [&](std::string_view path) {
    const std::string name = section_of(path);
    for (const std::string& known : sections)
      if (known == name) return;
    sections.push_back(name);
  };
  for (const WordKey& key : word_keys())
    if (key.path.find('.') == std::string_view::npos) remember(key.path);
  for (const Key& key : numeric_keys()) remember(key.path);
  for (const std::string& name : sections) {
    text += (text.empty() ? "" : "\n") + std::string("### ") + (name.empty() ? "Top level" : "`" + name + "`") + "\n\n";
    text += "| key | meaning | example | limits | left out |\n|---|---|---|---|---|\n";
    const auto last = [&](std::string_view path) {
      return std::string(name.empty() ? path : path.substr(name.size() + 1));
    };
    const auto left_out = [](bool required, std::string_view fallback) {
      return required ? std::string("required") : std::string(fallback);
    };
    for (const WordKey& key : word_keys()) {
      if (section_of(key.path) != name) continue;
      std::string allowed;
      for (const Word& word : key.words)
        allowed += (allowed.empty() ? "`" : ", `") + std::string(word.word) + "` (" + std::string(word.meaning) + ")";
      if (key.words.empty()) allowed = "at most " + std::to_string(key.longest) + " bytes";
      text += "| `" + last(key.path) + "` | " + std::string(key.description) + " | `\"" + std::string(key.example) +
              "\"` | " + allowed + " | " + left_out(key.required, key.fallback) + " |\n";
    }
    for (const Key& key : numeric_keys()) {
      if (section_of(key.path) != name) continue;
      const std::string mark = key.si_unit == "1" && key.display_unit == "1" ? "" : "\"";
      text += "| `" + last(key.path) + "` | " + std::string(key.description) + " | `" + mark +
              std::string(key.example) + mark + "` | " + limits_text(key) + (key.whole ? ", whole" : "") + " | " +
              left_out(key.required, key.fallback) + " |\n";
    }
  }
  return text;
}

}  // namespace whorl::io
