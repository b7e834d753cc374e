// Whether a blank is a plate at all. Asked by `properties`, and by the reader of blank files, which
// adds the place in its file.
#pragma once

#include "whirler/blank/blank.hpp"
#include "whirler/units/result.hpp"

namespace whirler::blank {

/// Sizes, densities and the outline. Faults (input): not finite, not above zero (foils: below
/// zero), over 10 m; an outline that crosses itself, has fewer than three corners or no area.
[[nodiscard]] Outcome check_outline(const Blank& blank);

/// All holes, the one on the spindle at `hole.at`. Faults (input): a diameter not above zero; a
/// hole that leaves the outline, touches its edge or meets another hole.
[[nodiscard]] Outcome check_holes(const Blank& blank);

/// From a point inside the outline to its edge; below zero for one outside. The outline is valid.
[[nodiscard]] Length edge_distance(const Outline& outline, const Point& point);

} // namespace whirler::blank
