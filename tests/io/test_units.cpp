// Quantities with units against definitions of the SI brochure (9th ed., 2019), NIST SP 811 (2008) appendix B, and
// arithmetic. Figures of NIST SP 811 from memory.
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>
#include <thread>
#include <vector>

#include "catch.hpp"
#include "io/unit_text.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using io::parse_quantity;

namespace {

const io::Where kHere{"file.json", "some.key"};
// One conversion is at most a few roundings away from the exact product.
constexpr double kRounding = 1e-14;

double read(const std::string& text, const char* si_unit) { return parse_quantity(text, {si_unit, "1 x"}, kHere).value; }

std::string refusal(const std::string& text, const char* si_unit) {
  try {
    static_cast<void>(parse_quantity(text, {si_unit, "1 x"}, kHere));
  } catch (const InputError& error) {
    return error.found();
  }
  return "accepted";
}

}  // namespace

TEST_CASE("units convert to SI by their definitions", "[io][units]") {
  struct Row {
    const char* text;
    const char* unit;
    double expected;
  };
  const std::vector<Row> rows{
      {"12000 rpm", "rad/s", 400.0 * std::numbers::pi},  // one turn is 2 pi rad, one minute 60 s
      {"60 rpm", "rad/s", 2.0 * std::numbers::pi},
      {"0.1 MPa", "Pa", 1e5},
      {"0.1 bar", "Pa", 1e4},
      {"1 atm", "Pa", 101325.0},            // exact (SI brochure, 8th ed. table 8)
      {"10 psi", "Pa", 68947.572931683609},  // pound 0.45359237 kg, inch 25.4 mm, standard gravity: exact
      {"760 mmHg", "Pa", 101325.0},          // within 1.5e-7, see tolerance below
      {"22 degC", "K", 295.15},
      {"-10 °C", "K", 263.15},
      {"71.6 degF", "K", 295.15},  // (t - 32) 5/9 + 273.15
      {"300 K", "K", 300.0},
      {"45 %", "1", 0.45},
      {"0.45", "1", 0.45},
      {"2 mL", "m3", 2e-6},
      {"2 ml", "m3", 2e-6},
      {"2 cm3", "m3", 2e-6},
      {"200 rev/s", "rad/s", 400.0 * std::numbers::pi},
      {"12000 rev/min", "rad/s", 400.0 * std::numbers::pi},
      {"60 mm", "m", 0.06},
      {"0.5 um", "m", 0.5e-6},
      {"0.5 µm", "m", 0.5e-6},   // micro sign U+00B5
      {"0.5 μm", "m", 0.5e-6},   // Greek mu U+03BC
      {"1 in", "m", 0.0254},     // exact since 1959
      {"1.2 Pa s", "Pa s", 1.2},
      {"1.2 Pa.s", "Pa s", 1.2},
      {"1.2 Pa·s", "Pa s", 1.2},
      {"1.2 Pa*s", "Pa s", 1.2},
      {"1200 mPa s", "Pa s", 1.2},
      {"1200 cP", "Pa s", 1.2},  // centipoise = mPa s
      {"12 poise", "Pa s", 1.2},
      {"120 kg/mol", "kg/mol", 120.0},
      {"120 kDa", "kg/mol", 120.0},  // a molar mass of 1 g/mol per dalton, within 4e-10 of the SI since 2019
      {"120000 Da", "kg/mol", 120.0},
      {"120000 g/mol", "kg/mol", 120.0},
      {"27 mN/m", "N/m", 0.027},
      {"27 dyn/cm", "N/m", 0.027},
      {"5e-6 cm2/s", "m2/s", 5e-10},
      {"5e-6 cm^2/s", "m2/s", 5e-10},
      {"5e-6 cm² s⁻¹", "m2/s", 5e-10},
      {"4.8e-5 dL/g", "m3/kg", 4.8e-6},
      {"10 mg/m3", "kg/m3", 1e-5},
      {"31.28 kJ/mol", "J/mol", 31280.0},
      {"955 J/(kg K)", "J/kg/K", 955.0},
      {"1.42 g/mL", "kg/m3", 1420.0},
      {"3 ms", "s", 0.003},
      {"2.5 Pa s^n", "Pa s^n", 2.5},
      {"2500 mPa·s^n", "Pa s^n", 2.5},
      {"  +12  mm ", "m", 0.012},
      {".5 mm", "m", 0.0005},
      {"5.E-1 mm", "m", 0.0005},
      {"−5 K", "K", -5.0},           // U+2212 minus sign
      {"12\u00A0mm", "m", 0.012},  // no-break space, as ISO 80000 typesetting has it
  };
  constexpr double kTwelveDigits = 5e-12;  // values are kept to twelve digits, so that every spelling of a value is the same value
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const double tolerance = std::string(row.text).find("mmHg") != std::string::npos ? 2e-7 : kTwelveDigits;
    CHECK_THAT(read(row.text, row.unit), WithinRel(row.expected, tolerance));
  }
}

