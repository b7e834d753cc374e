// The checks before anything turns: the profile against the machine file, the driver's own limits,
// the motor's torque, and the lid. Every refusal is found in one go, each with both numbers.
//
// Speeds and slopes are refused, never clipped: a plate that silently spins slower than was asked
// leaves another film than was planned, and nobody knows.
#pragma once

#include "whirler/machine/machine.hpp"
#include "whirler/profile/profile.hpp"
#include "whirler/units/result.hpp"

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace whirler::run {

enum class LidState { closed, open, not_fitted };

/// What the driver said of itself at hello.
struct DriverFacts {
  std::string name;
  Speed speed_max;
  Speed speed_min;
  Ramp slope_max;
  int segments_max = 0;
  int marks_per_turn = 0; ///< 0: it has no tach
  bool index = false;
  bool lid_switch = false;
  bool enable_output = false;
  LidState lid = LidState::open;
};

/// All that the motor has to turn.
struct Load {
  Inertia inertia;                   ///< rotor and plate about the axis
  std::function<Torque(Speed)> drag; ///< air and bearings at a speed; empty: not known
};

struct Plan {
  profile::Profile profile;
  machine::Machine machine;
  std::optional<DriverFacts> driver; ///< absent before hello: then only the files are checked
  std::optional<Load> load;
  bool lid_confirmed = false; ///< the person's typed yes, or --lid-closed
};

/// Every reason why this plan must not start; empty means that it may.
/// Faults are of kind `input` (a profile, machine or driver limit), or `ended_early` for a lid that
/// is open now: the first is mended in a file, the second by hand.
[[nodiscard]] std::vector<Fault> refusals(const Plan& plan);

/// The highest speed that a run may command or see: the smaller of machine and driver.
[[nodiscard]] Speed speed_ceiling(const Plan& plan);

} // namespace whirler::run
