// One physical case, however it is spelled: the same doubles, the same digest. And spellings that are slips.
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "catch.hpp"
#include "io/case_file.hpp"
#include "io/keys.hpp"
#include "io/units.hpp"
#include "model/error.hpp"
#include "refusal.hpp"

using namespace whorl;
using testing::refusal;

namespace {

// A quantity of a case: its key, units that respell it and how many of them make one SI unit, and a range in the first
// unit.
struct Spelled {
  const char* section;
  const char* key;
  std::vector<std::pair<const char*, double>> units;  // per SI
  double low, high;
};

const std::vector<Spelled>& quantities() {
  static const std::vector<Spelled> all{
      {"solution", "molar_mass", {{"kg/mol", 1.0}, {"g/mol", 1e3}, {"kDa", 1.0}}, 20, 900},
      {"vessel", "bore_diameter", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}, {"um", 1e6}}, 30, 90},
      {"vessel", "height", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}}, 12, 40},
      {"vessel", "wall_thickness", {{"mm", 1e3}, {"um", 1e6}, {"cm", 1e2}}, 0.5, 5},
      {"vessel", "orifice_diameter", {{"mm", 1e3}, {"um", 1e6}, {"cm", 1e2}, {"m", 1.0}}, 0.1, 0.9},
      {"operation", "rotation_speed", {{"rpm", 30.0 / M_PI}, {"rad/s", 1.0}, {"rad/min", 60.0}}, 3000, 15000},
      {"operation",
       "gas_overpressure",
       {{"MPa", 1e-6}, {"kPa", 1e-3}, {"bar", 1e-5}, {"Pa", 1.0}, {"mbar", 1e-2}},
       0.01,
       0.3},
      {"operation", "charge_volume", {{"mL", 1e6}, {"cm3", 1e6}, {"L", 1e3}, {"uL", 1e9}}, 0.5, 8},
      {"operation", "collection_distance", {{"mm", 1e3}, {"cm", 1e2}, {"m", 1.0}}, 80, 300},
      {"room", "pressure", {{"kPa", 1e-3}, {"Pa", 1.0}, {"hPa", 1e-2}, {"mbar", 1e-2}}, 85, 105}};
  return all;
}

// A case out of values in SI and a choice of units; `digits` of every figure as typed.
std::string spelled(const std::vector<double>& si, const std::vector<std::size_t>& units, double celsius, bool kelvin,
                    double percent, bool fraction) {
  std::string text = "{\"whorl_case\": 1";
  for (const char* section : {"solution", "vessel", "operation", "room"}) {
    text += std::string(", \"") + section + "\": {";
    bool first = true;
    const auto add = [&](const std::string& key, const std::string& value) {
      text += (first ? "" : ", ") + ("\"" + key + "\": " + value);
      first = false;
    };
    if (std::string(section) == "solution") {
      add("polymer", "\"PS\"");
      add("solvent", "\"toluene\"");
      add("concentration", fraction ? "\"" + io::number_text(percent / 100.0, 14) + " g/mL of solvent ± 5 %\""
                                    : "\"" + io::number_text(percent, 14) + " % w/v of solvent +- 5 % of value\"");
    }
    if (std::string(section) == "vessel") add("orifice_count", "12");
    if (std::string(section) == "room")
      add("temperature", kelvin ? "\"" + io::number_text(celsius + 273.15, 14) + " K\""
                                : "\"" + io::number_text(celsius, 14) + " degC\"");
    for (std::size_t i = 0; i < quantities().size(); ++i) {
      const Spelled& q = quantities()[i];
      if (std::string(q.section) != section) continue;
      const auto& [unit, per_si] = q.units[units[i]];
      std::string value = io::number_text(si[i] * per_si, 14) + " " + unit;
      if (i % 3 == 1)
        value += units[i] % 2 == 0 ? " ± 2 %" : " +/- " + io::number_text(0.02 * si[i] * per_si, 14) + " " + unit;
      add(q.key, "\"" + value + "\"");
    }
    text += "}";
  }
  return text + "}";
}

io::CaseFile good() {
  return io::read_case_text(R"({"whorl_case": 1,
    "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "300 kg/mol", "concentration": "22 % w/v of solvent"},
    "vessel": {"bore_diameter": "45 mm", "height": "20 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 12},
    "operation": {"rotation_speed": "8000 rpm", "gas_overpressure": "0.05 MPa", "charge_volume": "6 mL", "collection_distance": "180 mm"}})",
                            "a.json");
}

io::CaseFile with(const std::string& setting) {
  io::CaseFile file = good();
  io::apply_settings(file, {setting}, "--set");
  return file;
}

bool has(const std::string& text, const std::string& part) {
  INFO(text);
  return text.find(part) != std::string::npos;
}

std::string notes(const io::CaseFile& file) {
  std::string all;
  for (const auto& note : file.notes) all += note + '\n';
  return all;
}

}  // namespace

