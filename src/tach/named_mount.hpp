// What is seen through a mount that the machine file names, and what such a name is good for.
#pragma once

#include "mount_motion.hpp"
#include "whirler/tach/spinner_model.hpp"

namespace whirler::tach {

/// A size with its 95 % bounds.
struct Bounded {
  double low;
  double estimate;
  double high;
};

/// The mount as named (`natural` there); a damping that is not named is 0.06.
[[nodiscard]] MountNumbers as_named(const SpinnerModel& model);

/// `seen` over the mount's gain at `w` rad/s: what it is far above the natural speed. The bounds
/// hold a natural speed that is typed to 5 %, a damping that is not named from 0.01 to 0.3, and
/// `own` of the estimate for what saw it.
[[nodiscard]] Bounded far_above(const Bounded& seen, const SpinnerModel& model, double w,
                                double own);

} // namespace whirler::tach
