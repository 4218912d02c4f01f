// The uncertain inputs of a case from a file.
#pragma once
#include <vector>

#include "whorl/engine/uncertain.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/model/materials.hpp"

namespace whorl::study {

/// "+-" of the case first (any key, any distribution), then what the library and the relations leave open. `input` is
/// the operating point: the case or a point of a sweep of it; a "+-" keeps its size relative to the stated value where
/// the value was moved and the stated value is not 0, else its absolute size.
/// Error: InputError as engine::resolve().
[[nodiscard]] std::vector<engine::UncertainInput> uncertain_inputs(const io::CaseFile& file,
                                                                   const model::CaseInput& input,
                                                                   const model::Library& library);

}  // namespace whorl::study
