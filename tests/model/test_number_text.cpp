// Numbers in words: rounded to significant digits, and no power of ten for a number of the bench.
#include <cmath>
#include <limits>

#include "catch.hpp"
#include "whorl/model/number_text.hpp"

using namespace whorl;

TEST_CASE("significant digits without powers of ten below a million") {
  CHECK(number_text(3360.4, 3) == "3360");
  CHECK(number_text(-19800.0, 3) == "-19800");
  CHECK(number_text(22500.0, 2) == "22000");  // halves to the even digit, as everywhere
  CHECK(number_text(999999.0, 3) == "1e+06");
  CHECK(number_text(2e6, 2) == "2e+06");
  CHECK(number_text(94.0, 1) == "90");
  CHECK(number_text(0.00012345, 2) == "0.00012");
  CHECK(number_text(1e-9) == "1e-09");
  CHECK(number_text(0.0) == "0");
  CHECK(number_text(12000.0) == "12000");
  CHECK(number_text(1234567.0, 7) == "1234567");
}

TEST_CASE("decimals, per cent and lengths") {
  CHECK(decimals_text(0.5) == "0.50");
  CHECK(decimals_text(3.14159, 3) == "3.142");
  CHECK(signed_text(0.5) == "+0.50");
  CHECK(signed_text(-0.049, 1) == "-0.0");
  CHECK(percent(0.1254) == "12.5 %");
  CHECK(percent(12.5, 2) == "1200 %");
  CHECK(whole_percent(0.1254) == "13 %");
  CHECK(um(5.236e-6) == "5.24");
  CHECK(micrometres(5.236e-6) == "5.24 um");
  CHECK(micrometres(8.5e-7) == "850 nm");
  CHECK(millimetres(0.0951) == "95 mm");
}
