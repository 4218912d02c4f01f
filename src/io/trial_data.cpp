#include "whorl/io/trial_data.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <optional>
#include <sstream>

#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/table.hpp"
#include "io/table_text.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/trial_headings.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/diameters.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::io {
namespace {

constexpr std::size_t kMostBytes = 16u << 20;
constexpr std::size_t kMostListBytes = 64u << 20;
constexpr std::size_t kMostRows = 10000;

double number_in(const std::string& cell, const std::string& where, const std::string& column,
                 const std::string& file) {
  const std::string text = trimmed_cell(cell);
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

// Long: headings decide how every cell of a row is read, cell after cell.
TrialData read_trial_text(const std::string& text, const std::string& name, const std::string& folder, bool physics) {
  if (text.size() > kMostBytes) throw InputError(name, "", "a file of more than 16 MB", "a table of trials");
  const std::string decoded = utf8_text(text);
  if (decoded.find('\0') != std::string::npos) throw InputError(name, "", "binary data", "a CSV table of trials");
  const Table table = parse_table(plain_csv(decoded), name);
  TrialData data;
  data.name = printable(name, Lines::joined);
  data.digest = sha256_hex(text);
  std::vector<TrialHeading> columns;
  bool mean = false, list = false;
  for (const std::string& heading : table.columns) {
    columns.push_back(understood_heading(trimmed_cell(heading), name, physics));
    const TrialHeading& c = columns.back();
    for (std::size_t i = 0; i + 1 < columns.size(); ++i) {
      const bool many = c.meaning == TrialColumn::ignored || (c.meaning == TrialColumn::covariate && c.key == nullptr);
      if (columns[i].meaning == c.meaning && columns[i].key == c.key && !many)
        throw InputError(name, heading, "a second column for the same", "one");
    }
    mean = mean || c.meaning == TrialColumn::mean;
    list = list || c.meaning == TrialColumn::list;
    if (c.meaning == TrialColumn::setting) data.keys.push_back(c.key);
    if (c.meaning == TrialColumn::covariate) data.covariates.push_back({trimmed_cell(heading), c.key});
  }
  if (!mean && !list) throw InputError(name, "", "no measured diameters", "a column diameter_mean_um or diameter_list");
  if (mean && list) throw InputError(name, "", "both diameter_mean and diameter_list", "one of them");
  const auto empty_row = [](const std::vector<std::string>& cells) {
    return std::all_of(cells.begin(), cells.end(), [](const std::string& cell) { return trimmed_cell(cell).empty(); });
  };
  if (std::all_of(table.rows.begin(), table.rows.end(), empty_row))
    throw InputError(name, "", "no rows", "one row per trial");
  if (table.rows.size() > kMostRows)
    throw InputError(name, "", std::to_string(table.rows.size()) + " rows", "at most 10,000");
  for (std::size_t r = 0; r < table.rows.size(); ++r) {
    if (empty_row(table.rows[r])) continue;  // spreadsheets leave them behind a table
    const std::string where = "row " + std::to_string(r + 1);
    TrialRow row;
    row.name = where;
    for (std::size_t k = 0; k < columns.size(); ++k) {
      const TrialHeading& c = columns[k];
      const std::string& cell = table.rows[r][k];
      const std::string& heading = table.columns[k];
      const auto number = [&] { return number_in(cell, where, heading, name); };
      const auto refuse = [&](const std::string& allowed) {
        throw InputError(name, where + ", " + heading, cited(trimmed_cell(cell)), allowed);
      };
      switch (c.meaning) {
        case TrialColumn::label:
          if (!trimmed_cell(cell).empty())
            row.name = printable(std::string_view(trimmed_cell(cell)).substr(0, 60), Lines::joined);
          break;
        case TrialColumn::setting: {
          const double value = tidy(number() * c.scale + c.offset);
          if (!physics) {  // the limits are those of the model
            if (!(value >= 0.0)) refuse("0 or more");
            row.settings.emplace_back(c.key, value);
            break;
          }
          try {
            check_limits(*c.key, value, trimmed_cell(cell), name);
          } catch (const InputError& error) {
            throw InputError(name, where + ", " + heading, error.found(), error.allowed());
          }
          row.settings.emplace_back(c.key, value);
          break;
        }
        case TrialColumn::mean:
          if (trimmed_cell(cell).empty()) break;
          row.mean_m = number() * c.scale;
          if (!(row.mean_m >= 1e-9 && row.mean_m <= 1e-2)) refuse("a diameter from 1 nm to 10 mm");
          break;
        case TrialColumn::sd:
          if (trimmed_cell(cell).empty()) break;
          row.sd_m = number() * c.scale;
          if (!(row.sd_m >= 0.0 && row.sd_m <= 1e-2)) refuse("0 or more");
          break;
        case TrialColumn::count:
          if (trimmed_cell(cell).empty()) break;
          row.count = number();
          if (!(row.count >= 1.0 && row.count <= 1e7 && row.count == std::floor(row.count)))
            refuse("a whole number, 1 or more");
          break;
        case TrialColumn::covariate:
          row.covariates.push_back(number());
          if (!(row.covariates.back() >= 0.0)) refuse("0 or more");
          break;
        case TrialColumn::batch: row.batch = trimmed_cell(cell).substr(0, 60); break;
        case TrialColumn::seen: row.seen = trimmed_cell(cell).substr(0, 60); break;
        case TrialColumn::mass:
          if (trimmed_cell(cell).empty()) break;
          row.mass_kg = number() * c.scale;
          if (!(*row.mass_kg > 0.0)) refuse("more than 0");
          break;
        case TrialColumn::seconds:
          if (trimmed_cell(cell).empty()) break;
          row.seconds = number() * c.scale;
          if (!(*row.seconds > 0.0)) refuse("more than 0");
          break;
        case TrialColumn::thick_share:
          if (trimmed_cell(cell).empty()) break;
          row.thick_share = number() * c.scale;
          if (!(*row.thick_share >= 0.0 && *row.thick_share <= 1.0)) refuse("0 to 100 %");
          break;
        case TrialColumn::gas_flow:
          if (trimmed_cell(cell).empty()) break;
          row.gas_flow_m3_s = number() * c.scale;
          if (!(*row.gas_flow_m3_s >= 0.0 && *row.gas_flow_m3_s <= 10.0)) refuse("0 to 10 m3/s");
          break;
        case TrialColumn::yield:
          if (trimmed_cell(cell).empty()) break;
          row.yield = number() * c.scale;
          if (!(*row.yield >= 0.0 && *row.yield <= 1.0)) refuse("0 to 100 %");
          break;
        case TrialColumn::ignored: break;
        case TrialColumn::list: {
          const std::filesystem::path path = trimmed_cell(cell);
          if (path.empty()) refuse("a file with measured diameters");
          bool outside = path.is_absolute();
          for (const auto& part : path) outside = outside || part == "..";
          if (outside) refuse("a file in the folder of the table");
          const std::string file = (std::filesystem::path(folder) / path).string();
          const DiameterList read = read_diameter_text(
              read_bounded_file(file, kMostListBytes, "a text file with measured diameters", Named::in_a_file), file);
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

TrialData read_trial_file(const std::string& path, bool physics) {
  return read_trial_text(read_bounded_file(path, kMostBytes, "a CSV table of trials", Named::by_user), path,
                         std::filesystem::path(path).parent_path().string(), physics);
}

}  // namespace whorl::io
