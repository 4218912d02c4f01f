// Whether a Newtonian jet that its own weight draws out of an orifice can be steady: global linear stability of the
// one-dimensional equations of a slender jet with the whole curvature of its surface. The model has a table of the
// result (model/steady_jet.hpp); this is where the table comes from, and what it is tested against.
//
//   a_t^2 + (a^2 u)_s = 0
//   rho (u_t + u u_s) = rho g - sigma C_s + 3 eta (a^2 u_s)_s / a^2
//   C = 1/(a (1 + a_s^2)^(1/2)) - a_ss/(1 + a_s^2)^(3/2)
//
// Equations: Eggers & Dupont, J. Fluid Mech. 262 (1994) 205 (from memory). That their global stability gives the onset
// of the oscillations that experiments show, and that the curvature along the jet must be in it: Rubio-Rubio, Sevilla &
// Gordillo, J. Fluid Mech. 729 (2013) 471 (abstract read). Method and numbers here are our own.
// Lengths in radii of the orifice a_o, speeds in sigma/eta, times in eta a_o/sigma. Chebyshev collocation.
#pragma once
#include <complex>
#include <optional>
#include <string>

namespace whorl::testing {

struct SlowJet {
  double ohnesorge{};  ///< eta/sqrt(rho sigma a_o)
  double bond{};       ///< rho g a_o^2/sigma
};

/// The slowest-decaying mode [sigma/(eta a_o)] that the mesh resolves, at a capillary number eta U/sigma: found on two
/// meshes, or nothing.
[[nodiscard]] std::optional<std::complex<double>> leading_mode(const SlowJet& jet, double capillary);

/// Capillary number below which the jet swings by itself, from above in steps of 15 %, between which the growth is
/// taken as linear in ln Ca; nothing where no steady start is found, and `said` why.
[[nodiscard]] std::optional<double> critical_capillary(const SlowJet& jet, std::string& said);

}  // namespace whorl::testing
