// Where a search for a thread starts: from the jet without tension, or from a solved one that is similar.
#pragma once
#include "jet/thread_search.hpp"

namespace whorl::jet {

/// From the inertial jet `start`. False: it has too few stations.
[[nodiscard]] bool start_from_flight(ThreadSearch& search, const model::Jet& start);
/// From `memory`, with this jet's speed at the orifice.
void start_from_memory(ThreadSearch& search, const TensionMemory& memory);
/// What search.now leaves for a similar jet. `smooth`: solved as a thread without memory.
void leave_memory(ThreadSearch& search, bool smooth, TensionMemory& memory);

/// ln u of a similar thread with this one's speed at the orifice: in free flight the square of the speed shifts.
[[nodiscard]] double shifted_log_speed(double log_speed, double exit_speed_m_s, double exit_speed_there_m_s);
/// The history of the surface in a solved jet with drying over the radius.
void follow_surface(const model::Jet& start, SurfaceHistory& surface);

}  // namespace whorl::jet
