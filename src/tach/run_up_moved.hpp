// A plate that moves on its hub in a ramp. One mount leaves much of such a run-up, and a second
// natural speed explains some of it as well; so the same mount with another unbalance from some
// turn on is tried beside them, at every few turns of the ramps, and taken where it explains more.
#pragma once

#include "run_up_search.hpp"
#include "whirler/tach/run_up.hpp"

#include <cstddef>
#include <optional>

namespace whirler::tach {

struct MovedFound {
  Point mount;
  std::size_t turn = 0;
  double speed = 0.0; ///< rad/s
  Angle left;         ///< by a plate that holds, rms once per turn
  double chance = 1.0;
};

/// None where a plate that holds fits as well, as `holds` describes it. `fresh`: all turns, with no
/// weights or jolts that were judged by any mount.
[[nodiscard]] std::optional<MovedFound> find_moved(const RunUpProblem& fresh,
                                                   const SpinnerModel& model, const RunUp& holds);

} // namespace whirler::tach
