#include "catch.hpp"
#include "whorl/model/printable.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/error.hpp"

#include <cmath>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

#include <set>
#include <sstream>

using namespace whorl::io;

namespace {
std::string cell(std::string_view text) {
  std::string line;
  append_text(line, text);
  return line;
}
}  // namespace

TEST_CASE("numbers are the shortest text that reads back as the same double") {
  CHECK(format_number(0.1) == "0.1");
  CHECK(format_number(12000) == "12000");
  CHECK(format_number(-2.5) == "-2.5");
  CHECK(format_number(1e-9) == "1e-09");
  CHECK(format_number(-0.0) == "0");
  CHECK(format_number(std::numeric_limits<double>::denorm_min()) == "5e-324");
  std::mt19937_64 random(1);
  for (int i = 0; i < 20000; ++i) {
    const std::uint64_t bits = random();
    double value = 0.0;
    std::memcpy(&value, &bits, sizeof value);
    if (!std::isfinite(value)) continue;
    REQUIRE(std::strtod(format_number(value).c_str(), nullptr) == value);
  }
}

TEST_CASE("what is not a number leaves the cell empty") {
  CHECK(format_number(std::numeric_limits<double>::quiet_NaN()).empty());
  CHECK(format_number(std::numeric_limits<double>::infinity()).empty());
  CHECK(format_number(-std::numeric_limits<double>::infinity()).empty());
}

// RFC 4180, section 2, rules 5 to 7.
TEST_CASE("text cells are quoted where RFC 4180 asks for it") {
  CHECK(cell("plain text") == "plain text");
  CHECK(cell("a,b") == "\"a,b\"");
  CHECK(cell("say \"no\"") == "\"say \"\"no\"\"\"");
  CHECK(cell("two\nlines\tand\x01") == "\"two lines and \"");
  CHECK(cell("") == "");
}

// OWASP, "CSV Injection": cells that begin with = + - @ are run as formulas by spreadsheets (from memory).
TEST_CASE("text that a spreadsheet would run is disarmed") {
  CHECK(cell("=1+1") == "'=1+1");
  CHECK(cell("+1") == "'+1");
  CHECK(cell("-1") == "'-1");
  CHECK(cell("@SUM(A1)") == "'@SUM(A1)");
  CHECK(cell("\t=1") == "' =1");
  CHECK(cell("=HYPERLINK(\"x\",\"y\")") == "\"'=HYPERLINK(\"\"x\"\",\"\"y\"\")\"");
  CHECK(cell("a=1") == "a=1");
}

TEST_CASE("cells written are cells read") {
  std::mt19937 random(2);
  const std::string alphabet = "ab,\"' \n\r;=\xC3\xA9";
  for (int i = 0; i < 2000; ++i) {
    std::string line;
    std::vector<std::string> written;
    for (int c = 0; c < 4; ++c) {
      std::string text = "x";  // a letter first: no apostrophe is put in front
      for (auto n = random() % 6; n > 0; --n) text += alphabet[random() % alphabet.size()];
      if (c > 0) line += ',';
      append_text(line, text);
      written.push_back(whorl::printable(text, whorl::Lines::joined));
    }
    std::vector<std::string> read;
    REQUIRE(split_csv_line(line, read));
    REQUIRE(read == written);
    std::istringstream input(line + "\r\n");
    REQUIRE(read_csv_record(input, read, "x.csv"));
    REQUIRE(read == written);
    REQUIRE_FALSE(read_csv_record(input, read, "x.csv"));
  }
}

TEST_CASE("records of other programs: CRLF, line breaks inside quotes, empty cells, no line end at the end") {
  std::istringstream input("a,\"two\nlines\",\r\n,\n\"q\"\"q\"");
  std::vector<std::string> cells;
  REQUIRE(read_csv_record(input, cells, "x.csv"));
  CHECK(cells == std::vector<std::string>{"a", "two\nlines", ""});
  REQUIRE(read_csv_record(input, cells, "x.csv"));
  CHECK(cells == std::vector<std::string>{"", ""});
  REQUIRE(read_csv_record(input, cells, "x.csv"));
  CHECK(cells == std::vector<std::string>{"q\"q"});
  CHECK_FALSE(read_csv_record(input, cells, "x.csv"));
}

TEST_CASE("broken quoting is an error, not a guess") {
  std::vector<std::string> cells;
  for (const char* text : {"\"open", "\"a\"b,c", "a\"b"}) {
    std::istringstream input(text);
    CHECK_THROWS_AS(read_csv_record(input, cells, "x.csv"), whorl::InputError);
    CHECK_FALSE(split_csv_line(text, cells));
  }
}

