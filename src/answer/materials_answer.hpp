// What the property library says of a material, a pair, or of all that it knows.
#pragma once
#include <string>

#include "document/document.hpp"
#include "whorl/model/materials.hpp"

namespace whorl::answer {

/// Error: InputError, with the nearest known name
[[noreturn]] void unknown_name(const model::Library& library, const std::string& name);
[[nodiscard]] document::Document list_all(const model::Library& library);
/// Error: as unknown_name()
[[nodiscard]] document::Document show_one(const model::Library& library, const std::string& name);
[[nodiscard]] document::Document pair_document(const model::Pair& pair);
[[nodiscard]] document::Document unknown_pair(const std::string& polymer, const std::string& solvent);

}  // namespace whorl::answer
