// How readily a disc that spins in still gas gives off vapour or heat, as a pure number:
//   Sh = a(Sc) Re^(1/2),  k = a(Sc) D (omega/nu)^(1/2),  the same at every radius.
// That the rate does not depend on radius is why a spun film dries evenly.
//
// a comes from the exact flow over an infinite disc (von Karman 1921, Cochran 1934): the radial,
// tangential and axial profiles F, G, H of the distance z (omega/nu)^(1/2) obey
//   F'' = F^2 - G^2 + H F',  G'' = 2 F G + H G',  H' = -2 F,
// and a solute carried by it gives a = 1 / integral_0^inf exp(Sc * integral_0^z H).
//
// Rejected: 0.620 Sc^(1/3), known from electrochemistry. It is the limit of Sc >> 1 (liquids); for
// vapours in air (Sc near 2) it is 38 % too high.
#pragma once

namespace whirler::film {

/// a(Sc), dimensionless; the same function of the Prandtl number serves heat. Within 1e-5 of an
/// independent integration for Sc 0.5 to 20. `schmidt` above 0.
[[nodiscard]] double disc_transfer(double schmidt);

} // namespace whirler::film
