// Polymer stress of a stretched thread: one conformation tensor, three laws, one interface.
#pragma once
#include <cmath>

namespace whorl::model {

enum class PolymerModel { oldroyd_b, giesekus, fene_p };

/// Law of the polymer stress. Local G and lambda come from the solution.
struct PolymerLaw {
  PolymerModel model{PolymerModel::fene_p};
  double mobility{0.1};        ///< Giesekus alpha, 0 to 0.5
  double extensibility{1e4};   ///< FENE-P L^2 > 3
};

/// Chains at one station. Unknowns are logarithms that stay legal whatever value they take:
///   pull = ln(f c_ss), waist = ln c_rr;  f = 1 except FENE-P, f = (L^2 - 3)/(L^2 - tr c).
template <class Real>
struct Chains {
  Real log_along{};     ///< ln c_ss
  Real relax_along{};   ///< lambda d(ln c_ss)/dt by relaxation alone
  Real relax_across{};  ///< lambda d(ln c_rr)/dt by relaxation alone
  Real stretch{};       ///< (tau_ss - tau_rr)/G
};

/// Relaxation and stress of the conformation tensor of a thread in uniaxial flow:
///   dc_ss/dt = 2 e c_ss - h_ss/lambda,  dc_rr/dt = -e c_rr - h_rr/lambda,  N1 = G (f c_ss - f c_rr)
///   h = f c - 1 (Oldroyd-B: f = 1; FENE-P),  h = (c - 1)(1 + alpha (c - 1)) (Giesekus)
/// With FENE-P c_ss = e^pull (L^2 - 2 c_rr)/(L^2 - 3 + e^pull): below the limit for every value of the unknown.
/// Eq: polymer-stress
/// Valid: one relaxation time; 2 c_rr < L^2
/// Source: Bird, Armstrong & Hassager, Dynamics of Polymeric Liquids (1987); Giesekus, J. Non-Newton. Fluid Mech. 11
///         (1982) 69; Fattal & Kupferman, ibid. 123 (2004) 281 for the logarithm (all from memory)
template <class Real>
[[nodiscard]] Chains<Real> chains(const PolymerLaw& law, const Real& pull, const Real& waist) {
  using std::exp;
  using std::log;
  Chains<Real> out;
  const Real spring_along = exp(pull);
  const Real across = exp(waist);
  if (law.model == PolymerModel::fene_p) {
    const double limit = law.extensibility;
    const Real room = limit - 2.0 * across;
    const Real along = spring_along * room / (limit - 3.0 + spring_along);
    const Real f = spring_along / along;
    out.log_along = log(along);
    out.relax_along = 1.0 / along - f;
    out.relax_across = 1.0 / across - f;
    out.stretch = spring_along - f * across;
  } else {
    const double alpha = law.model == PolymerModel::giesekus ? law.mobility : 0.0;
    out.log_along = pull;
    out.relax_along = (1.0 / spring_along - 1.0) * (1.0 + alpha * (spring_along - 1.0));
    out.relax_across = (1.0 / across - 1.0) * (1.0 + alpha * (across - 1.0));
    out.stretch = spring_along - across;
  }
  return out;
}

}  // namespace whorl::model
