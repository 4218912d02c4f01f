// What an output is of: program, version, case and options stand in everything that the program writes.
#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/process.hpp"
#include "catch.hpp"
#include "io/svg_reader.hpp"
#include "whorl/io/csv.hpp"

using process::finish;
using process::Folder;
using process::present;
using process::read;
using process::start;
using process::write;
using Json = nlohmann::ordered_json;

namespace {

// Not only letters in the name: it goes into XML, PDF and PNG.
constexpr const char* kName = "a & b µ.json";
constexpr const char* kCase = R"({
  "whorl_case": 1,
  "solution": {"polymer": "PCL", "solvent": "chloroform", "molar_mass": "80 kg/mol", "concentration": "12 % w/v of solvent"},
  "vessel": {"bore_diameter": "60 mm", "height": "20 mm", "wall_thickness": "3 mm", "orifice_diameter": "0.4 mm", "orifice_count": 12},
  "operation": {"rotation_speed": "9000 rpm ± 50 rpm", "gas_overpressure": "0.05 MPa", "charge_volume": "4 mL", "collection_distance": "150 mm"},
  "model": {"tier": "inertial", "drying": "lumped"}})";

struct Bench {
  Bench() {
    write(at(kName), kCase);
    std::ostringstream trials, list;
    trials << "label,rotation_speed_rpm,diameter_mean_um,diameter_sd_um,diameter_count\n";
    for (int i = 0; i < 6; ++i) trials << 't' << i << ',' << 7000 + 1000 * i << ',' << 5.0 - 0.4 * i << ",0.5,100\n";
    write(at("trials.csv"), trials.str());
    list << "diameter (um)\n";
    for (int i = 0; i < 20; ++i) list << 2.0 + 0.1 * i << '\n';
    write(at("list.txt"), list.str());
    const std::string first = run({"--version"}, 0);
    version = first.substr(0, first.find('\n'));
    const Json check = Json::parse(run({"check", at(kName), "--json"}, 0));
    digest = check.at("cases").at(0).at("hash").get<std::string>();
  }
  [[nodiscard]] std::string at(const std::string& name) const { return folder / name; }
  std::string run(std::vector<std::string> arguments, int exit) const {
    arguments.insert(arguments.begin(), WHORL_BINARY);
    std::string command;
    for (const auto& word : arguments) command += word + ' ';
    INFO(command);
    const int code = finish(start(arguments, at("out"), at("err")));
    INFO(read(at("err")));
    REQUIRE(code == exit);
    return read(at("out"));
  }
  Folder folder;
  std::string version, digest;
};

// Folded lines joined again.
std::string one_line(std::string text) {
  std::replace(text.begin(), text.end(), '\n', ' ');
  std::string out;
  for (const char c : text)
    if (c != ' ' || (!out.empty() && out.back() != ' ')) out += c;
  return out;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// By another program (GNU coreutils).
std::string sha256sum(const std::string& path) {
  std::string out;
  FILE* pipe = ::popen(("sha256sum < '" + path + "'").c_str(), "r");
  REQUIRE(pipe != nullptr);
  char buffer[256];
  while (std::fgets(buffer, sizeof buffer, pipe) != nullptr) out += buffer;
  ::pclose(pipe);
  return out.substr(0, 64);
}

}  // namespace

