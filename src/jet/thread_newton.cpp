// Newton's method on the balances of a thread and the rules of its chains.
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "jet/tension_line.hpp"

namespace whorl::jet {
namespace {

// Own choices that steer Newton's method; what it ends at is decided by the tolerances alone.
constexpr double kMostChange = 1.5, kMostChainChange = 3.0;  // of ln u in one step; of ln(f c_ss) and ln c_rr
constexpr double kMostLog = 300.0;          // of the chains' unknowns: exp stays finite
constexpr double kLeastRoom = 0.49;         // of the squared full length, for c_rr
constexpr double kDescent = 1e-3;           // of a step by which the norm must fall
constexpr double kByFactor = 0.1;           // of what is left that a step by an older Jacobian may leave
constexpr int kMostCuts = 7, kPolish = 6;   // halvings of a step; steps with the chains eliminated
constexpr double kClose = 1e-6;             // change of ln u: from here on the chains are marched
constexpr double kRounding = 1e-6;          // residual that counts as rounding where the step is
constexpr double kGoodStart = 1e-3;         // residual from which the last steps begin; else from the start again
constexpr double kHuge = 1e200;             // in place of a square that is not finite

double capped_square(double x) { return std::isfinite(x) ? std::min(x * x, kHuge) : kHuge; }

}  // namespace

// One solution of the balances.
struct Thread::Newton {
  Newton(Thread& of, ThreadState& at, const ThreadOptions& how)
      : thread(of), state(at), options(how), n(of.cells()), factor(how.factor != nullptr ? *how.factor : own),
        step(3 * n), trial(at) {
    if (factor.cells == n) return;
    factor.cells = 0;
    factor.matrix = solver::BandMatrix(3 * n, kBelow, kAbove);
    factor.chain_scale.assign(2 * n, 1.0);
  }

  ThreadOutcome run() {
    const ThreadState start = state;
    if (by_factor()) return done("Newton");
    evaluate(state, row, &scale);
    if (together()) return done("Newton");
    evaluate(state, row, &scale);
    if (!(largest_of(row) < kGoodStart)) {
      state = start;
      evaluate(state, row, &scale);
    }
    if (const char* how = polish()) return done(how);
    out.residual = largest_of(row);
    out.reason = "Newton's method";
    return out;
  }

