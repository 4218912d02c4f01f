// Lists of measured diameters as they come, and as they must not.
#include <algorithm>
#include <string>
#include <vector>

#include "catch.hpp"
#include "whorl/io/diameters.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using io::read_diameter_text;

namespace {
std::vector<double> um(const std::string& text, const io::DiameterListOptions& options = {}) {
  std::vector<double> out = read_diameter_text(text, "list.csv", options).values_m;
  for (double& d : out) d *= 1e6;
  return out;
}
}  // namespace

TEST_CASE("diameter lists: the ways image analysis writes them", "[io][diameters]") {
  const auto same = [](const std::vector<double>& a, const std::vector<double>& b) {
    REQUIRE(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) CHECK_THAT(a[i], WithinRel(b[i], 1e-12));
  };
  same(um("1.2\n0.8\n1.5\n", {"um", ""}), {1.2, 0.8, 1.5});
  same(um("Diameter (nm)\n1200\n800\n"), {1.2, 0.8});
  same(um("diameter_um\n1.2\n0.8"), {1.2, 0.8});
  same(um("\xEF\xBB\xBF" "d [\xC2\xB5m]\r\n1.2\r\n\r\n0.8\r\n"), {1.2, 0.8});
  same(um("# made by hand\nd / \xCE\xBCm\n1.2\n# a second picture\n0.8\n"), {1.2, 0.8});
  same(um("No;Diameter (um);Angle\n1;1,25;30\n2;0,75;40\n"), {1.25, 0.75});   // decimal comma beside semicolons
  same(um("Diameter (um)\n1,25\n0,75\n"), {1.25, 0.75});                       // and under a single heading
  same(um("Diameter (um)\n1,250\n0,755\n12,5\n"), {1.25, 0.755, 12.5});        // 0,755 cannot be thousands
  same(um(" ,Area,Diam (um)\n1,3.0,1.2\n2,4.0,0.8\n"), {1.2, 0.8});
  same(um("n\tdiameter um\n1\t1.2\n2\t0.8\n"), {1.2, 0.8});
  same(um("1 1.2\n2 0.8\n", {"um", "2"}), {1.2, 0.8});
  same(um("\"Label\",\"Diameter (um)\"\n\"a,b\",1.2\n\"c\",0.8\n"), {1.2, 0.8});
  same(um("a;diameter (um)\n1;1.2\n2;\n3;0.8\n"), {1.2, 0.8});                 // a shorter column
  same(um("Diameter (nm)\n1200\n", {"nm", ""}), {1.2});                        // the same twice
  // instruments and spreadsheets: a line that names the separator, old line ends, three decimals with a comma
  same(um("sep=;\r\nNo;Diameter (um)\r\n1;1,250\r\n2;0,750\r\n"), {1.25, 0.75});
  same(um("No;Diameter (um)\n1;1,250\n2;2,310\n"), {1.25, 2.31});
  same(um("Diameter (um)\r1.2\r0.8\r"), {1.2, 0.8});
  same(um("sep=|\nNo|Diameter (um)\n1|1,25\n"), {1.25});
  same(um("1,250\n2,310\n", {"um", "", "comma"}), {1.25, 2.31});
  same(um("No;Diameter (nm)\n1;850\n2;1,250\n", {"", "", "comma"}), {0.85, 0.00125});
  same(um("n,Diameter (um)\n1,1.250\n", {"", "", "point"}), {1.25});
  // the letters of instruments that know no UTF-8
  same(um("Diameter (\xB5m)\r\n5,5\r\n6,25\r\n"), {5.5, 6.25});
  same(um(std::string("\xFF\xFE" "d\0 \0(\0\xB5\0m\0)\0\n\0" "5\0\n\0", 20)), {5.0});
  same(um(std::string("\xFE\xFF" "\0d\0 \0(\0\xB5\0m\0)\0\n\0" "5\0\n", 20)), {5.0});
  CHECK(read_diameter_text("d (nm)\n5\n", "x").unit == "nm");
  CHECK(read_diameter_text("No;Diameter (um)\n1;2\n", "x").column == "Diameter (um)");
}