TEST_CASE("provenance: pages of text end with version, case and options") {
  const Bench bench;
  const std::string file = bench.at(kName);
  const std::string of_case = "case a & b µ.json " + bench.digest.substr(0, 16);
  const std::string plain = bench.version + ", " + of_case + ", inertial tier, lumped drying";
  CHECK(bench.version.rfind("whorl ", 0) == 0);
  const auto ends = [&](const std::string& text, const std::string& line) {
    INFO(text);
    INFO(line);
    const std::string joined = one_line(text);
    const std::size_t size = line.size() + 1;
    CHECK(joined.size() > size);
    CHECK(joined.substr(joined.size() - std::min(joined.size(), size)) == line + ' ');
  };
  // The short answer has twelve lines of 80 columns and says where the rest is; the full page carries where it came from.
  const std::string brief = bench.run({"estimate", file}, 0);
  CHECK(std::count(brief.begin(), brief.end(), '\n') <= 12);
  std::istringstream rows(brief);
  for (std::string row; std::getline(rows, row);) CHECK(row.size() <= 80);
  CHECK(has(brief, "--full"));
  ends(bench.run({"estimate", file, "--full"}, 0), plain + ", options --full");
  const std::string sampled = bench.run({"estimate", file, "--full", "--uncertainty", "64", "--sample-seed", "7", "--threads", "1"}, 0);
  ends(sampled, plain + ", options --full --uncertainty 64 --sample-seed 7");
  // speed is no option of the result
  CHECK(bench.run({"estimate", file, "--full", "--uncertainty", "64", "--sample-seed", "7", "--threads", "2"}, 0) == sampled);
  ends(bench.run({"estimate", file, "--full", "--uncertainty"}, 0), plain + ", options --full --uncertainty");
  ends(bench.run({"explain", file, "--between", "rotation_speed=9000 rpm,10000 rpm"}, 0),
       "Made by " + plain + ", options --between \"rotation_speed=9000 rpm,10000 rpm\".");
  CHECK(has(one_line(bench.run({"explain", file, "--format", "markdown", "--between", "rotation_speed=9000 rpm,10000 rpm"}, 0)), bench.digest.substr(0, 16)));
  CHECK(has(one_line(bench.run({"explain", file, "--format", "latex", "--between", "rotation_speed=9000 rpm,10000 rpm"}, 0)), bench.digest.substr(0, 16)));
  const std::string trials = ", trials trials.csv " + sha256sum(bench.at("trials.csv")).substr(0, 16);
  ends(bench.run({"calibrate", file, bench.at("trials.csv"), "-o", bench.at("rig.json"), "--residuals", bench.at("residuals.csv")}, 0), plain + trials);
  ends(bench.run({"window", file, "--diameter", "1 um..20 um", "--class", "continuous", "--quiet"}, 0), plain + ", options --diameter \"1 um..20 um\" --class continuous");
  CHECK(has(one_line(bench.run({"recipe", file, "--country", "DE"}, 0)), plain + ", options --country DE"));
  ends(bench.run({"diameters", bench.at("list.txt")}, 0), bench.version + ", list list.txt " + sha256sum(bench.at("list.txt")).substr(0, 16));
  CHECK(has(one_line(bench.run({"check", file}, 0)), bench.version));
  CHECK(has(one_line(bench.run({"materials"}, 0)), bench.version + ", property library built-in "));

  // a calibration makes another case of it, and is said
  const std::string with = bench.run({"estimate", file, "--full", "--calibration", bench.at("rig.json")}, 0);
  CHECK_FALSE(has(with, bench.digest.substr(0, 16)));
  CHECK(has(one_line(with), "options --full --calibration rig.json"));
}

TEST_CASE("provenance: JSON of every command") {
  const Bench bench;
  const std::string file = bench.at(kName);
  bench.run({"sweep", file, "--vary", "rotation_speed=8000 rpm..9000 rpm:3", "-o", bench.at("s.csv"), "--quiet"}, 0);
  const auto check = [&](const std::vector<std::string>& arguments, const std::string& kind, const std::string& digest, const Json& options) {
    INFO(arguments.front());
    const Json json = Json::parse(bench.run(arguments, 0));
    CHECK(json.at("program") == "whorl");
    CHECK("whorl " + json.at("version").get<std::string>() == bench.version);
    CHECK(json.at("options") == options);
    const Json& list = json.at("based_on");
    CHECK(std::any_of(list.begin(), list.end(), [&](const Json& one) { return one.at("kind") == kind && one.at("sha256") == digest; }));
  };
  const Json none = Json::array();
  check({"estimate", file, "--json", "--audit"}, "case", bench.digest, Json::array({"--audit"}));
  check({"explain", file, "--json", "--between", "rotation_speed=9000 rpm,10000 rpm"}, "case", bench.digest,
        Json::array({"--between \"rotation_speed=9000 rpm,10000 rpm\""}));
  check({"calibrate", file, bench.at("trials.csv"), "--json"}, "trials", sha256sum(bench.at("trials.csv")), none);
  check({"window", file, "--diameter", "1 um..20 um", "--class", "continuous", "--json", "--quiet"}, "case", bench.digest, Json::array({"--diameter \"1 um..20 um\"", "--class continuous"}));
  check({"recipe", file, "--json"}, "case", bench.digest, none);
  check({"diameters", bench.at("list.txt"), "--case", file, "--json"}, "list", sha256sum(bench.at("list.txt")), Json::array({std::string("--case \"") + kName + '"'}));
  check({"sweep", file, "--vary", "rotation_speed=8000 rpm..9000 rpm:3", "-o", bench.at("s2.csv"), "--json", "--quiet"}, "case", bench.digest,
        Json::array({"--vary \"rotation_speed=8000 rpm..9000 rpm:3\""}));
  check({"merge", bench.at("s.csv"), "-o", bench.at("s3.csv"), "--json", "--quiet"}, "case", bench.digest, none);
  check({"figure", bench.at("s.csv"), "-o", bench.at("s.svg"), "--json", "--kind", "trend"}, "sweep", sha256sum(bench.at("s.csv")), Json::array({"--kind trend"}));
  const std::string library = read(bench.at("s.csv-metadata.json"));  // has the digest of the built-in library
  const Json materials = Json::parse(bench.run({"materials", "PCL", "--json"}, 0));
  CHECK("whorl " + materials.at("version").get<std::string>() == bench.version);
  CHECK(has(library, materials.at("based_on").at(0).at("sha256").get<std::string>()));
  CHECK("whorl " + Json::parse(bench.run({"check", file, "--json"}, 0)).at("version").get<std::string>() == bench.version);
}

