// A plate that moves while the speed climbs: the once-per-turn vector steps from one turn to the
// next, and no mount does that, however steep its phase turns.
#pragma once

#include "run_up_problem.hpp"

#include <optional>

namespace whirler::tach {

struct RampJump {
  double size = 0.0;  ///< rad
  double speed = 0.0; ///< rad/s
};

/// The largest step in what the fit by `mounts` leaves of the ramps; none where noise, or a curve
/// through the same turns, explains it as well.
[[nodiscard]] std::optional<RampJump> jump_in_ramps(const RunUpProblem& problem,
                                                    const Mounts& mounts);

} // namespace whirler::tach
