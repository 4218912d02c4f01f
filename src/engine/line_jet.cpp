#include "whorl/engine/line_jet.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "engine/jet_end.hpp"
#include "engine/jet_follow.hpp"
#include "whorl/engine/classify.hpp"

namespace whorl::engine {
namespace {

// The jet as it is without the audit; its balances from a second march, with them alongside: other steps, the same
// tolerance.
model::Jet audited(const model::JetContext& context, jet::JetOptions options) {
  const model::Jet twin = jet::solve_inertial_jet(context, options);
  options.audit = false;
  model::Jet jet = jet::solve_inertial_jet(context, options);
  jet.balances = twin.balances;
  jet.balances_known = twin.balances_known;
  return jet;
}

// Bounds of a companion's work: there are up to 17 of them, and none may take long; one that would is left out, and
// said.
constexpr std::size_t kCompanionNewton = 800;
constexpr std::size_t kCompanionRates = 400000;  // fibres that float for 200 turns
constexpr std::size_t kLeftForSecondStart = 100; // Newton steps below which a companion is not started again

jet::TensionOptions tension_options(const model::ModelInput& model, const jet::JetOptions& options,
                                    jet::Effort effort) {
  jet::TensionOptions tension;
  tension.polymer = model.polymer_stress;
  tension.mobility = model.giesekus_mobility;
  tension.end = model.jet_end == model::JetEnd::caught ? model::JetEnd::free : model.jet_end;
  tension.radial = model.drying == model::DryingModel::radial;
  tension.radial_cells = static_cast<std::size_t>(options.radial_cells);
  const jet::TensionTolerances to = jet::tolerances_of(options.relative_tolerance, effort);
  tension.path_tolerance = to.path;
  tension.tolerance = to.rounds;
  tension.mesh_tolerance = to.mesh;
  tension.most_newton = static_cast<std::size_t>(static_cast<double>(tension.most_newton) * to.work);
  tension.most_rates = static_cast<std::size_t>(static_cast<double>(tension.most_rates) * to.work);
  tension.max_turns = options.max_turns;
  tension.freeze_when_solid = options.freeze_when_solid;
  tension.keep_profile = options.keep_profile;
  if (effort != jet::Effort::headline) tension.confirm_drying = false;
  if (jet::stands_beside(effort)) {
    tension.most_newton = kCompanionNewton;
    tension.most_rates = kCompanionRates;
    tension.stalled_tries = 1;
  }
  return tension;
}

// From a neighbouring case, solved to the same tolerance: on the mesh that was fine enough there, which keeps
// differences between neighbours free of what a mesh leaves; and with the work that a near start takes, or it is not
// near.
void keep_mesh(const jet::TensionMemory& near, jet::TensionOptions& tension) {
  constexpr std::size_t kMostNewton = 400;
  constexpr double kNeighbourRounds = 1e-7;  // nothing else stands between neighbours that march by the same steps
  tension.most_newton = std::min(tension.most_newton, kMostNewton);
  tension.keep_steps = true;
  tension.tolerance = std::min(tension.tolerance, kNeighbourRounds);
  if (near.smooth || near.share.size() <= tension.cells) return;
  tension.cells = near.share.size() - 1;
  tension.most_cells = tension.cells;
}

}  // namespace

jet::JetOptions jet_options(const Setup& setup) {
  jet::JetOptions options;
  const model::NumericsInput& numerics = setup.input.numerics;
  options.drying = setup.input.model.drying;
  options.relative_tolerance = numerics.relative_tolerance;
  options.radial_cells = static_cast<int>(numerics.radial_cells);
  options.max_turns = numerics.max_turns;
  return options;
}

namespace {

// The tension tier from one start after the other, until one is solved.
class Starts {
 public:
  Starts(const Setup& setup, const model::JetContext& context, const jet::JetOptions& options, jet::TensionMemory& near,
         jet::Effort effort)
      : model_(setup.input.model),
        context_(context),
        headline_(!jet::stands_beside(effort)),
        line_alone_(effort == jet::Effort::line && !(setup.input.model.flapping_draw > 0.0)),
        near_(near),
        flight_options_(options),
        allowed_(tension_options(model_, options, effort)),
        tension_(allowed_) {
    // a line that is cut is held, and nothing of it asked for, where the flight may stand in for it
    tension_.refine_cut = model_.jet_end != model::JetEnd::caught ||
                          model_.on_tension_failure != model::OnTensionFailure::inertial;
    flight_options_.keep_profile = true;
    flight_options_.audit = false;  // this tier closes its balances in any case
    flight_options_.brief = false;
  }

