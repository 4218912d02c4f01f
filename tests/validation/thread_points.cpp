// Reads the published points, and the gas and liquid that each stands for.
#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>

#include "validation/thread_law.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/constants.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/gas.hpp"

namespace whorl::validation {
namespace {

using Row = std::map<std::string, std::string>;

constexpr double kUsualBore_m = 0.5e-3;  // where no bore is stated: common needles; only the cascade asks for it

// Columns by the names of this table; the second name is that of raw collections.
constexpr const char* kOtherNames[][2] = {{"study", "source"},
                                          {"molar_mass_kg_mol", "Mw_kDa"},
                                          {"concentration", "conc"},
                                          {"basis", "conc_basis"},
                                          {"orifice_mm", "orifice_diameter_mm"},
                                          {"overpressure_MPa", "gas_overpressure_MPa"},
                                          {"distance_mm", "collection_distance_mm"},
                                          {"relative_humidity", "RH_pct"}};

std::vector<Row> read_table(const std::string& name) {
  std::ifstream file(name);
  if (!file) throw InputError(name, "", "", "a file that can be read");
  std::string text;
  for (std::string line; std::getline(file, line);)
    if (line.empty() || line.front() != '#') text += line + '\n';
  std::istringstream table(text);
  std::vector<std::string> header;
  std::vector<std::string> cells;
  if (!io::read_csv_record(table, header, name)) throw InputError(name, "", "", "a header line");
  for (std::string& column : header)
    for (const auto& [ours, other] : kOtherNames)
      if (column == other) column = ours;
  std::vector<Row> rows;
  while (io::read_csv_record(table, cells, name)) {
    Row row;
    for (std::size_t i = 0; i < header.size(); ++i) row[header[i]] = i < cells.size() ? cells[i] : "";
    rows.push_back(std::move(row));
  }
  return rows;
}

std::string text_of(const Row& row, const char* key) {
  const auto found = row.find(key);
  return found == row.end() ? std::string() : found->second;
}

// 0 where nothing is stated, or a range.
double number_of(const Row& row, const char* key) {
  const std::string text = text_of(row, key);
  std::size_t used = 0;
  try {
    const double value = std::stod(text, &used);
    return used == text.size() && std::isfinite(value) ? value : 0.0;
  } catch (const std::exception&) {
    return 0.0;
  }
}

struct Liquid {
  double density_kg_m3{}, surface_tension_N_m{};
};

class Liquids {
 public:
  explicit Liquids(const std::string& file) : file_(file), rows_(read_table(file)) {}

  [[nodiscard]] double polymer_density(const std::string& name) const {
    if (const Row* row = find("polymer", name)) return number_of(*row, "density_kg_m3");
    if (const model::Polymer* known = io::built_in_library().polymer(name)) return known->density.value;
    throw InputError(file_, "polymer", name, "a polymer of this table or of the property library");
  }
  // A row "SOLVENT with POLYMER" comes first: some polymers change the surface.
  [[nodiscard]] Liquid solvent(const std::string& name, const std::string& polymer) const {
    const Row* row = find("solvent", name + " with " + polymer);
    if (!row) row = find("solvent", name);
    if (!row) {
      if (const model::Solvent* known = io::built_in_library().solvent(name))
        return {known->density_25.value, known->surface_tension_25.value};
      throw InputError(file_, "solvent", name, "a solvent of this table or of the property library");
    }
    Liquid out{number_of(*row, "density_kg_m3"), 1e-3 * number_of(*row, "surface_tension_mN_m")};
    const std::string parts = text_of(*row, "parts");
    if (parts.empty()) return out;
    std::istringstream stream(parts);
    std::string part;
    double share = 0.0;
    double all = 0.0;
    Liquid sum;
    while (stream >> part >> share) {
      const Liquid one = solvent(part, "");
      sum.density_kg_m3 += share * one.density_kg_m3;
      sum.surface_tension_N_m += share * one.surface_tension_N_m;
      all += share;
    }
    if (!(all > 0.0)) throw InputError(file_, "parts", parts, "solvents and shares, such as 'chloroform 3 acetone 1'");
    if (out.density_kg_m3 == 0.0) out.density_kg_m3 = sum.density_kg_m3 / all;
    if (out.surface_tension_N_m == 0.0) out.surface_tension_N_m = sum.surface_tension_N_m / all;
    return out;
  }

