#include "io/trial_data.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <sstream>

#include "io/csv.hpp"
#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/table.hpp"
#include "io/units.hpp"
#include "model/diameters.hpp"
#include "model/error.hpp"

namespace whorl::io {
namespace {

constexpr std::size_t kMostBytes = 16u << 20;
constexpr std::size_t kMostListBytes = 64u << 20;
constexpr std::size_t kMostRows = 10000;

std::string cited(const std::string& text) { return '"' + (text.size() > 40 ? text.substr(0, 40) + "..." : text) + '"'; }

std::string trimmed(std::string text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.erase(0, 1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t' || text.back() == '\r')) text.pop_back();
  return text;
}

// "rotation_speed (rpm)" or "... [rpm]": name and unit.
std::pair<std::string, std::string> parted(const std::string& heading) {
  for (const char* ends : {"()", "[]"}) {
    const auto open = heading.find(ends[0]);
    if (open == std::string::npos || heading.back() != ends[1]) continue;
    return {trimmed(heading.substr(0, open)), trimmed(heading.substr(open + 1, heading.size() - open - 2))};
  }
  return {heading, ""};
}

enum class Meaning { setting, mean, sd, count, list, label };
struct Column {
  Meaning meaning{};
  const Key* key{};
  double scale{1.0}, offset{};  ///< SI = scale x + offset
};

Column understood(const std::string& heading, const std::string& file) {
  const auto [name, unit] = parted(heading);
  Column c;
  if (name == "label") return {Meaning::label, nullptr, 1.0, 0.0};
  if (name == "diameter_list") return {Meaning::list, nullptr, 1.0, 0.0};
  if (name == "diameter_count") return {Meaning::count, nullptr, 1.0, 0.0};
  for (const auto& [word, meaning] : {std::pair<std::string, Meaning>{"diameter_mean", Meaning::mean}, {"diameter_sd", Meaning::sd}}) {
    if (name.rfind(word, 0) != 0) continue;
    std::string u = unit;
    if (u.empty() && name.size() > word.size() + 1 && name[word.size()] == '_') u = name.substr(word.size() + 1);
    if (!unit.empty() && name != word) break;
    const auto scale = u.empty() ? std::nullopt : convert(1.0, u, "m");
    if (!scale) throw InputError(file, heading, u.empty() ? "no unit" : "unit " + cited(u), word + "_um, " + word + "_nm or \"" + word + " (um)\"");
    return {meaning, nullptr, *scale, 0.0};
  }
  for (const Key& key : numeric_keys()) {
    if (unit.empty() && name == key.column) return {Meaning::setting, &key, key.display_scale, key.display_offset};
  }
  if (const Key* key = find_key(name); key != nullptr) {
    if (unit.empty() && key->display_unit != "1")
      throw InputError(file, heading, "no unit", std::string(key->column) + " or \"" + name + " (" + std::string(key->display_unit) + ")\"");
    c.meaning = Meaning::setting;
    c.key = key;
    if (unit.empty() || unit == key->display_unit) {
      c.scale = key->display_scale;
      c.offset = key->display_offset;
      return c;
    }
    const auto zero = convert(0.0, unit, std::string(key->si_unit));
    const auto one = convert(1.0, unit, std::string(key->si_unit));
    if (!zero || !one) throw InputError(file, heading, "unit " + cited(unit), "a unit of " + std::string(key->display_unit));
    c.offset = *zero;
    c.scale = *one - *zero;
    return c;
  }
  throw InputError(file, heading, "unknown column", "label, diameter_mean_um, diameter_sd_um, diameter_count, diameter_list, or a setting such as rotation_speed_rpm (nearest: " +
                                                        nearest_key(name) + ")");
}

double number_in(const std::string& cell, const std::string& where, const std::string& column, const std::string& file) {
  const std::string text = trimmed(cell);
  std::istringstream in(text);
  in.imbue(std::locale::classic());
  double value{};
  const bool plain = !text.empty() && text.find_first_not_of("0123456789+-.eE") == std::string::npos;
  if (plain) in >> value;
  if (!plain || in.fail() || in.peek() != std::char_traits<char>::eof() || !std::isfinite(value))
    throw InputError(file, where + ", " + column, text.empty() ? "an empty cell" : cited(text), "a number");
  return value;
}

}  // namespace

TrialData read_trial_text(const std::string& text, const std::string& name, const std::string& folder) {
  if (text.size() > kMostBytes) throw InputError(name, "", "a file of more than 16 MB", "a table of trials");
  if (text.find('\0') != std::string::npos) throw InputError(name, "", "binary data", "a CSV table of trials");
  const Table table = parse_table(text.substr(0, 3) == "\xEF\xBB\xBF" ? text.substr(3) : text, name);
  TrialData data;
  data.name = name;
  data.digest = sha256_hex(text);
  std::vector<Column> columns;
  bool mean = false, list = false;
  for (const std::string& heading : table.columns) {
    columns.push_back(understood(trimmed(heading), name));
    const Column& c = columns.back();
    for (std::size_t i = 0; i + 1 < columns.size(); ++i) {
      if (columns[i].meaning == c.meaning && columns[i].key == c.key)
        throw InputError(name, heading, "a second column for the same", "one");
    }
    mean = mean || c.meaning == Meaning::mean;
    list = list || c.meaning == Meaning::list;
    if (c.key != nullptr) data.keys.push_back(c.key);
  }
  if (!mean && !list) throw InputError(name, "", "no measured diameters", "a column diameter_mean_um or diameter_list");
  if (mean && list) throw InputError(name, "", "both diameter_mean and diameter_list", "one of them");
  if (table.rows.empty()) throw InputError(name, "", "no rows", "one row per trial");
  if (table.rows.size() > kMostRows) throw InputError(name, "", std::to_string(table.rows.size()) + " rows", "at most 10,000");
  for (std::size_t r = 0; r < table.rows.size(); ++r) {
    const std::string where = "row " + std::to_string(r + 1);
    TrialRow row;
    row.name = where;
    for (std::size_t k = 0; k < columns.size(); ++k) {
      const Column& c = columns[k];
      const std::string& cell = table.rows[r][k];
      const std::string& heading = table.columns[k];
      const auto number = [&] { return number_in(cell, where, heading, name); };
      const auto refuse = [&](const std::string& allowed) {
        throw InputError(name, where + ", " + heading, cited(trimmed(cell)), allowed);
      };
      switch (c.meaning) {
        case Meaning::label:
          if (!trimmed(cell).empty()) row.name = trimmed(cell).substr(0, 60);
          break;
        case Meaning::setting: {
          const double value = tidy(number() * c.scale + c.offset);
          try {
            check_limits(*c.key, value, trimmed(cell), name);
          } catch (const InputError& error) {
            throw InputError(name, where + ", " + heading, error.found(), error.allowed());
          }
          row.settings.emplace_back(c.key, value);
          break;
        }
        case Meaning::mean:
          row.mean_m = number() * c.scale;
          if (!(row.mean_m >= 1e-9 && row.mean_m <= 1e-2)) refuse("a diameter from 1 nm to 10 mm");
          break;
        case Meaning::sd:
          if (trimmed(cell).empty()) break;
          row.sd_m = number() * c.scale;
          if (!(row.sd_m >= 0.0 && row.sd_m <= 1e-2)) refuse("0 or more");
          break;
        case Meaning::count:
          if (trimmed(cell).empty()) break;
          row.count = number();
          if (!(row.count >= 1.0 && row.count <= 1e7 && row.count == std::floor(row.count))) refuse("a whole number, 1 or more");
          break;
        case Meaning::list: {
          const std::filesystem::path path = trimmed(cell);
          if (path.empty()) refuse("a file with measured diameters");
          bool outside = path.is_absolute();
          for (const auto& part : path) outside = outside || part == "..";
          if (outside) refuse("a file in the folder of the table");
          const std::string file = (std::filesystem::path(folder) / path).string();
          const DiameterList read = read_diameter_text(read_bounded_file(file, kMostListBytes, "a text file with measured diameters", Named::in_a_file), file);
          const model::DiameterSummary s = model::summarise_diameters(read.values_m);
          row.mean_m = s.mean_m;
          row.sd_m = s.sd_m;
          row.count = static_cast<double>(s.count);
          break;
        }
      }
    }
    data.rows.push_back(std::move(row));
  }
  return data;
}

TrialData read_trial_file(const std::string& path) {
  return read_trial_text(read_bounded_file(path, kMostBytes, "a CSV table of trials", Named::by_user), path, std::filesystem::path(path).parent_path().string());
}

}  // namespace whorl::io
