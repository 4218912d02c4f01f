// The property library: reading, conversion, replacement, and every built-in record inside plausible bounds.
#include <cmath>
#include <set>
#include <string>
#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "catch.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/io/materials_record.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/materials.hpp"

using namespace whorl;

namespace {

const std::string kFile = std::string(WHORL_SOURCE_DIR "/tests/data/materials.json");

std::string output_of(const std::string& arguments) {
  FILE* pipe = popen(("\"" + std::string(WHORL_BINARY) + "\" " + arguments).c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::string text;
  std::array<char, 4096> buffer{};
  for (std::size_t n = 0; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) text.append(buffer.data(), n);
  pclose(pipe);
  return text;
}

}  // namespace

TEST_CASE("a materials file is read into SI", "[io][materials]") {
  model::Library library = io::built_in_library();
  io::add_materials_file(library, kFile);
  const model::Polymer* polymer = library.polymer("TESTPOL");
  REQUIRE(polymer != nullptr);
  CHECK_THAT(polymer->density.value, WithinRel(1100.0, 1e-14));
  CHECK_THAT(polymer->density.relative_sd, WithinRel(0.02, 1e-14));
  CHECK_THAT(polymer->glass_transition.value, WithinRel(333.15, 1e-14));
  const model::Pair* pair = library.pair("TESTPOL", "testsolvent");
  REQUIRE(pair != nullptr);
  REQUIRE(pair->mark_houwink);
  // [eta] of M = 100 kg/mol by the law as printed, in dL/g with M in g/mol, and as stored: 1 dL/g = 0.1 m3/kg.
  const double printed_dl_g = 1e-4 * std::pow(1e5, 0.7);
  const double stored_m3_kg = pair->mark_houwink->k_m3_kg * std::pow(100.0, pair->mark_houwink->exponent);
  CHECK_THAT(stored_m3_kg, WithinRel(0.1 * printed_dl_g, 1e-12));
  CHECK_THAT(pair->mark_houwink->m_max_kg_mol, WithinRel(900.0, 1e-14));
  REQUIRE(pair->diffusion.size() == 2);
  CHECK_THAT(pair->diffusion[0].diffusivity_m2_s, WithinRel(1e-12, 1e-12));  // 10^-8 cm2/s
  const model::Solvent* solvent = library.solvent("testsolvent");
  REQUIRE(solvent != nullptr);
  // 2 ppm by volume of acetone (58.08 g/mol) at 25 degC and 101.325 kPa: molar volume 24.465 L (NIOSH Pocket Guide,
  // conversion factor of acetone 1 ppm = 2.38 mg/m3, three digits).
  REQUIRE(solvent->exposure_limits.size() == 1);
  CHECK_THAT(solvent->exposure_limits[0].mass_concentration_kg_m3 * 1e6, WithinRel(2 * 2.38, 0.003));
}

TEST_CASE("later records replace earlier ones", "[io][materials]") {
  model::Library library = io::built_in_library();
  const double before = library.polymer("PMMA")->density.value;
  std::string text = R"({"whorl_materials": 1, "polymers": [{"id": "PMMA", "name": "my grade",
    "density": {"value": "1234 kg/m3", "uncertainty": "1 %", "source": "own"},
    "glass_transition": {"value": "100 degC", "uncertainty": "1 %", "source": "own"},
    "heat_capacity": {"value": "1.4 J/g/K", "uncertainty": "1 %", "source": "own"},
    "entanglement_molar_mass": {"value": "12 kg/mol", "uncertainty": "1 %", "source": "own"},
    "entanglement_convention": "M_e = rho R T / G_N0"}]})";
  io::add_materials_text(library, text, "mine.json");
  CHECK(before != 1234.0);
  CHECK_THAT(library.polymer("PMMA")->density.value, WithinRel(1234.0, 1e-14));
  CHECK_THAT(library.polymer("PMMA")->heat_capacity.value, WithinRel(1400.0, 1e-14));
  CHECK(io::built_in_library().polymer("PMMA")->density.value == before);
}

TEST_CASE("the built-in library has the materials it promises, each once", "[io][materials]") {
  const model::Library& library = io::built_in_library();
  for (const char* id : {"PMMA", "PCL", "PLA", "PEO", "PVP", "PS", "PVA"}) {
    CAPTURE(id);
    CHECK(library.polymer(id) != nullptr);
  }
  for (const char* id : {"chloroform", "dichloromethane", "acetone", "ethanol", "water", "dimethylformamide",
                         "ethyl-acetate", "tetrahydrofuran", "formic-acid", "acetic-acid", "toluene", "methanol",
                         "2-propanol", "2-butanone", "dimethylacetamide", "dimethyl-sulfoxide"}) {
    CAPTURE(id);
    REQUIRE(library.solvent(id) != nullptr);
    CHECK_FALSE(library.solvent(id)->hazard_note.empty());
    CHECK(library.solvent(id)->hazard_note.find("armless") == std::string::npos);
  }
  std::set<std::string> ids;
  for (const auto& polymer : library.polymers) CHECK(ids.insert(polymer.id).second);
  for (const auto& solvent : library.solvents) CHECK(ids.insert(solvent.id).second);
  std::set<std::string> pairs;
  for (const auto& pair : library.pairs) CHECK(pairs.insert(pair.polymer + "/" + pair.solvent).second);
}