 private:
  [[nodiscard]] const Row* find(const std::string& kind, const std::string& name) const {
    for (const Row& row : rows_)
      if (text_of(row, "kind") == kind && text_of(row, "name") == name) return &row;
    return nullptr;
  }
  std::string file_;
  std::vector<Row> rows_;
};

model::Concentration concentration_of(const Row& row, const std::string& file) {
  const std::string basis = text_of(row, "basis");
  const double value = number_of(row, "concentration");
  // "w/v %": per volume of solvent, as the bench takes it; which one the papers meant is not in the collection
  if (basis == "wt%") return {model::ConcentrationBasis::mass, 0.01 * value};
  if (basis == "w/v %") return {model::ConcentrationBasis::w_v_of_solvent, 0.01 * value};
  if (basis.starts_with("g/mL ")) return {model::ConcentrationBasis::w_v_of_solvent, std::stod(basis.substr(5))};
  throw InputError(file, "basis", basis, "wt%, w/v % or 'g/mL 0.1'");
}

}  // namespace

std::vector<Point> read_points(const std::string& points, const std::string& liquids) {
  const Liquids known(liquids);
  std::vector<Point> out;
  for (const Row& row : read_table(points)) {
    const std::string set = text_of(row, "set");
    if (set != "gas" && !set.starts_with("B ")) continue;
    Point p;
    p.diameter_m = 1e-9 * number_of(row, "diameter_mean_nm");
    p.diameter_sd_m = 1e-9 * number_of(row, "diameter_sd_nm");
    p.overpressure_Pa = 1e6 * number_of(row, "overpressure_MPa");
    if (!(p.diameter_m > 0.0) || !(p.overpressure_Pa > 0.0) || text_of(row, "concentration").empty()) continue;
    const std::string polymer = text_of(row, "polymer");
    const std::string solvent = text_of(row, "solvent");
    const std::string label = text_of(row, "study");
    p.study = text_of(row, "doi").empty() ? label : text_of(row, "doi");
    p.label = label.substr(0, label.find(' '));
    p.liquid = polymer + " in " + solvent;
    p.feed_m3_s = number_of(row, "feed_mL_h") * 1e-6 / 3600.0;
    p.distance_m = 1e-3 * number_of(row, "distance_mm");
    p.bore_m = 1e-3 * number_of(row, "orifice_mm");

    const Liquid liquid = known.solvent(solvent, polymer);
    const double polymer_density = known.polymer_density(polymer);
    const model::Concentration stated = concentration_of(row, points);
    const model::Composition mixed = model::compose(stated, polymer_density, liquid.density_kg_m3);
    p.concentration = stated.value;
    model::CaseInput room;
    if (const double celsius = number_of(row, "temperature_C"); celsius > 0.0)
      room.room.temperature_K = 273.15 + celsius;
    if (const double humidity = number_of(row, "relative_humidity"); humidity > 0.0)
      room.room.relative_humidity = 0.01 * humidity;
    const model::Air air = model::make_air(room, model::Fluid{});
    const model::GasExit exit = model::gas_exit(p.overpressure_Pa, air);
    p.flow.gas_density_kg_m3 = model::expanded_gas_density_kg_m3(exit, air);
    p.flow.gas_speed_m_s = exit.jet_speed_m_s;
    const double measured = 1e-3 * number_of(row, "surface_tension_mN_m");
    p.flow.surface_tension_N_m = measured > 0.0 ? measured : liquid.surface_tension_N_m;
    p.flow.solids_fraction = mixed.polymer_volume_fraction;
    p.flow.liquid_diameter_m = p.bore_m > 0.0 ? p.bore_m : kUsualBore_m;
    out.push_back(std::move(p));
  }
  return out;
}

}  // namespace whorl::validation
