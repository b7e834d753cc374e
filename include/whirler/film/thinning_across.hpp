// What an estimate says over the radius, and what it must not claim: the second half of
// thinning.hpp.
#pragma once

#include "whirler/film/thinning.hpp"

#include <span>

namespace whirler::film::thinning {

/// A question checked and looked up.
struct Task {
  Label label;
  std::vector<Piece> pieces;
  Environment environment;
};

/// Whether pour, plate, liquid or air keep the film from being even, so that it must be followed
/// over the radius.
[[nodiscard]] bool asks_for_radius(const Task& task);

/// Follows it, and fills what an even film leaves open: centre, mean, edge, unevenness, covering.
/// Fault (program): no admissible film.
[[nodiscard]] Outcome look_across(const Task& task, ThinningResult& result);

/// The rim's bead, corners, screw and turbulence, each by its own rule.
void say_what_is_unseen(const Task& task, ThinningResult& result);

} // namespace whirler::film::thinning
