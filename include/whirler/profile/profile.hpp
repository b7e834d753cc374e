// A spin profile as its author wrote it: steps of a ramp to a speed and a dwell there.
//
//   speed
//     |            ________      .  step.speed
//     |           /        \     .
//     |     _____/          \    .  step.approach: slope or time of the ramp into the step
//     |    /                 \   .  stop_ramp
//     |___/___________________\___ time
//         ramp dwell ramp dwell
#pragma once

#include "whirler/units/quantities.hpp"

#include <string>
#include <variant>
#include <vector>

namespace whirler::profile {

/// How a step's speed is reached: at a slope, or within a time. A time of zero is a jump, which
/// film estimates accept and a run refuses.
using Approach = std::variant<Ramp, Duration>;

struct Step {
  std::string name;
  Speed speed;
  Approach approach;
  Duration dwell;
};

struct Profile {
  std::string name;
  std::vector<Step> steps;
  Ramp stop_ramp;
};

} // namespace whirler::profile
