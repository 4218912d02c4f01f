// Case files: what is read, what is noted, and that two spellings of one case are one case.
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <numbers>
#include <stdexcept>
#include <string>

#include "catch.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/materials_file.hpp"
#include "io/sha256.hpp"
#include "whorl/model/error.hpp"
#include "refusal.hpp"
#include "whorl/model/solution.hpp"

using namespace whorl;

namespace {

const std::string kCase = R"({
  "whorl_case": 1,
  "purpose": "a case for the tests",
  "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "120 kDa", "concentration": "24 % w/v"},
  "vessel": {"bore_diameter": "44 mm", "height": "20 mm", "wall_thickness": "3 mm", "orifice_diameter": "0.5 mm",
             "orifice_count": 24},
  "operation": {"rotation_speed": "12000 rpm", "gas_overpressure": "1 bar", "charge_volume": "6 mL",
                "collection_distance": "15 cm"}
})";

std::string with(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

io::CaseFile read(const std::string& text) { return io::read_case_text(text, "case.json"); }

std::string refusal(const std::string& text) {
  return testing::refusal([&] { return read(text); });
}

bool notes(const io::CaseFile& file, const std::string& part) {
  for (const std::string& note : file.notes)
    if (note.find(part) != std::string::npos) return true;
  return false;
}

}  // namespace

TEST_CASE("a case is read into SI", "[io][case]") {
  const io::CaseFile file = read(kCase);
  const model::CaseInput& input = file.input;
  CHECK(input.purpose == "a case for the tests");
  CHECK(input.solution.polymer == "PS");
  CHECK(input.solution.solvent == "toluene");
  CHECK_THAT(input.solution.molar_mass_kg_mol, WithinRel(120.0, 1e-14));
  CHECK(input.solution.concentration.basis == model::ConcentrationBasis::w_v_of_solvent);
  CHECK_THAT(input.solution.concentration.value, WithinRel(0.24, 1e-14));
  CHECK_THAT(input.vessel.bore_diameter_m, WithinRel(0.044, 1e-14));
  CHECK(input.vessel.orifice_count == 24.0);
  CHECK_THAT(input.operation.rotation_speed_rad_s, WithinRel(400.0 * std::numbers::pi, 1e-14));
  CHECK_THAT(input.operation.gas_overpressure_Pa, WithinRel(1e5, 1e-14));
  CHECK_THAT(input.operation.charge_volume_m3, WithinRel(6e-6, 1e-14));
  CHECK_THAT(input.operation.collection_distance_m, WithinRel(0.15, 1e-14));
  CHECK(file.sweep_json.empty());
  CHECK(file.material_files.empty());
  CHECK(file.uncertainties.empty());
}

TEST_CASE("defaults that matter are noted", "[io][case]") {
  const io::CaseFile file = read(kCase);
  CHECK(file.concentration_basis_defaulted);
  CHECK(notes(file, "% w/v of solvent"));
  CHECK(notes(file, "room temperature (22 degC)"));
  CHECK(notes(file, "half the vessel height (10 mm)"));
  const io::CaseFile stated = read(with(kCase, "24 % w/v", "24 % w/v of solution"));
  CHECK_FALSE(stated.concentration_basis_defaulted);
  CHECK_FALSE(notes(stated, "bench convention"));
  CHECK(notes(read(with(kCase, "\"vessel\"", "\"model\": {\"axial_drag_factor\": 2}, \"vessel\"")),
              "model.axial_drag_factor: 2 instead of 1"));
  CHECK(notes(read(with(kCase, "\"24 % w/v\"",
                        "\"24 % w/v\", \"measured\": {\"shear_model\": \"newtonian\", \"shear_power_index\": 0.6}")),
              "shear_power_index: no effect"));
}

