// What people at a bench call a polymer or a solvent that the library has under another name.
#pragma once
#include <string>
#include <string_view>

#include "whorl/model/materials.hpp"

namespace whorl::model {

/// Id in the library of the polymer or solvent that `name` most probably means: another spelling (case, blanks and
/// hyphens set aside), the full name of the record, or an abbreviation of the trade ("DCM"). Empty: none, or it is an
/// id already. Only ever suggested, never used in its place.
/// Source of the abbreviations: common practice, no source
[[nodiscard]] std::string polymer_meant(const Library& library, std::string_view name);
[[nodiscard]] std::string solvent_meant(const Library& library, std::string_view name);

}  // namespace whorl::model
