// CSV as it comes (figure, measured points): the table reader, its numbers, and the two record readers against each other.
// What append_text writes must read back as one cell that no spreadsheet runs.
#include <cstdint>
#include <sstream>
#include <string>
#include <vector>

#include "fuzz/expect.hpp"
#include "io/table.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"

namespace {

void read_table(const std::string& text) {
  try {
    const auto table = whorl::io::parse_table(text, "fuzz.csv");
    WHORL_EXPECT(!table.columns.empty());
    for (const auto& row : table.rows) WHORL_EXPECT(row.size() == table.columns.size());
    for (std::size_t i = 0; i < table.columns.size() && i < 8; ++i) {
      try {
        WHORL_EXPECT(table.numbers(table.columns[i]).size() == table.rows.size());
      } catch (const whorl::InputError&) {
      }
    }
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
}

// On a line without a line break, both readers accept the same and find the same cells.
void compare_readers(const std::string& line) {
  if (line.empty() || line.find_first_of("\r\n") != std::string::npos) return;
  std::vector<std::string> split;
  const bool good = whorl::io::split_csv_line(line, split);
  std::istringstream input(line);
  std::vector<std::string> record;
  bool same = false;
  try {
    same = whorl::io::read_csv_record(input, record, "fuzz.csv");
  } catch (const whorl::InputError&) {
  }
  WHORL_EXPECT(good == same);
  if (good) WHORL_EXPECT(split == record);
}

void write_and_read(const std::string& text) {
  std::string line;
  whorl::io::append_text(line, text);
  std::vector<std::string> cells;
  WHORL_EXPECT(line.find_first_of("\r\n") == std::string::npos);
  WHORL_EXPECT(whorl::io::split_csv_line(line, cells));
  WHORL_EXPECT(cells.size() == 1);
  const auto first = cells[0].find_first_not_of(' ');
  if (first != std::string::npos) WHORL_EXPECT(std::string("=+-@").find(cells[0][first]) == std::string::npos);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  read_table(text);
  compare_readers(text.substr(0, text.find_first_of("\r\n")));
  write_and_read(text);
  return 0;
}