TEST_CASE("uncertainties are kept by key", "[io][case]") {
  const io::CaseFile file =
      read(with(with(kCase, "120 kDa", "120 kDa ± 10 % (lognormal)"), "1 bar", "1 bar ± 5 kPa (uniform)"));
  REQUIRE(file.uncertainties.size() == 2);
  CHECK_THAT(file.uncertainties.at("solution.molar_mass").sd, WithinRel(12.0, 1e-14));
  CHECK(file.uncertainties.at("solution.molar_mass").distribution == io::Distribution::lognormal);
  CHECK_THAT(file.uncertainties.at("operation.gas_overpressure").stated, WithinRel(5000.0, 1e-12));
  CHECK_THAT(file.input.operation.gas_overpressure_Pa, WithinRel(1e5, 1e-14));
}

TEST_CASE("what a case states of the doubt of a measured property goes with it", "[io][case]") {
  const auto measured = [](const std::string& text) {
    return read(with(kCase, "\"24 % w/v\"", "\"24 % w/v\", \"measured\": {" + text + "}")).input;
  };
  const auto doubt = [](const model::CaseInput& input) {
    const model::Fluid fluid = model::resolve_fluid(input.solution, input.room, io::built_in_library());
    for (const auto& p : fluid.properties) {
      if (p.key == "zero_shear_viscosity") return p.property;
    }
    throw std::logic_error("not reported");
  };
  const model::Property stated = doubt(measured(R"x("zero_shear_viscosity": "2.5 Pa s ± 0.25 Pa s")x"));
  CHECK_THAT(stated.relative_sd, WithinRel(0.1, 1e-12));
  CHECK(stated.source == "case file");
  const model::Property percent = doubt(measured(R"x("zero_shear_viscosity": "2.5 Pa s ± 12 % (uniform)")x"));
  CHECK_THAT(percent.relative_sd, WithinRel(0.12 / std::sqrt(3.0), 1e-12));
  const model::Property silent = doubt(measured(R"x("zero_shear_viscosity": "2.5 Pa s")x"));
  CHECK_THAT(silent.relative_sd, WithinRel(0.05, 1e-12));
  CHECK(silent.source.find("not stated") != std::string::npos);
}

TEST_CASE("the sweep block is kept in the order of the file", "[io][case]") {
  const io::CaseFile file = read(with(kCase, "\"vessel\"", R"("sweep": {"zeta": 1, "alpha": [2, 3]}, "vessel")"));
  CHECK(file.sweep_json == R"({"zeta":1,"alpha":[2,3]})");
}

