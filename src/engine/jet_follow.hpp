// A jet that is not solved from where it would fly without pull, followed from one of more flow that is.
#pragma once
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/jet/tension.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::engine {

/// Flow of the jet that is begun with, over that of the jet asked for; half of the way (in logarithms) lies between
/// them.
/// Source: own choice. Round the shipped cases more flow flies faster and dries later, and is easily solved
inline constexpr double kRicherFlow = 1.3;

/// The jet with a free end, by way of a similar one of kRicherFlow times the flow. What it starts from depends on this
/// jet alone: the order of a sweep and the number of processor threads do not matter. `memory`: the solution, if any.
/// Not solved: status not_converged.
[[nodiscard]] model::Jet follow_from_richer(const model::JetContext& context, const jet::TensionOptions& options,
                                            const jet::JetOptions& flight_options, jet::TensionMemory& memory);

}  // namespace whorl::engine
