// What the tach analysis needs to know of a machine, as plain values. The machine file belongs to
// another room; whoever calls (a command, a run) fills this in from it and from the plate's mass.
#pragma once

#include "whirler/units/quantities.hpp"

#include <optional>

namespace whirler::tach {

/// Where the pulse sensor stands. On the sprung body it rides along and sees no whirl.
enum class SensorOn { ground, sprung };

/// Limits of the once-per-turn figure. Wherever mount and masses are known the force that the
/// unbalance pulls with (U omega^2), or the rotor's e times omega (as ISO 21940-11 grades are),
/// goes before the angle; force goes before velocity.
struct FigureLimits {
  std::optional<Velocity> watch_velocity;
  std::optional<Velocity> stop_velocity;
  std::optional<Angle> watch_angle; ///< amplitude of lateness, rad
  std::optional<Angle> stop_angle;
  std::optional<Force> watch_force;
  std::optional<Force> stop_force;

  [[nodiscard]] bool any_force() const { return watch_force || stop_force; }
  [[nodiscard]] bool any_velocity() const { return watch_velocity || stop_velocity; }
  /// Of the unbalance itself, in either measure.
  [[nodiscard]] bool any_unbalance() const { return any_force() || any_velocity(); }
  [[nodiscard]] bool any_angle() const { return watch_angle || stop_angle; }
  [[nodiscard]] bool any() const { return any_unbalance() || any_angle(); }
};

struct SpinnerModel {
  int marks_per_turn = 1; ///< 1 to 1024
  SensorOn sensor_on = SensorOn::ground;
  std::optional<Length> mark_radius;
  std::optional<Mass> moving_mass;  ///< all that moves on the mount, plate included
  std::optional<Mass> rotor_mass;   ///< all that turns, plate included
  std::optional<Frequency> natural; ///< of the mount with the plate on it
  std::optional<double> damping;    ///< ratio to critical; unknown: 0.01 to 0.3 is assumed
  std::optional<Inertia> inertia;   ///< of all that turns, plate included
  FigureLimits limits;

  /// Whether an angle of lateness can be turned into the rotor's e times omega, and into a force.
  [[nodiscard]] bool gives_velocity() const {
    return mark_radius && moving_mass && rotor_mass && natural;
  }
};

} // namespace whirler::tach