TEST_CASE("a record is printed as a file that gives the same record", "[io][materials]") {
  const model::Library& library = io::built_in_library();
  for (const auto& pair : library.pairs) {
    CAPTURE(pair.polymer, pair.solvent);
    const std::string text = io::record_file({pair.polymer, pair.solvent}, {});
    model::Library read;
    io::add_materials_text(read, text, "own.json");
    REQUIRE(read.polymers.size() == 1);
    REQUIRE(read.solvents.size() == 1);
    REQUIRE(read.pairs.size() == 1);
    CHECK(read.polymers[0].density.value == library.polymer(pair.polymer)->density.value);
    CHECK(read.polymers[0].density.source == library.polymer(pair.polymer)->density.source);
    CHECK(read.solvents[0].boiling_point.value == library.solvent(pair.solvent)->boiling_point.value);
    CHECK(read.pairs[0].note == pair.note);
    CHECK(read.pairs[0].mark_houwink.has_value() == pair.mark_houwink.has_value());
  }
  model::Library alone;
  io::add_materials_text(alone, io::record_file({"PVP"}, {}), "own.json");
  CHECK(alone.polymers.size() == 1);
  CHECK(alone.solvents.size() + alone.pairs.size() == 0);
}

TEST_CASE("a record of a file that was added takes the place of the built-in one", "[io][materials][cli]") {
  const auto folder = std::filesystem::temp_directory_path() / "whorl test of records";
  std::filesystem::create_directories(folder);
  nlohmann::ordered_json own = nlohmann::ordered_json::parse(output_of("materials PVP ethanol --record"));
  own["polymers"][0]["density"]["value"] = "1250 kg/m3";
  own["pairs"][0]["note"] = "own measurement";
  std::ofstream(folder / "own.json") << own.dump(1);
  const std::string again = output_of("materials PVP ethanol --record --add \"" + (folder / "own.json").string() + "\"");
  CHECK(nlohmann::ordered_json::parse(again) == own);
  own["pairs"][0]["note"] = "turned\u202eround";  // text from outside does not steer the terminal
  std::ofstream(folder / "turned.json") << own.dump(1);
  const std::string turned =
      output_of("materials PVP ethanol --record --add \"" + (folder / "turned.json").string() + "\"");
  CHECK(nlohmann::ordered_json::parse(turned)["pairs"][0]["note"] == "turned round");
  std::filesystem::remove_all(folder);
}

TEST_CASE("a materials file has one form: --record with another one is refused", "[io][materials][cli]") {
  for (const std::string form : {"--json", "--format json", "--format latex --fragment", "--format text"}) {
    CAPTURE(form);
    const std::string said = output_of("materials PVP ethanol --record " + form + " 2>&1; echo \"exit $?\"");
    CHECK(said.find("--record: together with " + form.substr(0, form.find(" --fragment"))) != std::string::npos);
    CHECK(said.find("whorl_materials") == std::string::npos);  // nothing but the error
    CHECK(said.find("exit 2") != std::string::npos);
  }
}

TEST_CASE("the program shows every record with units and sources", "[io][materials][cli]") {
  const model::Library& library = io::built_in_library();
  const std::string list = output_of("materials");
  for (const auto& polymer : library.polymers) CHECK(list.find(polymer.id) != std::string::npos);
  for (const auto& solvent : library.solvents) {
    CAPTURE(solvent.id);
    CHECK(list.find(solvent.id) != std::string::npos);
    const auto shown = nlohmann::json::parse(output_of("materials --json " + solvent.id));
    CHECK(shown.at("density_25_kg_m3").at("value").get<double>() == Approx(solvent.density_25.value).epsilon(1e-11));
    CHECK(shown.at("boiling_point_degC").at("value").get<double>() ==
          Approx(solvent.boiling_point.value - 273.15).epsilon(1e-9));
    // A standard deviation of a temperature is a difference: no offset.
    CHECK(shown.at("boiling_point_degC").at("sd").get<double>() ==
          Approx(solvent.boiling_point.value * solvent.boiling_point.relative_sd).epsilon(1e-3));
    CHECK_FALSE(shown.at("caution").get<std::string>().empty());
    CHECK_FALSE(shown.at("density_25_kg_m3").at("source").get<std::string>().empty());
    CHECK(shown.dump().find("null") == std::string::npos);  // NaN would be written as null
    if (solvent.lower_flammability)
      CHECK(shown.at("lower_flammability_percent").at("value").get<double>() ==
            Approx(100.0 * solvent.lower_flammability->value).epsilon(1e-11));
  }
  const std::string pair = output_of("materials PMMA chloroform");
  CHECK(pair.find("dL/g") != std::string::npos);
  CHECK(output_of("materials chloroform PMMA") == pair);  // either order
  CHECK(output_of("materials --add '" + kFile + "' TESTPOL testsolvent").find("invented") != std::string::npos);
  CHECK(output_of("materials --add '" + kFile + "' TESTPOL water").find("no data on this pair") != std::string::npos);
}
