#include "table/workbook.hpp"

#include <algorithm>
#include <cstring>
#include <filesystem>
#include <map>
#include <memory>
#include <vector>

#ifdef WHORL_WITH_XLSX
#include <zip.h>

#include <pugixml.hpp>
#endif

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"

namespace whorl::table {
namespace {

constexpr std::size_t kMostBytes = std::size_t{16} << 20U;

}  // namespace

bool is_workbook(const std::string& bytes) { return bytes.size() > 4 && bytes.compare(0, 4, "PK\x03\x04") == 0; }

#ifdef WHORL_WITH_XLSX
namespace {

constexpr const char* kWanted = "a workbook (.xlsx) with a table on its first sheet, or a CSV table";
constexpr std::size_t kMostSheetBytes = std::size_t{64} << 20U;
constexpr std::size_t kMostRows = 10001, kMostColumns = 200;

// The archive, its parts by name.
class Archive {
 public:
  Archive(const std::string& bytes, const std::string& name) : name_(name) {
    zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, nullptr);
    archive_ = source == nullptr ? nullptr : zip_open_from_source(source, ZIP_RDONLY, nullptr);
    if (archive_ == nullptr) {
      if (source != nullptr) zip_source_free(source);
      throw InputError(name, "", "a damaged zip archive", kWanted);
    }
  }
  ~Archive() { zip_discard(archive_); }
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  [[nodiscard]] bool has(const std::string& part) const { return zip_name_locate(archive_, part.c_str(), 0) >= 0; }
  [[nodiscard]] std::string text(const std::string& part) const {
    zip_file_t* file = zip_fopen(archive_, part.c_str(), 0);
    if (file == nullptr) throw InputError(name_, part, "missing or cannot be read", kWanted);
    std::string out;
    std::vector<char> piece(65536);
    zip_int64_t got = 0;
    while ((got = zip_fread(file, piece.data(), piece.size())) > 0 && out.size() <= kMostSheetBytes)
      out.append(piece.data(), static_cast<std::size_t>(got));
    zip_fclose(file);
    if (got < 0) throw InputError(name_, part, "damaged", kWanted);
    if (out.size() > kMostSheetBytes) throw InputError(name_, part, "more than 64 MB", "a smaller sheet");
    return out;
  }

 private:
  const std::string& name_;
  zip_t* archive_{};
};

void parse(pugi::xml_document& document, const Archive& archive, const std::string& part, const std::string& name) {
  const std::string text = archive.text(part);
  const auto result =
      document.load_buffer(text.data(), text.size(), pugi::parse_default | pugi::parse_ws_pcdata_single);
  if (!result) throw InputError(name, part, std::string("no XML (") + result.description() + ")", kWanted);
}

// Names without their prefix: some programs write x:row.
bool named(const pugi::xml_node& node, const char* name) {
  const char* colon = std::strchr(node.name(), ':');
  return std::strcmp(colon == nullptr ? node.name() : colon + 1, name) == 0;
}
pugi::xml_node child(const pugi::xml_node& node, const char* name) {
  return node.find_child([&](const pugi::xml_node& one) { return named(one, name); });
}

// The texts of a cell, plain or in runs, without phonetic hints. Runs do not nest.
std::string runs(const pugi::xml_node& node) {
  std::string out;
  for (const pugi::xml_node& one : node.children()) {
    if (named(one, "t")) out += one.text().get();
    if (named(one, "r")) out += child(one, "t").text().get();
  }
  return out;
}

// The part of the first sheet, by the workbook's own relations.
std::string first_sheet(const Archive& archive, const std::string& name) {
  pugi::xml_document book, relations;
  parse(book, archive, "xl/workbook.xml", name);
  parse(relations, archive, "xl/_rels/workbook.xml.rels", name);
  const pugi::xml_node sheet = child(child(book.document_element(), "sheets"), "sheet");
  std::string id;
  for (const pugi::xml_attribute& one : sheet.attributes()) {
    const char* colon = std::strchr(one.name(), ':');
    if (colon != nullptr && std::strcmp(colon, ":id") == 0) id = one.value();
  }
  for (const pugi::xml_node& one : relations.document_element().children()) {
    if (id != one.attribute("Id").value()) continue;
    const std::string target = one.attribute("Target").value();
    return target.rfind('/', 0) == 0 ? target.substr(1) : "xl/" + target;
  }
  throw InputError(name, "", "no sheet", kWanted);
}

// "BC12" -> 54; empty names follow the cell before.
std::size_t column_of(const char* cell, std::size_t next) {
  std::size_t column = 0;
  for (; *cell >= 'A' && *cell <= 'Z' && column < 100000; ++cell)
    column = 26 * column + static_cast<std::size_t>(*cell - 'A' + 1);
  return column == 0 ? next : column - 1;
}

std::string cell_text(const pugi::xml_node& cell, const std::vector<std::string>& shared, const std::string& name) {
  const std::string type = cell.attribute("t").value();
  const std::string value = child(cell, "v").text().get();
  if (type == "e") throw InputError(name, cell.attribute("r").value(), '"' + value + '"', "a value");
  if (type == "inlineStr") return runs(child(cell, "is"));
  if (type == "b") return value == "1" ? "true" : "false";
  if (type != "s") return value;
  std::size_t index = 0;
  for (const char c : value)
    index = c >= '0' && c <= '9' && index < 100000000 ? 10 * index + static_cast<std::size_t>(c - '0') : 1000000000;
  if (value.empty() || index >= shared.size())
    throw InputError(name, cell.attribute("r").value(), "a text that the file does not hold", kWanted);
  return shared[index];
}

}  // namespace

