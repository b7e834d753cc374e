// Directions on a plate: in words for a person who holds it, and from the rotor's angles.
//
// A direction in the plate's frame is an angle from its x, counter-clockwise, seen on the side that
// the drawing shows. The rotor's angles run from the index mark with the rotation. Which is which
// follows from how the plate is bolted on:
//
//     plate angle = +-(rotor angle - rotor angle of the plate's x)
//
// plus for a rotor that turns counter-clockwise seen from above; minus for clockwise; the other way
// round with the plate turned over, whose drawing is then a mirror image of what one sees.
#pragma once

#include "whirler/blank/properties.hpp"

#include <string>

namespace whirler::blank {

struct Mounting {
  bool clockwise = true;    ///< the rotation, seen from above
  Angle x_at;               ///< of the plate's x: from the index mark, with the rotation
  bool turned_over = false; ///< the drawing's side is below
};

/// A rotor angle as direction in the plate's frame, 0 to 360 deg.
[[nodiscard]] Angle on_plate(Angle rotor, const Mounting& mounting);
/// The way back, 0 to 360 deg.
[[nodiscard]] Angle on_rotor(Angle plate, const Mounting& mounting);

/// "far left corner", "right edge": where this direction points to, in the plate's frame, x to the
/// right and y away from the reader. Of a rectangle edges and corners by its own shape; of other
/// outlines sides by eighths of a turn.
[[nodiscard]] std::string side_words(const Outline& outline, Angle direction);

/// The same, only where that edge, corner or side lies within 15 deg of the direction, seen from
/// the outline's middle; else empty. On a long plate a corner's name covers directions far from it,
/// and a plate that is moved straight to the edge so named stays off balance.
[[nodiscard]] std::string true_side_words(const Outline& outline, Angle direction);

/// A way along the plate's edges: "0.82 mm to the right and 0.57 mm away from you". A part of less
/// than a hundredth is left out.
[[nodiscard]] std::string way_words(Length by, Angle direction);

} // namespace whirler::blank
