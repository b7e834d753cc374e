// What a once-per-turn figure is worth as unbalance, where mount and masses are known.
#pragma once

#include "whirler/tach/recording.hpp"

namespace whirler::tach {

/// Sets unbalance and velocity of what the marks show. No heavy side where noise alone may show as
/// much.
void weigh_unbalance(Analysis& out, const SpinnerModel& model);

/// The same of the accelerometer, which goes before the marks: it needs no pattern taken off. Where
/// it is in doubt, or far from what the marks show, the marks' judgement stays, unless the
/// accelerometer's is worse. `evidence` and the judgement are the marks' before, and after it those
/// of whichever counts. Faults (input): as the accelerometer's order_one.
[[nodiscard]] std::optional<Fault> weigh_acceleration(Analysis& out, const Recording& recording,
                                                      Evidence& evidence);

} // namespace whirler::tach
