// One physical case, however it is spelled: the same doubles, the same digest. And spellings that are slips.
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "catch.hpp"
#include "io/spelled_case.hpp"
#include "refusal.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;
using testing::refusal;

namespace {

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
  testing::SpelledCases cases(18);
  int same = 0;
  for (int i = 0; i < 312; ++i) {
    const auto [one, two] = cases.next();
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
        Slip{"concentration=0.2 %", "20 % meant?"}, Slip{"rotation_speed=10.000 rpm", "\"10000 rpm\" meant?"},
        Slip{"rotation_speed=9.50 rpm", "far below"}, Slip{"solvent_diffusivity=5e-10 cm2/s", "far below"},
        Slip{"gas_supply=100 mL/min", "\"100 L/min\" meant?"}, Slip{"feed_rate=3 L/min", "\"3 mL/min\" meant?"},
        Slip{"spin_up_time=2 ms", "\"2 s\" meant?"}}) {
    INFO(slip.setting);
    const std::string text = notes(with(slip.setting));
    if (*slip.says == '!')
      CHECK(text.find("what is in use") == std::string::npos);
    else
      CHECK(has(text, slip.says));
  }
  CHECK(notes(good()).find("what is in use") == std::string::npos);
}

TEST_CASE("a value that is refused for its size names the unit that was meant") {
  struct Slip {
    const char* setting;
    const char* meant;
  };
  for (const Slip& slip : {Slip{"molar_mass=300 g/mol", "300 kg/mol"}, Slip{"orifice_diameter=300 nm", "300 um"}, Slip{"orifice_diameter=0.3 um", "0.3 mm"},
                           Slip{"room.temperature=22 K", "22 degC"}, Slip{"collection_distance=120 m", "120 mm"}, Slip{"charge_volume=5 nL", "5 mL"},
                           Slip{"gas_overpressure=0.1 GPa", "0.1 MPa"}, Slip{"rotation_speed=10000 rad/s", "10000 rpm"},
                           Slip{"zero_shear_viscosity=6000 Pa s", "6000 mPa s"}}) {
    INFO(slip.setting);
    CHECK(has(refusal([&] { (void)with(slip.setting); }), "the limit (was \"" + std::string(slip.meant) + "\" meant?)"));
  }
  // no unit makes it usual: nothing is guessed
  CHECK(refusal([&] { (void)with("orifice_count=100000"); }).find("meant") == std::string::npos);
  CHECK(refusal([&] { (void)with("molar_mass=1e-9 kg/mol"); }).find("meant") == std::string::npos);
}
