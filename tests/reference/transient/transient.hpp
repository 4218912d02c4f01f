// One jet followed in time: elements of fluid leave the turning orifice one by one and are tracked in the laboratory,
// tension as a vector along the thread, implicit in time. The reference that the steady tiers are tested against; slow,
// and therefore no part of the program.
// Source: the balances of docs/theory/07-transient.md, derived there; no published code or data.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

#include "whorl/model/jet.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/rheology.hpp"

namespace whorl::reference {

enum class ThreadTime {
  second_order,   ///< two implicit stages, stiffly accurate
  backward_euler  ///< one stage, first order
};

struct TransientOptions {
  model::PolymerModel polymer{model::PolymerModel::fene_p};
  double mobility{0.1};           ///< Giesekus alpha
  double extensibility{};         ///< L^2; 0: that of the fluid
  /// free: fluid past the collector radius is taken off and the cut pulls with the surface part, F = pi a sigma.
  /// taken_up: drawn off at the collector radius with a given speed; only without rotation
  model::JetEnd end{model::JetEnd::free};
  double take_up_speed_m_s{};
  bool pull_along_only{false};    ///< true: the regularised string (pull kept along the relative velocity), for comparison
  int elements{160};              ///< released in the time of a free flight to the collector
  ThreadTime scheme{ThreadTime::second_order};
  int fixed_substeps{0};          ///< time steps per release; 0: by error
  double time_tolerance{3e-4};    ///< local error per step, of speed, length and stretch relative to their scales
  double newton_tolerance{1e-10};
  double longest_time_s{};        ///< 0: six free flights
  double steady_tolerance{1e-4};  ///< settled: mean line speed (taken up: force) changes by less over a quarter flight, twice, and what
                                   ///< is fed crosses the collector radius; 0: never stop early
  std::size_t most_elements{5000};
  std::size_t most_steps{200000};
};

/// The thread where it crosses the collector radius.
struct TransientSample {
  double time_s{};
  double line_speed_m_s{};    ///< relative to the vessel
  double lab_speed_m_s{};
  double dry_diameter_m{};    ///< of the element that crosses, from its length
  double solvent_ratio{};
  double temperature_K{};
  double force_N{};
  double angle_rad{};         ///< behind (negative) or ahead of the orifice, vessel frame, within a turn
  double height_m{};
  std::size_t elements{};
};

struct TransientJet {
  model::Status status{model::Status::not_converged};
  std::string reason{"not run"};
  bool reached_collector{}, settled{};
  double time_s{};
  double flight_time_s{};       ///< age of the fluid at the collector, at the end
  // means over the last quarter of a free flight; 0 when nothing crossed in that time
  double line_speed_m_s{}, dry_diameter_m{}, solvent_ratio{}, temperature_K{};
  double line_speed_spread{};   ///< (largest - smallest)/mean in that time
  double largest_pull_ratio{};  ///< |F|/(m u) of the last shape
  double compressed_share{};    ///< of the length of the last shape with F < 0
  model::Balances balances;     ///< relative closure: polymer, solvent, momentum, energy
  model::WorkCounts work;
  std::vector<TransientSample> history;
  std::vector<model::JetStation> shape;  ///< at the end, in the vessel's frame, from the orifice on
};

/// Follows one jet from the start of flow. Balances: what entered, was exchanged with the air, left and is there.
/// Eq: thread-motion
/// Error: status not_converged with reason and the history so far; never throws, never NaN
[[nodiscard]] TransientJet run_transient_jet(const model::JetContext& context, const TransientOptions& options = {});

/// Largest relative difference between the Jacobian of one element and central differences (for tests).
[[nodiscard]] double transient_jacobian_gap(const model::JetContext& context, const TransientOptions& options);

}  // namespace whorl::reference
