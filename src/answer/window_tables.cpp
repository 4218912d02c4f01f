// The points and the boundary of a window as tables.
#include <array>

#include "answer/provenance.hpp"
#include "answer/window_report.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"

namespace whorl::answer {
namespace {

using study::UnitPoint;
using study::WindowProbe;

std::vector<io::TableColumn> setting_columns(const study::WindowSpec& spec) {
  std::vector<io::TableColumn> columns;
  const auto add = [&](const io::Key& key) {
    columns.push_back({std::string(key.column), "double", key.display_unit == "1" ? "" : std::string(key.display_unit),
                       "", std::string(key.path) + ", " + std::string(key.description), true});
  };
  for (const study::SweptKey& slice : spec.slices) add(*slice.key);
  for (const study::PlaneAxis& axis : spec.plane) add(*axis.key);
  return columns;
}

void append_settings(std::string& row, const study::WindowSpec& spec, const study::WindowSlice& slice,
                     const UnitPoint& at) {
  for (const double level : slice.levels) {
    io::append_number(row, level);
    row.push_back(',');
  }
  io::append_number(row, io::tidy(study::value_at(spec.plane[0], at.x)));
  row.push_back(',');
  io::append_number(row, io::tidy(study::value_at(spec.plane[1], at.y)));
}

std::string metadata_of(const study::LoadedCase& loaded, const study::WindowResult& result, const std::string& path,
                        const char* title, std::vector<io::TableColumn> columns) {
  io::TableMetadata table = table_metadata(loaded, title, path);
  for (const auto& constraint : result.slices.front().map.constraints)
    if (constraint.key != "result") table.facts.emplace_back("wanted", wording(constraint, result.spec.target));
  for (const study::PlaneAxis& axis : result.spec.plane)
    table.facts.emplace_back("range", std::string(axis.key->column) + ": " + io::format_number(axis.from) + " to " +
                                          io::format_number(axis.to));
  table.columns = std::move(columns);
  return finish_metadata(std::move(table));
}

void write_table(const std::string& path, const char* option, bool force, const std::string& metadata,
                 const std::vector<io::TableColumn>& columns, const std::string& rows) {
  std::string text;
  for (const auto& column : columns) text += (text.empty() ? "" : ",") + column.name;
  table::write_whole_table(path, option, metadata, text + '\n' + rows, table::existing_if(force));
}

}  // namespace

void write_window_points(const study::LoadedCase& loaded, const study::WindowResult& result, const std::string& path,
                         bool force) {
  auto columns = setting_columns(result.spec);
  columns.push_back({"met", "boolean", "", "", "whether the point meets the target", true});
  columns.push_back({"missed", "string", "", "", "conditions that are not met, separated by blanks", false});
  columns.push_back({"status",
                     "string",
                     "",
                     "",
                     "done, or not-converged: then there are no results",
                     true,
                     {"done", "not-converged"}});
  columns.push_back({"class", "string", "", "", "what lands on the collector", false});
  columns.push_back({"landing", "string", "", "", "state of what lands", false});
  columns.push_back(
      {"dry_diameter_um", "double", "um", "d_f", "diameter of the dry fibre in the likelier answer", false});
  columns.push_back({"residual_solvent", "double", "", "w_s", "mass fraction of solvent at landing", false});
  columns.push_back(
      {"polymer_throughput_g_h", "double", "g/h", "m_p",
       "polymer leaving all orifices at full settings with the whole charge in the vessel", false});
  std::string rows;
  for (const study::WindowSlice& slice : result.slices)
    for (const auto& node : slice.map.nodes) {
      append_settings(rows, result.spec, slice, node.at);
      rows += node.probe.met() ? ",true," : ",false,";
      std::string missed;
      for (const int k : study::unmet_of(node.probe))
        missed += (missed.empty() ? "" : " ") + slice.map.constraints[static_cast<std::size_t>(k)].key;
      io::append_text(rows, missed);
      rows += node.probe.converged ? ",done," : ",not-converged,";
      if (node.probe.converged) io::append_text(rows, to_string(node.probe.fibre_class));
      rows.push_back(',');
      if (node.probe.converged) io::append_text(rows, to_string(node.probe.landing));
      const auto cell = [&](const std::optional<double>& value, double by) {
        rows.push_back(',');
        if (value) io::append_number(rows, by * *value);
      };
      cell(node.probe.diameter_m, 1e6);
      cell(node.probe.residual_solvent, 1.0);
      cell(node.probe.throughput_kg_s, kToGramsPerHour);
      rows.push_back('\n');
    }
  write_table(path, "-o", force, metadata_of(loaded, result, path, "Points of the window", columns), columns, rows);
}

void write_window_boundary(const study::LoadedCase& loaded, const study::WindowResult& result, const std::string& path,
                           bool force) {
  auto columns = setting_columns(result.spec);
  columns.insert(columns.begin(),
                 {"ring", "integer", "", "", "number of the closed line, from 1; the region is on its left", true});
  columns.push_back(
      {"by", "string", "", "",
       "condition that fails beyond the piece from this point to the next of the ring; range: edge of the range",
       true});
  std::string rows;
  std::size_t number_of_ring = 0;
  for (const study::WindowSlice& slice : result.slices)
    for (const auto& ring : slice.map.rings) {
      ++number_of_ring;
      for (std::size_t k = 0; k < ring.points.size(); ++k) {
        rows += std::to_string(number_of_ring) + ',';
        append_settings(rows, result.spec, slice, ring.points[k]);
        rows.push_back(',');
        io::append_text(rows,
                        ring.by[k] < 0 ? "range" : slice.map.constraints[static_cast<std::size_t>(ring.by[k])].key);
        rows.push_back('\n');
      }
    }
  write_table(path, "--boundary", force, metadata_of(loaded, result, path, "Boundary of the window", columns), columns,
              rows);
}

}  // namespace whorl::answer