TEST_CASE("diameter lists: malformed ones get one clear message", "[io][diameters][hostile]") {
  struct Bad {
    const char* what;
    std::string text;
    io::DiameterListOptions options;
    const char* where;    ///< in the key of the error
    const char* allowed;  ///< part of what is allowed
  };
  const io::DiameterListOptions in_um{"um", ""};
  const std::vector<Bad> all{
      {"empty", "", in_um, "", "one measured diameter"},
      {"blank", "\n \n\t\n", in_um, "", "one measured diameter"},
      {"comments only", "# a\n# b\n", in_um, "", "one measured diameter"},
      {"heading only", "Diameter (um)\n", {}, "", "one measured diameter"},
      {"binary", std::string("\x89PNG\0\x1a", 6), in_um, "", "text file"},
      {"no unit", "1.2\n0.8\n", {}, "unit", "--unit"},
      {"heading without unit", "Diameter\n1.2\n", {}, "unit", "--unit"},
      {"unit of a mass", "1.2\n", {"kg", ""}, "unit", "nm, um, mm or m"},
      {"text", "Diameter (um)\n1.2\nabout 2\n", {}, "line 3", "a number"},
      {"not a number", "Diameter (um)\nNaN\n", {}, "line 2", "a number"},
      {"infinite", "Diameter (um)\ninf\n", {}, "line 2", "a number"},
      {"hexadecimal", "Diameter (um)\n0x10\n", {}, "line 2", "a number"},
      {"formula", "Diameter (um)\n=1+1\n", {}, "line 2", "a number"},
      {"negative", "Diameter (um)\n-1.2\n", {}, "line 2", "1 nm to 10 mm"},
      {"zero", "Diameter (um)\n0\n", {}, "line 2", "1 nm to 10 mm"},
      {"huge", "Diameter (um)\n1e300\n", {}, "line 2", "1 nm to 10 mm"},
      {"overflow", "Diameter (um)\n1e999\n", {}, "line 2", "a number"},
      {"tiny", "Diameter (nm)\n0.5\n", {}, "line 2", "1 nm to 10 mm"},
      {"unit mistaken", "1200\n", {"mm", ""}, "line 1", "1 nm to 10 mm"},
      {"two columns, none named", "No;Width (um)\n1;2\n", {}, "column", "--column"},
      {"two called diameter", "Diam1 (um);Diam2 (um)\n1;2\n", {}, "column", "--column"},
      {"no such column", "No;Diameter (um)\n1;2\n", {"", "length"}, "column", "No, Diameter (um)"},
      {"column 0", "1 2\n", {"um", "0"}, "column", "1, 2"},
      {"ragged", "No;Diameter (um)\n1;2\n3\n", {}, "line 3", "2 as in the first line"},
      {"ambiguous comma", "1,25\n0,75\n", in_um, "line 1", "decimal"},
      {"two numbers in a cell", "Diameter (um);n\n1.2.3;4\n", {}, "line 2", "a number"},
      {"comma of thousands or decimals", "Diameter (nm)\n1,250\n2,310\n", {}, "line 2", "thousands"},
      {"the same beside semicolons", "No;Diameter (nm)\n1;850\n2;1,250\n", {}, "line 3", "thousands"},
      {"a unit against the heading", "Diameter (um)\n5\n6\n", {"nm", ""}, "unit", "the unit of the heading"},
      {"commas between points", "Diameter (um);n\n1,25;4\n", {"", "", "point"}, "line 2", "a number"},
      {"another sign", "1.2\n", {"um", "", "dot"}, "decimal", "comma or point"},
      {"thousands", "Diameter (nm);n\n1 200;4\n", {}, "line 2", "a number"},
  };
  CHECK(all.size() >= 25);
  for (const Bad& bad : all) {
    INFO(bad.what);
    try {
      (void)read_diameter_text(bad.text, "list.csv", bad.options);
      FAIL("accepted");
    } catch (const InputError& error) {
      CHECK(error.file() == "list.csv");
      CHECK(error.key() == bad.where);
      INFO(error.what());
      CHECK(error.allowed().find(bad.allowed) != std::string::npos);
      CHECK_FALSE(error.found().empty());
      CHECK(error.found().size() < 100);
    }
  }
}