  LineJet solve() {
    const bool may_catch = model_.jet_end == model::JetEnd::caught;
    const bool stand_in = model_.on_tension_failure == model::OnTensionFailure::inertial;
    if (may_catch && (near_.taken_up || near_.held_by_balance)) {
      if (line_alone_ && stand_in && near_.taken_up) {
        jet_ = held_by_balance();
        if (done() && jet_.reached_collector) return {std::move(jet_)};
        jet_ = {};
      }
      if (!headline_) return {held_like(context_, tension_, flight_options_, stand_in, near_)};
      jet::TensionOptions tension = tension_;
      keep_mesh(near_, tension);
      jet_ = held_neighbour(context_, tension, flight_options_, stand_in, near_);
      if (done()) return {std::move(jet_)};
      near_ = {};
    }
    if (may_catch && !headline_) tension_.slow_m_s = surely_held_below_m_s(context_);
    const jet::TensionMemory near = near_;
    from_near();
    from_flights();
    const bool arrives = done() ? jet_.reached_collector : layered_.reached_collector;
    if (headline_ && may_catch && arrives && (!done() || jet_.pulled_until_m > 0.0)) follow();
    if (may_catch && arrives)
      jet_ = caught_jet(context_, allowed_, {jet_, start_, layered_, flight_options_, stand_in, line_alone_},
                        near_);
    if (near_.unsettled) {  // neither held nor known
      near_ = near;
      tension_ = allowed_;
      jet_ = {};
      from_near();
      from_flights();
    }
    if (model_.jet_end == model::JetEnd::taken_up) jet_ = surely_held(context_, std::move(jet_), layered_, stand_in);
    bool fell_back = false;
    if (!done() && layered_.status == model::Status::done && stand_in) {
      fell_back = headline_;
      layered_.convergence = "inertial tier in its place: " + jet_.reason;
      jet_ = std::move(layered_);
    }
    return {std::move(jet_), fell_back};
  }
  [[nodiscard]] const jet::JetOptions& flight_options() const { return flight_options_; }

 private:
  [[nodiscard]] bool done() const { return jet_.status == model::Status::done; }

  // Held as the jet before, by the mass balance alone: `near_` stays as it is.
  [[nodiscard]] model::Jet held_by_balance() const {
    jet::TensionMemory balance;
    balance.held_by_balance = true;
    balance.take_up_share = near_.take_up_share;
    return held_like(context_, tension_, flight_options_, true, balance);
  }

  // The flights without pull, each made once.
  const model::Jet& mixed() {
    if (start_.status == model::Status::done) return start_;
    flight_options_.drying = model::DryingModel::lumped;
    start_ = jet::solve_inertial_jet(context_, flight_options_);
    flight_options_.drying = model_.drying;
    return start_;
  }
  const model::Jet& layered() {
    if (layered_.status != model::Status::done) layered_ = jet::solve_inertial_jet(context_, flight_options_);
    return layered_;
  }

  void from(const model::Jet& start) {
    const model::WorkCounts spent = jet_.work;
    jet_ = jet::solve_tension_jet(context_, tension_, start, &near_);
    if (!headline_) {
      tension_.most_newton -= std::min(tension_.most_newton, jet_.work.newton_iterations);
      tension_.most_rates -= std::min(tension_.most_rates, jet_.work.rhs_evaluations);
    }
    jet_.work.newton_iterations += spent.newton_iterations;
    jet_.work.rhs_evaluations += spent.rhs_evaluations;
  }

