// What an explanation says, in sentences and for machines.
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "whorl/io/prose.hpp"
#include "whorl/study/explanation.hpp"

namespace whorl::answer {

/// The text. Every sentence is chosen by the numbers of the report.
[[nodiscard]] io::Prose explain_point(const study::PointReport& report);
[[nodiscard]] io::Prose explain_change(const study::ChangeReport& report);

[[nodiscard]] nlohmann::ordered_json explain_json(const study::PointReport& report);
[[nodiscard]] nlohmann::ordered_json explain_json(const study::ChangeReport& report);

}  // namespace whorl::answer
