// An estimate for machines and for people who want all of it.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

/// The estimate as JSON: keys carry their unit; numbers that are not results are absent.
[[nodiscard]] nlohmann::ordered_json estimate_json(const study::LoadedCase& loaded, const model::Estimate& estimate);

/// The page for people. `doubt`: a paragraph on uncertainty to stand behind the results; may be empty.
[[nodiscard]] std::string estimate_text(const study::LoadedCase& loaded, const model::Estimate& estimate,
                                        const std::string& doubt = {});

}  // namespace whorl::answer
