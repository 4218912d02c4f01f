// Units without UDUNITS: io::common_units() and the units of the key table are all there is; any other is unknown, which ends in
// an error that names the unit. tools/build-explorer opens every case once, so nobody meets that error in the page.
#include "io/unit_text.hpp"

namespace whorl::io {

UnitMatch convert_unit(double number, const std::string& from, const std::string& to, double& value) {
  for (const CommonUnit& common : common_units()) {
    if (from != common.unit || to != common.si_unit) continue;
    value = common.scale * number + common.offset;
    return UnitMatch::converted;
  }
  return UnitMatch::unknown;
}

}  // namespace whorl::io
