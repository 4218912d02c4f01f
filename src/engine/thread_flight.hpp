// Torn threads on their way with the gas: speed, drying, solidification and capillary waves by balances of their own.
#pragma once
#include <cstddef>

#include "whorl/engine/setup.hpp"
#include "whorl/model/result.hpp"

namespace whorl::engine {

/// Steps of the flight, growing from a millionth of it. Leaves 1 to 3 % in the time to solidify and 7 % in the solvent
/// left in a thread of water that is still wet (tested).
inline constexpr int kFlightSteps = 144;

/// Gas and liquid of one orifice where they tear.
struct ThreadStart {
  double dry_diameter_m{};
  double overpressure_Pa{};   ///< of the gas in the head space at this moment
  double gas_kg_s{};
  double liquid_m3_s{};
  double liquid_speed_m_s{};
};

/// Follows the threads of one orifice from where they are torn to the collector. Gas and threads share one mean speed,
/// which falls as room air is taken up: (m_g + m_l) u_m = const = m(x) u. Threads keep their polymer per length; their
/// temperature is where the heat from the gas pays for the evaporation; vapour and cold stay in the gas round them.
/// Fills the flight half of the report (speeds, times, drying, gain, closures; stations if asked for): implicit steps
/// of first order.
/// Eq: thread-flight
/// Valid: threads thinner than about 20 um (well mixed, without inertia of heat); straight flight over the collection
/// distance
/// Error: none; threads that do not solidify report solidification_time_s 0
/// Source: entrainment 0.32 x/d: Ricou & Spalding, J. Fluid Mech. 11 (1961) 21 (from memory); slip of a fifth of the
///         gas speed, as the turbulence of a free jet: own closure
/// Returns how many times the exchange at the surface was computed: the work of it, the same on every machine.
std::size_t fly_threads(const Setup& setup, const ThreadStart& start, model::ThreadReport& report,
                        int steps = kFlightSteps, bool keep_profile = false);

/// Factor on the diameter of threads of a water system by the humidity of the room, against a room of 40 %: they thin
/// by exp(-t/(3 lambda)) while they are liquid, which levels off: factor exp(H(40 %) - H), H = h/(1 + h), h = int dt/(3
/// lambda). 1 for other solvents.
/// Eq: thread-humidity
/// Valid: sign as published (one study, no number); size not tested
/// Source: thinning of a viscoelastic filament: Entov & Hinch, J. Non-Newt. Fluid Mech. 72 (1997) 31 (from memory); its
/// use here: own closure
[[nodiscard]] double humidity_factor(const Setup& setup, const ThreadStart& start);

}  // namespace whorl::engine
