// In place of UDUNITS, which a browser has not: what the table of plain units does not know is unknown.
#include "io/unit_text.hpp"

namespace whorl::io {

UnitMatch convert_unit(double number, const std::string& from, const std::string& to, double& value) {
  return convert_plain_unit(number, from, to, value);
}

}  // namespace whorl::io
