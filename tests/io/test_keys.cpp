// The key table against itself, against UDUNITS and against the limits the issue of this project asks for.
#include <cmath>
#include <set>
#include <string>

#include "catch.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;

TEST_CASE("every numeric key reads its own example and keeps what is set", "[io][keys]") {
  std::set<std::string> columns, paths;
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    CHECK(paths.insert(std::string(key.path)).second);
    CHECK(columns.insert(std::string(key.column)).second);
    CHECK(key.minimum < key.maximum);
    CHECK_FALSE(key.description.empty());
    CHECK(key.required == key.fallback.empty());
    CHECK(io::find_key(key.path) == &key);
    const std::string example = key.path == "solution.concentration" ? "20 %" : std::string(key.example);
    const double value = io::parse_value(key, example, "file");
    model::CaseInput input;
    key.set(input, value);
    REQUIRE(key.get(input));
    CHECK(*key.get(input) == value);
    // No other key changes with it.
    const model::CaseInput standard;
    for (const io::Key& other : io::numeric_keys())
      if (&other != &key) CHECK(other.get(input) == other.get(standard));
    // What is displayed means the same.
    CHECK_THAT(io::from_display(key, io::to_display(key, value)), WithinRel(value, 1e-12));
    CHECK(io::parse_value(key, io::value_text(key, value, 17), "file") == Approx(value).epsilon(1e-14));
  }
  CHECK(paths.size() == 68);  // a key that is added must be added to the docs: see the schema test
}

TEST_CASE("display units agree with UDUNITS", "[io][keys]") {
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    if (key.display_unit == "1" || key.si_unit == "Pa s^n") {
      CHECK(key.display_scale == 1.0);
      CHECK(key.display_offset == 0.0);
      continue;
    }
    for (const double shown : {0.0, 1.0, 37.5, 12000.0}) {
      const auto si = io::convert(shown, std::string(key.display_unit), std::string(key.si_unit));
      REQUIRE(si);
      // pi in the unit database has 15 to 17 digits.
      CHECK_THAT(io::from_display(key, shown), WithinRel(*si, 1e-14) || WithinAbs(*si, 1e-300));
    }
  }
}

TEST_CASE("column names end in their unit", "[io][keys]") {
  for (const io::Key& key : io::numeric_keys()) {
    CAPTURE(key.path);
    std::string unit(key.display_unit);
    if (unit == "1") continue;
    if (unit == "%") unit = "percent";
    for (char& c : unit)
      if (c == '/' || c == ' ') c = '_';
    if (unit == "Pa_s^n") unit = "Pa_sn";
    CHECK(key.column.substr(key.column.size() - unit.size()) == unit);
  }
}

TEST_CASE("limits cover the ranges the program promises", "[io][keys]") {
  const auto accepts = [](const char* path, const char* text) {
    try {
      static_cast<void>(io::parse_value(*io::find_key(path), text, "file"));
      return true;
    } catch (const InputError&) {
      return false;
    }
  };
  struct Row {
    const char* path;
    const char* low;
    const char* high;
    const char* too_high;
  };
  for (const Row& row : {Row{"operation.rotation_speed", "0 rpm", "40000 rpm", "40000.01 rpm"},
                         Row{"operation.gas_overpressure", "0 MPa", "0.6 MPa", "0.6001 MPa"},
                         Row{"operation.gas_overpressure", "0 bar", "6 bar", "6.001 bar"},
                         Row{"solution.measured.zero_shear_viscosity", "1 mPa s", "1 kPa s", "1.001 kPa s"},
                         Row{"vessel.orifice_diameter", "0.1 mm", "2 mm", "2.001 mm"},
                         Row{"room.relative_humidity", "0 %", "95 %", "95.01 %"},
                         Row{"vessel.bore_diameter", "5 mm", "500 mm", "501 mm"}}) {
    CAPTURE(row.path);
    CHECK(accepts(row.path, row.low));
    CHECK(accepts(row.path, row.high));
    CHECK_FALSE(accepts(row.path, row.too_high));
  }
  CHECK_FALSE(accepts("operation.rotation_speed", "-1 rpm"));
  CHECK_FALSE(accepts("vessel.orifice_count", "2.5"));
  CHECK_FALSE(accepts("solution.concentration", "20 wt%"));             // the basis is that of the case
  CHECK_FALSE(accepts("operation.rotation_speed", "12000 rpm ± 1 %"));  // a sweep varies plain values
}

TEST_CASE("keys are found by path or by a last part that is unique", "[io][keys]") {
  CHECK(io::find_key("rotation_speed") == io::find_key("operation.rotation_speed"));
  CHECK(io::find_key("temperature") == nullptr);  // solution and room have one
  CHECK(io::find_key("no_such_key") == nullptr);
  CHECK(io::find_word_key("tier") == io::find_word_key("model.tier"));
  CHECK(io::nearest_key("operation.rotatoin_speed") == "operation.rotation_speed");
  CHECK(io::nearest_key("operation.rpm") == "operation.rotation_speed");
  CHECK(io::nearest_key("vessel.holes") == "vessel.orifice_count");
  CHECK(io::nearest_key("mw") == "solution.molar_mass");
  CHECK(io::nearest_key("rotation_sped") == "operation.rotation_speed");
  CHECK(io::nearest_key("Bore_Diameter") == "vessel.bore_diameter");
  CHECK(io::nearest_key("operation.bore_diameter") == "vessel.bore_diameter");
  CHECK(io::nearest_key("solution.polymr") == "solution.polymer");
  // several hold the word: which of them is not ours to say
  CHECK(io::nearest_key("solution.measured.viscosity") == "solution.measured.zero_shear_viscosity or solution.measured.infinite_shear_viscosity");
  CHECK(io::nearest_key("diameter") == "vessel.bore_diameter or vessel.orifice_diameter or vessel.lid_opening_diameter");
  CHECK(io::nearest_key("gas") == "operation.gas_overpressure or operation.gas_supply");
  CHECK(io::nearest_key("operation.pressure") == "operation.gas_overpressure or operation.pressure_rise_time or room.pressure");
  CHECK(io::nearest_key("chi") == "solution.measured.flory_huggins_chi");
}

TEST_CASE("word keys keep every word they list", "[io][keys]") {
  for (const io::WordKey& key : io::word_keys()) {
    CAPTURE(key.path);
    model::CaseInput input;
    if (key.words.empty()) {
      key.set(input, "some text");
      CHECK(key.get(input) == "some text");
      continue;
    }
    std::set<std::string> seen;
    for (const io::Word& word : key.words) {
      key.set(input, word.word);
      CHECK(key.get(input) == word.word);
      CHECK(seen.insert(std::string(word.word)).second);
    }
    CHECK(key.get(model::CaseInput{}) == key.fallback);
  }
}
