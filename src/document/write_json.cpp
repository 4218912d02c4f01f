// A document as JSON: the keys of its blocks.
#include <cmath>
#include <nlohmann/json.hpp>

#include "document/write.hpp"

namespace whorl::document {
namespace {

using Json = nlohmann::ordered_json;

Json json_value(const Value& value) {
  if (const bool* yes = std::get_if<bool>(&value)) return *yes;
  if (const auto* count = std::get_if<std::int64_t>(&value)) return *count;
  if (const auto* words = std::get_if<std::string>(&value)) return *words;
  if (const double* number = std::get_if<double>(&value); number != nullptr && std::isfinite(*number)) return *number;
  return nullptr;
}

std::string raw(const Text& text) {
  std::string out;
  for (const Piece& piece : text.pieces) out += piece.plain;
  return out;
}

struct JsonWriter {
  Json& json;

  void operator()(const Quantities& quantities) {
    for (const Quantity& row : quantities.rows) {
      if (row.key.empty()) continue;
      if (!row.sd && row.source.empty()) {
        json[row.key] = json_value(row.value);
        continue;
      }
      Json& entry = json[row.key] = {{"value", json_value(row.value)}};
      if (row.sd) entry["sd"] = json_value(*row.sd);
      if (!row.source.empty()) entry["source"] = row.source;
    }
  }
  void operator()(const Sentence& sentence) {
    if (!sentence.key.empty()) json[sentence.key] = raw(sentence.text);
  }
  void operator()(const List& list) {
    if (list.key.empty()) return;
    Json& entry = json[list.key] = Json::array();
    for (const Text& item : list.items) entry.push_back(raw(item));
  }
  void operator()(const Table& table) {
    if (table.key.empty()) return;
    Json& entry = json[table.key] = table.named ? Json::object() : Json::array();
    for (const auto& row : table.rows) {
      Json item = Json::object();
      for (std::size_t k = table.named ? 1 : 0; k < table.columns.size(); ++k)
        if (!table.columns[k].key.empty() && !(table.sparse && std::holds_alternative<std::monostate>(row[k])))
          item[table.columns[k].key] = json_value(row[k]);
      if (table.named)
        entry[std::get<std::string>(row.front())] = item.size() == 1 ? item.front() : item;
      else
        entry.push_back(item);
    }
  }
  void operator()(const Equation&) {}
  void operator()(const Figure&) {}
  void operator()(const Data& data) { json.update(Json::parse(data.json)); }
  void operator()(const Section& section) {
    if (section.key.empty()) {
      for (const Block& block : section.blocks) std::visit(*this, block);
      return;
    }
    Json& entry = json[section.key] = section.each ? Json::array() : Json::object();
    for (const Block& block : section.blocks) {
      if (!section.each) {
        std::visit(JsonWriter{entry}, block);
      } else if (const auto* inner = std::get_if<Section>(&block)) {
        Json item = Json::object();
        for (const Block& part : inner->blocks) std::visit(JsonWriter{item}, part);
        entry.push_back(item);
      }
    }
  }
};

}  // namespace

Json json_of(const Document& document) {
  Json json = Json::object();
  for (const Block& block : document.blocks) std::visit(JsonWriter{json}, block);
  return json;
}

}  // namespace whorl::document