TEST_CASE("SHA-256 matches the examples of FIPS 180-4", "[io][case]") {
  // NIST, "SHA-256 example values" (one and two blocks) and the empty message.
  CHECK(io::sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(io::sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  CHECK(io::sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(io::sha256_hex(std::string(1000000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("the hash stands for the case, not for its spelling", "[io][case]") {
  const std::string hash = read(kCase).hash;
  CHECK(hash.size() == 64);
  CHECK(read(with(kCase, "{\n", "{\n\n\n")).hash == hash);
  CHECK(read(with(kCase, "a case for the tests", "another purpose")).hash == hash);
  CHECK(read(with(kCase, "24 % w/v", "24 % w/v of solvent")).hash == hash);
  CHECK(read(with(kCase, "120 kDa", "120 kg/mol")).hash == hash);
  CHECK(read(with(kCase, "\"vessel\"", R"("room": {"temperature": "22 degC"}, "vessel")")).hash == hash);
  const std::string swapped =
      with(with(kCase, R"("polymer": "PS", )", ""), R"("concentration")", R"("polymer": "PS", "concentration")");
  CHECK(read(swapped).hash == hash);
  // Anything that can change a result changes it.
  CHECK(read(with(kCase, "12000 rpm", "12000.0001 rpm")).hash != hash);
  CHECK(read(with(kCase, "24 % w/v", "24 % w/v of solution")).hash != hash);
  CHECK(read(with(kCase, "120 kDa", "120 kDa ± 1 %")).hash != hash);
  CHECK(read(with(kCase, "\"vessel\"", R"("model": {"drying": "lumped"}, "vessel")")).hash != hash);
  CHECK(read(with(kCase, "\"PS\"", "\"PEO\"")).hash != hash);
}

TEST_CASE("material files are found beside the case and count for the hash", "[io][case]") {
  const auto folder = std::filesystem::temp_directory_path() / "whorl-test-case-file";
  std::filesystem::create_directories(folder);
  const auto write = [&](const std::string& name, const std::string& text) { std::ofstream(folder / name) << text; };
  write("case.json", with(kCase, "\"vessel\"", R"("materials": ["mine.json"], "vessel")"));
  write("mine.json", R"({"whorl_materials": 1, "polymers": []})");
  const io::CaseFile first = io::read_case_file((folder / "case.json").string());
  REQUIRE(first.material_files.size() == 1);
  CHECK(std::filesystem::exists(first.material_files[0]));
  write("mine.json", "{\"polymers\": [],\n \"whorl_materials\": 1}");
  CHECK(io::read_case_file((folder / "case.json").string()).hash == first.hash);
  write("mine.json", R"({"whorl_materials": 1, "solvents": []})");
  CHECK(io::read_case_file((folder / "case.json").string()).hash != first.hash);
  std::filesystem::remove_all(folder);
}

TEST_CASE("validation stands on its own for points of a sweep", "[io][case]") {
  const io::CaseFile file = read(kCase);
  CHECK_NOTHROW(io::validate(file.input, "case.json"));
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    model::CaseInput input = file.input;
    key.set(input, key.maximum * 1.01 + 1e-6);
    CHECK_THROWS_AS(io::validate(input, "case.json"), InputError);
    key.set(input, std::nan(""));
    CHECK_THROWS_AS(io::validate(input, "case.json"), InputError);
  }
}

TEST_CASE("an orifice may touch floor and lid but not cross them", "[io][case]") {
  const auto at = [&](const std::string& height) {
    return refusal(with(kCase, "\"orifice_count\"", "\"orifice_height\": \"" + height + "\", \"orifice_count\""));
  };
  CHECK(at("0.25 mm") == "accepted");
  CHECK(at("19.75 mm") == "accepted");
  CHECK(at("0.249 mm") != "accepted");
  CHECK(at("19.751 mm") != "accepted");
}

TEST_CASE("damage that is too large for a file in the repository is refused too", "[io][case]") {
  const auto says = [](const std::string& text, const std::string& part) {
    const std::string message = refusal(text);
    CAPTURE(message.substr(0, 300));
    CHECK(message.find(part) != std::string::npos);
    CHECK(message.size() < 1000);  // one readable line, whatever the input
  };
  says(std::string((1U << 20U) + 1U, ' '), "larger than 1 MiB");
  std::string deep;
  for (int i = 0; i < 100000; ++i) deep += "[";
  says(deep, "nested deeper than 32 levels");
  std::string objects;
  for (int i = 0; i < 100000; ++i) objects += "{\"a\":";
  says(objects, "nested deeper than 32 levels");
  std::string many = "{\"whorl_case\": 1";
  for (int i = 0; i < 2000; ++i) many += ", \"k" + std::to_string(i) + "\": 1";
  says(many + "}", "more than 1000 keys");
  says(with(kCase, "44 mm", std::string(500000, '9') + " mm"), "too large");
  says(with(kCase, "\"vessel\"", "\"" + std::string(500000, 'v') + "\": 1, \"vessel\""), "unknown key");
}

TEST_CASE("every cut of a case is refused with one message", "[io][case]") {
  // A partial download or a full disk may end anywhere.
  for (std::size_t length = 0; length + 1 < kCase.size(); ++length) {
    CAPTURE(length);
    const std::string message = refusal(kCase.substr(0, length));
    const bool expected = message.find("ends too early") != std::string::npos ||
                          message.find("file is empty") != std::string::npos;
    CHECK(expected);
  }
}

TEST_CASE("every changed byte is read or refused, never worse", "[io][case]") {
  // Also run under the address and undefined-behaviour sanitizers of the dev preset.
  std::size_t refused = 0;
  for (std::size_t at = 0; at < kCase.size(); at += 3) {
    for (const char byte : {'\0', '"', '}', '9', '\xE9', '\\', '-'}) {
      std::string text = kCase;
      text[at] = byte;
      if (refusal(text) != "accepted") ++refused;
    }
  }
  CHECK(refused > 500);
}

TEST_CASE("settings laid over a case are values of its keys, and make another case", "[io][case]") {
  const auto laid = [](const std::vector<std::string>& settings) {
    io::CaseFile file = read(kCase);
    io::apply_settings(file, settings, "--set");
    return file;
  };
  const io::CaseFile plain = read(kCase);
  const io::CaseFile faster = laid({"rotation_speed = 9000 rpm", "model.tier=inertial"});
  CHECK(io::to_display(*io::find_key("rotation_speed"), faster.input.operation.rotation_speed_rad_s) == Approx(9000.0));
  CHECK(faster.input.model.tier == model::Tier::inertial);
  CHECK(faster.tier_stated);
  CHECK_FALSE(plain.tier_stated);
  CHECK(faster.hash != plain.hash);
  CHECK(faster.notes.size() == plain.notes.size() + 2);
  // Another spelling is the same case; what the case says anyway changes nothing, but is said.
  CHECK(laid({"operation.rotation_speed=150 turn/s", "tier=inertial"}).hash == laid({"rotation_speed=9000 rpm", "tier=inertial"}).hash);
  const io::CaseFile same = laid({"rotation_speed=12000 rpm", "tier=tension", "solvent=toluene"});
  CHECK(same.hash == plain.hash);
  CHECK(same.notes.size() == plain.notes.size());
  CHECK(same.tier_stated);
  // What stands behind ± in the case keeps its relative size, as in a sweep; what the setting says itself replaces it.
  io::CaseFile doubted = read(kCase);
  io::apply_settings(doubted, {"rotation_speed=10000 rpm ± 200 rpm"}, "--set");
  io::apply_settings(doubted, {"rotation_speed=5000 rpm"}, "--set");
  const io::CaseFile stated = laid({"rotation_speed=5000 rpm ± 100 rpm"});
  CHECK(doubted.uncertainties.at("operation.rotation_speed").sd ==
        Approx(stated.uncertainties.at("operation.rotation_speed").sd));
  CHECK(doubted.notes.back().find("± 100 rpm") != std::string::npos);
  io::apply_settings(doubted, {"rotation_speed=6000 rpm ± 50 rpm"}, "--set");
  CHECK(doubted.uncertainties.at("operation.rotation_speed").stated ==
        Approx(io::from_display(*io::find_key("rotation_speed"), 50.0)));
  // The purpose line is no part of the digest, in a file or from here.
  const io::CaseFile renamed = laid({"purpose=another purpose"});
  CHECK(renamed.hash == plain.hash);
  CHECK(renamed.notes.size() == plain.notes.size() + 1);

  const auto refused = [&](const std::vector<std::string>& settings, const std::string& part) {
    std::string message = "accepted";
    try {
      (void)laid(settings);
    } catch (const InputError& error) {
      message = error.what();
    }
    INFO(message);
    CHECK(message.find(part) != std::string::npos);
  };
  refused({"tier"}, "has no \"=\"");
  refused({"speed=1 rpm"}, "nearest: operation.rotation_speed");
  refused({"rotation_speed=9000 K"}, "does not fit");
  refused({"rotation_speed=900000 rpm"}, "operation.rotation_speed");
  refused({"tier=inertal"}, "did you mean \"inertial\"");
  refused({"vessel.height=1 mm", "orifice_diameter=2 mm"}, "vessel.");  // checks of several keys at once
  refused({"polymer=" + std::string(5000, 'x')}, "solution.polymer");
}
