// The property library: built in from data/*.json, extended by users' own files in the same form. See
// docs/properties.md.
#pragma once
#include <string>
#include <string_view>

#include "whorl/model/materials.hpp"

namespace whorl::io {

/// Library compiled into the program. Read once; the reference stays valid.
/// Error: InputError only if the built-in data are broken (a test reads them).
[[nodiscard]] const model::Library& built_in_library();

/// Adds the records of a materials file; a record with a known id replaces the earlier one.
/// Error: InputError with file, key, what was found and what is allowed.
void add_materials_file(model::Library& library, const std::string& path);

/// The same from memory.
void add_materials_text(model::Library& library, std::string_view text, const std::string& name);

}  // namespace whorl::io
