// How the points of a window are run: in the tier of the case, and tension only where it can matter.
#pragma once
#include "whorl/engine/batch.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// One point of a window: what the target is judged by is that of `estimate` at the setting, its line as a point of a
/// map (engine::Closeness::map_point). Where threads torn by the gas are the answer and finer than any line could be,
/// the line is followed without tension and well mixed, which none of that depends on, and its own diameter is left out.
[[nodiscard]] engine::CaseRunner window_runner(const LoadedCase& loaded);

/// The same point as `estimate` has it, with both answers, for those that are told to people.
[[nodiscard]] engine::CaseRunner told_runner(const LoadedCase& loaded);
/// One of many samples about a point, without tension unless the case states its tier.
[[nodiscard]] engine::CaseRunner window_sample_runner(const LoadedCase& loaded);
/// Whether samples leave tension out that the points of the map have.
[[nodiscard]] bool samples_without_tension(const LoadedCase& loaded);

}  // namespace whorl::study
