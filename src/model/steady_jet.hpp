// How fast a liquid has to leave an orifice for a steady jet, thick liquids included.
#pragma once

namespace whorl::model {

/// Weber number rho U^2 d/sigma above which a Newtonian jet that is drawn by a body force g' = Omega^2 R is steady.
/// Below, its thickness swings by itself, whatever calms it from outside.
///   ohnesorge: eta/sqrt(rho sigma a_o); bond: rho g' a_o^2/sigma; a_o: radius of the orifice
/// Eq: steady-weber
/// Valid: flush round orifice; Oh 1 to 100, Bo 0.03 to 10, beyond as at the edge; no elasticity, which calms a jet
/// Error: interpolated; above Bo 1.7 it falls by decades and is no closer than a factor 2, above Oh 30 no closer than
///        that fall (the growth is a hundredth of the frequency there)
/// Source: global linear stability of the one-dimensional equations with the whole curvature of the surface, which
///         gives the onset that experiments show (Rubio-Rubio, Sevilla & Gordillo, J. Fluid Mech. 729 (2013) 471;
///         abstract read); numbers: own computation (tests/reference/steady_jet), none of theirs
[[nodiscard]] double steady_weber(double ohnesorge, double bond);

/// Weber number above which a jet forms: that of a thin liquid (`inviscid`, eq. jetting-weber) up to Oh 0.1, the one
/// above from Oh 1, their geometric mean by ln Oh between.
/// Eq: steady-weber
/// Source: own choice of the bridge
[[nodiscard]] double jet_weber(double inviscid, double ohnesorge, double bond);

}  // namespace whorl::model