TEST_CASE("common units agree with UDUNITS", "[io][units]") {
  for (const io::CommonUnit& common : io::common_units()) {
    CAPTURE(common.unit);
    for (const double number : {0.0, 1.0, 37.5, -12.25}) {
      const auto expected = io::convert(number, std::string(common.unit), std::string(common.si_unit));
      REQUIRE(expected);
      CHECK_THAT(common.scale * number + common.offset, WithinRel(*expected, kRounding) || WithinAbs(*expected, 1e-300));
    }
  }
}

TEST_CASE("plain units agree with UDUNITS", "[io][units]") {
  // In SI units of all that a key can have; each plain unit fits one or none.
  const std::vector<std::string> si{"m", "kg", "s", "K", "mol", "kg/mol", "Pa", "N", "J", "W", "Pa s", "m2/s", "m3", "1/s", "rad",
                                    "rad/s", "1"};
  int held = 0;
  for (const std::string& name : io::plain_unit_names()) {
    CAPTURE(name);
    int fits = 0;
    for (const std::string& unit : si) {
      double plain = 0.0, expected = 0.0;
      if (io::convert_plain_unit(3.7, name, unit, plain) != io::UnitMatch::converted) continue;
      ++fits;
      const auto match = io::convert_database_unit(3.7, name, unit, expected);
      if (match == io::UnitMatch::unknown) continue;  // "kmetre"; or not in this version's database
      ++held;
      CHECK(match == io::UnitMatch::converted);
      CAPTURE(unit, plain, expected);
      // A column of mercury weighs 0.14 ppm more or less, by whom one asks, and UDUNITS takes it for a torr.
      const double tolerance = name == "mmHg" || name == "torr" || name == "Torr" ? 6e-7 : 1e-14;
      CHECK_THAT(plain, WithinRel(expected, tolerance));
    }
    CHECK(fits == 1);
  }
  CHECK(held > 300);
}

TEST_CASE("texts that are no quantity of the wanted kind are refused", "[io][units]") {
  CHECK(refusal("200 Hz", "rad/s").find("does not fit") != std::string::npos);
  CHECK(refusal("200 1/s", "rad/s").find("does not fit") != std::string::npos);
  CHECK(refusal("200 rad/s", "1/s").find("does not fit") != std::string::npos);
  CHECK(refusal("45 deg", "1").find("'deg'") != std::string::npos);
  CHECK(refusal("2 mm-1", "m").find("does not fit") != std::string::npos);   // UDUNITS alone inverts
  CHECK(refusal("2 g/dL", "m3/kg").find("does not fit") != std::string::npos);
  CHECK(refusal("2 dBZ", "m3").find("unknown unit") != std::string::npos);   // logarithmic
  CHECK(refusal("2 Pa.s^0.6", "Pa").find("unknown unit") != std::string::npos);  // UDUNITS alone reads 2 * 6 Pa
  CHECK(refusal("2 s since 2020-01-01", "s").find("unknown unit") != std::string::npos);
  CHECK(refusal("2 m @ 3", "m").find("unknown unit") != std::string::npos);
  CHECK(refusal("0x10 mm", "m") != "accepted");
  CHECK(refusal("1..2 mm", "m") != "accepted");
  CHECK(refusal("--2 mm", "m") != "accepted");
  CHECK(refusal("+-2 mm", "m") != "accepted");
  CHECK(refusal("2 mm 3", "m") != "accepted");
  CHECK(refusal("2 10mm", "m").find("two numbers") != std::string::npos);
  CHECK(refusal("1e-999 mm", "m").find("too large or too small") != std::string::npos);
  CHECK(refusal("1e308 km", "m").find("not a finite number") != std::string::npos);
  CHECK(refusal("NaN", "1").find("not a finite number") != std::string::npos);
  CHECK(refusal("", "m").find("does not start with a number") != std::string::npos);
  CHECK(refusal("2 Pa s", "Pa s^n").find("does not fit") != std::string::npos);
  CHECK(refusal("2 s^n", "Pa s^n").find("does not fit") != std::string::npos);
}

