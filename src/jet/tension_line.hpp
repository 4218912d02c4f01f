// Speed and stress along a thread whose path is given: a two-point problem, solved by Newton's method on a conservative
// mesh.
#pragma once
#include <array>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "solver/banded.hpp"
#include "whorl/model/air.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/tension.hpp"

namespace whorl::jet {

/// Unknowns at the nodes 0..n of the thread. Node 0 is the orifice and is given.
struct ThreadState {
  std::vector<double> log_speed;
  std::vector<double> pull;   ///< ln(f c_ss)
  std::vector<double> waist;  ///< ln c_rr
};

/// The thread to solve for.
struct ThreadProblem {
  const model::Air* air{};
  model::PolymerLaw law;
  std::vector<model::ThreadStation> station;  ///< n + 1
  model::ThreadEnd end;
  double start_speed_m_s{};
  bool second_order{true};  ///< false: first order throughout, the safest mesh rule
  double smoothing{0.0};  ///< extra pull against stretching within a cell, over its momentum flux and chain pull; above
                          ///< 0 only as a step of a continuation
};

/// The factorised Jacobian of a thread, with what its rows were multiplied by.
struct ThreadFactor {
  std::size_t cells{};  ///< 0: none
  solver::BandMatrix matrix{0, 0, 0};
  std::vector<double> scale, chain_scale;
};

struct ThreadOptions {
  double residual_tolerance{1e-10};  ///< largest balance of a node over its momentum flux and forces
  double step_tolerance{1e-11};      ///< or largest change of ln u
  int most_newton{30};
  /// Of a thread nearby: steps by it are taken as long as each leaves a small share of the balances; then it is that of
  /// this thread. nullptr: every step has its own.
  ThreadFactor* factor{};
};

struct ThreadOutcome {
  bool converged{};
  std::string reason{"not run"};
  double residual{};
  int iterations{};   ///< Jacobians
  int evaluations{};
};

/// Forces through the middle of cell i (between nodes i - 1 and i) [N].
struct ThreadForces {
  double carried{};  ///< speed through the face [m/s]
  double viscous{}, elastic{}, surface{};
};

/// Equations of one thread on one mesh. Balance of node i over the stretch between the middles of its cells:
///   m (u_face(i+1) - u_face(i)) = F(i+1) - F(i) + (m b/u + D) w
/// Speed is carried downstream (upwind, limited), the pull of the chains upstream (limited the other way), so that the
/// matrix keeps its sign whether the thread runs faster or slower than its elastic waves, and a jump obeys the balance.
/// Eq: tension-jet
/// Valid: slender; pull acts along the thread only (regularised string)
/// Source: regularisation: Taghavi & Larson, Phys. Rev. E 89 (2014) 023011; mesh rule our own
class Thread {
 public:
  explicit Thread(const ThreadProblem& problem);

  /// Marches the chains along the thread at its present speed. False: outside the domain (never with finite speeds).
  [[nodiscard]] bool relax_chains(ThreadState& state) const;
  /// Weights of the chain rule at this state; 1 (implicit Euler) in first order. Held fixed during a solution.
  void set_weights(const ThreadState& state);
  [[nodiscard]] const std::vector<double>& weights() const { return weight_; }
  void set_weights(std::vector<double> weights) { weight_ = std::move(weights); }
  /// Balances [N] of the nodes 1..n (a taken-up end: ln of the speed ratio), and the forces they are measured against.
  void residual(const ThreadState& state, std::vector<double>& row, std::vector<double>* scale) const;
  /// What the chain rule of cell i leaves over, at 2 (i - 1) + 0 along, 1 across; 0 after relax_chains().
  void chain_residual(const ThreadState& state, std::vector<double>& row) const;
  /// Both at once: balances, what they are measured against, chain rules.
  void look_at(const ThreadState& state, std::vector<double>& row, std::vector<double>& scale,
               std::vector<double>& chain) const;
  /// Full Jacobian: rows and columns 3 (i - 1) + k, k = ln u, pull, waist of node i. Balances are divided by `scale`.
  /// Chain rows are multiplied by `chain_scale` (filled here, when given).
  void jacobian(const ThreadState& state, const std::vector<double>& scale, solver::BandMatrix& matrix,
                std::vector<double>* chain_scale = nullptr) const;
  [[nodiscard]] std::vector<ThreadForces> forces(const ThreadState& state) const;
  [[nodiscard]] ThreadOutcome solve(ThreadState& state, const ThreadOptions& options);

  ~Thread();
  Thread(const Thread&) = delete;
  Thread& operator=(const Thread&) = delete;

  [[nodiscard]] std::size_t cells() const { return problem_.station.size() - 1; }
  static constexpr std::size_t kBelow = 6, kAbove = 8;

 private:
  struct Node;
  struct Face;
  struct Newton;
  template <bool kSlopes>
  void look(const ThreadState& state, std::vector<Node>& out) const;
  template <bool kSlopes>
  void faces(const ThreadState& state, const std::vector<Node>& node, std::vector<Face>& out) const;
  template <class Real>
  [[nodiscard]] Real source(std::size_t node, const Real& speed) const;
  [[nodiscard]] double time_in_cell(std::size_t i, const std::vector<Node>& node) const;
  [[nodiscard]] bool cell_chains(std::size_t i, ThreadState& state) const;
  void balances(const ThreadState& state, const std::vector<Node>& node, std::vector<double>& row,
                std::vector<double>* scale) const;
  void chain_balances(const ThreadState& state, const std::vector<Node>& node, std::vector<double>& row) const;

  const ThreadProblem& problem_;
  std::vector<double> width_;   ///< of cell i
  std::vector<double> weight_;  ///< of the downstream node in the chain rule of cell i
  mutable std::vector<Node> node_;  ///< scratch
  mutable std::vector<Face> face_;
};

}  // namespace whorl::jet