 private:
  // Balances are measured against the forces of the iterate that is left.
  [[nodiscard]] double norm(const std::vector<double>& v) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < n; ++i) sum += capped_square(v[i] / scale[i]);
    return std::sqrt(sum / static_cast<double>(n));
  }
  // The same with what the chain rules leave over.
  [[nodiscard]] double norm(const std::vector<double>& v, const std::vector<double>& c) const {
    const double q = norm(v);
    double sum = 0.0;
    for (std::size_t k = 0; k < 2 * n; ++k) sum += capped_square(c[k] * factor.chain_scale[k]);
    return std::sqrt(q * q + sum / static_cast<double>(n));
  }
  [[nodiscard]] double largest_of(const std::vector<double>& v) const {
    double worst = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      const double q = std::abs(v[i] / scale[i]);
      worst = std::isfinite(q) ? std::max(worst, q) : 1e300;
    }
    return worst;
  }
  void evaluate(ThreadState& s, std::vector<double>& r, std::vector<double>* sizes) {
    ++out.evaluations;
    if (thread.relax_chains(s)) return thread.residual(s, r, sizes);
    r.assign(n, 1e150);
    if (sizes != nullptr) sizes->assign(n, 1.0);
  }
  ThreadOutcome done(const char* how) {
    out.converged = true;
    out.reason = how;
    out.residual = largest_of(row);
    return out;
  }
  void take() {
    std::swap(state, trial);
    std::swap(row, trial_row);
    std::swap(scale, trial_scale);
  }
  // Near the thread whose factor is known: chains and balances as they are, no marches of the chains. False: not so near.
  bool by_factor() {
    if (factor.cells != n) return false;
    const auto solved = [&] {
      return largest_of(row) < options.residual_tolerance && largest_of_chains() < options.residual_tolerance;
    };
    look_at(state, row, scale, chain);
    for (int it = 0; it < options.most_newton; ++it) {
      if (solved()) return true;
      const double largest = direction_by_factor();
      if (!(largest < kHuge && falls(largest))) break;
      take();
      std::swap(chain, trial_chain);
    }
    factor.cells = 0;
    return false;
  }
  [[nodiscard]] double largest_of_chains() const {
    double worst = 0.0;
    for (std::size_t k = 0; k < 2 * n; ++k) {
      const double q = std::abs(chain[k] * factor.chain_scale[k]);
      worst = std::isfinite(q) ? std::max(worst, q) : 1e300;
    }
    return worst;
  }
  // All unknowns together first: near the full length of the chains their pull is the better unknown than the speed.
  bool together() {
    thread.chain_residual(state, chain);
    for (int it = 0; it < options.most_newton; ++it) {
      const bool known = factor.cells == n;
      const double largest = known ? direction_by_factor() : full_direction();
      if (known && !(largest < kHuge && falls(largest))) {
        factor.cells = 0;
        continue;
      }
      if (!known && (!(largest < kHuge) || !shorten(largest))) return false;
      take();
      std::swap(chain, trial_chain);
      if (largest < kClose || largest_of(row) < options.residual_tolerance) {
        evaluate(state, row, &scale);
        if (largest_of(row) < options.residual_tolerance) return true;
        if (largest < kClose && !known) return false;
        thread.chain_residual(state, chain);
      }
    }
    return false;
  }
  // Its largest change of ln u; not finite: none.
  double full_direction() {
    factor.cells = 0;
    thread.jacobian(state, scale, factor.matrix, &factor.chain_scale);
    ++out.iterations;
    if (!factor.matrix.factorize()) return 1e300;
    factor.scale = scale;
    if (options.factor != nullptr) factor.cells = n;
    return direction_by_factor();
  }
  double direction_by_factor() {
    for (std::size_t i = 0; i < n; ++i) {
      step[3 * i] = -row[i] / factor.scale[i];
      step[3 * i + 1] = -chain[2 * i] * factor.chain_scale[2 * i];
      step[3 * i + 2] = -chain[2 * i + 1] * factor.chain_scale[2 * i + 1];
    }
    factor.matrix.solve(step);
    double largest = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      if (!std::isfinite(step[3 * i] + step[3 * i + 1] + step[3 * i + 2])) largest = 1e300;
      largest = std::max(largest, std::abs(step[3 * i]));
    }
    return largest;
  }
  void look_at(const ThreadState& s, std::vector<double>& r, std::vector<double>& sizes, std::vector<double>& c) {
    ++out.evaluations;
    thread.look_at(s, r, sizes, c);
  }
  // What the trial leaves.
  double norm_of_trial() {
    look_at(trial, trial_row, trial_scale, trial_chain);
    return norm(trial_row, trial_chain);
  }
  // The whole direction as the trial. False: it leaves more than a small share.
  bool falls(double largest) {
    if (largest > kMostChange || !move_all(1.0)) return false;
    const double before = norm(row, chain);
    return norm_of_trial() < kByFactor * before;
  }
  // A piece of the direction that makes it better, into the trial. False: none does.
  bool shorten(double largest) {
    double share = 1.0;
    for (std::size_t i = 0; i < n; ++i) {
      share = std::min({share, kMostChange / std::max(std::abs(step[3 * i]), 1e-300),
                        kMostChainChange / std::max(std::abs(step[3 * i + 1]), 1e-300),
                        kMostChainChange / std::max(std::abs(step[3 * i + 2]), 1e-300)});
    }
    const double before = norm(row, chain);
    for (int cut = 0; cut < kMostCuts; ++cut, share *= 0.5) {
      if (!move_all(share)) continue;
      const double after = norm_of_trial();
      if (after < before * (1.0 - kDescent * share)) return true;
      if (largest < options.step_tolerance && after < kRounding) return true;
    }
    return false;
  }
  // False: out of what the unknowns may be.
  bool move_all(double share) {
    const model::PolymerLaw& law = thread.problem_.law;
    const bool limited = law.model == model::PolymerModel::fene_p;
    const double most_across = limited ? std::log(kLeastRoom * law.extensibility) : 50.0;
    bool inside = true;
    for (std::size_t i = 1; i <= n; ++i) {
      trial.log_speed[i] = state.log_speed[i] + share * step[3 * (i - 1)];
      trial.pull[i] = state.pull[i] + share * step[3 * (i - 1) + 1];
      trial.waist[i] = state.waist[i] + share * step[3 * (i - 1) + 2];
      inside = inside && std::abs(trial.pull[i]) < kMostLog && std::abs(trial.waist[i]) < kMostLog &&
               trial.waist[i] < most_across;
    }
    return inside;
  }
  // Last steps with the chains eliminated: marched exactly for every trial. How it converged; null: it did not.
  const char* polish() {
    for (int it = 0; it < kPolish; ++it) {
      if (largest_of(row) < options.residual_tolerance) return "Newton";
      const double largest = direction();
      if (largest < 0.0) return nullptr;
      double share = std::min(1.0, kMostChange / std::max(largest, 1e-300));
      const double before = norm(row);
      bool better = false;
      for (int cut = 0; cut < kMostCuts && !better; ++cut, share *= 0.5) {
        move(share);
        evaluate(trial, trial_row, &trial_scale);
        if (largest < options.step_tolerance && largest_of(trial_row) < kRounding) {
          take();
          return "Newton, at rounding level";
        }
        better = norm(trial_row) < before * (1.0 - kDescent * share);
      }
      if (!better) return nullptr;
      take();
    }
    return nullptr;
  }
  // Newton direction with the chains eliminated: their equations hold at every iterate. Its largest change of ln u;
  // below 0: none.
  double direction() {
    factor.cells = 0;
    thread.jacobian(state, scale, factor.matrix);
    ++out.iterations;
    if (!factor.matrix.factorize()) return -1.0;
    std::fill(step.begin(), step.end(), 0.0);
    for (std::size_t i = 0; i < n; ++i) step[3 * i] = -row[i] / scale[i];
    factor.matrix.solve(step);
    double largest = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      if (!std::isfinite(step[3 * i])) return -1.0;
      largest = std::max(largest, std::abs(step[3 * i]));
    }
    return largest;
  }
  void move(double share) {
    for (std::size_t i = 1; i <= n; ++i) {
      trial.log_speed[i] = state.log_speed[i] + share * step[3 * (i - 1)];
      trial.pull[i] = state.pull[i] + std::clamp(share * step[3 * (i - 1) + 1], -kMostChainChange, kMostChainChange);
      trial.waist[i] = state.waist[i] + std::clamp(share * step[3 * (i - 1) + 2], -kMostChainChange, kMostChainChange);
    }
  }

  Thread& thread;
  ThreadState& state;
  const ThreadOptions& options;
  std::size_t n;
  ThreadFactor own;
  ThreadFactor& factor;
  ThreadOutcome out;
  std::vector<double> row, scale, trial_row, trial_scale, step;
  ThreadState trial;
  std::vector<double> chain, trial_chain;
};

ThreadOutcome Thread::solve(ThreadState& state, const ThreadOptions& options) {
  return Newton(*this, state, options).run();
}

}  // namespace whorl::jet
