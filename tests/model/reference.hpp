// Reads the tables of tests/reference: comma-separated, '#' comments, one header line.
#pragma once
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace whorl::testing {

using Row = std::map<std::string, std::string>;

inline std::vector<Row> read_reference(const std::string& name) {
  std::ifstream file(std::string(WHORL_SOURCE_DIR "/tests/reference/") + name);
  std::vector<Row> rows;
  std::vector<std::string> header;
  std::string line;
  while (std::getline(file, line)) {
    if (line.empty() || line[0] == '#') continue;
    std::vector<std::string> cells;
    std::stringstream stream(line);
    std::string cell;
    while (std::getline(stream, cell, ',')) cells.push_back(cell);
    if (header.empty()) {
      header = cells;
      continue;
    }
    Row row;
    for (std::size_t i = 0; i < header.size(); ++i) row[header[i]] = i < cells.size() ? cells[i] : "";
    rows.push_back(row);
  }
  return rows;
}

inline double number(const Row& row, const char* key) { return std::stod(row.at(key)); }

}  // namespace whorl::testing