TEST_CASE("an uncertainty behind the value is kept", "[io][units]") {
  const auto spread = [](const std::string& text, const char* unit) {
    const io::Quantity quantity = parse_quantity(text, {unit, "1 x"}, kHere);
    REQUIRE(quantity.uncertainty);
    return *quantity.uncertainty;
  };
  using io::Distribution;
  CHECK_THAT(spread("1.2 Pa s ± 10 %", "Pa s").sd, WithinRel(0.12, kRounding));
  CHECK(spread("1.2 Pa s ± 10 %", "Pa s").distribution == Distribution::normal);
  CHECK_THAT(spread("1.2 Pa s +- 0.1 Pa s", "Pa s").sd, WithinRel(0.1, kRounding));
  CHECK_THAT(spread("1.2 Pa s +/- 100 mPa s (lognormal)", "Pa s").sd, WithinRel(0.1, kRounding));
  CHECK(spread("1.2 Pa s +/- 100 mPa s (lognormal)", "Pa s").distribution == Distribution::lognormal);
  // Half-width b of a uniform distribution: standard deviation b / sqrt(3) (GUM, JCGM 100:2008, 4.3.7).
  CHECK_THAT(spread("60 mm ± 0.3 mm (uniform)", "m").sd, WithinRel(0.3e-3 / std::sqrt(3.0), kRounding));
  CHECK_THAT(spread("60 mm ± 0.3 mm (uniform)", "m").stated, WithinRel(0.3e-3, kRounding));
  // A difference of temperatures has no offset. 295.15 carries 14 digits behind the point at most.
  CHECK_THAT(spread("22 degC ± 2 degC", "K").sd, WithinRel(2.0, 1e-12));
  CHECK_THAT(spread("22 degC ± 2 K", "K").sd, WithinRel(2.0, 1e-12));
  CHECK_THAT(spread("22 degC ± 1.8 degF", "K").sd, WithinRel(1.0, 1e-12));
  CHECK_THAT(spread("0.8 ± 0.05", "1").sd, WithinRel(0.05, kRounding));
  CHECK_THAT(spread("0.8 ± 5 %", "1").sd, WithinRel(0.04, kRounding));
  CHECK_THAT(spread("45 % ± 5 points", "1").sd, WithinRel(0.05, kRounding));
  CHECK_THAT(spread("45 % ± 5 % of value", "1").sd, WithinRel(0.0225, kRounding));
  CHECK_THAT(spread("-5 K ± 10 %", "K").sd, WithinRel(0.5, kRounding));  // never negative
  CHECK(spread("1 m ± 0 %", "m").sd == 0.0);
  CHECK(!parse_quantity("1.2 Pa s", {"Pa s", "1 x"}, kHere).uncertainty);
  CHECK(refusal("45 % ± 5 %", "1").find("two ways") != std::string::npos);
  CHECK(refusal("-5 m ± 1 m (lognormal)", "m").find("positive value") != std::string::npos);
  CHECK(refusal("5 m ± (uniform)", "m").find("no figure behind ±") != std::string::npos);
  CHECK(refusal("5 m ± 1 m ± 2 m", "m") != "accepted");
}

