// Records of the property library as a materials file, to start one's own from.
#pragma once
#include <string>
#include <vector>

#include "whorl/model/materials.hpp"

namespace whorl::io {

/// A materials file (docs/formats/materials.md) with the records of these polymers and solvents, and of the pairs that
/// both are named of, word for word as they stand in the built-in files and in those added. Ends in a line feed.
/// Valid: ids of `library`, which was made of the built-in files and of `added`
/// Error: InputError when a file cannot be read
[[nodiscard]] std::string record_file(const std::vector<std::string>& ids, const std::vector<std::string>& added);

}  // namespace whorl::io
