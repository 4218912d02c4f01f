// Tables of trials: read as they should be, and one clear message for each kind of damage.
#include <string>

#include "catch.hpp"
#include "whorl/io/trial_data.hpp"
#include "whorl/model/error.hpp"

using whorl::InputError;
using whorl::io::read_trial_text;

namespace {

constexpr const char* kHead = "rotation_speed_rpm,diameter_mean_um,diameter_sd_um,diameter_count\n";

struct Malformed {
  const char* name;
  std::string text;
  const char* says;  ///< part of the message: the place or the value that is wrong
};

std::vector<Malformed> malformed() {
  const std::string head = kHead;
  return {
      {"empty file", "", "empty"},
      {"header only", head, "no rows"},
      {"blank lines only", "\n\n\n", "empty"},
      {"binary junk", std::string("\x7f" "ELF\0\1\2\3", 8), "binary"},
      {"NUL inside", head + std::string("8000,5\0,1,40\n", 13), "binary"},
      {"no diameters", "rotation_speed_rpm\n8000\n", "diameter_mean_um"},
      {"mean and list", "diameter_mean_um,diameter_list\n5,a.csv\n", "both"},
      {"unknown column", "spin_speed,diameter_mean_um\n8000,5\n", "spin_speed"},
      {"duplicate column", "diameter_mean_um,diameter_mean_um\n5,5\n", "two columns"},
      {"same setting twice", "rotation_speed_rpm,rotation_speed (rpm),diameter_mean_um\n8000,8000,5\n", "second column"},
      {"no unit", "rotation_speed,diameter_mean_um\n8000,5\n", "no unit"},
      {"wrong unit of a setting", "rotation_speed (kg),diameter_mean_um\n8000,5\n", "kg"},
      {"hertz is no rotation speed", "rotation_speed (Hz),diameter_mean_um\n130,5\n", "Hz"},
      {"wrong unit of a diameter", "diameter_mean (s)\n5\n", "s"},
      {"diameter without unit", "diameter_mean\n5\n", "no unit"},
      {"short row", head + "8000,5\n", "row 1"},
      {"long row", head + "8000,5,1,40\n8000,5,1,40,9\n", "row 2"},
      {"text", head + "8000,five,1,40\n", "five"},
      {"NaN", head + "8000,nan,1,40\n", "nan"},
      {"infinite", head + "8000,inf,1,40\n", "inf"},
      {"huge", head + "8000,1e999,1,40\n", "1e999"},
      {"huge but finite", head + "8000,1e300,1,40\n", "1e300"},
      {"formula", head + "8000,=1+4,1,40\n", "=1+4"},
      {"command", head + "8000,\"=cmd|' /C calc'!A0\",1,40\n", "row 1, diameter_mean_um"},
      {"zero diameter", head + "8000,0,1,40\n", "row 1, diameter_mean_um"},
      {"negative diameter", head + "8000,-5,1,40\n", "-5"},
      {"negative sd", head + "8000,5,-1,40\n", "row 1, diameter_sd_um"},
      {"zero count", head + "8000,5,1,0\n", "row 1, diameter_count"},
      {"half a measurement", head + "8000,5,1,40.5\n", "whole number"},
      {"empty cell", head + ",5,1,40\n", "empty cell"},
      {"speed above the limit", head + "8e9,5,1,40\n", "row 1, rotation_speed_rpm"},
      {"decimal comma", "rotation_speed_rpm,diameter_mean_um\n8000,\"5,2\"\n", "5,2"},
      {"slip of the pen in a heading", "rotaton_speed_rpm,diameter_mean_um\n8000,5\n", "rotaton_speed_rpm"},
      {"thousands space", head + "8 000,5,1,40\n", "8 000"},
      {"hexadecimal", head + "0x1F40,5,1,40\n", "0x1F40"},
      {"open quote", head + "8000,\"5,1,40\n", "quot"},
      {"list outside the folder", "diameter_list\n../../secret.csv\n", "folder of the table"},
      {"list with an absolute path", "diameter_list\n/etc/hostname\n", "folder of the table"},
      {"list that is not there", "diameter_list\nnowhere.csv\n", "nowhere.csv"},
  };
}

}  // namespace

TEST_CASE("Each malformed table of trials gets one clear message", "[trial-data-2]") {
  const auto all = malformed();
  REQUIRE(all.size() >= 25);
  for (const Malformed& m : all) {
    INFO(m.name);
    bool refused = false;
    try {
      (void)read_trial_text(m.text, "trials.csv", ".");
    } catch (const InputError& error) {
      refused = true;
      const std::string message = error.what();
      INFO(message);
      CHECK(message.find(m.says) != std::string::npos);
      CHECK_FALSE(error.allowed().empty());
      CHECK(message.find('\n') == std::string::npos);
      CHECK(message.size() < 500);
      CHECK(error.file().find("csv") != std::string::npos);
    }
    CHECK(refused);
  }
}

TEST_CASE("A table of trials is read with units in the heading or in the name", "[trial-data-2]") {
  const auto data = read_trial_text(
      "label,rotation_speed_rpm,gas_overpressure (kPa),diameter_mean (nm),diameter_sd_nm,diameter_count\n"
      "first,8000,100,5000,1000,40\n,9000,0,4000,,\n",
      "trials.csv");
  REQUIRE(data.rows.size() == 2);
  REQUIRE(data.keys.size() == 2);
  CHECK(data.rows[0].name == "first");
  CHECK(data.rows[1].name == "row 2");
  CHECK(data.rows[0].settings[0].second == Approx(8000.0 * 2.0 * 3.14159265358979 / 60.0).epsilon(1e-9));
  CHECK(data.rows[0].settings[1].second == Approx(1e5).epsilon(1e-12));
  CHECK(data.rows[0].mean_m == Approx(5e-6).epsilon(1e-12));
  CHECK(data.rows[0].sd_m == Approx(1e-6).epsilon(1e-12));
  CHECK(data.rows[0].count == 40.0);
  CHECK(data.rows[1].sd_m == 0.0);
  CHECK(data.rows[1].count == 0.0);
}