TEST_CASE("provenance: profiles and residuals stay plain tables, with a metadata file beside them") {
  const Bench bench;
  const std::string file = bench.at(kName);
  bench.run({"estimate", file, "--profile", bench.at("jet.csv")}, 0);
  bench.run({"calibrate", file, bench.at("trials.csv"), "--residuals", bench.at("residuals.csv"), "--reproducibility", "8 %"}, 0);
  for (const std::string name : {"jet.csv", "residuals.csv"}) {
    INFO(name);
    const std::string table = read(bench.at(name));
    const Json about = Json::parse(read(bench.at(name + "-metadata.json")));
    CHECK(about.at("url") == name);
    CHECK("whorl " + about.at("schema:creator").at("schema:softwareVersion").get<std::string>() == bench.version);
    CHECK(about.at("schema:isBasedOn").at("schema:sha256") == bench.digest);
    // the header and the described columns are the same; every record has as many cells
    std::vector<std::string> header, cells;
    std::istringstream lines(table);
    std::string line;
    REQUIRE(std::getline(lines, line));
    REQUIRE(whorl::io::split_csv_line(line, header));
    const Json& columns = about.at("tableSchema").at("columns");
    REQUIRE(columns.size() == header.size());
    for (std::size_t i = 0; i < header.size(); ++i) CHECK(columns.at(i).at("name") == header[i]);
    int rows = 0;
    while (std::getline(lines, line)) {
      REQUIRE(whorl::io::split_csv_line(line, cells));
      REQUIRE(cells.size() == header.size());
      ++rows;
    }
    CHECK(rows > 4);
  }
  const std::string about = read(bench.at("residuals.csv-metadata.json"));
  CHECK(has(about, "trials.csv sha256:" + sha256sum(bench.at("trials.csv"))));
  CHECK(has(about, "--reproducibility \\\"8 %\\\""));
  // a pipe has nothing beside it
  const std::string piped = bench.run({"estimate", file, "--profile", "/dev/stdout", "--cautions"}, 0);
  CHECK_FALSE(present("/dev/stdout-metadata.json"));
}

TEST_CASE("provenance: figures carry it inside") {
  const Bench bench;
  const std::string file = bench.at(kName);
  bench.run({"estimate", file, "--profile", bench.at("jet.csv")}, 0);
  bench.run({"figure", file, "--kind", "path", "-o", bench.at("path.svg")}, 0);
  const std::string svg = read(bench.at("path.svg"));
  (void)svg_reader::parse(svg);
  CHECK(has(svg, "<dc:creator>" + bench.version + "</dc:creator>"));
  CHECK(has(svg, "<dc:source>case a &amp; b µ.json sha256:" + bench.digest + "</dc:source>"));
  CHECK(has(svg, "<dc:description>options --kind path</dc:description>"));
  // from a result: the file by its bytes, the case as the metadata beside it say
  bench.run({"figure", bench.at("jet.csv"), "-o", bench.at("jet.svg")}, 0);
  const std::string jet = read(bench.at("jet.svg"));
  CHECK(has(jet, "<dc:source>profile jet.csv sha256:" + sha256sum(bench.at("jet.csv")) + "</dc:source>"));
  CHECK(has(jet, "<dc:source>case a &amp; b µ.json sha256:" + bench.digest + "</dc:source>"));
  // what is beside it but no metadata of ours is not repeated
  write(bench.at("jet.csv-metadata.json"), R"({"schema:isBasedOn": {"schema:sha256": "<script>"}})");
  bench.run({"figure", bench.at("jet.csv"), "--force", "-o", bench.at("jet.svg")}, 0);
  CHECK_FALSE(has(read(bench.at("jet.svg")), "lt;script"));

  if (finish(start({WHORL_BINARY, "figure", file, "--kind", "path", "-o", bench.at("path.png"), "--dpi", "100"}, bench.at("out"), bench.at("err"))) != 0) {
    WARN("built without librsvg: PDF and PNG not tested");
    return;
  }
  const std::string png = read(bench.at("path.png"));
  CHECK(has(png, std::string("iTXtSoftware\0\0\0\0\0", 17) + bench.version));
  CHECK(has(png, std::string("iTXtSource\0\0\0\0\0", 15) + "case a & b µ.json sha256:" + bench.digest));
  bench.run({"figure", file, "--kind", "path", "-o", bench.at("path.pdf")}, 0);
  const std::string pdf = read(bench.at("path.pdf"));
  CHECK(pdf.rfind("%PDF-1.4\n", 0) == 0);
  CHECK(has(pdf, bench.version));
  bench.run({"figure", file, "--kind", "path", "-o", bench.at("path2.pdf")}, 0);
  CHECK(read(bench.at("path2.pdf")) == pdf);  // no date in it
  CHECK_FALSE(has(pdf, "CreationDate"));
}
