#include "whorl/io/materials_record.hpp"

#include <algorithm>

#include "io/builtin_data.hpp"
#include "io/json_document.hpp"

namespace whorl::io {
namespace {

// Later records take the place of earlier ones of the same name.
void put(Document& records, const Document& record, const std::vector<const char*>& keys) {
  for (Document& known : records) {
    if (std::all_of(keys.begin(), keys.end(), [&](const char* key) { return known.at(key) == record.at(key); })) {
      known = record;
      return;
    }
  }
  records.push_back(record);
}

}  // namespace

std::string record_file(const std::vector<std::string>& ids, const std::vector<std::string>& added) {
  std::vector<Document> files;
  for (const BuiltinFile& file : builtin_files()) files.push_back(parse_document(file.text(), std::string(file.name)));
  for (const std::string& path : added) files.push_back(parse_document(read_text_file(path), path));
  Document out;
  out["whorl_materials"] = 1;
  const auto named = [&](const Document& id) {
    return std::find(ids.begin(), ids.end(), id.get<std::string>()) != ids.end();
  };
  const auto take = [&](const char* list, const std::vector<const char*>& keys) {
    Document records = Document::array();
    for (const Document& file : files) {
      if (!file.contains(list)) continue;
      for (const Document& record : file.at(list))
        if (std::all_of(keys.begin(), keys.end(), [&](const char* key) { return named(record.at(key)); }))
          put(records, record, keys);
    }
    if (!records.empty()) out[list] = std::move(records);
  };
  take("solvents", {"id"});
  take("polymers", {"id"});
  take("pairs", {"polymer", "solvent"});
  return out.dump(1) + "\n";
}

}  // namespace whorl::io