TEST_CASE("the output table is sound") {
  std::set<std::string_view> columns{"point", "status", "reason", "class", "landing", "warnings"};
  for (const auto& key : numeric_keys()) {
    INFO(key.column);
    CHECK(columns.insert(key.column).second);
  }
  for (const auto& output : outputs()) {
    INFO(output.column);
    CHECK(columns.insert(output.column).second);  // no result is called like an input
    CHECK(find_output(output.column) == &output);
    CHECK_FALSE(output.description.empty());
    CHECK_FALSE(ucum_code(output.unit).empty());
    CHECK(output.typical > 0.0);
    // The suffix says the unit: "Pa s" is written Pa_s, "m/s" m_s, "kg/m3" kg_m3.
    if (output.unit == "1") continue;
    std::string suffix = "_" + std::string(output.unit);
    for (char& c : suffix)
      if (c == ' ' || c == '/') c = '_';
    const std::string column(output.column);
    CHECK(column.size() > suffix.size());
    CHECK(column.substr(column.size() - suffix.size()) == suffix);
  }
  CHECK(find_output("no_such_column") == nullptr);
}

// After a change of outputs: put command-docs/columns.md of the build folder in the place of that table.
TEST_CASE("docs/formats/sweep.md lists the results as the table has them") {
  std::ifstream input(std::string(WHORL_SOURCE_DIR "/docs/formats/sweep.md"));
  const std::string text{std::istreambuf_iterator<char>(input), {}};
  const auto at = text.find("### Results\n\n");
  REQUIRE(at != std::string::npos);
  CHECK(text.substr(at + 13, output_table_markdown().size()) == output_table_markdown());
}

TEST_CASE("numbers that are not results are never written") {
  whorl::model::Estimate estimate;
  estimate.dry_diameter_m = 2e-6;
  estimate.jet.status = whorl::model::Status::done;
  estimate.jet.reached_collector = true;
  estimate.fibre_class = whorl::model::FibreClass::continuous;
  const Output* diameter = find_output("dry_diameter_um");
  REQUIRE(diameter != nullptr);
  CHECK_FALSE(output_value(*diameter, estimate));  // not converged
  estimate.status = whorl::model::Status::done;
  REQUIRE(output_value(*diameter, estimate));
  CHECK_THAT(*output_value(*diameter, estimate), WithinRel(2.0, 1e-12));
  estimate.fibre_class = whorl::model::FibreClass::drops;
  CHECK_FALSE(output_value(*diameter, estimate));
  estimate.fibre_class = whorl::model::FibreClass::continuous;
  estimate.jet.reached_collector = false;  // a fibre that floats has a diameter, but nothing lands
  CHECK(output_value(*diameter, estimate));
  CHECK_FALSE(output_value(*find_output("residual_solvent"), estimate));
  CHECK_FALSE(output_value(*find_output("line_speed_m_s"), estimate));
  estimate.jet.reached_collector = true;
  estimate.dry_diameter_m = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(output_value(*diameter, estimate));
  estimate.jet.end_temperature_K = 293.15;
  CHECK_THAT(*output_value(*find_output("end_temperature_degC"), estimate), WithinAbs(20.0, 1e-9));
}

// Required members and forms: W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015, sections 5.3 to 5.6
// (from memory).
TEST_CASE("metadata has the form of CSV on the Web") {
  TableMetadata table;
  table.url = "a.csv";
  table.title = "bad bytes \xFF";
  table.identity = "ab";
  table.program_version = "1";
  table.case_sha256 = "cd";
  table.facts = {{"design", "grid"}};
  table.columns = {{"point", "integer", "", "", "number", true},
                   {"status", "string", "", "", "how", true, {"done", "failed"}},
                   {"d_um", "double", "um", "d", "diameter", false}};
  const std::string text = csvw_text(table);
  CHECK(text == csvw_text(table));
  const auto json = nlohmann::json::parse(text);
  CHECK(json["@context"] == "http://www.w3.org/ns/csvw");
  CHECK(json["url"] == "a.csv");
  const auto& columns = json["tableSchema"]["columns"];
  REQUIRE(columns.size() == 3);
  CHECK(columns[0]["required"] == true);
  CHECK(columns[1]["datatype"]["format"] == "done|failed");
  CHECK(columns[2]["schema:unitCode"] == "UCUM:um");
  CHECK(json["tableSchema"]["primaryKey"] == "point");
  // Common properties are prefixed names; anything else must be a word of the vocabulary.
  for (const auto& [name, value] : json.items())
    CHECK((name.find(':') != std::string::npos || name == "@context" || name == "url" || name == "dialect" || name == "tableSchema"));

  const TableIdentity identity = read_csvw_identity(text, "a");
  CHECK(identity.identity == "ab");
  CHECK(identity.case_sha256 == "cd");
  CHECK(identity.facts == table.facts);
  CHECK_THROWS_AS(read_csvw_identity("{}", "a"), whorl::InputError);
  CHECK_THROWS_AS(read_csvw_identity("{", "a"), whorl::InputError);
  CHECK_THROWS_AS(read_csvw_identity(text.substr(0, text.size() / 2), "a"), whorl::InputError);
  CHECK(csvw_file("out/a.csv") == "out/a.csv-metadata.json");
}