TEST_CASE("312 random cases respelled in other units are the same cases, to the last bit") {
  std::mt19937 random(18);
  const auto uniform = [&](double low, double high) {
    return low + (high - low) * (static_cast<double>(random()) / 4294967296.0);
  };
  int same = 0;
  for (int i = 0; i < 312; ++i) {
    std::vector<double> si;
    std::vector<std::size_t> first(quantities().size(), 0);
    std::vector<std::size_t> other;
    for (const Spelled& q : quantities()) {
      // As typed: two to five digits in the first unit.
      si.push_back(io::tidy(uniform(q.low, q.high), 2 + static_cast<int>(random() % 4)) / q.units[0].second);
      other.push_back(random() % q.units.size());
    }
    const double celsius = std::round(uniform(10.0, 35.0) * 10.0) / 10.0;
    const double percent = std::round(uniform(10.0, 30.0) * 10.0) / 10.0;
    const std::string one = spelled(si, first, celsius, false, percent, false);
    const std::string two = spelled(si, other, celsius, true, percent, i % 2 == 0);
    INFO(one << '\n' << two);
    const io::CaseFile a = io::read_case_text(one, "a.json");
    const io::CaseFile b = io::read_case_text(two, "a.json");
    CHECK(a.canonical_text == b.canonical_text);  // 17 digits: bit by bit
    CHECK(a.hash == b.hash);
    same += a.hash == b.hash ? 1 : 0;
  }
  CHECK(same == 312);
}

TEST_CASE("a value laid over a case makes the case that a file with this value is") {
  io::CaseFile file = good();
  io::apply_settings(file,
                     {"operation.rotation_speed=9000 rpm", "orifice_diameter=300 um",
                      "concentration=0.25 g/mL of solvent ± 5 %", "model.tier=inertial"},
                     "--set");
  const io::CaseFile stated = io::read_case_text(R"({"whorl_case": 1,
    "solution": {"polymer": "PS", "solvent": "toluene", "molar_mass": "300 kg/mol", "concentration": "25 % w/v of solvent ± 5 % of value"},
    "vessel": {"bore_diameter": "45 mm", "height": "20 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.3 mm", "orifice_count": 12},
    "operation": {"rotation_speed": "942.47779607694 rad/s", "gas_overpressure": "0.5 bar", "charge_volume": "6 mL", "collection_distance": "180 mm"},
    "model": {"tier": "inertial"}})",
                                                 "b.json");
  CHECK(file.hash == stated.hash);
  CHECK(file.canonical_text == stated.canonical_text);
}

TEST_CASE("a setting takes what the file takes: basis and spread") {
  CHECK(with("concentration=15 wt%").input.solution.concentration.basis == model::ConcentrationBasis::mass);
  CHECK(with("concentration=15 wt%").input.solution.concentration.value == 0.15);
  CHECK(with("concentration=15 %").input.solution.concentration.basis == model::ConcentrationBasis::w_v_of_solvent);
  CHECK(with("concentration=15 % ± 1 points").uncertainties.at("solution.concentration").sd == 0.01);
  const io::CaseFile file = with("rotation_speed=9000 rpm ± 2 % (uniform)");
  CHECK(file.uncertainties.at("operation.rotation_speed").distribution == io::Distribution::uniform);
  CHECK(has(notes(file), "9000 rpm ± 180 rpm (uniform)"));
  CHECK(with("zero_shear_viscosity=2 Pa s +- 10 %").input.solution.measured.relative_sd.at("zero_shear_viscosity") ==
        Approx(0.1));
  CHECK(with("rotation_speed=8000 rpm").hash == good().hash);
  CHECK(with("rotation_speed=8000 rpm ± 1 %").hash != good().hash);
}

TEST_CASE("a last part that may mean several keys names them") {
  for (const char* setting : {"pressure=0.1 MPa", "height=10 mm", "temperature=20 degC"}) {
    INFO(setting);
    const std::string text = refusal([&] { return with(setting); });
    CHECK(has(text, "more than one key"));
  }
  const std::string text = refusal([&] { return with("pressure=0.1 MPa"); });
  CHECK(has(text, "room.pressure"));
  CHECK(has(text, "operation.gas_overpressure"));
  CHECK(with("room.pressure=95 kPa").input.room.pressure_Pa == 95000.0);
  CHECK(io::find_key("pressure") == nullptr);
  for (const char* name :
       {"rotation_speed", "gas_overpressure", "charge_volume", "concentration", "orifice_diameter", "bore_diameter",
        "molar_mass", "orifice_count", "collection_distance", "relative_humidity", "wall_thickness"}) {
    INFO(name);
    CHECK(io::find_key(name) != nullptr);
  }
}

TEST_CASE("values far outside what is in use are said, with the slip that is likely") {
  struct Slip {
    const char* setting;
    const char* says;
  };
  for (const Slip& slip :
       {Slip{"gas_overpressure=0.1 mPa", "\"0.1 MPa\" meant?"}, Slip{"gas_overpressure=100 Pa", "\"100 kPa\" meant?"},
        Slip{"molar_mass=1500 g/mol", "\"1500 kg/mol\" meant?"},
        Slip{"zero_shear_viscosity=800 Pa s", "\"800 mPa s\" meant?"}, Slip{"collection_distance=180 cm", "!"},
        Slip{"rotation_speed=8 rpm", "far below"}, Slip{"relative_humidity=0.5 %", "far below"},
        Slip{"gas_overpressure=0 MPa", "!"}, Slip{"gas_overpressure=0.2 MPa", "!"},
        Slip{"concentration=0.2 %", "20 % meant?"}}) {
    INFO(slip.setting);
    const std::string text = notes(with(slip.setting));
    if (*slip.says == '!')
      CHECK(text.find("what is in use") == std::string::npos);
    else
      CHECK(has(text, slip.says));
  }
  CHECK(notes(good()).find("what is in use") == std::string::npos);
}
