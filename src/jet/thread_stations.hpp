// What a place of the path gives to the balance along the thread: its liquid, its forces, its wind.
#pragma once
#include "jet/tension_smooth.hpp"
#include "whorl/jet/tension_path.hpp"
#include "whorl/model/jet.hpp"
#include "whorl/model/tension.hpp"

namespace whorl::jet {

/// For a thread with memory, by finite volumes. `speed`: of the thread there, which stirs the air it meets.
[[nodiscard]] model::ThreadStation thread_station(const model::JetContext& context, const PathResult::Place& place,
                                                  double speed_m_s);

/// For a thread without memory, by collocation.
[[nodiscard]] SmoothStation smooth_station(const model::JetContext& context, const PathState::Array& place,
                                           double speed_m_s);

}  // namespace whorl::jet
