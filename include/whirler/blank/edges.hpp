// The hole's place from four calliper readings, edge of the plate to the nearest edge of the hole:
//
//     <- left ->(O)<------ right ------>      left + diameter + right = width
//
// Four readings and the diameter say the place twice over. Halves of differences are used, so that
// an error of the diameter, or callipers that read long everywhere, cancels; the sums are the
// check.
#pragma once

#include "whirler/blank/blank.hpp"
#include "whirler/units/result.hpp"

namespace whirler::blank {

struct HolePosition {
  Point at;           ///< the hole's centre, from the outline's centre
  Length closure_x;   ///< left + diameter + right - width
  Length closure_y;   ///< bottom + diameter + top - height
  Length uncertainty; ///< of either coordinate: half the larger closure
};

/// Readings may miss the outline by this much; beyond it one of them is wrong (common practice for
/// sawn or sheared edges and callipers, no source).
inline constexpr Length kClosureLimit = millimetres(0.5);

/// Faults (input): a reading that is not finite and above zero; readings across a direction that
/// miss the outline's size by more than `kClosureLimit`.
[[nodiscard]] Result<HolePosition> hole_position(const Rectangle& outline, Length diameter,
                                                 const EdgeDistances& edges);

/// How far the hole of the spindle may lie from where the edge distances put it; 0 where its place
/// is given, or the distances are none that could be.
[[nodiscard]] Length hole_doubt(const Blank& blank);

} // namespace whirler::blank