TEST_CASE("concentrations carry their basis", "[io][units]") {
  using model::ConcentrationBasis;
  struct Row {
    const char* text;
    ConcentrationBasis basis;
    double value;
    bool defaulted;
  };
  const std::vector<Row> rows{
      {"20 % w/v of solvent", ConcentrationBasis::w_v_of_solvent, 0.20, false},
      {"20% w/v of solvent", ConcentrationBasis::w_v_of_solvent, 0.20, false},
      {"20 %  (w/v)", ConcentrationBasis::w_v_of_solvent, 0.20, true},
      {"20 % w/v", ConcentrationBasis::w_v_of_solvent, 0.20, true},
      {"20 %w/v of solution", ConcentrationBasis::w_v_of_solution, 0.20, false},
      {"15 wt%", ConcentrationBasis::mass, 0.15, false},
      {"15 wt %", ConcentrationBasis::mass, 0.15, false},
      {"15 % w/w", ConcentrationBasis::mass, 0.15, false},
      {"12 vol%", ConcentrationBasis::volume, 0.12, false},
      {"12 % v/v", ConcentrationBasis::volume, 0.12, false},
      {"0.2 g/mL of solvent", ConcentrationBasis::w_v_of_solvent, 0.20, false},
      {"200 g/L of solution", ConcentrationBasis::w_v_of_solution, 0.20, false},
      {"20 g/dL of solvent", ConcentrationBasis::w_v_of_solvent, 0.20, false},
      {"200 kg/m3 of solution", ConcentrationBasis::w_v_of_solution, 0.20, false},
  };
  for (const Row& row : rows) {
    CAPTURE(row.text);
    const io::StatedConcentration stated = io::parse_concentration(row.text, kHere);
    CHECK(stated.concentration.basis == row.basis);
    CHECK_THAT(stated.concentration.value, WithinRel(row.value, kRounding));
    CHECK(stated.basis_defaulted == row.defaulted);
    // What is printed can be read back.
    const io::StatedConcentration again = io::parse_concentration(io::concentration_text(stated.concentration), kHere);
    CHECK(again.concentration.basis == row.basis);
    CHECK_THAT(again.concentration.value, WithinRel(row.value, 1e-11));  // printed with 12 digits
  }
  const auto sd = [](const char* text) { return io::parse_concentration(text, kHere).uncertainty.value().sd; };
  CHECK_THAT(sd("20 % w/v of solvent ± 1 points"), WithinRel(0.01, kRounding));
  CHECK_THAT(sd("20 % w/v of solvent ± 5 % of value"), WithinRel(0.01, kRounding));
  CHECK_THAT(sd("0.2 g/mL of solvent ± 5 %"), WithinRel(0.01, kRounding));
  CHECK_THAT(sd("0.2 g/mL of solvent ± 10 g/L"), WithinRel(0.01, kRounding));
  CHECK_THROWS_AS(io::parse_concentration("20 % w/v of solvent ± 5 %", kHere), InputError);
  CHECK_THROWS_AS(io::parse_concentration("20 %", kHere), InputError);
  CHECK_THROWS_AS(io::parse_concentration("20 g/mL", kHere), InputError);
}

TEST_CASE("units may be parsed from many threads", "[io][units]") {
  // UDUNITS itself is not thread-safe; with its lock removed this fails or crashes under the thread sanitizer.
  const std::vector<std::string> texts{"4.97096954 furlong", "1093.6132983 yard", "0.621371192237 mile", "0.539956803456 nautical_mile",
                                       "546.80664917 fathom", "198.838782 rod"};
  std::vector<int> wrong(8, 0);
  std::vector<std::thread> threads;
  for (std::size_t t = 0; t < wrong.size(); ++t)
    threads.emplace_back([&, t] {
      for (int i = 0; i < 500; ++i) {
        const double value = read(texts[(t + static_cast<std::size_t>(i)) % texts.size()], "m");
        if (std::abs(value - 1000.0) > 0.1) ++wrong[t];  // feet of a survey among them
      }
    });
  for (std::thread& thread : threads) thread.join();
  for (const int count : wrong) CHECK(count == 0);
}

TEST_CASE("numbers are printed short and read back", "[io][units]") {
  CHECK(io::number_text(0.1) == "0.1");
  CHECK(io::number_text(12000.0) == "12000");
  CHECK(io::number_text(1e-9) == "1e-09");
  CHECK(io::tidy(12000.000000000002) == 12000.0);
  CHECK(io::tidy(0.1 + 0.2) == 0.3);
}