  void from_near() {
    if (!(near_.exit_speed_m_s > 0.0)) return;
    if (headline_) keep_mesh(near_, tension_);
    else near_.pull_slope = 0.0;  // of a jet that may be far from this one
    from({});
    if (headline_ && !done()) {  // from nothing, as if there were no neighbour
      near_ = {};
      tension_ = allowed_;
    }
  }

  // From the inertial jet, well mixed and then layered.
  void from_flights() {
    if (!done() && tension_.radial) {
      // Well mixed is near enough for a start, and many times cheaper; a jet that only stalls in one of the two
      // is looked at again.
      from(mixed());
      if (done() && jet_.reached_collector != start_.reached_collector) {
        near_ = {};
        jet_.status = model::Status::not_converged;
        jet_.reason = "tension: well mixed and layered, the start does not agree with the thread whether it arrives";
      }
    }
    if (done()) return;
    layered();
    // no second start where the first one took the work that is allowed
    if (headline_ ? jet_.work.newton_iterations < tension_.most_newton / 2
                  : tension_.most_newton > kLeftForSecondStart) {
      if (headline_) tension_.most_newton /= 2;
      from(layered_);
    }
    if (!tension_.radial) start_ = layered_;
  }

  void follow() {
    model::Jet followed = follow_from_richer(context_, allowed_, flight_options_, near_);
    followed.work.newton_iterations += jet_.work.newton_iterations;
    followed.work.rhs_evaluations += jet_.work.rhs_evaluations;
    if (followed.status == model::Status::done) jet_ = std::move(followed);
    else jet_.work = followed.work;
  }

  const model::ModelInput& model_;
  const model::JetContext& context_;
  bool headline_;
  bool line_alone_;  // and the draw does not hang on the air that it met on its way
  jet::TensionMemory& near_;
  jet::JetOptions flight_options_;
  const jet::TensionOptions allowed_;
  jet::TensionOptions tension_;
  model::Jet jet_, start_, layered_;
};

}  // namespace

LineJet solve_jet(const Setup& setup, const model::JetContext& context, const jet::JetOptions& options,
                  jet::TensionMemory& near, jet::Effort effort) {
  const model::ModelInput& model = setup.input.model;
  // what a caught jet would do with a free end is a result of the first one, and asks for the free one first, unless a
  // similar one has none
  const bool headline = !jet::stands_beside(effort);
  if (headline && model.jet_end == model::JetEnd::caught && (near.taken_up || near.held_by_balance) &&
      near.no_free_end.empty())
    near = {};
  if (model.tier == model::Tier::inertial)
    return {options.audit ? audited(context, options) : jet::solve_inertial_jet(context, options)};

  Starts starts(setup, context, options, near, effort);
  LineJet line = starts.solve();
  model::Jet& jet = line.jet;
  const bool done = jet.status == model::Status::done;
  if (options.audit && done && !jet.balances_known) {  // flies without pull
    jet::JetOptions flight_options = starts.flight_options();
    flight_options.audit = true;
    const model::Jet twin = jet::solve_inertial_jet(context, flight_options);
    jet.balances = twin.balances;
    jet.balances_known = twin.balances_known;
  }
  if (!options.keep_profile) jet.profile.clear();
  return line;
}

const jet::TensionMemory& nearest(const std::vector<Solved>& solved, double flow_m3_s,
                                  const jet::TensionMemory& other) {
  const jet::TensionMemory* best = &other;
  double least = 1e300;
  for (const Solved& one : solved) {
    const double off = std::abs(std::log(one.flow_m3_s / flow_m3_s));
    if (one.memory.exit_speed_m_s > 0.0 && off < least) {
      least = off;
      best = &one.memory;
    }
  }
  return *best;
}

}  // namespace whorl::engine
