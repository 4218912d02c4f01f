// The samples that `estimate` and `sweep` are asked for.
#pragma once
#include <optional>

#include "app/commands.hpp"
#include "whorl/engine/uncertain.hpp"

namespace whorl::app {

/// Error: InputError.
[[nodiscard]] std::optional<engine::SamplePlan> asked_samples(const UncertaintyArguments& arguments);

}  // namespace whorl::app
