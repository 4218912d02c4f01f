// What the program prints by a symbol stands in docs/symbols.md under that symbol, unit and key.
#include <fstream>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "catch.hpp"
#include "engine/case_of.hpp"
#include "whorl/engine/estimate.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/io/profile_table.hpp"

using namespace whorl;

namespace {

struct Row {
  std::string symbol, latex, meaning, unit, key, where;
};

std::string trimmed(const std::string& text) {
  const auto from = text.find_first_not_of(" `");
  return from == std::string::npos ? "" : text.substr(from, text.find_last_not_of(" `") - from + 1);
}

// Rows of the table under a heading; bars inside a cell do not occur.
std::vector<Row> rows_under(const std::string& document, const std::string& heading) {
  const auto from = document.find("\n## " + heading + "\n");
  if (from == std::string::npos) return {};
  std::istringstream in(document.substr(from + 4, document.find("\n## ", from + 4) - from - 4));
  std::vector<Row> rows;
  for (std::string line; std::getline(in, line);) {
    if (line.rfind("| `", 0) != 0) continue;
    std::vector<std::string> cells;
    std::istringstream row(line.substr(1));
    for (std::string cell; std::getline(row, cell, '|');) cells.push_back(trimmed(cell));
    cells.resize(6);
    rows.push_back({cells[0], cells[1], cells[2], cells[3], cells[4], cells[5]});
  }
  return rows;
}

struct Printed {
  std::string symbol, unit, key;
};

/// Every difference as one line, both ways.
std::vector<std::string> differences(const std::vector<Row>& rows, const std::vector<Printed>& printed) {
  std::vector<std::string> faults;
  std::set<std::string> known;
  for (const Printed& one : printed) {
    if (one.symbol.empty()) continue;
    known.insert(one.key);
    const Row* found = nullptr;
    for (const Row& row : rows) {
      if (row.key == one.key) found = &row;
    }
    if (found == nullptr) {
      faults.push_back(one.key + ": not in docs/symbols.md");
    } else if (found->symbol != one.symbol || found->unit != one.unit) {
      faults.push_back(one.key + ": '" + one.symbol + "' [" + one.unit + "] in the program, '" + found->symbol + "' [" + found->unit +
                       "] in docs/symbols.md");
    } else if (found->latex.size() < 3 || found->latex.front() != '$' || found->latex.back() != '$' || found->meaning.empty() ||
               found->where.empty()) {
      faults.push_back(one.key + ": typeset symbol, meaning or equation is missing in docs/symbols.md");
    }
  }
  for (const Row& row : rows) {
    if (known.count(row.key) == 0) faults.push_back(row.key + ": in docs/symbols.md, printed nowhere");
  }
  return faults;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string out;
  for (const auto& line : lines) out += line + '\n';
  return out;
}

std::string symbols_page() {
  std::ifstream in(std::string(WHORL_SOURCE_DIR "/docs/symbols.md"), std::ios::binary);
  REQUIRE(in);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("Symbols of results, profiles and groups stand in docs/symbols.md", "[docs]") {
  const std::string page = symbols_page();
  std::vector<Printed> results, profile, threads, groups;
  for (const auto& o : io::outputs()) results.push_back({std::string(o.symbol), std::string(o.unit), std::string(o.column)});
  for (const auto& c : io::profile_columns()) profile.push_back({std::string(c.symbol), std::string(c.unit), std::string(c.column)});
  for (const auto& c : io::thread_columns()) threads.push_back({std::string(c.symbol), std::string(c.unit), std::string(c.column)});
  engine::EstimateOptions first_jet_only;
  first_jet_only.run_distribution = false;
  const auto estimate = engine::estimate(testing::plain_case(), io::built_in_library(), first_jet_only);
  for (const auto& group : estimate.groups) groups.push_back({group.symbol, "1", group.key});
  REQUIRE(results.size() > 60);
  REQUIRE(profile.size() > 15);
  REQUIRE(groups.size() == 18);  // all there are: this case turns, flows and arrives
  const auto check = [&](const std::string& heading, const std::vector<Printed>& printed) {
    const auto faults = differences(rows_under(page, heading), printed);
    INFO(heading << '\n' << joined(faults));
    CHECK(faults.empty());
  };
  check("Results", results);
  check("Along the jet", profile);
  check("Along torn threads", threads);
  check("Dimensionless groups", groups);
}

TEST_CASE("The check of symbols sees what is missing, other or left over", "[docs]") {
  const auto rows = rows_under("\n## T\n\n| a |\n|---|\n| `u_f` | $u_f$ | line speed | m/s | `line_speed_m_s` | 3.3 |\n", "T");
  REQUIRE(rows.size() == 1);
  CHECK(differences(rows, {{"u_f", "m/s", "line_speed_m_s"}}).empty());
  CHECK(differences(rows, {{"u", "m/s", "line_speed_m_s"}}).size() == 1);
  CHECK(differences(rows, {{"u_f", "mm/s", "line_speed_m_s"}}).size() == 1);
  CHECK(differences(rows, {}).size() == 1);
  CHECK(differences({}, {{"u_f", "m/s", "line_speed_m_s"}}).size() == 1);
  CHECK(differences(rows, {{"u_f", "m/s", "line_speed_m_s"}, {"", "1", "torn"}}).empty());
}