std::string workbook_csv(const std::string& bytes, const std::string& name) {
  const Archive archive(bytes, name);
  std::vector<std::string> shared;
  if (archive.has("xl/sharedStrings.xml")) {
    pugi::xml_document strings;
    parse(strings, archive, "xl/sharedStrings.xml", name);
    for (const pugi::xml_node& one : strings.document_element().children()) {
      if (named(one, "si")) shared.push_back(runs(one));
    }
  }
  pugi::xml_document sheet;
  parse(sheet, archive, first_sheet(archive, name), name);
  std::vector<std::vector<std::string>> rows;
  std::size_t width = 0;
  std::size_t bytes_of_cells = 0;  // a short file can name one long text in every cell
  for (const pugi::xml_node& row : child(sheet.document_element(), "sheetData").children()) {
    if (!named(row, "row")) continue;
    std::vector<std::string> cells;
    std::size_t next = 0;
    for (const pugi::xml_node& cell : row.children()) {
      if (!named(cell, "c")) continue;
      const std::size_t column = column_of(cell.attribute("r").value(), next);
      std::string text = cell_text(cell, shared, name);
      next = column + 1;
      if (text.empty()) continue;
      if (column >= kMostColumns)
        throw InputError(name, cell.attribute("r").value(), "a cell far to the right", "at most 200 columns");
      bytes_of_cells += text.size();
      if (bytes_of_cells > kMostBytes)
        throw InputError(name, "", "more than 16 MB of text in its cells", "a smaller table");
      if (cells.size() <= column) cells.resize(column + 1);
      cells[column] = std::move(text);
    }
    const bool empty = std::all_of(cells.begin(), cells.end(), [](const std::string& c) { return c.empty(); });
    if (empty) continue;
    if (rows.size() >= kMostRows) throw InputError(name, "", "more than 10,000 rows", "a smaller table");
    width = std::max(width, cells.size());
    rows.push_back(std::move(cells));
  }
  if (rows.empty()) throw InputError(name, "", "an empty first sheet", kWanted);
  std::string out;
  for (auto& row : rows) {
    row.resize(width);
    for (std::size_t k = 0; k < width; ++k) {
      if (k > 0) out += ',';
      io::append_text(out, row[k]);
    }
    out += '\n';
  }
  return out;
}
#else
std::string workbook_csv(const std::string&, const std::string& name) {
  throw InputError(name, "", "a workbook, which this build cannot read (built without libzip and pugixml)",
                   "the table saved as CSV");
}
#endif

io::TrialData read_trials(const std::string& path, bool physics) {
  const std::string bytes = io::read_bounded_file(path, kMostBytes, "a table of trials", io::Named::by_user);
  const std::string folder = std::filesystem::path(path).parent_path().string();
  if (!is_workbook(bytes)) return io::read_trial_text(bytes, path, folder, physics);
  io::TrialData data = io::read_trial_text(workbook_csv(bytes, path), path, folder, physics);
  data.digest = io::sha256_hex(bytes);
  return data;
}

}  // namespace whorl::table
