// How much liquid covers the corners before the film sets.
//
// A puddle spreads as a cylinder: volume pi a^2 h, and h thins as 1/h^2 grows by 4 K t, so it can
// reach any radius if it stays liquid and if its front keeps moving. Two things stop the front:
//
//   drying     below (E/2K)^(1/3) the film loses more to the air than to flow;
//   wetting    a front of depth h at radius R is pushed out by rho omega^2 R h^2/(2 tan theta) a
//              width (a wedge of contact angle theta) and held by gamma (1 - cos theta). Where the
//              push is the weaker the edge stands still and breaks into fingers.
//
// The deeper of the two is the depth that must still be there when the front passes the farthest
// corner; the circle through that corner times that depth is the least volume. What lies outside
// the plate but inside the circle is flung off and is part of the price. Workshops pour more, about
// 1 mL for each 25 mm of the circle's diameter [common practice, no source]; that figure is shown
// beside this one, and between the two a plate is usually, not surely, covered.
//
// And the pour must hold the film itself. A film that a long, slow or short spin leaves thick (an
// oil above all) may need more liquid than the front does: poured d deep over the circle it ends at
// 1/sqrt(1 + (h/d)^2) of the h that a deep pour leaves (Emslie, Bonner and Peck 1958), 2 % short at
// five times h. So much is advised; what the film alone would take is the least.
//
// How the puddle was laid hardly matters once it has covered: poured from 100 to 1000 um deep the
// dry film moves under 2 % [math].
//
// Rejected: a linear-stability wavelength of the fingers. It says how far apart they stand, not
// whether bare copper stays between them.
#pragma once

#include "whirler/film/resist.hpp"
#include "whirler/film/rule.hpp"
#include "whirler/units/result.hpp"

namespace whirler::film {

struct Coverage {
  Length drying_depth;  ///< the front stalls here by drying; zero for a liquid that does not dry
  Length wetting_depth; ///< and here by its contact line
  Length film_depth;    ///< of the liquid, fresh, that the film to be left is made of
  Volume least;         ///< the circle through the farthest corner at the deepest of the three
  Volume advised;   ///< twice that (off-centre pours, fingers, the nozzle), five times the film's
  Volume customary; ///< 1 mL a 25 mm of diameter
  Duration time;    ///< for `advised` to reach the corner at the spread speed
};

enum class Covers { bare_corners, thin_margin, enough };

/// `reach` is from the spindle to the farthest point of the plate; `spread` the speed at which the
/// puddle spreads. Surface tension 0.03 N/m, water 0.072; contact angle 20 and 40 degrees [mem:
/// organic solvents and water on clean copper]. `film`: the dry film that the spin leaves, where it
/// is known; 0: not looked at.
/// Faults (input): `check_liquid`'s, `check_air`'s; a reach or speed not above 0.
[[nodiscard]] Result<Coverage> coverage(const Resist& resist, const Air& air, Length reach,
                                        Speed spread, Length film = Length{});

/// Under `least`: bare corners. Under `advised`: thin margin.
[[nodiscard]] Covers covers(const Coverage& coverage, Volume poured);

} // namespace whirler::film
