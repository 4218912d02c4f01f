// What the collector does to a jet that arrives slowly: lets it lie, holds it, or something between.
#pragma once
#include "whorl/jet/jet_inertial.hpp"
#include "whorl/jet/tension.hpp"
#include "whorl/model/jet.hpp"

namespace whorl::engine {

/// Line speed over that of free flight at which a jet with a free end counts as let go altogether, and as held
/// altogether (jet_end "caught"). Source: own choice. A rope that whirls with the vessel lands below a third, a fibre
/// that flies and is braked by the air mostly above a half.
inline constexpr double kLetGo = 0.5;
inline constexpr double kCaught = 0.25;

/// Share of the collector's hold on a jet that would land with a free end at this share of free flight: 0 at kLetGo and
/// above, 1 at kCaught and below, without a kink between (x^2 (3 - 2x)). The line is then laid at u_free^(1 - h) (Omega
/// R_c)^h. Eq: collector-hold Valid: collectors at rest Source: own closure. Which of the two a collector does is not
/// known; what matters is that a small change of a setting makes a small change of the result
[[nodiscard]] double hold_share(double share_of_free_flight);

/// Line speed of a held end: the vessel turns past a collector at rest at Omega R_c.
[[nodiscard]] inline double held_speed_m_s(const model::JetContext& context) {
  return context.speed_rad_s * context.collector_radius_m;
}

/// Line speed of a free end below which a collector holds it altogether.
[[nodiscard]] inline double surely_held_below_m_s(const model::JetContext& context) {
  return kCaught * model::free_flight_speed(context.exit_speed_m_s, context.speed_rad_s, context.outer_radius_m,
                                            context.collector_radius_m);
}

/// What is known of a jet before the collector is asked.
struct FreeEnd {
  const model::Jet& jet;      ///< solved with a free end, or not_converged and why
  const model::Jet& mixed;    ///< by momentum and air alone, well mixed; solved here where it is empty and needed
  const model::Jet& flight;   ///< the same with the drying of the case; likewise
  const jet::JetOptions& options;  ///< of that flight
  bool flight_may_stand_in{};  ///< for a held jet that is not solved
  bool line_alone{};  ///< is asked for: one that is held altogether is laid by its balance, and not solved
};

/// The jet as the collector leaves it (jet_end "caught"): with a free end, held, or between (see hold_share()). Where
/// no steady state with a free end is found it is held. Where the held thread is not solved, path and drying are those
/// without its pull, laid at the held speed: the diameter of a held line follows from the mass balance alone. `near`:
/// the solution with a free end; replaced by that of the result.
[[nodiscard]] model::Jet caught_jet(const model::JetContext& context, const jet::TensionOptions& options,
                                    const FreeEnd& known, jet::TensionMemory& near);

/// A jet that was to be held (jet_end "taken-up"): as it is where it arrives held; where its pull had to be left out
/// beyond some radius, or where it is not solved and `flight` may stand in, laid at the held speed.
[[nodiscard]] model::Jet surely_held(const model::JetContext& context, model::Jet jet, const model::Jet& flight,
                                     bool flight_may_stand_in);

/// A jet held as far as one before it, whose memory is `near`: one state along a run. Replaces it.
[[nodiscard]] model::Jet held_like(const model::JetContext& context, jet::TensionOptions options,
                                   const jet::JetOptions& flight_options, bool flight_may_stand_in,
                                   jet::TensionMemory& near);
/// A neighbour of a jet that is held because no free end was found (`near.no_free_end`): held as well, without a search
/// for one. Status not_converged where `near` is solved and this one is not.
[[nodiscard]] model::Jet held_neighbour(const model::JetContext& context, const jet::TensionOptions& options,
                                        const jet::JetOptions& flight_options, bool flight_may_stand_in,
                                        jet::TensionMemory& near);

/// A jet that flies by momentum and air alone, laid at the line speed at which the collector holds it.
/// Eq: held-by-balance
/// Valid: held ends; the pull of the last stretch leaves path and drying before it alone
/// Source: mass balance
[[nodiscard]] model::Jet laid_at(const model::JetContext& context, model::Jet flight, double speed_m_s);

}  // namespace whorl::engine
