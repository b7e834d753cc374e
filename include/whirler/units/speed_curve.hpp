// Speed against time as straight pieces: how the plan's timeline, a recorded run and a simulated
// one are handed to whatever needs omega(t), so that none of those rooms knows the others.
#pragma once

#include "whirler/units/quantities.hpp"

#include <vector>

namespace whirler {

struct SpeedPoint {
  Duration at;
  Speed speed;
};

/// Knots in rising order of time; straight between knots. Two knots at one time are a jump (only a
/// film estimate accepts one). Outside its span the curve keeps its end values.
using SpeedCurve = std::vector<SpeedPoint>;

/// The curve with few enough knots that the straight lines between them stay within `tolerance` of
/// it (Douglas and Peucker): a record of ten reports a second becomes a few dozen pieces for a
/// film's integration. Its ends are kept.
[[nodiscard]] SpeedCurve simplified(const SpeedCurve& curve, Speed tolerance);

/// Speed of the curve at time `t`; at a jump the speed after it. Rest where the curve has no knot.
[[nodiscard]] Speed speed_at(const SpeedCurve& curve, Duration t);

} // namespace whirler
